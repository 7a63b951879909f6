"""Taper and trim resistor searched together, held against the closed forms of the loaded divider."""

from __future__ import annotations

import math

import pytest

import box_lines
from sublatch.circuit.components.preferred import is_preferred
from sublatch.circuit.load import load_circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.parts.knobs.report import knobs
from sublatch.parts.knobs.save import knobs_heading
from sublatch.parts.knobs.taper_and_trim import EVENER_DB, volume_ways


def ways_of(circuit, position):
    return volume_ways(circuit, position=position, full_db=box_lines.in_hand_db(circuit))


def spread_db(circuit):
    """Steepest step less gentlest within 30 dB of full, every half step, by the loaded divider (1 kHz)."""
    levels = [20 * math.log10(abs(box_lines.after_filter(circuit, 1000.0, p / 2)) + 1e-30) for p in range(21)]
    counted = [level if level >= levels[-1] - 30.0 else None for level in levels]
    pairs = zip(counted[2:], counted, strict=False)
    steps = [abs(a - b) for a, b in pairs if a is not None and b is not None]
    return max(steps) - min(steps)


@pytest.mark.parametrize("position", [4.0, 7.0, 9.0])
@pytest.mark.parametrize(
    "changes", [{}, {"output.load": "100k"}, {"output.pot.value": "10k", "output.coupling": "10u"}]
)
def test_every_way_puts_unity_where_it_is_wanted(position, changes):
    circuit = load_circuit("gated-first-order", changes=changes)
    ways = ways_of(circuit, position)
    assert len(ways) == 7
    for way in ways:
        made = way.of(circuit)
        assert box_lines.gain_db(made, position) == pytest.approx(way.off_db, abs=0.1)  # 1 kHz against the tone
        assert abs(way.off_db) < 0.6  # the E24 step
        assert way.spread_db == pytest.approx(spread_db(made), abs=0.01)
        assert way.trim_ohm is None or is_preferred(way.trim_ohm)
        changed = {
            path
            for path in ("pot", "trim_resistor", "ground_resistor")
            if getattr(made.output, path) != getattr(circuit.output, path)
        }
        assert {path.split(".")[1] for path in way.exchanged} == changed


def test_the_first_is_as_even_as_any_that_is_sold():
    circuit = load_circuit("gated-first-order")
    first, *others = ways_of(circuit, 7.0)
    assert (first.taper, first.midpoint) == ("log", 0.10)
    assert first.spread_db <= min(way.spread_db for way in others) + EVENER_DB
    assert not first.twitchy


def test_a_pot_that_will_do_stays():
    circuit = load_circuit("gated-first-order", changes={"output.pot": {"taper": "log", "midpoint": 0.2}})
    first = ways_of(circuit, 8.0)[0]
    assert first.exchanged == ("output.trim_resistor",)
    assert first.of(circuit).output.pot == circuit.output.pot


def test_missing_gain_comes_from_the_output_buffer():
    circuit = load_circuit("gated-first-order")
    way = next(way for way in ways_of(circuit, 1.0) if way.taper == "linear")
    assert way.exchanged == ("output.ground_resistor",)
    assert box_lines.unity_position(way.of(circuit)) == pytest.approx(1.0, abs=0.05)
    assert way.added_db == pytest.approx(-box_lines.gain_db(circuit, 1.0), abs=0.3)
    added = [one.added_db > 12.0 for one in ways_of(circuit, 1.0)]
    assert added == sorted(added)
    assert any(added)


def test_knobs_measures_and_writes_the_first_way():
    circuit = load_circuit("gated-first-order")
    report = knobs(circuit, unity_at=7.0)
    made = report.circuit
    assert made.output.pot.taper == "log"
    assert report.settled.position == pytest.approx(box_lines.unity_position(made), abs=0.02)
    assert report.settled_position == pytest.approx(7.0, abs=0.1)
    assert made.knobs.volume == round(report.settled.position, 2)
    assert report.trim.resistor_ohm == 180e3  # with its own taper, as before
    assert f"Unity with {report.settled.heard}: at {made.knobs.volume:.2f}" in knobs_heading(report, "x")
    plain = knobs(circuit)
    assert (plain.ways, plain.settled) == ((), None)
    assert plain.circuit.output == circuit.output


def test_unity_at_nothing_has_no_way():
    report = knobs(load_circuit("gated-open"), unity_at=0.0)
    assert report.ways == ()
    assert not report.trim.possible
    with pytest.raises(CircuitError, match="unity can be at 0 to 10"):
        knobs(load_circuit("gated-open"), unity_at=11.0)


def test_a_way_leaves_everything_else():
    circuit = with_settings(load_circuit("polarity-third-order"), {"knobs.direct": 3.0})
    made = ways_of(with_settings(circuit, {"knobs.direct": 0.0}), 6.0)[0].of(circuit)
    assert made.model_dump(exclude={"output"}) == circuit.model_dump(exclude={"output"})
