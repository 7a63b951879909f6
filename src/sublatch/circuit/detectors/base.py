"""What every kind of detector says of itself: its low-pass, its thresholds, and what it adds ahead of the low-pass."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, ClassVar

from pydantic import Field

from sublatch.checked import Checked
from sublatch.circuit.components.quantities import LEFT_OUT
from sublatch.circuit.detectors.leveller import Leveller
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.networks.elements import Capacitor, Part

NOTE, BAND, RECTIFIED, BLENDED = "note", "high", "rectified", "blended"
"""Nets: the input follower's output, what the band's filter is fed with, the rectifier's output, the blend's output."""


@dataclass(frozen=True)
class Thresholds:
    """When the comparator sets: above the least volts and above a share of what the peak store holds.

    It resets likewise below zero, by the store of the negative peaks.

    Attributes
    ----------
    least_v
        Least threshold in volts.
    setting
        The setting below the detector that it comes from, such as ``floor``.
    fraction
        Share of each peak store, 0 to 1; at 0 there are no stores. Else it is the setting ``fraction``.
    hold_ohm, hold_farad
        What empties each peak store: the settings ``hold_resistor`` and ``hold_capacitor``.
    """

    least_v: float
    setting: str
    fraction: float = 0.0
    hold_ohm: float = 0.0
    hold_farad: float = 0.0

    @property
    def fixed(self) -> bool:
        """Whether there are no peak stores, so that only the least volts count."""
        return self.fraction == 0.0

    @property
    def hold_s(self) -> float:
        """Time constant of the peak stores in seconds."""
        return self.hold_ohm * self.hold_farad


@dataclass(frozen=True)
class RectifiedPath:
    """A band of the note that is rectified (full wave) and blended with the plain note ahead of the low-pass.

    Parts are named as their settings below the detector, and their nodes are the board's nets.

    Attributes
    ----------
    band
        Parts from `NOTE` to `BAND`, which an op-amp drives.
    filter, filter_setting
        The filter from `BAND` to the rectifier, and its setting below the detector.
    sign, sign_setting
        1 or −1, the sign of what the rectifier gives, and the setting of the words ``positive`` and ``negative`` that
        turns it over; None where it is as it is.
    blend
        Parts from `RECTIFIED` and `NOTE` to `BLENDED`, which an op-amp drives.
    notes
        What the parts list says of a part, by its name; an op-amp needs one.
    """

    band: tuple[Part, ...]
    filter: Filter
    filter_setting: str
    sign: int
    sign_setting: str | None
    blend: tuple[Part, ...]
    notes: Mapping[str, str] = field(compare=False)

    @property
    def couplings(self) -> tuple[Capacitor, ...]:
        """The capacitors that keep the rectifier's mean value out of the blend."""
        return tuple(part for part in self.blend if isinstance(part, Capacitor) and RECTIFIED in part.nodes)


class DetectorKind(Checked, ABC):
    """What tells the comparator the note's pitch, and the comparator."""

    stands_alone: ClassVar[bool] = False
    """Whether its values, the low-pass too, only make sense together: another kind neither gives nor gets any."""
    tuned: ClassVar[tuple[str, ...]] = ()
    """What `tune` may change beside the low-pass, by path below the detector; twice for what it tries twice as often.

    A filter's path stands for all of its resistors together."""

    filter: Filter = Field(FirstOrder(), description="Low-pass ahead of the comparator.")
    leveller: Annotated[Leveller | None, LEFT_OUT] = Field(None, description='Evens the note\'s decay, or "none".')

    @property
    @abstractmethod
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets."""

    @property
    def rectified_path(self) -> RectifiedPath | None:
        """What is added to the plain note ahead of the low-pass; None where nothing is."""
        return None

    @property
    def filters(self) -> dict[str, Filter]:
        """Every filter in it, by its path below the detector."""
        path = self.rectified_path
        return {"filter": self.filter} | ({} if path is None else {path.filter_setting: path.filter})
