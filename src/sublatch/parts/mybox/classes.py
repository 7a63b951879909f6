"""The circuit that a box is taken for before anything is fitted: what is known, in the nearest built-in circuit."""

from __future__ import annotations

from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.kinds import KINDS
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin, markable_paths
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.parts.mybox.facts import SWEPT, BoxFacts

BASES = {"gain-gated": "gated-first-order", "polarity-switched": "polarity-third-order"}
"""The built-in circuit whose values stand for what is not known, by the way the octave is made."""
LIKELIEST = "gain-gated"
"""The way that is assumed where nobody knows: the one that needs the fewer parts. Common practice, no source."""

COUPLED_S = 0.1
"""Time constant of the volume pot and the capacitor ahead of it, as in the built-in circuits: what is assumed of a box
is that its bass passes, 1.6 Hz, and not how large the capacitor is."""


def class_circuit(facts: BoxFacts) -> Circuit:
    """Return what is known put into the nearest built-in circuit, every value marked known or assumed.

    Parameters
    ----------
    facts
        What is known.

    Raises
    ------
    CircuitError
        When a known setting is none of the circuit's, or out of its range, or the filter cannot be of the kind.
    """
    octave = str(facts.known.get("octave.kind", LIKELIEST))
    kind = _filter_kind(facts)
    changes = dict(facts.known) if kind is None else {"filter.kind": kind, **facts.known}
    base = BASES.get(octave, BASES[LIKELIEST])
    circuit = load_circuit(base, changes={"knobs.direct": 0.0, "knobs.volume": _volume(facts), **changes})
    assumed: dict[str, float | None] = {}
    if "output.trim_resistor" not in facts.known:
        assumed["output.trim_resistor"] = None
    if "output.coupling" not in facts.known:
        assumed["output.coupling"] = COUPLED_S / circuit.output.pot.value
    circuit = with_settings(circuit, assumed)
    return circuit.model_copy(update={"origins": _first_marks(circuit, facts)})


def _volume(facts: BoxFacts) -> float | str:
    """Return where the volume knob stands: at unity, by its number where that is known."""
    return UNITY if facts.unity_at is None else facts.unity_at


def _filter_kind(facts: BoxFacts) -> str | None:
    """Return the kind of filter that the facts ask for, where they do not name it; None for the class's own."""
    if "filter.kind" in facts.known:
        return None
    if facts.low_hz is not None:
        return SWEPT
    if facts.peak_db:
        return "second-order"
    parts = {path.split(".")[1] for path in facts.known if path.startswith("filter.")}
    having = [kind for kind in KINDS if parts <= set(kind.model_fields)]
    if parts and not having:
        raise CircuitError(f"no kind of filter has all of filter.{', filter.'.join(sorted(parts))}")
    return _word(having[0]) if parts else None


def _word(kind: type[FilterKind]) -> str:
    """Return a kind of filter as its word in a circuit file."""
    return str(kind.model_fields["kind"].default)


def _first_marks(circuit: Circuit, facts: BoxFacts) -> dict[str, Origin]:
    """Return known for what the facts say of the board, assumed for all the rest."""
    settled = {"filter.kind"} if facts.low_hz is not None else set()
    marks: dict[str, Origin] = {}
    for path in markable_paths(circuit):
        known = path in settled or any(path == one or path.startswith(f"{one}.") for one in facts.known)
        marks[path] = "known" if known else "assumed"
    for table, pot in (("output.pot", circuit.output.pot), ("mix.direct_pot", circuit.mix.direct_pot)):
        if pot.taper == "linear":
            marks.pop(f"{table}.midpoint", None)  # it works nothing
    return marks
