"""The outcome of blind listening in sentences, the same as on the page."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import Any

from sublatch.trial.odds import CLEAR, in_words, sign_test
from sublatch.trial.session_file import AnySession, HeardCandidate

FEW_ROUNDS = 5
"""Rounds of a ranking up to which even a pair that always comes out alike can be chance (sign test at 1 in 16)."""
STOPPED = "No probability is told of what was stopped early: who may stop when it goes well always finds a good moment."


def outcome(result: TrialResult) -> str:
    """Return the outcome in a sentence."""
    if result.kind == "ranking":
        return _ranking_outcome(result)
    count = f"{result.right} of {result.answered} right"
    if result.probability is None:
        return f"{count}, stopped before the {result.planned} that were planned."
    return f"{count}: a guess does this well {in_words(result.probability)}."


def meaning(result: TrialResult) -> str:
    """Return what the outcome means, and what it does not."""
    if result.probability is not None:
        return _choice_meaning(result, result.probability)
    if result.any_pair_probability is not None:
        return _ranking_meaning(result, result.any_pair_probability)
    return STOPPED


def rank_text(mean_rank: float) -> str:
    """Return a mean rank with one decimal, a half upwards as the page has it."""
    return f"{floor(10 * mean_rank + 0.5) / 10:.1f}"


def _choice_meaning(result: TrialResult, probability: float) -> str:
    """Return what a forced choice shows and what it does not."""
    if probability <= CLEAR:
        return (
            "Guessing is a poor explanation: most likely a difference was heard. It says nothing of how large it is, "
            "or which of the two is better."
        )
    return (
        "Guessing explains it: no difference was shown, which does not show that there is none. It takes "
        f"{result.least_right} of {result.answered}, and somebody who is right 7 times in 10 gets there "
        f"{in_words(result.keen_probability or 0.0)}; more trials show more."
    )


def _ranking_outcome(result: TrialResult) -> str:
    """Return the outcome of a ranking in a sentence."""
    best = min(result.mean_ranks)
    names = [c.name for c, rank in zip(result.candidates, result.mean_ranks, strict=True) if rank == best]
    rounds = "1 round" if result.answered == 1 else f"{result.answered} rounds"
    stopped = f", stopped before the {result.planned} that were planned" if result.stopped_early else ""
    rank = f"{rank_text(best)} of {len(result.candidates)}"
    return f"Liked most in {rounds}{stopped}: {' and '.join(names)}, mean place {rank}."


def _ranking_meaning(result: TrialResult, probability: float) -> str:
    """Return what a ranking shows and what it does not."""
    if result.answered == 1:
        return "One round shows only what you liked that day."
    if result.answered <= FEW_ROUNDS:
        return (
            f"{result.answered} rounds are few: a coin would put the same one of two first throughout "
            f"{in_words(float(sign_test(result.answered, rounds=result.answered)))}. Take it as a liking, not as proof."
        )
    several = len(result.pairs) > 1
    clearest = "among so many pairs, chance makes one as clear as the clearest" if several else "chance is as clear"
    at_most = "at most " if several and probability < 1.0 else ""
    return (
        f"If you had no preference, {clearest} {at_most}{in_words(probability)}. It shows one person's "
        "liking, on this take."
    )


KEEN_SHARE = Fraction(7, 10)
"""Share of right answers of a listener who hears the difference, but not always, to show what a session can tell."""


@dataclass(frozen=True)
class Pair:
    """Two candidates of a ranking, the one that was ahead more often first.

    Attributes
    ----------
    first, second
        Their names.
    first_ahead, rounds
        In how many of the rounds the first was put before the second.
    probability
        How often chance puts either so far ahead (two-sided sign test), 0 to 1; None after an early stop.
    """

    first: str
    second: str
    first_ahead: int
    rounds: int
    probability: float | None


@dataclass(frozen=True)
class TrialResult:
    """What one session showed, or several of the same comparison together.

    Attributes
    ----------
    files
        The files, a name each.
    sessions
        What is in them.
    planned, answered
        Trials or rounds.
    right, probability, least_right, keen_probability
        Forced choice: right answers; how often guessing does as well (None after an early stop); how many right
        answers guessing reaches at most 5 times in 100; how often somebody reaches them who is right 7 times in 10.
    mean_ranks, pairs, any_pair_probability
        Ranking: each candidate's mean place, 1 the most liked; every pair; and at most how often chance makes some
        pair of them as clear as the clearest (the smallest probability times the number of pairs).
    remarks
        What to know before trusting it.
    """

    files: tuple[str, ...]
    sessions: tuple[AnySession, ...]
    planned: int
    answered: int
    right: int | None = None
    probability: float | None = None
    least_right: int | None = None
    keen_probability: float | None = None
    mean_ranks: tuple[float, ...] = ()
    pairs: tuple[Pair, ...] = ()
    any_pair_probability: float | None = None
    remarks: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        """What was asked: "forced-choice" or "ranking"."""
        return self.sessions[0].kind

    @property
    def take(self) -> str:
        """The take's name."""
        return self.sessions[0].take

    @property
    def candidates(self) -> tuple[HeardCandidate, ...]:
        """The candidates; in a forced choice the reference first."""
        return tuple(self.sessions[0].candidates)

    @property
    def stopped_early(self) -> bool:
        """Whether less was answered than planned."""
        return self.answered < self.planned

    @property
    def words(self) -> str:
        """The outcome in a sentence."""
        return outcome(self)

    @property
    def meaning(self) -> str:
        """What that means, and what it does not."""
        return meaning(self)

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: all but the single answers."""
        first = self.sessions[0]
        return {
            "files": self.files,
            "kind": self.kind,
            "audition": first.audition,
            "take": self.take,
            "voicing": first.voicing,
            "bed": first.bed,
            "candidates": [candidate.model_dump() for candidate in self.candidates],
            "began": [session.began for session in self.sessions],
            "planned": self.planned,
            "answered": self.answered,
            "stopped_early": self.stopped_early,
            "right": self.right,
            "probability": self.probability,
            "least_right": self.least_right,
            "keen_probability": self.keen_probability,
            "mean_ranks": self.mean_ranks,
            "pairs": self.pairs,
            "any_pair_probability": self.any_pair_probability,
            "words": self.words,
            "meaning": self.meaning,
            "remarks": self.remarks,
        }
