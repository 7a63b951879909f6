"""All that `sublatch knobs` tells: what the knobs set, where the old sound is, bass, unity, trim and headroom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sublatch.build.coupling import Coupling, couplings
from sublatch.build.headroom import Headroom, headroom
from sublatch.build.judgement import (
    InHand,
    Remark,
    buying_remarks,
    hard_knob_pots,
    hard_parts,
    headroom_remarks,
    least_in_hand,
    step_remarks,
)
from sublatch.build.tapers import KnobCurve, knob_curve, knob_names, most_even, position_of_corner
from sublatch.build.trim import Trim, check_position, trim
from sublatch.circuit.model import Circuit
from sublatch.circuit.response import response
from sublatch.errors import CircuitError
from sublatch.signal.chain import driven
from sublatch.signal.driven import Driven
from sublatch.signal.unity import Unity, tone_take, unity, with_volume_found
from sublatch.take import Take


@dataclass(frozen=True)
class SameAs:
    """Where the tone knob has the corner of another circuit's output filter.

    Attributes
    ----------
    circuit
        The other circuit's title.
    corner_hz
        Its corner, 3.01 dB down, in hertz.
    position
        Position of the tone knob; None where its sweep does not reach the corner.
    """

    circuit: str
    corner_hz: float
    position: float | None


@dataclass(frozen=True)
class Knobs:
    """What a circuit's knobs do.

    Attributes
    ----------
    title
        The circuit's.
    curves
        Each knob's curve (`tone`, `volume`, `direct`).
    even
        The same with the most even taper.
    same_as
        Where another circuit's filter is on the tone knob, if it was asked for.
    couplings
        The coupling capacitors, from input to output.
    unities
        Unity by loudness and RMS of the take, and by a tone; the first one counts.
    trim
        The trim resistor that was asked for, if any.
    headrooms
        The take's, or the tone's, headroom at unity and as the knobs are set.
    in_hand
        The least of it with the filter's peak at unity; None where nothing sounds.
    remarks
        What there is to mind: twitchy knobs, little headroom, parts that are hard to buy.
    """

    title: str
    curves: tuple[KnobCurve, ...]
    even: tuple[KnobCurve, ...]
    same_as: SameAs | None
    couplings: tuple[Coupling, ...]
    unities: tuple[Unity, ...]
    trim: Trim | None
    headrooms: tuple[Headroom, ...]
    in_hand: InHand | None
    remarks: tuple[Remark, ...]

    @property
    def unity_position(self) -> float | None:
        """Where the volume knob makes the effect as loud as bypassed; None where it is too soft everywhere."""
        return self.unities[0].position

    def to_dict(self) -> dict[str, Any]:
        """Return everything as plain values for JSON."""
        return {
            "title": self.title,
            "knobs": [
                {**curve.to_dict(), "most_even": _evenness(even)}
                for curve, even in zip(self.curves, self.even, strict=True)
            ],
            "same_as": None if self.same_as is None else vars(self.same_as),
            "coupling": [one.to_dict() for one in self.couplings],
            "unity_position": self.unity_position,
            "excess_gain_db": self.unities[0].excess_gain_db,
            "unity": [one.to_dict() for one in self.unities],
            "trim_resistor_ohm": None if self.trim is None else self.trim.resistor_ohm,
            "trim": None if self.trim is None else self.trim.to_dict(),
            "headroom": [one.to_dict() for one in self.headrooms],
            "in_hand": None if self.in_hand is None else self.in_hand.to_dict(),
            "remarks": [one.to_dict() for one in self.remarks],
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
        Another circuit whose corner is looked for on this one's tone knob.

    Raises
    ------
    CircuitError
        When `unity_at` is not 0 to 10, the circuit has no tone knob for `same_as`, or `same_as` has no corner.
    AudioDataError
        When the take is silent.
    """
    if unity_at is not None:
        check_position(unity_at)
    found_there = None if same_as is None else same_corner(circuit, same_as)
    tone = driven(tone_take(), circuit)
    source = tone if take is None else driven(take, circuit)
    unities = [] if take is None else _by_take(source, circuit)
    unities.append(unity(tone, circuit, measure="rms"))
    circuit = with_volume_found(source, circuit, measure=unities[0].measure)
    names = knob_names(circuit)
    curves = tuple(knob_curve(circuit, name) for name in names)
    headrooms = headroom(source, circuit, unity_position=unities[0].position)
    left = least_in_hand(headrooms, circuit, heard=source.take.name, is_tone=take is None)
    return Knobs(
        title=circuit.title,
        curves=curves,
        even=tuple(most_even(circuit, name) for name in names),
        same_as=found_there,
        couplings=tuple(couplings(circuit)),
        unities=tuple(unities),
        trim=None if unity_at is None else trim(source, circuit, position=unity_at, measure=unities[0].measure),
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


def same_corner(circuit: Circuit, other: Circuit) -> SameAs:
    """Return where a circuit's tone knob has the corner of another circuit's output filter.

    Parameters
    ----------
    circuit
        A circuit with a tone knob.
    other
        The circuit whose filter is looked for, at its own knob and switch positions.

    Raises
    ------
    CircuitError
        When the first has no tone knob, or the other's filter has no corner.
    """
    corner_hz = response(other, frequency_hz=[]).corner_hz
    if corner_hz is None:
        raise CircuitError(
            f"the circuit to be found on the tone knob must have an output filter with a corner, got {other.title!r} "
            "with none; try gated-first-order"
        )
    return SameAs(other.title, corner_hz, position_of_corner(circuit, corner_hz))


def _by_take(source: Driven, circuit: Circuit) -> list[Unity]:
    """Return unity by a take's loudness, where it can be told, and by its RMS."""
    first = unity(source, circuit)
    return [first] if first.measure == "rms" else [first, unity(source, circuit, measure="rms")]


def _evenness(curve: KnobCurve) -> dict[str, Any]:
    """Return a taper and how even it makes a knob."""
    kept = ("taper", "midpoint", "steepest_per_step", "gentlest_per_step")
    return {name: value for name, value in curve.to_dict().items() if name in kept}
