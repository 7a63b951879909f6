"""``sublatch tune`` as a user types it, and the circuit file that it writes."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

import sublatch.tracking.tune.job as searching
from command_line import sublatch
from sublatch.circuit.load import circuit_text, load_circuit
from sublatch.circuit.model import detector_kinds
from sublatch.circuit.save import settings_of
from sublatch.files.sound import write_audio
from sublatch.takes.take import read_take
from sublatch.tracking.tune.figures import locked_shares
from sublatch.tracking.tune.notes import tune_notes

RATE = 16000
WEAK = (0.01, 1.0, 0.03, 0.5, 0.4, 0.4, 0.3, 0.3, 0.25, 0.2, 0.2, 0.15, 0.1, 0.1)
STRONG = (1.0, 0.4, 0.2, 0.1)
KEYS = ("locked_share", "open_string_locked_share", "step_share", "locked_median", "locked_p10")
USUAL = ("--full-scale", "1V", "--tuning", "D2 G2")


PLAIN = {"detector.kind": "peak-latch"}
IDEAL = ("--set", "devices.values=ideal")
"""Parts with which that detector holds on to a note until its very end."""


def note(pitch_hz, shares):
    """One dying note of 0.7 s and a little silence; phases are the partials' numbers."""
    t = np.arange(round(0.7 * RATE)) / RATE
    tone = sum(a * np.sin(2 * np.pi * n * pitch_hz * t + n) for n, a in enumerate(shares, start=1))
    shape = np.minimum(np.minimum(1.0, t / 0.01), (0.7 - t) / 0.05) * np.exp(-2 * t)
    return np.concatenate((0.1 * shape * tone, np.zeros(1600)))


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Give a working folder with a take of open strings without much fundamental and some other notes."""
    monkeypatch.chdir(tmp_path)
    opened = [note(pitch_hz, WEAK) for pitch_hz in (73.4162, 97.9989, 73.4162)]
    others = [note(pitch_hz, STRONG) for pitch_hz in (87.3071, 110.0, 130.8128)]
    write_audio("line.wav", np.concatenate([np.zeros(4000), *opened, *others]), RATE)
    write_audio("easy.wav", np.concatenate([np.zeros(4000), note(87.3071, STRONG)]), RATE)
    write_audio("silent.wav", np.zeros(RATE), RATE)
    return tmp_path


def tune(*words, take="line.wav", trials=30):
    """Tune, from a detector that loses open strings where a built-in circuit is the start."""
    start = ("--set", "detector.kind=peak-latch") if {"gated-open", "gated-swept"} & set(words) else ()
    return sublatch("tune", take, *USUAL, *start, "--boards", 3, "--trials", trials, *words)


def stop_after(monkeypatch, count):
    """Have Ctrl-C pressed when so many trials are done."""
    real = searching.tune

    def stopped(notes, circuit, *, progress, **settings):
        def press(done, trials):
            progress(done, trials)
            if done == count:
                raise KeyboardInterrupt

        return real(notes, circuit, progress=press, **settings)

    monkeypatch.setattr(searching, "tune", stopped)


def test_a_table_and_each_change_with_its_old_value(here):
    done = tune("-c", "gated-open")
    assert done.exit_code == 0, done.stderr
    heads, searched_on, held_out, empty, *rest = done.stdout.splitlines()
    title, *changes = rest[rest.index("changes") :]
    assert re.split("  +", heads.strip()) == [
        *("notes", "locked %", "open strings %", "step %", "median board %", "10th percentile %"),
    ]
    assert searched_on.split()[:3] == ["searched", "on", "4"]
    assert held_out.split()[:3] == ["held", "out", "2"]
    assert (empty, title) == ("", "changes")
    before = settings_of(load_circuit("gated-open", changes=PLAIN))
    assert changes
    for line in changes:
        path, old, arrow, new = line.split()
        assert arrow == "→"
        assert old in {before[path].text if path in before else "–", "–"}
        assert new != old
    assert sorted(path.name for path in here.iterdir()) == ["easy.wav", "line.wav", "silent.wav"]


def test_json_has_its_keys_and_says_what_the_table_says(here):
    told = json.loads(tune("-c", "gated-open", "--json", trials=60).stdout)
    shares = set(KEYS)
    assert set(told["before"]) == set(told["after"]) == shares
    assert set(told["held_out"]) == {"before", "after"}
    assert set(told["held_out"]["before"]) == set(told["held_out"]["after"]) == shares
    assert told["before"]["open_string_locked_share"] < 0.2
    assert told["after"]["open_string_locked_share"] > 0.9
    assert (told["trials"], told["seed"], told["stopped_early"], told["output"]) == (60, 0, False, None)
    assert told["notes"] == {"searched_on": 4, "held_out": 2}
    assert told["step_weight"] == 0.0
    assert told["takes"] == [{"take": "line", "notes": 6, "remarks": []}]
    lines = tune("-c", "gated-open", trials=60).stdout.splitlines()
    for line, (before, after) in zip(
        lines[1:3],
        ((told["before"], told["after"]), (told["held_out"]["before"], told["held_out"]["after"])),
        strict=True,
    ):
        wanted = [100 * one[key] for key in KEYS for one in (before, after)]
        cells = [float(cell) for cell in re.findall(r"[0-9.]+", line)[1:]]
        assert cells[:4] + cells[6:] == pytest.approx(wanted[:4] + wanted[6:], abs=0.1)
        assert cells[4:6] == pytest.approx(wanted[4:6], abs=0.5)
    assert told["boards"]["count"] == 3
    assert told["boards"]["falls_short"] == (told["boards"]["part_to_select"] is not None or "no single" in str(lines))
    changed = {line.split()[0]: line.split(" → ")[-1] for line in lines[lines.index("changes") + 1 :]}
    start, end = (
        {path: one.text for path, one in settings_of(load_circuit("gated-open", changes=changes)).items()}
        for changes in (PLAIN, PLAIN | told["changes"])
    )
    assert changed == dict(end.items() - start.items())


def test_the_file_gives_the_lock_that_was_promised(here):
    """The means over both sets of notes are the mean of what the track command says note by note."""
    done = tune("-c", "gated-swept", "--set", "knobs.tone=3.5", "-o", "better.toml", "--json")
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    assert told["output"] == "better.toml"
    assert "Written better.toml" in done.stderr
    tracked = sublatch("track", "line.wav", *USUAL, "-c", "better.toml", "--json")
    shares = [note["locked_share"] for note in json.loads(tracked.stdout)["results"][0]["notes"]]
    counts, sets = told["notes"], (told["after"], told["held_out"]["after"])
    promised = [
        n * one["locked_share"] for n, one in zip((counts["searched_on"], counts["held_out"]), sets, strict=True)
    ]
    assert len(shares) == sum(counts.values()) == 6
    assert np.mean(shares) == pytest.approx(sum(promised) / 6, abs=1e-9)
    wanted = load_circuit("gated-swept", changes={"knobs.tone": 3.5, **PLAIN, **told["changes"]})
    assert load_circuit("better.toml") == wanted


def test_the_file_says_what_was_changed_and_what_that_gained(here):
    told = json.loads(tune("-c", "gated-open", "-o", "better.toml", "--json", "--seed", 4).stdout)
    lines = Path("better.toml").read_text(encoding="utf-8").splitlines()
    assert lines[:3] == [
        "# The detector tuned for lock, from gated-open with detector.kind=peak-latch.",
        "# Notes of line; 0 dBFS is 1 V.",
        "# Trials: 30. Seed: 4.",
    ]
    assert lines[8:10] == [
        "# 3 boards from number 1 on (resistors 5%, capacitors 10%, uniform),",
        "# locked, in per cent, median and 10th percentile:",
    ]
    for place, keys in ((5, KEYS[:3]), (10, KEYS[3:])):
        for line, pair in zip(
            lines[place : place + 2],
            ((told["before"], told["after"]), (told["held_out"]["before"], told["held_out"]["after"])),
            strict=True,
        ):
            wanted = [100 * one[key] for key in keys for one in pair]
            figures = [float(text) for text in re.findall(r"[0-9.]+", line.replace("(4)", "").replace("(2)", ""))]
            assert figures == pytest.approx(wanted, abs=0.5)
    before, after = settings_of(load_circuit("gated-open", changes=PLAIN)), settings_of(load_circuit("better.toml"))
    changed = [path for path, setting in after.items() if path not in before or before[path].text != setting.text]
    assert set(told["changes"]) <= set(changed)
    said = [line for line in lines if re.search(r"# (was \S+|new)\. [A-Z].+", line)]
    assert len(said) == len(changed)
    assert any(f"# was {before['detector.fraction'].text}. Share of each peak store" in line for line in said)


def test_edges_at_zero_crossings_can_be_asked_for(here):
    """One note that the start holds on to all the time, but switches in mid-wave; some lock may go for better edges."""
    edges = (*IDEAL, "--edges", "40%")
    done = tune("-c", "gated-open", *edges, "-o", "better.toml", "--json", take="easy.wav", trials=60)
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["step_weight"] == 0.4
    assert told["before"]["locked_share"] == 1.0
    assert 0.95 < told["after"]["locked_share"] <= 1.0
    assert told["before"]["step_share"] > 0.4
    assert told["after"]["step_share"] < 0.5 * told["before"]["step_share"]
    text = Path("better.toml").read_text(encoding="utf-8")
    assert "# Trials: 60. Seed: 0. Edges: 40%.\n" in text
    then, now = (round(100 * told[when]["step_share"]) for when in ("before", "after"))
    line = re.search(rf"^#   searched on \(1\): 100 → ([0-9.]+); steps {then} → {now}$", text, re.MULTILINE)
    assert line is not None
    assert float(line[1]) == pytest.approx(100 * told["after"]["locked_share"], abs=0.05)
    tracked = json.loads(sublatch("track", "easy.wav", *USUAL, "-c", "better.toml", "--json").stdout)
    assert tracked["results"][0]["step_share"] == pytest.approx(told["after"]["step_share"], abs=0.03)


def test_a_file_of_ones_own_is_a_start_and_is_left_alone(here):
    own = circuit_text("gated-open").replace('title = "', 'title = "My \\"box\\", é: ')
    Path("mine.toml").write_text(own, encoding="utf-8")
    done = tune("-c", "mine.toml", "-o", "better.toml")
    assert done.exit_code == 0
    assert "note: the comments in mine.toml are not carried over" in done.stderr
    assert load_circuit("better.toml").title == 'My "box", é: Gain-gated octave, no output filter'
    refused = tune("-c", "mine.toml", "-o", "mine.toml", "--overwrite")
    assert (refused.exit_code, refused.stdout) == (1, "")
    assert "mine.toml is read, so it cannot be written to as well" in refused.stderr
    assert Path("mine.toml").read_text(encoding="utf-8") == own


def test_a_detector_with_a_network_of_ones_own_can_be_tuned(here):
    parts = [
        '{ part = "resistor", name = "R1", value = "1k", between = ["in", "out"] }',
        '{ part = "capacitor", name = "C1", value = "10n", between = ["out", "ground"] }',
    ]
    own = f"detector.filter={{ kind = 'network', parts = [{', '.join(parts)}] }}"
    done = tune("-c", "gated-open", "--set", own, "-o", "better.toml", "--json", trials=60)
    assert done.exit_code == 0, done.stderr
    assert json.loads(done.stdout)["changes"]
    assert load_circuit("better.toml").detector.kind in set(detector_kinds())


def test_the_same_command_writes_the_same_file_again(here):
    assert tune("-c", "gated-open", "-o", "better.toml").exit_code == 0
    first = Path("better.toml").read_bytes()
    assert tune("-c", "gated-open", "-o", "better.toml").exit_code == 0
    assert Path("better.toml").read_bytes() == first
    Path("better.toml").write_bytes(first.replace(b"volume = 2.5", b"volume = 3"))
    refused = tune("-c", "gated-open", "-o", "better.toml")
    assert refused.exit_code == 1
    assert "was changed since" in refused.stderr
    assert tune("-c", "gated-open", "-o", "better.toml", "--overwrite").exit_code == 0
    assert Path("better.toml").read_bytes() == first


def test_boards_can_be_chosen_and_a_battery_that_cannot_be_is_refused(here):
    boards = ("--boards", 2, "--first-board", 7, "--capacitor-tolerance", "5%", "--battery-down-to", "7V")
    done = tune("-c", "gated-open", "--json", *boards, "-o", "better.toml", trials=10)
    told = json.loads(done.stdout)["boards"]
    assert (told["count"], told["first"], told["searched_on"], told["least_supply_v"]) == (2, 7, 2, 7.0)
    assert told["tolerances"]["capacitor"] == 0.05
    text = Path("better.toml").read_text(encoding="utf-8")
    assert "# 2 boards from number 7 on (resistors 5%, capacitors 5%, uniform, battery down to 7 V),\n" in text
    refused = tune("-c", "gated-open", "--battery-down-to", "12V")
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "a battery ages to less than its 9 V, got 12 V" in refused.stderr


def test_where_nothing_is_better_that_is_said_and_nothing_written(here):
    done = tune("-c", "gated-open", *IDEAL, "-o", "better.toml", take="easy.wav", trials=1)
    assert done.exit_code == 0
    assert done.stdout.splitlines()[1].split()[:7] == ["searched", "on", "1", "100", "→", "100", "–"]
    assert done.stdout.splitlines()[2].split() == ["held", "out", "0", *"–––––"]
    assert done.stdout.endswith(
        "\nNothing better was found: gated-open with detector.kind=peak-latch, devices.values=ideal is best left as it "
        "is.\n"
    )
    assert "Nothing written to better.toml" in done.stderr
    assert not Path("better.toml").exists()
    again = tune("-c", "gated-open", *IDEAL, "-o", "x.toml", "--json", take="easy.wav", trials=1)
    told = json.loads(again.stdout)
    assert (told["changes"], told["output"], told["held_out"]["before"]["locked_share"]) == ({}, None, None)


def test_stopping_early_keeps_the_best_so_far(here, monkeypatch):
    stop_after(monkeypatch, 12)
    done = tune("-c", "gated-open", "-o", "better.toml", trials=4000)
    assert done.exit_code == 130
    assert "sublatch: stopped early, after 12 of 4000 trials" in done.stderr
    assert "Written better.toml" in done.stderr
    assert "changes\n" in done.stdout
    assert "# Trials: 12 of 4000, stopped early. Seed: 0.\n" in Path("better.toml").read_text(encoding="utf-8")
    notes = tune_notes([read_take("line.wav")], tuning="D2 G2").notes
    circuits = load_circuit("gated-open", changes=PLAIN), load_circuit("better.toml")
    shares = [np.mean(locked_shares(notes, circuit)) for circuit in circuits]
    assert shares[1] > shares[0] + 0.2


def test_stopping_before_anything_is_found_writes_nothing(here, monkeypatch):
    stop_after(monkeypatch, 1)
    done = tune("-c", "gated-open", "-o", "better.toml", "--json", trials=4000)
    assert done.exit_code == 130
    told = json.loads(done.stdout)
    assert (told["changes"], told["trials"], told["stopped_early"]) == ({}, 1, True)
    assert not Path("better.toml").exists()


def test_a_bad_take_is_named_and_the_rest_go_on(here):
    Path("bad.wav").write_text("no sound\n", encoding="utf-8")
    done = tune("bad.wav", "silent.wav", "line.wav", "-c", "gated-open", "-o", "better.toml", trials=12)
    assert done.exit_code == 1
    assert "sublatch: bad.wav: must be a sound file, got a text" in done.stderr
    assert "note: silent: no notes: the take is silent" in done.stderr
    assert "note: line.wav is given more than once; it is used once" in done.stderr
    assert load_circuit("better.toml") != load_circuit("gated-open", changes=PLAIN)


def test_nothing_to_tune_on_is_said(here):
    done = tune("-c", "gated-open", take="silent.wav")
    assert (done.exit_code, done.stdout) == (1, "")
    assert "sublatch: there must be a note with one steady pitch to tune on, and no take has any" in done.stderr
    gone = tune("-c", "gated-open", "--json", take="gone.wav")
    assert (gone.exit_code, gone.stdout) == (1, "")
    assert "gone.wav: there is no such file" in gone.stderr


def test_few_notes_and_none_held_out_are_remarked_upon(here):
    assert "note: 6 notes are few: what suits them may suit no others" in tune("-c", "gated-open", trials=2).stderr
    write_audio("long.wav", np.concatenate([np.zeros(4000)] + [note(87.3071, STRONG)] * 9), RATE)
    done = tune("-c", "gated-open", "--held-out", "0", take="long.wav", trials=2)
    assert "note: no notes were held out, so nothing tells how well this suits other notes" in done.stderr
    assert "are few" not in done.stderr
    half = json.loads(tune("-c", "gated-open", "--held-out", "50%", "--json", take="long.wav", trials=2).stdout)
    assert half["notes"] == {"searched_on": 5, "held_out": 4}


def test_an_assumed_full_scale_is_noted(here):
    done = sublatch("tune", "easy.wav", "-c", "gated-open", "--trials", 1)
    assert "note: 0 dBFS is taken for 1 V peak; say otherwise with --full-scale" in done.stderr
    assert "0 dBFS is taken" not in tune("-c", "gated-open", trials=1, take="easy.wav").stderr


@pytest.mark.parametrize(
    ("words", "status", "message"),
    [
        (("-c", "gated-opne"), 2, "did you mean 'gated-open'"),
        ((), 2, "Missing option '-c'"),
        (("-c", "gated-open", "--set", "detector.fraction=2"), 2, "detector.fraction"),
        (("-c", "gated-open", "--tuning", "bass-9"), 2, "a tuning must be one of bass-4"),
        (("-c", "gated-open", "--trials", "0"), 2, "0 is not in the range x>=1"),
        (("-c", "gated-open", "--seed", "-1"), 2, "-1 is not in the range x>=0"),
        (("-c", "gated-open", "--held-out", "25"), 2, "--held-out: a fraction must be from 0 to 1"),
        (("-c", "gated-open", "--held-out", "95%"), 2, "--held-out must be at most 90%, got '95%'"),
        (("-c", "gated-open", "--edges", "40"), 2, "--edges: a fraction must be from 0 to 1"),
        (("-c", "gated-open", "--edges", "much"), 2, "--edges: "),
        (("-c", "gated-open", "-o", "better.txt"), 1, "better.txt must end in .toml"),
        (("-c", "gated-open", "-o", "gone/better.toml"), 1, "its folder does not exist"),
        (
            ("-c", "gated-open", "-o", "line.toml", "--overwrite"),
            1,
            "line.toml is read, under the name line.wav, so it cannot be written to",
        ),
        (("-c", "gated-open", "-o", "notes.toml"), 1, "notes.toml exists and was not made by sublatch"),
    ],
)
def test_wrong_usage_is_refused_before_anything_is_done(here, words, status, message):
    (here / "line.toml").hardlink_to(here / "line.wav")
    (here / "notes.toml").write_text("mine = 1\n", encoding="utf-8")
    before = sorted((path, path.read_bytes()) for path in here.iterdir())
    done = tune(*words)
    assert (done.exit_code, done.stdout) == (status, "")
    assert message in done.stderr
    assert "Tuning" not in done.stderr
    assert sorted((path, path.read_bytes()) for path in here.iterdir()) == before
