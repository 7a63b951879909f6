"""What makes the program fast, counted and not timed: what is worked out once, and how work grows with what is asked.

How long it takes on a machine is told by ``scripts/benchmark.py``.
"""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.load import load_circuit
from sublatch.demo.strings import pluck
from sublatch.files.sound import write_audio
from sublatch.parts.choose import job as choosing
from sublatch.parts.choose.job import choose
from sublatch.parts.choose.request import ChooseRequest
from sublatch.signal import chain, detector
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import render
from sublatch.signal.filtering import fixed as filters
from sublatch.signal.octave_stage import switched
from sublatch.takes.take import take_from_samples
from sublatch.tracking.playing_levels import lock_over_level
from sublatch.tracking.track import track
from sublatch.tracking.tune import figures as tune_figures
from sublatch.tracking.tune.fast_lock import TuneNote
from sublatch.tracking.tune.job import TuneAim, tune

RATE = 8000
SETTINGS = (
    ("gated-first-order", {}),
    ("gated-open", {}),
    *(
        ("gated-swept", {"knobs.tone": tone, "switches.peak": peak})
        for tone in (2, 5, 8)
        for peak in ("flat", "peaked")
    ),
)
LATCH = {"detector.kind": "peak-latch"}
HEAVY = ("librosa", "numba", "sklearn", "matplotlib", "schemdraw", "jinja2", "pyloudnorm")


@pytest.fixture
def transformed(monkeypatch):
    """Give the number of samples that were transformed to a spectrum or back, as a list that grows."""
    sizes: list[int] = []
    for name in ("rfft", "irfft"):
        real = getattr(np.fft, name)

        def sized(samples, n=None, *more, real=real, **settings):
            sizes.append(n or len(samples))
            return real(samples, n, *more, **settings)

        monkeypatch.setattr(np.fft, name, sized)
    return sizes


def line(seconds: float):
    """Plucked notes, one a second."""
    notes = [pluck(f, seconds=1.0, sample_rate=RATE) for f in (41.2, 55.0, 73.4, 98.0)]
    return take_from_samples(np.resize(np.concatenate(notes), round(seconds * RATE)), RATE)


@pytest.mark.parametrize(("kind", "count"), [("peak-latch", 5), ("overtone", 13)])
def test_the_work_of_rendering_grows_with_the_take(transformed, kind, count):
    """So many transforms of the take, a third more for the overlap of the blocks, whatever its length."""
    shares = []
    for seconds in (60, 120, 240):
        transformed.clear()
        render(line(seconds), load_circuit("gated-swept", changes={"detector.kind": kind}))
        shares.append(sum(transformed) / (seconds * RATE))
    assert max(shares) < count * 4 / 3
    assert shares[2] < 1.1 * shares[0]


def test_candidates_that_differ_after_the_octave_stage_share_what_comes_before(counted):
    calls = counted((detector, "edges"), (switched, "generate"), (chain, "doubled"), (filters, "apply"))
    take, cache = line(1.0), StageCache()
    for name, changes in SETTINGS:
        render(take, load_circuit(name, changes=changes | LATCH), cache=cache)
    assert calls == {"edges": 1, "generate": 1, "doubled": 1, "apply": 1 + len(SETTINGS)}
    calls.clear()
    for name, changes in SETTINGS:
        render(take, load_circuit(name, changes=changes | LATCH))
    assert calls == dict.fromkeys(("edges", "generate", "doubled"), len(SETTINGS)) | {"apply": 2 * len(SETTINGS)}


def test_what_is_kept_for_the_candidates_is_four_signals(monkeypatch):
    """The input follower's output, the detector filter's, and the octave stage's; edges besides."""
    take, cache = line(10.0), StageCache()
    for name, changes in SETTINGS:
        render(take, load_circuit(name, changes=changes), cache=cache)
    kept = [future.result() for future in cache._futures.values()]
    arrays = [array for one in kept for array in (one if isinstance(one, tuple) else (one,))]
    assert sum(array.nbytes for array in arrays) < 4 * take.samples.nbytes


def test_playing_levels_are_told_from_one_filtered_take(counted):
    """Where parts are ideal: what is off does not grow with the take, so that each level takes the whole path."""
    circuit = load_circuit("gated-swept", changes={**LATCH, "devices.values": "ideal"})
    take, cache = line(4.0), StageCache()
    track(take, circuit, cache=cache)
    calls = counted((filters, "apply"), (detector, "edges"))
    found = lock_over_level(take, circuit, cache=cache)
    assert len(found.gains_db) == 13
    assert calls == {}


def test_tuning_takes_the_whole_path_for_the_best_alone(counted):
    """What is tried is judged on spectra that are kept; the whole path is for what came out best."""
    take, circuit = line(4.0), load_circuit("gated-open")
    notes = [TuneNote(take, start, start + 0.9, f) for start, f in enumerate((41.2, 55.0, 73.4, 98.0))]
    calls, found = counted((tune_figures, "detected_edges")), []
    for trials in (20, 80):
        tune(notes, circuit, trials=trials, held_out_share=0.0, aim=TuneAim(boards=BoardDraws(count=3)))
        found.append(calls["detected_edges"])
        calls.clear()
    assert found[1] < 80


def test_choosing_measures_the_sets_that_it_tells_of(counted):
    """Thousands of sets are ranked by formulas; the network solver has those that are told of alone."""
    calls = counted((choosing, "load_circuit"))
    found = choose(ChooseRequest(low_hz=90.0, high_hz=2900.0, peak_db=4.0))
    assert calls["load_circuit"] == 1 + len(found.alternatives)


@pytest.mark.parametrize(
    ("words", "absent"),
    [
        (["--help"], (*HEAVY, "scipy", "numpy", "pydantic")),
        (["circuits"], (*HEAVY, "scipy.signal", "soundfile")),
        (["response", "-c", "gated-swept"], HEAVY),
        (["choose", "--low", "100Hz", "--high", "3kHz", "--peak", "4dB"], HEAVY),
        (["render", "a.wav", "-c", "gated-swept", "-o", "b.wav"], ("librosa", "numba", "sklearn", "matplotlib")),
        (["track", "a.wav", "-c", "gated-swept"], ("librosa", "mido", "numba", "sklearn", "matplotlib")),
        (["take", "a.wav"], ("librosa", "numba", "sklearn", "matplotlib")),
    ],
)
def test_a_command_loads_only_what_it_needs(tmp_path, words, absent):
    write_audio(tmp_path / "a.wav", line(1.0).samples, RATE)
    run = (
        "import sys\nfrom sublatch.cli import main\n"
        f"try:\n    main({words!r})\nexcept SystemExit as ended:\n    assert not ended.code, ended.code\n"
        f"print([name for name in {list(absent)!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", run], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
