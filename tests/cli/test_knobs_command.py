"""``sublatch knobs`` as a user types it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from sublatch.audition.plan.load import load_audition
from sublatch.circuit.load import circuit_text, load_circuit
from sublatch.cli import main
from sublatch.demo.strings import pluck
from sublatch.demo.takes import demo_takes
from sublatch.files.sound import write_audio

RATE = 16000


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A folder with a take of two notes, a silent one and one that is no sound file."""
    folder = tmp_path_factory.mktemp("takes")
    notes = [pluck(hz, seconds=0.8, sample_rate=RATE, level_volts=0.3) for hz in (41.2, 61.7)]
    write_audio(folder / "line.wav", np.concatenate(notes), RATE)
    write_audio(folder / "silent.wav", np.zeros(RATE), RATE)
    (folder / "broken.wav").write_text("no sound")
    return folder


PLAIN = ("--set", "detector.kind=peak-latch")
"""The figures below are of that detector."""


def run(*words: object):
    return CliRunner().invoke(main, ["knobs", *map(str, words)])


def test_it_tells_knobs_unity_trim_headroom_and_corners(folder):
    words = ("--take", folder / "line.wav", "--full-scale", "1V", "--unity-at", 8, "--same-as", "gated-first-order")
    done = run("-c", "gated-swept", *words)
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    for heading in ("tone: corner", "volume: gain", "direct: gain", "unity: where", "trim resistor", "headroom of"):
        assert re.search(f"^{heading}", done.stdout, flags=re.MULTILINE)
    assert "\nnearest to the sound of 'Gain-gated octave, first-order filter', with line\n  tone " in done.stdout
    assert re.search(
        r"corner of 272\.1 Hz is at 3\.15 on the tone knob, where the two are \d\.\d dB apart", done.stdout
    )
    assert re.search(r"output\.trim_resistor = \d+k", done.stdout)
    assert "the peaked position costs" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 120


def test_json_is_one_document_with_the_same_figures(folder):
    words = ("-c", "gated-first-order", "--take", folder / "line.wav", "--full-scale", "1V", "--unity-at", 7)
    told = json.loads(run(*words, "--json").stdout)
    assert {"knobs", "unity_position", "excess_gain_db", "trim_resistor_ohm", "headroom", "coupling"} <= told.keys()
    printed = run(*words).stdout
    row = next(line for line in printed.splitlines() if line.strip().startswith("line "))
    assert row.split()[1:4] == ["loudness", f"{told['unity_position']:.2f}", f"{told['excess_gain_db']:.1f}"]
    cells = next(line for line in printed.splitlines() if line.strip().startswith("dB")).split()[1:]
    values = [one["value"] for one in told["knobs"][0]["positions"]]
    assert cells == ["off", *(f"{round(value, 1) + 0.0:.1f}" for value in values[1:])]


def test_a_setting_counts():
    before, after = (
        json.loads(run("-c", "gated-first-order", "--json", *more).stdout)
        for more in ((), ("--set", "output.pot.value=10k"))
    )
    corner = [told["coupling"][-1]["highest_corner_hz"] for told in (before, after)]
    assert 9.0 < corner[1] / corner[0] < 10.0  # 1 MΩ of load eases the larger pot a little
    printed = run("-c", "gated-first-order", "--set", "output.pot.value=10k").stdout
    assert "the bass suffers from output.coupling: 2.1 dB of an octave under a low E, 20.6 Hz, is lost" in printed
    assert "suffers" not in run("-c", "gated-first-order").stdout


def test_words_say_twitchy_with_the_threshold():
    twitchy = run("-c", "gated-swept", "--set", "filter.end_resistor=2k").stdout
    assert "twitchy, more than 0.67 octaves in a step" in twitchy
    assert "most even with a reverse-log 10 % pot" in twitchy
    plain = run("-c", "gated-swept").stdout
    assert "not twitchy, at most 0.67 octaves in a step" in plain


def test_an_impossible_unity_is_said_plainly():
    done = run("-c", "gated-first-order", *PLAIN, "--unity-at", 1)
    assert done.exit_code == 0
    assert "not possible: even without a trim resistor unity is at 2.38" in done.stdout
    assert "dB more gain would be needed, such as output.ground_resistor = " in done.stdout


def test_a_volume_at_unity_is_told_once():
    """As set and at unity are two only where they differ; JSON has both, so that a program finds them by name."""
    unity, lower = (
        ("-c", "gated-swept", *PLAIN, "--set", "knobs.volume=unity"),
        ("-c", "gated-swept", *PLAIN, "--set", "knobs.volume=3"),
    )
    lines = [line.strip() for line in run(*unity).stdout.partition("headroom of")[2].splitlines()]
    assert [line.split(" ")[0] for line in lines if re.match("(unity|set) ", line)] == ["unity"] * 6
    assert [line for line in lines if line.startswith(("unity:", "set:"))] == [
        "unity: the peaked position costs 0.4 dB of headroom"
    ]
    both = run(*lower).stdout.partition("headroom of")[2]
    for start in ("unity 7.03", "set 3.00"):
        assert both.count(f"\n  {start}") == 6
    rows = json.loads(run(*unity, "--json").stdout)["headroom"]
    assert [row["at"] for row in rows] == ["unity", "unity", "set", "set", "full", "full"]


def test_clipping_at_unity_is_remarked_on(folder):
    words = ("-c", "gated-open", "--take", folder / "line.wav")
    loud = run(*words, "--full-scale", "20V")
    assert re.search(r"at unity the output clips: it is \d+\.\d dB past the limits of 9 V", loud.stdout)
    assert "clips" not in run(*words, "--full-scale", "1V").stdout


def test_taper_and_trim_are_searched_together_and_written(tmp_path):
    words = ("-c", "gated-first-order", "--set", "detector.kind=peak-latch", "--unity-at", 7)
    done = run(*words, "-o", tmp_path / "seven.toml")
    assert re.search(r"\n  log 10 % +8k2 +8k2 +\S+ +4\.86 +3\.90 +pot\.taper, trim_resistor\n", done.stdout)
    found = re.search(r"measured with log 10 %: unity at (\S+), \S+ dB in hand; -o writes it", done.stdout)
    made = load_circuit(tmp_path / "seven.toml")
    assert (made.output.pot.taper, made.output.pot.midpoint, made.output.trim_resistor) == ("log", 0.1, 8200.0)
    assert f"{made.knobs.volume:.2f}" == found[1]
    assert 'taper = "log"' in (tmp_path / "seven.toml").read_text(encoding="utf-8")


def test_full_volume_and_where_clipping_begins_are_told(folder):
    words = ("-c", "gated-first-order", "--take", folder / "line.wav", "--full-scale")
    loud, soft = (run(*words, volts).stdout for volts in ("8V", "1V"))
    begins = re.search(r"  volume: clipping begins at (\d\.\d\d), with 9 V\n", loud)
    assert begins
    assert f"\n  clips {begins[1]}" in loud
    assert "\n  full 10.00" in soft
    assert "  volume: no clipping even at 10, with 9 V\n" in soft


def test_the_two_sweeps_of_the_trade_differ_as_it_says(tmp_path):
    """Parts from `choose`, slapped accents of 1.6 V, everything else alike: twitchy and overloaded on 9 V, or neither.

    Common practice, no source; `tests/published/test_knob_practice.py` says where it comes from.
    """
    accents = demo_takes(RATE)["hard-accents"]
    write_audio(tmp_path / "slapped.wav", 0.8 * accents / np.max(np.abs(accents)), RATE)
    told = {}
    for high, peak in (("5kHz", "7.5dB"), ("3kHz", "4dB")):
        file = tmp_path / f"{high}.toml"
        wish = ("choose", "--low", "100Hz", "--high", high, "--peak", peak, "-c", "gated-swept", "-o", str(file))
        assert CliRunner().invoke(main, wish).exit_code == 0
        told[high] = run("-c", file, "--take", tmp_path / "slapped.wav", "--full-scale", "2V").stdout
    past = r"hits the limits with tone at \d\.\d, \d\.\d dB past them at 9 V, (< )?0\.\d % of the time"
    assert re.search(rf"unity 7\.\d\d, peaked: {past}", told["5kHz"])
    assert "  twitchy, more than 0.67 octaves in a step" in told["5kHz"]
    assert "hits the limits" not in told["3kHz"]
    assert re.search(r"unity 7\.\d\d, peaked: least headroom with tone at \d\.\d, \d\.\d dB to go at 9 V", told["3kHz"])
    assert "  not twitchy, at most 0.67 octaves in a step" in told["3kHz"].partition("volume:")[0]


def test_too_little_gain_is_said_plainly():
    done = run("-c", "gated-open", "--set", "output.ground_resistor=100M")
    assert re.search(r"even at 10 the effect is \d+\.\d dB too soft", done.stdout)


def test_a_take_without_a_full_scale_is_noted(folder):
    done = run("-c", "gated-open", "--take", folder / "line.wav")
    assert "0 dBFS is taken for 1 V peak" in done.stderr


def test_a_corner_out_of_reach_is_nowhere(tmp_path):
    low = tmp_path / "low.toml"
    low.write_text(
        'title = "Low"\noctave = { kind = "gain-gated" }\ndetector = { kind = "peak-latch" }\n'
        '[filter]\nkind = "first-order"\nresistor = "1M"\n'
    )
    done = run("-c", "gated-swept", *PLAIN, "--same-as", low)
    assert "its corner of 10.61 Hz is nowhere on the tone knob" in done.stdout
    assert re.search(
        r"'Low', with a standard bass of eight plucked notes\n  tone \d\.\d\d, peak flat, direct 0: ", done.stdout
    )


@pytest.mark.parametrize(
    ("words", "status", "message"),
    [
        (("-c", "gated-first-order", "--same-as", "gated-swept"), 2, "has no tone knob"),
        (("-c", "gated-swept", "--plan", "a.toml", "--same-as", "gated-open"), 2, "--plan needs .* --take"),
        (("-c", "gated-swept", "--plan", "a.toml", "--take", "{folder}/line.wav"), 2, "--plan needs .* --same-as"),
        (("-c", "gated-swept", "-o", "a.txt"), 1, r"must end in \.toml"),
        (("-c", "gated-swept", "-o", "no/a.toml"), 1, "its folder does not exist"),
        (
            (*("-c", "gated-swept", "--same-as", "gated-open", "--take", "{folder}/silent.wav"),),
            1,
            "silent must make a sound in",
        ),
        (("-c", "gated-swept", "--same-as", "gated-opne"), 2, "did you mean 'gated-open'"),
        (("-c", "gated-swept", "--unity-at", "70"), 2, "unity can be at 0 to 10 .* got 70; was it meant as 7"),
        (("-c", "gated-swept", "--unity-at=-1"), 2, "unity can be at 0 to 10"),
        (("-c", "gated-swept", "--unity-at", "nan"), 2, "unity can be at 0 to 10"),
        (("-c", "gated-swept", "--unity-at", "seven"), 2, "'seven' is not a valid float"),
        (("-c", "gated-open", "--set", "knobs.tone=3"), 2, "knobs.tone cannot be set: this circuit has no tone knob"),
        (("-c", "gated-open", "--full-scale", "1V"), 2, "belong to a --take"),
        (("-c", "gated-open", "--take", "gone.wav"), 1, r"gone\.wav"),
        (("-c", "gated-open", "--take", "{folder}/broken.wav"), 1, r"broken\.wav"),
        (("-c", "gated-open", "--take", "{folder}/silent.wav"), 1, "silent is silent"),
        (("-c", "gated-open", "--plot", "a.jpg"), 1, r"must end in \.png"),
        (("-c", "gated-open", "--take", "{folder}/line.wav", "--plot", "no/a.png"), 1, "its folder does not exist"),
    ],
)
def test_what_cannot_be(folder, words, status, message):
    done = run(*(word.format(folder=folder) for word in words))
    assert done.exit_code == status, done.stderr
    assert re.search(message, done.stderr)
    assert done.stdout == ""


def test_the_picture_is_written_and_only_its_own_is_replaced(tmp_path):
    picture = tmp_path / "knobs.png"
    assert run("-c", "gated-first-order", "--plot", picture).exit_code == 0
    first = picture.read_bytes()
    assert first.startswith(b"\x89PNG")
    assert run("-c", "gated-swept", "--plot", picture).exit_code == 0
    assert picture.read_bytes() != first
    picture.write_bytes(b"mine")
    refused = run("-c", "gated-swept", "--plot", picture)
    assert refused.exit_code == 1
    assert picture.read_bytes() == b"mine"
    assert run("-c", "gated-swept", "--plot", picture, "--overwrite").exit_code == 0


@pytest.mark.long
def test_what_was_found_is_written_and_found_again(tmp_path, folder):
    """Unity of the written circuit, measured anew, is where its volume stands, at the resistor's rounding."""
    take = ("--take", folder / "line.wav", "--full-scale", "1V")
    file = tmp_path / "new.toml"
    for more in ((), ("--unity-at", 8), ("--same-as", "gated-first-order")):
        done = run("-c", "gated-swept", *take, *more, "-o", file, "--json")
        told = json.loads(done.stdout)
        assert told["output"] == str(file)
        assert f"Written {file}" in done.stderr
        circuit = load_circuit(file)
        again = json.loads(run("-c", file, *take, "--json").stdout)
        assert circuit.knobs.volume == pytest.approx(again["unity_position"], abs=0.011)
        if "--same-as" in more:
            at = told["same_as"]
            assert (circuit.tone, circuit.peak, circuit.knobs.direct) == (at["tone"], at["peak"], at["direct"])
        if "--unity-at" in more:
            assert circuit.output.trim_resistor == told["trim_resistor_ohm"]
        assert "No trim resistor" not in file.read_text(encoding="utf-8")
    text = file.read_text(encoding="utf-8")
    first, second = text.splitlines()[:2]
    assert first == "# Knobs set from gated-swept."
    assert second.startswith("# Nearest to 'Gain-gated octave, first-order filter' with line: ")
    assert re.search(r"^tone = \S+ +# was 4\. Sweep of the output filter", text, flags=re.MULTILINE)


def test_no_file_of_the_users_is_replaced(tmp_path, folder):
    take, own = ("--take", folder / "line.wav"), tmp_path / "own.toml"
    own.write_text('title = "Mine"\noctave = { kind = "gain-gated" }\n', encoding="utf-8")
    kept = own.read_bytes()
    for words in (
        ("-c", "gated-swept", "-o", own),
        ("-c", own, "-o", own, "--overwrite"),
        ("-c", "gated-swept", "--same-as", own, "-o", own, "--overwrite"),
        ("-c", "gated-swept", "--same-as", "gated-open", *take, "--plan", own),
        ("-c", "gated-swept", "--same-as", own, *take, "--plan", own, "--overwrite"),
        ("-c", "gated-swept", "--same-as", own, *take, "--plan", tmp_path / "x.toml", "-o", tmp_path / "x.toml"),
    ):
        done = run(*words)
        assert (done.exit_code, done.stdout) == (1, ""), words
    assert own.read_bytes() == kept
    assert sorted(path.name for path in tmp_path.iterdir()) == ["own.toml"]


def test_a_file_says_where_no_trim_resistor_puts_unity(tmp_path):
    run("-c", "gated-swept", "--unity-at", 0, "-o", tmp_path / "no.toml")
    assert "# No trim resistor puts it at 0.\n" in (tmp_path / "no.toml").read_text(encoding="utf-8")


def test_a_unity_beyond_10_is_written_as_10_and_told(tmp_path):
    file = tmp_path / "soft.toml"
    done = run("-c", "gated-open", "--set", "output.ground_resistor=100M", "-o", file)
    assert "unity lies beyond 10, so knobs.volume is 10" in done.stderr
    assert load_circuit(file).knobs.volume == 10.0


@pytest.mark.long
def test_the_plan_auditions_the_nearest_sound_beside_the_old_one(tmp_path, folder):
    old, plan = tmp_path / "circuits" / "old.toml", tmp_path / "plans" / "near.toml"
    for path in (old, plan):
        path.parent.mkdir()
    old.write_text(circuit_text("gated-first-order"), encoding="utf-8")
    words = ("--take", folder / "line.wav", "--full-scale", "1.41V", "--set", "supply=7.5V", "--unity-at", 8)
    done = run("-c", "gated-swept", "--same-as", old, *words, "--plan", plan, "--json")
    at = json.loads(done.stdout)["same_as"]
    assert f"Written {plan}; now: sublatch audition {plan}" in done.stderr
    ready = load_audition(plan)
    first, *sweep = ready.candidates
    assert (first.name, first.circuit) == ("old", load_circuit(old, changes={"knobs.volume": "unity"}))
    assert [one.circuit.tone for one in sweep] == [pytest.approx(at["tone"] + step) for step in (-1, 0, 1)]
    assert {(one.circuit.peak, one.circuit.knobs.direct, one.circuit.supply) for one in sweep} == {
        (at["peak"], at["direct"], 7.5)
    }
    assert ready.full_scale_volts(ready.plan.takes[0]) == 1.41
    assert ready.take_path(ready.plan.takes[0]).resolve() == (folder / "line.wav").resolve()
    assert CliRunner().invoke(main, ["audition", str(plan), "--jobs", "1"]).exit_code == 0
    again = run("-c", "gated-swept", "--same-as", old, *words, "--plan", plan)
    assert again.exit_code == 0
