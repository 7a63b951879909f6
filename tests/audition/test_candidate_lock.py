"""Tracking inside an audition: once for each detector, the same as on its own, and kept for the next run."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest

from small_auditions import RATE, content, write_plan
from sublatch.audition.folder.manifest import MANIFEST_NAME, Manifest
from sublatch.audition.listen import candidate_lock as tracked
from sublatch.audition.listen.candidate_lock import Tracked, track_candidates
from sublatch.audition.listen.results import results_csv
from sublatch.audition.plan.load import load_audition
from sublatch.audition.run import run_audition
from sublatch.circuit.load import load_circuit
from sublatch.files.sound import write_audio
from sublatch.signal.cache import StageCache
from sublatch.takes.remarks import Remark
from sublatch.takes.take import read_take, take_from_samples
from sublatch.tracking import track as tracking_job
from sublatch.tracking.lock import Dropout, locked_percent
from sublatch.tracking.lock_sums import LockSums

pytestmark = pytest.mark.usefixtures("plain_page")

DETECTORS = {
    "normal": 'circuit = "gated-swept"',
    "tone 2": 'circuit = "gated-swept"\nset = { "knobs.tone" = 2 }',
    "third": 'circuit = "polarity-third-order"',
    "inverted": 'circuit = "gated-swept"\nset = { "switches.drive" = "inverted" }',
    "slow": 'circuit = "gated-swept"\nset = { "detector.hold_capacitor" = "4u7" }',
    "other input": 'circuit = "gated-swept"\nset = { "input.coupling" = "1n" }',
}
NAMES = ("start_s", "end_s", "pitch_hz", "name", "open_string")
SUMS = ("median_first_lock_ms", "p90_first_lock_ms", "early_locked_share", "uneven_share")


def plucked(pitch_hz, seconds, peak):
    """Return a note with eight partials that dies away, the second as loud as the first."""
    time_s = np.arange(round(seconds * RATE)) / RATE
    partials = [np.sin(2 * np.pi * n * pitch_hz * time_s + n) / max(n - 1, 1) for n in range(1, 9)]
    fade = np.minimum(time_s / 0.004, 1.0) * np.minimum((seconds - time_s) / 0.02, 1.0)
    return peak * fade * np.exp(-2.5 * time_s) * np.sum(partials, axis=0) / 3.0


@pytest.fixture
def folder(tmp_path):
    """Give a folder with a take of an open A, an open E and a B."""
    notes = [plucked(55.3, 1.0, 0.5), plucked(41.2, 1.0, 0.3), plucked(61.74, 0.8, 0.05), np.zeros(800)]
    write_audio(tmp_path / "a.wav", np.concatenate([np.zeros(1600), *notes]), RATE)
    return tmp_path


@pytest.fixture
def calls(monkeypatch):
    """Count the takes and circuits that are tracked."""
    seen, track = [], tracking_job.track

    def counted(take, circuit, **how):
        seen.append((take.name, how["name"]))
        return track(take, circuit, **how)

    monkeypatch.setattr(tracking_job, "track", counted)
    return seen


def test_a_detector_is_tracked_once_however_many_candidates_have_it(folder, calls):
    run_audition(write_plan(folder, candidates=DETECTORS))
    assert [name for _, name in calls] == ["normal", "inverted", "slow", "other input"]


def test_what_is_told_is_what_tracking_tells(folder):
    plan = write_plan(folder, candidates=DETECTORS)
    (told,) = run_audition(plan).takes
    assert [note.name for note in told.notes] == ["A1", "E1", "B1"]
    assert [note.open_string for note in told.notes] == [True, True, False]
    take = read_take(folder / "a.wav")
    shares = set()
    for candidate, result in zip(plan.candidates, told.candidates[1:], strict=True):
        alone = tracking_job.track(take, candidate.circuit)
        assert len(alone.notes) == len(told.notes)
        for item, note in zip(alone.notes, told.notes, strict=True):
            for name in NAMES:
                wanted, got = getattr(item.note, name), getattr(note, name)
                assert got == (pytest.approx(wanted, abs=1e-6) if isinstance(wanted, float) else wanted)
        assert result.locked_share == pytest.approx(alone.locked_share, abs=1e-6)
        assert result.open_string_locked_share == pytest.approx(alone.open_string_locked_share, abs=1e-6)
        assert result.note_locked_shares == pytest.approx([item.lock.locked_share for item in alone.notes], abs=1e-6)
        assert result.note_first_lock_ms == pytest.approx([item.lock.first_lock_ms for item in alone.notes], abs=1e-6)
        assert {name: getattr(result, name) for name in SUMS} == pytest.approx(vars(alone.sums), abs=1e-6)
        assert told.uncounted_share == pytest.approx(alone.uncounted_share, abs=1e-6)
        assert told.unsure_share == alone.unsure_share
        wanted = [(d.start_s, d.end_s, d.kind) for item in alone.notes for d in item.lock.dropouts]
        got = [(d.start_s, d.end_s, d.kind) for d in result.dropouts]
        assert [kind for *_, kind in got] == [kind for *_, kind in wanted]
        assert [time for *times, _ in got for time in times] == pytest.approx(
            [time for *times, _ in wanted for time in times], abs=1e-6
        )
        shares.add(result.locked_share)
    assert len(shares) > 1, "else nothing is compared"
    assert any(result.dropouts for result in told.candidates)


def test_the_take_itself_tracks_nothing(folder):
    bypassed = run_audition(write_plan(folder)).takes[0].candidates[0]
    assert (bypassed.locked_share, bypassed.open_string_locked_share) == (None, None)
    assert (bypassed.note_locked_shares, bypassed.dropouts, bypassed.note_first_lock_ms) == ((), (), ())
    assert [getattr(bypassed, name) for name in SUMS] == [None] * 4


def test_the_tables_have_shares_and_the_first_dropout(folder):
    result = run_audition(write_plan(folder, candidates=DETECTORS))
    rows = list(csv.DictReader((folder / "audition/results.csv").read_text(encoding="utf-8").splitlines()))
    columns = ("locked_share", "open_string_locked_share", "first_dropout_s")
    assert [rows[0][column] for column in columns] == ["", "", ""]
    firsts = []
    for row, told in zip(rows[1:], result.takes[0].candidates[1:], strict=True):
        assert float(row["locked_share"]) == told.locked_share
        assert float(row["open_string_locked_share"]) == told.open_string_locked_share
        first_s = min((dropout.start_s for dropout in told.dropouts), default=None)
        firsts.append(first_s)
        assert row["first_dropout_s"] == ("" if first_s is None else f"{first_s:.3f}".rstrip("0"))
    assert any(first_s is not None for first_s in firsts)
    document = json.loads((folder / "audition/results.json").read_text(encoding="utf-8"))
    take = document["takes"][0]
    assert set(take["notes"][0]) == set(NAMES)
    assert {key for told in take["candidates"] for d in told["dropouts"] for key in d} == {"start_s", "end_s", "kind"}
    for key in ("note_locked_shares", "note_first_lock_ms"):
        assert [len(told[key]) for told in take["candidates"]] == [0] + [3] * len(DETECTORS)


def test_the_tables_have_how_soon_and_how_evenly_it_locks_and_what_is_not_counted(folder):
    """Times in milliseconds with three decimals, shares with six; those of the take stand in each of its rows.

    Here 2.8 s of notes have 1 s of noise after them, and a rest between.
    """
    noise = 0.1 * np.random.default_rng(1).standard_normal(RATE)
    notes = [plucked(55.3, 1.0, 0.5), plucked(41.2, 1.0, 0.3), plucked(61.74, 0.8, 0.05)]
    write_audio(folder / "a.wav", np.concatenate([np.zeros(1600), *notes, np.zeros(1600), noise]), RATE)
    result = run_audition(write_plan(folder, candidates=DETECTORS)).takes[0]
    rows = list(csv.DictReader((folder / "audition/results.csv").read_text(encoding="utf-8").splitlines()))
    document = json.loads((folder / "audition/results.json").read_text(encoding="utf-8"))["takes"][0]
    assert [rows[0][name] for name in SUMS] == [""] * 4
    for row, told, known in zip(rows[1:], result.candidates[1:], document["candidates"][1:], strict=True):
        for name in SUMS:
            value = getattr(told, name)
            assert known[name] == value
            assert row[name] == ("" if value is None else str(round(value, 6 if "share" in name else 3)))
        assert known["note_first_lock_ms"] == list(told.note_first_lock_ms)
        assert all(ms is None or 1.0 < ms < 1000.0 for ms in told.note_first_lock_ms)
    assert len({row["early_locked_share"] for row in rows[1:]}) > 1, "else the candidates' own are not told"
    assert result.uncounted_share == pytest.approx(1.0 / 3.8, abs=0.05)
    for row in rows:
        assert float(row["uncounted_share"]) == document["uncounted_share"] == result.uncounted_share
        assert float(row["unsure_share"]) == document["unsure_share"] == result.unsure_share


def test_a_take_without_notes_has_empty_cells_and_says_why(folder):
    write_audio(folder / "a.wav", np.zeros(4000), RATE)
    result = run_audition(write_plan(folder))
    rows = list(csv.DictReader(results_csv(result).splitlines()))
    assert {row["locked_share"] for row in rows} == {""}
    assert result.takes[0].note_remarks == (Remark("no-notes", "no notes: the take is silent"),)


def test_a_second_run_tracks_nothing(folder, calls):
    plan = write_plan(folder, candidates=DETECTORS)
    first = run_audition(plan)
    calls.clear()
    assert run_audition(plan) == first
    assert calls == []


def test_a_change_further_down_tracks_nothing_and_another_detector_alone(folder, calls):
    run_audition(write_plan(folder, candidates=DETECTORS))
    calls.clear()
    downstream = 'circuit = "gated-swept"\nset = { "knobs.tone" = 7, "divider.stages" = 2 }'
    run_audition(write_plan(folder, candidates={**DETECTORS, "normal": downstream, "new": downstream}))
    assert calls == []
    other = 'circuit = "gated-swept"\nset = { "detector.fraction" = "70%" }'
    run_audition(write_plan(folder, candidates={**DETECTORS, "normal": other}))
    assert calls == [("a", "normal")]


IDEAL = {"devices.values": "ideal"}
DEPENDS_ON = {
    "typical devices": {"devices.values": "typical"},
    "worst devices": {"devices.values": "worst"},
    "other comparators": {"devices.values": "worst", "devices.comparator_offset": "20mV"},
    "another board": {"devices.values": "drawn", "devices.board": 7},
    "supply": {"supply": "18V"},
    "bias": {"output.bias": "30%"},
    "margin": {"output.high_margin": "3V"},
    "pickup": {"input.pickup": {}},
}
"""What moves what leads to the drive, of ideal parts; amplifiers reach limits that supply, bias and margins decide.

The margins are the output buffer's, and ideal op-amps go as far; others go as far as their class says.
"""


def test_what_is_kept_of_one_circuit_is_not_taken_for_anothers(tmp_path):
    """Each candidate in a run with all others is tracked as by itself."""
    start = load_circuit("gated-swept", changes={"detector.kind": "overtone", **IDEAL})
    circuits = [start, *(load_circuit("gated-swept", changes=IDEAL | changes) for changes in DEPENDS_ON.values())]
    candidates = [SimpleNamespace(name=str(n), circuit=one, moves=()) for n, one in enumerate(circuits)]
    take = take_from_samples(4.0 * plucked(55.3, 0.6, 0.5), RATE)
    keys = {tracked._key(take, candidate, "bass-4") for candidate in candidates}
    assert len(keys) == len(candidates)
    found = track_candidates(take, candidates, tuning="bass-4", cache=StageCache(), manifest=Manifest(tmp_path))
    for candidate, one in zip(candidates, found, strict=True):
        alone = tracking_job.track(take, candidate.circuit)
        assert one.locked_share == pytest.approx(alone.locked_share, abs=1e-6)


def test_another_tuning_is_tracked_anew(folder, calls):
    first = run_audition(write_plan(folder, candidates=DETECTORS)).takes[0]
    calls.clear()
    second = run_audition(write_plan(folder, candidates=DETECTORS, head='tuning = "D1 A1 D2 B1"')).takes[0]
    assert len(calls) == 4
    assert (first.tuning, second.tuning) == ("bass-4", "D1 A1 D2 B1")
    assert [note.open_string for note in first.notes] == [True, True, False]
    assert [note.open_string for note in second.notes] == [True, False, True]
    assert first.candidates[1].locked_share == second.candidates[1].locked_share
    before, after = ({told.name: told for told in take.candidates}["slow"] for take in (first, second))
    assert before.note_locked_shares == after.note_locked_shares
    assert before.open_string_locked_share != after.open_string_locked_share


def test_a_manifest_of_an_older_version_is_ours_and_completed(folder, calls):
    plan = write_plan(folder)
    first = run_audition(plan)
    path = folder / "audition" / MANIFEST_NAME
    known = json.loads(path.read_text(encoding="utf-8"))
    (key,) = _tracked(known)
    del known["measured"][key]
    path.write_text(json.dumps(known), encoding="utf-8")
    calls.clear()
    assert run_audition(plan) == first
    assert len(calls) == 1
    run_audition(plan, output=folder / "fresh")
    assert content(folder / "audition") == content(folder / "fresh")


def _tracked(known):
    """Return what a manifest has of the detectors' tracking."""
    return {key: facts for key, facts in known["measured"].items() if isinstance(facts, dict) and "notes" in facts}


@pytest.mark.parametrize(
    "spoil",
    [
        lambda facts: facts.pop("notes"),
        lambda facts: facts.update(more=1),
        lambda facts: facts["notes"][0].pop("name"),
        lambda facts: facts["dropouts"].append({"start_s": 1.0}),
        lambda facts: facts.update(dropouts=None),
    ],
)
def test_facts_of_other_quantities_are_found_again(folder, calls, spoil):
    plan = write_plan(folder)
    first = run_audition(plan)
    path = folder / "audition" / MANIFEST_NAME
    known = json.loads(path.read_text(encoding="utf-8"))
    for facts in _tracked(known).values():
        spoil(facts)
    path.write_text(json.dumps(known), encoding="utf-8")
    calls.clear()
    assert run_audition(plan) == first
    assert len(calls) == 1


def test_what_is_kept_comes_back_equal(folder, tmp_path):
    plan = write_plan(folder, candidates=DETECTORS)
    take = read_take(folder / "a.wav")
    how = {"tuning": "bass-4", "cache": StageCache()}
    manifest = Manifest(tmp_path / "out")
    first = track_candidates(take, plan.candidates, manifest=manifest, **how)
    (tmp_path / "out").mkdir()
    manifest.save()
    assert all(isinstance(item, Tracked) for item in first)
    again = track_candidates(take, plan.candidates, manifest=Manifest(tmp_path / "out"), **how)
    assert again == first


@pytest.mark.usefixtures("real_page")
def test_a_second_run_reads_no_pitch(folder):
    write_plan(folder, candidates=DETECTORS)
    run = (
        "import sys; from sublatch.audition.plan.load import load_audition; "
        "from sublatch.audition.run import run_audition; "
        "run_audition(load_audition('plan.toml'), jobs=1); "
        "print([name for name in ('librosa', 'matplotlib', 'sublatch.pitch.reference.track') if name in sys.modules])"
    )
    told = [
        subprocess.run([sys.executable, "-c", run], cwd=folder, capture_output=True, text=True, check=True).stdout
        for _ in range(2)
    ]
    assert "sublatch.pitch.reference.track" in told[0]
    assert told[1] == "[]\n"


@pytest.mark.usefixtures("real_page")
def test_the_same_bytes_however_many_work_on_different_detectors(folder):
    plan = write_plan(folder, candidates=DETECTORS)
    for jobs in (1, 2):
        run_audition(plan, output=folder / f"out{jobs}", jobs=jobs)
    assert content(folder / "out1") == content(folder / "out2")
    page = (folder / "out1" / "index.html").read_text(encoding="utf-8")
    strips = [re.findall("<bdi>(.*?)</bdi>", names) for names in re.findall(r"<p>((?:<bdi>.*?</bdi>(?: ·|:) )+)", page)]
    assert sorted(name for names in strips for name in names) == sorted(DETECTORS)
    assert [names[:3] for names in strips if "normal" in names] == [["normal", "tone 2", "third"]]
    assert ["slow"] in strips


def test_a_take_may_have_a_tuning_of_its_own(folder):
    write_audio(folder / "b.wav", plucked(61.74, 1.0, 0.5), RATE)
    plan = write_plan(folder, takes=("a.wav",), head='tuning = "bass-5"')
    text = plan.path.read_text(encoding="utf-8")
    plan.path.write_text(text.replace('["a.wav"]', '["a.wav", { file = "b.wav", tuning = "B1 E2" }]'), encoding="utf-8")
    first, second = run_audition(load_audition(plan.path)).takes
    assert (first.tuning, second.tuning) == ("bass-5", "B1 E2")
    assert [(note.name, note.open_string) for note in second.notes] == [("B1", True)]


@pytest.mark.parametrize(
    ("share", "words"), [(None, "–"), (1.0, "100"), (0.99999, "99.9"), (0.5, "50.0"), (0.0, "0.0"), (0.9949, "99.5")]
)
def test_a_hundred_per_cent_is_said_only_of_all_the_time(share, words):
    assert locked_percent(share) == words


def test_shares_and_times_are_kept_to_a_millionth():
    note = SimpleNamespace(start_s=0.1234567, end_s=1.0, pitch_hz=55.0000004, name="A1", open_string=True)
    dropout = Dropout(start_s=0.3333333333, end_s=0.5, kind="skip")
    lock = SimpleNamespace(locked_share=2 / 3, dropouts=(dropout,), first_lock_ms=100 / 3)
    item = SimpleNamespace(note=note, lock=lock)
    shares = {"locked_share": 2 / 3, "open_string_locked_share": None, "uncounted_share": 1 / 3, "unsure_share": 1 / 7}
    sums = LockSums(100 / 3, None, 1 / 7, 1 / 3)
    made = tracked._shortened(SimpleNamespace(notes=(item,), remarks=(), sums=sums, **shares))
    assert (made.notes[0].start_s, made.notes[0].pitch_hz) == (0.123457, 55.0)
    assert (made.locked_share, made.open_string_locked_share) == (0.666667, None)
    assert (made.uncounted_share, made.unsure_share) == (0.333333, 0.142857)
    assert made.note_first_lock_ms == (33.333333,)
    assert made.sums == LockSums(33.333333, None, 0.142857, 0.333333)
    assert (made.dropouts[0].start_s, made.dropouts[0].kind) == (0.333333, "skip")
