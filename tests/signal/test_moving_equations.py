"""Knobs turned while a note sounds, against the differential equations with changing resistances (scipy's solve_ivp).

Parts are ideal. The equations and the pots' laws are written out by hand; only the drive's edges, which no knob
touches and which `test_circuit_equations` holds to 2 µs, are taken from the package.
"""

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from circuit_equations import IN, Modes, derivatives, heard
from sublatch.circuit.load import load_circuit
from sublatch.signal.chain import detected_drive
from sublatch.signal.moves import Move
from sublatch.signal.moving import render_moving
from sublatch.takes.take import take_from_samples

RATE = 48000
AFTER_S = 0.15
"""How long each case goes on after its last move."""

SWEEPS = {
    "tone, all of its travel in 1 s": ({}, [("knobs.tone", 0.0, 10.0, 0.2, 1.2)]),
    "tone, all of its travel in 0.5 s, start resistors": (
        {"filter.start_resistor": "68k"},
        [("knobs.tone", 0.0, 10.0, 0.2, 0.7)],
    ),
    "tone, all of its travel down in 50 ms, peaked": (
        {"switches.peak": "peaked"},
        [("knobs.tone", 10.0, 0.0, 0.2, 0.25)],
    ),
    "all three, overlapping, and tone back again": (
        {"octave.kind": "polarity-switched"},
        [
            ("knobs.tone", 0.0, 9.0, 0.1, 0.3),
            ("knobs.volume", 3.0, 8.0, 0.2, 0.4),
            ("knobs.direct", 0.0, 7.0, 0.15, 0.25),
            ("knobs.tone", 9.0, 2.0, 0.35, 0.5),
        ],
    ),
    "direct and its tone, overlapping, into a virtual earth": (
        {"mix.kind": "virtual-earth", "mix.direct_filter.kind": "swept-first-order"},
        [
            ("knobs.direct", 2.0, 9.0, 0.1, 0.3),
            ("knobs.direct_tone", 1.0, 8.0, 0.15, 0.25),
            ("knobs.tone", 3.0, 6.0, 0.2, 0.35),
        ],
    ),
    "volume up into the limits": ({"supply": "3.4V"}, [("knobs.volume", 0.0, 10.0, 0.1, 0.5)]),
}
"""Changes to the circuit, and moves: control, start, end, seconds of both."""
LONG = dict.fromkeys(list(SWEEPS)[:2], pytest.mark.long)


def note(t):
    """A low E with overtones that rises and dies smoothly; volts."""
    since = np.maximum(t - 0.02, 0.0)
    envelope = since**4 / (since**4 + 0.012**4) * np.exp(-1.5 * since)
    parts = ((1, 0.5), (2, 0.45), (3, 0.2), (5, 0.08), (9, 0.02))
    return 0.4 * envelope * sum(share * np.sin(2 * np.pi * n * 41.2034 * since) for n, share in parts)


def log_share(x, midpoint):
    """Share of a log track below the wiper at a turn of 0 to 1."""
    base = (1 / midpoint - 1) ** 2
    return (base**x - 1) / (base - 1)


def stands(sweep, control, still, t):
    """Position of a knob at any times: straight between the ends of its moves."""
    own = [move for move in sweep if move[0] == control]
    if not own:
        return np.full_like(np.asarray(t, dtype=float), still)
    return np.interp(t, [s for m in own for s in m[3:5]], [p for m in own for p in m[1:3]])


def values_at(circuit, sweep, t):
    """The circuit's values as plain numbers at any times."""
    filter_, mix, output = circuit.filter, circuit.mix, circuit.output
    tone = stands(sweep, "knobs.tone", 4.0, t) / 10
    volume = stands(sweep, "knobs.volume", 7.5, t) / 10
    direct = stands(sweep, "knobs.direct", 0.0, t) / 10
    direct_tone = stands(sweep, "knobs.direct_tone", 5.0, t) / 10
    filtered, earth = mix.direct_filter.kind != "none", mix.kind == "virtual-earth"
    share, gang, start = log_share(volume, 0.2), 100e3 * log_share(1 - tone, 0.15), filter_.start_resistor
    return SimpleNamespace(
        input_c=circuit.input.coupling,
        input_r=circuit.input.resistance,
        note_idle=0.0,
        detector_r=33e3,
        detector_c=(47e-9, 120e-9, 6.8e-9),
        hold_s=1.0,
        gains=circuit.octave.gains,
        filter_r=3e3 + (gang if start is None else gang * start / (gang + start)),
        filter_ground_c=getattr(filter_.ground_capacitor, circuit.peak),
        filter_feedback_c=getattr(filter_.feedback_capacitor, circuit.peak),
        mix_r=(mix.octave_resistor, mix.direct_resistor),
        direct_upper=10e3 * (1 - direct),
        direct_lower=10e3 * direct,
        coupling_c=output.coupling,
        volume_upper=75e3 + 100e3 * (1 - share),
        volume_lower=np.maximum(100e3 * share, 1e-9),
        load=output.load,
        gain=1 + output.feedback_resistor / output.ground_resistor,
        limits=(1.5 - circuit.supply / 2, circuit.supply / 2 - 1.5),
        mixing=mix.kind,
        mix_feedback=mix.feedback_resistor if earth else 0.0,
        direct_r=3.3e3 + 100e3 * log_share(1 - direct_tone, 0.15) if filtered else 0.0,
        direct_c=10e-9 if filtered else 0.0,
    )


def solved(circuit, sweep, edges, times):
    """The output at the sample times, stretch by stretch between edges and ends of moves."""
    bends = [s for move in sweep for s in move[3:5]]
    bounds = np.unique(np.concatenate(([0.0], edges, bends, [times[-1]])))
    y, out = np.zeros(10), np.empty(len(times))
    for low, high in pairwise(bounds):
        modes = Modes(drive_high=np.count_nonzero(edges <= low) % 2 == 0)

        def rate(t, y, modes=modes):
            return derivatives(t, y, values_at(circuit, sweep, t), note, modes)

        part = solve_ivp(rate, (low, high), y, method="DOP853", rtol=1e-7, atol=1e-9, max_step=2e-3, dense_output=True)
        inside = (times >= low) & (times <= high)
        if inside.any():
            states = part.sol(times[inside])
            out[inside] = heard(note(times[inside]) - states[IN], states, values_at(circuit, sweep, times[inside]))
        y = part.y[:, -1]
    return out


@pytest.mark.parametrize("name", [pytest.param(name, marks=LONG.get(name, ())) for name in SWEEPS])
def test_a_turned_knob_obeys_the_differential_equations(name):
    changes, sweep = SWEEPS[name]
    latch = {"detector.kind": "peak-latch", "devices.values": "ideal"}
    circuit = load_circuit("gated-swept", changes=latch | changes)
    begin, end = min(move[3] for move in sweep), max(move[4] for move in sweep)
    times = np.arange(round((end + AFTER_S) * RATE)) / RATE
    take = take_from_samples(note(times), RATE)
    expected = solved(circuit, sweep, detected_drive(take, circuit), times)
    found = render_moving(take, circuit, [Move(*move) for move in sweep])
    error = found.samples - expected
    assert residual_db(error, expected, (times >= begin) & (times <= end)) < -70
    before_the_cut = times < times[-1] - 0.002  # the take ends in mid-note, which rings in whatever resamples it
    assert residual_db(error, expected, (times > end) & before_the_cut) < -70
    if "limits" in name:
        assert found.at_limit_share > 0.02


def residual_db(error, expected, where):
    """RMS of an error against that of what is expected, in dB."""
    return 20 * np.log10(np.sqrt(np.mean(error[where] ** 2) / np.mean(expected[where] ** 2)))
