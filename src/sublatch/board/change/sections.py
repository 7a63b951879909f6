"""Sections of packages: those that become free, those that are used, and packages for more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from sublatch.board.builder import PACKAGES, continued, left_over
from sublatch.board.change.match import HOUSEKEEPING, Match
from sublatch.board.netlist import STILL, Board, Component


@dataclass(frozen=True)
class Sections:
    """What becomes of sections, on nets as the board before names them.

    Attributes
    ----------
    used
        A section that is free, as it is, and what it becomes.
    tied_off
        A section that becomes free, and how it is tied off; nothing where it may hang open.
    packages_out
        All that leaves with each package of which nothing is used any more.
    added
        Sections of further packages, with the packages, what decouples them and what is left over of them.
    """

    used: list[tuple[Component, Component]] = field(default_factory=list)
    tied_off: list[tuple[Component, tuple[Component, ...]]] = field(default_factory=list)
    packages_out: list[tuple[Component, ...]] = field(default_factory=list)
    added: list[Component] = field(default_factory=list)


def place_sections(found: Match) -> Sections:
    """Return where the sections of the board after go, and what becomes of those that it does not need.

    Notes
    -----
    First come sections that the change itself sets free, then those that were left over and tied off, then further
    packages, so that nothing is bought that is there.
    """
    placed, builder = Sections(), continued(found.after.circuit, found.before.components)
    for kind in PACKAGES:
        gone = [part for part in found.gone if part.kind == kind]
        free = [*gone, *(part for part in found.before.of_block(HOUSEKEEPING) if part.kind == kind)]
        for part in (part for part in found.new if part.kind == kind):
            if free:
                old = free.pop(0)
                new = replace(part, reference=old.reference, package=old.package, pins=found.there(part))
                placed.used.append((old, new))
            else:
                builder.block = part.block
                builder.section(kind, part.role, found.there(part), note=part.note)
        _set_free(found, [part for part in gone if part in free], placed)
    builder.finish()
    placed.added.extend(_tied(builder.components))
    return placed


def is_spare(part: Component) -> bool:
    """Return whether a component is a section that is left over."""
    return part.block == HOUSEKEEPING and part.kind in PACKAGES


def _set_free(found: Match, unused: list[Component], placed: Sections) -> None:
    """Note what becomes of sections that nothing uses any more: tied off, or out with their package."""
    in_use = _in_use(found.before) + Counter(str(new.package) for old, new in placed.used if is_spare(old))
    for package, count in Counter(str(part.package) for part in unused).items():
        parts = [part for part in unused if part.package == package]
        if in_use[package] > count:
            for part in parts:
                spare = left_over(found.after.circuit, part.kind, part.reference)
                placed.tied_off.append((part, tuple(_tied(spare))))
        else:
            rest = (part for part in found.before.of_block(HOUSEKEEPING) if _belongs_to(part, package))
            placed.packages_out.append((*parts, *rest))


def _in_use(board: Board) -> Counter[str]:
    """Return how many sections of each package something uses."""
    parts = (part for part in board.components if part.kind in PACKAGES and part.block != HOUSEKEEPING)
    return Counter(str(part.package) for part in parts)


def _belongs_to(part: Component, package: str) -> bool:
    """Return whether a component of the housekeeping goes with a package."""
    return part.package == package or part.role.endswith(f".{package}")


def _tied(parts: Iterable[Component]) -> Iterable[Component]:
    """Give components, those sections that are left over each on nets of its own."""
    for part in parts:
        if is_spare(part):
            pins = tuple((pin, net if net in STILL else f"{net} {part.reference}") for pin, net in part.pins)
            part = replace(part, pins=pins)
        yield part
