"""How often guessing does as well: published rows for a choice of two, and scipy's binomial test.

The least numbers of right answers for 10 to 25 trials were read in a published table for blind comparisons of two
sounds, whose title was not kept; it asks for 10 to 25 trials a round. ISO 10399 (duo-trio test) tabulates the same
one-sided counts (from memory). The other figures are the binomial distribution's, worked out by hand as fractions.
Method with a hidden reference: ITU-R BS.1116-3, whose own test is another, with three stimuli and a scale.
Tolerance: exact for counts and fractions, half of the last printed digit for probabilities.
"""

from fractions import Fraction

import pytest
from scipy.stats import binomtest

from sublatch.trial.odds import chance, least_right, sign_test

LEAST_RIGHT = dict(zip(range(10, 26), [9, 9, 10, 10, 11, 12, 12, 13, 13, 14, 15, 15, 16, 16, 17, 18], strict=True))
"""Fewest right answers that guessing gives at most 5 times in 100, by the number of trials."""


@pytest.mark.parametrize(("trials", "right"), LEAST_RIGHT.items())
def test_the_published_row_of_least_right_answers(trials, right):
    assert least_right(trials) == right


def test_twelve_of_sixteen_as_a_fraction():
    assert chance(12, trials=16) == Fraction(2517, 65536)


@pytest.mark.parametrize(
    ("right", "trials", "printed"),
    [
        (12, 16, "0.03841"),
        (11, 16, "0.10506"),
        (13, 16, "0.01064"),
        (9, 10, "0.0107"),
        (10, 10, "0.0010"),
        (14, 16, "0.0021"),
        (15, 20, "0.0207"),
        (16, 20, "0.0059"),
        (18, 25, "0.0216"),
        (19, 25, "0.0073"),
    ],
)
def test_printed_probabilities(right, trials, printed):
    places = len(printed) - 2
    assert f"{float(chance(right, trials=trials)):.{places}f}" == printed


@pytest.mark.parametrize(("trials", "right"), [(10, 10), (16, 14), (20, 16), (25, 19)])
def test_least_right_answers_at_one_in_a_hundred(trials, right):
    assert least_right(trials, level=Fraction(1, 100)) == right


@pytest.mark.parametrize(
    ("trials", "at_seven", "at_eight"),
    [(10, "0.149", "0.376"), (16, "0.450", "0.798"), (20, "0.416", "0.804"), (25, "0.512", "0.891")],
)
def test_how_often_a_keen_listener_gets_there(trials, at_seven, at_eight):
    needed = least_right(trials)
    told = [f"{float(chance(needed, trials=trials, share=Fraction(tenths, 10))):.3f}" for tenths in (7, 8)]
    assert told == [at_seven, at_eight]


@pytest.mark.parametrize("trials", [1, 5, 8, 16, 100, 500])
def test_the_tail_is_the_one_of_scipy(trials):
    for right in {0, 1, trials // 3, trials // 2, 3 * trials // 4, trials}:
        theirs = binomtest(right, trials, 0.5, alternative="greater").pvalue
        assert float(chance(right, trials=trials)) == pytest.approx(theirs, rel=1e-11)
        keen = binomtest(right, trials, 0.7, alternative="greater").pvalue
        assert float(chance(right, trials=trials, share=Fraction(7, 10))) == pytest.approx(keen, rel=1e-11)


@pytest.mark.parametrize("rounds", [1, 2, 5, 6, 11, 40])
def test_the_sign_test_is_the_two_sided_one_of_scipy(rounds):
    for ahead in range(rounds + 1):
        theirs = binomtest(ahead, rounds, 0.5, alternative="two-sided").pvalue
        assert float(sign_test(ahead, rounds=rounds)) == pytest.approx(theirs, rel=1e-11)
