"""What the page counts and says of blind listening is what the program does, and what scipy's binomial test gives."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from scipy.stats import binomtest

from blind_pages import audition, write_page
from browsers import output_sources
from sublatch.trial.odds import chance, in_words, least_right, sign_test
from sublatch.trial.read import read_trial
from trial_files import forced, ranking, write


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("browser")
    with output_sources() as opened:
        opened.open(write_page(folder / "page.html", audition()))
        yield opened


def test_the_tail_in_the_page_is_exact(page):
    cases = [
        (right, trials) for trials in (5, 8, 16, 25, 100, 333, 500) for right in range(0, trials + 1, 1 + trials // 12)
    ]
    told = page.js(f"{json.dumps(cases)}.map(([k, n]) => [sublatch.odds.chance(k, n), sublatch.odds.chance(k, n, 7)])")
    for (right, trials), (guess, keen) in zip(cases, told, strict=True):
        assert guess == float(chance(right, trials=trials))
        assert guess == pytest.approx(binomtest(right, trials, 0.5, alternative="greater").pvalue, rel=1e-11)
        assert keen == pytest.approx(float(chance(right, trials=trials, share=Fraction(7, 10))), rel=1e-15)
        assert keen == pytest.approx(binomtest(right, trials, 0.7, alternative="greater").pvalue, rel=1e-10)


def test_counts_and_words_in_the_page_are_the_programs(page):
    assert page.js("Array.from({ length: 500 }, (_, i) => sublatch.odds.leastRight(i + 1))") == [
        least_right(trials) for trials in range(1, 501)
    ]
    chances = [1.0, 0.9951, 0.5, 0.125, 0.03841, 0.0107, 0.0099, 0.00951, 1e-3, 3.3e-5, 1e-6, 9e-7, 0.0]
    assert page.js(f"{json.dumps(chances)}.map(sublatch.odds.inWords)") == [in_words(one) for one in chances]
    signs = [(ahead, rounds) for rounds in (1, 2, 6, 11, 40) for ahead in range(rounds + 1)]
    assert page.js(f"{json.dumps(signs)}.map(([k, n]) => sublatch.odds.signTest(k, n))") == [
        float(sign_test(ahead, rounds=rounds)) for ahead, rounds in signs
    ]


SESSIONS = [
    *(forced(right, answered=8) for right in range(9)),
    forced(4, answered=5, planned=9),
    *(ranking([("as built", "brighter", "darker")] * rounds) for rounds in (1, 2, 5, 6, 12)),
    ranking([("as built", "brighter", "darker")] * 3 + [("darker", "as built", "brighter")] * 5),
    ranking([("as built", "brighter", "darker"), ("brighter", "as built", "darker")]),
    ranking([("brighter", "darker")] * 7, names=("brighter", "darker")),
    ranking([("brighter", "darker")] * 7, names=("brighter", "darker"), planned=8),
]


@pytest.mark.parametrize("document", SESSIONS)
def test_the_page_and_the_program_say_the_same(page, tmp_path, document):
    counted = page.js(f"sublatch.trial.counted({json.dumps(document)})")
    found = read_trial(write(tmp_path / "r.json", {**document, "result": counted}))
    assert found.remarks == ()
    said = "((session) => [sublatch.trial.outcome(session), sublatch.trial.meaning(session)])"
    assert page.js(f"{said}({json.dumps({**document, 'result': counted})})") == [found.words, found.meaning]
