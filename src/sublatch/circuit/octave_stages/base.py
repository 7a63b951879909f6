"""What every kind of octave stage says of itself: its gains in either half of the drive, and its parts."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import ClassVar

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import Seconds, Volts
from sublatch.circuit.networks.elements import Part

NOTE, SWITCHED, OCTAVE = "note", "octave.switched", "octave"
"""Nets: the input follower's output, the switch's (the note while the drive is high, the bias while it is low), and the
stage's own output."""


class OctaveStage(Checked, ABC):
    """The note times a gain that switches between two values."""

    stands_alone: ClassVar[bool] = False
    """Whether its values only make sense together: another kind neither gives nor gets any."""
    offset_gain: ClassVar[float]
    """By how much its op-amp's own input offset reaches its output."""
    notes: ClassVar[Mapping[str, str]]
    """What the parts list says of each part, by its name."""

    transition: Seconds = Field(0.0, le=5e-3, description="Time the switching takes, as a straight ramp.")
    feedthrough: Volts = Field(0.0, description="Drive that leaks into the output, peak.")
    linear_range: Volts | None = Field(
        None,
        ge=1e-6,
        description="Input at which the transconductance pair's tanh has an argument of 1; linear when absent. A "
        "gain-gated stage that has it is drawn with such a pair, another with a switch.",
    )

    @property
    def is_pair(self) -> bool:
        """Whether it is built of a transconductance pair, as `transconductance_pair` says, rather than a switch."""
        return False

    @property
    @abstractmethod
    def gains(self) -> tuple[float, float]:
        """The gain in each half of the drive, the first while it is high."""

    @property
    def drawn_gains(self) -> tuple[float, float]:
        """The gains without imperfections, as the board has them."""
        return type(self)().gains

    @property
    @abstractmethod
    def parts(self) -> tuple[Part, ...]:
        """The parts from `NOTE` and `SWITCHED` to `OCTAVE`, without imperfections; their nodes are the board's nets."""
