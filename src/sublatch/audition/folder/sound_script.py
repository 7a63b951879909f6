"""Sounds as scripts: how a page that was opened from a disk, without a server, comes by the samples of its sounds.

A browser lets such a page run the scripts beside it, but not read its other neighbours. Each is a script of one call
that hands a sound over: the file's samples, unchanged, as 24-bit FLAC in base64. A long one is handed over in pieces,
each a call of its own, so that the page can let go of each as soon as it is decoded.

The base64 is a comment in a function that is never called and whose text the page reads: as a string it would be in
memory twice, in the script and as the string.
"""

from __future__ import annotations

import json
import re
from base64 import b64decode, b64encode
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from sublatch.arrays import Signal
from sublatch.files.sound import write_audio
from sublatch.files.whole_files import write_text

PIECE_S = 30.0
"""Length of a piece; what is no longer than two of them stays whole."""
_HEAD = re.compile(r"// A sound for the page beside this folder, made by sublatch: ([0-9a-f]{64})\n")
_PIECE = re.compile(r"^sublatchSound\(.*, \(\) => \{/\*([A-Za-z0-9+/=]*)\*/\}(?:, \d+)?\);$", re.MULTILINE)


def write_sound_script(
    path: Path, samples: Signal, sample_rate: int, *, key: str, peak: float = 1.0, bits: int = 24
) -> None:
    """Write the sound script of samples.

    Parameters
    ----------
    path
        The script.
    samples
        Samples (n,) or (n, channels), within ± `peak`, which becomes full scale.
    sample_rate
        In hertz.
    key
        What the page asks for the sound by.
    bits
        Bits of each sample that count; of fewer than 24 the rest are zeros, which take no room.

    Raises
    ------
    OutputError
        When the script cannot be written.
    """
    length = round(PIECE_S * sample_rate)
    if len(samples) <= 2 * length:
        write_data_script(path, _flac(samples / peak, sample_rate, bits), key=key)
        return
    pieces = (samples[first : first + length] / peak for first in range(0, len(samples), length))
    _write(path, [_call(key, _flac(piece, sample_rate, bits), len(samples)) for piece in pieces])


def write_data_script(path: Path, data: bytes, *, key: str) -> None:
    """Write a sound script of any bytes.

    Parameters
    ----------
    path
        The script.
    data
        What it carries.
    key
        What the page asks for it by.

    Raises
    ------
    OutputError
        When the script cannot be written.
    """
    _write(path, [_call(key, data)])


def read_script(path: Path) -> list[bytes]:
    """Return what a sound script carries, piece by piece."""
    return [b64decode(piece) for piece in _PIECE.findall(path.read_text(encoding="ascii"))]


def is_sound_script(path: Path) -> bool:
    """Return whether a file is a sound script made here and not changed since: its first line tells the rest's."""
    try:
        text = path.read_text(encoding="ascii")
    except (OSError, UnicodeDecodeError):
        return False
    head = _HEAD.match(text)
    return head is not None and sha256(text[head.end() :].encode("ascii")).hexdigest() == head[1]


def _call(key: str, data: bytes, frames: int | None = None) -> str:
    """Return the call that hands data over; with a piece, how many samples all pieces have together."""
    more = "" if frames is None else f", {frames}"
    return f"sublatchSound({json.dumps(key)}, () => {{/*{b64encode(data).decode('ascii')}*/}}{more});\n"


def _write(path: Path, calls: Sequence[str]) -> None:
    """Write a script of calls, whose first line tells their digest."""
    digest = sha256()
    for call in calls:
        digest.update(call.encode("ascii"))
    head = f"// A sound for the page beside this folder, made by sublatch: {digest.hexdigest()}\n"
    write_text(path, "".join((head, *calls)))


def _flac(samples: Signal, sample_rate: int, bits: int) -> bytes:
    """Return samples (n, channels) as a FLAC file without tags, of which so many bits count."""
    steps = 2.0 ** (bits - 1)
    rounded = samples if bits == 24 else np.clip(np.round(samples * steps), -steps, steps - 1.0) / steps
    with TemporaryDirectory(prefix="sublatch-") as folder:
        packed = Path(folder) / "sound.flac"
        write_audio(packed, rounded, sample_rate)
        return packed.read_bytes()
