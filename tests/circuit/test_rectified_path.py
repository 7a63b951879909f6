"""A detector's rectified path: what of it couples."""

from __future__ import annotations

from sublatch.circuit.detectors.base import BAND, BLENDED, NOTE, RECTIFIED, RectifiedPath
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor


def test_only_a_capacitor_at_the_rectifier_couples() -> None:
    """Neither the rectifier's load nor a capacitor further on keeps its mean value out."""
    coupling = Capacitor("coupling", (RECTIFIED, "coupled"), 100e-9)
    path = RectifiedPath(
        band=(Capacitor("edge", (NOTE, BAND), 10e-9), Resistor("edge_resistor", (BAND, GROUND), 10e3)),
        filter=FirstOrder(),
        filter_setting="edge_filter",
        sign=1,
        sign_setting=None,
        blend=(
            Resistor("load", (RECTIFIED, GROUND), 100e3),
            coupling,
            Resistor("rectified", ("coupled", "joint"), 47e3),
            Resistor("plain", (NOTE, "joint"), 47e3),
            Capacitor("smoothing", ("joint", GROUND), 1e-9),
            OpAmp("amplifier", plus="joint", minus=BLENDED, output=BLENDED),
        ),
        notes={"amplifier": "follower of the joint"},
    )
    assert path.couplings == (coupling,)
