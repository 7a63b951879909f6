"""What opening the listening page loads and keeps. How long that takes is told by ``scripts/benchmark.py``."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from browsers import wait
from listening_pages import RATE, Watched, write_audition
from sublatch.audition.folder import sound_script
from sublatch.audition.folder.sound_script import read_script
from sublatch.files.sound import read_audio

SECONDS = 2.0
WATCH_DECODING = """
globalThis.decodedFrames = [];
globalThis.decodedSounds = [];
const real = BaseAudioContext.prototype.decodeAudioData;
BaseAudioContext.prototype.decodeAudioData = async function (...given) {
  const sound = await real.apply(this, given);
  decodedFrames.push([sound.numberOfChannels, sound.length]);
  decodedSounds.push(sound);
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


def decoded(opened):
    return sorted(opened.page.evaluate("decodedFrames"))


def listen(opened):
    """Play, and hear every candidate, some of them twice."""
    opened.page.keyboard.press("Space")
    wait(opened.page, "Number(document.querySelector('[data-show=time]').textContent) > 0.2")
    for key in "123401234":
        opened.page.keyboard.press(key)


def test_what_leaves_the_octave_stages_is_decoded_once_and_makes_all_candidates(opened):
    """So that a minute of forty candidates is two times and one time 60 s of 4-byte samples for each stage."""
    listen(opened)
    frames = round(SECONDS * RATE)
    assert decoded(opened) == [[1, frames], [2, frames], [2, frames]]  # the bypassed take, and two stages


@pytest.mark.parametrize("lacking", ["a worklet", "a bare sound", "a module"])
def test_files_are_decoded_once_where_the_page_cannot_make_candidates(chromium, folder, tmp_path, lacking):
    watched = Watched(chromium)
    copy = tmp_path / "copy"
    shutil.copytree(folder, copy)
    if lacking == "a bare sound":
        sorted((copy / "bare").rglob("1-sound.js"))[0].unlink()
    elif lacking == "a worklet":
        watched.page.add_init_script("delete globalThis.AudioWorkletNode;")
    else:
        watched.page.add_init_script("AudioWorklet.prototype.addModule = () => Promise.reject(new Error('none'));")
    watched.page.add_init_script(WATCH_DECODING)
    watched.open(copy)
    watched.ready()
    listen(watched)
    files = [one for one in decoded(watched) if one[0] == 1]
    assert files == 7 * [[1, round(SECONDS * RATE)]]
    assert watched.page.evaluate("document.querySelector('.trouble').textContent") == ""
    watched.context.close()


def test_other_takes_sounds_wait_until_they_are_shown_and_make_room(opened):
    asked = scripts_asked(opened)
    assert len(asked) == 3
    assert all("/take%200%20" in url for url in asked)
    opened.page.locator("nav a").nth(1).click()
    wait(opened.page, "document.querySelectorAll('.take.ready').length === 2")
    assert len(scripts_asked(opened)) == 6
    assert len(decoded(opened)) == 6


def test_a_sound_that_comes_in_pieces_is_the_file_and_leaves_no_pieces(chromium, tmp_path, monkeypatch):
    monkeypatch.setattr(sound_script, "PIECE_S", 0.3)
    folder = write_audition(tmp_path, seconds=1.0, takes=1, tones=(2,))
    watched = Watched(chromium)
    watched.page.add_init_script(WATCH_DECODING)
    watched.open(folder)
    watched.ready()
    code = """async () => {
      const [take] = JSON.parse(document.getElementById('audition').textContent).takes;
      const { buffers } = await sublatch.Player.sounds(take);
      return [[...buffers[0].getChannelData(0)], take.candidates[0].key];
    }"""
    found, key = watched.page.evaluate(code)
    (script,) = (one for one in (folder / "page").rglob("bypassed.js") if key in one.read_text(encoding="ascii"))
    assert len(read_script(script)) == 4
    (file,) = (folder / "audio").rglob("bypassed.*")
    assert np.max(np.abs(np.array(found) - read_audio(file).samples[:, 0])) < 2.0**-24
    kept = watched.page.evaluate("decodedSounds.map((sound) => sound.getChannelData(0).length)")
    assert len(kept) == 4 * (2 + 5)  # pieces of two stages and five files
    assert not any(kept)
    watched.close()
