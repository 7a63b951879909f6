"""Full scale found once, kept in a file, and taken by every command and by plans."""

from __future__ import annotations

import json
import tomllib

import numpy as np
import pytest

from command_line import sublatch
from sublatch.files.sound import write_audio

RATE = 48000
FULL_SCALE_VOLTS = 1.7539
PLAN = 'takes = ["line.wav"]\n{}\n[[candidates]]\nname = "a"\ncircuit = "gated-open"\n'


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Give a working folder with a tone of 0.31 V RMS and a line in it."""
    monkeypatch.chdir(tmp_path)
    time_s = np.arange(3 * RATE) / RATE
    write_audio("tone.wav", 0.31 * np.sqrt(2) / FULL_SCALE_VOLTS * np.sin(2 * np.pi * 200.2 * time_s), RATE)
    wave = sum(np.sin(2 * np.pi * 55 * number * time_s) / number for number in (1, 2, 3))
    sound = np.concatenate([np.zeros(RATE), 0.2 * wave * np.exp(-time_s / 0.5)])
    write_audio("line.wav", sound + 1e-5 * np.random.default_rng(1).standard_normal(len(sound)), RATE)
    return tmp_path


@pytest.fixture
def calibrated(here):
    """The same with a calibration file."""
    assert sublatch("take", "tone.wav", "--meter", "0.31V", "-o", "interface.toml").exit_code == 0
    return here


def test_one_command_tells_full_scale_and_writes_it(here):
    result = sublatch("take", "tone.wav", "--meter", "310mV", "-o", "interface.toml")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "  full scale is 1.754 V\n" in result.stdout
    text = (here / "interface.toml").read_text()
    assert tomllib.loads(text) == {"full_scale": "1.754 V"}
    assert "# Found from tone.wav of 20" in text
    assert "the meter read 310 mV RMS" in text


def test_the_same_recording_gives_the_same_file_and_a_changed_one_is_kept(calibrated):
    first = (calibrated / "interface.toml").read_bytes()
    assert sublatch("take", "tone.wav", "--meter", "0.31V", "-o", "interface.toml").exit_code == 0
    assert (calibrated / "interface.toml").read_bytes() == first
    (calibrated / "interface.toml").write_bytes(first.replace(b"write it here", b"input 2, gain at noon"))
    kept = (calibrated / "interface.toml").read_bytes()
    result = sublatch("take", "tone.wav", "--meter", "0.5V", "-o", "interface.toml")
    assert result.exit_code == 1
    assert "changed since" in result.stderr
    assert (calibrated / "interface.toml").read_bytes() == kept


def test_a_calibration_and_a_circuit_do_not_replace_each_other(calibrated):
    found = sublatch("circuits", "gated-open")
    (calibrated / "box.toml").write_text(found.stdout)
    for arguments in (
        ("take", "tone.wav", "--meter", "0.31V", "-o", "box.toml"),
        ("tune", "line.wav", "-c", "gated-open", "--calibration", "interface.toml", "-o", "interface.toml"),
        (
            "tune",
            "line.wav",
            "-c",
            "gated-open",
            "--calibration",
            "interface.toml",
            "-o",
            "interface.toml",
            "--overwrite",
        ),
        ("take", "tone.wav", "--meter", "0.31V", "-o", "tone.wav", "--overwrite"),
    ):
        before = {path: path.read_bytes() for path in calibrated.iterdir()}
        assert sublatch(*arguments).exit_code == 1, arguments
        assert {path: path.read_bytes() for path in calibrated.iterdir()} == before


def test_json_tells_what_was_found(here):
    told = json.loads(sublatch("take", "tone.wav", "--meter", "0.31V", "--json").stdout)
    assert told["full_scale_volts"] == pytest.approx(FULL_SCALE_VOLTS, rel=1e-4)
    assert told["tone_hz"] == pytest.approx(200.2, abs=0.01)
    assert (told["file"], told["meter_volts"], told["remarks"], told["output"]) == ("tone.wav", 0.31, [], None)


@pytest.mark.parametrize(
    "arguments",
    [
        ("take", "line.wav"),
        ("track", "line.wav", "-c", "gated-open"),
        ("render", "line.wav", "-c", "gated-open", "-o", "out.wav", "--overwrite"),
        ("knobs", "-c", "gated-open", "--take", "line.wav"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_a_calibration_file_is_as_good_as_full_scale(calibrated, arguments):
    by_file = sublatch(*arguments, "--calibration", "interface.toml", "--json")
    by_volts = sublatch(*arguments, "--full-scale", "1.754V", "--json")
    assert by_file.exit_code == by_volts.exit_code == 0
    assert by_file.stdout == by_volts.stdout
    assert "0 dBFS is taken" not in by_file.stderr
    both = sublatch(*arguments, "--calibration", "interface.toml", "--full-scale", "2V")
    assert both.exit_code == 2
    assert "--full-scale and --calibration say the same; give one of them" in both.stderr


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("--meter", "0V"), 2, "--meter must be above 0 V and at most 100 V, got '0V'"),
        (("--meter", "-0.3V"), 2, "--meter must be above 0 V and at most 100 V, got '-0.3V'"),
        (("--meter", "310V"), 2, "is it in millivolts?"),
        (("--meter", "loud"), 2, "--meter: a voltage is written like"),
        (("--meter", "90V"), 1, "full scale must be at most 100 V"),
        (("--meter", "0.31V", "--full-scale", "2V"), 2, "leave out --full-scale and --calibration"),
        (("line.wav", "--meter", "0.31V"), 2, "--meter takes one recording of a tone, got 2"),
        (("-o", "x.toml"), 2, "-o and --overwrite belong to --meter"),
        (("--meter", "0.31V", "-o", "x.txt"), 1, "must end in .toml"),
        (("--meter", "0.31V", "-o", "gone/x.toml"), 1, "its folder does not exist"),
    ],
)
def test_bad_input_is_told(here, arguments, status, words):
    result = sublatch("take", "tone.wav", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert words in result.stderr


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("full_scal = '2V'", "unknown key 'full_scal'; did you mean 'full_scale'?"),
        ("full_scale = '2V'\ninput = 'b'", "unknown key 'input'"),
        ("full_scale = '0V'", "full_scale: must be more than 0 V, got '0V'"),
        ("", "full_scale: this key is needed and is not there"),
        ("full_scale 2V", "cal.toml"),
        (None, "no such calibration file; 'sublatch take tone.wav --meter 0.31V -o interface.toml' writes one"),
    ],
)
def test_a_bad_calibration_file_is_told_by_commands_and_plans(here, text, words):
    if text is not None:
        (here / "cal.toml").write_text(text)
    result = sublatch("take", "line.wav", "--calibration", "cal.toml")
    assert result.exit_code == 2
    assert words in result.stderr
    (here / "plan.toml").write_text(PLAN.format('calibration = "cal.toml"'))
    result = sublatch("audition", "plan.toml")
    assert result.exit_code == 2
    assert "plan.toml: calibration: " in result.stderr
    assert words in result.stderr
    assert not (here / "audition").exists()


def test_a_plan_takes_a_calibration_and_its_page_says_where_nothing_was_said(calibrated):
    (calibrated / "plan.toml").write_text(PLAN.format('calibration = "interface.toml"'))
    result = sublatch("audition", "plan.toml", "--json")
    assert result.exit_code == 0
    (take,) = json.loads(result.stdout)["takes"]
    assert (take["full_scale_volts"], take["full_scale_assumed"]) == (pytest.approx(1.754), False)
    assert "was not said" not in (calibrated / "audition" / "index.html").read_text(encoding="utf-8")
    (calibrated / "plan.toml").write_text(PLAN.format(""))
    result = sublatch("audition", "plan.toml", "--json")
    (take,) = json.loads(result.stdout)["takes"]
    assert take["full_scale_assumed"]
    assert "how many volts full scale stands for was not said" in (calibrated / "audition" / "index.html").read_text(
        encoding="utf-8"
    )
