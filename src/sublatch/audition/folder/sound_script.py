"""Sounds as scripts: how a page that was opened from a disk, without a server, comes by the samples of its sounds.

A browser lets such a page run the scripts beside it, but not read its other neighbours. Each is a script of one call
that hands a sound over: the file's samples, unchanged, as 24-bit FLAC in base64.
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory

from sublatch.files.sound import read_audio, write_audio
from sublatch.files.whole_files import write_text

_HEAD = re.compile(r"// A sound for the page beside this folder, made by sublatch: ([0-9a-f]{64})\n")


def write_sound_script(path: Path, sound: Path, *, key: str) -> None:
    """Write the sound script of a sound file.

    Parameters
    ----------
    path
        The script.
    sound
        A 24-bit sound file of this program.
    key
        What the page asks for the sound by.

    Raises
    ------
    AudioFileError
        When the sound cannot be read.
    OutputError
        When the script cannot be written.
    """
    write_data_script(path, _flac(sound), key=key)


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
    call = f"sublatchSound({json.dumps(key)}, '{b64encode(data).decode('ascii')}');\n"
    digest = sha256(call.encode("ascii")).hexdigest()
    write_text(path, f"// A sound for the page beside this folder, made by sublatch: {digest}\n{call}")


def is_sound_script(path: Path) -> bool:
    """Return whether a file is a sound script made here and not changed since: its first line tells the rest's."""
    try:
        text = path.read_text(encoding="ascii")
    except (OSError, UnicodeDecodeError):
        return False
    head = _HEAD.match(text)
    return head is not None and sha256(text[head.end() :].encode("ascii")).hexdigest() == head[1]


def _flac(sound: Path) -> bytes:
    """Return a sound file's samples as a FLAC file without tags of the sound's."""
    recording = read_audio(sound)
    with TemporaryDirectory(prefix="sublatch-") as folder:
        packed = Path(folder) / "sound.flac"
        write_audio(packed, recording.samples, recording.sample_rate)
        return packed.read_bytes()
