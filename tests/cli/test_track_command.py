"""``sublatch track`` as a user types it."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from sublatch.cli import main
from sublatch.demo.strings import pluck
from sublatch.files.sound import write_audio
from sublatch.takes.take import read_take
from sublatch.tracking.playing_levels import GAINS_DB

RATE = 16000
SAMPLES = Path(__file__).parent.parent.parent / "samples" / "takes"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with an open E and an A at the fifth fret, and a silent take."""
    line = np.concatenate([np.zeros(4000)] + [pluck(f, seconds=1.0, sample_rate=RATE) for f in (41.2034, 61.7354)])
    write_audio(tmp_path / "line.wav", line, RATE)
    write_audio(tmp_path / "silent.wav", np.zeros(RATE), RATE)
    return tmp_path


def run(*words: object):
    return CliRunner().invoke(main, ["track", *map(str, words)])


@pytest.fixture
def fixed(folder: Path) -> Path:
    """A circuit file whose detector is no built-in circuit's: fixed thresholds."""
    path = folder / "fixed.toml"
    path.write_text('title = "F"\noctave = { kind = "gain-gated" }\ndetector = { kind = "zero-crossing" }\n')
    return path


def test_each_prints_every_note_open_strings_apart_and_a_line_for_each_circuit(folder, fixed):
    done = run(folder / "line.wav", "-c", "gated-open", "-c", fixed, "--full-scale", "1V", "--each")
    assert done.exit_code == 0, done.stderr
    assert done.stdout.index("open strings") < done.stdout.index("E1") < done.stdout.index("other notes")
    assert "B1" in done.stdout
    assert done.stdout.count("line, ") == 2
    told = [line.split()[0] for line in done.stdout.splitlines() if line]
    assert told[told.index("circuit") + 1 :][:2] == ["gated-open", str(fixed)]
    assert done.stderr == ""


def test_it_prints_a_line_for_each_string_and_one_for_the_take(folder):
    done = run(folder / "line.wav", "-c", "gated-open", "--full-scale", "1V")
    assert (done.exit_code, done.stderr) == (0, "")
    told = json.loads(run(folder / "line.wav", "-c", "gated-open", "--full-scale", "1V", "--json").stdout)["results"][0]
    lines = done.stdout.splitlines()
    assert lines[0] == "line, gated-open"
    rows = _rows(lines)
    assert [line[2:12].strip() for line in rows] == ["E1 open", "A1 to D2", "whole take"]
    assert [line[12:].split()[0] for line in rows] == ["1", "1", "2"]
    assert [row["name"] for row in told["strings"]] == ["E1 open", "A1 to D2"]
    for line, share in zip(rows, [note["locked_share"] for note in told["notes"]] + [None], strict=True):
        expected = told["locked_share"] if share is None else share
        assert line[12:].split()[1] == ("100" if expected == 1.0 else f"{min(100 * expected, 99.9):.1f}")
    assert "start s" not in done.stdout


def test_how_soon_and_how_evenly_it_locks_is_told_as_json_has_it(folder):
    """In the strings' table, the circuits' and note by note: milliseconds and per cent, where JSON has shares."""
    words = (folder / "line.wav", "-c", "gated-open", "--full-scale", "1V")
    told = json.loads(run(*words, "--json").stdout)["results"][0]
    lines = run(*words).stdout.splitlines()
    strings = [line[12:].split()[3:7] for line in _rows(lines)]
    assert strings == [_sums(one) for one in (*told["strings"], told)]
    assert lines[-1].split()[3:7] == _sums(told)
    each = [line.split() for line in run(*words, "--each").stdout.splitlines() if re.match("    [A-G]", line)]
    assert [line[3:6] for line in each] == [_figures(note) for note in told["notes"]]
    soonest, latest = sorted(note["first_lock_ms"] for note in told["notes"])
    assert (told["median_first_lock_ms"], told["p90_first_lock_ms"]) == (soonest, latest)
    for note in told["notes"]:
        assert 0.0 < note["first_lock_ms"] < 3 * 1000.0 / note["pitch_hz"]


def _rows(lines: list[str]) -> list[str]:
    """Return the rows of the strings' table, from its head on: two strings and the whole take."""
    first = next(place for place, line in enumerate(lines) if line.split()[:2] == ["notes", "locked"]) + 1
    return lines[first : first + 3]


def test_margins_are_told_as_json_has_them(folder, fixed):
    """By note, the least by string and for the take, and small ones in words."""
    for circuit in ("gated-open", fixed):
        latch = () if circuit == fixed else ("--set", "detector.kind=peak-latch")
        words = (folder / "line.wav", "-c", circuit, *latch, "--full-scale", "250mV")
        told = json.loads(run(*words, "--json").stdout)["results"][0]
        text = run(*words).stdout
        each = [line.split() for line in run(*words, "--each").stdout.splitlines() if re.match("    [A-G]", line)]
        assert [line[10] for line in each] == [f"{note['margin_mv']:.1f}" for note in told["notes"]]
        rows = [line[12:].split() for line in _rows(text.splitlines())]
        assert [row[8] for row in rows] == [f"{one['least_margin_mv']:.1f}" for one in (*told["strings"], told)]
        assert told["least_margin_mv"] == min(note["margin_mv"] for note in told["notes"]) < 10.0
        assert all(note["margin_db"] < 0.0 for note in told["notes"])
        (remark,) = [one["text"] for one in told["remarks"] if one["code"] == "small-margin"]
        assert " ".join(remark.split()) in " ".join(text.split())


def _sums(told: dict[str, float]) -> list[str]:
    """Return the cells of what is told over several notes."""
    times = [f"{told[key]:.0f}" for key in ("median_first_lock_ms", "p90_first_lock_ms")]
    return [*times, *_figures({"first_lock_ms": 0.0, **told})[1:]]


def _figures(told: dict[str, float]) -> list[str]:
    """Return the cells of what is told of one note."""
    early, uneven = 100 * told["early_locked_share"], 100 * told["uneven_share"]
    cells = "100" if early == 100 else f"{min(early, 99.9):.1f}", f"{uneven:.1f}" if uneven else "0"
    return [f"{told['first_lock_ms']:.0f}", *cells]


@pytest.mark.parametrize("more", [(), ("--each",)])
def test_what_sounds_and_is_not_counted_is_told(tmp_path, more):
    """A second of a note and a second of noise, with rests of half a second: half of what sounds is not counted."""
    noise = 0.2 * np.random.default_rng(1).standard_normal(RATE)
    t = np.arange(RATE) / RATE
    tone = sum(size * np.sin(2 * np.pi * 55.0 * n * t) for n, size in ((1, 0.3), (2, 0.12), (3, 0.05)))
    rest = np.zeros(RATE // 2)
    write_audio(tmp_path / "half.wav", np.concatenate((rest, tone, rest, noise, rest)), RATE)
    words = (tmp_path / "half.wav", "-c", "gated-open", "--full-scale", "1V")
    told = json.loads(run(*words, "--json").stdout)["results"][0]
    assert told["uncounted_share"] == pytest.approx(0.5, abs=0.03)
    assert told["unsure_share"] == 0.0
    percent = f"{100 * told['uncounted_share']:.1f}"
    assert f"  not counted: {percent} % of the time in which the take sounds\n" in run(*words, *more).stdout


def test_notes_of_unsure_octave_are_told_as_a_share_of_all_notes_time(folder, monkeypatch):
    """One of two notes is taken for unsure: its seconds of both."""
    from sublatch.tracking import track as job

    played = job.reference_of(read_take(folder / "line.wav", full_scale_volts=1.0), tuning="bass-4")
    found = played.notes
    doubtful = replace(played, notes=replace(found, notes=found.notes[1:], unsure=found.notes[:1]))
    monkeypatch.setattr(job, "reference_of", lambda *_, **__: doubtful)
    words = (folder / "line.wav", "-c", "gated-open", "--full-scale", "1V")
    told = json.loads(run(*words, "--json").stdout)["results"][0]
    seconds = [note.end_s - note.start_s for note in found.notes]
    assert told["unsure_share"] == pytest.approx(seconds[0] / sum(seconds))
    line = f"; notes of unsure octave are {100 * told['unsure_share']:.1f} % of all notes' time\n"
    assert line in run(*words).stdout
    assert told["uncounted_share"] == pytest.approx(seconds[0] / sum(seconds), abs=0.05)


@pytest.mark.parametrize("more", [(), ("--each",)])
def test_no_line_of_the_tables_is_wider_than_120(folder, more):
    takes = (folder / "line.wav", SAMPLES / "hard-accents.flac", SAMPLES / "open-strings.flac")
    thresholds = ("--set", "detector.kind=zero-crossing")
    done = run(*takes, "-c", "gated-open", "--full-scale", "2V", "--tuning", "bass-5", *thresholds, *more)
    lines = [line for line in done.stdout.splitlines() if not line.startswith("to search a detector")]
    assert max(map(len, lines)) <= 120
    assert any(re.search(r"\d+ (skip|stray|stall), \d+ ", line) for line in lines), "else the last column is short"


def test_notes_too_high_for_a_detector_are_told_for_it_alone(tmp_path):
    line = np.concatenate([np.zeros(4000)] + [pluck(f, seconds=0.6, sample_rate=RATE) for f in (110.0, 220.0, 277.183)])
    write_audio(tmp_path / "guitar.wav", line, RATE)
    words = (tmp_path / "guitar.wav", "--tuning", "guitar-6", "--full-scale", "1V", "-c", "gated-open")
    overtone = ("--set", "detector.kind=overtone")
    text = " ".join(run(*words, *overtone).stdout.split())
    assert re.search(r"high for this detector: 2 of 3 notes lie above 168 Hz, [^:]*by 2 ", text)
    codes = [
        [remark["code"] for remark in json.loads(run(*words, *more, "--json").stdout)["results"][0]["remarks"]]
        for more in (overtone, ("--set", "detector.kind=peak-latch"))
    ]
    assert ["high-for-detector" in found for found in codes] == [True, False]


def test_circuits_with_one_detector_are_told_once(folder, fixed):
    circuits = [word for name in ("gated-open", fixed, "polarity-swept", "gated-first-order") for word in ("-c", name)]
    done = run(folder / "line.wav", *circuits, "--full-scale", "1V")
    assert done.stdout.count("whole take") == 2
    assert "line, gated-open, polarity-swept, gated-first-order (the same detector)\n" in done.stdout
    assert f"line, {fixed}\n" in done.stdout
    told = json.loads(run(folder / "line.wav", *circuits, "--json").stdout)["results"]
    assert [one["circuit"] for one in told] == ["gated-open", "polarity-swept", "gated-first-order", str(fixed)]
    assert {key: told[0][key] for key in told[0] if key != "circuit"} == {
        key: told[1][key] for key in told[1] if key != "circuit"
    }


@pytest.mark.parametrize("values", ["ideal", "typical"])
@pytest.mark.parametrize("levels", [(), ("--levels",)])
def test_one_detector_is_worked_out_once(folder, monkeypatch, levels, values):
    """The comparator, and with --levels the comparator at other levels, are asked once for five circuits.

    What is off does not grow with the take, so that with typical parts each level is asked for, once as well.
    """
    asked = {"edges": 0, "levels": 0}
    from sublatch.signal import detector
    from sublatch.tracking import playing_levels

    def counted(name, function):
        def call(*arguments, **others):
            asked[name] += 1
            return function(*arguments, **others)

        return call

    monkeypatch.setattr(detector, "edges", counted("edges", detector.edges))
    monkeypatch.setattr(playing_levels, "drives_over_level", counted("levels", playing_levels.drives_over_level))
    names = ("gated-open", "gated-swept", "gated-first-order", "polarity-swept", "polarity-third-order")
    latch = ("--set", "detector.kind=peak-latch", "--set", f"devices.values={values}")
    done = run(
        folder / "line.wav", *(word for name in names for word in ("-c", name)), *latch, "--full-scale", "1V", *levels
    )
    assert done.exit_code == 0, done.stderr
    each_level = len(GAINS_DB) if levels and values == "typical" else 0
    assert asked == {"edges": 1 + each_level, "levels": len(levels)}


@pytest.fixture
def weak(folder: Path) -> Path:
    """A G whose fundamental is weak beside its overtones, so that the wave crests twice in a period."""
    t = np.arange(3 * RATE) / RATE
    partials = (0.05, 1.0, 0.1, 0.5, 0.4, 0.4, 0.3, 0.3, 0.25, 0.2, 0.2, 0.15, 0.1, 0.1)
    wave = sum(size * np.sin(2 * np.pi * 98.0 * n * t + n) for n, size in enumerate(partials, start=1))
    note = 0.1 * wave * np.minimum(1.0, t / 0.01) * np.exp(-t)
    write_audio(folder / "weak.wav", np.concatenate((np.zeros(4000), note, np.zeros(2000))), RATE)
    return folder / "weak.wav"


def test_the_better_built_in_detector_and_tune_are_named_where_notes_are_lost(weak):
    latch = ("--set", "detector.kind=peak-latch")
    words = (weak, "-c", "gated-open", *latch, "--full-scale", "2V", "--tuning", "bass-5")
    done = run(*words)
    told = json.loads(run(*words, "--json").stdout)["results"][0]
    assert told["poor_notes"] == 1
    better = told["better_detector"]
    kind = better["kind"]
    assert kind in {"overtone", "logarithmic-latch"}
    with_it = json.loads(run(*words, "--set", f"detector.kind={kind}", "--json").stdout)["results"][0]
    assert better["locked_share"] == with_it["locked_share"] == pytest.approx(told["locked_share"] + better["gained"])
    assert better["step_share"] == pytest.approx(with_it["step_share"], rel=1e-9)
    assert better["gained"] > 0.02
    assert "1 of 1 notes is held for less than 85 % of the time" in done.stdout
    assert f"the built-in {kind} detector would hold on for" in done.stdout
    assert f" --set detector.kind={kind}\n" in done.stdout
    again = "-c gated-open --set detector.kind=peak-latch --tuning bass-5 --full-scale 2V -o better.toml"
    tune = f"sublatch tune {weak} {again}"
    assert done.stdout.splitlines()[-1] == f"to search a detector that suits your notes: {tune}"


def test_another_detector_is_named_where_it_is_the_better_one():
    """Of the sample's hard accents the overtone detector loses three, and the logarithmic latch one."""
    words = (SAMPLES / "hard-accents.flac", "-c", "gated-open", "--full-scale", "2V", "--tuning", "bass-5")
    better = json.loads(run(*words, "--json").stdout)["results"][0]["better_detector"]
    latch = ("--set", "detector.kind=logarithmic-latch")
    own = json.loads(run(*words, *latch, "--json").stdout)["results"][0]
    assert better["kind"] == "logarithmic-latch"
    assert better["locked_share"] == own["locked_share"] > 0.95
    assert " --set detector.kind=logarithmic-latch\n" in run(*words).stdout


def test_a_detector_that_gains_too_little_is_not_named():
    """Of the sample's hard accents the logarithmic latch loses the fewest."""
    words = (SAMPLES / "hard-accents.flac", "-c", "gated-open", "--full-scale", "2V", "--tuning", "bass-5")
    latch = (*words, "--set", "detector.kind=logarithmic-latch")
    told = json.loads(run(*latch, "--json").stdout)["results"][0]
    assert told["poor_notes"] > 0
    for kind in ("overtone", "peak-latch"):
        with_it = json.loads(run(*words, "--set", f"detector.kind={kind}", "--json").stdout)["results"][0]
        assert with_it["locked_share"] - told["locked_share"] < 0.02
    assert told["better_detector"] is None
    assert "no built-in detector would hold on for 2 % more of this take" in run(*latch).stdout


def test_nothing_is_advised_where_nothing_is_lost(folder):
    done = run(folder / "line.wav", "-c", "gated-open", "--full-scale", "1V")
    assert "sublatch tune" not in done.stdout
    told = json.loads(run(folder / "line.wav", "-c", "gated-open", "--json").stdout)["results"][0]
    assert (told["poor_notes"], told["better_detector"]) == (0, None)


def test_json_is_one_document(folder):
    done = run(folder / "line.wav", folder / "silent.wav", "-c", "gated-open", "--json")
    assert done.exit_code == 0
    results = json.loads(done.stdout)["results"]
    assert [result["take"] for result in results] == ["line", "silent"]
    assert results[1]["locked_share"] is None
    assert results[1]["remarks"]
    assert "0 dBFS is taken for 1 V peak" in done.stderr


def test_where_it_switches_is_told_for_every_note(folder):
    told = json.loads(run(folder / "line.wav", "-c", "gated-open", "--json").stdout)["results"][0]
    for note in told["notes"]:
        assert -90.0 <= note["phase_deg"] <= 90.0
        assert note["jitter_deg"] <= note["spread_deg"] + 5.0
        assert 0.0 <= note["step_share"] <= 1.0
    printed = run(folder / "line.wav", "-c", "gated-open", "--each").stdout
    first = next(line for line in printed.splitlines() if line.strip().startswith("E1")).split()
    expected = told["notes"][0]
    assert first[6] == f"{expected['phase_deg']:.0f}"
    assert first[9] == f"{100 * expected['step_share']:.0f}"
    assert "0 at a zero crossing" in printed


def test_a_circuit_that_switches_in_mid_wave_is_named(tmp_path):
    """A sine whose comparator sets at 70 % of its peak: 44° after the zero crossing; and one that sets near it."""
    t = np.arange(2 * RATE) / RATE
    sine = 0.5 * np.sin(2 * np.pi * 110.0 * t)
    write_audio(tmp_path / "sine.wav", np.concatenate((np.zeros(4000), sine)), RATE)
    words = (tmp_path / "sine.wav", "-c", "gated-open", "--full-scale", "1V", "--set", "detector.kind=zero-crossing")
    words += ("--set", "detector.filter.kind=none")
    late = run(*words, "--set", "detector.hysteresis=350mV").stdout
    assert "gated-open switches in mid-wave" in late
    assert "more than 50 % of the note's peak" in late
    assert "mid-wave" not in run(*words, "--set", "detector.hysteresis=20mV").stdout


def test_levels_are_printed_as_a_map_and_a_window_for_each_circuit(folder, fixed):
    words = (folder / "line.wav", "-c", "gated-open", "-c", fixed, "--full-scale", "1V", "--levels")
    done = run(*words)
    assert done.exit_code == 0, done.stderr
    lines = done.stdout.splitlines()
    heads = [line.split() for line in lines if line.split()[:1] == ["-24"]]
    assert heads == [[f"{gain:+d}" if gain else "0" for gain in range(-24, 13, 3)]] * 2
    told = json.loads(run(*words, "--json").stdout)["results"]
    rows = [line.split()[2:] for line in lines if line.strip().startswith("all notes")]
    for row, result in zip(rows, told, strict=True):
        shares = result["level_map"]["locked_share"]
        assert [int(cell) for cell in row] == [100 if share == 1.0 else min(round(100 * share), 99) for share in shares]
        assert shares[8] == pytest.approx(result["locked_share"])
    start = next(place for place, line in enumerate(lines) if line.startswith("playing levels that keep 95 %"))
    for line, result in zip(lines[start + 1 : start + 3], told, strict=True):
        window = result["level_window"]
        assert line.split()[:2] == ["line", result["circuit"]]
        assert f"{window['low_db']:+.1f} dB ({window['low_volts']:.2g} V peak)" in line
        assert ("or lower" in line) == window["or_lower"]
        assert ("or higher" in line) == window["or_higher"]


def test_levels_of_a_take_without_notes(folder):
    done = run(folder / "silent.wav", "-c", "gated-open", "--levels", "--full-scale", "1V")
    assert done.exit_code == 0, done.stderr
    assert "no notes" in done.stdout
    told = json.loads(run(folder / "silent.wav", "-c", "gated-open", "--levels", "--json").stdout)["results"][0]
    assert told["level_window"] is None
    assert told["level_map"]["notes"] == []


def test_without_levels_there_is_no_map(folder):
    assert "level_map" not in json.loads(run(folder / "line.wav", "-c", "gated-open", "--json").stdout)["results"][0]


def test_the_picture_holds_the_map_with_levels(folder):
    plain, mapped = folder / "plain.png", folder / "mapped.png"
    for picture, more in ((plain, ()), (mapped, ("--levels",))):
        done = run(folder / "line.wav", folder / "silent.wav", "-c", "gated-open", "--plot", picture, *more)
        assert done.exit_code == 0, done.stderr
    heights = [int.from_bytes(picture.read_bytes()[20:24], "big") for picture in (plain, mapped)]
    assert heights[1] > heights[0] + 200


def test_a_setting_changes_every_circuit(folder):
    before, after = (
        json.loads(run(folder / "line.wav", "-c", "gated-open", "--json", *more).stdout)["results"][0]
        for more in ((), ("--set", "detector.kind=zero-crossing", "--set", "detector.hysteresis=0.9V"))
    )
    assert before["locked_share"] > 0.9
    assert after["locked_share"] == 0.0
    assert [dropout["kind"] for dropout in after["notes"][0]["dropouts"]] == ["stall"]


def test_a_bad_take_does_not_stop_the_rest(folder):
    done = run(folder / "gone.wav", folder / "line.wav", "-c", "gated-open", "--full-scale", "1V")
    assert done.exit_code == 1
    assert "gone.wav" in done.stderr
    assert "E1" in done.stdout


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("-c", "gated-opne"), "gated-open"),
        (("-c", "gated-open", "--tuning", "bass-9"), "bass"),
        (("-c", "gated-open", "--set", "knobs.volume=11"), "0 .* to 10"),
    ],
)
def test_wrong_usage(folder, words, message):
    done = run(folder / "line.wav", *words)
    assert done.exit_code == 2
    assert re.search(message, done.stderr)


def test_the_picture_is_written_and_only_its_own_is_replaced(folder):
    picture = folder / "tracking.png"
    done = run(folder / "line.wav", "-c", "gated-open", "--plot", picture)
    assert done.exit_code == 0, done.stderr
    first = picture.read_bytes()
    assert first.startswith(b"\x89PNG")
    assert run(folder / "line.wav", "-c", "gated-open", "--plot", picture).exit_code == 0
    assert picture.read_bytes() == first
    picture.write_bytes(b"mine")
    done = run(folder / "line.wav", "-c", "gated-open", "--plot", picture)
    assert done.exit_code == 1
    assert picture.read_bytes() == b"mine"
    assert run(folder / "line.wav", "-c", "gated-open", "--plot", picture, "--overwrite").exit_code == 0


def test_a_picture_ends_in_png_and_is_no_input(folder):
    assert "must end in .png" in run(folder / "line.wav", "-c", "gated-open", "--plot", folder / "x.jpg").stderr
