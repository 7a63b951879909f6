"""The bench table against closed forms, edges that are counted, and boards that are drawn at random."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log10, pi, sqrt
from typing import Any

import numpy as np
import pytest

from board_cases import circuit_of
from sublatch.board.assemble import board
from sublatch.board.netlist import Board
from sublatch.board.network import board_network
from sublatch.board.sheet.amounts import amount, amount_range, probe_point
from sublatch.board.sheet.bench_table import BenchRow, BenchTable, bench_table, sine_take
from sublatch.board.sheet.comparator_input import comparator_wave, store_peak_and_low
from sublatch.board.sheet.idle_voltages import idle_rows, offset_times, share_range
from sublatch.board.sheet.reading_limits import scatter
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.detectors.thresholds import Side
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.parts.tolerance import spread
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges, render
from sublatch.signal.front_volts import front

INPUT_OHM, INPUT_FARAD = 1e6, 22e-9
SERIES_OHM, RADIO_FARAD = 1e3, 100e-12
"""What guards the input, ahead of its coupling."""
OFFSET_V, BIAS_A, LEAKAGE_A = 10e-3, 200e-12, 1e-9
"""Worst of the 072 type's inputs (Texas Instruments data sheet, from memory), and of a diode of low leakage."""


@pytest.fixture(scope="module")
def swept() -> tuple[Board, BenchTable]:
    made = board(circuit_of("gated-swept-peak-latch"))
    return made, bench_table(made)


def second_order(hertz: float, *, series_ohm: float, ground_farad: float, feedback_farad: float) -> float:
    """Return |H| = 1 / |1 + 2 s R Cg + s² R² Cg Cf| (Texas Instruments SLOA024B, unity gain)."""
    s = 2j * pi * hertz
    return 1.0 / abs(1 + 2 * s * series_ohm * ground_farad + s**2 * series_ohm**2 * ground_farad * feedback_farad)


def high_pass(hertz: float) -> float:
    """Return the gain of the input: series resistor, capacitor against radio, coupling and input resistance."""
    s = 2j * pi * hertz
    behind = INPUT_OHM + 1 / (s * INPUT_FARAD)
    guarded = 1 / (1 / behind + s * RADIO_FARAD)
    return abs(guarded / (SERIES_OHM + guarded) * INPUT_OHM / behind)


def guarded(hertz: float) -> float:
    """Return what the guard of the input changes: the gain with it over that of coupling and resistance alone."""
    ratio = 2 * pi * hertz * INPUT_OHM * INPUT_FARAD
    return high_pass(hertz) * sqrt(1 + ratio**2) / ratio


def test_the_filter_reads_as_its_closed_form_says(swept: tuple[Board, BenchTable]) -> None:
    table = swept[1]
    below = {0.0: 100e3, 5.0: 15e3, 10.0: 0.0}
    capacitors = {"flat": (12e-9, 22e-9), "peaked": (5.6e-9, 47e-9)}
    assert len(table.response) == 18
    for row in table.response:
        assert row.tone is not None
        assert row.peak is not None
        ground, feedback = capacitors[row.peak]
        series = 3e3 + below[row.tone]
        gain = high_pass(row.frequency_hz) * second_order(
            row.frequency_hz, series_ohm=series, ground_farad=ground, feedback_farad=feedback
        )
        assert row.rms_v == pytest.approx(table.level_v * gain, rel=1e-5)
        assert row.gain_db == pytest.approx(20 * log10(gain), abs=1e-4)
        assert row.peak_v == pytest.approx(row.rms_v * sqrt(2))
        assert row.low_v < row.rms_v < row.high_v


def test_the_way_to_the_output_reads_as_by_hand(swept: tuple[Board, BenchTable]) -> None:
    table = swept[1]
    at = {row.net: row.rms_v / table.level_v for row in table.held_still}
    assert list(at) == ["note", "octave", "filtered", "mixed", "buffered"]
    assert at["note"] == at["octave"] == pytest.approx(high_pass(100.0), rel=1e-9)
    assert at["mixed"] == pytest.approx(at["filtered"] / 2, rel=1e-6)
    below = 100e3 * 1e6 / 1.1e6  # the track beside the load
    divider = below / (75e3 + below)
    coupled = 1 / abs(1 + 1 / (2j * pi * 100.0 * 1e-6 * (75e3 + below)))
    assert at["buffered"] == pytest.approx(at["mixed"] * coupled * divider * (1 + 100e3 / 8.2e3), rel=1e-5)


@pytest.mark.parametrize(("stages", "share"), [(1, 2), (2, 4)])
def test_the_drive_runs_at_a_half_or_a_quarter_of_the_tone(stages: int, share: int) -> None:
    circuit = load_circuit("polarity-third-order", changes={"divider.stages": stages})
    table = bench_table(board(circuit))
    assert table.divides
    edges = detected_edges(sine_take(table.level_v), circuit)
    counted = np.count_nonzero((edges > 3.0) & (edges <= 8.0)) / 2 / 5
    assert table.latch_hz == pytest.approx(counted, abs=0.11) == pytest.approx(82.4, abs=0.11)
    assert table.drive_hz == pytest.approx(82.4 / share, abs=0.11)


def test_the_octave_reads_as_the_closed_form_of_a_switched_sine() -> None:
    """No filter, zero-crossing detector: the gate's wave has (1/2)² at f, and half the polarity-switched one's power.

    Whatever the switching phase, a sine that is switched in polarity keeps its power, so a gate that is open for half
    of the time lets half of the power through: RMS / √2, times the gain after it.
    """
    made = board(load_circuit("gated-open"))
    table = bench_table(made)
    (row,) = table.octave_sounding
    gain = abs(nodal_response(board_network(made, inputs=("octave", "note"), output="mixed"), 1e3, source="octave"))
    assert gain == pytest.approx(0.5, rel=1e-6)
    still = {one.net: one.rms_v for one in table.held_still}
    assert row.rms_v == pytest.approx(still["buffered"] * high_pass(82.4) / high_pass(100.0) / sqrt(2), rel=2e-3)


def test_the_output_reads_as_the_model_renders(swept: tuple[Board, BenchTable]) -> None:
    table = swept[1]
    assert len(table.octave_sounding) == 6
    for row in table.octave_sounding:
        changes = {"knobs.volume": 10, "knobs.tone": row.tone, "switches.peak": row.peak}
        circuit = with_settings(swept[0].circuit, changes)
        samples = guarded(82.4) * render(sine_take(table.level_v), circuit).samples[-5 * 48000 :]
        assert row.rms_v == pytest.approx(float(np.std(samples)), rel=1e-9)
        assert row.peak_v == pytest.approx(float(np.max(np.abs(samples - samples.mean()))), rel=1e-9)
        assert row.gain_db == pytest.approx(20 * log10(row.rms_v / table.level_v))
    assert not table.clips


def test_the_output_stays_clear_of_the_limits_or_says_so() -> None:
    loud = bench_table(board(load_circuit("gated-open", changes={"output.ground_resistor": "1k"})))
    assert loud.level_v < 0.1
    assert not loud.clips
    far = {"output.ground_resistor": "100R"}  # a gain of 1001
    assert bench_table(board(load_circuit("gated-open", changes=far | {"devices.values": "ideal"}))).clips
    with pytest.raises(CircuitError, match="room on both sides of where it rests"):  # 3 mV a thousandfold
        bench_table(board(load_circuit("gated-open", changes=far)))
    latch = {"detector.kind": "peak-latch", "detector.floor": "400mV"}
    deaf = bench_table(board(load_circuit("gated-open", changes=latch)))
    assert not deaf.divides


def test_what_the_comparators_watch_of_a_sine(swept: tuple[Board, BenchTable]) -> None:
    """Butterworth low-pass by its closed form, third order around one op-amp, R = 33 kΩ."""
    table, s = swept[1], 2j * pi * 82.4 * 33e3
    a, b, c = 47e-9, 120e-9, 6.8e-9
    gain = high_pass(82.4) / abs(1 + s * (a + 3 * c) + s**2 * 2 * c * (a + b) + s**3 * a * b * c)
    assert table.watched is not None
    assert table.watched.rms_v == pytest.approx(table.level_v * gain, rel=1e-5)
    assert table.watched.peak_v == pytest.approx(sqrt(2) * table.watched.rms_v, rel=1e-5)
    upper, lower = table.stores
    assert upper.peak_v == pytest.approx(table.watched.peak_v, rel=1e-6)
    assert lower.peak_v == pytest.approx(-upper.peak_v, rel=1e-6)
    assert lower.low_v < lower.peak_v < lower.high_v < 0.0 < upper.low_v < upper.peak_v < upper.high_v


def test_a_store_falls_until_the_next_rise_meets_it() -> None:
    wave = np.cos(2 * pi * np.arange(4096) / 4096)
    peak, low = store_peak_and_low(wave, side=Side(share=0.85), hold_s=0.047, frequency_hz=82.4)
    assert peak == pytest.approx(1.0)
    turns = np.linspace(0.5, 1.0, 200001)
    meets = turns[np.argmax(np.cos(2 * pi * turns) >= np.exp(-turns / 82.4 / 0.047))]
    assert low == pytest.approx(exp(-meets / 82.4 / 0.047), abs=1e-3)


IDEAL = {"devices__values": "ideal"}
ERRORS = ("op_amp_offset", "op_amp_bias", "comparator_offset", "comparator_bias", "diode_leakage")
WIDE = {"devices__op_amp": "single-supply", **{f"devices__{name}": 0.0 for name in ERRORS}}
"""Op-amps that are off by nothing and swing further down than up."""


@pytest.mark.parametrize("devices", [IDEAL, WIDE], ids=["ideal", "single-supply"])
@pytest.mark.parametrize("case", ["gated-swept-overtone", "own-networks", "band-first-order", "diodes-turned-round"])
def test_an_overtone_detector_sees_what_the_model_sees(case: str, devices: dict[str, Any]) -> None:
    """What the comparators see is told with no part off: what offsets add is in the voltages at rest."""
    circuit = circuit_of(case, **devices)
    take = sine_take(0.1 * guarded(82.4))
    seen = front(take, circuit, StageCache())[1]
    seen = seen[2 * 48000 : 7 * 48000]  # 412 periods
    wave = comparator_wave(board(circuit), volts=0.1 * sqrt(2), frequency_hz=82.4)
    assert np.std(wave) == pytest.approx(float(np.std(seen)), rel=2e-4)
    assert wave.max() == pytest.approx(seen.max(), rel=1e-3)
    assert wave.min() == pytest.approx(seen.min(), rel=1e-3)


def test_ranges_hold_nine_boards_in_ten(swept: tuple[Board, BenchTable]) -> None:
    """The 5th and 95th percentile of boards drawn at random, another way to solve them, lie within."""
    for tone, peak in ((0.0, "flat"), (0.0, "peaked"), (10.0, "flat"), (10.0, "peaked")):
        circuit = load_circuit("gated-swept", changes={"knobs.tone": tone, "switches.peak": peak})
        rows = [row for row in swept[1].response if (row.tone, row.peak) == (tone, peak)]
        drawn = spread(
            circuit,
            boards=4000,
            frequency_hz=[row.frequency_hz for row in rows],
            tolerances=Tolerances(capacitor=0.05, resistor=0.01),
        )
        for row, low_db, high_db in zip(rows, drawn.low_db, drawn.high_db, strict=True):
            within_db = [20 * log10(volts / row.rms_v) for volts in (row.low_v, row.high_v)]
            nominal_db = row.gain_db - 20 * log10(high_pass(row.frequency_hz))
            slack = 0.1 * (high_db - low_db) + 1e-3
            assert within_db[0] <= low_db - nominal_db + slack
            assert within_db[1] >= high_db - nominal_db - slack
            assert within_db[1] - within_db[0] <= 2.0 * (high_db - low_db) + 0.01


def test_a_range_is_the_root_of_the_sum_of_squares() -> None:
    made = board(load_circuit("gated-open"))

    def figures_db(one: Board, _: Circuit) -> np.ndarray:
        amounts = {part.role: part.amount or 0.0 for part in one.components}
        return np.array([100 * amounts["bias.upper"] / 1e5 + 200 * amounts["bias.lower"] / 1e5])

    found = scatter(figures_db, made, made.circuit, blocks=("supply",))
    assert found.middle_db[0] == pytest.approx(300.0)
    assert found.high_db[0] - 300.0 == pytest.approx(sqrt(1.0 + 4.0)) == pytest.approx(300.0 - found.low_db[0])


def test_the_bias_is_what_its_resistors_make_of_the_supply() -> None:
    rows = {row.net: row for row in idle_rows(board(load_circuit("gated-swept")))}
    assert rows["supply"].expect == "9.00\xa0V"
    assert rows["bias"].expect == "4.50\xa0V"
    assert rows["bias"].between == "4.44–4.56\xa0V"  # 9 V · 101/200 is 4.545 V, and 10 mV of offset: 4.445 to 4.555 V
    assert rows["bias.divider"].expect == "4.48\xa0V"  # 10 MΩ beside 50 kΩ
    odd = {row.net: row for row in idle_rows(board(load_circuit("gated-swept", changes={"output.bias": 0.4})))}
    assert odd["bias"].expect == "3.60\xa0V"


def test_a_divider_of_equal_resistors_is_off_by_half_their_tolerance() -> None:
    part = {each.role: each for each in board(load_circuit("gated-open")).components}
    middle, low, high = share_range(part["bias.upper"], part["bias.lower"])
    assert (middle, low, high) == pytest.approx((0.5, 0.495, 0.505))


def test_references_are_the_floor_over_the_fraction() -> None:
    rows = {row.net: row for row in idle_rows(board(circuit_of("gated-swept-peak-latch")))}
    assert rows["reference +"].expect == "1.19\xa0mV"  # 4.5 V · 18 / 68018
    assert rows["reference −"].expect == "−1.19\xa0mV"


def test_offsets_add_up_with_their_gains() -> None:
    """Input follower and filter: twice; the buffer's own times 1 + 100 / 8.2.

    Twice of the first amplifier's 100 / 8.2 and its own times one more; the second's own 1 + 100 / 9.1 alone, for a
    capacitor lies between, and another ahead of the comparators.
    """
    plain, overtone = (board(circuit_of(case)) for case in ("gated-swept-peak-latch", "gated-swept-overtone"))
    assert offset_times(plain, "detected") == pytest.approx(2, rel=1e-6)
    first = 2 * 100 / 8.2 + 1 + 100 / 8.2
    for net, gain in (("high", 1 + 82 / 12), ("amplified", first), ("loud", 1 + 100 / 9.1), ("watched", 0.0)):
        assert offset_times(overtone, net) == pytest.approx(gain, rel=1e-3, abs=2e-3)
    rows = {row.net: row for row in idle_rows(plain)}
    assert pytest.approx(11.21e-3, abs=1e-5) == OFFSET_V + INPUT_OHM * 1.01 * (BIAS_A + LEAKAGE_A)  # told as 12 mV
    assert rows["note"].between == "± 12\xa0mV"
    assert rows["detected"].between == "± 22\xa0mV"
    below, _ = plain.circuit.output.pot.resistances(plain.circuit.volume)
    wiper_v = OFFSET_V + BIAS_A * below * 1.01e6 / (below + 1.01e6)  # the coupling capacitor leaves the rest loose
    buffered_v = wiper_v * (1 + 101 / 8.118) + BIAS_A * 101e3
    assert buffered_v == pytest.approx(134.6e-3, abs=1e-4)
    assert rows["buffered"].between == "± 135\xa0mV"


def test_another_class_of_op_amp_brings_its_own_ranges() -> None:
    """358 type: 7 mV, and 250 nA out of its input through 1.01 MΩ of tolerance (data sheet, from memory)."""
    rows = {row.net: row for row in idle_rows(board(circuit_of("gated-swept", devices__op_amp="single-supply")))}
    assert rows["note"].between == "± 261\xa0mV"
    ideal = circuit_of("gated-swept", devices__op_amp_offset=0.0, devices__op_amp_bias=0.0)
    own = {row.net: row for row in idle_rows(board(ideal))}
    assert own["note"].between == "± 1.1\xa0mV"


def test_places_name_pins_that_are_on_the_net(swept: tuple[Board, BenchTable]) -> None:
    made, table = swept
    rows: list[BenchRow] = [*table.held_still, *table.response, *table.octave_sounding]
    for row in rows:
        for name in row.probe_at.split(", "):
            reference = name.split()[0]
            assert any(part.reference == reference for part, _ in made.on_net(row.net))
    assert probe_point(made, "buffered").startswith("U9A out")


def test_another_value_moves_the_readings() -> None:
    made = board(load_circuit("gated-first-order"))
    parts = tuple(
        replace(part, amount=2 * part.amount) if part.role == "filter.resistor" and part.amount else part
        for part in made.components
    )
    first, second = (bench_table(one) for one in (made, replace(made, components=parts)))
    assert second.response[-1].rms_v < 0.6 * first.response[-1].rms_v


@pytest.mark.parametrize(
    ("value", "text"),
    [(4.5, "4.50 V"), (0.31249, "312 mV"), (1.189e-3, "1.19 mV"), (0.9996, "1.00 V"), (-0.0421, "−42.1 mV"),
     (0.0, "0 V"), (12.34, "12.3 V"), (4e-7, "400 nV"), (1234.5, "1.23 kV")],
)  # fmt: skip
def test_amounts_stand_in_three_digits(value: float, text: str) -> None:
    assert amount(value, "V").replace("\xa0", " ") == text


def test_ranges_share_their_unit() -> None:
    assert amount_range(0.2961, 0.3294, "V") == "296–329\xa0mV"
    assert amount_range(0.95, 1.05, "V") == "0.95–1.05\xa0V"
    assert amount_range(-1.21e-3, -1.17e-3, "V") == "−1.21 to −1.17\xa0mV"
