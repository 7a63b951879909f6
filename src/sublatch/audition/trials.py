"""What blind listening showed: counted again from the single answers, with how often chance does as well."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from fractions import Fraction
from itertools import combinations
from pathlib import Path
from typing import Any

from sublatch.audition.odds import chance, least_right, sign_test
from sublatch.audition.trial_file import (
    AnySession,
    ChoiceSession,
    HeardCandidate,
    RankingSession,
    read_session,
)
from sublatch.audition.trial_words import meaning, outcome

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

    def to_dict(self) -> dict[str, Any]:
        """Return everything but the single answers as plain data for JSON."""
        first = self.sessions[0]
        return {
            "files": list(self.files),
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
            "mean_ranks": list(self.mean_ranks),
            "pairs": [asdict(pair) for pair in self.pairs],
            "any_pair_probability": self.any_pair_probability,
            "words": self.words,
            "meaning": self.meaning,
            "remarks": list(self.remarks),
        }


def read_trial(path: str | Path) -> TrialResult:
    """Return what a session of blind listening showed.

    Parameters
    ----------
    path
        The file that the listening page saved.

    Returns
    -------
    TrialResult
        Counted from the single answers; where the file counts otherwise, a remark says so.

    Raises
    ------
    TrialError
        When the file cannot be read, or the listening page cannot have written it.

    Notes
    -----
    k right answers of n: P(X ≥ k) with X binomial, n, ½, one-sided, exact. See `chance` and `sign_test`.
    """
    return _counted([str(path)], [read_session(Path(path))])


def add_trials(results: Iterable[TrialResult]) -> tuple[TrialResult, ...]:
    """Return the results with all sessions of one comparison added up.

    Parameters
    ----------
    results
        From `read_trial`.

    Returns
    -------
    tuple of TrialResult
        One for each comparison: the same kind, take, voicing, bed, candidates, settings and sounds. What was planned is
        added up too. A session that is there twice counts once.
    """
    groups: dict[object, list[tuple[str, AnySession]]] = {}
    for result in results:
        for file, session in zip(result.files, result.sessions, strict=True):
            place = (session.take, session.voicing, session.bed)
            same = (session.kind, place, tuple(repr(candidate) for candidate in _sorted(session)))
            groups.setdefault(same, []).append((file, session))
    return tuple(_counted([file for file, _ in group], [one for _, one in group]) for group in groups.values())


def _sorted(session: AnySession) -> list[HeardCandidate]:
    """Return a session's candidates in an order that tells comparisons apart: which is the reference matters."""
    if isinstance(session, ChoiceSession):
        return session.candidates
    return sorted(session.candidates, key=lambda candidate: candidate.name)


def _counted(files: list[str], sessions: list[AnySession]) -> TrialResult:
    """Return what sessions of one comparison show together."""
    remarks: list[str] = []
    kept: dict[str, tuple[str, AnySession]] = {}
    for file, session in zip(files, sessions, strict=True):
        if session.session in kept:
            known, other = kept[session.session]
            alike = "is the same session as" if session == other else "claims to be the same session as"
            remarks.append(f"{file} {alike} {known}, and is left out")
            continue
        kept[session.session] = (file, session)
        remarks += [f"{file} {fault}" for fault in _faults(session)]
    files, sessions = [file for file, _ in kept.values()], [session for _, session in kept.values()]
    if len(sessions) > 1:
        remarks.append("sessions may be added up when it was settled beforehand which ones, not once they went well")
    choices = [session for session in sessions if isinstance(session, ChoiceSession)]
    rankings = [session for session in sessions if isinstance(session, RankingSession)]
    return _chosen(files, choices, remarks) if choices else _ranked(files, rankings, remarks)


def _chosen(files: list[str], sessions: list[ChoiceSession], remarks: list[str]) -> TrialResult:
    """Return what forced choices of one comparison show."""
    planned = sum(session.planned for session in sessions)
    answered = sum(len(session.trials) for session in sessions)
    right = sum(session.right for session in sessions)
    needed = least_right(planned)
    return TrialResult(
        files=tuple(files),
        sessions=tuple(sessions),
        planned=planned,
        answered=answered,
        right=right,
        probability=float(chance(right, trials=answered)) if answered == planned else None,
        least_right=needed,
        keen_probability=None if needed is None else float(chance(needed, trials=planned, share=KEEN_SHARE)),
        remarks=tuple(remarks),
    )


def _ranked(files: list[str], sessions: list[RankingSession], remarks: list[str]) -> TrialResult:
    """Return what rankings of one comparison show."""
    planned = sum(session.planned for session in sessions)
    names = [candidate.name for candidate in sessions[0].candidates]
    ranks: dict[str, list[int]] = {name: [] for name in names}
    for session in sessions:
        for candidate, places in zip(session.candidates, session.ranks, strict=True):
            ranks[candidate.name] += places
    answered = len(ranks[names[0]])
    claimed = answered == planned
    pairs = tuple(_pair(one, other, ranks, claimed=claimed) for one, other in combinations(names, 2))
    smallest = min((pair.probability for pair in pairs if pair.probability is not None), default=None)
    return TrialResult(
        files=tuple(files),
        sessions=tuple(sessions),
        planned=planned,
        answered=answered,
        mean_ranks=tuple(sum(ranks[name]) / answered for name in names),
        pairs=pairs,
        any_pair_probability=None if smallest is None else min(1.0, len(pairs) * smallest),
        remarks=tuple(remarks),
    )


def _pair(one: str, other: str, ranks: dict[str, list[int]], *, claimed: bool) -> Pair:
    """Return how two candidates of a ranking stand to each other."""
    rounds = len(ranks[one])
    ahead = sum(a < b for a, b in zip(ranks[one], ranks[other], strict=True))
    if 2 * ahead < rounds:
        one, other, ahead = other, one, rounds - ahead
    return Pair(one, other, ahead, rounds, float(sign_test(ahead, rounds=rounds)) if claimed else None)


def _faults(session: AnySession) -> list[str]:
    """Return where the file counts otherwise than its answers do."""
    alone = (
        _chosen([""], [session], []) if isinstance(session, ChoiceSession) else _ranked([""], [session], [])
    ).to_dict()
    faults = []
    for key, told in session.result.model_dump().items():
        counted = alone[key]
        if told != counted and not _about_equal(told, counted):
            faults.append(
                f"was altered, or not written by the page: it says {key} = {_said(told)}, its answers give "
                f"{_said(counted)}; the answers count"
            )
    return faults


def _about_equal(told: Any, counted: Any) -> bool:
    """Return whether two numbers, or two lists of them, differ by no more than rounding."""
    if isinstance(told, list) and isinstance(counted, list):
        return len(told) == len(counted) and all(map(_about_equal, told, counted))
    if isinstance(told, bool) or not isinstance(told, (int, float)) or not isinstance(counted, (int, float)):
        return False
    return abs(told - counted) <= 1e-12 * max(1e-300, abs(counted))


def _said(value: Any) -> str:
    """Return a counted value for a remark."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(_said, value)) if isinstance(value, list) else f"{value:.4g}"
