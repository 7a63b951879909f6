"""The kinds of output buffer that a circuit file can ask for."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sublatch.circuit.output_buffers.inverting import Inverting
from sublatch.circuit.output_buffers.non_inverting import NonInverting

Output = Annotated[NonInverting | Inverting, Field(discriminator="kind")]
