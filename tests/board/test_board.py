"""The board against the circuit's own networks, its file, and what the blocks do to a signal."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from pydantic import BaseModel

from board_cases import circuit_of, every_case, exact_response, guarded
from sublatch.arrays import Array, Complex
from sublatch.board.assemble import board
from sublatch.board.netlist import Board, Component
from sublatch.board.network import HELD, board_network, linear_parts
from sublatch.circuit.components.dividers import divider
from sublatch.circuit.components.preferred import is_preferred
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import Network, nodal_response
from sublatch.circuit.signal_path import front_network, input_network, output_network
from sublatch.errors import CircuitError
from sublatch.signal.divider import drive_edges

FREQUENCIES_HZ = np.geomspace(1.0, 40e3, 25)
NOT_PARTS = {
    *("supply", "volume", "direct", "tone", "midpoint", "fraction", "floor", "hysteresis", "stages", "transition"),
    *("feedthrough", "linear_range", "mismatch", "leak", "low_margin", "high_margin", "bias", "target", "most_gain"),
    *("step", "diodes", "board", "hiss"),
}
DUAL = ("op-amp", "comparator", "flip-flop", "transconductance amplifier")
ALLOWED_AT_JACKS = {"switch", "capacitor", "electrolytic", "resistor"}
LIGHT = ("input.series_resistor", "input.pull_down", "output.series_resistor")
"""Resistors that no op-amp has to drive, or across which nobody listens."""
"""Settings with a number that is not a part's value."""
SHARED = {f"latch.{side}.{name}" for side in ("positive", "negative") for name in ("upper", "lower", "hold_resistor")}
"""Parts that are a setting together with others, as the test of the thresholds asks."""


@every_case
def test_the_board_responds_as_the_circuits_networks_do(case: str) -> None:
    circuit = circuit_of(case)
    made = board(circuit)
    for network, inputs, output in _pairs(circuit, made):
        found = board_network(linear_parts(made), inputs=(*inputs, *HELD), output=output)
        _assert_equal(network, found)


@pytest.mark.parametrize("case", ["gated-swept", "polarity-swept", "gated-open", "own-networks", "own-passive-filter"])
def test_knobs_and_switches_do_on_the_board_what_they_do_in_the_circuit(case: str) -> None:
    built = circuit_of(case)
    made = board(built)
    swept = built.tone is not None
    for knob, peak in product((0.0, 3.3, 10.0), ("flat", "peaked") if swept else (None,)):
        turned = {"knobs__tone": 10.0 - knob, "switches__peak": peak} if swept else {}
        placed = circuit_of(case, knobs__volume=knob, knobs__direct=10.0 - knob, **turned)
        assert replace(board(placed), circuit=built) == made
        wanted, found = (
            output_network(placed),
            board_network(made, inputs=("octave", "note"), output="buffered", positions=placed),
        )
        for source, other in zip(wanted.inputs, found.inputs, strict=True):
            for frequency_hz in (5.0, 300.0, 12e3):
                exact = exact_response(wanted, frequency_hz, source=source)
                assert abs(exact_response(found, frequency_hz, source=other) - exact) <= 1e-9 * abs(exact)


@every_case
def test_every_part_of_the_file_is_on_the_board(case: str) -> None:
    circuit = circuit_of(case)
    on_board = {part.path for part in board(circuit).components}
    missing = [path for path in _part_values(circuit) if path not in on_board]
    assert not missing


@every_case
def test_parts_have_the_value_of_the_setting_they_name(case: str) -> None:
    circuit = circuit_of(case)
    for part in board(circuit).components:
        if part.path is None:
            assert part.note
        elif part.path.rpartition(".")[2] not in NOT_PARTS and part.role not in SHARED and part.amount is not None:
            setting = _setting(circuit, part.path)
            assert part.amount == getattr(setting, "value", setting)
        else:
            _setting(circuit, part.path)


@every_case
def test_resistors_that_no_setting_names_are_none_too_small_to_drive_and_none_too_large(case: str) -> None:
    """Op-amps are specified into 2 kΩ or more; past 1 MΩ a resistor makes hum and noise (common practice)."""
    drawn = [part for part in board(circuit_of(case)).components if part.kind == "resistor" and part.path is None]
    chosen = [part for part in drawn if part.role not in (*LIGHT, "octave.balance")]
    assert chosen
    assert not [part.role for part in chosen if part.amount is None or not 2e3 <= part.amount <= 1e6]


@every_case
def test_designators_and_roles_are_unique_and_no_net_is_loose(case: str) -> None:
    made = board(circuit_of(case))
    assert len({part.reference for part in made.components}) == len(made.components)
    assert len({part.role for part in made.components}) == len(made.components)
    pins = Counter(net for part in made.components for _, net in part.pins)
    latch = {"latch", "not latch"}
    unused = latch - {made.component("divider.1").net("CLK")} if "drive" in (made.circuit.hardwired or ()) else set()
    assert {net for net, count in pins.items() if count < 2} <= {"leveller.out", "loose end", *unused}


@every_case
def test_every_package_has_its_supply_and_no_section_is_left_open(case: str) -> None:
    made = board(circuit_of(case))
    powered = {part.package: part for part in made.components if part.kind == "package"}
    sections = Counter(part.package for part in made.components if part.kind in DUAL)
    assert set(sections) <= set(powered)
    assert set(sections.values()) == {2}
    for package, part in powered.items():
        assert part.pins[0][1] == "supply"
        assert {net for _, net in part.pins[1:]} == {"0V"}
        assert any(each.role == f"decoupling.{package}" for each in made.components)


@every_case
def test_the_thresholds_are_those_of_the_file(case: str) -> None:
    """At rest and with a volt in each store, by Kirchhoff's law at the tap; within what preferred values leave."""
    circuit = circuit_of(case)
    amount = {each.role: each.amount or 0.0 for each in board(circuit).components}
    idle = circuit.output.bias * circuit.supply
    laws = zip(("positive", "negative"), circuit.detector.thresholds.sides, strict=True)
    for (side, law), ends in zip(laws, ((circuit.supply - idle, idle), (idle, circuit.supply - idle)), strict=True):
        own, far = ends
        rest_v = 0.0
        if f"latch.{side}.far" in amount:
            above, below = (amount[f"latch.{side}.{name}"] for name in ("far", "near"))
            rest_v = own * below / (above + below)
        if law.share == 0.0:
            assert rest_v == pytest.approx(law.idle_v, rel=0.03)
            continue
        upper, lower = (amount[f"latch.{side}.{name}"] for name in ("upper", "lower"))
        share = lower / (upper + lower)
        if law.share == 1.0:  # a string to the supply's other end drops the step
            hold = amount[f"latch.{side}.hold_resistor"]
            fed = hold + above * below / (above + below)  # the reference's own resistance is ahead of it
            held = (rest_v / fed - far / (upper + lower)) / (1 / fed + 1 / (upper + lower))
            idle_v, at_one = (share * volts - (1.0 - share) * far for volts in (held, 1.0))
            both = hold * (upper + lower) / (hold + upper + lower)
            assert both == pytest.approx(circuit.detector.thresholds.hold_ohm, rel=0.03)
        elif law.rest_v == 0.0:  # a divider to the bias behind a follower
            idle_v, at_one = share * rest_v, share
        else:  # a divided hold resistor
            idle_v, at_one = rest_v, share + (1.0 - share) * rest_v
            assert upper + lower == pytest.approx(circuit.detector.thresholds.hold_ohm, rel=0.05)
        assert idle_v == pytest.approx(law.idle_v, rel=0.03)
        assert at_one == pytest.approx(law.share + law.added_v, rel=0.01)


@pytest.mark.parametrize(
    ("rectifier", "states", "input_v", "drive"),
    [("positive", {"rectifier.diode": True, "rectifier.other_diode": False}, 1.0, -15 / 22),
     ("positive", {"rectifier.diode": False, "rectifier.other_diode": True}, -1.0, 3 / 7),
     ("negative", {"rectifier.diode": True, "rectifier.other_diode": False}, -1.0, 15 / 22),
     ("negative", {"rectifier.diode": False, "rectifier.other_diode": True}, 1.0, -3 / 7)],
)  # fmt: skip
def test_the_rectifier_gives_the_magnitude(
    rectifier: str, states: dict[str, bool], input_v: float, drive: float
) -> None:
    made = board(circuit_of("gated-swept-overtone", detector__band__rectifier=rectifier))
    sign = {"positive": 1.0, "negative": -1.0}[rectifier] * input_v
    parts: list[Part] = []
    for part in made.components:
        nets = [net if net != "bias" else "ground" for _, net in part.pins]
        if part.role.startswith("rectifier.") and part.kind == "resistor":
            assert part.amount is not None
            parts.append(Resistor(part.reference, (nets[0], nets[1]), part.amount))
        elif part.role in ("rectifier.first", "rectifier.second"):
            parts.append(OpAmp(part.reference, *nets))
        elif states.get(part.role):
            parts.append(Resistor(part.reference, (nets[0], nets[1]), 1.0))
    source = "rectifier.coupled"
    network = Network(tuple(parts), (source,), "rectified")
    output = input_v * nodal_response(network, 0.0, source=source, output="rectified")
    assert output == pytest.approx(sign * input_v, abs=1e-6)
    at = {net: input_v * nodal_response(network, 0.0, source=source, output=net).real for net in _nets(network)}
    assert at["rectifier.drive"] == pytest.approx(drive, abs=1e-3)
    for part in made.components:
        if part.role in states:
            forward = at[part.net("a")] - at[part.net("b")]
            assert forward > 1e-6 if states[part.role] else forward < 1e-9, f"{part.reference} would do otherwise"


@pytest.mark.parametrize("case", ["gated-open-peak-latch", "gated-swept-overtone", "logarithmic-latch"])
def test_each_store_is_charged_by_peaks_of_its_own_sign(case: str) -> None:
    part = {each.role: each for each in board(circuit_of(case)).components}
    for side, to_store in (("positive", "b"), ("negative", "a")):
        held = part[f"latch.{side}.hold_capacitor"].net("a")
        diode, charge = (part[f"latch.{side}.{name}"] for name in ("diode", "charge"))
        assert diode.net(to_store) == held == charge.net("-")
        assert {diode.net("a"), diode.net("b")} == {held, charge.net("out")}
        tapped = held
        if follower := part.get(f"latch.{side}.follower"):
            assert follower.net("+") == held == part[f"latch.{side}.hold_resistor"].net("a")
            tapped = follower.net("out")
            assert follower.net("-") == tapped
        assert part[f"latch.{side}.upper"].net("a") == tapped


@every_case
def test_the_latch_sets_above_and_resets_below(case: str) -> None:
    part = {each.role: each for each in board(circuit_of(case)).components}
    heard = part["latch.set"].net("+")
    names = ("far", "b") if "latch.positive.upper" not in part else ("upper", "b")
    volts = {"bias": 0.0}
    for side, sign in (("positive", 1.0), ("negative", -1.0)):
        if f"latch.{side}.{names[0]}" in part:
            volts[part[f"latch.{side}.{names[0]}"].net(names[1])] = sign
    for level, outcome in ((2.0, (True, False)), (-2.0, (False, True)), (0.0, (False, False))):
        at = volts | {heard: level}
        high = [at[part[name].net("+")] > at[part[name].net("-")] for name in ("latch.set", "latch.reset")]
        assert tuple(high) == outcome
    latch = part["latch.latch"]
    assert [part[f"latch.{name}"].net("out") for name in ("set", "reset")] == [latch.net("S"), latch.net("R")]


def test_the_gate_is_a_pair_where_the_circuit_has_a_linear_range() -> None:
    kinds = {case: {part.kind for part in board(circuit_of(case)).components} for case in ("gated-swept", "pair")}
    assert {case: "transconductance amplifier" in found for case, found in kinds.items()} == {
        "gated-swept": False,
        "pair": True,
    }
    assert {case: "analogue switch" in found for case, found in kinds.items()} == {"gated-swept": True, "pair": False}


@pytest.mark.parametrize(("case", "gains"), [("polarity-swept", (1.0, -1.0)), ("gated-swept", (1.0, 0.0))])
def test_the_octave_stage_has_the_gains_of_its_kind(case: str, gains: tuple[float, float]) -> None:
    circuit = circuit_of(case)
    made = board(circuit)
    assert gains == circuit.octave.gains
    switch = next(part for part in made.components if part.kind == "analogue switch")
    assert (switch.net("1"), switch.net("0"), switch.net("A")) == ("note", "bias", "drive")
    network = board_network(made, inputs=("note", switch.net("common")), output="octave")
    through, plain = (
        nodal_response(network, 100.0, source=source, output="octave") if _reaches(network, source) else 0.0
        for source in (switch.net("common"), "note")
    )
    assert through + plain == pytest.approx(gains[0])
    assert plain == pytest.approx(gains[1])


@pytest.mark.parametrize("stages", [1, 2])
@pytest.mark.parametrize("drive", ["normal", "inverted"])
def test_latch_switch_and_flip_flops_divide_as_the_model_does(stages: int, drive: str) -> None:
    circuit = load_circuit("gated-open", changes={"divider.stages": stages, "switches.drive": drive})
    edges = np.arange(1.0, 20.0)
    heard = edges if drive == "normal" else edges[1:]
    assert _drive_changes(board(circuit), edges) == list(drive_edges(heard, stages=stages))


@pytest.mark.parametrize(("second", "told"), [("50k", False), ("100k", True)])
def test_gangs_of_different_tracks_are_told_and_those_of_one_are_not(second: str, told: bool) -> None:
    """One shaft takes gangs of one track; what turns together but is not sold together has to be said."""
    parts = [
        {"part": "rheostat", "name": f"P{n}", "pot": {"value": value}, "end_resistor": "1k8", "between": between}
        for n, value, between in ((1, "50k", ["in", "a"]), (2, second, ["a", "out"]))
    ]
    parts += [
        {"part": "capacitor", "name": f"C{node}", "value": "10n", "between": [node, "ground"]} for node in ("a", "out")
    ]
    made = board(load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": parts}}))
    assert any("The gangs of filter have different tracks" in note for note in made.notes) is told


def test_the_jacks_carry_no_bias() -> None:
    made = board(circuit_of("gated-open"))
    for tip, pole, net in (("input tip", "input", "in"), ("output tip", "output", "out")):
        assert {part.role for part, _ in made.on_net(tip)} == {f"{pole}.jack", f"footswitch.{pole}"}
        reached, waiting = set[str](), [net]
        while waiting:
            if (one := waiting.pop()) not in reached | {"0V"}:
                reached.add(one)
                waiting += [part.net(end) for part, pin in made.on_net(one) if part.kind == "resistor" for end in "ab"]
        assert not {"bias", "supply"} & reached
        assert {part.kind for one in reached for part, _ in made.on_net(one)} <= ALLOWED_AT_JACKS
        assert any("0V" in dict(part.pins).values() for one in reached for part, _ in made.on_net(one))
    output = next(part for part in made.components if part.role == "output.capacitor")
    assert output.amount is not None
    assert 1.0 / (2 * np.pi * 9.09e3 * output.amount) < 2.0  # 10 kΩ beside the 100 kΩ to 0 V


def test_a_floor_beyond_the_supply_is_refused() -> None:
    with pytest.raises(CircuitError, match=r"detector\.floor must lie between .* got .* V"):
        board(load_circuit("gated-open", changes={"detector.floor": 5.0}))


def test_a_rectifier_is_not_taken_for_linear() -> None:
    made = board(circuit_of("gated-open-overtone"))
    with pytest.raises(CircuitError, match=r"D\d+ \(diode\) is not linear"):
        board_network(made, inputs=("in",), output="rectified")


def test_a_divider_is_of_preferred_values_and_true() -> None:
    for share in np.linspace(0.02, 0.98, 49):
        upper, lower = divider(float(share), total_ohm=100e3)
        assert is_preferred(upper)
        assert is_preferred(lower)
        assert 40e3 < upper + lower < 250e3
        assert lower / (upper + lower) == pytest.approx(share, rel=0.02)
    with pytest.raises(CircuitError, match="above 0 and below 1, got 1"):
        divider(1.0, total_ohm=1e3)


def _pairs(circuit: Circuit, made: Board) -> list[tuple[Network, tuple[str, ...], str]]:
    """Return each network of the circuit with the board's nets for its inputs and its output."""
    part = {each.role: each for each in made.components}
    pairs = [
        (guarded(input_network(circuit)), ("in",), "note"),
        (output_network(circuit), ("octave", "note"), "buffered"),
    ]
    heard = part["latch.set"].net("+") if "detector.leveller" not in part else part["detector.leveller"].net("in")
    front, known = circuit.detector.front, ["in"]
    for bend, net in zip(front.bends, front.nets, strict=False):
        network = front_network(circuit, output=net, sources=known)
        pairs.append((guarded(network), network.inputs, net))
        known.append(bend.output)
    if front.output not in known:
        network = front_network(circuit, output=front.output, sources=known)
        pairs.append((guarded(network), network.inputs, heard))
    return pairs


def _assert_equal(network: Network, found: Network) -> None:
    """Assert that two networks respond alike, from each input on."""
    for source, other in zip(network.inputs, found.inputs, strict=False):
        wanted = _response(network, source)
        np.testing.assert_allclose(_response(found, other), wanted, rtol=1e-9, atol=1e-15)


def _response(network: Network, source: str) -> Complex:
    """Return a network's response from one input on."""
    return np.array([nodal_response(network, f, source=source, output=network.output) for f in FREQUENCIES_HZ])


def _part_values(settings: BaseModel, above: str = "") -> list[str]:
    """Return the path of every setting that is a part's value: a pot counts as one."""
    paths: list[str] = []
    for name in type(settings).model_fields:
        value, path = getattr(settings, name), f"{above}{name}"
        listed = value if isinstance(value, tuple) else ()
        for each in listed:
            if isinstance(each, BaseModel):
                paths += _part_values(each, f"{path}.{each.name}.")
        if isinstance(value, BaseModel):
            paths += [path] if hasattr(value, "taper") else _part_values(value, f"{path}.")
        elif isinstance(value, int | float) and name not in NOT_PARTS:
            paths.append(path)
    return paths


def _setting(circuit: Circuit, path: str) -> object:
    """Return a setting by its dotted path."""
    value: object = circuit
    for step in path.split("."):
        is_list = isinstance(value, tuple)
        value = next(part for part in value if part.name == step) if is_list else getattr(value, step)
    return value


def _nets(network: Network) -> list[str]:
    """Return the nets of a network but its ground."""
    return sorted({node for part in network.parts for node in part.nodes} - {"ground", "band"})


def _reaches(network: Network, source: str) -> bool:
    """Return whether any part hangs on a source."""
    return any(source in part.nodes for part in network.parts)


def _drive_changes(made: Board, edges: Array) -> list[float]:
    """Return when the board's drive changes, its latch changing at the edges, all flip-flops reset at first."""
    pole = next(part for part in made.components if part.control == "drive")
    chosen = pole.net("1" if made.circuit.switches.drive == "normal" else "2")
    flops = [part for part in made.components if part.role.startswith("divider.")]
    level = {"latch": False, "not latch": True}
    state = dict.fromkeys((part.reference for part in flops), False)
    _settle(level, flops, state, chosen)
    changes = []
    for index, time in enumerate(edges):
        was = dict(level)
        level |= {"latch": index % 2 == 0, "not latch": index % 2 == 1}
        for part in flops:
            _settle(level, flops, state, chosen)
            if level[part.net("CLK")] and not was[part.net("CLK")]:
                state[part.reference] = was[part.net("D")]
        _settle(level, flops, state, chosen)
        if level["drive"] != was["drive"]:
            changes.append(float(time))
    return changes


def _settle(level: dict[str, bool], flops: list[Component], state: dict[str, bool], chosen: str) -> None:
    """Bring every net up to date with the latch and the flip-flops."""
    level["clock"] = level[chosen]
    for part in flops:
        for pin, high in (("Q", state[part.reference]), ("/Q", not state[part.reference])):
            if pin in dict(part.pins):
                level[part.net(pin)] = high
