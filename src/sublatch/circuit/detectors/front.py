"""What lies ahead of a detector's comparators: stages one after another, each of parts, with bends between them.

Nodes are the board's nets. Parts are named as their settings below the detector.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sublatch.circuit.detectors.bends import Bend, FullWave
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.filters.parts import Amplifier
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import Network
from sublatch.circuit.networks.upstream import upstream

NOTE, COUPLED, RECTIFIED = "note", "rectifier.coupled", "rectified"
"""Nets: the input follower's output, the one behind a rectifier's coupling capacitor, and the rectifier's output."""
RECTIFIER_OHM = 22e3
"""A rectifier's input resistor, after its coupling capacitor; drawn choice."""
HALF_OHM, LINK_OHM = 15e3, 150e3
"""Its resistors from the first op-amp's half waves to its minus input, and on to the second's; drawn choice."""
KINK = RECTIFIER_OHM / (HALF_OHM + LINK_OHM)
"""By how much of its second op-amp's offset a rectifier's kink is off, at its input."""


@dataclass(frozen=True)
class Parts:
    """Resistors, capacitors and op-amps.

    Attributes
    ----------
    block
        The sheet of the schematic that they are on: ``overtone`` or ``detector``.
    parts
        The parts.
    notes
        What the parts list says of a part, by its name; an op-amp needs one.
    bends
        Which of its op-amps reach their limits or are bent otherwise.
    """

    block: str
    parts: tuple[Part, ...]
    notes: Mapping[str, str] = field(default_factory=dict, compare=False)
    bends: tuple[Bend, ...] = ()


@dataclass(frozen=True)
class Filtered:
    """A filter between two nets, with a follower behind it where it does not end in an op-amp of its own.

    Attributes
    ----------
    block
        The sheet of the schematic that it is on.
    filter, setting
        The filter, and its setting below the detector.
    source, output
        The net that it is fed from, and the net that it ends in.
    driven
        Whether what follows draws current, so that an op-amp must drive it.
    """

    block: str
    filter: Filter
    setting: str
    source: str
    output: str
    driven: bool = True
    bends: tuple[Bend, ...] = ()

    @property
    def end(self) -> str:
        """The net of its output: the source itself without a filter."""
        if self.filter.is_wire:
            return self.source
        return self._own("driven") if self.follows else self.output

    @property
    def follows(self) -> bool:
        """Whether it needs the follower."""
        parts = self.filter.wired.parts
        ends_in_op_amp = any(isinstance(part, Amplifier) and part.output == "out" for part in parts)
        return self.driven and bool(parts) and not ends_in_op_amp

    @property
    def follower(self) -> str:
        """What that follower is called below the detector."""
        return self._own("second_follower")

    def _own(self, name: str) -> str:
        """Return a name in the table that the filter is in."""
        table = self.setting.rpartition(".")[0]
        return f"{table}.{name}" if table else name

    @property
    def parts(self) -> tuple[Part, ...]:
        """The filter's parts, and the follower."""
        nodes = {"in": self.source, "out": self.output}
        parts = self.filter.network(tone=None, peak=None).placed(f"{self.setting}.", nodes).parts
        return (*parts, OpAmp(self.follower, self.output, self.end, self.end)) if self.follows else parts


@dataclass(frozen=True)
class Rectifier:
    """A precision full-wave rectifier of two op-amps behind a capacitor.

    Attributes
    ----------
    source
        The net that it is fed from, which an op-amp drives.
    coupling_farad, coupling_setting
        The capacitor, and its setting below the detector.
    sign, sign_setting
        1 or −1, the sign of what it gives, and the setting of the words ``positive`` and ``negative`` that turns it
        over; None where it is as it is.
    block, output
        The sheet of the schematic that it is on, and the net of its output.

    Notes
    -----
    The resistor ends in what the first op-amp holds at ground, whichever half wave comes. So the capacitor keeps that
    op-amp's offset, and all offsets ahead, out of what is rectified (see `board.detector`).
    """

    source: str
    coupling_farad: float
    coupling_setting: str
    sign: int
    sign_setting: str | None
    block: str = "overtone"
    output: str = RECTIFIED

    @property
    def parts(self) -> tuple[Part, ...]:
        """The capacitor, and the resistor to what the first op-amp holds at ground."""
        return (
            Capacitor(self.coupling_setting, (self.source, COUPLED), self.coupling_farad),
            Resistor("rectifier.input", (COUPLED, GROUND), RECTIFIER_OHM),
        )

    @property
    def bends(self) -> tuple[Bend, ...]:
        """The rectifier as one bend, of the voltage across its input resistor."""
        return (Bend(COUPLED, self.output, FullWave(self.sign)),)


Stage = Parts | Filtered | Rectifier


@dataclass(frozen=True)
class Coupling:
    """A coupling capacitor: its setting below the detector, and between which nets it makes a high-pass."""

    setting: str
    source: str
    output: str


@dataclass(frozen=True)
class Front:
    """All that lies ahead of the comparators.

    Attributes
    ----------
    stages
        The stages from `NOTE` on, in the order in which their bends come.
    output
        The net that the comparators watch, ahead of a leveller.
    couplings
        Its coupling capacitors.
    """

    stages: tuple[Stage, ...]
    output: str
    couplings: tuple[Coupling, ...] = ()

    @property
    def parts(self) -> tuple[Part, ...]:
        """All linear parts."""
        return tuple(part for stage in self.stages for part in stage.parts)

    @property
    def bends(self) -> tuple[Bend, ...]:
        """The bends, in order."""
        return tuple(bend for stage in self.stages for bend in stage.bends)

    @property
    def nets(self) -> tuple[str, ...]:
        """The nets whose voltages are wanted one after another: each bend's input, and at last the output."""
        return (*(bend.input for bend in self.bends), self.output)

    @property
    def filters(self) -> dict[str, Filter]:
        """Every filter in it, by its path below the detector."""
        return {stage.setting: stage.filter for stage in self.stages if isinstance(stage, Filtered)}

    @property
    def rectifier(self) -> Rectifier | None:
        """The rectifier, where there is one."""
        return next((stage for stage in self.stages if isinstance(stage, Rectifier)), None)

    def coupled(self, coupling: Coupling) -> tuple[float, Network]:
        """Return a coupling capacitor's value, and the network between its nets, all else at ground."""
        stage = next(stage for stage in self.stages if any(part.name == coupling.setting for part in stage.parts))
        part = next(part for part in stage.parts if part.name == coupling.setting)
        assert isinstance(part, Capacitor)
        inputs = dict.fromkeys((coupling.source, NOTE, *(bend.output for bend in self.bends)))
        return part.farad, upstream(stage.parts, inputs=tuple(inputs), output=coupling.output)
