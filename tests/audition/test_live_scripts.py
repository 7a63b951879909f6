"""The page's own arithmetic: pots, networks, loudness and wished filters, against Python's and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from javascript import run
from live_desk import OWN, RATE, random_turn
from sublatch.audition.live.bands import loudness_bands
from sublatch.audition.live.parts import live_circuit
from sublatch.circuit.components.pots import wiper_resistances
from sublatch.circuit.components.preferred import E12, E24
from sublatch.circuit.idle import output_limits_v
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.signal_path import output_network
from sublatch.circuit.with_settings import with_settings
from sublatch.demo.strings import pluck
from sublatch.demo.takes import demo_takes
from sublatch.parts.choose.swept_search import Stock, Sweep, best_taper, swept_sets
from sublatch.parts.knobs.same_sound import Setting, difference_db
from sublatch.parts.knobs.travel import knob_curve
from sublatch.parts.sound_bands import source_bands
from sublatch.sampling.levels import loudness
from sublatch.signal.chain import output_sources
from sublatch.signal.node_voltages import node_voltages
from sublatch.takes.take import Take, take_from_samples

FREQUENCIES = np.geomspace(5.0, 20e3, 40)
RESPONSES = """(settings) => settings.map(({ setting, hertz }) => {
  const elements = sublatch.response.elements(setting);
  const space = sublatch.network.stateSpace(elements, setting.circuit.output);
  return [sublatch.response.gains(elements, setting.circuit.output), sublatch.response.spaceGains(space)]
    .map((gains) => hertz.map(gains));
})"""


def circuits():
    """Return every built-in circuit, three with networks of one's own, and two that are built of ideal devices."""
    own = [
        load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": parts}}) for parts in OWN.values()
    ]
    ideal = [load_circuit(name, changes={"devices.values": "ideal"}) for name in ("polarity-swept", "gated-swept")]
    state_variable = load_circuit("gated-swept", changes={"filter.kind": "swept-state-variable"})
    return [*(load_circuit(name) for name in circuit_names()), *own, *ideal, state_variable]


def complex_pairs(rows):
    """Return gains from the octave and from the direct signal, as the scripts tell them."""
    both = np.array(rows)
    return both[:, 0] + 1j * both[:, 1], both[:, 2] + 1j * both[:, 3]


def test_pots_turn_as_in_python():
    cases = [
        ({"value": 1e5, "taper": taper, "midpoint": midpoint}, position)
        for taper in ("linear", "log", "reverse-log")
        for midpoint in (0.02, 0.15, 0.4)
        for position in (0.0, 0.1, 3.3, 5.0, 9.99, 10.0)
    ]
    found = run("(cases) => cases.map(([pot, position]) => sublatch.knob.resistances(pot, position))", cases)
    wanted = [wiper_resistances(p["value"], at, taper=p["taper"], midpoint=p["midpoint"]) for p, at in cases]
    np.testing.assert_allclose(found, wanted, rtol=1e-12, atol=1e-9)


@pytest.mark.parametrize(("name", "series"), [("E24", E24), ("E12", E12)])
def test_a_step_leads_to_the_next_value_of_the_standard(name, series):
    ladder = [float(f"{member}e{power}") for power in (-9, -8, 3, 4) for member in series]
    code = (
        f"(all) => all.map((value) => [1, -1].map((step) => sublatch.knob.stepped(value, step, sublatch.knob.{name})))"
    )
    found = run(code, ladder)
    for place in range(1, len(ladder) - 1):
        if place % (2 * len(series)) not in (0, 2 * len(series) - 1):
            assert found[place] == [ladder[place + 1], ladder[place - 1]]
    between = run(f"() => [1, -1].map((step) => sublatch.knob.stepped(4.9e3, step, sublatch.knob.{name}))", None)
    assert between == [min(m for m in series if m > 4.9) * 1e3, max(m for m in series if m < 4.9) * 1e3]


def test_a_network_responds_as_pythons_by_nodes_and_by_states():
    rng = np.random.default_rng(11)
    turned = [random_turn(rng, circuit, candidate="") for circuit in circuits() for _ in range(3)]
    turned += [
        random_turn(rng, c, candidate="", controls={"tone": 10.0, "volume": 0.0, "direct": 10.0}) for c in circuits()
    ]
    settings = [
        {"circuit": live_circuit(circuit), "controls": turn["controls"], "values": {}} for turn, circuit in turned
    ]
    found = run(RESPONSES, [{"setting": setting, "hertz": FREQUENCIES.tolist()} for setting in settings])
    for (_, circuit), ways in zip(turned, found, strict=True):
        network = output_network(circuit)
        for rows in ways:
            for source, gains in zip(("octave", "direct"), complex_pairs(rows), strict=True):
                if source == "direct" and not circuit.has_direct:
                    continue
                wanted = nodal_response(network, FREQUENCIES, source=source)
                assert np.max(np.abs(gains - wanted)) < 1e-5 * max(np.max(np.abs(wanted)), 1e-9)


def test_the_output_rests_where_pythons_does():
    """With every op-amp off by its worst; a bipolar one's bias current makes the volume pot count."""
    rng, changes = np.random.default_rng(12), {"devices.values": "worst", "devices.op_amp": "bipolar"}
    code = """(settings) => settings.map(({ circuit, ...more }) => (
      sublatch.idle.volts(sublatch.response.elements({ circuit, ...more }), circuit.off, circuit.output)))"""
    settings, limits = [], []
    for circuit in circuits():
        worst = with_settings(circuit, changes)
        turn, changed = random_turn(rng, worst, candidate="")
        settings.append({"circuit": live_circuit(worst), "controls": turn["controls"], "values": turn["values"]})
        limits.append(output_limits_v(changed))
    found = np.array(run(code, settings))
    wanted = [circuit["circuit"]["limits"][0] - low for circuit, (low, _) in zip(settings, limits, strict=True)]
    np.testing.assert_allclose(found, wanted, rtol=1e-6, atol=1e-9)
    assert np.min(np.abs(found)) > 1e-4


def test_parts_that_are_changed_on_the_page_are_changed_in_the_network():
    circuit = load_circuit("gated-swept")
    told = live_circuit(circuit)
    rng = np.random.default_rng(3)
    for _ in range(6):
        turn, changed = random_turn(rng, circuit, candidate="")
        setting = {"circuit": told, "controls": turn["controls"], "values": turn["values"]}
        ((rows, _),) = run(RESPONSES, [{"setting": setting, "hertz": FREQUENCIES.tolist()}])
        wanted = nodal_response(output_network(changed), FREQUENCIES, source="octave")
        np.testing.assert_allclose(complex_pairs(rows)[0], wanted, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize("peak_db", [0.0, 1.0, 6.0, 18.0])
@pytest.mark.parametrize(("tone", "corner_hz"), [(0, 100.0), (5, 400.0), (10, 1600.0)])
def test_a_wished_filter_ends_and_peaks_where_it_is_wished(peak_db, tone, corner_hz):
    wish = {"low_hz": 100, "high_hz": 1600, "peak_db": peak_db}
    code = """({ circuit, wish, controls }) => {
      const wished = sublatch.wish.circuit(circuit, wish, controls);
      const elements = sublatch.response.elements({ circuit: wished, controls: { ...circuit.controls }, values: {} });
      return sublatch.response.figures(elements, wished.filtered);
    }"""
    circuit = live_circuit(load_circuit("gated-open"))
    for peak, wanted_db in (("peaked", peak_db), ("flat", 0.0)):
        told = run(code, {"circuit": circuit, "wish": wish, "controls": {"tone": tone, "peak": peak}})
        assert told["corner_hz"] == pytest.approx(corner_hz, rel=1e-6)
        assert told["peak_db"] == pytest.approx(wanted_db, abs=2e-3)
        assert told["reference_db"] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_samples_are_as_loud_as_a_library_says(rate):
    """Three tones that rise by 30 dB, so that the relative gate leaves some of it out."""
    time_s = np.arange(2 * rate) / rate
    tones = sum(np.sin(2 * np.pi * hertz * time_s) for hertz in (60.0, 440.0, 3000.0))
    samples = tones * np.geomspace(0.005, 0.16, 2 * rate)
    data = {"samples": samples.round(7).tolist(), "rate": rate}
    found = run("({ samples, rate }) => sublatch.loudness.measured(samples, rate)", data)
    assert found == pytest.approx(loudness(samples, sample_rate=rate), abs=0.05)


@pytest.fixture(scope="module")
def takes():
    """Give takes in volts, some of their seconds, at 48 kHz."""
    return {name: samples[: 6 * RATE] for name, samples in demo_takes(RATE).items()}


@pytest.mark.parametrize(("name", "chosen"), [("hard-accents", "gated-swept"), ("dead-notes", "polarity-third-order")])
def test_loudness_is_told_without_a_sound(takes, name, chosen):
    take, circuit = Take(takes[name], RATE, 1.0, name=name), load_circuit(chosen)
    rng = np.random.default_rng(5)
    code = """({ figures, settings }) => {
      const loudness = new sublatch.Loudness(Float32Array.from(figures));
      return settings.map((setting) => {
        const space = sublatch.network.stateSpace(sublatch.response.elements(setting), setting.circuit.output);
        return loudness.of(sublatch.response.spaceGains(space));
      });
    }"""
    source = output_sources(take, circuit)
    figures = loudness_bands(source.octave, source.direct, sample_rate=RATE, full_scale_volts=1.0)
    turned = [random_turn(rng, circuit, candidate="") for _ in range(4)]
    settings = [{"circuit": live_circuit(circuit), **turn} for turn, _ in turned]
    found = run(code, {"figures": figures.ravel().tolist(), "settings": settings})
    wanted = [loudness(node_voltages(source, one)[0], sample_rate=RATE) for _, one in turned]
    np.testing.assert_allclose(found, wanted, atol=0.2)


WISHES = [(80, 800, 6.0), (100, 1200, 9.0), (60, 400, 0.0), (200, 2000, 3.0), (45, 700, 12.0)]


@pytest.mark.parametrize(("low_hz", "high_hz", "peak_db"), WISHES)
def test_the_parts_found_are_those_that_choose_looks_through(low_hz, high_hz, peak_db):
    wish = {"low_hz": low_hz, "high_hz": high_hz, "peak_db": peak_db}
    found = run("(wish) => sublatch.find.sets(wish, 1.0)", wish)
    wanted = swept_sets(Sweep(low_hz, high_hz, peak_db), Stock())
    assert len(found) == len(wanted)

    def parts(one):
        return (one["pot_ohm"], one["end_ohm"], *one["flat_farad"], *one["peaked_farad"])

    asked = {(w.pot_ohm, w.end_ohm, *w.flat_farad, *w.peaked_farad): w for w in wanted}
    assert {parts(one) for one in found} == set(asked)
    for one in found[:20]:
        np.testing.assert_allclose(one["misses"], asked[parts(one)].misses, atol=1e-5)
    np.testing.assert_allclose([max(o["misses"]) for o in found], [max(w.misses) for w in wanted], atol=1e-5)


def test_the_taper_is_the_one_that_choose_takes():
    cases = [(pot_ohm, end_ohm) for pot_ohm in (10e3, 100e3, 470e3) for end_ohm in (1.5e3, 10e3, 82e3)]
    found = run("(cases) => cases.map(([pot, end]) => sublatch.find.bestTaper(pot, end))", cases)
    assert found == [best_taper(pot_ohm, end_ohm, Stock())[0] for pot_ohm, end_ohm in cases]


@pytest.mark.parametrize("taper", ["linear", "reverse-log"])
def test_the_tone_knob_is_as_steep_as_knobs_says(taper):
    swept = load_circuit("gated-swept", changes={"filter.pot.taper": taper})
    code = """({ circuit, controls }) => sublatch.soundBands.steepest((tone) => {
      const elements = sublatch.response.elements({ circuit, controls: { ...controls, tone }, values: {} });
      return sublatch.response.figures(elements, circuit.filtered).corner_hz;
    })"""
    told = live_circuit(swept)
    wanted = knob_curve(swept, "tone")
    found = run(code, {"circuit": told, "controls": {**told["controls"], "volume": 5.0}})
    assert found == {"octaves": pytest.approx(wanted.steepest_per_step, rel=1e-3), "at": wanted.steepest_at}


def test_a_sound_is_found_on_the_tone_knob_where_knobs_finds_it():
    """Python tells the difference of the two sounds rendered, which bands by their middles meet within 0.05 dB."""
    take = take_from_samples(np.concatenate([pluck(f, seconds=0.7, sample_rate=RATE) for f in (41.2, 61.7)]), RATE)
    swept, old = (load_circuit(name, changes={"knobs.volume": 5.0}) for name in ("gated-swept", "gated-first-order"))
    cells = source_bands(output_sources(take, swept))
    sent = np.stack((cells.octave, cells.direct, cells.cross.real, cells.cross.imag), axis=1)
    code = """({ cells, swept, old }) => {
      const all = Float32Array.from(cells);
      const thirds = (circuit, controls) => {
        const elements = sublatch.response.elements({ circuit, controls, values: {} });
        const gains = sublatch.response.spaceGains(sublatch.network.stateSpace(elements, circuit.output));
        return sublatch.soundBands.thirds(sublatch.soundBands.cellPowers(all, gains));
      };
      const wanted = thirds(old, old.controls);
      const miss = (place) => sublatch.soundBands.difference(thirds(swept, { ...swept.controls, ...place }), wanted);
      return { ...sublatch.soundBands.nearest(miss, ['flat', 'peaked']), thirds: wanted };
    }"""
    found = run(code, {"cells": sent.ravel().tolist(), "swept": live_circuit(swept), "old": live_circuit(old)})
    np.testing.assert_allclose(found["thirds"], cells.powers(old), rtol=1e-4)
    places = np.arange(0.0, 10.01, 0.5)
    powers = {(t, p): cells.powers(Setting(t, p, 0.0, 0.0).of(swept)) for t in places for p in ("flat", "peaked")}
    misses = {place: difference_db(one, cells.powers(old)) for place, one in powers.items()}
    assert found["difference_db"] <= min(misses.values()) + 1e-6
    there = cells.powers(Setting(found["tone"], found["peak"], 0.0, 0.0).of(swept))
    assert found["difference_db"] == pytest.approx(difference_db(there, cells.powers(old)), abs=1e-3)
