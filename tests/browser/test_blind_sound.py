"""Blind listening with the page's own player: what sounds behind a letter is told by its pitch, as an ear would."""

from __future__ import annotations

import base64
import io

import numpy as np
import pytest
import soundfile

from blind_pages import NAMES, PAGE, SECTION, audition, begin, opened, push, saved, write_page
from browsers import output_sources
from sublatch.trial.read import read_trial

pytestmark = pytest.mark.long

RATE = 48000
PITCHES_HZ = (300.0, 600.0, 1200.0, 2400.0)
LISTENER = """
(() => {
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to instanceof AudioDestinationNode && this.context instanceof AudioContext) {
      globalThis.ear = new AnalyserNode(this.context, { fftSize: 4096, smoothingTimeConstant: 0 });
      connect.call(this, globalThis.ear);
    }
    return connect.call(this, to, ...rest);
  };
  globalThis.pitches = (hertz) => {
    const bins = new Float32Array(ear.frequencyBinCount);
    ear.getFloatFrequencyData(bins);
    return hertz.map((one) => bins[Math.round((one * ear.fftSize) / ear.context.sampleRate)]);
  };
})();
"""
"""Listens to what goes to the loudspeaker."""


def write_sounds(folder):
    """Write a sine for each candidate, carried as the page has it, and return the audition."""
    data = audition()
    (folder / "page").mkdir()
    for candidate, pitch_hz in zip(data["takes"][0]["candidates"], PITCHES_HZ, strict=True):
        sound = 0.3 * np.sin(2 * np.pi * pitch_hz * np.arange(4 * RATE) / RATE)
        file = io.BytesIO()
        soundfile.write(file, sound, RATE, format="FLAC", subtype="PCM_24")
        packed = base64.b64encode(file.getvalue()).decode()
        carried = f'sublatchSound("{candidate["key"]}", () => {{/*{packed}*/}});'
        (folder / "page" / f"{candidate['key']}.js").write_text(carried)
        candidate["sound"] = f"page/{candidate['key']}.js"
    return data


def heard(page, letter):
    """Return the name of what sounds behind a letter, once it has been alone for a while."""
    page.js(f"{SECTION}.querySelector('[data-hear={letter}]').click()")
    page.js("new Promise((done) => setTimeout(done, 300))")
    levels = page.js(f"pitches({list(PITCHES_HZ)})")
    loudest, next_one = sorted(range(4), key=lambda i: -levels[i])[:2]
    assert levels[loudest] > -40.0
    assert levels[next_one] < levels[loudest] - 40.0
    return NAMES[loudest]


@pytest.fixture
def page(tmp_path):
    scripts = "".join((PAGE / "scripts" / f"{name}.js").read_text() for name in ("sounds", "voices", "player"))
    path = write_page(tmp_path / "page.html", write_sounds(tmp_path), player=LISTENER + scripts)
    with output_sources() as one:
        opened(one, path)
        yield one


def test_a_listener_who_hears_the_difference_is_always_right(page, tmp_path):
    begin(page, times=5, reference=2, other=3)
    push(page, "Play")
    for _ in range(5):
        assert heard(page, "R") == NAMES[2]
        a, b = heard(page, "A"), heard(page, "B")
        assert {a, b} == {NAMES[2], NAMES[3]}
        assert page.js(f"{SECTION}.querySelector('.blind-play').textContent") == "Pause"  # it goes on all the time
        push(page, f"{'A' if a == NAMES[2] else 'B'} is the reference")
    found = read_trial(saved(page, tmp_path))
    assert (found.right, found.answered, found.probability, found.remarks) == (5, 5, 1 / 32, ())


def test_every_letter_of_a_ranking_sounds_as_what_is_behind_it(page, tmp_path):
    begin(page, "ranking", times=1)
    push(page, "Play")
    behind = [heard(page, letter) for letter in "ABCD"]
    assert set(behind) == set(NAMES)
    push(page, "This is my order")
    found = read_trial(saved(page, tmp_path))
    assert list(found.sessions[0].trials[0].order) == behind
