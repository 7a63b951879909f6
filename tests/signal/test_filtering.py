"""Sampled signals through analogue networks, against the networks' own formulas."""

import numpy as np
import pytest

from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, Resistor
from sublatch.circuit.networks.solver import Network, transfer
from sublatch.circuit.networks.transfer import UNITY
from sublatch.sampling.rates import halved
from sublatch.signal.filtering import fixed as filters

RATES = [8000, 22050, 44100, 48000, 96000, 192000]


def closed_form(circuit, frequency):
    """The output filter's response from its part values: handbook formulas, no solver."""
    f, s = circuit.filter, 2j * np.pi * np.asarray(frequency)
    match f.kind:
        case "none":
            return np.ones_like(s)
        case "first-order":
            return 1 / (1 + s * f.resistor * f.capacitor)
        case "third-order":
            r1, r2, r3 = f.first_resistor, f.second_resistor, f.third_resistor
            ca, cb, cc = f.first_ground_capacitor, f.feedback_capacitor, f.second_ground_capacitor
            square = ca * cc * r1 * (r2 + r3) + cb * cc * r3 * (r1 + r2)
            return 1 / (s**3 * r1 * r2 * r3 * ca * cb * cc + s**2 * square + s * (ca * r1 + cc * (r1 + r2 + r3)) + 1)
        case "swept-second-order":
            # reverse log of midpoint m: R(x) = R (b^(1 − x) − 1)/(b − 1), b = (1/m − 1)²
            b = (1 / f.pot.midpoint - 1) ** 2
            r = f.end_resistor + f.pot.value * (b ** (1 - circuit.tone / 10) - 1) / (b - 1)
            cg, cf = getattr(f.ground_capacitor, circuit.peak), getattr(f.feedback_capacitor, circuit.peak)
            return 1 / (1 + 2 * s * cg * r + s**2 * r * r * cg * cf)
        case "second-order":
            r1, r2 = f.first_resistor, f.second_resistor
            return 1 / (
                1 + s * f.ground_capacitor * (r1 + r2) + s**2 * r1 * r2 * f.ground_capacitor * f.feedback_capacitor
            )


def settings():
    """Every built-in filter, the swept ones over the whole travel and both switch positions, and every other kind."""
    for name in circuit_names():
        if "swept" in name:
            for tone in (0, 1, 2.5, 5, 7.5, 9, 10):
                for peak in ("flat", "peaked"):
                    yield name, {"knobs.tone": tone, "switches.peak": peak}
        else:
            yield name, {}
    yield "gated-open", {"filter.kind": "second-order"}


def rendered_response(network_transfer, rate, frequency):
    """Gain of the digital filter, measured with its impulse response."""
    impulse = np.zeros(1 << 16)
    impulse[8192] = 1.0
    out = filters.apply([impulse], [[network_transfer]], sample_rate=rate)[0]
    n = np.arange(len(impulse)) - 8192
    return np.array([np.sum(out * np.exp(-2j * np.pi * f / rate * n)) for f in frequency])


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize(("name", "changes"), list(settings()))
def test_the_digital_filter_is_the_analogue_one(name, changes, rate):
    """Asked: within 0.05 dB from 20 Hz to 5 kHz and 0.5 dB to 16 kHz. Found: 0.001 dB all the way."""
    circuit = load_circuit(name, changes=changes)
    frequency = np.geomspace(20, 16000, 25)
    network = circuit.filter.network(tone=circuit.tone, peak=circuit.peak)
    found = rendered_response(transfer(network), rate, frequency)
    error_db = 20 * np.log10(np.abs(found) / np.abs(closed_form(circuit, frequency)))
    assert np.max(np.abs(error_db)) < 0.001


@pytest.mark.parametrize("rate", RATES)
def test_a_tone_comes_out_with_the_analogue_gain_and_phase(rate, sine):
    r, c = 39e3, 15e-9
    network = Network((Resistor("R", ("in", "out"), r), Capacitor("C", ("out", GROUND), c)))
    tone = sine(1000.0, seconds=1.0, rate=rate) * np.minimum(np.sin(np.pi * np.arange(rate) / rate) * 4, 1) ** 4
    out = filters.apply([tone], [[transfer(network)]], sample_rate=rate)[0]
    expected = 1 / (1 + 2j * np.pi * 1000 * r * c)
    n = np.arange(len(tone))
    steady = slice(rate // 5 * 2, rate // 5 * 3)
    np.testing.assert_allclose(
        out[steady], np.abs(expected) * np.sin(2 * np.pi * 1000 * n / rate + np.angle(expected))[steady], atol=1e-6
    )


def test_blocks_equal_one_pass(rng, monkeypatch):
    network = Network((Capacitor("C", ("in", "out"), 1e-6), Resistor("R", ("out", GROUND), 22e3)))
    noise = halved(rng.standard_normal(100_000))
    once = filters.apply([noise], [[transfer(network)]], sample_rate=48000)[0]
    monkeypatch.setattr(filters, "BLOCK", 1 << 13)
    np.testing.assert_allclose(filters.apply([noise], [[transfer(network)]], sample_rate=48000)[0], once, atol=1e-6)


def test_sources_add(rng):
    a, b = rng.standard_normal((2, 5000))
    low = transfer(Network((Resistor("R", ("in", "out"), 1e4), Capacitor("C", ("out", GROUND), 1e-7))))
    both, swapped = filters.apply([a, b], [[low, UNITY], [UNITY, low]], sample_rate=48000)
    (only_low,), (only_b,) = (filters.apply([x], [[t]], sample_rate=48000) for x, t in ((a, low), (b, UNITY)))
    np.testing.assert_allclose(swapped, a + filters.apply([b], [[low]], sample_rate=48000)[0], atol=1e-12)
    apart = only_low + only_b
    np.testing.assert_allclose(both, apart, atol=1e-12)


def test_silence_stays_silent():
    assert not np.any(filters.apply([np.zeros(1000)], [[UNITY]], sample_rate=48000)[0])


@pytest.mark.parametrize("count", [1, 2, 3, 17, 1001])
def test_any_length_comes_out_as_long(count):
    np.testing.assert_allclose(filters.apply([np.ones(count)], [[UNITY]], sample_rate=48000)[0], 1.0)


def test_noise_bandwidth(rng):
    """White noise through an RC of fc ≪ fs keeps (π/2) fc / (fs/2) of its power."""
    corner = 272.06
    network = Network((Resistor("R", ("in", "out"), 39e3), Capacitor("C", ("out", GROUND), 15e-9)))
    out = filters.apply([rng.standard_normal(4_000_000)], [[transfer(network)]], sample_rate=48000)[0]
    assert np.var(out) == pytest.approx(np.pi / 2 * corner / 24000, rel=0.02)
