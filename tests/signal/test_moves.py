"""Controls moved while a take plays: what is refused, where they stand, and that nothing clicks."""

import numpy as np
import pytest

from oracles import amplitude
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import Network, transfer
from sublatch.demo.strings import pluck
from sublatch.errors import CircuitError
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_drive, render
from sublatch.signal.filtering.varying import memory, settled, varied
from sublatch.signal.moves import SWITCHES, Move, checked_moves, position_at
from sublatch.signal.moving import render_moving
from sublatch.takes.take import take_from_samples

RATE = 24000
BEGIN_S, END_S = 1.0, 1.4
MOVES = {
    "knobs.tone": (1.0, 8.0),
    "knobs.volume": (2.0, 9.0),
    "knobs.direct": (0.0, 7.0),
    "switches.peak": ("flat", "peaked"),
    "switches.drive": ("inverted", "normal"),
    "engaged": (True, False),
}


@pytest.fixture(scope="module")
def take():
    """Two plucked notes, 4 s."""
    return take_from_samples(np.tile(pluck(55.0, seconds=2.0, sample_rate=RATE), 2), RATE)


@pytest.fixture(scope="module")
def swept():
    """A circuit with every control."""
    return load_circuit("gated-swept")


def move(which, **changes):
    """One move of a control, all well unless changed."""
    start, end = MOVES[which]
    fields = {"control": which, "start": start, "end": end, "start_s": BEGIN_S}
    if which.startswith("knobs."):
        fields["end_s"] = END_S
    return Move(**{**fields, **changes})


def still(take, control, value):
    """The take with a control standing still."""
    if control == "engaged":
        return render(take, load_circuit("gated-swept")).samples if value else take.samples
    return render(take, load_circuit("gated-swept", changes={control: value})).samples


def below(error, of, db):
    """Hold the peak of an error against that of a signal."""
    assert np.max(np.abs(error)) < 10 ** (db / 20) * np.max(np.abs(of))


@pytest.mark.parametrize("control", MOVES)
def test_every_control_is_still_before_and_after(take, swept, control):
    """Before: the same. After: the same once the output's coupling capacitor, the slowest, has forgotten (140 dB)."""
    before, after = (still(take, control, value) for value in MOVES[control])
    assert np.std(before[: 2 * RATE] - after[: 2 * RATE]) > 0.02 * np.std(before)
    found = render_moving(take, swept, [move(control)])
    assert found.sample_rate == RATE
    first, last = round(BEGIN_S * RATE), round((END_S if "knobs" in control else BEGIN_S + 0.008) * RATE)
    below((found.samples - before)[: first - 32], before, -130)
    tau_s = transfer_time(control)
    late = last + 1 + round(9.3 * tau_s * RATE)
    below((found.samples - after)[late:], after, -80)
    assert len(found.samples) == len(take.samples)


def transfer_time(control):
    """Slowest time constant after a move: the coupling capacitor's for what passes through it, else none."""
    return 0.0 if control in ("engaged", "switches.peak") else 1e-6 * (75e3 + 100e3)


@pytest.mark.parametrize("name", circuit_names())
@pytest.mark.parametrize("control", ["knobs.volume", "knobs.direct"])
def test_every_circuit_s_knobs_move(take, name, control):
    circuit = load_circuit(name, changes={"filter.kind": "none"} if name == "gated-open" else {})
    found = render_moving(take, circuit, [move(control)])
    for value, span in ((MOVES[control][0], slice(0, RATE - 32)), (MOVES[control][1], slice(round(3.1 * RATE), None))):
        true = render(take, load_circuit(name, changes={control: value})).samples
        below((found.samples - true)[span], true, -100)


@pytest.mark.parametrize("control", MOVES)
def test_a_move_without_extent_is_the_still_render(take, swept, control):
    start, _ = MOVES[control]
    found = render_moving(take, swept, [move(control, end=start)])
    np.testing.assert_array_equal(found.samples, still(take, control, start))


def test_no_moves_are_the_still_render(take, swept):
    found, true = render_moving(take, swept, []), render(take, swept)
    np.testing.assert_array_equal(found.samples, true.samples)
    np.testing.assert_array_equal(found.drive_edges_s, true.drive_edges_s)


@pytest.mark.parametrize("control", MOVES)
def test_nothing_clicks(swept, control):
    """On a low sine, no step from sample to sample is larger than the larger of both still sounds', and a little."""
    sine = take_from_samples(0.2 * np.sin(2 * np.pi * 41.2 * np.arange(2 * RATE) / RATE), RATE)
    quiet = {"octave.kind": "polarity-switched", "knobs.tone": 2.0, "knobs.volume": 5.0}
    circuit = load_circuit("gated-swept", changes=quiet)
    start, end = (3.0, 2.0) if control == "knobs.tone" else MOVES[control]
    found = render_moving(sine, circuit, [move(control, start=start, end=end)]).samples
    sounds = [sine.samples]
    if control != "engaged":
        sounds = [
            render(sine, load_circuit("gated-swept", changes={**quiet, control: value})).samples
            for value in (start, end)
        ]
    else:
        sounds.append(render(sine, circuit).samples)
    steps = [np.abs(np.diff(one[RATE // 2 :])).max() for one in sounds]
    fade = np.ptp(np.concatenate(sounds)) * np.pi / (2 * 0.008 * RATE) if control in SWITCHES else 0.0
    assert np.abs(np.diff(found[RATE // 2 :])).max() < 1.05 * max(steps) + fade
    around = np.fft.rfft(found[RATE - 2048 : RATE + 2048] * np.hanning(4096))
    high = np.abs(around[np.fft.rfftfreq(4096, 1 / RATE) > 6000]).max()
    assert high < 10 ** (-60 / 20) * np.abs(around).max()


def test_the_same_moves_give_the_same_samples(take, swept):
    moves = [move(control) for control in MOVES]
    first = render_moving(take, swept, moves)
    second = render_moving(take, swept, moves[::-1], cache=StageCache())
    np.testing.assert_array_equal(first.samples, second.samples)
    np.testing.assert_array_equal(first.drive_edges_s, second.drive_edges_s)
    assert first.at_limit_share == second.at_limit_share


def test_moves_one_after_another_end_where_the_last_one_ends(take, swept):
    moves = [
        Move("knobs.tone", 2.0, 8.0, 0.2, 0.5),
        Move("knobs.tone", 8.0, 3.0, 0.5, 0.7),
        Move("knobs.volume", 5.0, 9.0, 0.3, 0.6),
        Move("switches.peak", "flat", "peaked", 0.4),
        Move("switches.peak", "peaked", "flat", 0.9),
        Move("knobs.tone", 3.0, 4.0, 0.9, 1.0),
    ]
    found = render_moving(take, swept, moves).samples
    true = render(take, load_circuit("gated-swept", changes={"knobs.tone": 4.0, "knobs.volume": 9.0})).samples
    below((found - true)[round(2.8 * RATE) :], true, -80)
    during = render(take, load_circuit("gated-swept", changes={"knobs.tone": 3.0, "knobs.volume": 9.0})).samples
    flat = render_moving(take, swept, [one for one in moves if one.control != "switches.peak"]).samples
    assert np.std((flat - during)[round(0.75 * RATE) : round(0.9 * RATE)]) < 0.2 * np.std(during)


def test_the_output_is_limited_after_everything_but_the_bypass(swept):
    """A volume turned up drives the buffer to its limits; bypassed, the take passes beside it."""
    loud = take_from_samples(2.0 * np.sin(2 * np.pi * 60.0 * np.arange(2 * RATE) / RATE), RATE)
    up = Move("knobs.volume", 1.0, 10.0, 0.5, 1.0)
    driven = render_moving(loud, swept, [up])
    low, high = swept.limits
    assert 0.1 < driven.at_limit_share < 0.9
    assert driven.samples.min() > low - 0.15 * high
    assert driven.samples.max() < 1.15 * high
    at_rest = render_moving(loud, swept, [Move("knobs.volume", 1.0, 1.5, 0.5, 1.0)])
    assert at_rest.at_limit_share == 0.0
    bypassed = render_moving(loud, swept, [up, Move("engaged", True, False, 1.5)])
    np.testing.assert_array_equal(bypassed.samples[round(1.508 * RATE) + 1 :], loud.samples[round(1.508 * RATE) + 1 :])


def test_a_drive_thrown_over_has_the_edges_of_one_and_then_of_the_other(take, swept):
    found = render_moving(take, swept, [move("switches.drive")]).drive_edges_s
    either = [
        detected_drive(take, load_circuit("gated-swept", changes={"switches.drive": value}))
        for value in ("inverted", "normal")
    ]
    middle_s = BEGIN_S + 0.004
    near = np.abs(found - middle_s) < 2 / RATE
    for one, side in zip(either, (found < middle_s, found > middle_s), strict=True):
        mine = found[side & ~near]
        assert np.all(np.isin(mine, one))
    assert np.all(np.diff(found) > 0)
    after = either[1][either[1] > middle_s]
    assert np.count_nonzero(found <= after[0]) % 2 == np.count_nonzero(either[1] <= after[0]) % 2


def test_a_knob_s_effect_follows_it(swept):
    """Half way through a linear direct pot the direct note is about half as loud (mixer's loading left aside)."""
    sine = take_from_samples(0.1 * np.sin(2 * np.pi * 1000.0 * np.arange(2 * RATE) / RATE), RATE)
    circuit = load_circuit("gated-swept", changes={"knobs.tone": 0.0})
    found = render_moving(sine, circuit, [Move("knobs.direct", 0.0, 10.0, 0.2, 1.8)]).samples
    levels = [amplitude(found[round(s * RATE) - 480 : round(s * RATE) + 480], 40.0) for s in (0.6, 1.0, 1.7)]
    full = amplitude(found[-960:], 40.0)
    lower = np.array([0.25, 0.5, 0.9375])
    source = 10e3 * lower * (1 - lower) + 22e3
    expected = lower * 22e3 / (source + 22e3) / 0.5
    np.testing.assert_allclose(np.array(levels) / full, expected, rtol=0.02)


def test_where_knobs_stand(swept):
    moves = [move("knobs.tone"), Move("knobs.tone", 8.0, 2.0, 2.0, 3.0), move("switches.peak"), move("engaged")]
    assert position_at(moves, swept, 0.0) == {
        "knobs.volume": 7.5,
        "knobs.direct": 0.0,
        "knobs.tone": 1.0,
        "switches.drive": "normal",
        "switches.peak": "flat",
        "engaged": True,
    }
    assert position_at(moves, swept, 1.2)["knobs.tone"] == pytest.approx(4.5)
    assert position_at(moves, swept, 1.0)["switches.peak"] == "peaked"
    assert position_at(moves, swept, 1.7)["knobs.tone"] == 8.0
    assert position_at(moves, swept, 2.75)["knobs.tone"] == pytest.approx(3.5)
    assert position_at(moves, swept, 99.0)["engaged"] is False
    assert set(position_at([], load_circuit("gated-open"), 0.0)) == {
        "knobs.volume",
        "knobs.direct",
        "switches.drive",
        "engaged",
    }


BAD = [
    (move("knobs.tone", control="knobs.tune"), "did you mean 'knobs.tone'"),
    (move("knobs.tone", end=35.0), "knobs.tone must end at 0 to 10, got 35.0; was it meant as 3.5"),
    (move("knobs.tone", start=-1.0), "must start at 0 to 10, got -1.0"),
    (move("knobs.tone", start=float("nan")), "must start at 0 to 10"),
    (move("knobs.tone", end=True), "must end at 0 to 10, got True"),
    (move("knobs.tone", end_s=None), "must say when the knob arrives"),
    (move("knobs.tone", end_s=0.5), "wrong way round"),
    (move("knobs.tone", end_s=BEGIN_S + 0.001), "at least 5 ms"),
    (move("knobs.tone", end_s=9.0), "within the take's 4.000 s"),
    (move("knobs.tone", start_s=1000.0, end_s=1400.0), "are these milliseconds"),
    (move("knobs.tone", start_s=-0.5), "times of 0 s or more"),
    (move("knobs.tone", start_s=float("inf"), end_s=float("inf")), "times of 0 s or more"),
    (move("switches.peak", end="high"), "must end at flat or peaked, got 'high'"),
    (move("switches.peak", end_s=END_S), "must take 5 to 10 ms"),
    (move("engaged", start=1), "must start at false or true, got 1"),
    (move("switches.drive", start_s=4.5), "within the take's 4.000 s"),
]


@pytest.mark.parametrize(("bad", "words"), BAD)
def test_what_cannot_be_is_refused(take, swept, bad, words):
    with pytest.raises(CircuitError, match=words):
        render_moving(take, swept, [bad])


@pytest.mark.parametrize("control", ["knobs.tone", "switches.peak"])
def test_a_control_that_is_not_there_is_refused(take, control):
    words = rf"{control} cannot be set: this circuit has no (tone knob|peak switch), .*filter.kind = 'first-order'"
    with pytest.raises(CircuitError, match=words):
        render_moving(take, load_circuit("gated-first-order"), [move(control)])


def test_moves_of_one_control_must_meet(swept):
    with pytest.raises(CircuitError, match="must follow one another"):
        checked_moves([move("knobs.tone"), Move("knobs.tone", 8.0, 2.0, 1.2, 3.0)], swept)
    with pytest.raises(CircuitError, match=r"must start where the one before ended, at 8\.0, got 5\.0 at 2 s"):
        checked_moves([Move("knobs.tone", 5.0, 2.0, 2.0, 3.0), move("knobs.tone")], swept)


@pytest.mark.parametrize("count", [1, 2, 200])
def test_the_shortest_takes(swept, count):
    short = take_from_samples(np.full(count, 0.1), RATE)
    moves = [Move("engaged", True, False, 0.0)]
    if count == 200:
        moves += [Move("knobs.tone", 0.0, 10.0, 0.001, 0.007), Move("knobs.volume", 10.0, 0.0, 0.0, 200 / RATE)]
    found = render_moving(short, swept, moves).samples
    assert len(found) == count
    assert np.all(np.isfinite(found))


def test_silence_stays_silent(swept):
    silent = take_from_samples(np.zeros(2 * RATE), RATE)
    assert not np.any(render_moving(silent, swept, [move(control) for control in MOVES]).samples)


def test_a_capacitor_that_a_source_holds_is_no_hindrance():
    """A differentiator (its capacitor's voltage is the source's) and a capacitor across the source, standing still."""
    network = Network(
        (
            Capacitor("C0", ("in", GROUND), 1e-8),
            Capacitor("C1", ("in", "minus"), 1e-8),
            Resistor("R1", ("minus", "made"), 20e3),
            OpAmp("U1", plus=GROUND, minus="minus", output="made"),
            Resistor("R2", ("made", "out"), 10e3),
            Capacitor("C2", ("out", GROUND), 1e-8),
        )
    )
    tone = np.sin(2 * np.pi * 500.0 * np.arange(RATE) / RATE)
    kept = memory(network)
    assert kept.nodes == (("in", GROUND), ("in", "minus"), ("out", GROUND))
    start = settled(network, kept, [tone], sources=["in"], at=6000, sample_rate=RATE)
    out, end = varied(
        lambda place: network, kept, [tone], sources=["in"], span=(6000, 18000), voltages=start, sample_rate=RATE
    )
    gain = transfer(network).response(500.0)
    expected = np.imag(gain * np.exp(2j * np.pi * 500.0 * np.arange(6000, 18000) / RATE))
    below(out - expected, expected, -80)
    np.testing.assert_allclose(
        end, settled(network, kept, [tone], sources=["in"], at=18000, sample_rate=RATE), atol=1e-4
    )
