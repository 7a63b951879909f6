"""The main job: what is in the folder, that it is equally loud, and what it does with bad takes and files in its way.

Published: EBU R 128 loudness by libebur128, a second opinion beside the program's own meter.
"""

from __future__ import annotations

import csv
import itertools
import json
import os
import threading

import numpy as np
import pyebur128
import pytest

from small_auditions import CANDIDATES, RATE, content, note, write_plan
from sublatch.audition import render_candidate as sounds
from sublatch.audition.folder.manifest import MANIFEST_NAME
from sublatch.audition.listen.results import results_csv
from sublatch.audition.run import run_audition
from sublatch.errors import OutputError
from sublatch.files.sound import read_audio, write_audio
from sublatch.json_data import plain_values
from sublatch.rendering import fitted

pytestmark = pytest.mark.usefixtures("plain_page")


@pytest.mark.usefixtures("real_page")
def test_the_folder_holds_what_is_promised_and_nothing_else(folder):
    run_audition(write_plan(folder, ("a.wav", "b.wav")))
    names = ("bypassed", *CANDIDATES)
    wanted = {"index.html", "results.csv", "results.json", MANIFEST_NAME, "reels/a.wav", "reels/b.wav"}
    wanted |= {f"audio/{take}/{name}.wav" for take in ("a", "b") for name in names}
    wanted |= {f"page/{take}/{name}.js" for take in ("a", "b") for name in names}
    stages = (1, 2)  # two candidates have the same up to the output filter
    wanted |= {
        f"bare/{take}/{stage}-{kind}.js" for take in ("a", "b") for stage in stages for kind in ("sound", "bands")
    }
    assert set(content(folder / "audition")) == wanted


def test_every_sound_is_the_circuits_output_with_the_gain_that_is_told(folder):
    result = run_audition(write_plan(folder))
    for told in result.takes[0].candidates:
        sound = read_audio(folder / "audition" / told.file)
        assert (sound.subtype, sound.sample_rate, sound.samples.shape) == ("PCM_24", RATE, (round(0.6 * RATE), 1))
        assert sound.title == f"a: {told.name}"
        facts = json.loads(sound.comment)
        assert facts["gain_db"] == pytest.approx(told.gain_db, abs=5e-4)
        assert facts.get("settings", {}) == told.settings
    bypassed = read_audio(folder / "audition" / result.takes[0].candidates[0].file)
    wanted = fitted(read_audio(folder / "a.wav").samples, result.takes[0].candidates[0].gain_db)
    assert bypassed.samples == pytest.approx(wanted, abs=2.0**-24)


def test_the_reel_is_the_sounds_in_order(folder):
    result = run_audition(write_plan(folder))
    reel = read_audio(folder / "audition" / "reels" / "a.wav").samples[:, 0]
    length, step = round(0.6 * RATE), round(1.6 * RATE)
    assert len(reel) == 4 * step - RATE
    for place, told in enumerate(result.takes[0].candidates):
        sound = read_audio(folder / "audition" / told.file).samples[:, 0]
        assert np.array_equal(reel[place * step : place * step + length], sound)


@pytest.mark.parametrize("peak", [0.1, 0.9])
def test_the_candidates_are_equally_loud_by_a_second_opinion(tmp_path, peak):
    write_audio(tmp_path / "a.wav", note(1.0, rate=48000, peak=peak), 48000)
    result = run_audition(write_plan(tmp_path, head="headroom = '2dB'"))
    found, peaks = [], []
    for told in result.takes[0].candidates:
        samples = read_audio(tmp_path / "audition" / told.file).samples[:, 0]
        state = pyebur128.R128State(
            1, 48000, pyebur128.MeasurementMode.MODE_I | pyebur128.MeasurementMode.MODE_TRUE_PEAK
        )
        state.add_frames(samples, len(samples))
        found.append(pyebur128.get_loudness_global(state))
        peaks.append(20 * np.log10(pyebur128.get_true_peak(state, 0)))
    assert found == pytest.approx([found[0]] * len(found), abs=0.1)  # EBU Tech 3341: a meter may be 0.1 LU out
    assert max(peaks) <= -2.0 + 0.1


def test_matched_by_rms_by_peak_or_not_at_all(folder):
    for match in ("rms", "peak", "none"):
        result = run_audition(write_plan(folder, head=f'match = "{match}"'))
        sounds = [read_audio(folder / "audition" / told.file).samples for told in result.takes[0].candidates]
        spread = {
            "rms": np.ptp([20 * np.log10(np.std(sound)) for sound in sounds]),
            "peak": np.ptp([20 * np.log10(np.max(np.abs(sound))) for sound in sounds]),
            "none": np.ptp([told.gain_db for told in result.takes[0].candidates]),
        }
        assert spread[match] < 0.05
        assert min(value for name, value in spread.items() if name != match) > 0.05
        assert result.takes[0].matched_by == match


def test_the_tables_say_the_same_as_the_result(folder):
    (folder / "bad.wav").write_text("no sound")
    result = run_audition(write_plan(folder, ("a.wav", "bad.wav")))
    document = json.loads((folder / "audition" / "results.json").read_text(encoding="utf-8"))
    assert document == json.loads(json.dumps(plain_values(result)))
    table = (folder / "audition" / "results.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(table.splitlines()))
    assert [row["candidate"] for row in rows] == ["bypassed", *CANDIDATES]
    assert [float(row["gain_db"]) for row in rows] == pytest.approx(
        [told.gain_db for told in result.takes[0].candidates], abs=1e-3
    )
    assert rows[2]["settings"] == "knobs.tone = 3.5"


def test_a_name_is_no_formula_in_a_spreadsheet(folder):
    result = run_audition(write_plan(folder, candidates={"=1+1": CANDIDATES["open"], "@x": CANDIDATES["third"]}))
    assert [row["candidate"] for row in csv.DictReader(results_csv(result).splitlines())] == [
        "bypassed",
        "'=1+1",
        "'@x",
    ]


@pytest.mark.usefixtures("real_page")
def test_the_same_plan_gives_the_same_bytes_however_many_work_on_it(folder):
    plan = write_plan(folder, ("a.wav", "b.wav"))
    for jobs in (1, 2, 5):
        run_audition(plan, output=folder / f"out{jobs}", jobs=jobs)
    assert content(folder / "out1") == content(folder / "out2") == content(folder / "out5")


def test_as_many_work_at_once_as_are_asked_for(folder, monkeypatch):
    """The first two renderings wait for each other; alone, the first would wait in vain."""
    calls, meet, render = itertools.count(), threading.Barrier(2, timeout=20), sounds.render

    def noted(*args, **how):
        if next(calls) < 2:
            meet.wait()
        return render(*args, **how)

    monkeypatch.setattr(sounds, "render", noted)
    run_audition(write_plan(folder), jobs=2)
    assert next(calls) == 2 * len(CANDIDATES)  # to be measured, and to be written


def test_progress_is_told_for_every_candidate_of_every_take(folder):
    told = []
    (folder / "bad.wav").write_text("no sound")
    run_audition(write_plan(folder, ("bad.wav", "a.wav")), progress=told.append)
    assert told == [*CANDIDATES, *CANDIDATES]


def test_a_folder_that_is_a_file_or_inside_one_is_refused(folder):
    (folder / "file").write_text("mine")
    with pytest.raises(OutputError, match="must be a folder, got a file"):
        run_audition(write_plan(folder), output=folder / "file")
    with pytest.raises(OutputError, match="a part of its path is a file"):
        run_audition(write_plan(folder), output=folder / "file" / "more")


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize("take", ["audition/audio/a/bypassed.wav", "audition/reels/x.wav"])
def test_a_take_is_never_written_over(folder, take, overwrite):
    (folder / take).parent.mkdir(parents=True)
    write_audio(folder / take, note(), RATE)
    plan = write_plan(folder, ("a.wav", take) if "bypassed" in take else (take,))
    if "bypassed" in take:
        os.link(folder / take, folder / "audition/audio/a/open.wav")
    before = content(folder)
    with pytest.raises(OutputError, match="so it cannot be written to as well"):
        run_audition(plan, overwrite=overwrite)
    assert content(folder) == before


@pytest.mark.usefixtures("real_page")
def test_one_bad_take_does_not_stop_the_rest(folder):
    (folder / "bad.wav").write_text("no sound")
    (folder / "empty.wav").write_bytes(b"")
    result = run_audition(write_plan(folder, ("bad.wav", "a.wav", "empty.wav")))
    assert [take.error is None for take in result.takes] == [False, True, False]
    assert [words.split(": ")[0] for words in result.failures] == [str(folder / "bad.wav"), str(folder / "empty.wav")]
    assert "audio/a/open.wav" in content(folder / "audition")
    page = (folder / "audition" / "index.html").read_text(encoding="utf-8")
    assert "must be a sound file, got a text" in page


@pytest.mark.parametrize("samples", [np.zeros(4000), np.zeros(1), np.array([0.3]), np.array([0.3, -0.2])])
@pytest.mark.usefixtures("real_page")
def test_silence_and_single_samples_audition_to_valid_json(folder, samples):
    write_audio(folder / "c.wav", samples, RATE)
    extra = {**CANDIDATES, "off": 'circuit = "gated-open"\nset = { "knobs.volume" = 0 }'}
    result = run_audition(write_plan(folder, ("c.wav", "a.wav"), extra))
    assert not result.failures
    assert result.takes[0].matched_by == ("rms" if np.any(samples) else "none")
    assert [told.gain_db for told in result.takes[1].candidates if told.name == "off"] == [0.0]

    def refuse(constant):
        raise AssertionError(constant)

    json.loads((folder / "audition" / "results.json").read_text(encoding="utf-8"), parse_constant=refuse)


def test_a_network_of_ones_own_is_auditioned(folder):
    parts = [
        '{ part = "resistor", name = "R1", value = "10k", between = ["in", "a"] }',
        '{ part = "capacitor", name = "C1", value = "47n", between = ["a", "ground"] }',
        '{ part = "op-amp", name = "U1", plus = "a", minus = "out", output = "out" }',
    ]
    own = f'filter.kind = "network", filter.parts = [{", ".join(parts)}]'
    ready_made = 'filter.kind = "first-order", filter.resistor = "10k", filter.capacitor = "47n"'
    both = {"own": own, "ready-made": ready_made}
    plan = write_plan(
        folder, candidates={name: f'circuit = "gated-swept"\nset = {{ {words} }}' for name, words in both.items()}
    )
    _, own, ready_made = run_audition(plan).takes[0].candidates
    assert own.levels.rms_dbfs == pytest.approx(ready_made.levels.rms_dbfs, abs=1e-6)
    assert own.settings["filter"]["parts"][0]["name"] == "R1"
