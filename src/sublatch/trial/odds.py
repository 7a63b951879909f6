"""How often chance alone does as well: the binomial tail, exactly, and in words.

One right answer of two is chance: the reference is behind either letter as often.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import accumulate, takewhile
from math import floor

from sublatch.errors import AudioDataError

MOST_TRIALS = 500
"""Trials in a session at most: nobody listens longer, and the page can count so far without rounding."""
CLEAR = Fraction(1, 20)
"""Probability from which on guessing is a poor explanation (common practice, no source)."""
BASES = ((100, "100"), (1_000, "1000"), (10_000, "10 000"), (100_000, "100 000"), (1_000_000, "a million"))
"""Out of how many a probability is told, the smallest in which it is at least one."""


def chance(right: int, *, trials: int, share: Fraction = Fraction(1, 2)) -> Fraction:
    """Return how likely at least `right` right answers are.

    Parameters
    ----------
    right
        Right answers, 0 to `trials`.
    trials
        Answers, 0 or more.
    share
        Probability of a right answer, above 0 and below 1; one half is guessing.

    Returns
    -------
    Fraction
        The probability, without rounding.

    Raises
    ------
    AudioDataError
        When there can be no such count or probability.

    Notes
    -----
    P(X ≥ k) = Σ C(n, i) pⁱ (1 − p)ⁿ⁻ⁱ for i = k … n: the binomial distribution's upper tail.
    """
    if not 0 <= right <= trials:
        raise AudioDataError(f"right answers must be 0 to the number of trials, got {right} of {trials}")
    if not 0 < share < 1:
        raise AudioDataError(f"the probability of a right answer must be above 0 and below 1, got {share}")
    right_weight, wrong_weight = share.numerator, share.denominator - share.numerator
    terms = (
        combinations * right_weight**i * wrong_weight ** (trials - i)
        for i, combinations in zip(range(trials, right - 1, -1), _combinations(trials), strict=False)
    )
    return Fraction(sum(terms), share.denominator**trials)


def sign_test(ahead: int, *, rounds: int) -> Fraction:
    """Return how likely an equal coin comes down on one side, either one, at least so unevenly.

    Parameters
    ----------
    ahead
        Rounds in which one of a pair was put before the other, 0 to `rounds`.
    rounds
        All rounds.

    Returns
    -------
    Fraction
        The two-sided probability, since which of them would be liked was not said beforehand.
    """
    return min(Fraction(1), 2 * chance(max(ahead, rounds - ahead), trials=rounds))


def least_right(trials: int, *, level: Fraction = CLEAR) -> int | None:
    """Return the fewest right answers that guessing gives with at most the probability `level`.

    Parameters
    ----------
    trials
        Answers, 0 or more.
    level
        A probability.

    Returns
    -------
    int or None
        The count; None where even all right would be too likely.
    """
    tails = accumulate(_combinations(trials))
    within = sum(1 for _ in takewhile(lambda tail: Fraction(tail, 2**trials) <= level, tails))
    return trials + 1 - within if within else None


def _combinations(trials: int) -> Iterator[int]:
    """Give in how many ways all answers, all but one, all but two and so on down to none can be right."""
    combinations = 1
    for wrong in range(trials + 1):
        yield combinations
        combinations = combinations * (trials - wrong) // (wrong + 1)


def in_words(probability: float) -> str:
    """Return a probability as it would be said, such as "4 times in 100".

    Parameters
    ----------
    probability
        0 to 1.
    """
    if probability >= 1.0:
        return "every time"
    for base, name in BASES:
        if probability * base >= 1.0:
            count = floor(probability * base + 0.5)
            if count == base:
                return f"more than {base - 1} times in {name}"
            return f"once in {name}" if count == 1 else f"{count} times in {name}"
    return "less than once in a million"
