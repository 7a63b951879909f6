"""Networks of one's own for tests: what works, what cannot, and seeded ones that a slip of the hand may have made."""

from __future__ import annotations

from typing import Any

import numpy as np

Parts = list[dict[str, Any]]


def resistor(name: str, value: object, *between: str) -> dict[str, Any]:
    """Return a resistor as a circuit file lists it."""
    return {"part": "resistor", "name": name, "value": value, "between": list(between)}


def capacitor(name: str, value: object, *between: str) -> dict[str, Any]:
    """Return a capacitor as a circuit file lists it."""
    return {"part": "capacitor", "name": name, "value": value, "between": list(between)}


def op_amp(name: str, plus: str, minus: str, output: str) -> dict[str, Any]:
    """Return an op-amp as a circuit file lists it."""
    return {"part": "op-amp", "name": name, "plus": plus, "minus": minus, "output": output}


def rheostat(name: str, value: str, *between: str) -> dict[str, Any]:
    """Return a gang of the tone pot as a circuit file lists it."""
    pot = {"value": value, "taper": "reverse-log"}
    return {"part": "rheostat", "name": name, "pot": pot, "end_resistor": "2k2", "between": list(between)}


def switched(name: str, flat: str, peaked: str, *between: str) -> dict[str, Any]:
    """Return a capacitor that the peak switch selects, as a circuit file lists it."""
    value = {"flat": flat, "peaked": peaked}
    return {"part": "switched-capacitor", "name": name, "value": value, "between": list(between)}


LADDER: Parts = [
    *(resistor("R1", "10k", "in", "a"), capacitor("C1", "10n", "a", "ground")),
    *(resistor("R2", "22k", "a", "out"), capacitor("C2", "4n7", "out", "ground")),
]
SALLEN_KEY: Parts = [
    *(resistor("R1", "33k", "in", "a"), resistor("R2", "33k", "a", "b")),
    *(capacitor("C1", "12n", "b", "ground"), capacitor("C2", "22n", "a", "out")),
    op_amp("U1", "b", "out", "out"),
]
SWEPT: Parts = [
    *(rheostat("P1", "50k", "in", "a"), rheostat("P2", "50k", "a", "b")),
    *(switched("C1", "22n", "15n", "b", "ground"), switched("C2", "47n", "100n", "a", "out")),
    op_amp("U1", "b", "out", "out"),
]
INVERTING: Parts = [
    *(resistor("R1", "10k", "in", "m"), resistor("R2", "22k", "m", "out"), capacitor("C1", "10n", "m", "out")),
    op_amp("U1", "ground", "m", "out"),
]
HIGH_PASS: Parts = [capacitor("C1", "10n", "in", "out"), resistor("R1", "10k", "out", "ground")]
BAND_PASS: Parts = [
    *(resistor("R1", "33k", "in", "a"), capacitor("C1", "10n", "a", "m"), capacitor("C2", "10n", "a", "out")),
    *(resistor("R2", "68k", "m", "out"), op_amp("U1", "ground", "m", "out")),
]
STATE_VARIABLE: Parts = [
    *(resistor("R1", "10k", "in", "m1"), resistor("R2", "10k", "m1", "hp"), resistor("R3", "10k", "m1", "out")),
    *(resistor("R4", "22k", "p1", "bp"), resistor("R5", "10k", "p1", "ground"), op_amp("U1", "p1", "m1", "hp")),
    *(resistor("R6", "15k", "hp", "m2"), capacitor("C1", "10n", "m2", "bp"), op_amp("U2", "ground", "m2", "bp")),
    *(resistor("R7", "15k", "bp", "m3"), capacitor("C2", "10n", "m3", "out"), op_amp("U3", "ground", "m3", "out")),
]
TWIN_T: Parts = [
    *(resistor("R1", "10k", "in", "a"), resistor("R2", "10k", "a", "c"), capacitor("C1", "20n", "a", "ground")),
    *(capacitor("C2", "10n", "in", "b"), capacitor("C3", "10n", "b", "c"), resistor("R3", "5k1", "b", "ground")),
    op_amp("U1", "c", "out", "out"),
]
WORKING: dict[str, Parts] = {
    "ladder": LADDER,
    "Sallen-Key": SALLEN_KEY,
    "swept": SWEPT,
    "inverting": INVERTING,
    "high-pass": HIGH_PASS,
    "band-pass": BAND_PASS,
    "state variable": STATE_VARIABLE,
    "twin T": TWIN_T,
}


def exchanged(parts: Parts, *names: str) -> Parts:
    """Return parts with the inputs of some op-amps exchanged."""
    return [part | {"plus": part["minus"], "minus": part["plus"]} if part["name"] in names else part for part in parts]


def with_slips(rng: np.random.Generator) -> Parts:
    """Return one of the working networks with up to three slips: parts left out, added, turned or joined elsewhere."""
    parts = [dict(part) for part in WORKING[str(rng.choice(sorted(WORKING)))]]
    for _ in range(int(rng.integers(0, 4))):
        nodes = sorted(
            {node for part in parts for key in ("plus", "minus", "output") for node in [part.get(key)] if node}
        )
        nodes += sorted(
            {"in", "out", "ground", "a", "x"} | {node for part in parts for node in part.get("between", ())}
        )
        at = int(rng.integers(len(parts)))
        slip = rng.integers(5)
        if slip == 0 and len(parts) > 1:
            parts.pop(at)
        elif slip == 1 and "plus" in parts[at]:
            parts = exchanged(parts, parts[at]["name"])
        elif slip == 2:
            key = str(rng.choice(["plus", "minus", "output"])) if "plus" in parts[at] else "between"
            node = str(rng.choice(nodes))
            parts[at] = parts[at] | {key: node if key != "between" else [parts[at]["between"][0], node]}
        elif slip == 3:
            ends = (str(rng.choice(nodes)), str(rng.choice(nodes)))
            parts.append(_any_part(rng, f"X{len(parts)}", ends, str(rng.choice(nodes))))
        elif isinstance(parts[at].get("value"), str):
            parts[at] = parts[at] | {"value": _value(rng, parts[at]["part"])}
    return parts


def _value(rng: np.random.Generator, part: str) -> float:
    """Return a resistance from 1 Ω to 1 MΩ, or a capacitance from 10 pF to 1 µF."""
    return float(10 ** (rng.uniform(0, 6) if part == "resistor" else rng.uniform(-11, -6)))


def _any_part(rng: np.random.Generator, name: str, ends: tuple[str, str], output: str) -> dict[str, Any]:
    """Return a part of any sort."""
    sort = rng.integers(5)
    if sort == 0:
        return op_amp(name, *ends, output)
    if sort == 1:
        return rheostat(name, "100k", *ends)
    if sort == 2:
        return switched(name, "1n", "47n", *ends)
    if sort == 3:
        return resistor(name, _value(rng, "resistor"), *ends)
    return capacitor(name, _value(rng, "capacitor"), *ends)
