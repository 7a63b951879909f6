"""The cheapest measurements that would settle what is assumed of a box: by meter, by a phone's tone, by recording."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin
from sublatch.parts.mybox.facts import BoxFacts

NAMED = 3
TONE = "A tone of 110 Hz from a phone into the input"


@dataclass(frozen=True)
class Measurement:
    """A measurement that a player can make at the kitchen table.

    Attributes
    ----------
    with_what
        ``a meter``, ``a tone from a phone`` or ``a recording``.
    how
        What to do, in a sentence.
    settles
        What of the box it settles that is open: figures by their names, and settings by dotted path.
    option
        How `sublatch mybox` takes the result.
    """

    with_what: str
    how: str
    settles: tuple[str, ...]
    option: str


METER, PHONE, RECORDING = "a meter", "a tone from a phone", "a recording"
ALL: tuple[Measurement, ...] = (
    Measurement(
        METER,
        "Supply off, volume at 0: ohms between the two outer lugs of the volume pot.",
        ("output.pot.value",),
        "--volume-pot OHMS",
    ),
    Measurement(
        METER,
        "Supply off, volume at 5: ohms from the wiper to the lug that is at 0 V, as a share of the whole track. About "
        "half is a linear pot, a sixth a log one.",
        ("output.pot.taper",),
        "--taper linear, log or reverse-log",
    ),
    Measurement(METER, "Supply on: volts at the supply pin of an op-amp.", ("supply",), "--supply VOLTS"),
    Measurement(
        PHONE,
        f"{TONE}, a meter on AC volts at the output: 20 log of its reading with the volume at 10 over that at 5.",
        ("output.load", "output.pot.midpoint"),
        "--at-5 DB",
    ),
    Measurement(
        PHONE,
        f"{TONE}, a meter on AC volts at the output: the volume at which it reads the same as bypassed, and "
        "20 log of the reading with the volume at 10 over that.",
        ("unity", "in-hand"),
        "--unity-at POSITION --in-hand DB",
    ),
    Measurement(
        RECORDING,
        f"{TONE}, direct at 0, volume where it does not clip: record five seconds of the output.",
        ("octave.kind", "corner", "filter.kind"),
        "--recording FILE",
    ),
    Measurement(
        METER,
        "Supply on, nothing played: volts at the output buffer's output, as a share of the supply.",
        ("output.bias",),
        "--read output.bias=SHARE",
    ),
    Measurement(
        METER,
        "Supply off, one leg lifted: ohms of the resistor from the output filter to the mixing joint.",
        ("mix.octave_resistor",),
        "--read mix.octave_resistor=OHMS",
    ),
)
"""All that are known, the cheapest first."""


def cheapest(circuit: Circuit, facts: BoxFacts) -> tuple[Measurement, ...]:
    """Return the cheapest measurements that would settle what is assumed of a box, three at most.

    Parameters
    ----------
    circuit
        The circuit, its values marked.
    facts
        What was known.

    Notes
    -----
    One with each instrument comes first, the cheapest that settles something; then the next of any.
    """
    useful = [one for one in ALL if any(is_unsettled(circuit, facts, what) for what in one.settles)]
    first = [next((one for one in useful if one.with_what == tool), None) for tool in (METER, PHONE, RECORDING)]
    chosen = [one for one in first if one is not None]
    chosen += [one for one in useful if one not in chosen]
    named = sorted(chosen[:NAMED], key=ALL.index)
    return tuple(
        replace(one, settles=tuple(what for what in one.settles if is_unsettled(circuit, facts, what))) for one in named
    )


def is_unsettled(circuit: Circuit, facts: BoxFacts, what: str) -> bool:
    """Return whether a figure was not stated, or a setting is not known."""
    rules: dict[str, Callable[[], bool]] = {
        "corner": lambda: circuit.tone is None and not circuit.filter.is_wire and facts.corner_hz is None,
        "unity": lambda: facts.unity_at is None,
        "in-hand": lambda: facts.in_hand_db is None,
        "output.pot.midpoint": lambda: circuit.output.pot.taper != "linear" and _mark(circuit, what) != "known",
        "output.load": lambda: (
            _mark(circuit, what) == "assumed" or (_mark(circuit, what) == "fitted" and not facts.half_db)
        ),
    }
    return rules[what]() if what in rules else _mark(circuit, what) == "assumed"


def _mark(circuit: Circuit, path: str) -> Origin | None:
    """Return a value's mark."""
    return circuit.origins.get(path)
