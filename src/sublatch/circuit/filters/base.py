"""What every kind of filter is: a checked record of its settings that gives the list of its parts."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, ClassVar, Self

from sublatch.arrays import Array
from sublatch.checked import Checked
from sublatch.circuit.components.controls import PEAKS, Peak, Pot
from sublatch.circuit.filters.parts import Wiring
from sublatch.circuit.networks.solver import Network


@dataclass(frozen=True)
class Search:
    """What may be varied of a filter without knob or switch in a search for parts.

    Attributes
    ----------
    resistors
        The settings of its resistors, all of one value, from the input on.
    capacitors
        The settings of its capacitors, each of a value of its own.
    shapes
        By the name of a curve: the capacitors for resistors of 1 Ω and a corner of 1 rad/s.
    """

    resistors: tuple[str, ...]
    capacitors: tuple[str, ...]
    shapes: Mapping[str, tuple[float, ...]]


@dataclass(frozen=True)
class SweptSearch:
    """What may be varied of a second-order low-pass that a dual-gang pot sweeps, in a search for parts.

    Its settings ``pot``, ``start_resistor`` and ``end_resistor`` are searched too, and all others left as they are.

    Attributes
    ----------
    capacitors
        The settings of the two capacitors that the peak switch selects.
    natural_and_q
        Natural frequency in hertz and Q of many boards (n,), from the resistance of each gang with its resistors in
        ohms (n,), and the values of the network's other parts by name (n,).
    """

    capacitors: tuple[str, str]
    natural_and_q: Callable[[Array, Array, Mapping[str, Array]], tuple[Array, Array]]


class FilterKind(Checked):
    """A kind of filter; its fields are its settings."""

    kind: str = ""
    rank: ClassVar[int]
    """Where it stands in lists of all kinds."""
    search: ClassVar[Search]
    """How a search for parts may vary it; only kinds without knob or switch that are searched have it."""
    swept_search: ClassVar[SweptSearch]
    """The same for kinds with a tone knob and a peak switch."""

    @abstractmethod
    def wiring(self) -> Wiring:
        """Return its parts, and how they are drawn; readers take `wired`, which is worked out once."""

    @property
    def wired(self) -> Wiring:
        """Its parts, and how they are drawn."""
        return _wired(self)

    @property
    def is_wire(self) -> bool:
        """Whether there is no filter at all."""
        return not self.wired.parts

    @property
    def works_with_tone(self) -> bool:
        """Whether the tone knob moves a part of it."""
        return bool(self.wired.rheostats)

    @property
    def works_with_peak(self) -> bool:
        """Whether the peak switch selects a part of it."""
        return bool(self.wired.pairs)

    @property
    def peaks(self) -> tuple[Peak | None, ...]:
        """The positions of the peak switch; None alone without one."""
        return PEAKS if self.works_with_peak else (None,)

    @classmethod
    def needs_a_control(cls) -> bool:
        """Return whether every filter of this kind has a knob or switch, so that none can be in a detector."""
        return cls.needs_a_switch() or (cls._stands_by_itself() and cls().works_with_tone)

    @classmethod
    def needs_a_switch(cls) -> bool:
        """Return whether every filter of this kind has a peak switch, so that none can be the direct signal's own."""
        return cls._stands_by_itself() and cls().works_with_peak

    @classmethod
    def _stands_by_itself(cls) -> bool:
        """Return whether there is a filter of this kind without anything said of it."""
        return not any(field.is_required() for field in cls.model_fields.values())

    def network(self, *, tone: float | None, peak: Peak | None) -> Network:
        """Return the network at these knob and switch positions."""
        made = (element for part in self.wired.parts for element in part.elements(tone=tone, peak=peak))
        return Network(tuple(made), output="in" if self.is_wire else "out")

    def with_pots(self, changes: Mapping[str, Any]) -> Self:
        """Return the filter with the settings in `changes` in every pot that the tone knob turns."""
        pots = {name: value for name, value in self if isinstance(value, Pot)}
        return self.model_copy(update={name: pot.model_copy(update=changes) for name, pot in pots.items()})


@lru_cache(maxsize=256)
def _wired(chosen: FilterKind) -> Wiring:
    """Return a filter's parts, worked out once for the same settings."""
    return chosen.wiring()
