"""What opening the listening page loads and keeps. How long that takes is told by ``scripts/benchmark.py``."""

from __future__ import annotations

import pytest

from browsers import wait
from listening_pages import RATE, Watched, write_audition

SECONDS = 2.0
WATCH_DECODING = """
globalThis.decodedFrames = [];
const real = BaseAudioContext.prototype.decodeAudioData;
BaseAudioContext.prototype.decodeAudioData = async function (...given) {
  const sound = await real.apply(this, given);
  decodedFrames.push([sound.numberOfChannels, sound.length]);
  return sound;
};
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Give an audition of two takes by seven candidates."""
    return write_audition(tmp_path_factory.mktemp("two"), seconds=SECONDS, takes=2)


@pytest.fixture
def opened(chromium, folder):
    """Give the page, its first take ready, and what it decoded noted."""
    watched = Watched(chromium)
    watched.page.add_init_script(WATCH_DECODING)
    watched.open(folder)
    watched.ready()
    yield watched
    watched.close()


def scripts_asked(opened):
    return [url for url in opened.asked if url.endswith(".js")]


def test_each_sound_is_decoded_once_at_its_own_rate_and_length(opened):
    """So that a minute of ten candidates is ten times 60 s of 4-byte samples in memory, 115 MB, and nothing twice."""
    opened.page.keyboard.press("Space")
    wait(opened.page, "Number(document.querySelector('[data-show=time]').textContent) > 0.2")
    for key in "123401234":
        opened.page.keyboard.press(key)
    assert opened.page.evaluate("decodedFrames") == 7 * [[1, round(SECONDS * RATE)]]


def test_other_takes_sounds_wait_until_they_are_shown_and_make_room(opened):
    asked = scripts_asked(opened)
    assert len(asked) == 7
    assert all("/take%200%20" in url for url in asked)
    opened.page.locator("nav a").nth(1).click()
    wait(opened.page, "document.querySelectorAll('.take.ready').length === 2")
    assert len(scripts_asked(opened)) == 14
    assert len(opened.page.evaluate("decodedFrames")) == 14
