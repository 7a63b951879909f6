"""Sound files: exact, whole, recognised; and every way in which a file can be bad."""

import os
import signal
import struct
import subprocess
import sys

import numpy as np
import pytest
import soundfile

from sublatch.errors import AudioDataError, AudioFileError, OutputError
from sublatch.files import encoding
from sublatch.files import sound as files
from sublatch.files.sound import made_here, read_audio, write_audio

RNG = np.random.default_rng(7)
SOUND = RNG.uniform(-0.9, 0.9, 12000)
LSB = 2.0**-23


def wav(content, *, promised=None, riff=None, tail=b"", order="<", rate=48000):
    """Return a 16-bit mono WAV file whose header may say something else than what follows."""
    fmt = b"fmt " + struct.pack(order + "IHHIIHH", 16, 1, 1, rate, 2 * rate, 2, 16)
    size = len(content) if promised is None else promised
    body = b"WAVE" + fmt + b"data" + struct.pack(order + "I", size) + content + tail
    return (b"RIFF" if order == "<" else b"RIFX") + struct.pack(order + "I", len(body) if riff is None else riff) + body


# Writing and reading back


@pytest.mark.parametrize("name", ["a.wav", "a.flac", "A.WAV"])
@pytest.mark.parametrize("shape", [(12000,), (6000, 2)])
@pytest.mark.parametrize("rate", [8000, 44100, 192000])
def test_what_is_written_is_the_nearest_24_bit_value(tmp_path, name, shape, rate):
    samples = SOUND.reshape(shape)
    write_audio(tmp_path / name, samples, rate, title="Tïtle", comment="tone = 4, µ")
    got = read_audio(tmp_path / name)
    assert np.array_equal(got.samples, (np.rint(samples / LSB) * LSB).reshape(len(samples), -1))
    assert (got.sample_rate, got.subtype, got.title, got.comment) == (rate, "PCM_24", "Tïtle", "tone = 4, µ")
    assert got.container == name[2:].upper()
    assert got.software.startswith("sublatch 0.")
    write_audio(tmp_path / ("again" + name), got.samples, rate)
    assert np.array_equal(read_audio(tmp_path / ("again" + name)).samples, got.samples)


def test_rounding_has_no_bias(tmp_path):
    write_audio(tmp_path / "a.wav", SOUND, 48000)
    error = (read_audio(tmp_path / "a.wav").samples[:, 0] - SOUND) / LSB
    # uniform over ±1/2 step: the mean of 12000 has a standard deviation of 0.0026; rounding down gives −0.5
    assert abs(np.mean(error)) < 0.012


def test_full_scale_is_kept_and_only_plus_one_loses_a_step(tmp_path):
    write_audio(tmp_path / "a.wav", np.array([1.0, -1.0, 0.0, 1.0 - LSB]), 48000)
    assert read_audio(tmp_path / "a.wav").samples[:, 0].tolist() == [1.0 - LSB, -1.0, 0.0, 1.0 - LSB]


@pytest.mark.parametrize("name", ["a.wav", "a.flac"])
def test_the_same_sound_gives_the_same_bytes(tmp_path, name):
    made = []
    for _ in range(2):
        write_audio(tmp_path / name, SOUND, 48000, title="t", comment="c")
        made.append((tmp_path / name).read_bytes())
    assert made[0] == made[1]


def test_past_four_gigabytes_an_rf64_file_is_written(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "LARGEST_WAV_BYTES", 3 * 11999)
    write_audio(tmp_path / "big.wav", SOUND, 48000, comment="c")
    write_audio(tmp_path / "fits.wav", SOUND[:11999], 48000, comment="c")
    got = read_audio(tmp_path / "big.wav")
    assert (got.container, got.comment, len(got.samples)) == ("RF64", "c", 12000)
    assert read_audio(tmp_path / "fits.wav").container == "WAV"
    assert made_here(tmp_path / "big.wav")


def test_the_largest_wav_and_its_header_fit_32_bits():
    assert files.LARGEST_WAV_BYTES + files.LONGEST_COMMENT_BYTES + files.LONGEST_TITLE_BYTES + 1000 < 2**32


@pytest.mark.parametrize("name", ["a.wav", "a.flac"])
def test_long_and_many_line_tags_survive_or_are_cut(tmp_path, name):
    write_audio(tmp_path / name, SOUND, 48000, title="é" * 1000, comment=" a\nb\0c " + "x" * 5000)
    got = read_audio(tmp_path / name)
    assert got.title == "é" * 123 + "…"
    assert got.comment == ("a b c " + "x" * 5000)[:1897] + "…"
    assert made_here(tmp_path / name)


def test_odd_text_in_tags_does_no_harm(tmp_path):
    write_audio(tmp_path / "a.wav", SOUND, 48000, title="\ud800\0", comment="\ud800")
    got = read_audio(tmp_path / "a.wav")
    assert (got.title, got.comment) == ("", "")
    assert made_here(tmp_path / "a.wav")


@pytest.mark.parametrize(
    ("samples", "rate", "words"),
    [
        (np.array([0.0, 1.01]), 48000, r"within ±1 .* got a peak of 1\.01 \(\+0\.1 dBFS\), over first at 0\.0000 s"),
        (np.array([0.0, -2.0]), 48000, r"got a peak of 2 \(\+6\.0 dBFS\)"),
        (np.array([0.0, np.nan, np.inf]), 8000, r"must be a number, got 2 that are not, first at 0\.0001 s"),
        (np.array([], dtype=float), 48000, r"shape \(n,\).*got \(0,\)"),
        (np.zeros((2, 4000)), 48000, r"got \(2, 4000\); is it transposed\?"),
        (np.zeros((2, 2, 2)), 48000, r"got \(2, 2, 2\)"),
        (np.array(0.0), 48000, r"got \(\)"),
        (np.zeros(9, dtype=np.int16), 48000, "must be floats within ±1, got int16"),
        (np.zeros(9), 48, r"8000 to 192000 Hz, got 48; is it in kilohertz\?"),
        (np.zeros(9), 384000, "8000 to 192000 Hz, got 384000"),
        (np.zeros(9), 44100.5, "must be a whole number .* got 44100.5"),
        (np.zeros(9), float("nan"), "got nan"),
    ],
)
def test_samples_that_cannot_be_written_are_refused(tmp_path, samples, rate, words):
    with pytest.raises(AudioDataError, match=words):
        write_audio(tmp_path / "a.wav", samples, rate)
    assert list(tmp_path.iterdir()) == []


def test_other_endings_and_places_are_refused(tmp_path):
    with pytest.raises(OutputError, match=r"must end in \.wav or \.flac, got '\.mp3'"):
        write_audio(tmp_path / "a.mp3", SOUND, 48000)
    with pytest.raises(OutputError, match="its folder does not exist"):
        write_audio(tmp_path / "no" / "a.wav", SOUND, 48000)


FULL_DISK = """
import resource, sys
import numpy as np
from sublatch.errors import OutputError
from sublatch.files.sound import write_audio
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, resource.RLIM_INFINITY))
try:
    write_audio(sys.argv[1], np.random.default_rng(0).uniform(-1, 1, 100_000), 48000)
except OutputError as problem:
    print(problem)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs a limit on the size of files")
@pytest.mark.parametrize("name", ["a.wav", "a.flac"])
def test_a_disk_that_fills_up_midway_is_told_and_leaves_nothing(tmp_path, name):
    done = subprocess.run(
        [sys.executable, "-c", FULL_DISK, str(tmp_path / name)], capture_output=True, text=True, check=True
    )
    assert f"{name} cannot be written: it would be larger than a file may be here" in done.stdout
    assert done.stderr == ""
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("step", ["write", "seek", "tell"])
@pytest.mark.parametrize(
    ("problem", "kind", "words"),
    [
        (OSError(28, "No space left on device"), OutputError, "the disk is full"),
        (KeyboardInterrupt("stop"), KeyboardInterrupt, "stop"),
    ],
)
def test_a_failure_inside_the_library_comes_out_again(tmp_path, monkeypatch, step, problem, kind, words):
    def fail(*_):
        raise problem

    made = encoding.Sink.__init__

    def broken(self, raw):
        made(self, raw)

        class Broken:
            pass

        for name in ("write", "seek", "tell"):
            setattr(Broken, name, fail if name == step else getattr(raw, name))
        self._raw = Broken

    monkeypatch.setattr(encoding.Sink, "__init__", broken)
    with pytest.raises(kind, match=words):
        write_audio(tmp_path / "a.wav", SOUND, 48000)
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_is_not_lost_in_the_library_s_calls_back_into_python(tmp_path, monkeypatch):
    write = encoding.Sink.write

    def interrupted(self, data):
        signal.raise_signal(signal.SIGINT)
        return write(self, data)

    monkeypatch.setattr(encoding.Sink, "write", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_audio(tmp_path / "a.wav", SOUND, 48000)
    assert list(tmp_path.iterdir()) == []


# Files of the program's own


def tags_and_pcm(path):
    """Return a file's tags and its samples as integers, as an editor reads them."""
    with soundfile.SoundFile(path) as file:
        return {key: getattr(file, key) for key in ("title", "comment", "software")}, file.read(dtype="int32")


def rewrite(path, tags, pcm, *, rate=48000, subtype="PCM_24"):
    """Write a file as an editor writes it."""
    with soundfile.SoundFile(path, "w", rate, 1, subtype) as file:
        for key, value in tags.items():
            setattr(file, key, value)
        file.write(pcm)


def test_own_files_are_known_until_they_are_changed(tmp_path):
    path = tmp_path / "a.wav"
    write_audio(path, SOUND, 48000, title="t", comment="c")
    assert made_here(path)
    whole = path.read_bytes()
    path.write_bytes(whole[:-3])
    assert not made_here(path)
    path.write_bytes(whole[:-2] + bytes([whole[-2] ^ 1]) + whole[-1:])
    assert not made_here(path)
    path.write_bytes(whole)
    assert made_here(path)


@pytest.mark.parametrize("change", ["title", "comment", "software", "rate", "gain", "subtype"])
def test_any_edit_makes_a_file_the_users(tmp_path, change):
    path = tmp_path / "a.wav"
    write_audio(path, SOUND, 48000, title="t", comment="c")
    tags, pcm = tags_and_pcm(path)
    edits = {"title": "u", "comment": "d" + tags["comment"], "software": "editor"}
    tags |= {change: edits[change]} if change in edits else {}
    rate, kind = (44100 if change == "rate" else 48000), ("PCM_16" if change == "subtype" else "PCM_24")
    rewrite(path, tags, pcm // 2 if change == "gain" else pcm, rate=rate, subtype=kind)
    assert not made_here(path)


def test_the_same_rewriting_without_an_edit_stays_ours(tmp_path):
    path = tmp_path / "a.wav"
    write_audio(path, SOUND, 48000, title="t", comment="c")
    rewrite(path, *tags_and_pcm(path))
    assert made_here(path)


def test_other_files_were_not_made_here(tmp_path):
    soundfile.write(tmp_path / "b.wav", SOUND, 48000)
    (tmp_path / "c.wav").write_text("sublatch sublatch-digest=0123456789abcdef")
    (tmp_path / "d.raw").write_bytes(bytes(100))
    (tmp_path / "e.wav").write_bytes(b"")
    for name in ("b.wav", "c.wav", "d.raw", "e.wav", "absent.wav", "."):
        assert not made_here(tmp_path / name)


# Every kind of file that a recorder may leave

KINDS = [
    ("a.wav", "WAV", "PCM_U8", 2**-7),
    ("a.wav", "WAV", "PCM_16", 2**-15),
    ("a.wav", "WAV", "PCM_24", 2**-23),
    ("a.wav", "WAV", "PCM_32", 2**-30),
    ("a.wav", "WAV", "FLOAT", 2**-24),
    ("a.wav", "WAV", "DOUBLE", 0.0),
    ("a.wav", "WAVEX", "PCM_24", 2**-23),
    ("a.wav", "RF64", "PCM_24", 2**-23),
    ("a.w64", "W64", "PCM_24", 2**-23),
    ("a.aiff", "AIFF", "PCM_24", 2**-23),
    ("a.aiff", "AIFF", "FLOAT", 2**-24),
    ("a.caf", "CAF", "PCM_16", 2**-15),
    ("a.flac", "FLAC", "PCM_16", 2**-15),
    ("a.ogg", "OGG", "VORBIS", 0.3),
]
TELEPHONE = [("WAV", "GSM610"), ("W64", "GSM610"), ("AIFF", "GSM610"), ("WAV", "G721_32"), ("WAV", "NMS_ADPCM_16")]
"""Kinds for speech, which a phone or an old recorder may leave, and in which libsndfile cannot seek."""


@pytest.mark.parametrize(("name", "container", "subtype", "within"), KINDS)
def test_every_usual_kind_is_read_at_plus_minus_one(tmp_path, name, container, subtype, within):
    soft = 0.5 * np.sin(np.arange(12000) * 0.05)
    soundfile.write(tmp_path / name, soft, 44100, format=container, subtype=subtype)
    got = read_audio(tmp_path / name)
    assert (got.samples.shape, got.samples.dtype, got.sample_rate) == ((12000, 1), np.float64, 44100)
    assert (got.container, got.subtype) == (container, subtype)
    assert np.max(np.abs(got.samples[:, 0] - soft)) <= within


@pytest.mark.parametrize(("container", "subtype"), TELEPHONE)
def test_kinds_that_only_play_from_the_start_are_read_too(tmp_path, container, subtype):
    soft = 0.3 * np.sin(2 * np.pi * 110 * np.arange(16000) / 8000)
    soundfile.write(tmp_path / "a.snd", soft, 8000, format=container, subtype=subtype)
    got = read_audio(tmp_path / "a.snd").samples[:16000, 0]
    assert len(got) == 16000
    # such codecs delay or colour the sound by a little; it must be the same tone for its whole length
    spectrum = np.abs(np.fft.rfft(got * np.hanning(16000)))
    assert np.argmax(spectrum) == 220
    assert [np.std(part) for part in np.split(got, 4)] == pytest.approx([0.212] * 4, abs=0.03)


@pytest.mark.parametrize("size", [2**62, 2**63 - 8, 2**63 - 1, 2**63, 2**63 + 24, 2**64 - 2, 2**64 - 1])
@pytest.mark.parametrize("chunk", [b"fmt ", b"data"])
def test_sizes_beyond_any_disk_are_told_or_passed_over(tmp_path, chunk, size):
    soundfile.write(tmp_path / "a.w64", SOUND[:4000], 48000, format="W64", subtype="PCM_16")
    data = bytearray((tmp_path / "a.w64").read_bytes())
    place = data.find(chunk) + 16
    data[place : place + 8] = struct.pack("<Q", size)
    (tmp_path / "a.w64").write_bytes(data)
    if chunk == b"data" and size == 2**64 - 1:  # what a program writes that does not know yet how long it will be
        assert len(read_audio(tmp_path / "a.w64").samples) == 4000
        return
    with pytest.raises(AudioFileError, match=r"a\.w64: (its header is damaged, cut short|was cut short)"):
        read_audio(tmp_path / "a.w64")


@pytest.mark.parametrize(("name", "container", "subtype", "within"), [kind for kind in KINDS if kind[1] != "OGG"])
def test_a_file_cut_anywhere_is_refused(tmp_path, name, container, subtype, within):
    soundfile.write(tmp_path / name, SOUND[:4000], 48000, format=container, subtype=subtype)
    whole = (tmp_path / name).read_bytes()
    tail = 16 if container == "AIFF" and subtype == "FLOAT" else 0
    sound_ends = len(whole) - tail
    for size in [*range(1, 200, 7), *range(200, sound_ends, sound_ends // 23), sound_ends - 1]:
        (tmp_path / name).write_bytes(whole[:size])
        with pytest.raises(AudioFileError, match=r"cut short|no samples|got a text|got something else"):
            read_audio(tmp_path / name)


def test_a_cut_file_says_how_much_is_missing(tmp_path):
    (tmp_path / "a.wav").write_bytes(wav(bytes(1000))[:-150])
    with pytest.raises(AudioFileError, match=r"a\.wav: was cut short: 150 bytes .* missing; copy or export it again"):
        read_audio(tmp_path / "a.wav")


def test_a_long_file_says_where_its_length_is_and_that_it_was_cut(tmp_path):
    ds64 = b"ds64" + struct.pack("<IQQQI", 28, 2**33, 2**33 - 100, 2**32, 0)
    start = wav(bytes(1000), promised=0xFFFFFFFF)
    (tmp_path / "a.wav").write_bytes(b"RF64\xff\xff\xff\xffWAVE" + ds64 + start[12:])
    with pytest.raises(AudioFileError, match=f"cut short: {2**33 - 1100} bytes"):
        read_audio(tmp_path / "a.wav")


@pytest.mark.parametrize(
    ("data", "count"),
    [
        (wav(b"\1\0" * 100, promised=0xFFFFFFFF, riff=0xFFFFFFFF), 100),
        (wav(b"\1\0" * 100, promised=0x7FFFF000, riff=0x7FFFF024), 100),
        (wav(b"\1\0" * 100, tail=b"LIST" + struct.pack("<I", 400) + b"INFO"), 100),
        (wav(b"\1\0" * 100 + b"\1"), 100),
        (wav(b"\0\1" * 100, order=">"), 100),
        (wav(b"\1\0" * 100, tail=b"junk" + struct.pack("<I", 3) + b"abc\0"), 100),
    ],
    ids=["streamed", "piped", "cut after the sound", "no padding", "big-endian", "odd chunk"],
)
def test_what_is_odd_but_whole_is_read(tmp_path, data, count):
    (tmp_path / "a.wav").write_bytes(data)
    assert len(read_audio(tmp_path / "a.wav").samples) == count


def test_chunks_of_odd_length_before_the_sound_do_not_mislead(tmp_path):
    plain = wav(bytes(1000))
    data = plain[:36] + b"note" + struct.pack("<I", 3) + b"dat\0" + plain[36:]
    data = data[:4] + struct.pack("<I", len(data) - 8) + data[8:]
    (tmp_path / "a.wav").write_bytes(data)
    assert len(read_audio(tmp_path / "a.wav").samples) == 500
    (tmp_path / "a.wav").write_bytes(data[:-10])
    with pytest.raises(AudioFileError, match="cut short: 10 bytes"):
        read_audio(tmp_path / "a.wav")


@pytest.mark.parametrize("data", [wav(b""), wav(b"", tail=b"LIST\4\0\0\0INFO"), wav(b"\1\0" * 90, promised=0, riff=0)])
def test_a_file_without_samples_is_refused(tmp_path, data):
    (tmp_path / "a.wav").write_bytes(data)
    with pytest.raises(AudioFileError, match=r"must hold sound, got no samples; was the recorder stopped too early"):
        read_audio(tmp_path / "a.wav")


def test_a_header_that_promises_the_moon_costs_no_memory(tmp_path):
    soundfile.write(tmp_path / "a.flac", SOUND, 48000)
    data = bytearray((tmp_path / "a.flac").read_bytes())
    # STREAMINFO: the last 36 bits of the 8 bytes at 18 are the number of samples (RFC 9639, 8.2)
    data[21] |= 0x0F
    data[22:26] = b"\xff\xff\xff\xff"
    (tmp_path / "a.flac").write_bytes(data)
    with pytest.raises(AudioFileError, match=r"cut short"):
        read_audio(tmp_path / "a.flac")


def test_silence_that_packs_small_is_read_whole(tmp_path):
    soundfile.write(tmp_path / "a.flac", np.zeros((500_000, 2)), 48000)
    assert (tmp_path / "a.flac").stat().st_size * 8 < 1_000_000
    assert read_audio(tmp_path / "a.flac").samples.shape == (500_000, 2)


def test_a_damaged_file_is_refused(tmp_path):
    soundfile.write(tmp_path / "a.flac", SOUND, 48000)
    data = bytearray((tmp_path / "a.flac").read_bytes())
    data[len(data) // 2] ^= 0xFF
    (tmp_path / "a.flac").write_bytes(data)
    with pytest.raises(AudioFileError, match="is damaged or was cut short"):
        read_audio(tmp_path / "a.flac")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", r"got an empty one \(0 bytes\)"),
        (b"# my notes\nplay louder\n", "must be a sound file, got a text"),
        ("höher, bitte".encode(), "must be a sound file, got a text"),
        (bytes(range(256)) * 9, r"must be a sound file \(WAV, .*\), got something else; export it as WAV or FLAC"),
        (b"RIFF\x10\0\0\0AVI LIST" + bytes(30), "its header is damaged, cut short or of an unknown kind"),
        (wav(bytes(100), rate=4000), "the sample rate must be 8000 to 192000 Hz, got 4000 Hz"),
        (wav(bytes(100), rate=384000), "the sample rate must be 8000 to 192000 Hz, got 384000 Hz"),
    ],
)
def test_what_is_no_usable_sound_file_is_explained(tmp_path, content, words):
    (tmp_path / "a.wav").write_bytes(content)
    with pytest.raises(AudioFileError, match=r"a\.wav: .*" + words):
        read_audio(tmp_path / "a.wav")


def test_what_is_no_file_is_explained(tmp_path, monkeypatch):
    with pytest.raises(AudioFileError, match=r"absent\.wav: there is no such file"):
        read_audio(tmp_path / "absent.wav")
    with pytest.raises(AudioFileError, match="must be a sound file, got a folder"):
        read_audio(tmp_path)
    (tmp_path / "a.raw").write_bytes(bytes(100))
    with pytest.raises(AudioFileError, match=r"must have a header, got a \.raw file"):
        read_audio(tmp_path / "a.raw")
    with pytest.raises(AudioFileError, match="cannot be read: "):
        read_audio(tmp_path / ("a" * 300))

    def forbid(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", forbid)
    with pytest.raises(AudioFileError, match="reading it is not allowed; check its permissions"):
        read_audio(tmp_path / "a.raw")


@pytest.mark.skipif(sys.platform == "win32", reason="needs a named pipe")
def test_a_pipe_is_refused_rather_than_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(AudioFileError, match="got a device or pipe"):
        read_audio(tmp_path / "pipe")


@pytest.mark.parametrize("subtype", ["FLOAT", "DOUBLE"])
def test_values_that_are_no_numbers_are_counted_and_placed(tmp_path, subtype):
    samples = np.zeros((48000, 2))
    samples[24000, 1], samples[30000] = np.nan, np.inf
    soundfile.write(tmp_path / "a.wav", samples, 48000, subtype=subtype)
    with pytest.raises(AudioFileError, match=r"got 3 that are not \(NaN or infinite\), the first at 0\.5000 s"):
        read_audio(tmp_path / "a.wav")


def test_floats_over_full_scale_are_read_as_they_are(tmp_path):
    soundfile.write(tmp_path / "a.wav", np.array([1.5, -3.0]), 48000, subtype="FLOAT")
    assert read_audio(tmp_path / "a.wav").samples[:, 0].tolist() == [1.5, -3.0]


def test_a_long_sound_is_written_in_parts_to_the_same_bytes(tmp_path, rng, monkeypatch):
    samples = rng.uniform(-1, 1, (4001, 2))
    write_audio(tmp_path / "whole.wav", samples, 8000, title="t")
    monkeypatch.setattr(files, "_BLOCK_SAMPLES", 1000)
    write_audio(tmp_path / "parts.wav", samples, 8000, title="t")
    assert (tmp_path / "parts.wav").read_bytes() == (tmp_path / "whole.wav").read_bytes()
    assert made_here(tmp_path / "parts.wav")
    samples[3200, 1] = 1.5
    with pytest.raises(AudioDataError, match=r"over first at 0\.4000 s"):
        write_audio(tmp_path / "loud.wav", samples, 8000)
    assert not (tmp_path / "loud.wav").exists()
