"""How far parts may be off their nominal values, and how they are spread within that."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from sublatch.errors import CircuitError, nearest_hint
from sublatch.units import format_ohms

GANG_SHARE = 0.2
"""How far the two gangs of a dual pot are apart at most; makers promise about 2 dB (common practice, no source)."""
TRACK_SHARE = 0.2
"""How far a pot's track may be off (common practice, no source)."""
POT_END_OHM = 150.0
"""Most that a pot leaves at either end of its travel. Data sheets of carbon pots with a body of 16 mm promise from 10 Ω
to 150 Ω, or a per cent of the track (from memory)."""
MOST_END_OHM = 1e3
MOST_END_SHARE = 0.1
"""However small its track, a pot leaves no more than this share of it."""
SIGMAS = 3.0
"""Standard deviations in a tolerance of normal parts: ±3 σ is what a maker's process is held to (common practice, no
source), and what lies outside is sorted out."""
Distribution = Literal["uniform", "normal"]
MOST_SHARE = 0.5


@dataclass(frozen=True)
class Tolerances:
    """How far parts may be off, and how they are spread within that.

    Attributes
    ----------
    capacitor, resistor, pot
        How far a part may be off, as a share of its nominal value; a pot's is that of its whole track.
    gang
        How far the gangs of one pot may be apart, as a share.
    pot_end_ohm
        Most that each gang of a pot leaves at either end of its travel, 0 Ω to 1 kΩ.
    distribution
        ``uniform`` or ``normal`` within the tolerance, the latter with the tolerance for three standard deviations.
        What a pot leaves at its ends is uniform from 0 Ω to its limit in both.
    """

    capacitor: float = 0.1
    resistor: float = 0.05
    pot: float = 0.2
    gang: float = GANG_SHARE
    pot_end_ohm: float = POT_END_OHM
    distribution: Distribution = "uniform"

    def __post_init__(self) -> None:
        if not 0.0 <= self.pot_end_ohm <= MOST_END_OHM:
            raise CircuitError(
                f"what a pot leaves at its ends must be 0 Ω to {format_ohms(MOST_END_OHM)}, got {self.pot_end_ohm:g} Ω"
            )
        known = get_args(Distribution)
        if self.distribution not in known:
            hint = nearest_hint(str(self.distribution), known)
            raise CircuitError(f"a distribution must be {' or '.join(known)}, got {self.distribution!r}{hint}")
        for name, share in self.shares.items():
            if not 0.0 <= share <= MOST_SHARE:
                hint = f"; was it meant as {share:g} %?" if 1.0 <= share <= 100 * MOST_SHARE else ""
                what = "the gangs' mismatch" if name == "gang" else f"the {name}s' tolerance"
                raise CircuitError(f"{what} must be 0 % to {100 * MOST_SHARE:g} %, got {100 * share:g} %{hint}")

    @property
    def shares(self) -> dict[str, float]:
        """What is a share of a nominal value, by name."""
        return {"capacitor": self.capacitor, "resistor": self.resistor, "pot": self.pot, "gang": self.gang}
