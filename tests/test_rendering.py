"""One take through one circuit into a file: levels, what the file holds and says, and what it never replaces."""

from __future__ import annotations

import json
import os

import numpy as np
import pytest

from sublatch import rendering
from sublatch.circuit.load import load_circuit
from sublatch.errors import OutputError
from sublatch.files.sound import LONGEST_COMMENT_BYTES, read_audio, write_audio
from sublatch.json_data import plain_values
from sublatch.rendering import fitted, metadata, render_file
from sublatch.signal.chain import render
from sublatch.takes.take import read_take, take_from_samples

RATE = 8000


def tone(seconds=0.6, *, rate=RATE, peak=0.3):
    """Return a decaying note of 60 Hz, in volts."""
    time_s = np.arange(round(seconds * rate)) / rate
    return peak * np.exp(-time_s) * np.sin(2 * np.pi * 60 * time_s)


def take(samples=None, *, rate=RATE, full_scale_volts=1.0, name="my take"):
    chosen = tone(rate=rate) if samples is None else samples
    return take_from_samples(chosen, rate, full_scale_volts=full_scale_volts, name=name)


def to_dbfs(value):
    return 20 * np.log10(value)


@pytest.fixture
def circuit():
    return load_circuit("gated-swept")


def test_the_file_is_the_circuits_output_at_the_takes_full_scale(tmp_path, circuit):
    report = render_file(take(full_scale_volts=2.0), circuit, tmp_path / "a.wav")
    recording = read_audio(tmp_path / "a.wav")
    wanted = render(take(), circuit).samples / 2.0
    assert recording.samples[:, 0] == pytest.approx(wanted, abs=2.0**-24)
    assert report.written_gain_db == 0.0
    assert (recording.subtype, recording.container) == ("PCM_24", "WAV")
    assert recording.title == f"my take: {circuit.title}"


def test_the_report_measures_the_circuit_against_the_bypassed_take(tmp_path, circuit):
    report = render_file(take(full_scale_volts=2.0), circuit, tmp_path / "a.wav")
    out, bypassed = read_audio(tmp_path / "a.wav").samples[:, 0], tone() / 2.0
    assert report.peak_dbfs == pytest.approx(to_dbfs(np.max(np.abs(out))), abs=1e-4)
    assert report.effect_rms_gain_db == pytest.approx(to_dbfs(np.std(out) / np.std(bypassed)), abs=0.05)
    assert report.rms_dbfs == pytest.approx(to_dbfs(np.sqrt(2 * np.mean(out**2))), abs=1e-4)  # AES17: a sine reads 0
    assert report.seconds == 0.6
    assert report.sample_rate == RATE
    assert report.at_limit_share == 0.0


def test_a_report_has_the_keys_that_are_promised_and_is_json(tmp_path, circuit):
    told = plain_values(render_file(take(), circuit, tmp_path / "a.wav"))
    promised = "output sample_rate seconds peak_dbfs loudness_lufs rms_dbfs at_limit_share effect_gain_db"
    assert set(promised.split()) <= told.keys()
    assert json.loads(json.dumps(told, allow_nan=False)) == told


@pytest.mark.parametrize("full_scale_volts", [0.1, 0.3])
def test_an_output_that_would_not_fit_is_turned_down_in_the_file_alone(tmp_path, circuit, full_scale_volts):
    report = render_file(take(full_scale_volts=full_scale_volts), circuit, tmp_path / "a.wav")
    peak = np.max(np.abs(render(take(), circuit).samples)) / full_scale_volts
    assert report.peak_dbfs == pytest.approx(to_dbfs(peak))
    assert peak > 1.0
    assert report.written_gain_db == pytest.approx(-1.0 - to_dbfs(peak))
    recording = read_audio(tmp_path / "a.wav")
    assert to_dbfs(np.max(np.abs(recording.samples))) == pytest.approx(-1.0, abs=1e-4)
    assert json.loads(recording.comment)["gain_db"] == pytest.approx(report.written_gain_db, abs=5e-4)


def test_levels_do_not_depend_on_what_fits(tmp_path, circuit):
    """In volts nothing changes with the full scale: all levels move by its ratio, gains not at all."""
    loud = render_file(take(full_scale_volts=0.1), circuit, tmp_path / "a.wav")
    soft = render_file(take(full_scale_volts=1.0), circuit, tmp_path / "b.wav")
    for name in ("peak_dbfs", "loudness_lufs", "rms_dbfs", "low_band_dbfs"):
        assert getattr(loud, name) - getattr(soft, name) == pytest.approx(20.0, abs=1e-6)
    assert loud.effect_gain_db == pytest.approx(soft.effect_gain_db, abs=1e-6)


def test_a_fading_battery_brings_the_output_to_its_limits(tmp_path):
    """Of ideal parts, so that the output rests half way between its limits."""
    changes = {"supply": "3.2V", "knobs.volume": 10, "devices.values": "ideal"}
    worn = load_circuit("gated-swept", changes=changes)
    report = render_file(take(tone(peak=1.0)), worn, tmp_path / "a.wav")
    assert 0.05 < report.at_limit_share < 1.0
    assert -20.0 < report.peak_dbfs < -19.0  # limits of ±0.1 V; a band-limited corner rings 9 % past them, 0.75 dB


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 96000])
def test_the_file_has_the_takes_rate_and_length(tmp_path, circuit, rate):
    report = render_file(take(tone(0.5, rate=rate), rate=rate), circuit, tmp_path / "a.wav")
    recording = read_audio(tmp_path / "a.wav")
    assert report.sample_rate == recording.sample_rate == rate
    assert recording.samples.shape == (rate // 2, 1)


def test_wav_and_flac_hold_the_same_and_the_same_bytes_come_twice(tmp_path, circuit):
    for name in ("a.wav", "b.wav", "a.flac", "b.FLAC"):
        render_file(take(), circuit, tmp_path / name, settings={"knobs.tone": 4})
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()
    assert (tmp_path / "a.flac").read_bytes() == (tmp_path / "b.FLAC").read_bytes()
    wav, flac = read_audio(tmp_path / "a.wav"), read_audio(tmp_path / "a.flac")
    assert np.array_equal(wav.samples, flac.samples)
    assert wav.comment == flac.comment


@pytest.mark.parametrize("samples", [np.zeros(4000), np.array([0.3]), np.zeros(1), np.full(4000, 1e-310)])
def test_silence_and_a_single_sample_render_to_valid_json(tmp_path, circuit, samples):
    report = render_file(take(samples), circuit, tmp_path / "a.wav")
    assert len(read_audio(tmp_path / "a.wav").samples) == len(samples)
    assert report.loudness_lufs is report.effect_gain_db is None or len(samples) == 1
    assert json.loads(json.dumps(plain_values(report), allow_nan=False))["written_gain_db"] == 0.0


def test_silence_in_is_silence_out(tmp_path, circuit):
    report = render_file(take(np.zeros(4000)), circuit, tmp_path / "a.wav")
    assert not np.any(read_audio(tmp_path / "a.wav").samples)
    assert report.peak_dbfs is report.rms_dbfs is None


def test_the_file_tells_how_it_came_to_be(tmp_path, circuit):
    settings = {"title": 'größer "x"\n', "knobs.tone": 4}
    render_file(take(full_scale_volts=2.0), circuit, tmp_path / "a.wav", settings=settings)
    told = json.loads(read_audio(tmp_path / "a.wav").comment)
    assert told == {
        "circuit": circuit.title,
        "settings": settings,
        "knobs": {"volume": 7.5, "direct": 0.0, "tone": 4.0},
        "switches": {"drive": "normal", "peak": "flat"},
        "full_scale_volts": 2.0,
        "gain_db": 0.0,
    }


def test_metadata_that_would_be_too_long_still_is_json(tmp_path):
    circuit = load_circuit("gated-open", changes={"title": "ö" * 3000})
    settings = {f"filter.parts.{n}": "ü" * 20 for n in range(100)}
    told = metadata(take(), circuit, settings, -1.5)
    assert len(told.encode()) <= LONGEST_COMMENT_BYTES
    render_file(take(), circuit, tmp_path / "a.wav", settings=settings)
    assert json.loads(read_audio(tmp_path / "a.wav").comment)["settings"] == "too many to be told here"
    assert json.loads(metadata(take(), None, {}, -0.0001)) == {
        "circuit": "bypassed",
        "full_scale_volts": 1.0,
        "gain_db": 0.0,
    }


def test_a_gain_of_nothing_leaves_the_samples_as_they_are():
    samples = tone()
    assert fitted(samples, 0.0) is samples
    assert fitted(samples, -20.0) == pytest.approx(samples / 10)


def test_an_earlier_rendering_is_replaced_and_a_changed_one_is_not(tmp_path, circuit):
    path = tmp_path / "a.wav"
    render_file(take(), circuit, path)
    render_file(take(tone(0.5)), circuit, path)
    assert len(read_audio(path).samples) == RATE // 2
    data = bytearray(path.read_bytes())
    data[-9] ^= 1
    path.write_bytes(data)
    with pytest.raises(OutputError, match=r"a\.wav exists and was not made by sublatch, or was changed since"):
        render_file(take(), circuit, path)
    assert path.read_bytes() == data
    render_file(take(), circuit, path, overwrite=True)
    assert len(read_audio(path).samples) == round(0.6 * RATE)


@pytest.mark.parametrize("link", [None, os.symlink, os.link])
@pytest.mark.parametrize("overwrite", [False, True])
def test_the_take_itself_is_never_replaced(tmp_path, circuit, overwrite, link):
    source = tmp_path / "take.wav"
    write_audio(source, tone(), RATE)
    before = source.read_bytes()
    output = tmp_path / "out.wav" if link else source
    if link:
        link(source, output)
    with pytest.raises(OutputError, match="so it cannot be written to as well"):
        render_file(read_take(source), circuit, output, overwrite=overwrite)
    assert source.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("a.mp3", r"a\.mp3 must end in \.wav or \.flac, got '\.mp3'"),
        ("a", r"a must end in \.wav or \.flac, got no ending"),
        ("no/a.wav", r"a\.wav cannot be written: its folder does not exist"),
        ("file/a.wav", r"a\.wav cannot be written: a part of its path is a file"),
        ("folder.wav", r"folder\.wav must be a file, got a folder"),
    ],
)
def test_what_cannot_be_written_is_refused_before_any_work(tmp_path, circuit, monkeypatch, name, words):
    monkeypatch.setattr(rendering, "render", lambda *_: pytest.fail("work was done"))
    (tmp_path / "file").write_text("")
    (tmp_path / "folder.wav").mkdir()
    with pytest.raises(OutputError, match=words):
        render_file(take(), circuit, tmp_path / name)
