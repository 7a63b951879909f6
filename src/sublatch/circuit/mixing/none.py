"""No mixing stage at all."""

from __future__ import annotations

from typing import ClassVar, Literal

from sublatch.circuit.filters.parts import Wiring
from sublatch.circuit.mixing.base import DirectPot, MixKind


class NoMix(MixKind):
    """A plain wire to the volume pot and an inverting output buffer, without a direct signal."""

    kind: Literal["none"] = "none"

    buffer: ClassVar[str] = "inverting"

    @property
    def direct_pot_there(self) -> DirectPot | None:
        """Nothing lets the direct signal in."""
        return None

    def wiring(self) -> Wiring:
        """Return no parts."""
        return Wiring((), end=(0.0, 0.0))
