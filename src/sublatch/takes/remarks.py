"""What there is to say of a take or a circuit: one record for whoever says it, with a code for programs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

UNFIT = {
    "silent": "The peak is under -90 dBFS.",
    "too-short": "It is shorter than 0.1 s.",
    "clipped": "Three or more samples in a row lie flat at the top or the bottom, near full scale.",
    "too-quiet": "The peak is under -30 dBFS.",
    "noisy": "The quietest moments lie above -60 dBFS, or less than 40 dB under the peak, and are noise.",
    "hum": "Mains hum that is as loud as that.",
    "no-lows": "Next to nothing lies below 250 Hz, or below 150 Hz where there are notes down there.",
}
"""Codes of what makes a take unfit to use, and what each stands for."""
FIT = {
    "full-scale-assumed": "Nobody said how many volts full scale stands for.",
    "low-sample-rate": "The sample rate is under 16 kHz.",
    "over-full-scale": "A file of floats goes beyond full scale; nothing is lost.",
    "hot": "The peak is within 0.5 dB of full scale.",
    "dc-offset": "The mean is more than 1 % of full scale.",
    "slight-hum": "The rests are mostly mains hum, but that is faint.",
    "no-rest": "The quietest moments still sound, so that noise cannot be told.",
    "no-note": "Nothing has a steady pitch from 28 Hz to 1 kHz.",
    "tone-drifts": "With `--meter`: the tone's level drifts by more than 0.1 dB.",
    "tone-changes": "With `--meter`: the tone stands at other levels, too.",
    "tone-impure": "With `--meter`: more than 5 % of the tone is harmonics, noise or hum.",
    "tone-pitch": "With `--meter`: the tone is under 40 Hz or above 1 kHz.",
    "tone-faint": "With `--meter`: the tone peaks under -40 dBFS.",
    "bed-ends": "The bed is shorter than the take.",
    "no-notes": "There is no note to track.",
    "not-counted": "Something sounds that is not tracked as a note.",
    "unsure": "Notes that could as well be an octave lower or higher, and are not counted.",
    "high-for-detector": "Notes lie above what the detector is made for, and are lost.",
    "counted": "A note is tracked, but its pitch moves or lies below the lowest string.",
    "given": "Where the notes that `--notes` gives lie in the take, and how many start where an onset is.",
    "given-misplaced": "Fewer than half of them do.",
    "given-overlap": "Given notes that overlap the next are shortened.",
    "given-left-out": "Given notes that are too short or outside the take are left out.",
    "given-differs": "A given note has another pitch than is found there; it counts as given.",
    "hum-divides": "The hum in the rests is above what the circuit's detector takes for a note.",
    "small-margin": "A comparator with an offset of less than 10 mV would lose edges of a note, or make false ones.",
    "left-out": "A note whose pitch moves is not tuned on.",
    "below-strings": "A note that is tuned on lies below the lowest string.",
    "lifted": "A candidate was lifted by more than 6 dB to match; on the box the volume knob has to do that.",
    "too-soft": "Not even with the volume knob at 10 is the effect as loud as the bypassed take.",
    "unity-found": "Where a volume knob at unity stands on this take.",
    "unity-beyond": "Unity lies beyond 10 of the volume knob, which stands at 10.",
    "unity-untold": "Nothing sounds, so that unity cannot be told; the volume knob stands half way.",
}
"""Codes of what is worth knowing, though the take is fit to use, and what each stands for."""
OF_CIRCUITS = {
    "twitchy": "One step of ten on a knob changes more than can be set with ease.",
    "little-headroom": "The output has less room below the supply's limits than the loudest notes need.",
    "hard-to-buy": "A part of that value, taper or make is sold by few.",
}
"""Codes of what is worth knowing of a circuit's knobs, headroom and parts, and what each stands for."""


@dataclass(frozen=True)
class Remark:
    """Something to say of a take or a circuit.

    Attributes
    ----------
    code
        What it is about, one of those in `UNFIT`, `FIT` and `OF_CIRCUITS`; it stays the same when the words change.
    text
        A sentence in plain words: what is so, and what to do.
    """

    code: str
    text: str

    def __str__(self) -> str:
        return self.text


def fit_to_use(remarks: Iterable[Remark]) -> bool:
    """Return whether nothing among the remarks makes a take unfit to use."""
    return not any(remark.code in UNFIT for remark in remarks)
