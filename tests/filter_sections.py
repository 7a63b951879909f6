"""Random filters of textbook sections, as circuit files list them: what a user may want drawn."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from own_networks import Parts, capacitor, op_amp, resistor, rheostat, switched

MOST_PARTS = 15


class Namer:
    """Fresh names of parts and nodes, such as a user gives: short ones, and now and then a long one."""

    def __init__(self, rng: np.random.Generator) -> None:
        """Start with none."""
        self.rng, self.count = rng, 0

    def part(self, letter: str) -> str:
        """Return a fresh name of a part."""
        self.count += 1
        word = str(self.rng.choice(["", "", "", " trim", " of the bridge"]))
        return f"{letter}{self.count}{word}"

    def node(self) -> str:
        """Return a fresh name of a node."""
        self.count += 1
        return f"{self.rng.choice(['n', 'x', 'mid', 'after'])}{self.count}"

    def r(self, a: str, b: str) -> dict[str, object]:
        """Return a resistor, or now and then a gang of the tone pot, listed either way round."""
        a, b = (a, b) if self.rng.random() < 0.7 else (b, a)
        value = str(self.rng.choice(["10k", "22k", "33k", "5k1"]))
        return (
            rheostat(self.part("P"), "50k", a, b) if self.rng.random() < 0.06 else resistor(self.part("R"), value, a, b)
        )

    def c(self, a: str, b: str) -> dict[str, object]:
        """Return a capacitor, or now and then one that the switch selects, listed either way round."""
        if self.rng.random() < 0.06:
            return switched(self.part("C"), "10n", "22n", a, b)
        a, b = (a, b) if self.rng.random() < 0.7 else (b, a)
        return capacitor(self.part("C"), str(self.rng.choice(["10n", "22n", "4n7"])), a, b)


Section = Callable[[Namer, str, str], Parts]


def ladder(new: Namer, a: str, b: str) -> Parts:
    """Return a resistor and a capacitor to ground, now and then with a resistor to ground in series with it."""
    if new.rng.random() < 0.3:
        low = new.node()
        return [new.r(a, b), new.c(b, low), new.r(low, "ground")]
    return [new.r(a, b), new.c(b, "ground")]


def bridged_t(new: Namer, a: str, b: str) -> Parts:
    """Return a bridged T."""
    mid = new.node()
    return [new.r(a, mid), new.r(mid, b), new.c(mid, "ground"), new.c(a, b)]


def sallen_key(new: Namer, a: str, b: str) -> Parts:
    """Return a Sallen-Key low-pass, with a gain of 1 or a little more."""
    first, plus = new.node(), new.node()
    parts = [new.r(a, first), new.r(first, plus), new.c(plus, "ground"), new.c(first, b)]
    if new.rng.random() < 0.5:
        return [*parts, op_amp(new.part("U"), plus, b, b)]
    minus = new.node()
    divider = [resistor(new.part("R"), "3k3", b, minus), resistor(new.part("R"), "22k", minus, "ground")]
    return [*parts, *divider, op_amp(new.part("U"), plus, minus, b)]


def high_pass(new: Namer, a: str, b: str) -> Parts:
    """Return a Sallen-Key high-pass."""
    first, plus = new.node(), new.node()
    return [
        *(new.c(a, first), new.c(first, plus), new.r(plus, "ground"), new.r(first, b)),
        op_amp(new.part("U"), plus, b, b),
    ]


def multiple_feedback(new: Namer, a: str, b: str) -> Parts:
    """Return a low-pass with multiple feedback."""
    first, minus = new.node(), new.node()
    return [
        *(new.r(a, first), new.c(first, "ground"), new.r(first, minus), new.r(first, b), new.c(minus, b)),
        op_amp(new.part("U"), "ground", minus, b),
    ]


def twin_t(new: Namer, a: str, b: str) -> Parts:
    """Return a twin T with a follower."""
    low, high, end = new.node(), new.node(), new.node()
    return [
        *(new.r(a, low), new.r(low, end), new.c(low, "ground")),
        *(new.c(a, high), new.c(high, end), new.r(high, "ground"), op_amp(new.part("U"), end, b, b)),
    ]


def state_variable(new: Namer, a: str, b: str) -> Parts:
    """Return a state-variable low-pass."""
    sums, plus, high, second, band, third = (new.node() for _ in range(6))
    return [
        *(new.r(a, sums), new.r(sums, high), new.r(sums, b), new.r(plus, band), new.r(plus, "ground")),
        *(op_amp(new.part("U"), plus, sums, high), new.r(high, second), new.c(second, band)),
        *(op_amp(new.part("U"), "ground", second, band), new.r(band, third), new.c(third, b)),
        op_amp(new.part("U"), "ground", third, b),
    ]


SECTIONS: tuple[Section, ...] = (
    *(ladder, bridged_t, sallen_key, high_pass, multiple_feedback, twin_t, state_variable),
)


def random_filter(seed: int) -> Parts:
    """Return sections in a row, 15 parts at most, in an order as a user might list them."""
    rng = np.random.default_rng(seed)
    new, parts, source = Namer(rng), [], "in"
    for _ in range(int(rng.integers(1, 5))):
        end = new.node()
        more = SECTIONS[int(rng.integers(len(SECTIONS)))](new, source, end)
        if len(parts) + len(more) > MOST_PARTS:
            break
        parts, source = [*parts, *more], end
    keys = ("plus", "minus", "output")
    renamed = [
        {key: "out" if key in keys and value == source else value for key, value in part.items()}
        | ({"between": ["out" if node == source else node for node in part["between"]]} if "between" in part else {})
        for part in parts
    ]
    return [renamed[int(place)] for place in rng.permutation(len(renamed))]
