"""Blind listening read back: counted from the answers alone, added up, and put in words."""

from __future__ import annotations

import json
from fractions import Fraction
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

import trial_files
from sublatch.errors import AudioDataError
from sublatch.json_data import plain_values
from sublatch.trial.odds import chance, in_words, least_right, sign_test
from sublatch.trial.read import add_trials, read_trial
from trial_files import NAMES, forced, ranking, write

P_12_OF_16 = 2517 / 65536


def read(tmp_path, document, name="r.json"):
    return read_trial(write(tmp_path / name, document))


def test_right_answers_are_counted_from_the_trials(tmp_path):
    found = read(tmp_path, forced(12, probability=P_12_OF_16))
    assert (found.right, found.answered, found.planned, found.stopped_early) == (12, 16, 16, False)
    assert found.probability == P_12_OF_16
    assert (found.least_right, found.remarks) == (12, ())
    assert found.words == "12 of 16 right: a guess does this well 4 times in 100."
    assert found.meaning.startswith("Guessing is a poor explanation")
    assert "nothing of how large it is" in found.meaning


def test_what_guessing_explains_shows_no_difference_and_no_sameness(tmp_path):
    found = read(tmp_path, forced(11, probability=float(chance(11, trials=16))))
    assert found.words == "11 of 16 right: a guess does this well 11 times in 100."
    assert "does not show that there is none" in found.meaning
    assert "12 of 16, and somebody who is right 7 times in 10 gets there 45 times in 100" in found.meaning


def test_an_early_stop_is_marked_and_claims_no_probability(tmp_path):
    found = read(tmp_path, forced(8, answered=8, planned=16))
    assert (found.stopped_early, found.probability, found.remarks) == (True, None, ())
    assert found.words == "8 of 8 right, stopped before the 16 that were planned."
    assert found.meaning.startswith("No probability is told")


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"right": 16}, "it says right = 16, its answers give 12"),
        ({"answered": 20}, "it says answered = 20, its answers give 16"),
        ({"probability": 0.00001}, "it says probability = 1e-05, its answers give 0.03841"),
        ({"probability": None}, "it says probability = none, its answers give 0.03841"),
        ({"stopped_early": True}, "it says stopped_early = yes, its answers give no"),
    ],
)
def test_an_altered_count_is_told_and_does_not_count(tmp_path, told, words):
    document = forced(12, probability=P_12_OF_16)
    document["result"] |= told
    found = read(tmp_path, document)
    assert (found.right, found.probability) == (12, P_12_OF_16)
    (remark,) = found.remarks
    assert remark == f"{tmp_path / 'r.json'} was altered, or not written by the page: {words}; the answers count"


def test_a_probability_claimed_after_an_early_stop_is_told(tmp_path):
    found = read(tmp_path, forced(8, answered=8, planned=16, probability=1 / 256))
    assert found.probability is None
    assert "probability = 0.003906, its answers give none" in found.remarks[0]


def test_a_ranking_has_mean_places_and_pairs(tmp_path):
    a, b, c = NAMES
    rounds = [(a, b, c)] * 6 + [(b, a, c)] * 2
    found = read(tmp_path, ranking(rounds))
    assert found.mean_ranks == (1.25, 1.75, 3.0)
    assert [(p.first, p.second, p.first_ahead, p.rounds) for p in found.pairs] == [
        (a, b, 6, 8),
        (a, c, 8, 8),
        (b, c, 8, 8),
    ]
    # two-sided: 2·(1 + 8 + 28)/256, and 2/256
    assert [pair.probability for pair in found.pairs] == [74 / 256, 2 / 256, 2 / 256]
    assert found.any_pair_probability == 6 / 256
    assert found.words == "Liked most in 8 rounds: as built, mean place 1.3 of 3."
    assert "at most 2 times in 100" in found.meaning
    assert found.remarks == ()


def test_one_round_shows_a_liking_only(tmp_path):
    found = read(tmp_path, ranking([NAMES]))
    assert found.meaning == "One round shows only what you liked that day."
    assert found.words == "Liked most in 1 round: as built, mean place 1.0 of 3."


def test_few_rounds_say_what_a_coin_does(tmp_path):
    assert "a coin would put the same one of two first throughout 25 times in 100" in (
        read(tmp_path, ranking([NAMES] * 3)).meaning
    )


def test_a_ranking_stopped_early_claims_nothing(tmp_path):
    found = read(tmp_path, ranking([NAMES] * 6, planned=8))
    assert found.any_pair_probability is None
    assert {pair.probability for pair in found.pairs} == {None}
    assert "stopped before the 8 that were planned" in found.words


def test_mean_places_that_were_altered_are_told(tmp_path):
    found = read(tmp_path, ranking([NAMES] * 6, mean_ranks=[3.0, 2.0, 1.0]))
    assert found.mean_ranks == (1.0, 2.0, 3.0)
    assert "mean_ranks = 3, 2, 1, its answers give 1, 2, 3" in found.remarks[0]


def test_sessions_of_one_comparison_are_added_up(tmp_path):
    found = add_trials(
        [
            read(tmp_path, forced(12, probability=P_12_OF_16), "a.json"),
            read(tmp_path, forced(7, answered=8, probability=9 / 256, digits="f" * 16), "b.json"),
        ]
    )
    (both,) = found
    assert (both.right, both.answered, both.planned) == (19, 24, 24)
    assert both.probability == sum(comb(24, k) for k in range(19, 25)) / 2**24
    assert both.files == (str(tmp_path / "a.json"), str(tmp_path / "b.json"))
    assert [remark for remark in both.remarks if "settled beforehand" in remark]


def test_an_early_stop_among_the_sessions_spoils_the_sum(tmp_path):
    early = read(tmp_path, forced(5, answered=5, planned=16, digits="e" * 16), "a.json")
    (both,) = add_trials([early, read(tmp_path, forced(12, probability=P_12_OF_16), "b.json")])
    assert (both.planned, both.answered, both.probability) == (32, 21, None)


def test_rankings_are_added_up_by_name(tmp_path):
    one = read(tmp_path, ranking([NAMES] * 3), "a.json")
    other = read(tmp_path, ranking([NAMES] * 3, names=NAMES[::-1], digits="e" * 16), "b.json")
    (both,) = add_trials([one, other])
    assert both.mean_ranks == (1.0, 2.0, 3.0)
    assert both.answered == 6


def test_one_session_given_twice_counts_once(tmp_path):
    one = read(tmp_path, forced(12, probability=P_12_OF_16), "a.json")
    copy = read(tmp_path, forced(12, probability=P_12_OF_16), "b.json")
    forged = read(tmp_path, forced(16, probability=2.0**-16), "c.json")
    (found,) = add_trials([one, copy, forged])
    assert (found.right, found.answered, found.files) == (12, 16, (str(tmp_path / "a.json"),))
    assert found.remarks == (
        f"{tmp_path / 'b.json'} is the same session as {tmp_path / 'a.json'}, and is left out",
        f"{tmp_path / 'c.json'} claims to be the same session as {tmp_path / 'a.json'}, and is left out",
    )


@pytest.mark.parametrize(
    "other",
    [
        forced(12, probability=P_12_OF_16, digits="e" * 16, take="another"),
        forced(12, probability=P_12_OF_16, digits="e" * 16, voicing="loudspeaker"),
        forced(12, probability=P_12_OF_16, digits="e" * 16, bed="bed.flac"),
        forced(12, probability=P_12_OF_16, digits="e" * 16, names=NAMES[1::-1]),
        forced(12, probability=P_12_OF_16, digits="e" * 16, names=(NAMES[0], NAMES[2])),
        ranking([NAMES[:2]], names=NAMES[:2], digits="e" * 16),
    ],
)
def test_other_comparisons_are_told_apart(tmp_path, other):
    one = read(tmp_path, forced(12, probability=P_12_OF_16), "a.json")
    assert len(add_trials([one, read(tmp_path, other, "b.json")])) == 2


@pytest.mark.parametrize("change", [{"sound": "sha256:other"}, {"sound": None}, {"settings": {"knobs.tone": 5}}])
def test_another_sound_or_setting_under_the_same_name_is_another_comparison(tmp_path, change):
    other = forced(12, probability=P_12_OF_16, digits="e" * 16)
    other["candidates"][1] |= change
    one = read(tmp_path, forced(12, probability=P_12_OF_16), "a.json")
    assert len(add_trials([one, read(tmp_path, other, "b.json")])) == 2


def test_the_document_is_plain_data(tmp_path):
    for document in (forced(12, probability=P_12_OF_16), ranking([NAMES] * 6)):
        told = json.loads(json.dumps(plain_values(read(tmp_path, document)), allow_nan=False))
        assert told["candidates"][0]["settings"] == {"knobs.tone": 4}
        assert told["stopped_early"] is False


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (1.0, "every time"),
        (0.9999, "more than 99 times in 100"),
        (0.5, "50 times in 100"),
        (P_12_OF_16, "4 times in 100"),
        (0.0107, "once in 100"),
        (0.0064, "6 times in 1000"),
        (2.0**-16, "2 times in 100 000"),
        (2.0**-20, "less than once in a million"),
        (0.0, "less than once in a million"),
    ],
)
def test_a_probability_in_words(probability, words):
    assert in_words(probability) == words


@given(st.integers(0, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_tail_falls_from_one_and_both_ends_make_a_whole(counted):
    right, trials = counted
    assert chance(0, trials=trials) == 1
    assert chance(trials, trials=trials) == Fraction(1, 2**trials)
    if right:
        assert chance(right - 1, trials=trials) - chance(right, trials=trials) == Fraction(
            comb(trials, right - 1), 2**trials
        )
        # so many right or more, and so many wrong or more that fewer are right, are all there is
        assert chance(right, trials=trials) + chance(trials - right + 1, trials=trials) == 1
    assert sign_test(right, rounds=trials) == sign_test(trials - right, rounds=trials)


@given(st.integers(0, 120), st.fractions(Fraction(1, 1000), Fraction(1, 2)))
def test_the_least_right_count_is_the_least(trials, level):
    needed = least_right(trials, level=level)
    clear = [right for right in range(trials + 1) if chance(right, trials=trials) <= level]
    assert needed == (clear[0] if clear else None)


@given(st.lists(st.tuples(st.booleans(), st.sampled_from("AB")), min_size=5, max_size=40), st.integers(0, 3))
def test_any_answers_are_counted(tmp_path_factory, answers, more):
    names = NAMES[:2]
    trials = [(names[::-1] if swapped else names, answer) for swapped, answer in answers]
    right = sum((answer == "B") == swapped for swapped, answer in answers)
    n = len(answers)
    probability = None if more else sum(comb(n, k) for k in range(right, n + 1)) / 2**n
    document = trial_files.session("forced-choice", trials, names=names, planned=n + more)
    document["result"] = {"answered": n, "right": right, "stopped_early": more > 0, "probability": probability}
    found = read_trial(write(tmp_path_factory.mktemp("any") / "r.json", document))
    assert (found.right, found.probability, found.remarks) == (right, probability, ())


@given(st.lists(st.permutations(NAMES), min_size=1, max_size=12))
def test_any_order_of_liking_is_counted(tmp_path_factory, rounds):
    found = read_trial(write(tmp_path_factory.mktemp("any") / "r.json", ranking(rounds)))
    assert sum(found.mean_ranks) == pytest.approx(1 + 2 + 3)
    assert found.remarks == ()
    for pair in found.pairs:
        ahead = sum(liked.index(pair.first) < liked.index(pair.second) for liked in rounds)
        assert pair.first_ahead == ahead >= len(rounds) / 2


@pytest.mark.parametrize(("right", "trials"), [(-1, 5), (6, 5), (0, -1)])
def test_impossible_counts_have_no_probability(right, trials):
    with pytest.raises(AudioDataError, match="right answers must be 0 to the number of trials"):
        chance(right, trials=trials)


@pytest.mark.parametrize("share", [Fraction(0), Fraction(1), Fraction(3, 2)])
def test_the_share_of_right_answers_lies_between(share):
    with pytest.raises(AudioDataError, match="must be above 0 and below 1"):
        chance(1, trials=5, share=share)
