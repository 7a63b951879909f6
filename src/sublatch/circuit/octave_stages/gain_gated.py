"""The gain-gated octave stage: the note, and silence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

from pydantic import Field

from sublatch.circuit.components.quantities import Share
from sublatch.circuit.networks.elements import OpAmp, Part
from sublatch.circuit.octave_stages.base import OCTAVE, SWITCHED, OctaveStage


class GainGated(OctaveStage):
    """Gain 1 and 0 in turn."""

    offset_gain: ClassVar[float] = 1.0
    notes: ClassVar[Mapping[str, str]] = {"amplifier": "follower of the gate"}

    kind: Literal["gain-gated"] = "gain-gated"
    leak: Share = Field(0.0, description="Gain of the closed gate.")

    @property
    def is_pair(self) -> bool:
        """Whether it is built of a transconductance pair."""
        return self.linear_range is not None

    @property
    def gains(self) -> tuple[float, float]:
        """The gain in each half of the drive."""
        return (1.0, self.leak)

    @property
    def parts(self) -> tuple[Part, ...]:
        """A follower."""
        return (OpAmp("amplifier", plus=SWITCHED, minus=OCTAVE, output=OCTAVE),)
