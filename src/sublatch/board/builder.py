"""Putting components on a board: designators, sections of packages, and what is left over of them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Component, Control, Kind
from sublatch.board.packages.types import package_types
from sublatch.circuit.components.controls import Pot
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.units import format_farads, format_ohms

Pins = tuple[tuple[str, str], ...]

PACKAGES: dict[Kind, tuple[str, int, str]] = {
    "op-amp": ("dual op-amp", 2, "or another whose inputs and output suit the supply"),
    "comparator": ("dual comparator", 2, "open-collector outputs"),
    "flip-flop": ("dual D flip-flop", 2, "CMOS with set and reset that act high, as the 4013 type has"),
    "analogue switch": ("triple changeover", 1, "CMOS analogue switch, 4053 type; the spare two tied to 0 V"),
    "transconductance amplifier": ("dual transconductance amplifier", 2, "LM13700 type; its diodes and buffers unused"),
}
"""What holds the sections of each kind: what to order, how many it holds, and what to look for."""
POWER: dict[Kind, Pins] = {
    "op-amp": (("V+", SUPPLY), ("V-", ZERO)),
    "comparator": (("V+", SUPPLY), ("V-", ZERO)),
    "flip-flop": (("VDD", SUPPLY), ("VSS", ZERO)),
    "analogue switch": (
        *(("VDD", SUPPLY), ("VSS", ZERO), ("VEE", ZERO), ("INH", ZERO), ("B", ZERO), ("C", ZERO)),
        *((pin, ZERO) for pin in ("b", "b0", "b1", "c", "c0", "c1")),
    ),
    "transconductance amplifier": (("V+", SUPPLY), ("V-", ZERO)),
}
SPARE: dict[Kind, Pins] = {
    "op-amp": (("+", BIAS), ("-", "spare"), ("out", "spare")),
    "comparator": (("+", ZERO), ("-", ZERO)),
    "flip-flop": tuple((pin, ZERO) for pin in ("D", "CLK", "S", "R")),
    "transconductance amplifier": tuple((pin, ZERO) for pin in ("+", "-", "control", "diodes", "buffer in")),
}
"""What a section that nothing uses is tied to; common practice, no source: an op-amp follows the bias, inputs of all
others go to 0 V, outputs stay open."""
THROWS: dict[str, tuple[str, str]] = {
    "peak": ("flat", "peaked"),
    "drive": ("normal", "inverted"),
    "bypass": ("effect", "bypass"),
}
"""First and second throw of each switch."""
LUGS = (("ccw", 1), ("wiper", 2), ("cw", 3))
"""Of a pot, seen from the shaft with the lugs down: left, middle, right (common practice, no source)."""
DECOUPLING_FARAD = 100e-9
"""Across each package's supply pins; common practice, no source."""


@dataclass
class Builder:
    """The components so far, and the numbers and sections that are free."""

    circuit: Circuit
    block: str = ""
    components: list[Component] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    _numbers: Counter[str] = field(default_factory=Counter)
    _free: dict[Kind, list[str]] = field(default_factory=dict)
    _packages: dict[str, Kind] = field(default_factory=dict)

    def resistor(
        self, role: str, ohm: float, a: str, b: str, *, path: str | None = None, note: str = "", tolerance: str = "1 %"
    ) -> None:
        """Put a resistor between two nets; its role is its path unless it has a note of its own."""
        pins = (("a", a), ("b", b))
        self._add("R", Component("", "resistor", format_ohms(ohm), role, "", pins, path, note, tolerance, amount=ohm))

    def capacitor(
        self,
        role: str,
        farad: float,
        a: str,
        b: str,
        *,
        path: str | None = None,
        note: str = "",
        tolerance: str = "5 %",
    ) -> None:
        """Put a capacitor between two nets."""
        pins, value = (("a", a), ("b", b)), format_farads(farad)
        self._add("C", Component("", "capacitor", value, role, "", pins, path, note, tolerance, amount=farad))

    def electrolytic(self, role: str, farad: float, plus: str, minus: str, *, note: str) -> None:
        """Put an electrolytic capacitor between two nets."""
        pins = (("a", plus), ("b", minus))
        self._add(
            "C", Component("", "electrolytic", format_farads(farad), role, "", pins, None, note, "20 %", amount=farad)
        )

    def diode(self, role: str, value: str, anode: str, cathode: str, *, note: str) -> None:
        """Put a diode between two nets."""
        self._add("D", Component("", "diode", value, role, "", (("a", anode), ("b", cathode)), None, note))

    def network(
        self, parts: Sequence[Part], *, prefix: str, notes: Mapping[str, str], tolerances: Mapping[str, str]
    ) -> None:
        """Put a network, its ground at the bias: resistors and capacitors as they come, then the op-amps."""
        for part in sorted(parts, key=lambda part: isinstance(part, OpAmp)):
            role, note = f"{prefix}{part.name}", notes.get(part.name, "")
            nets = [BIAS if node == GROUND else node for node in part.nodes]
            if isinstance(part, OpAmp):
                self.op_amp(role, *nets, note=note)
            elif isinstance(part, Resistor):
                self.resistor(role, part.ohm, *nets, note=note, tolerance=tolerances.get(part.name, "1 %"))
            elif isinstance(part, Capacitor):
                self.capacitor(role, part.farad, *nets, note=note, tolerance=tolerances.get(part.name, "5 %"))

    def other(
        self, letters: str, kind: Kind, value: str, role: str, pins: Pins, *, note: str, path: str | None = None
    ) -> None:
        """Put any other thing with pins of its own."""
        self._add(letters, Component("", kind, value, role, "", pins, path, note))

    def op_amp(self, role: str, plus: str, minus: str, output: str, *, note: str) -> None:
        """Put one section of a dual op-amp."""
        self.section("op-amp", role, (("+", plus), ("-", minus), ("out", output)), note=note)

    def section(self, kind: Kind, role: str, pins: Pins, *, note: str) -> None:
        """Put one section of a package, a new package when no section is free."""
        free = self._free.setdefault(kind, [])
        if not free:
            package = self._next("U")
            self._packages[package] = kind
            free += [package + letter for letter in "AB"[: PACKAGES[kind][1]]]
        reference = free.pop(0)
        self.components.append(
            Component(reference, kind, "", role, self.block, pins, note=note, package=reference.rstrip("AB"))
        )

    def pot(
        self,
        role: str,
        pot: Pot,
        ends: tuple[str, str, str],
        *,
        control: Control,
        path: str | None,
        note: str = "",
    ) -> None:
        """Put a pot: its anticlockwise end, wiper and clockwise end."""
        self.gangs((role,), pot, (ends,), control=control, path=path, note=note)

    def gangs(
        self,
        roles: tuple[str, ...],
        pot: Pot,
        ends: tuple[tuple[str, str, str], ...],
        *,
        control: Control,
        path: str | None,
        note: str = "",
    ) -> None:
        """Put a pot of one or more gangs on one shaft."""
        several = {1: "", 2: " dual-gang"}.get(len(roles), f" {len(roles)}-gang")
        if pot.taper != "linear":
            midpoint = pot.midpoint if pot.taper == "log" else 1.0 - pot.midpoint
            note = f"{midpoint:.0%} of the track below the wiper at half rotation"
        value = f"{format_ohms(pot.value)} {pot.taper}{several}"
        shaft = Component("RV", "pot", value, "", "", (), path, note, amount=pot.value, pot=pot, control=control)
        self._sections(shaft, roles, ("ccw", "wiper", "cw"), ends)

    def poles(
        self,
        roles: tuple[str, ...],
        nets: tuple[tuple[str, str, str], ...],
        *,
        control: Control,
        path: str | None,
        note: str = "",
    ) -> None:
        """Put a changeover switch of one or more poles: common, first throw and second throw."""
        value = {1: "changeover", 2: "two-pole changeover"}.get(len(roles), f"{len(roles)}-pole changeover")
        value = "three-pole latching footswitch" if control == "bypass" else value
        note = note or "drawn at {}; its other throw is {}".format(*THROWS[control])
        lever = Component("SW", "switch", value, "", "", (), path, note, control=control)
        self._sections(lever, roles, ("common", "1", "2"), nets)

    def _sections(
        self, shared: Component, roles: Sequence[str], names: Sequence[str], nets: Sequence[Sequence[str]]
    ) -> None:
        """Put the sections of a pot or switch, which have all but role and nets in common."""
        number = self._next(shared.reference)
        for letter, role, own in zip("ABCDEFGH", roles, nets, strict=False):
            reference, package = (number + letter, number) if len(roles) > 1 else (number, None)
            pins = tuple(zip(names, own, strict=True))
            self.components.append(
                replace(shared, reference=reference, package=package, role=role, block=self.block, pins=pins)
            )

    def finish(self) -> None:
        """Tie off what is left over, and give each package its supply."""
        self.block = "packages"
        for kind, free in self._free.items():
            for _ in tuple(free):
                self._tie_off(kind)
        for package, kind in self._packages.items():
            value, _, note = PACKAGES[kind]
            note = f"{self._types(kind)}{note}"
            role = f"package.{package}"
            self.components.append(
                Component(f"{package}P", "package", value, role, self.block, POWER[kind], note=note, package=package)
            )
            role, note = f"decoupling.{package}", "close to the package's supply pins"
            self.capacitor(role, DECOUPLING_FARAD, SUPPLY, ZERO, note=note, tolerance="20 %")

    def _types(self, kind: Kind) -> str:
        """Return the types that the circuit's class of such parts has, with what is looked for behind."""
        told = kind in ("op-amp", "comparator")  # what is looked for names the other kinds' types
        return f"{' or '.join(package_types(self.circuit, kind))}; " if told else ""

    def _tie_off(self, kind: Kind) -> None:
        """Tie off one section that nothing uses."""
        if kind in SPARE:
            role = f"spare.{kind.replace('-', '_').replace(' ', '_')}"
            self.section(kind, role, SPARE[kind], note="left over, tied off")

    def _next(self, letters: str) -> str:
        """Return the next free designator."""
        self._numbers[letters] += 1
        return f"{letters}{self._numbers[letters]}"

    def _add(self, letters: str, part: Component) -> None:
        """Put a component into the block, with the next free designator of these letters."""
        path = part.path if part.path or part.note else part.role
        self.components.append(replace(part, reference=self._next(letters), block=self.block, path=path))


def continued(circuit: Circuit, components: Iterable[Component]) -> Builder:
    """Return a builder that goes on where the designators of components end."""
    builder = Builder(circuit)
    for part in components:
        letters, number = split_reference(part.reference)
        builder._numbers[letters] = max(builder._numbers[letters], number)
    return builder


def left_over(circuit: Circuit, kind: Kind, reference: str) -> tuple[Component, ...]:
    """Return a section that nothing uses any more, tied off; nothing where its kind may hang open."""
    builder = Builder(circuit, block="packages", _free={kind: [reference]})
    builder._tie_off(kind)
    return tuple(builder.components)


def split_reference(reference: str) -> tuple[str, int]:
    """Return the letters and the number of a designator, such as ``R`` and 12."""
    found = re.match(r"([A-Z]+)(\d+)", reference)
    assert found is not None, reference
    return found[1], int(found[2])
