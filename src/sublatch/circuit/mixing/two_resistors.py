"""Two resistors that add octave and direct signal, and a follower."""

from __future__ import annotations

from typing import Literal

from sublatch.circuit.filters.parts import Amplifier, Wiring
from sublatch.circuit.mixing.base import MIXED
from sublatch.circuit.mixing.two_inputs import JOINT_DRAWN, TwoInputs


class TwoResistors(TwoInputs):
    """Two resistors that add octave and direct signal, and the pot that feeds the direct one; without `kind` too."""

    kind: Literal["two-resistors"] = "two-resistors"

    @property
    def level_settings(self) -> tuple[str, ...]:
        """The octave's resistor, against which that of the direct signal divides; none where that hangs loose."""
        return () if self.direct_pot is None else ("octave_resistor",)

    def wiring(self) -> Wiring:
        """Return its parts.

        Notes
        -----
        The joint is v = (o/Ro + d/R)/(1/Ro + 1/R), R = Rd + α (1 − α) Rp with the wiper at a share α of the track
        (Millman's theorem): the direct knob changes the octave's level too, and without its pot that is 1.
        """
        plus = (9.4, 0.0)
        follower = Amplifier("follower", "joint", MIXED, MIXED, note="follower of the mix", drawn=plus)
        return Wiring(
            (*self.resistors("joint"), follower),
            wires=(*self.wires, (JOINT_DRAWN, plus)),
            labels=self.labels,
            end=(plus[0] + 2.4, -0.5),
        )
