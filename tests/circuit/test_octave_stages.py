"""The octave stages' parts against what each kind says of itself."""

from __future__ import annotations

import pytest

from sublatch.circuit.model import octave_stage_kinds
from sublatch.circuit.networks.elements import Resistor
from sublatch.circuit.networks.solver import Network, nodal_response
from sublatch.circuit.octave_stages.base import NOTE, OCTAVE, SWITCHED, OctaveStage

every_kind = pytest.mark.parametrize("stage", [kind() for kind in octave_stage_kinds().values()], ids=lambda s: s.kind)


def gain_from(stage: OctaveStage, source: str) -> float:
    """Return the gain from a net to the output, all others at 0 V; 0 where nothing leads there."""
    nets = {node for part in stage.parts for node in part.nodes}
    inputs = tuple(net for net in (NOTE, SWITCHED) if net in nets)
    network = Network(stage.parts, inputs=inputs, output=OCTAVE)
    return float(nodal_response(network, 100.0, source=source).real) if source in inputs else 0.0


@every_kind
def test_the_parts_have_the_gains(stage: OctaveStage) -> None:
    """The switch gives the note while the drive is high, and 0 V while it is low."""
    high, low = stage.gains
    assert gain_from(stage, NOTE) + gain_from(stage, SWITCHED) == pytest.approx(high)
    assert gain_from(stage, NOTE) == pytest.approx(low)


@every_kind
def test_the_op_amps_offset_comes_out_as_what_its_plus_input_gets(stage: OctaveStage) -> None:
    """An input offset is a voltage in series with the plus input, which the switch drives."""
    assert stage.offset_gain == pytest.approx(gain_from(stage, SWITCHED))


@every_kind
def test_resistors_can_be_driven_and_pick_up_no_hum(stage: OctaveStage) -> None:
    """Op-amps are specified into 2 kΩ or more; past 1 MΩ a resistor makes hum and noise (common practice)."""
    assert all(2e3 <= part.ohm <= 1e6 for part in stage.parts if isinstance(part, Resistor))
