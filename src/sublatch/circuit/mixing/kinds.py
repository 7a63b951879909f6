"""The kinds of mixing stage that a circuit file can ask for."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sublatch.circuit.mixing.none import NoMix
from sublatch.circuit.mixing.two_resistors import TwoResistors
from sublatch.circuit.mixing.virtual_earth import VirtualEarth

Mix = Annotated[TwoResistors | VirtualEarth | NoMix, Field(discriminator="kind")]
