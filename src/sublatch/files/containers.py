"""What can be said about a sound file before it is opened, or when it cannot be.

The library that reads sound files takes a file that was cut short for a shorter one, and says of a folder and of
a text alike that their format is unknown. The first bytes and the header tell more.
"""

from __future__ import annotations

import struct
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from sublatch.arrays import Array, Signal
from sublatch.errors import AudioDataError, AudioFileError

MOST_CHANNELS = 8
"""Most channels that are written."""
FULL_SCALE = 2.0**23
"""Value of a 24-bit sample at full scale."""

_UNKNOWN_SIZES = (0, 0x7FFFF000, 0x7FFFFFFF, 0xFFFFFFFF, -1, 2**64 - 1)
"""Sizes written by programs that do not know yet how long the sound will be (from memory)."""
_MOST_CHUNKS = 10000
_KNOWN_HEADS = (b"RIFF", b"RIFX", b"RF64", b"BW64", b"riff", b"FORM", b"caff", b"fLaC", b"OggS", b".snd")
_TEXT_BYTES = frozenset(range(32, 127)) | {9, 10, 13}
_KNOWN_KINDS = "WAV, FLAC, AIFF, W64, RF64, CAF, Ogg or MP3"


@dataclass(frozen=True)
class _Layout:
    """How a kind of file lists its chunks: identifier, size, content, padding, again and again.

    Attributes
    ----------
    first
        Where the first chunk begins, in bytes.
    name_bytes
        Length of a chunk's identifier, which begins with its four letters.
    size
        Format of its size, as for `struct`.
    counts_header
        Whether the size includes identifier and size themselves.
    step
        Chunks begin at multiples of this many bytes.
    sound
        The letters of the chunk that holds the sound.
    """

    first: int
    name_bytes: int
    size: str
    counts_header: bool
    step: int
    sound: bytes


_LAYOUTS = {
    b"RIFF": _Layout(12, 4, "<I", False, 2, b"data"),
    b"RIFX": _Layout(12, 4, ">I", False, 2, b"data"),
    b"RF64": _Layout(12, 4, "<I", False, 2, b"data"),
    b"BW64": _Layout(12, 4, "<I", False, 2, b"data"),
    b"riff": _Layout(40, 16, "<Q", True, 8, b"data"),
    b"FORM": _Layout(12, 4, ">I", False, 2, b"SSND"),
    b"caff": _Layout(8, 4, ">q", False, 1, b"data"),
}


def checked_size(path: Path) -> int:
    """Return a file's length in bytes; refuse what is no file, is empty or was cut short."""
    try:
        size = path.stat().st_size
        fault = "got a folder" if path.is_dir() else "" if path.is_file() else "got a device or pipe"
        missing = 0
        if not fault:
            with path.open("rb") as file:
                missing = missing_bytes(file, size=size)
    except FileNotFoundError:
        raise AudioFileError(f"{path}: there is no such file; is the path right?") from None
    except PermissionError:
        raise AudioFileError(f"{path}: reading it is not allowed; check its permissions") from None
    except OSError as problem:
        raise AudioFileError(f"{path}: cannot be read: {problem.strerror}") from None
    if not fault and size == 0:
        fault = "got an empty one (0 bytes); was the recording stopped too early or the disk full?"
    if fault:
        raise AudioFileError(f"{path}: must be a sound file, {fault}")
    if missing:
        raise cut_short(path, f"{missing} bytes of the sound that its header promises are missing")
    return size


def why_unreadable(head: bytes, reason: str) -> str:
    """Return why a file cannot be read, from its first bytes and the library's own reason."""
    if head[:4] in _KNOWN_HEADS:
        return f"its header is damaged, cut short or of an unknown kind ({reason.rstrip('.')}); export it again"
    with suppress(UnicodeDecodeError):
        if head.decode("utf-8").isprintable() or all(byte in _TEXT_BYTES for byte in head):
            return "must be a sound file, got a text"
    return f"must be a sound file ({_KNOWN_KINDS}), got something else; export it as WAV or FLAC"


def cut_short(path: Path, what: str) -> AudioFileError:
    """Return the error about a file that ends too early."""
    return AudioFileError(f"{path}: was cut short: {what}; copy or export it again")


def missing_bytes(file: BinaryIO, *, size: int) -> int:
    """Return how many bytes of sound the header promises beyond the end of the file.

    Parameters
    ----------
    file
        The file, open in binary mode; it is read from the start.
    size
        Its length in bytes.

    Returns
    -------
    int
        0 when the sound is all there, or when the file's kind or header does not tell.

    Notes
    -----
    Knows RIFF and its big-endian and 64-bit kinds (WAV, RF64), W64, AIFF and CAF. Chunks after the sound do
    not matter, nor does the padding byte after it.
    """
    file.seek(0)
    layout = _LAYOUTS.get(file.read(4))
    if layout is None:
        return 0
    header_bytes = layout.name_bytes + struct.calcsize(layout.size)
    position, long_size = layout.first, None
    for _ in range(_MOST_CHUNKS):
        if position > size:  # also what no seek could reach: W64 sizes have 64 bits
            return 0
        file.seek(position)
        header = file.read(header_bytes)
        if len(header) < header_bytes:
            return 0
        chunk_name = header[:4]
        length = struct.unpack(layout.size, header[layout.name_bytes :])[0]
        if chunk_name == b"ds64":
            long_size = _long_size(file.read(16))
        elif chunk_name == layout.sound:
            if length == 0xFFFFFFFF and long_size is not None:
                length = long_size
            unknown = length in _UNKNOWN_SIZES
            body_bytes = length - header_bytes * layout.counts_header
            return 0 if unknown else max(0, position + header_bytes + body_bytes - size)
        chunk_bytes = max(length + header_bytes * (not layout.counts_header), header_bytes)
        position += chunk_bytes + -chunk_bytes % layout.step
    return 0


def _long_size(content: bytes) -> int | None:
    """Return the 64-bit length of the sound from a ``ds64`` chunk (EBU Tech 3306: RIFF size, then data size)."""
    return struct.unpack("<QQ", content)[1] if len(content) == 16 else None


def quantised(samples: Signal, sample_rate: int) -> NDArray[np.int32]:
    """Return samples as 24-bit integers in the upper bytes of 32, of shape (n, channels), for `write_audio`."""
    samples = np.asarray(samples)
    if samples.dtype.kind != "f":
        raise AudioDataError(f"samples must be floats within ±1, got {samples.dtype}; divide by their full scale")
    columns = samples[:, None] if samples.ndim == 1 else samples
    if columns.ndim != 2 or not 1 <= columns.shape[1] <= MOST_CHANNELS or len(columns) == 0:
        hint = "; is it transposed?" if columns.ndim == 2 and 1 <= len(columns) <= MOST_CHANNELS else ""
        raise AudioDataError(
            f"samples must be of shape (n,) or (n, 1 to {MOST_CHANNELS} channels), got {samples.shape}{hint}"
        )
    if not (columns.min() >= -1.0 and columns.max() <= 1.0):
        raise AudioDataError(_what_does_not_fit(columns, sample_rate))
    scaled = columns * FULL_SCALE
    np.minimum(np.rint(scaled, out=scaled), FULL_SCALE - 1, out=scaled)
    return np.ascontiguousarray(scaled.astype(np.int32) << 8)


def _what_does_not_fit(columns: Array, sample_rate: int) -> str:
    """Return the message about samples that are no numbers or beyond full scale."""
    bad = ~np.isfinite(columns)
    if bad.any():
        first_s = np.flatnonzero(bad.any(axis=1))[0] / sample_rate
        return f"every sample must be a number, got {np.count_nonzero(bad)} that are not, first at {first_s:.4f} s"
    peak = np.max(np.abs(columns))
    first_s = np.flatnonzero((np.abs(columns) > 1.0).any(axis=1))[0] / sample_rate
    return (
        f"samples must be within ±1 (0 dBFS), got a peak of {peak:.4g} ({20 * np.log10(peak):+.1f} dBFS), over first "
        f"at {first_s:.4f} s; lower the level"
    )
