"""The scripts that carry sounds to the page: the file's own samples, and known again as this program's."""

from __future__ import annotations

import io
import json
import re
from base64 import b64decode

import numpy as np
import pytest
import soundfile

from small_auditions import write_plan
from sublatch.audition.folder import sound_script
from sublatch.audition.folder.manifest import Manifest
from sublatch.audition.folder.sound_script import is_sound_script, read_script, write_sound_script
from sublatch.audition.run import run_audition
from sublatch.files.sound import read_audio, write_audio

CALL = re.compile(r"// [^\n]*\nsublatchSound\((\"[^\n]*\"), \(\) => \{/\*([A-Za-z0-9+/=]+)\*/\}\);\n")


def write_script(path, sound, *, key):
    """Write the sound script of a file."""
    recording = read_audio(sound)
    write_sound_script(path, recording.samples, recording.sample_rate, key=key)


def carried(path):
    """Return key, samples as 32-bit integers, rate and subtype of what a sound script carries."""
    call = CALL.fullmatch(path.read_text(encoding="ascii"))
    with soundfile.SoundFile(io.BytesIO(b64decode(call[2], validate=True))) as file:
        return json.loads(call[1]), file.read(dtype="int32"), file.samplerate, (file.format, file.subtype)


@pytest.mark.parametrize("rate", [8000, 44100, 192000])
def test_a_carrier_has_the_files_own_samples(tmp_path, rng, rate):
    samples = rng.uniform(-1, 1, 5000)
    samples[:3] = 1.0, -1.0, 2.0**-23
    write_audio(tmp_path / "a.wav", samples, rate, title="t", comment="c")
    write_script(tmp_path / "a.js", tmp_path / "a.wav", key="k")
    key, found, found_rate, kind = carried(tmp_path / "a.js")
    assert (key, found_rate, kind) == ("k", rate, ("FLAC", "PCM_24"))
    assert np.array_equal(found, soundfile.read(tmp_path / "a.wav", dtype="int32")[0])


def test_fewer_bits_are_rounded_and_take_less_room(tmp_path, rng):
    samples = rng.uniform(-1, 1, (5000, 2))
    samples[:2] = [[1.0, -1.0], [2.0**-20, 2.0**-21]]
    for bits in (24, 20):
        write_sound_script(tmp_path / f"{bits}.js", samples, 48000, key="k", bits=bits)
    _, found, _, kind = carried(tmp_path / "20.js")
    assert kind == ("FLAC", "PCM_24")
    assert not np.any(found % 2**12)
    assert found[:2].tolist() == [[2**31 - 2**12, -(2**31)], [0, 0]]
    assert np.max(np.abs(found[1:] / 2.0**31 - samples[1:])) <= 2.0**-20
    assert (tmp_path / "20.js").stat().st_size < 0.87 * (tmp_path / "24.js").stat().st_size


@pytest.mark.parametrize("seconds", [0.19, 0.2, 0.21, 0.5])
def test_a_long_sound_comes_in_pieces_that_are_the_whole(tmp_path, rng, monkeypatch, seconds):
    """Twice a piece's length stays whole."""
    monkeypatch.setattr(sound_script, "PIECE_S", 0.1)
    write_audio(tmp_path / "a.wav", rng.uniform(-1, 1, (round(8000 * seconds), 2)), 8000)
    write_script(tmp_path / "a.js", tmp_path / "a.wav", key="k'")
    assert is_sound_script(tmp_path / "a.js")
    pieces = [soundfile.read(io.BytesIO(piece), dtype="int32")[0] for piece in read_script(tmp_path / "a.js")]
    assert [len(piece) for piece in pieces] == {0.19: [1520], 0.2: [1600], 0.21: [800, 800, 80]}.get(seconds, [800] * 5)
    assert np.array_equal(np.concatenate(pieces), soundfile.read(tmp_path / "a.wav", dtype="int32")[0])
    assert (f", {round(8000 * seconds)});" in (tmp_path / "a.js").read_text()) == (len(pieces) > 1)


@pytest.mark.parametrize("key", ["</script><img>", "' \" \\ \u2028 \n", "🎸"])
def test_a_key_is_only_a_text(tmp_path, key):
    write_audio(tmp_path / "a.wav", np.zeros(10), 8000)
    write_script(tmp_path / "a.js", tmp_path / "a.wav", key=key)
    assert carried(tmp_path / "a.js")[0] == key


def test_a_carrier_is_known_again_until_it_is_changed(tmp_path):
    path = tmp_path / "a.js"
    write_audio(tmp_path / "a.wav", np.zeros(10), 8000)
    write_script(path, tmp_path / "a.wav", key="k")
    assert is_sound_script(path)
    text = path.read_text()
    for other in (text + " ", text.replace("k", "l", 1), text.split("\n", 1)[1], "", "ä"):
        path.write_text(other, encoding="latin-1")
        assert not is_sound_script(path)
    assert not is_sound_script(tmp_path / "none.js")


@pytest.mark.usefixtures("plain_page")
def test_every_sound_of_an_audition_is_carried_under_its_digest(folder):
    result = run_audition(write_plan(folder))
    made = folder / "audition"
    for candidate in result.takes[0].candidates:
        key, found, rate, _ = carried(made / f"page/a/{candidate.name}.js")
        assert key == candidate.sha256
        assert len(key) == 64
        recording = read_audio(made / candidate.file)
        assert rate == recording.sample_rate
        assert np.array_equal(found / 2.0**31, recording.samples[:, 0])


@pytest.mark.usefixtures("plain_page")
def test_a_carrier_without_a_manifest_is_still_ours_and_a_strangers_is_not(folder):
    run_audition(write_plan(folder))
    made = folder / "audition"
    (made / ".sublatch.json").unlink()
    assert Manifest(made).is_ours(made / "page/a/open.js")
    (made / "page/a/open.js").write_text("sublatchSound('x', () => {/**/});\n")
    assert not Manifest(made).is_ours(made / "page/a/open.js")
