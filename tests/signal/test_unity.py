"""A volume at unity: found on a take, then the same as the number; and where there is none, what is said."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.save import circuit_toml, save_circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.demo.strings import pluck
from sublatch.errors import CircuitError
from sublatch.sampling.levels import levels
from sublatch.signal.chain import output_sources, render
from sublatch.signal.moves import Move, position_at
from sublatch.signal.moving import render_moving
from sublatch.signal.unity import effect_gain_db, unity, unity_position, with_volume_found
from sublatch.takes.take import take_from_samples

RATE = 16000
MEASURES = {"loudness": "loudness_lufs", "rms": "rms_dbfs", "peak": "peak_dbfs"}
PLAIN = {"detector.kind": "peak-latch"}
"""A detector that no supply changes."""
WITHOUT_LIMITS = {"supply": "60V"}


@pytest.fixture(scope="module")
def line():
    notes = [pluck(hz, seconds=0.8, sample_rate=RATE, level_volts=0.3) for hz in (41.2, 61.7, 82.4, 55.0)]
    return take_from_samples(np.concatenate(notes), RATE, name="line")


def box(name="gated-swept", **changes):
    return load_circuit(name, changes={**WITHOUT_LIMITS, **PLAIN, "knobs.volume": "unity", **changes})


def louder_db(take, samples, measure):
    """Effect against bypassed, by the levels that the package tells of any sound."""
    after, before = (levels(one, sample_rate=take.sample_rate) for one in (samples, take.samples))
    return getattr(after, MEASURES[measure]) - getattr(before, MEASURES[measure])


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("name", ["gated-first-order", "gated-swept"])
def test_a_volume_at_unity_is_as_loud_as_the_take(line, name, measure):
    found = with_volume_found(output_sources(line, box(name)), box(name), measure=measure)
    assert louder_db(line, render(line, found).samples, measure) == pytest.approx(0.0, abs=0.01)
    assert found == with_settings(box(name), {"knobs.volume": found.volume})


def test_a_rendering_at_unity_is_that_at_the_number(line):
    number = with_volume_found(output_sources(line, box()), box())
    np.testing.assert_array_equal(render(line, box()).samples, render(line, number).samples)
    assert 0.0 < number.volume < 10.0
    assert number.volume == pytest.approx(unity(output_sources(line, box()), box()).position, abs=1e-3)


def test_a_number_stays_as_it_is(line):
    circuit = box(**{"knobs.volume": 3})
    assert with_volume_found(output_sources(line, circuit), circuit) is circuit


def test_it_is_found_as_it_is_heard(line):
    """Through something that takes all lows, the octave has to be turned up further."""
    circuit = box("gated-first-order")

    def bright(samples):
        return np.diff(samples, prepend=0.0)

    plain, through = (
        with_volume_found(output_sources(line, circuit), circuit, heard=heard) for heard in (None, bright)
    )
    assert through.volume > plain.volume + 0.3
    again = with_settings(circuit, {"knobs.volume": through.volume})
    assert effect_gain_db(output_sources(line, again), again, heard=bright) == pytest.approx(0.0, abs=0.01)
    after, before = bright(render(line, again).samples), take_from_samples(bright(line.samples), RATE)
    assert louder_db(before, after, "loudness") == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("coupling", ["1u", "10n", "2n2"])
def test_from_what_is_known_at_one_position_to_unity(line, coupling):
    """A small coupling capacitor makes the knob change the tone too, and then what was found is measured again."""
    circuit = box("gated-open", **{"knobs.volume": 0.5, "output.coupling": coupling, "output.pot.value": "470k"})
    asked = []

    def gain_at(one):
        asked.append(one.volume)
        return louder_db(line, render(line, one).samples, "rms")

    position = unity_position(circuit, gain_at=gain_at, gain_db=gain_at(circuit))
    assert gain_at(with_settings(circuit, {"knobs.volume": position})) == pytest.approx(0.0, abs=0.02)
    assert len(asked) <= (4 if coupling != "1u" else 3)


def test_where_unity_lies_beyond_the_knob_stands_at_ten(line):
    weak = box(**{"output.ground_resistor": "100M"})
    assert with_volume_found(output_sources(line, weak), weak).volume == 10.0
    full = with_settings(weak, {"knobs.volume": 10.0})
    assert unity(output_sources(line, weak), weak).set_gain_db == pytest.approx(
        louder_db(line, render(line, full).samples, "loudness"), abs=0.01
    )


def test_in_silence_the_knob_stands_half_way():
    silence = take_from_samples(np.zeros(4000), RATE)
    assert with_volume_found(output_sources(silence, box()), box()).volume == 5.0
    assert not np.any(render(silence, box()).samples)


def test_the_limits_are_left_out_of_the_search(line):
    """The position is the same with a battery that clips and with one that does not; what clips is told beside it."""
    tight = box(supply="3.4V")
    position = with_volume_found(output_sources(line, tight), tight).volume
    assert position == with_volume_found(output_sources(line, box()), box()).volume
    assert render(line, tight).at_limit_share > 0.0


def test_a_move_sets_out_from_unity(line):
    circuit, position = box(), with_volume_found(output_sources(line, box()), box()).volume
    move = Move("knobs.volume", "unity", 2.0, 0.5, 1.0)
    by_number = [Move("knobs.volume", position, 2.0, 0.5, 1.0)]
    np.testing.assert_array_equal(
        render_moving(line, circuit, [move]).samples,
        render_moving(line, with_settings(circuit, {"knobs.volume": position}), by_number).samples,
    )
    with pytest.raises(CircuitError, match="a number only with a take"):
        position_at([move], circuit, 0.7)


def test_other_controls_move_while_the_volume_is_at_unity(line):
    number = with_volume_found(output_sources(line, box()), box())
    move = [Move("knobs.tone", 5.0, 8.0, 0.5, 1.0)]
    np.testing.assert_array_equal(render_moving(line, box(), move).samples, render_moving(line, number, move).samples)


@pytest.mark.parametrize(
    ("volume", "start", "end", "words"),
    [
        ("unity", 5.0, "unity", 'it can start at "unity", not end there'),
        (4, "unity", 5.0, "only where the knob stands there, got knobs.volume = 4"),
    ],
)
def test_a_move_that_knows_no_number_is_refused(line, volume, start, end, words):
    circuit = box(**{"knobs.volume": volume})
    with pytest.raises(CircuitError, match=words):
        render_moving(line, circuit, [Move("knobs.volume", start, end, 0.5, 1.0)])


def test_only_the_volume_knob_knows_unity_and_a_misspelling_is_told():
    with pytest.raises(CircuitError, match=r"knobs\.direct: .*got 'unity'; only the volume knob can stand at unity"):
        box(**{"knobs.direct": "unity"})
    with pytest.raises(CircuitError, match="""a number from 0 to 10 or "unity", got 'loud'"""):
        box(**{"knobs.volume": "loud"})
    with pytest.raises(CircuitError, match=r"0 \(fully anticlockwise\) to 10, got 35"):
        box(**{"knobs.volume": 35})


def test_it_is_kept_in_a_circuit_file(tmp_path):
    assert 'volume = "unity"' in circuit_toml(box())
    save_circuit(box(), tmp_path / "box.toml")
    assert load_circuit(tmp_path / "box.toml") == box()


def test_nothing_is_worked_out_with_a_volume_that_has_no_number():
    with pytest.raises(CircuitError, match=r'must stand at 0 to 10 by now, got knobs\.volume = "unity"'):
        _ = box().volume
