"""A detector and an octave stage that the package does not have, each as one record, and the model with them in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import ClassVar, Literal, get_args

import pytest
from pydantic import Field

from sublatch.circuit.components.quantities import Farads, Ohms, Volts
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.detectors.front import NOTE, RECTIFIED, Coupling, Filtered, Front, Parts, Rectifier
from sublatch.circuit.detectors.thresholds import Side, Thresholds, alike
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.kinds import Filter
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.circuit.octave_stages.base import OCTAVE, SWITCHED, OctaveStage


class Window(DetectorKind):
    """Fixed thresholds that watch the note and its upper half, rectified, without an amplifier between the two."""

    stands_alone: ClassVar[bool] = True
    tuned: ClassVar[tuple[str, ...]] = ("width", "edge_capacitor", "edge_filter", "rectified_resistor")

    kind: Literal["window"] = "window"
    width: Volts = Field(0.02, description="It sets at +this and resets at −this.")
    edge_capacitor: Farads = Field(6.8e-9, description="In series, from the input follower.")
    edge_resistor: Ohms = Field(51e3, description="To ground after it.")
    edge_filter: Filter = Field(FirstOrder(resistor=27e3, capacitor=10e-9), description="Low-pass after it.")
    sides: Literal["positive", "negative"] = Field("negative", description="What the rectifier gives.")
    ahead: Farads = Field(1.5e-6, description="Ahead of the rectifier.")
    coupling: Farads = Field(220e-9, description="After the rectifier.")
    rectified_resistor: Ohms = Field(33e3, description="From there to the joint.")
    plain_resistor: Ohms = Field(75e3, description="From the input follower to the joint.")
    filter: Filter = Field(FirstOrder(resistor=20e3, capacitor=82e-9), description="Low-pass ahead of the comparator.")

    @property
    def thresholds(self) -> Thresholds:
        """When the comparator sets and resets."""
        return alike(Side(added_v=self.width), setting="width")

    @property
    def front(self) -> Front:
        """The upper half of the note, rectified and added to the plain note."""
        edge = (
            Capacitor("edge_capacitor", (NOTE, "edge"), self.edge_capacitor),
            Resistor("edge_resistor", ("edge", GROUND), self.edge_resistor),
            OpAmp("edge_follower", plus="edge", minus="upper", output="upper"),
        )
        upper = Filtered("overtone", self.edge_filter, "edge_filter", "upper", "upper half")
        joint = (
            Capacitor("coupling", (RECTIFIED, "coupled"), self.coupling),
            Resistor("rectified_resistor", ("coupled", "joint"), self.rectified_resistor),
            Resistor("plain_resistor", (NOTE, "joint"), self.plain_resistor),
            OpAmp("joint_follower", plus="joint", minus="blended", output="blended"),
        )
        low_pass = self.low_pass("blended", driven=False)
        sign = 1 if self.sides == "positive" else -1
        stages = (
            Parts("overtone", edge, {"edge_follower": "follower of the edge"}),
            upper,
            Rectifier(upper.end, self.ahead, "ahead", sign, sign_setting="sides"),
            Parts("overtone", joint, {"joint_follower": "follower of the joint"}),
            low_pass,
        )
        return Front(stages, low_pass.end, (Coupling("coupling", RECTIFIED, "blended"),))


class HalfGated(OctaveStage):
    """Gain 1 and a half in turn."""

    offset_gain: ClassVar[float] = 1.0
    notes: ClassVar[Mapping[str, str]] = {
        "switched": "half of the switch",
        "plain": "half of the note",
        "amplifier": "follower of the joint",
    }

    kind: Literal["half-gated"] = "half-gated"

    @property
    def gains(self) -> tuple[float, float]:
        """The gain in each half of the drive."""
        return (1.0, 0.5)

    @property
    def parts(self) -> tuple[Part, ...]:
        """Two resistors to a joint, and a follower."""
        return (
            Resistor("switched", (SWITCHED, "octave.joint"), 47e3),
            Resistor("plain", (NOTE, "octave.joint"), 47e3),
            OpAmp("amplifier", plus="octave.joint", minus=OCTAVE, output=OCTAVE),
        )


@contextmanager
def further_kinds() -> Iterator[None]:
    """Have both kinds in the model, as if its unions named them."""
    with pytest.MonkeyPatch.context() as patch:
        for name, kind in (("detector", Window), ("octave", HalfGated)):
            field = Circuit.model_fields[name]
            assert len(get_args(field.annotation)) > 1
            patch.setattr(field, "annotation", field.annotation | kind)
        assert Circuit.model_rebuild(force=True)
        yield
    Circuit.model_rebuild(force=True)
