"""No filter at all."""

from __future__ import annotations

from typing import ClassVar, Literal

from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import Wiring


class NoFilter(FilterKind):
    """A plain wire."""

    kind: Literal["none"] = "none"
    rank: ClassVar[int] = 0

    def wiring(self) -> Wiring:
        """Return no parts."""
        return Wiring((), end=(0.0, 0.0))
