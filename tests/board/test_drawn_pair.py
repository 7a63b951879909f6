"""The gate that is drawn with a transconductance pair, against the model, by the law of two transistors."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest
from scipy.optimize import brentq

from board_cases import circuit_of
from sublatch.board.assemble import board
from sublatch.board.check.drawn_pair import drawn_pair
from sublatch.board.check.operating_point import operating_point
from sublatch.board.netlist import Board
from sublatch.board.sheet.bench_table import bench_table
from sublatch.circuit.load import load_circuit
from sublatch.circuit.octave_stages.gain_gated import GainGated
from sublatch.circuit.octave_stages.transconductance_pair import pair_stage
from sublatch.errors import CircuitError
from sublatch.signal.octave_stage.switched import generate

THERMAL_V = 1.380649e-23 * 298.15 / 1.602176634e-19
"""kT/q at 25 °C (SI 2019)."""
CONTROL_V = 1.3
"""Two base-emitter voltages (from memory)."""


def ohms(made: Board) -> dict[str, float]:
    """Return the octave stage's resistors by the last word of their role."""
    return {part.role.removeprefix("octave."): part.amount or 0.0 for part in made.of_block("octave")}


def drawn_output_v(made: Board, note_v: float, *, drive_v: float, offset_v: float = 0.0) -> float:
    """Return the output of the drawn stage from the bias, by ln(I5 / I4) = u q / kT and I4 + I5 = I.

    The note goes to the minus input, through an amplifier where there is one and the divider; the op-amp that takes the
    pair's current turns its sign over.
    """
    ohm = ohms(made)
    lift = 1.0 + ohm["lift_feedback"] / ohm["lift_ground"] if "lift_feedback" in ohm else 1.0
    minus_v = note_v * lift * ohm["shunt"] / (ohm["shunt"] + ohm["source"])
    control_a = max(drive_v - CONTROL_V, 0.0) / ohm["control"]
    if control_a == 0.0:
        return 0.0
    between_v = offset_v - minus_v
    fifth_a = brentq(lambda amps: amps - exp(between_v / THERMAL_V) * (control_a - amps), 0.0, control_a, xtol=1e-18)
    return -ohm["load"] * (2.0 * fifth_a - control_a)


def model_v(range_v: float, note_v: float) -> float:
    """Return what the model's open gate makes of a steady note."""
    made = generate(np.full(16384, note_v), np.zeros(0), sample_rate=96000, octave=GainGated(linear_range=range_v))
    return float(made[8192])


@pytest.mark.parametrize("supply", ["9V", "18V"])
@pytest.mark.parametrize("range_v", [0.012, 0.026, 0.052, 0.1, 0.25, 0.5, 1.0, 3.0])
def test_the_drawn_gate_has_the_models_gain_and_bend(range_v: float, supply: str) -> None:
    """Gain and linear range are each within 1 % by the choice of resistors, so nothing is off by more than 2 %."""
    changes = {"octave.linear_range": range_v, "supply": supply}
    made = board(load_circuit("gated-swept", changes=changes))
    for share in (-3.0, -1.0, -0.3, 0.01, 0.1, 0.5, 1.0, 2.0):
        drawn = drawn_output_v(made, share * range_v, drive_v=made.circuit.supply)
        assert drawn == pytest.approx(model_v(range_v, share * range_v), rel=0.02)
    small = 1e-3 * range_v
    assert drawn_output_v(made, small, drive_v=made.circuit.supply) / small == pytest.approx(1.0, abs=0.011)
    pair = drawn_pair(made)
    assert pair is not None
    assert pair.linear_range_v == pytest.approx(range_v, rel=0.01)


@pytest.mark.parametrize("case", ["pair", "pair-lifted"])
def test_what_the_program_says_of_the_drawn_gate_follows_from_the_two_transistors(case: str) -> None:
    made = board(circuit_of(case))
    pair = drawn_pair(made)
    assert pair is not None
    for note_v in (0.01, 0.1, 1.0):
        bent = drawn_output_v(made, note_v, drive_v=9.0)
        assert pair.most_v * np.tanh(note_v / pair.linear_range_v) == pytest.approx(bent, rel=2e-4)
    sine = 0.1 * np.sqrt(2) * np.sin(2 * np.pi * np.arange(256) / 256)
    wave = np.array([drawn_output_v(made, float(one), drive_v=9.0) for one in sine])
    assert np.linalg.norm(pair.harmonics_v(0.1)) == pytest.approx(np.sqrt(np.mean(wave**2)), rel=2e-4)


@pytest.mark.parametrize("case", ["pair", "pair-lifted"])
def test_at_rest_the_gate_passes_small_changes_while_open_and_none_while_closed(case: str) -> None:
    made = board(circuit_of(case))
    for drive_high, gain in ((True, 1.0), (False, 0.0)):
        rest = operating_point(made, drive_high=drive_high)
        moved = operating_point(made, drive_high=drive_high, held={"note": rest.volts["note"] + 1e-4})
        found = (moved.volts["octave"] - rest.volts["octave"]) / 1e-4
        drawn = drawn_output_v(made, 1e-4, drive_v=9.0 if drive_high else 0.0) / 1e-4
        assert found == pytest.approx(drawn, abs=1e-3) == pytest.approx(gain, abs=0.02)


@pytest.mark.parametrize("range_v", [0.052, 0.5, 2.0])
def test_an_offset_that_nobody_trims_is_the_models_feedthrough(range_v: float) -> None:
    """The output steps by what the offset makes of it while the gate is open: ± half of that is the drive's share."""
    made = board(load_circuit("gated-swept", changes={"octave.linear_range": range_v}))
    stage, offset_v = pair_stage(range_v, supply_v=9.0, bias_v=4.5), 0.2e-3
    opened, closed = (drawn_output_v(made, 0.0, drive_v=volts, offset_v=offset_v) for volts in (9.0, 0.0))
    feedthrough_v = stage.feedthrough_v(offset_v)
    assert abs(opened - closed) == pytest.approx(2.0 * feedthrough_v, rel=1e-3)
    edges = np.arange(1, 40) * 0.01
    leaking = generate(np.zeros(96000), edges, sample_rate=96000, octave=GainGated(feedthrough=feedthrough_v))
    assert leaking[400] - leaking[1440] == pytest.approx(abs(opened - closed), rel=1e-3)


@pytest.mark.parametrize("range_v", [0.012, 0.052, 0.5, 3.0])
def test_the_trimmer_reaches_beyond_the_pairs_offset_to_either_side(range_v: float) -> None:
    """At either end of its travel, by superposition of the supply through trim resistor and balance resistor."""
    made = board(load_circuit("gated-swept", changes={"octave.linear_range": range_v}))
    ohm = ohms(made)
    for end_v in (0.0, 9.0):
        plus_v = (end_v - 4.5) * ohm["balance"] / (ohm["balance"] + ohm["trim_resistor"])
        assert abs(plus_v) >= 2 * 4e-3 or range_v < 0.1
        assert abs(plus_v) >= 0.95 * (4e-3 + 30e-3 * 2 * THERMAL_V / range_v)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"octave.linear_range": "5mV"}, "must be from 10 mV to 10 V for a board, got 5 mV; give it more"),
        ({"octave.linear_range": "20V"}, "got 20 V; leave it out, and the gate is a switch"),
        ({"octave.linear_range": "0.5V", "supply": "2.5V", "output.low_margin": 0.1, "output.high_margin": 0.1},
         "supply must be above 2.6 V to drive the transconductance pair"),
    ],
)  # fmt: skip
def test_a_pair_that_cannot_be_drawn_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(CircuitError, match=words):
        board(load_circuit("gated-open", changes=changes))


def test_the_bench_table_reads_what_the_drawn_gate_bends() -> None:
    """The row of net octave, from the two transistors by the mean square of a period."""
    made = board(circuit_of("pair"))
    table = bench_table(made)
    rows = {row.net: row for row in table.held_still}
    note_v = rows["note"].rms_v
    sine = note_v * np.sqrt(2) * np.sin(2 * np.pi * np.arange(512) / 512)
    wave = np.array([drawn_output_v(made, float(one), drive_v=9.0) for one in sine])
    assert rows["octave"].rms_v == pytest.approx(np.sqrt(np.mean(wave**2)), rel=3e-4)
    assert rows["octave"].rms_v < 0.99 * note_v
    for part, factor in (("control", 0.985), ("control", 1.015), ("load", 1.02), ("source", 1.01)):
        ohm = ohms(made)
        gain = {
            "control": 1 / factor,
            "load": factor,
            "source": 1 - (factor - 1) * ohm["source"] / (ohm["source"] + ohm["shunt"]),
        }
        assert rows["octave"].low_v <= rows["octave"].rms_v * gain[part] <= rows["octave"].high_v
