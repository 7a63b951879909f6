"""Small networks to lay out: the swept filter of textbooks with one chip, and random ones."""

from __future__ import annotations

import numpy as np

from sublatch.board.netlist import Component

SWEPT_EDGE = ("in", "out", "bias", "supply", "0V")


def resistor(reference: str, a: str, b: str) -> Component:
    """Return a resistor between two nets."""
    return Component(reference, "resistor", "3k3", reference, "own", (("a", a), ("b", b)), amount=3.3e3)


def capacitor(reference: str, a: str, b: str, farad: float, *, role: str = "") -> Component:
    """Return a capacitor between two nets."""
    pins = (("a", a), ("b", b))
    return Component(reference, "capacitor", f"{farad * 1e9:g}n", role or reference, "own", pins, amount=farad)


def op_amp(reference: str, plus: str, minus: str, output: str) -> Component:
    """Return one section of a dual op-amp."""
    pins = (("+", plus), ("-", minus), ("out", output))
    return Component(reference, "op-amp", "", reference, "own", pins, package=reference[:-1])


def swept_filter(*, buffered: bool = False, divided: bool = False) -> list[Component]:
    """Return a second-order low-pass that a dual-gang pot sweeps, its chip's other half free or a bias follower's."""
    parts = [
        resistor("R1", "first", "a"),
        resistor("R2", "second", "b"),
        capacitor("C1", "b", "bias", 12e-9),
        capacitor("C2", "a", "out", 22e-9),
        op_amp("U1A", "b", "out", "out"),
        *(
            Component(f"RV1{gang}", "pot", "100k", gang, "own", pins, package="RV1")
            for gang, pins in (
                ("A", (("ccw", "first"), ("wiper", "first"), ("cw", "in"))),
                ("B", (("ccw", "second"), ("wiper", "second"), ("cw", "a"))),
            )
        ),
        capacitor("C3", "supply", "0V", 100e-9, role="decoupling.U1"),
    ]
    if buffered or divided:
        parts.append(op_amp("U1B", "divider", "bias", "bias"))
    if divided:
        parts += [resistor("R3", "supply", "divider"), resistor("R4", "divider", "0V")]
        pins = (("a", "divider"), ("b", "0V"))
        parts.append(Component("C4", "electrolytic", "10u", "C4", "own", pins, amount=10e-6))
    return parts


def random_network(seed: int, *, most: int = 25) -> tuple[list[Component], tuple[str, ...]]:
    """Return a random network of up to so many parts, and its nets at the edge."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, most + 1))
    chips = int(rng.integers(0, 1 + min(2, count // 8)))
    nets = ["bias", "supply", "0V", *(f"n{number}" for number in range(max(2, count - 2)))]

    def two() -> tuple[str, str]:
        a, b = rng.choice(len(nets), 2, replace=False)
        return nets[a], nets[b]

    parts = []
    for number in range(count - 2 * chips):
        kind, (a, b) = rng.random(), two()
        if kind < 0.55:
            parts.append(resistor(f"R{number}", a, b))
        elif kind < 0.85:
            parts.append(capacitor(f"C{number}", a, b, float(rng.choice([100e-12, 10e-9, 68e-9, 330e-9, 1e-6]))))
        elif kind < 0.93:
            pins = (("a", a), ("b", b))
            parts.append(Component(f"D{number}", "diode", "1N4148", f"D{number}", "own", pins))
        else:
            pins = (("a", a), ("b", b))
            can = Component(f"C{number}", "electrolytic", "10u", f"C{number}", "own", pins, amount=10e-6)
            parts.append(can)
    for number in range(1, chips + 1):
        for section in "AB"[: int(rng.integers(1, 3))]:
            plus, (minus, output) = two()[0], two()
            parts.append(op_amp(f"U{number}{section}", plus, minus, output))
        parts.append(capacitor(f"CU{number}", "supply", "0V", 100e-9, role=f"decoupling.U{number}"))
    edge = tuple(str(net) for net in rng.choice(nets, min(len(nets), int(rng.integers(1, 6))), replace=False))
    return parts, edge
