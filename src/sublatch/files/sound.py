"""Sound files: read with every fault named, written whole, exact and recognisable as the program's own.

Samples are ±1 at full scale here; `sublatch.takes.take` turns them into volts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from sublatch.arrays import Array, Signal
from sublatch.errors import AudioDataError, AudioFileError, OutputError
from sublatch.files.containers import checked_size, cut_short, quantised, why_unreadable
from sublatch.files.encoding import Content, Sink
from sublatch.files.whole_files import atomic_path

LOWEST_RATE_HZ = 8000
"""Lowest sample rate that is read or written, in hertz."""
HIGHEST_RATE_HZ = 192000
"""Highest sample rate that is read or written, in hertz."""
LARGEST_WAV_BYTES = 2**32 - 2**16
"""Most bytes of sound in a plain WAV file, whose sizes have 32 bits; beyond it an RF64 file is written."""
LONGEST_TITLE_BYTES = 250
"""Most bytes of a title that are written."""
LONGEST_COMMENT_BYTES = 1900
"""Most bytes of a comment that are written: libsndfile loses every tag of a WAV file from 2046 bytes on."""
LIBSNDFILE_VERSION: str = soundfile.__libsndfile_version__
"""Version of the library that reads and writes sound files."""

_BLOCK_SAMPLES = 2**22
_DIGEST_KEY = "sublatch-digest="
_DIGEST = re.compile(rf" ?{_DIGEST_KEY}([0-9a-f]{{16}})\Z")


@dataclass(frozen=True, eq=False)
class Recording:
    """What a sound file holds.

    Attributes
    ----------
    samples
        Samples of shape (frames, channels), ±1 at full scale.
    sample_rate
        In hertz.
    subtype
        How the samples are stored, such as "PCM_24".
    container
        Kind of file, such as "WAV".
    title, comment, software
        The file's tags, empty where it has none; the comment without the digest that `write_audio` adds.
    """

    samples: Signal
    sample_rate: int
    subtype: str
    container: str
    title: str
    comment: str
    software: str


def read_audio(path: str | Path) -> Recording:
    """Read a whole sound file of any kind that libsndfile knows.

    Parameters
    ----------
    path
        WAV, FLAC, AIFF, W64, RF64 and others, with samples of any width and any number of channels.

    Returns
    -------
    Recording
        Its samples, ±1 at full scale, and its tags.

    Raises
    ------
    AudioFileError
        When there is no such file, it is no sound file, holds no sound, was cut short, is damaged, holds
        values that are no numbers, or has a sample rate outside 8 to 192 kHz.

    Notes
    -----
    That a file was cut short is noticed in WAV, RF64, W64, AIFF, CAF, FLAC and MP3; an Ogg or AU file does not
    say how long it was.
    """
    path = Path(path)
    size = checked_size(path)
    with _opened(path) as file:
        if not LOWEST_RATE_HZ <= file.samplerate <= HIGHEST_RATE_HZ:
            raise AudioFileError(
                f"{path}: the sample rate must be {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz, "
                f"got {file.samplerate} Hz; convert it to 48000 Hz"
            )
        samples = _all_samples(file, path=path, size=size)
        comment, _ = _without_digest(file.comment)
        _refuse_non_numbers(path, samples, file.samplerate)
        return Recording(samples, file.samplerate, file.subtype, file.format, file.title, comment, file.software)


def write_audio(
    path: str | Path,
    samples: Signal,
    sample_rate: int,
    *,
    title: str = "",
    comment: str = "",
) -> None:
    """Write a 24-bit WAV or FLAC file, whole or not at all.

    Parameters
    ----------
    path
        Ends in ``.wav`` or ``.flac``.
    samples
        Samples of shape (n,) or (n, channels), within ±1.
    sample_rate
        In hertz, 8000 to 192000.
    title, comment
        Tags of one line; control characters and line ends become spaces, and what is too long is cut.

    Raises
    ------
    AudioDataError
        When samples or rate are not as above. Nothing is ever clipped silently.
    OutputError
        When the file cannot be written, or its name has another ending.

    Notes
    -----
    Samples become the nearest integer of 24 bits here, ``round(x · 2²³)``, ties to even: libsndfile rounds
    floats down for WAV. Only +1.0 exactly has no such integer and becomes the largest. What is read back is
    therefore written again without change. Past 4 GB the file is an RF64 file, which a WAV file cannot be.

    The software tag says "sublatch" and the version; the comment ends in a digest of all that is written, by
    which `made_here` knows the file. The same arguments give the same bytes (with one version of libsndfile,
    which adds its name to the software tag).
    """
    parts = max(1, np.size(samples) // _BLOCK_SAMPLES)
    blocks = np.array_split(samples, parts) if parts > 1 else [samples]
    try:
        write_stretches(path, lambda: blocks, sample_rate, title=title, comment=comment)
    except AudioDataError:
        quantised(samples, sample_rate)  # says where in the whole
        raise


def write_stretches(
    path: str | Path,
    stretches: Callable[[], Iterable[Signal]],
    sample_rate: int,
    *,
    title: str = "",
    comment: str = "",
) -> None:
    """Write a file as `write_audio` does, from stretches of sound one after another.

    Parameters
    ----------
    stretches
        Gives the stretches, of one number of channels and at least one sample each. It is called twice, as the digest
        of all of them stands ahead of them.
    path, sample_rate, title, comment
        As for `write_audio`.

    Raises
    ------
    AudioDataError, OutputError
        As `write_audio`.
    """
    from sublatch.version import __version__

    path = Path(path)
    kind = written_kind(path)
    rate = check_rate(sample_rate)
    title, comment = _tag(title, LONGEST_TITLE_BYTES), _tag(comment, LONGEST_COMMENT_BYTES)
    content = Content(rate, title, comment)
    for stretch in stretches():
        content.add(quantised(stretch, rate))
    if kind == "WAV" and 3 * content.size > LARGEST_WAV_BYTES:
        kind = "RF64"
    tags = {
        "title": title,
        "comment": f"{comment}{' ' if comment else ''}{_DIGEST_KEY}{content.digest}",
        "software": f"sublatch {__version__}",
    }
    with atomic_path(path) as temporary, temporary.open("wb") as raw, ThreadPoolExecutor(1) as thread:
        sink = Sink(raw)
        pcm = (quantised(stretch, rate) for stretch in stretches())
        try:
            thread.submit(_encode, sink, pcm, content.channels, rate, kind, tags).result()
        except (soundfile.LibsndfileError, AssertionError) as problem:
            raise sink.problem or OutputError(f"{path} cannot be written: {problem}") from problem
        if sink.problem:
            raise sink.problem


def written_kind(path: str | Path) -> str:
    """Return the kind of file, "WAV" or "FLAC", that the ending of an output asks for.

    Raises
    ------
    OutputError
        When the name has another ending.
    """
    ending = Path(path).suffix
    kind = {".wav": "WAV", ".flac": "FLAC"}.get(ending.lower())
    if kind is None:
        raise OutputError(f"{path} must end in .wav or .flac, got {repr(ending) if ending else 'no ending'}")
    return kind


def made_here(path: str | Path) -> bool:
    """Return whether a sound file was written by `write_audio` and not changed since.

    Parameters
    ----------
    path
        Any file; what is no sound file, or is not there, was not made here.
    """
    try:
        with soundfile.SoundFile(Path(path)) as file:
            comment, digest = _without_digest(file.comment)
            if not (digest and file.software.startswith("sublatch ") and file.subtype == "PCM_24"):
                return False
            content = Content(file.samplerate, file.title, comment)
            for pcm in file.blocks(_BLOCK_SAMPLES // file.channels, dtype="int32", always_2d=True):
                content.add(pcm)
            return content.digest == digest
    except (soundfile.LibsndfileError, OSError, TypeError, ValueError, MemoryError):
        return False


def check_rate(sample_rate: float) -> int:
    """Return a sample rate given by a caller as an integer.

    Raises
    ------
    AudioDataError
        When it is no whole number of hertz from 8000 to 192000.
    """
    if not LOWEST_RATE_HZ <= sample_rate <= HIGHEST_RATE_HZ or sample_rate != int(sample_rate):
        hint = "; is it in kilohertz?" if 8 <= sample_rate <= 192 else ""
        raise AudioDataError(
            f"sample_rate must be a whole number from {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz, got {sample_rate}{hint}"
        )
    return int(sample_rate)


def _encode(
    sink: Sink, pcm: Iterable[NDArray[np.int32]], channels: int, sample_rate: int, kind: str, tags: dict[str, str]
) -> None:
    """Write a sound file; in its own thread: Ctrl-C would be lost in libsndfile's calls back into Python."""
    with soundfile.SoundFile(sink, "w", sample_rate, channels, "PCM_24", format=kind) as file:
        for tag, text in tags.items():
            if text:
                setattr(file, tag, text)
        for stretch in pcm:
            file.write(stretch)


def _opened(path: Path) -> Any:
    """Return the open sound file."""
    try:
        return soundfile.SoundFile(path)
    except UnicodeEncodeError:
        raise AudioFileError(f"{path}: must have a name in UTF-8; rename the file") from None
    except TypeError:
        raise AudioFileError(f"{path}: must have a header, got a .raw file; export it as WAV") from None
    except soundfile.LibsndfileError as problem:
        with path.open("rb") as file:
            head = file.read(256)
        raise AudioFileError(f"{path}: {why_unreadable(head, problem.error_string)}") from None


def _all_samples(file: Any, *, path: Path, size: int) -> Array:
    """Return all samples of an open file, not trusting a header that promises more than the file can hold."""
    promised, channels = file.frames, file.channels
    try:
        if promised * channels <= 8 * size:
            samples: Signal = file.read(promised, always_2d=True)  # GSM does not seek: say how many
        else:
            blocks: list[Array] = []
            while not blocks or len(blocks[-1]):
                blocks.append(file.read(_BLOCK_SAMPLES // channels, always_2d=True))
            samples = np.concatenate(blocks)
    except soundfile.LibsndfileError as problem:
        reason = problem.error_string.rstrip(".")
        raise AudioFileError(f"{path}: is damaged or was cut short ({reason}); copy or export it again") from None
    if len(samples) == 0:
        raise AudioFileError(f"{path}: must hold sound, got no samples; was the recorder stopped too early?")
    if len(samples) < promised < 2**62:
        raise cut_short(path, f"{promised - len(samples)} of {promised} samples are missing")
    return samples


def _refuse_non_numbers(path: Path, samples: Signal, sample_rate: int) -> None:
    """Refuse samples that are no numbers, saying how many there are and where the first is."""
    bad = ~np.isfinite(samples)
    if bad.any():
        first_s = np.flatnonzero(bad.any(axis=1))[0] / sample_rate
        raise AudioFileError(
            f"{path}: every sample must be a number, got {np.count_nonzero(bad)} that are not (NaN or infinite), "
            f"the first at {first_s:.4f} s; export it again"
        )


def _tag(text: str, longest_bytes: int) -> str:
    """Return a text as a tag: one line, without control characters, cut where it is too long."""
    line = "".join(character if character.isprintable() else " " for character in text).strip()
    data = line.encode("utf-8")
    return line if len(data) <= longest_bytes else data[: longest_bytes - 3].decode("utf-8", "ignore") + "…"


def _without_digest(comment: str) -> tuple[str, str]:
    """Return a comment without its digest, and the digest or an empty text."""
    digest = _DIGEST.search(comment)
    return (comment[: digest.start()], digest[1]) if digest else (comment, "")


def compressed(samples: Signal, sample_rate: int, *, compression: float) -> bytes:
    """Return samples as an MP3 file, which every browser plays.

    Parameters
    ----------
    samples
        Samples of shape (n,) or (n, channels), within ±1; one or two channels.
    sample_rate
        In hertz: 32000, 44100 or 48000, which MPEG-1 has (ISO/IEC 11172-3).
    compression
        From 0, the least that is lost, to 1, the smallest.
    """
    sink = BytesIO()
    with soundfile.SoundFile(
        *(sink, "w", sample_rate, 1 if samples.ndim == 1 else samples.shape[1], "MPEG_LAYER_III"),
        format="MP3",
        compression_level=compression,
        bitrate_mode="VARIABLE",
    ) as file:
        file.write(samples)
    return sink.getvalue()
