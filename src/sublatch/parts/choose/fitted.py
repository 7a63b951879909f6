"""A chosen filter put into a circuit: its title tells it, its trim resistor and its volume follow unity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.choose.choice import MeasuredSet
from sublatch.parts.knobs.trim import trim
from sublatch.signal.chain import output_sources
from sublatch.signal.node_voltages import OutputSources
from sublatch.signal.unity import tone_take, unity
from sublatch.units import format_hertz

MOVED = 0.05
"""A move of unity by less, in positions of the volume knob, is nothing that a hand sets."""


@dataclass(frozen=True)
class Fitted:
    """A circuit with a chosen filter in it.

    Attributes
    ----------
    circuit
        The circuit, its title, trim resistor and volume mended.
    unity_before, unity_after
        Where unity was and is on the volume knob, with a tone; None where it is beyond 10.
    old_volume
        Where the volume stood; one at unity goes along by itself.
    old_trim_ohm
        The trim resistor that it had; None without one.
    """

    circuit: Circuit
    unity_before: float | None
    unity_after: float | None
    old_volume: float | str
    old_trim_ohm: float | None = None

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: of the circuit only its title, volume and trim resistor."""
        output, knobs = self.circuit.output, self.circuit.knobs
        fields = {"title": self.circuit.title, "volume": knobs.volume, "trim_ohm": output.trim_resistor}
        return fields | {name: value for name, value in vars(self).items() if name != "circuit"}


def fitted(circuit: Circuit, chosen: MeasuredSet, *, into: Circuit) -> Fitted:
    """Return a circuit with a chosen filter, titled after it, its volume at unity where unity moved.

    Parameters
    ----------
    circuit
        The circuit as it was.
    chosen
        The chosen parts.
    into
        The same circuit with the parts in it, its controls those of the new filter.

    Notes
    -----
    Unity is found with the tone that stands in for a take in `knobs`, with all other knobs where they are. A circuit
    that has a trim resistor gets the one that puts unity back where it was; what is then left, the volume follows.
    """
    before, after = (_unity(one) for one in (circuit, into))
    old_trim_ohm = into.output.trim_resistor
    if _moved(before, after) and before is not None and old_trim_ohm is not None:
        into, after = _trimmed(into, before)
    volume = FULL_TURN if after is None else round(after, 2)
    turns = _moved(before, after) and into.knobs.volume != UNITY
    mended = with_settings(into, {"knobs.volume": volume}) if turns else into
    titled = mended.model_copy(update={"title": new_title(circuit.title, chosen)})
    return Fitted(titled, before, after, circuit.knobs.volume, old_trim_ohm)


def _moved(before: float | None, after: float | None) -> bool:
    """Return whether unity has moved by as much as a hand sets, or beyond 10 or back."""
    if before is None or after is None:
        return (before is None) != (after is None)
    return abs(round(after, 2) - before) > MOVED


def _trimmed(into: Circuit, wanted: float) -> tuple[Circuit, float | None]:
    """Return a circuit whose trim resistor puts unity back, out where gain is missing for that, and where unity is."""
    best = trim(_source(into), into, position=wanted, measure="rms")
    return with_settings(into, {"output.trim_resistor": best.resistor_ohm}), best.position


def new_title(title: str, chosen: MeasuredSet) -> str:
    """Return a circuit's title with what it says of a filter, after a comma, replaced by the chosen one."""
    first, *others = title.split(", ")
    kept = [clause for clause in others if "filter" not in clause.casefold()]
    return ", ".join([first, *kept, _words(chosen)])


def _words(chosen: MeasuredSet) -> str:
    """Return a chosen filter in a few words."""
    low, *others = chosen.settings
    kind = chosen.circuit.filter.kind
    if not chosen.circuit.filter.works_with_tone:
        return f"{kind} filter at {_hertz(low.corner_hz)}"
    high, peaked = others[0], max(one.peak_db for one in chosen.settings)
    return f"swept filter from {_hertz(low.corner_hz)} to {_hertz(high.corner_hz)} with {peaked:.1f} dB of peak"


def _hertz(value_hz: float) -> str:
    """Return a frequency in three digits."""
    return format_hertz(float(f"{value_hz:.3g}"))


def _unity(circuit: Circuit) -> float | None:
    """Return where unity is on a circuit's volume knob, by a tone."""
    return unity(_source(circuit), circuit, measure="rms").position


def _source(circuit: Circuit) -> OutputSources:
    """Return the tone that stands in for a take, as far as a circuit's octave stage."""
    return output_sources(tone_take(), circuit)
