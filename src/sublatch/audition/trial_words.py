"""The outcome of blind listening in sentences, the same as on the page."""

from __future__ import annotations

from math import floor
from typing import TYPE_CHECKING

from sublatch.audition.odds import CLEAR, in_words, sign_test

if TYPE_CHECKING:
    from sublatch.audition.trials import TrialResult

FEW_ROUNDS = 5
"""Rounds of a ranking up to which even a pair that always comes out alike can be chance (sign test at 1 in 16)."""
STOPPED = "No probability is told of what was stopped early: who may stop when it goes well always finds a good moment."


def outcome(result: TrialResult) -> str:
    """Return the outcome in a sentence."""
    if result.kind == "ranking":
        return _ranking_outcome(result)
    told = f"{result.right} of {result.answered} right"
    if result.probability is None:
        return f"{told}, stopped before the {result.planned} that were planned."
    return f"{told}: a guess does this well {in_words(result.probability)}."


def meaning(result: TrialResult) -> str:
    """Return what the outcome means, and what it does not."""
    if result.probability is not None:
        return _choice_meaning(result, result.probability)
    if result.any_pair_probability is not None:
        return _ranking_meaning(result, result.any_pair_probability)
    return STOPPED


def place(mean_rank: float) -> str:
    """Return a mean place with one decimal, a half upwards as the page has it."""
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
    return (
        f"Liked most in {rounds}{stopped}: {' and '.join(names)}, mean place {place(best)} of {len(result.candidates)}."
    )


def _ranking_meaning(result: TrialResult, probability: float) -> str:
    """Return what a ranking shows and what it does not."""
    if result.answered == 1:
        return "One round shows only what you liked that day."
    if result.answered <= FEW_ROUNDS:
        return (
            f"{result.answered} rounds are few: a coin would put the same one of two first throughout "
            f"{in_words(float(sign_test(result.answered, rounds=result.answered)))}. Take it as a liking, not as proof."
        )
    many = len(result.pairs) > 1
    clearest = "among so many pairs, chance makes one as clear as the clearest" if many else "chance is as clear"
    at_most = "at most " if many and probability < 1.0 else ""
    return (
        f"If you had no preference, {clearest} {at_most}{in_words(probability)}. It shows one person's "
        "liking, on this take."
    )
