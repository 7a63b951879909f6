"""A blind comparison in a real audition's page, from a disk to its saved result and back into the program."""

from __future__ import annotations

import json
from hashlib import sha256

import pytest

from blind_pages import begin, push, saved, title
from browsers import Driven
from command_line import sublatch
from listening_pages import NAMES, write_audition
from sublatch.trial.read import read_trial

LEARN = """() => {
  const choose = sublatch.Player.prototype.choose;
  sublatch.Player.prototype.choose = function (index) {
    globalThis.heard = this.take.candidates[index].name;
    return choose.call(this, index);
  };
}"""
"""Lets the test know what it hears, as a listener's ear would."""


@pytest.fixture(scope="module")
def folder(chromium, tmp_path_factory):
    return write_audition(tmp_path_factory.mktemp("blind"), takes=1)


@pytest.fixture
def page(chromium, folder):
    driven = Driven(chromium)
    said = []
    driven.page.on("console", lambda message: said.append(message.text))
    driven.page.on("pageerror", lambda problem: said.append(str(problem)))
    driven.open(folder / "index.html")
    driven.wait("document.querySelector('.take').classList.contains('ready')")
    driven.js(LEARN)
    yield driven
    driven.close()
    assert said == []


def heard(page, letter):
    page.press(letter.lower())
    return page.js("globalThis.heard")


@pytest.mark.long
def test_a_blind_session_runs_to_its_end_and_is_read_back(page, folder, tmp_path):
    page.press(" ")
    page.wait("document.querySelector('[data-do=play]').textContent === 'Pause'")
    page.page.click("[data-tool=trial]")
    begin(page, times=5, reference=1, other=2)
    assert page.js("document.querySelector('[data-do=play]').textContent") == "Play"  # the page's own falls silent
    chosen = "document.querySelector('.board [data-show=name]').textContent"
    before = page.js(chosen)
    for number in range(1, 6):
        assert title(page) == f"Trial {number} of 5"
        page.press(" ")
        assert heard(page, "R") == NAMES[0]
        a, b = heard(page, "A"), heard(page, "B")
        assert {a, b} == {NAMES[0], NAMES[1]}
        for key in ("1", "2", "3", "l", "h"):  # the page's own keys would tell
            page.press(key)
        assert page.js("document.querySelector('section.blind').textContent.includes('gated')") is False
        push(page, f"{'A' if a == NAMES[0] else 'B'} is the reference")
    assert page.js(chosen) == before
    words = page.js("document.querySelector('.blind-outcome').textContent")
    assert words == "5 of 5 right: a guess does this well 3 times in 100."

    file = saved(page, tmp_path)
    found = read_trial(file)
    assert (found.right, found.answered, found.probability, found.remarks) == (5, 5, 1 / 32, ())
    assert [candidate.name for candidate in found.candidates] == list(NAMES[:2])
    results = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    for candidate, told in zip(found.candidates, results["takes"][0]["candidates"][1:3], strict=True):
        sound = (folder / told["file"]).read_bytes()
        assert candidate.sound == f"sha256:{sha256(sound).hexdigest()}"
    result = sublatch("trial", file)
    assert result.exit_code == 0
    assert words in result.stdout


def test_after_a_session_the_pages_own_keys_work_again(page, tmp_path):
    page.page.click("[data-tool=trial]")
    begin(page, times=5)
    push(page, "Stop early")
    push(page, "Stop here")
    page.press("3")
    assert page.js("document.querySelector('.board [data-show=name]').textContent") == NAMES[2]


@pytest.mark.long
@pytest.mark.parametrize(("keys", "voicing"), [("", "loudspeaker"), ("v", None)])
def test_it_is_saved_what_it_was_heard_through(chromium, tmp_path, keys, voicing):
    driven = Driven(chromium)
    driven.open(write_audition(tmp_path, takes=1, seconds=2.0, head='voicing = "loudspeaker"') / "index.html")
    driven.wait("document.querySelector('.take').classList.contains('ready')")
    for key in keys:
        driven.press(key)
    driven.page.click("[data-tool=trial]")
    begin(driven, times=5)
    for _ in range(5):
        driven.press("v")  # later turns do not reach it
        push(driven, "B is the reference")
    session = read_trial(saved(driven, tmp_path)).sessions[0]
    assert (session.voicing, session.bed) == (voicing, None)
    driven.close()
