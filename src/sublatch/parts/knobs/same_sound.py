"""Where the sound of another circuit is on a circuit's knobs: the setting that sounds nearest, and how near that gets.

Two sounds are compared by their levels in thirds of an octave (IEC 61260-1). Each band counts as much as it is heard:
by its specific loudness in the sound that is looked for, which grows with the fourth root of the power (ISO 532-1, from
memory), the power weighted for the ear's sensitivity as ITU-R BS.1770 has it. So a band that is 12 dB fainter counts
half, and the difference is told where there is sound. The levels are matched first: the mean difference is taken out,
since the volume knob does that. What is left is told as the root of its mean square.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Any

import numpy as np

from sublatch.arrays import Array
from sublatch.circuit.components.controls import Peak
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import AudioDataError, CircuitError
from sublatch.parts.knobs.travel import position_of_corner
from sublatch.parts.sound_bands import source_bands
from sublatch.sampling.bands import NOMINAL_HZ, band_centres_hz, band_powers
from sublatch.sampling.levels import loudness_weights
from sublatch.signal.chain import output_sources
from sublatch.signal.node_voltages import node_voltages
from sublatch.signal.unity import with_volume_found
from sublatch.takes.take import Take

Position = tuple[float, Peak | None, float]
"""Tone, peak and direct."""

LOUDNESS_EXPONENT = 0.25
FAINTEST = 1e-9
"""Share of the strongest band's power at which a fainter band counts: less is rounding, or a recording's noise."""
WORTH_DIRECT = 0.5
"""The direct knob is turned where that leaves at most this share of the difference: else one knob less is simpler."""
LEAST_GAIN_DB = 0.1
"""Nobody hears that two sounds are less nearer than that."""
COARSE_TONE, COARSE_DIRECT = 0.5, 2.0
FINER_STEPS = (0.25, 0.1, 0.04, 0.01)
"""The search goes on from the best coarse places in these steps of both knobs."""
BEST_COARSE = 3


@dataclass(frozen=True)
class Setting:
    """Where knobs and switch stand, and how far the sound there is from the other circuit's.

    Attributes
    ----------
    tone, direct
        Positions, 0 to 10.
    peak
        Position of the peak switch; None without one.
    difference_db
        How far apart the two sound there, in dB.
    """

    tone: float
    peak: Peak | None
    direct: float
    difference_db: float

    def of(self, circuit: Circuit) -> Circuit:
        """Return the circuit with its knobs and switch like that."""
        stands = {"knobs.tone": self.tone, "knobs.direct": self.direct, "switches.peak": self.peak}
        return with_settings(circuit, stands)


@dataclass(frozen=True)
class SameAs:
    """Where a circuit sounds nearest to another one.

    Attributes
    ----------
    circuit
        The other circuit's title.
    heard
        The take, or what stood in for one.
    nearest
        The setting.
    with_direct
        A setting that is nearer still with the direct knob turned, where that is not worth a knob; else None.
    band_hz, band_db, band_share
        The bands' nominal mid-band frequencies, how much more the circuit has there at matched level in dB, and how
        much each counts (they sum to 1).
    corner_hz, corner_tone, corner_difference_db
        The other filter's corner, where the tone knob has that corner, and how far apart the two sound there; None
        where there is none.
    """

    circuit: str
    heard: str
    nearest: Setting
    with_direct: Setting | None
    band_hz: tuple[float, ...]
    band_db: tuple[float, ...]
    band_share: tuple[float, ...]
    corner_hz: float | None
    corner_tone: float | None
    corner_difference_db: float | None

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the nearest sound flat, the bands one by one."""
        bands = zip(self.band_hz, self.band_db, self.band_share, strict=True)
        return {
            **vars(self.nearest),
            "circuit": self.circuit,
            "heard": self.heard,
            "bands": [{"hz": hz, "difference_db": db, "share": share} for hz, db, share in bands],
            "with_direct": self.with_direct,
            "corner_hz": self.corner_hz,
            "corner_tone": self.corner_tone,
            "corner_difference_db": self.corner_difference_db,
        }


def same_sound(circuit: Circuit, other: Circuit, *, take: Take) -> SameAs:
    """Return where tone, peak and direct make a circuit sound nearest to another one on a take.

    Parameters
    ----------
    circuit
        A circuit with a tone knob.
    other
        The circuit whose sound is looked for, its own knobs and switches where they shall be.
    take
        What both are heard with.

    Raises
    ------
    CircuitError
        When the first has no tone knob.
    AudioDataError
        When either makes no sound of the take.

    Notes
    -----
    The limits of the supply are left out. Positions are searched every half of the tone knob, then down to a
    hundredth; the difference that is told comes from the two sounds themselves, rendered at the place that was found.
    """
    if circuit.tone is None:
        raise CircuitError(f"{circuit.title!r} has no tone knob to find a sound on; try -c gated-swept")
    corner_hz = response(other, frequency_hz=[]).corner_hz
    corner_tone = None if corner_hz is None else position_of_corner(circuit, corner_hz)
    source, other_source = output_sources(take, circuit), output_sources(take, other)
    circuit, other = with_volume_found(source, circuit), with_volume_found(other_source, other)
    bands, other_powers = source_bands(source), source_bands(other_source).powers(other)
    _must_sound(other_powers, other, take)
    _must_sound(bands.powers(circuit), circuit, take)

    @cache
    def miss(place: Position) -> float:
        return difference_db(bands.powers(Setting(*place, 0.0).of(circuit)), other_powers)

    wanted = band_powers(node_voltages(other_source, other)[0], sample_rate=take.sample_rate)

    def heard(place: Position) -> tuple[Array, Setting]:
        made = node_voltages(source, Setting(*place, 0.0).of(circuit))[0]
        powers = band_powers(made, sample_rate=take.sample_rate)
        return powers, Setting(*place, difference_db(powers, wanted))

    here = circuit.knobs.direct
    plain = _nearest(miss, circuit, [here])
    directs = np.arange(0.0, FULL_TURN + 1.0, COARSE_DIRECT).tolist()
    mixed = _nearest(miss, circuit, [here, *directs], turn_direct=True) if circuit.has_direct else plain
    nearer = miss(mixed) <= miss(plain) - LEAST_GAIN_DB
    better = nearer and miss(mixed) <= WORTH_DIRECT * miss(plain)
    powers, nearest = heard(mixed if better else plain)
    at_corner = None if corner_tone is None else heard((corner_tone, circuit.peak, here))[1].difference_db
    return SameAs(
        circuit=other.title,
        heard=take.name,
        nearest=nearest,
        with_direct=heard(mixed)[1] if nearer and not better else None,
        band_hz=NOMINAL_HZ,
        band_db=tuple(_apart_db(powers, wanted).tolist()),
        band_share=tuple(_shares(wanted).tolist()),
        corner_hz=corner_hz,
        corner_tone=corner_tone,
        corner_difference_db=at_corner,
    )


def difference_db(powers: Array, wanted: Array) -> float:
    """Return how far one sound is from another as heard, in dB, at matched level.

    Parameters
    ----------
    powers, wanted
        Their mean squares in the third-octave bands (25,), from `band_powers`; the second one's loudness weighs them.
    """
    return float(np.sqrt(np.sum(_shares(wanted) * _apart_db(powers, wanted) ** 2)))


def _apart_db(powers: Array, wanted: Array) -> Array:
    """Return how much more a sound has in each band than another one, at matched level, in dB (25,)."""
    made, asked = (10.0 * np.log10(np.maximum(one, FAINTEST * np.max(one))) for one in (powers, wanted))
    return np.asarray(made - asked - np.sum(_shares(wanted) * (made - asked)))


def _shares(wanted: Array) -> Array:
    """Return how much of a sound is heard in each band (25,); together they are 1."""
    loudness = (loudness_weights(band_centres_hz()) * wanted) ** LOUDNESS_EXPONENT
    return np.asarray(loudness / np.sum(loudness))


def _must_sound(powers: Array, circuit: Circuit, take: Take) -> None:
    """Refuse a sound that is none."""
    if not np.sum(powers) > 0.0:
        raise AudioDataError(
            f"{take.name} must make a sound in {circuit.title!r} to be compared, and is silent there; was the right "
            "take given?"
        )


def _nearest(
    miss: Callable[[Position], float], circuit: Circuit, directs: list[float], *, turn_direct: bool = False
) -> Position:
    """Return the place that sounds nearest: the best of a coarse grid, then in ever finer steps around the best few."""
    tones = np.arange(0.0, FULL_TURN + COARSE_TONE / 2, COARSE_TONE).tolist()
    finest = []
    for peak in circuit.filter.peaks:
        coarse = sorted(((tone, peak, direct) for tone, direct in product(tones, directs)), key=miss)
        finest += [_polished(miss, place, turn_direct=turn_direct) for place in coarse[:BEST_COARSE]]
    return min(finest, key=miss)


def _polished(miss: Callable[[Position], float], place: Position, *, turn_direct: bool) -> Position:
    """Return the nearest place that is reached from one by steps that each bring the sound nearer."""
    for step in FINER_STEPS:
        while (better := min(_around(place, step, turn_direct=turn_direct), key=miss)) != place:
            place = better
    return place


def _around(place: Position, step: float, *, turn_direct: bool) -> Iterable[Position]:
    """Give a place and those a step of one knob or both away."""
    tone, peak, direct = place
    yield place
    for tones, directs in product((0.0, step, -step), (0.0, step, -step) if turn_direct else (0.0,)):
        yield _held(tone + tones), peak, _held(direct + directs) if directs else direct


def _held(position: float) -> float:
    """Return a position within the knob's travel, in hundredths."""
    return round(min(max(position, 0.0), FULL_TURN), 2)
