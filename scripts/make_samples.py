"""Make the short takes in ``samples/``: the demo's takes, cut to 12 s at most and rounded to 16 bits.

Run it from anywhere: ``python scripts/make_samples.py [FOLDER]``. The same version gives the same files.
The pictures in ``samples/`` are cut by hand from a screenshot of the listening page, 1040 pixels wide, of
``filters.toml``, with the first candidate chosen and then the third.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from sublatch.arrays import Array, Signal
from sublatch.demo.bed import demo_bed
from sublatch.demo.score import Note, demo_notes
from sublatch.demo.takes import demo_takes
from sublatch.demo.write import (
    BED_COMMENT,
    BED_NAME,
    FULL_SCALE_VOLTS,
    SAMPLE_RATE_HZ,
    TAKE_COMMENT,
    demo_texts,
    take_title,
)
from sublatch.files.sound import write_audio
from sublatch.files.whole_files import make_folder, write_text

LONGEST_S = 12.0
FADE_S = 0.02


def main(folder: Path) -> None:
    """Write the takes, the backing, the plans and the circuit into `folder`."""
    make_folder(folder / "takes")
    notes = demo_notes()
    for name, volts in demo_takes(SAMPLE_RATE_HZ).items():
        sound = rounded(faded(volts[: cut(notes[name], len(volts))] / FULL_SCALE_VOLTS))
        path = folder / "takes" / f"{name}.flac"
        write_audio(path, sound, SAMPLE_RATE_HZ, title=take_title(name), comment=TAKE_COMMENT)
    bed = demo_bed(SAMPLE_RATE_HZ)
    bed = rounded(faded(bed[: cut(notes["walking-line"], len(bed))]))
    write_audio(folder / BED_NAME, bed, SAMPLE_RATE_HZ, title="Backing", comment=BED_COMMENT)
    for name, text in demo_texts().items():
        write_text(folder / name, text)


def cut(notes: list[Note], count: int) -> int:
    """Return how many samples to keep: all, or up to the last onset before the longest time is over."""
    if count <= LONGEST_S * SAMPLE_RATE_HZ:
        return count
    return round(max(note.onset_s for note in notes if note.onset_s <= LONGEST_S) * SAMPLE_RATE_HZ)


def faded(sound: Signal) -> Array:
    """Return the sound with its end faded out."""
    count = round(FADE_S * SAMPLE_RATE_HZ)
    faded_sound = sound.copy()
    faded_sound[-count:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(1, count + 1) / count)
    return faded_sound


def rounded(sound: Signal) -> Array:
    """Return the samples at the nearest of 16 bits: FLAC leaves out the rest. The takes' own noise hides it."""
    return np.rint(sound * 2**15) / 2**15


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "samples")
