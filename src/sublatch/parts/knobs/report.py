"""All that `sublatch knobs` tells: what the knobs set, where the old sound is, bass, unity, trim and headroom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.knobs.coupling import Coupling, couplings
from sublatch.parts.knobs.headroom import Headroom, headroom
from sublatch.parts.knobs.judgement import (
    InHand,
    buying_remarks,
    hard_knob_pots,
    hard_parts,
    headroom_remarks,
    least_in_hand,
    step_remarks,
)
from sublatch.parts.knobs.same_sound import SameAs, same_sound
from sublatch.parts.knobs.standard_bass import standard_bass
from sublatch.parts.knobs.taper_and_trim import VolumeWay, volume_ways
from sublatch.parts.knobs.travel import KnobCurve, knob_curve, knob_names, most_even
from sublatch.parts.knobs.trim import Trim, check_position, trim
from sublatch.signal.chain import output_sources
from sublatch.signal.node_voltages import OutputSources
from sublatch.signal.unity import Unity, tone_take, unity, with_volume_found
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take


@dataclass(frozen=True)
class Knobs:
    """What a circuit's knobs do.

    Attributes
    ----------
    circuit
        The circuit with what was found in it: the nearest setting where one was asked for, the trim resistor where that
        was, and the volume at unity, at 10 where unity lies beyond.
    curves
        Each knob's curve (`tone`, `volume`, `direct`).
    even
        The same with the most even taper.
    same_as
        Where the sound of another circuit is, if it was asked for; all else is then told of that setting.
    couplings
        The coupling capacitors, from input to output.
    unities
        Unity by loudness and RMS of the take, and by a tone; the first one counts.
    trim
        The trim resistor that was asked for, if any, with the pot's own taper.
    ways
        Tapers and trim resistors together that put unity there, the best first, which is in `circuit`.
    settled
        Unity with that, if it was asked for.
    headrooms
        The take's, or the tone's, headroom at unity and as the knobs are set.
    in_hand
        The least of it with the filter's peak at unity; None where nothing sounds.
    remarks
        What there is to mind: twitchy knobs, little headroom, parts that are hard to buy.
    """

    circuit: Circuit
    curves: tuple[KnobCurve, ...]
    even: tuple[KnobCurve, ...]
    same_as: SameAs | None
    couplings: tuple[Coupling, ...]
    unities: tuple[Unity, ...]
    trim: Trim | None
    ways: tuple[VolumeWay, ...]
    settled: Unity | None
    headrooms: tuple[Headroom, ...]
    in_hand: InHand | None
    remarks: tuple[Remark, ...]

    @property
    def title(self) -> str:
        """The circuit's title."""
        return self.circuit.title

    @property
    def unity_position(self) -> float | None:
        """Where the volume knob makes the effect as loud as bypassed; None where it is too soft everywhere."""
        return self.unities[0].position

    @property
    def settled_position(self) -> float | None:
        """Where unity is with the taper and trim resistor that were asked for, if they were; None beyond 10."""
        return self.unity_position if self.settled is None else self.settled.position

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: what is asked for most often at the top."""
        return {
            "title": self.title,
            "knobs": [
                {**curve.json_fields(), "most_even": _evenness(even)}
                for curve, even in zip(self.curves, self.even, strict=True)
            ],
            "same_as": self.same_as,
            "coupling": self.couplings,
            "unity_position": self.unity_position,
            "excess_gain_db": self.unities[0].excess_gain_db,
            "unity": self.unities,
            "trim_resistor_ohm": None if self.trim is None else self.trim.resistor_ohm,
            "trim": self.trim,
            "ways": self.ways,
            "settled": self.settled,
            "headroom": self.headrooms,
            "in_hand": self.in_hand,
            "remarks": self.remarks,
        }


def knobs(
    circuit: Circuit, *, take: Take | None = None, unity_at: float | None = None, same_as: Circuit | None = None
) -> Knobs:
    """Return what a circuit's knobs do, for a take or for a tone in its stead.

    Parameters
    ----------
    circuit
        The circuit, its knobs and switches where they shall be; its volume may stand at unity.
    take
        What unity and headroom are measured with; a sine of 82.4 Hz when not given.
    unity_at
        Where unity shall be on the volume knob, 0 to 10, by a trim resistor.
    same_as
        Another circuit whose sound is looked for on this one's tone, peak and direct, with the take or a standard bass;
        everything else is then found with them there.

    Raises
    ------
    CircuitError
        When `unity_at` is not 0 to 10, or the circuit has no tone knob for `same_as`.
    AudioDataError
        When the take is silent, or makes no sound.
    """
    if unity_at is not None:
        check_position(unity_at)
    nearest = None if same_as is None else same_sound(circuit, same_as, take=take or standard_bass())
    circuit = circuit if nearest is None else nearest.nearest.of(circuit)
    tone = output_sources(tone_take(), circuit)
    source = tone if take is None else output_sources(take, circuit)
    unities = [] if take is None else _by_take(source, circuit)
    unities.append(unity(tone, circuit, measure="rms"))
    circuit = with_volume_found(source, circuit, measure=unities[0].measure)
    trimmed = None if unity_at is None else trim(source, circuit, position=unity_at, measure=unities[0].measure)
    ways = () if unity_at is None else _ways(circuit, unity_at, unities[0])
    mended = ways[0].of(circuit) if ways else circuit
    settled = None if trimmed is None else unity(source, mended, measure=unities[0].measure)
    names = knob_names(circuit)
    curves = tuple(knob_curve(circuit, name) for name in names)
    headrooms = headroom(source, circuit, unity_position=unities[0].position)
    left = least_in_hand(headrooms, circuit, heard=source.take.name, is_tone=take is None)
    return Knobs(
        circuit=_at_unity(mended, settled or unities[0]),
        curves=curves,
        even=tuple(most_even(circuit, name) for name in names),
        same_as=nearest,
        couplings=tuple(couplings(circuit)),
        unities=tuple(unities),
        trim=trimmed,
        ways=ways,
        settled=settled,
        headrooms=tuple(headrooms),
        in_hand=left,
        remarks=remarks(circuit, curves, left),
    )


def remarks(circuit: Circuit, curves: Iterable[KnobCurve], left: InHand | None) -> tuple[Remark, ...]:
    """Return what there is to mind of a circuit's knobs, headroom and parts.

    Parameters
    ----------
    circuit
        The circuit.
    curves
        Its knobs' curves.
    left
        What is left below the supply's limits.
    """
    steps = (one for curve in curves for one in step_remarks(curve.name, curve.steepest_per_step, curve.step_unit))
    hard = (*hard_parts(circuit.filter), *hard_knob_pots(circuit))
    return (*steps, *buying_remarks(hard), *headroom_remarks(left))


def _ways(circuit: Circuit, position: float, first: Unity) -> tuple[VolumeWay, ...]:
    """Return the tapers and trim resistors that put unity at a position; none where nothing does."""
    return volume_ways(circuit, position=position, full_db=first.excess_gain_db) if position > 0.0 else ()


def _at_unity(circuit: Circuit, found: Unity) -> Circuit:
    """Return a circuit with its volume at unity, at 10 where unity is beyond."""
    position = found.position
    return with_settings(circuit, {"knobs.volume": FULL_TURN if position is None else round(position, 2)})


def _by_take(source: OutputSources, circuit: Circuit) -> list[Unity]:
    """Return unity by a take's loudness, where it can be told, and by its RMS."""
    first = unity(source, circuit)
    return [first] if first.measure == "rms" else [first, unity(source, circuit, measure="rms")]


def _evenness(curve: KnobCurve) -> dict[str, Any]:
    """Return a taper and how even it makes a knob."""
    kept = ("taper", "midpoint", "steepest_per_step", "gentlest_per_step")
    return {name: value for name, value in curve.json_fields().items() if name in kept}
