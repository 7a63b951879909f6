"""The kinds of octave stage that a circuit file can ask for."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sublatch.circuit.octave_stages.gain_gated import GainGated
from sublatch.circuit.octave_stages.polarity_switched import PolaritySwitched

Octave = Annotated[PolaritySwitched | GainGated, Field(discriminator="kind")]
