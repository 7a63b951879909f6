"""``sublatch render``: what it prints, what it writes, and with which exit status it refuses."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from command_line import sublatch
from sublatch.circuit.load import load_circuit
from sublatch.circuit.save import save_circuit
from sublatch.files.sound import read_audio, write_audio

RATE = 8000
NOTE = 0.3 * np.sin(2 * np.pi * 60 * np.arange(4000) / RATE) * np.linspace(1, 0, 4000)
PROMISED = {
    *("output", "sample_rate", "seconds", "peak_dbfs", "loudness_lufs", "rms_dbfs", "at_limit_share"),
    "effect_gain_db",
}


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Give a working folder with a take in it."""
    monkeypatch.chdir(tmp_path)
    write_audio("take.wav", NOTE, RATE)
    return tmp_path


def test_the_command_of_the_manual_works(here):
    result = sublatch(
        *("render", "take.wav", "-c", "gated-swept", "--set", "knobs.tone=3.5", "-o", "heard.wav", "--full-scale", "2V")
    )
    assert result.exit_code == 0
    assert result.stderr == ""
    assert result.stdout.startswith("heard.wav: 0.50 s at 8000 Hz\n")
    assert [line.split("  ")[1] for line in result.stdout.splitlines()[1:]] == [
        "loudness",
        "RMS",
        "peak",
        "against the bypassed take",
        "at the supply limits",
    ]
    assert json.loads(read_audio("heard.wav").comment)["knobs"]["tone"] == 3.5


def test_a_volume_at_unity_is_found_and_told(here):
    options = ("-c", "gated-swept", "--full-scale", "2V", "--json")
    result = sublatch("render", "take.wav", "--set", "knobs.volume=unity", "-o", "unity.wav", *options)
    told = json.loads(result.stdout)
    assert told["effect_gain_db"] == pytest.approx(0.0, abs=0.05)
    assert result.stderr == f"note: volume at unity is {told['volume']:.1f} here\n"
    comment = json.loads(read_audio("unity.wav").comment)
    assert (comment["knobs"]["volume"], comment["settings"]) == (told["volume"], {"knobs.volume": "unity"})
    sublatch("render", "take.wav", "--set", f"knobs.volume={told['volume']}", "-o", "number.wav", *options)
    np.testing.assert_array_equal(read_audio("unity.wav").samples, read_audio("number.wav").samples)
    weak = ("--set", "output.ground_resistor=100M")
    beyond = sublatch("render", "take.wav", "--set", "knobs.volume=unity", *weak, "-o", "weak.wav", *options)
    assert beyond.stderr == "note: unity lies beyond 10 of the volume knob, so it stands at 10\n"
    assert json.loads(beyond.stdout)["volume"] == 10.0


@pytest.mark.long
@pytest.mark.parametrize(
    "command",
    [
        ("response", "-c", "box.toml"),
        ("knobs", "-c", "box.toml"),
        ("knobs", "-c", "box.toml", "--take", "take.wav", "--full-scale", "2V", "--unity-at", "9"),
        ("sheet", "-c", "box.toml", "-o", "sheet.html"),
        ("choose", "--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "-c", "box.toml", "-o", "new.toml"),
        ("track", "take.wav", "-c", "box.toml", "--full-scale", "2V"),
        ("render", "take.wav", "-c", "box.toml", "--full-scale", "2V"),
    ],
)
def test_every_command_takes_a_circuit_file_with_its_volume_at_unity(here, command):
    save_circuit(load_circuit("gated-swept", changes={"knobs.volume": "unity"}), "box.toml")
    result = sublatch(*command)
    assert (result.exit_code, "Traceback" in result.stderr) == (0, False)
    if command[0] == "knobs":
        positions = re.findall(r"^  (?:set|unity) (\d+\.\d\d)", result.stdout, flags=re.MULTILINE)
        assert len(set(positions)) == 1
    if command[0] == "choose":
        assert load_circuit("new.toml").knobs.volume == "unity"
    if command[0] == "sheet":
        text = Path("sheet.html").read_text(encoding="utf-8")
        (position,) = re.findall(r"volume at unity \((\d\.\d)\)", text)
        (told,) = re.findall(
            r"volume = &#34;unity&#34; +# (\d\.\d\d) on this sheet, by RMS with a sine of 82.4 Hz", text
        )
        assert f"{float(told):.1f}" == position


def test_without_an_output_the_file_is_named_after_take_and_circuit(here):
    (here / "my box.toml").write_text('title = "Box"\n[octave]\nkind = "gain-gated"\n')
    assert sublatch("render", "take.wav", "-c", "gated-open").exit_code == 0
    assert sublatch("render", "take.wav", "-c", "my box.toml").exit_code == 0
    assert {path.name for path in here.glob("take-*")} == {"take-gated-open.wav", "take-my box.wav"}


def test_one_json_document_and_nothing_else_on_standard_output(here):
    result = sublatch("render", "take.wav", "-c", "gated-swept", "-o", "ö.wav", "--json")
    told = json.loads(result.stdout)
    assert told.keys() >= PROMISED
    assert (told["output"], told["sample_rate"], told["seconds"]) == ("ö.wav", RATE, 0.5)
    assert result.stdout.isascii()
    assert result.stderr == "note: 0 dBFS is taken for 1 V peak; say otherwise with --full-scale or --calibration\n"


def test_an_output_that_would_not_fit_is_noted(here):
    result = sublatch(
        "render", "take.wav", "-c", "gated-swept", "-o", "a.wav", "--full-scale", "100mV", "--set", "knobs.volume=10"
    )
    assert result.exit_code == 0
    assert result.stderr.startswith("note: the output would not fit the file, so the file is turned down by ")


@pytest.mark.parametrize("samples", [np.zeros(4000), np.zeros(1), np.array([0.25])])
def test_silence_and_a_single_sample_are_rendered_with_a_note(here, samples):
    write_audio("odd.wav", samples, RATE)
    result = sublatch("render", "odd.wav", "-c", "gated-swept", "-o", "a.wav", "--json")
    assert result.exit_code == 0
    assert "silent: every sample is 0" in result.stderr or "very short: 1 sample (0.125 ms)" in result.stderr

    def refuse(constant):
        raise AssertionError(constant)

    json.loads(result.stdout, parse_constant=refuse)
    assert "–" in sublatch("render", "odd.wav", "-c", "gated-swept", "-o", "a.wav").stdout


def test_a_clipped_take_is_rendered_with_a_warning(here):
    write_audio("hot.wav", np.clip(9 * NOTE, -1, 1), RATE)
    result = sublatch("render", "hot.wav", "-c", "gated-swept", "-o", "a.wav")
    assert result.exit_code == 0
    assert "note: clipped: " in result.stderr


@pytest.mark.parametrize(
    ("change", "setting"),
    [
        ("title=a=b", "a=b"),
        ("title = 'x = y' ", "x = y"),
        ('title="say \\"hi\\""', 'say "hi"'),
        ("title=2024-01-01", "2024-01-01"),
        ("title=07:32:00", "07:32:00"),
        ("title=9V [old", "9V [old"),
        ("title=größer", "größer"),
        ("knobs.tone=.5", 0.5),
        ("knobs.tone=5.", 5.0),
        ("knobs.tone=05", 5),
        ("knobs.tone=1e0", 1.0),
        ("filter.end_resistor=4k7", "4k7"),
        ('filter.end_resistor="4k7"', "4k7"),
        ("filter.end_resistor=4700", 4700),
        ("filter.ground_capacitor={flat='1n',peaked='2n'}", {"flat": "1n", "peaked": "2n"}),
    ],
)
def test_a_setting_is_read_as_it_is_meant(here, change, setting):
    result = sublatch("render", "take.wav", "-c", "gated-swept", "--set", change, "-o", "a.wav")
    assert result.exit_code == 0, result.stderr
    path = change.partition("=")[0].strip()
    assert json.loads(read_audio("a.wav").comment)["settings"] == {path: setting}


@pytest.mark.parametrize(
    "name", ["gated-first-order", "gated-open", "gated-swept", "polarity-swept", "polarity-third-order"]
)
@pytest.mark.parametrize("kind", ["none", "first-order", "second-order", "third-order", "swept-second-order"])
def test_any_filter_in_any_circuit_is_heard(here, name, kind):
    result = sublatch("render", "take.wav", "-c", name, "--set", f"filter.kind={kind}", "-o", "a.wav", "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["rms_dbfs"] > -40.0


def test_a_network_of_ones_own_is_heard_and_turned(here):
    parts = [
        '{part="rheostat",name="RV1",pot={value="100k"},end_resistor="3k",between=["in","a"]}',
        '{part="switched-capacitor",name="C1",value={flat="47n",peaked="100n"},between=["a","ground"]}',
        '{part="op-amp",name="U1",plus="a",minus="out",output="out"}',
    ]
    network = ("--set", "filter.kind=network", "--set", f"filter.parts=[{','.join(parts)}]")
    found = {}
    for tone in (0, 10):
        for peak in ("flat", "peaked"):
            turned = ("--set", f"knobs.tone={tone}", "--set", f"switches.peak={peak}")
            result = sublatch("render", "take.wav", "-c", "gated-swept", *network, *turned, "-o", "a.wav", "--json")
            assert result.exit_code == 0
            found[tone, peak] = json.loads(result.stdout)["rms_dbfs"]
    assert found[10, "flat"] > found[10, "peaked"] > found[0, "flat"] > found[0, "peaked"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("none.wav", "none.wav: there is no such file"),
        ("empty.wav", "empty.wav: must be a sound file, got an empty one"),
        ("text.wav", "text.wav: must be a sound file, got a text"),
        ("cut.wav", "cut.wav: was cut short"),
        ("zero.wav", "zero.wav: must hold sound, got no samples"),
        ("nan.wav", "nan.wav: every sample must be a number, got 1 that are not (NaN or infinite)"),
        ("inf.wav", "inf.wav: every sample must be a number, got 1 that are not (NaN or infinite)"),
        ("stereo.wav", "stereo.wav: must be mono, got 2 channels that differ"),
        ("folder.wav", "folder.wav: must be a sound file, got a folder"),
        ("integers.wav", "are they integers stored as floats?"),
    ],
)
def test_a_bad_take_is_refused_with_its_reason(tmp_path, monkeypatch, name, words):
    monkeypatch.chdir(tmp_path)
    broken = NOTE.copy()
    if name in {"nan.wav", "inf.wav"}:
        broken[100] = float(name[:3])
        soundfile.write(name, broken, RATE, subtype="FLOAT")
    elif name == "integers.wav":
        soundfile.write(name, NOTE * 30000, RATE, subtype="FLOAT")
    elif name == "stereo.wav":
        soundfile.write(name, np.column_stack([NOTE, NOTE / 2]), RATE)
    elif name == "zero.wav":
        soundfile.write(name, NOTE[:0], RATE)
    elif name == "cut.wav":
        soundfile.write(name, NOTE, RATE)
        (tmp_path / name).write_bytes((tmp_path / name).read_bytes()[:2000])
    elif name == "folder.wav":
        (tmp_path / name).mkdir()
    elif name != "none.wav":
        (tmp_path / name).write_text("" if name == "empty.wav" else "hello\n" * 20)
    before = list(tmp_path.iterdir())
    result = sublatch("render", name, "-c", "gated-swept", "-o", "a.wav", "--json")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith(f"sublatch: {name}: ")
    assert words in result.stderr
    assert result.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == before


def test_one_channel_of_several_can_be_chosen(here):
    write_audio("stereo.wav", np.column_stack([0 * NOTE, NOTE]), RATE)
    first = sublatch("render", "stereo.wav", "-c", "gated-swept", "-o", "a.wav", "--channel", "2", "--json")
    second = sublatch("render", "take.wav", "-c", "gated-swept", "-o", "b.wav", "--json")
    assert {**json.loads(first.stdout), "output": ""} == {**json.loads(second.stdout), "output": ""}
    assert "got channel 3" in sublatch("render", "stereo.wav", "-c", "gated-swept", "--channel", "3").stderr


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["-c", "gatedswept"], 2, "no built-in circuit 'gatedswept'; did you mean 'gated-swept'?"),
        (["-c", "box.toml"], 2, "box.toml: no such circuit; built in are gated-first-order"),
        (["-c", "gated-swept", "--set", "knobs.tone=11"], 2, "knobs.tone: a knob's position must be 0 (fully"),
        (["-c", "gated-swept", "--set", "filter.end_resistor=4k7k"], 2, "got '4k7k'"),
        (["-c", "gated-swept", "--set", "filter.end_resistor=0"], 2, "a resistance must be above zero"),
        (["-c", "gated-swept", "--set", "filter.end_resistor=-3k"], 2, "got '-3k' (-3000 Ω)"),
        (["-c", "gated-swept", "--set", "filter.end_resistor=3e99"], 2, "got 3e+99 Ω"),
        (["-c", "gated-swept", "--set", "filter.ground_capacitor.flat=47k"], 2, "that reads as a resistance"),
        (["-c", "gated-swept", "--set", "knobs.tune=4"], 2, "unknown key 'tune'; did you mean 'tone'?"),
        (["-c", "gated-swept", "--set", "kind=none"], 2, "unknown key 'kind'"),
        (["-c", "gated-swept", "--set", "knobs.tone="], 2, "--set takes PATH=VALUE, such as knobs.tone=3.5"),
        (["-c", "gated-swept", "--set", "=3"], 2, "--set takes PATH=VALUE, such as knobs.tone=3.5"),
        (["-c", "gated-swept", "--set", "knobs"], 2, "--set takes PATH=VALUE, such as knobs.tone=3.5"),
        (["-c", "gated-swept", "--full-scale", "0"], 2, "--full-scale must be above 0 V and at most 100 V, got '0'"),
        (
            ["-c", "gated-swept", "--full-scale", "-1V"],
            2,
            "--full-scale must be above 0 V and at most 100 V, got '-1V'",
        ),
        (["-c", "gated-swept", "--full-scale", "300"], 2, "got '300'; is it in millivolts?"),
        (["-c", "gated-swept", "--full-scale", "4k7R"], 2, "--full-scale: a voltage is written like 9V"),
        (["-c", "gated-swept", "--channel", "0"], 2, "0 is not in the range x>=1"),
        (["-c", "gated-swept", "--channel", "2"], 1, "the file has only channel 1, got channel 2"),
        (["-c", "gated-swept", "-o", "a.mp3"], 1, "a.mp3 must end in .wav or .flac, got '.mp3'"),
        (["-c", "gated-swept", "-o", "no/a.wav"], 1, "its folder does not exist"),
        (["-c", "gated-swept", "-o", "."], 1, ". must be a file, got a folder; add a file's name"),
        (["-c", "gated-swept", "-o", "take.wav"], 1, "take.wav is read, so it cannot be written to as well"),
        (
            ["-c", "gated-swept", "-o", "take.wav", "--overwrite"],
            1,
            "take.wav is read, so it cannot be written to as well",
        ),
        (["-c", "gated-swept", "-o", "mine.wav"], 1, "mine.wav exists and was not made by sublatch"),
        ([], 2, "Missing option '-c' / '--circuit'"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(here, arguments, status, words):
    (here / "mine.wav").write_text("mine")
    before = {path.name: path.read_bytes() for path in here.iterdir()}
    result = sublatch("render", "take.wav", *arguments)
    assert result.exit_code == status
    assert words in result.stderr
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1 or "Usage:" in result.stderr
    assert {path.name: path.read_bytes() for path in here.iterdir()} == before
