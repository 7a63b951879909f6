"""``sublatch take``: a verdict on every file, and an exit status that tells of the bad ones."""

from __future__ import annotations

import json
import os
import sys

import numpy as np
import pytest
import soundfile

from command_line import sublatch
from sublatch.files.sound import write_audio

RATE = 48000
KEYS = [
    *("file", "sample_rate", "channels", "seconds", "peak_dbfs", "peak_volts", "noise_dbfs", "clipped_samples"),
    *("dc_offset", "lowest_pitch_hz", "highest_pitch_hz", "remarks", "fit"),
]


def note(peak=0.3, rate=RATE):
    """Return half a second of hiss, then a note of 110 Hz that dies away."""
    time_s = np.arange(rate) / rate
    wave = sum(np.sin(2 * np.pi * 110 * k * time_s) / k for k in (1, 2, 3))
    sound = np.concatenate([np.zeros(rate // 2), wave * np.exp(-time_s / 0.3) * np.minimum(1, (1 - time_s) / 0.01)])
    return peak * sound / np.max(np.abs(sound)) + 1e-5 * np.random.default_rng(1).standard_normal(len(sound))


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Give a working folder with a good take in it."""
    monkeypatch.chdir(tmp_path)
    write_audio("good.wav", note(), RATE)
    return tmp_path


def test_a_good_take_is_fit_to_use(here):
    result = sublatch("take", "good.wav", "--full-scale", "2V")
    assert result.exit_code == 0
    assert result.stderr == ""
    first, length, peak, noise, pitch, verdict = result.stdout.splitlines()
    assert (first, length) == ("good.wav", "  1.50 s at 48000 Hz, 1 channel")
    assert peak.startswith("  peak   -10.5 dBFS, 0.6")
    assert noise.startswith("  noise  -")
    assert pitch.startswith("  pitch  1")
    assert verdict == "  fit to use"


def test_that_full_scale_is_assumed_is_said_once_and_is_nothing_against_the_take(here):
    result = sublatch("take", "good.wav")
    assert result.stderr == ""
    assert result.stdout.splitlines()[-2:] == [
        "  fit to use",
        "  full scale is assumed to be 1 V; say what it really is with --full-scale or --calibration",
    ]


def test_a_fault_is_told_instead_of_a_verdict(here):
    write_audio("hot.wav", np.clip(note(3.0), -1, 1), RATE)
    result = sublatch("take", "hot.wav")
    assert result.exit_code == 1
    assert "  unfit\n  clipped: " in result.stdout
    assert "fit to use" not in result.stdout


def test_json_tells_codes_and_whether_it_is_fit(here):
    write_audio("hot.wav", np.clip(note(3.0), -1, 1), RATE)
    result = sublatch("take", "hot.wav", "good.wav", "--json")
    assert result.exit_code == 1
    hot, good = json.loads(result.stdout)["takes"]
    assert ([remark["code"] for remark in hot["remarks"]], hot["fit"]) == (["clipped", "full-scale-assumed"], False)
    assert ([remark["code"] for remark in good["remarks"]], good["fit"]) == (["full-scale-assumed"], True)
    assert hot["remarks"][0]["text"].startswith("clipped: ")


@pytest.mark.skipif(sys.platform == "win32", reason="needs a named pipe and a device")
@pytest.mark.parametrize("take", ["pipe.wav", "/dev/zero"])
@pytest.mark.parametrize(
    "before",
    [
        ("take",),
        ("render", "-c", "gated-open", "-o", "out.wav"),
        ("track", "-c", "gated-open"),
        ("tune", "-c", "gated-open"),
        ("knobs", "-c", "gated-open", "--take"),
    ],
    ids=lambda before: before[0],
)
def test_a_pipe_or_device_is_refused_at_once(here, take, before):
    os.mkfifo("pipe.wav")
    result = sublatch(*before, take)
    assert result.exit_code == 1
    assert f"{take}: must be a sound file, got a device or pipe" in result.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="needs a named pipe and a device")
@pytest.mark.parametrize("take", ["pipe.wav", "/dev/zero"])
def test_a_plan_refuses_a_pipe_or_device_too(here, take):
    os.mkfifo("pipe.wav")
    (here / "plan.toml").write_text(f'takes = ["{take}"]\n[[candidates]]\nname = "a"\ncircuit = "gated-open"\n')
    result = sublatch("audition", "plan.toml")
    assert result.exit_code == 1
    assert "must be a sound file, got a device or pipe" in result.stderr


def test_one_json_document_with_the_keys_that_are_promised(here):
    result = sublatch("take", "good.wav", "--json")
    (told,) = json.loads(result.stdout)["takes"]
    assert list(told) == KEYS
    assert told["file"] == "good.wav"


@pytest.mark.parametrize("samples", [np.zeros(RATE), np.zeros(1), np.array([0.25])])
def test_silence_and_a_single_sample_are_reported_as_valid_json(here, samples):
    write_audio("odd.wav", samples, RATE)
    assert sublatch("take", "odd.wav").exit_code == 1

    def refuse(constant):
        raise AssertionError(constant)

    json.loads(sublatch("take", "odd.wav", "--json").stdout, parse_constant=refuse)


def test_bad_files_are_named_and_the_good_ones_reported(here):
    (here / "text.wav").write_text("hello\n")
    soundfile.write("stereo.wav", np.column_stack([note(), note(0.1)]), RATE)
    result = sublatch("take", "gone.wav", "good.wav", "text.wav", "stereo.wav", here, "--json")
    assert result.exit_code == 1
    assert [told["file"] for told in json.loads(result.stdout)["takes"]] == ["good.wav"]
    assert [line.split(": ")[1] for line in result.stderr.splitlines()] == [
        "gone.wav",
        "text.wav",
        "stereo.wav",
        str(here),
    ]
    assert "choose one with --channel 1 to 2" in result.stderr
    assert sublatch("take", "stereo.wav", "--channel", "2").exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "Missing argument 'FILE...'"),
        (["good.wav", "--full-scale", "0V"], "--full-scale must be above 0 V and at most 100 V, got '0V'"),
        (["good.wav", "--full-scale", "loud"], "--full-scale: a voltage is written like 9V, 500mV or 1V5, got 'loud'"),
        (["good.wav", "--channel", "x"], "'x' is not a valid integer"),
    ],
)
def test_wrong_usage_is_refused_once(here, arguments, words):
    result = sublatch("take", *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count(words) == 1


def test_librosas_pitch_range_is_told_beside_ours_only_where_asked_for(here):
    plain, asked = (sublatch("take", "good.wav", *more) for more in ((), ("--second-opinion",)))
    lines = plain.stdout.splitlines()
    (added,) = (line for line in asked.stdout.splitlines() if line not in lines)
    assert added.startswith("         librosa: 110.")
    assert added.endswith(" Hz")
    found = json.loads(sublatch("take", "good.wav", "--second-opinion", "--json").stdout)["takes"][0]
    assert list(found) == [*KEYS[:-1], "second_opinion", "fit"]
    ours = found["lowest_pitch_hz"], found["highest_pitch_hz"]
    assert tuple(found["second_opinion"].values()) == pytest.approx(ours, rel=0.01)
    assert list(found["second_opinion"]) == ["lowest_pitch_hz", "highest_pitch_hz"]
    assert list(json.loads(sublatch("take", "good.wav", "--json").stdout)["takes"][0]) == KEYS


def test_where_librosa_finds_no_pitch_it_says_so(here):
    write_audio("hiss.wav", 0.1 * np.random.default_rng(1).standard_normal(RATE), RATE)
    result = sublatch("take", "hiss.wav", "--second-opinion")
    assert "\n         librosa: no pitch\n" in result.stdout


def test_a_second_opinion_is_refused_with_a_meter(here):
    result = sublatch("take", "good.wav", "--meter", "0.3V", "--second-opinion")
    assert result.exit_code == 2
    assert "--second-opinion tells pitches of notes; leave it out with --meter" in result.stderr
