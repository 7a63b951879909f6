"""Blind listening in a browser: the key stays sealed, the count is right, and the saved file can be read back."""

from __future__ import annotations

import json

import pytest

from blind_pages import (
    NAMES,
    SECTION,
    asks_before_leaving,
    audition,
    begin,
    hear,
    opened,
    push,
    saved,
    title,
    write_page,
)
from browsers import Driven
from command_line import sublatch
from sublatch.trial.read import read_trial

TURN_RANDOM = """
globalThis.bits = globalThis.bits ?? [];
crypto.getRandomValues = (box) => { box.fill(globalThis.bits.length ? globalThis.bits.shift() : 0); return box; };
"""
"""Makes chance certain: the given numbers, then zeros."""


@pytest.fixture
def page(chromium):
    driven = Driven(chromium, viewport={"width": 1200, "height": 900})
    yield driven
    driven.close()


@pytest.fixture
def blind(page, tmp_path):
    """Give the page with the section of one take open."""
    opened(page, write_page(tmp_path / "page.html", audition()))
    return page


def test_a_forced_choice_runs_to_its_end_and_is_read_back(blind, tmp_path):
    begin(blind, times=6)
    for number in range(1, 7):
        assert title(blind) == f"Trial {number} of 6"
        assert hear(blind, "R") == NAMES[1]
        a, b = hear(blind, "A"), hear(blind, "B")
        assert {a, b} == set(NAMES[1:3])
        rightly = "A" if a == NAMES[1] else "B"
        said = rightly if number != 3 else "AB".replace(rightly, "")
        push(blind, f"{said} is the reference")
    words = blind.js(f"{SECTION}.querySelector('.blind-outcome').textContent")
    assert words == "5 of 6 right: a guess does this well 11 times in 100."
    assert "3" in blind.js(
        f"[...{SECTION}.querySelectorAll('.blind-key li')].findIndex(x => /wrong/.test(x.textContent)) + 1 + ''"
    )
    file = saved(blind, tmp_path)
    found = read_trial(file)
    assert (found.right, found.answered, found.probability, found.remarks) == (5, 6, 7 / 64, ())
    assert (found.words, found.meaning) == (
        words,
        blind.js(f"{SECTION}.querySelector('.blind-outcome + p').textContent"),
    )
    assert [candidate.name for candidate in found.candidates] == [NAMES[1], NAMES[2]]
    assert found.candidates[0].settings == {"knobs.tone": 1}
    assert found.candidates[0].sound == f"sha256:{1:064x}"
    result = sublatch("trial", file)
    assert result.exit_code == 0
    assert words in result.stdout


def test_a_ranking_runs_to_its_end_and_is_read_back(blind, tmp_path):
    begin(blind, "ranking", times=2)
    wanted = [NAMES[3], NAMES[0], NAMES[2], NAMES[1]]
    for number in (1, 2):
        assert title(blind) == f"Round {number} of 2"
        behind = {hear(blind, letter): letter for letter in "ABCD"}
        assert set(behind) == set(NAMES)
        for aim, name in enumerate(wanted):
            order = blind.js(f"[...{SECTION}.querySelectorAll('.blind-order li')].map(one => one.dataset.letter)")
            for _ in range(order.index(behind[name]) - aim):
                if number == 1:
                    push(blind, "Up", within=f"section.blind [data-letter={behind[name]}]")
                else:
                    blind.press(behind[name].lower())
                    blind.press("ArrowUp")
        push(blind, "This is my order")
    found = read_trial(saved(blind, tmp_path))
    means = dict(zip([candidate.name for candidate in found.candidates], found.mean_ranks, strict=True))
    assert means == {name: 1.0 + place for place, name in enumerate(wanted)}
    assert found.remarks == ()
    assert found.words == blind.js(f"{SECTION}.querySelector('.blind-outcome').textContent")
    assert found.meaning == blind.js(f"{SECTION}.querySelector('.blind-outcome + p').textContent")


@pytest.mark.parametrize("kind", ["forced-choice", "ranking"])
def test_no_name_is_in_the_section_while_it_runs(blind, kind):
    assert all(name in blind.js(f"{SECTION}.textContent") for name in NAMES)
    begin(blind, kind)
    for letter in "AB":
        hear(blind, letter)
        blind.press(" ")
        text = blind.js(f"{SECTION}.outerHTML") + blind.js("document.title") + blind.js("location.href")
        for name in (*NAMES, "gated", "bypassed", "seven", "sha256", "audio/", "knobs"):
            assert name not in text


def sealed_states(page, path, kind, bits):
    """Return the whole document at every step of a session, with the given chances, and what was heard on the way."""
    opened(page, path)
    page.js(TURN_RANDOM + f"globalThis.bits = {json.dumps(bits)};")
    begin(page, kind, times=5)
    states, heard = [], []
    for _ in range(2):
        for letter in "AB":
            heard.append(hear(page, letter))
            states.append(page.js("document.documentElement.outerHTML"))
        push(page, "A is the reference" if kind == "forced-choice" else "This is my order")
        states.append(page.js("document.documentElement.outerHTML"))
    states.append(page.js("JSON.stringify(Object.keys(globalThis.sublatch)) + JSON.stringify(globalThis.sublatch)"))
    page.leave()
    return states, heard


@pytest.mark.parametrize("kind", ["forced-choice", "ranking"])
def test_the_document_is_the_same_whatever_is_behind_the_letters_and_whatever_was_answered(page, tmp_path, kind):
    path = write_page(tmp_path / "page.html", audition())
    one = sealed_states(page, path, kind, [0, 0, 0, 0, 0, 0])
    other = sealed_states(page, path, kind, [1, 1, 1, 1, 1, 1])
    assert one[1] != other[1]  # something else was heard
    assert one[0] == other[0]  # and nothing shows it


def test_every_order_is_as_likely(blind):
    counts = blind.js(
        """(() => {
          const counts = {};
          for (let i = 0; i < 6000; i += 1) {
            const order = sublatch.trial.shuffled(['x', 'y', 'z']).join('');
            counts[order] = (counts[order] ?? 0) + 1;
          }
          return counts;
        })()"""
    )
    assert len(counts) == 6
    # 1000 each, with a standard deviation of 28.9; six of them miss once in 10⁸ runs
    assert all(abs(count - 1000) < 6.5 * 28.9 for count in counts.values())


def test_an_early_stop_asks_once_more_is_marked_and_claims_nothing(blind, tmp_path):
    begin(blind, times=16)
    for _ in range(3):
        push(blind, "A is the reference")
    push(blind, "Stop early")
    assert "Stop after 3 of 16?" in blind.js(f"{SECTION}.textContent")
    push(blind, "Go on")
    assert title(blind) == "Trial 4 of 16"
    push(blind, "Stop early")
    push(blind, "Stop here")
    found = read_trial(saved(blind, tmp_path))
    assert (found.answered, found.planned, found.probability, found.remarks) == (3, 16, None, ())
    assert found.words == blind.js(f"{SECTION}.querySelector('.blind-outcome').textContent")
    assert json.loads(next(tmp_path.glob("blind *.json")).read_text())["result"]["stopped_early"] is True


def test_a_stop_before_the_first_answer_keeps_nothing(blind):
    begin(blind)
    push(blind, "Stop early")
    push(blind, "Stop here")
    assert blind.js(f"Boolean({SECTION}.querySelector('form'))")


def test_leaving_in_the_middle_asks_and_before_and_after_it_does_not(blind, tmp_path):
    push(blind, "20")  # a page that nobody has touched may not ask
    assert not asks_before_leaving(blind)
    begin(blind, times=5)
    assert asks_before_leaving(blind)
    for _ in range(5):
        push(blind, "B is the reference")
    assert asks_before_leaving(blind)  # the result is not saved yet
    saved(blind, tmp_path)
    assert not asks_before_leaving(blind)


def test_keys_listen_play_and_answer_and_reach_nothing_else(blind):
    blind.js("globalThis.reached = []; document.addEventListener('keydown', (event) => reached.push(event.key)); 0")
    begin(blind)
    state = f"{SECTION}.querySelector('[aria-pressed=true]').dataset.hear"
    assert blind.js(state) == "R"
    for key in "abr":
        blind.press(key)
        assert blind.js(state) == key.upper()
    blind.press(" ")
    assert blind.js("silent.playing") is True
    assert blind.js(f"{SECTION}.querySelector('.blind-play').textContent") == "Pause"
    blind.press(" ")
    assert blind.js("silent.playing") is False
    for number, letter in ((2, "A"), (3, "B")):
        blind.press(letter, shift=True)
        assert title(blind) == f"Trial {number} of 6"
        assert blind.js(state) == "R"
    for where in ("0", "document.activeElement.blur()"):
        blind.js(where)
        for key in ("1", "2", "ArrowRight", "p"):
            blind.press(key)
    assert set(blind.js("reached")) <= {"Shift"}


def test_a_part_can_be_heard_over_and_over(blind):
    begin(blind)
    assert blind.js("silent.loop") == [0, 4]
    blind.js(
        f"""[...{SECTION}.querySelectorAll('.blind-line input')].forEach((one, i) => {{
          one.value = [1.5, 2.25][i]; one.dispatchEvent(new Event('change'));
        }})"""
    )
    assert blind.js("silent.loop") == [1.5, 2.25]
    push(blind, "A is the reference")
    assert blind.js("silent.loop") == [1.5, 2.25]
    assert blind.js(f"[...{SECTION}.querySelectorAll('.blind-line input')].map(one => one.value)") == ["1.5", "2.25"]


def test_what_cannot_begin_says_why(blind):
    blind.js(f"{SECTION}.querySelector('[name=other]').value = 0")
    push(blind, "Begin")
    said = f"{SECTION}.querySelector('[role=alert]').textContent"
    assert blind.js(said) == "Choose two candidates that differ."
    blind.js(f"{SECTION}.querySelector('[value=ranking]').click()")
    blind.js(f"{SECTION}.querySelectorAll('[name=heard]').forEach((one, i) => {{ one.checked = i === 0; }})")
    push(blind, "Begin")
    assert blind.js(said) == "Choose at least two candidates."
    blind.js(f"globalThis.failing = true; {SECTION}.querySelector('[value=forced-choice]').click()")
    blind.js(f"{SECTION}.querySelector('[name=other]').value = 2")
    push(blind, "Begin")
    blind.wait(said)
    assert blind.js(said) == "The sounds cannot be played: no such sound"
    assert not asks_before_leaving(blind)


@pytest.mark.parametrize("comes", ["ready()", "fail(new Error('too late'))"])
def test_sounds_that_come_after_one_has_left_begin_nothing(blind, comes):
    blind.js("globalThis.slow = true")
    push(blind, "Begin")
    blind.wait("globalThis.late")
    assert "Getting the sounds ready" in blind.js(f"{SECTION}.textContent")
    push(blind, "Not now")
    blind.js("globalThis.before = globalThis.late; globalThis.slow = false; 0")
    begin(blind)
    push(blind, "A is the reference")
    blind.js(f"globalThis.before.{comes}; new Promise((done) => setTimeout(done, 50))")
    assert title(blind) == "Trial 2 of 6"


@pytest.mark.parametrize(("count", "begins"), [(4, False), (5, True), (500, True), (501, False), (7.5, False)])
def test_the_number_of_trials_has_limits(blind, count, begins):
    blind.js(f"{SECTION}.querySelector('[name=trials]').value = {count}")
    push(blind, "Begin")
    assert blind.js(f"{SECTION}.querySelector('form') === null") is begins


def test_one_session_at_a_time(page, tmp_path):
    opened(page, write_page(tmp_path / "page.html", audition(takes=("riff", "scale"))))
    begin(page)
    page.js("document.querySelectorAll('section.blind > button')[1].click()")
    push(page, "Begin", within="section.blind >> nth=1")
    said = page.js("document.querySelectorAll('section.blind')[1].querySelector('[role=alert]').textContent")
    assert said == "Another blind session on this page is not finished yet."
    assert title(page) == "Trial 1 of 6"


def test_names_are_texts(page, tmp_path):
    names = ("<img src=x onerror='globalThis.hurt=1'>", "\u2028</script><script>globalThis.hurt=1</script>")
    opened(page, write_page(tmp_path / "page.html", audition(names)))
    begin(page, times=5, reference=0, other=1)
    for _ in range(5):
        push(page, "A is the reference")
    assert names[0] in page.js(f"{SECTION}.textContent")
    assert page.js("globalThis.hurt") is None
    assert page.js(f"{SECTION}.querySelectorAll('img, script').length") == 0


@pytest.mark.parametrize("kind", ["forced-choice", "ranking"])
def test_every_face_fits_a_telephone(page, tmp_path, kind):
    page.size(360)
    opened(page, write_page(tmp_path / "page.html", audition((*NAMES, "x" * 90, "a longer name " * 6))))
    fits = "document.documentElement.scrollWidth <= 360"
    assert page.js(fits)
    begin(page, kind, times=5)
    assert page.js(fits)
    push(page, "Stop early")
    assert page.js(fits)
    push(page, "Go on")
    for _ in range(5):
        push(page, "A is the reference" if kind == "forced-choice" else "This is my order")
    assert page.js(f"{fits} && {SECTION}.querySelector('.blind-outcome') !== null")
