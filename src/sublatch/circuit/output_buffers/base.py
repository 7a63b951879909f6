"""What every kind of output buffer says of itself, and what is ahead of it: coupling, trim and volume pot."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from typing import ClassVar, Literal

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.controls import Pot
from sublatch.circuit.components.quantities import Farads, OptionalOhms, Share, Volts
from sublatch.circuit.filters.parts import Wiring
from sublatch.circuit.networks.elements import Part as Element

WIPER, BUFFERED = "wiper", "out"
"""Nodes of an output buffer: the volume pot's wiper, and its own output."""


class OutputStage(Checked, ABC):
    """Volume pot and output buffer."""

    kind: str = ""
    stands_alone: ClassVar[bool] = False
    """Whether its values only make sense together: another kind neither gives nor gets any."""
    own: ClassVar[frozenset[str]] = frozenset({"feedback_resistor"})
    """Settings whose values another kind does not take over, since they make another gain there."""
    sign: ClassVar[Literal[1, -1]] = 1
    """The sign of what it gives against what it is fed."""
    gain_settings: ClassVar[tuple[str, ...]]
    """Settings of the resistors that make its gain, that which is exchanged first ahead."""
    least_gain: ClassVar[float] = 0.0
    """What its gain is always above, without the sign."""

    coupling: Farads = Field(1e-6, description="Capacitor ahead of the volume pot.")
    trim_resistor: OptionalOhms = Field(None, description='Fixed resistor ahead of the pot, or "none".')
    pot: Pot = Field(Pot(value=100e3, taper="linear"), description="The volume knob's pot.")
    low_margin: Volts = Field(1.5, description="How near the buffer's output comes to 0 V.")
    high_margin: Volts = Field(1.5, description="How near the buffer's output comes to the supply.")
    bias: Share = Field(0.5, description="Where the output idles, as a share of the supply.")

    @property
    @abstractmethod
    def gain(self) -> float:
        """Gain from the wiper to the output, with its sign."""

    @property
    @abstractmethod
    def load_ohm(self) -> float:
        """Resistance that the wiper works into."""

    @property
    @abstractmethod
    def load_setting(self) -> str:
        """The setting that this is, below the output."""

    @abstractmethod
    def ohm_for_gain(self, setting: str, gain: float) -> float:
        """Return the value of one of `gain_settings` that makes a gain without its sign, the others as they are."""

    @abstractmethod
    def exact_gain(self, ratio: float) -> dict[str, float]:
        """Return the resistor that makes the gain so many times as high, by its setting; empty where none does."""

    @abstractmethod
    def more_gain(self, ratio: float) -> dict[str, float]:
        """Return the E24 resistor that makes the gain so many times as high, by its setting; empty without one."""

    @abstractmethod
    def wiring(self) -> Wiring:
        """Return the buffer's parts from `WIPER` to `BUFFERED`, and how they are drawn."""

    def elements(self) -> Iterator[Element]:
        """Give what the buffer is in a network."""
        for part in self.wiring().parts:
            yield from part.elements(tone=None, peak=None)
