"""Every kind of filter, of detector and of octave stage through every command that takes a circuit.

The kinds are those of the model's own unions, so that a new one is tried as soon as it is there. Further kinds of
filter, detector and octave stage, made as DEVELOPERS.md says and drawn by nobody, go the same way.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import cycle
from typing import Annotated, Any, Literal, get_args

import click
import numpy as np
import pytest
from pydantic import Field

import sublatch.circuit.filters.kinds as filters
import sublatch.circuit.model as model
import sublatch.circuit.save as saving
from board_cases import guarded
from command_line import sublatch
from further_kinds import Window, further_kinds
from own_networks import HIGH_PASS, INVERTING, SWEPT
from sublatch.board.assemble import board
from sublatch.board.network import HELD, board_network, linear_parts
from sublatch.checked import Checked
from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.quantities import Farads, Ohms
from sublatch.circuit.detectors.kinds import Detector
from sublatch.circuit.detectors.overtone import Band
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.parts import (
    Amplifier,
    CapacitorPair,
    FixedCapacitor,
    FixedResistor,
    Wiring,
    ganged,
)
from sublatch.circuit.load import load_circuit
from sublatch.circuit.mixing.kinds import Mix
from sublatch.circuit.networks.elements import GROUND
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.octave_stages.kinds import Octave
from sublatch.circuit.output_buffers.kinds import Output
from sublatch.circuit.signal_path import front_network
from sublatch.cli import main
from sublatch.files.sound import write_audio
from sublatch.parts.knobs.coupling import couplings
from sublatch.tracking.tune.variants import moved, sort_of, starting_points

RATE = 8000
NEEDED: dict[str, dict[str, Any]] = {"network": {"parts": SWEPT}}
"""What kinds need beside their defaults."""
FIXED: dict[str, dict[str, Any]] = {"network": {"parts": INVERTING}}
"""The same for the detector, which has no knob."""


def kinds(union: Any) -> list[str]:
    """Return the kinds of a union of records."""
    return [kind.model_fields["kind"].default for kind in get_args(get_args(union)[0])]


def is_fixed(kind: str) -> bool:
    """Return whether no knob or switch works a filter, so that a detector may have it."""
    record = next(one for one in get_args(get_args(filters.Filter)[0]) if one.model_fields["kind"].default == kind)
    return kind in FIXED or not (record().works_with_tone or record().works_with_peak)


def cases() -> Iterator[tuple[str, dict[str, Any]]]:
    """Give each case's name and its changes to ``gated-open``: each filter in each place, other kinds in turn."""
    stages, detectors = cycle(model.octave_stage_kinds()), cycle(model.detector_kinds())
    buffers = cycle(model.output_buffer_kinds())
    mixes = {kind: record().direct_pot_there is not None for kind, record in model.mixing_kinds().items()}
    with_knob = cycle(kind for kind, has_knob in mixes.items() if has_knob)
    for kind in kinds(filters.Filter):
        detector, stage = next(detectors), next(stages)
        places: dict[str, Any] = {"filter": {"kind": kind} | NEEDED.get(kind, {}), "mix.kind": next(with_knob)}
        if not filters.kind_named(kind).needs_a_switch():
            places |= {"mix.direct_filter": {"kind": kind} | FIXED.get(kind, {}), "knobs.direct": 4.0}
        places |= {"detector.kind": detector, "octave.kind": stage, "output.kind": next(buffers)}
        if is_fixed(kind):
            fixed = {"kind": kind} | FIXED.get(kind, {})
            places |= {"detector.filter": fixed} | ({"detector.band.filter": fixed} if detector == "overtone" else {})
        yield f"{kind}, {detector}, {stage}", places
    for kind in (kind for kind, has_knob in mixes.items() if not has_knob):
        high_pass = {"kind": "network", "parts": HIGH_PASS}
        yield (
            f"high-pass, mix {kind}",
            {"filter": high_pass, "detector.filter": high_pass, "mix.kind": kind, "output.kind": next(buffers)},
        )


CASES = dict(cases())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Give a folder with a take of two notes."""
    here = tmp_path_factory.mktemp("kinds")
    t = np.arange(round(0.6 * RATE)) / RATE
    shape = 0.3 * np.exp(-2 * t) * np.minimum(1.0, np.minimum(t / 0.01, (0.6 - t) / 0.05))
    notes = [shape * sum(np.sin(2 * np.pi * n * hertz * t + n) / n**2 for n in (1, 2, 3)) for hertz in (73.4, 98.0)]
    write_audio(here / "take.wav", np.concatenate([np.zeros(1600), notes[0], np.zeros(800), notes[1]]), RATE)
    return here


COMMANDS: dict[str, tuple[tuple[str, ...], ...]] = {
    "render": (("take.wav", "-c", "BOX", "-o", "heard.wav"),),
    "track": (("take.wav", "-c", "BOX", "--tuning", "D2 G2", "--json"),),
    "tune": (("take.wav", "-c", "BOX", "--tuning", "D2 G2", "--trials", "3", "-o", "tuned.toml"),),
    "response": (("-c", "BOX", "--plot", "response.png"), ("-c", "BOX", "--json")),
    "knobs": (("-c", "BOX", "--plot", "knobs.png"), ("-c", "BOX", "--take", "take.wav", "--json")),
    "sheet": (("-c", "BOX", "-o", "sheet.html"),),
    "choose": (("--kind", "first-order", "--corner", "300Hz", "-c", "BOX", "-o", "chosen.toml"),),
}
"""What is typed for each command that takes a circuit."""


def assert_commands_take(name: str, here: Any) -> None:
    """Assert that every command takes the circuit in a file, ends well and prints numbers only."""
    for command, ways in COMMANDS.items():
        for words in ways:
            done = sublatch(command, *(name if word == "BOX" else word for word in words))
            assert done.exit_code == 0, f"{command}: {done.stderr}"
            assert "nan" not in done.stdout.lower()
            if "--json" in words:
                json.loads(done.stdout, parse_constant=pytest.fail)
    (here / "plan.toml").write_text(
        f'takes = ["take.wav"]\noutput = "heard-{name}"\n[[candidates]]\nname = "one"\ncircuit = "{name}"\n', "utf-8"
    )
    if load_circuit(name).has_direct:
        done = sublatch("response", "-c", name, "--direct", "--plot", "direct.png")
        assert done.exit_code == 0, done.stderr
    done = sublatch("audition", "plan.toml")
    assert done.exit_code == 0, done.stderr


@pytest.mark.parametrize("case", CASES)
def test_every_kind_goes_through_every_command(case: str, folder: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    saving.save_circuit(load_circuit("gated-open", changes=CASES[case]), "box.toml", overwrite=True)
    assert_commands_take("box.toml", folder)


def test_no_command_that_takes_a_circuit_is_forgotten() -> None:
    """The audition takes one in its plan, ``circuits`` prints those that are built in, ``layout`` takes long."""
    taking = {
        name
        for name, command in main.commands.items()
        if isinstance(command, click.Command) and any("-c" in option.opts for option in command.params)
    }
    assert taking == {*COMMANDS, "layout"}


def test_every_kind_is_tried() -> None:
    tried = [str(changes) for changes in CASES.values()]
    words = [*kinds(filters.Filter), *kinds(Detector), *kinds(Octave), *kinds(Mix), *kinds(Output)]
    assert set(words) >= {"first-order", "zero-crossing", "peak-latch", "overtone", "gain-gated", "polarity-switched"}
    assert set(words) >= {"two-resistors", "virtual-earth", "none", "non-inverting", "inverting", "swept-first-order"}
    for kind in words:
        assert any(f"'{kind}'" in text for text in tried)


class Lagging(FilterKind):
    """A first-order low-pass that never falls below a share, its corner moved by a gang and chosen by the switch."""

    kind: Literal["lagging"] = "lagging"
    pot: Pot = Field(Pot(value=50e3, taper="reverse-log"), description="The pot.")
    end_resistor: Ohms = Field(2.2e3, description="In series with it.")
    capacitor: SwitchedCapacitor = Field(
        SwitchedCapacitor(flat=22e-9, peaked=47e-9), description="To the last resistor."
    )
    last_resistor: Ohms = Field(1e3, description="To ground.")

    def wiring(self) -> Wiring:
        """Return its parts."""
        return Wiring(
            (
                ganged("first", self.pot, end_ohm=self.end_resistor, start_ohm=None, between=("in", "a")),
                CapacitorPair("capacitor", "pole", self.capacitor, ("a", "b")),
                FixedResistor("last_resistor", self.last_resistor, ("b", GROUND)),
                Amplifier("follower", "a", "out", "out", note="follower of the filter"),
            )
        )


class Steady(FilterKind):
    """The same with fixed parts, as a detector may have it."""

    kind: Literal["steady"] = "steady"
    resistor: Ohms = Field(22e3, description="In series.")
    capacitor: Farads = Field(22e-9, description="To ground.")

    def wiring(self) -> Wiring:
        """Return its parts."""
        return Wiring(
            (
                FixedResistor("resistor", self.resistor, ("in", "out")),
                FixedCapacitor("capacitor", self.capacitor, ("out", GROUND)),
            )
        )


@pytest.fixture
def further_filters(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Have two further kinds of filter in the model, as if its files had them."""
    more = Annotated[get_args(filters.Filter)[0] | Lagging | Steady, Field(discriminator="kind")]
    owners: list[type[Checked]] = [
        Band,
        *model.detector_kinds().values(),
        model.Circuit,
    ]
    with monkeypatch.context() as patch:
        for owner in owners:
            patch.setattr(
                owner.model_fields["filter" if "filter" in owner.model_fields else "kind"], "annotation", more
            )
        for owner in owners:
            assert owner.model_rebuild(force=True)
        yield
    for owner in owners:
        owner.model_rebuild(force=True)


def test_a_kind_that_nobody_has_drawn_goes_through_every_command(
    further_filters: None, folder: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    steady = {"kind": "steady"}
    changes = {
        "filter.kind": "lagging",
        "detector.kind": "overtone",
        "detector.filter": steady,
        "detector.band.filter": steady,
    }
    circuit = load_circuit("gated-open", changes=changes)
    saving.save_circuit(circuit, "further.toml", overwrite=True)
    assert load_circuit("further.toml") == circuit
    assert_commands_take("further.toml", folder)
    sheet = (folder / "sheet.html").read_text("utf-8")
    for told in ("50k reverse-log", "22n", "47n", "2k2"):
        assert told in sheet


@pytest.fixture
def further() -> Iterator[model.Circuit]:
    """Give a circuit of a further kind of detector and of octave stage, while the model has both."""
    with further_kinds():
        yield load_circuit("gated-swept", changes={"detector.kind": "window", "octave.kind": "half-gated"})


def test_a_further_detector_and_octave_stage_go_through_every_command(
    further: model.Circuit, folder: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    saving.save_circuit(further, "window.toml", overwrite=True)
    assert load_circuit("window.toml") == further
    assert_commands_take("window.toml", folder)
    sheet = (folder / "sheet.html").read_text("utf-8")
    for told in ("6n8", "51k", "220n", "33k", "75k", "follower of the joint", "half of the switch"):
        assert told in sheet


def test_the_board_of_a_further_detector_is_its_network(further: model.Circuit) -> None:
    made = board(further)
    part = {each.role: each for each in made.components}
    front, known = further.detector.front, ["in"]
    pairs = []
    for bend, net in zip((*front.bends, None), front.nets, strict=True):
        pairs.append((guarded(front_network(further, output=net, sources=known)), net))
        known += [bend.output] if bend else []
    assert front.output == part["latch.set"].net("+")
    for network, output in pairs:
        found = board_network(linear_parts(made), inputs=(*network.inputs, *HELD), output=output)
        for source, other in zip(network.inputs, found.inputs, strict=False):
            for hertz in (30.0, 300.0, 3000.0):
                wanted = nodal_response(network, hertz, source=source, output=network.output)
                response = nodal_response(found, hertz, source=other, output=found.output)
                assert response == pytest.approx(wanted, rel=1e-9)
    assert [one.name for one in couplings(further)] == ["input.coupling", "detector.coupling", "output.coupling"]
    idle_v = further.output.bias * further.supply
    far, near = (part[f"latch.positive.{name}"].amount or 0.0 for name in ("far", "near"))
    assert (further.supply - idle_v) * near / (far + near) == pytest.approx(0.02, rel=0.03)


def test_the_board_of_a_further_octave_stage_has_its_gains(further: model.Circuit) -> None:
    network = board_network(board(further), inputs=("note", "octave.switched"), output="octave")
    through, plain = (
        nodal_response(network, 100.0, source=source, output="octave").real for source in ("octave.switched", "note")
    )
    assert (through + plain, plain) == pytest.approx(further.octave.gains)


def test_a_further_detector_is_tuned_in_all_that_it_says(further: model.Circuit) -> None:
    sorts = [sort_of(circuit) for circuit in starting_points(load_circuit("gated-swept"))]
    assert sorts.count(("window", -1)) == sorts.count(("window", 1)) == 2  # either polarity of the drive
    rng = np.random.default_rng(5)
    changed = set()
    for _ in range(200):
        before, after = (one.detector.model_dump() for one in (further, moved(further, rng, reach=2.0)))
        changed |= {name for name in before if before[name] != after[name]}
    assert changed == {*Window.tuned, "filter"}


def test_a_further_detector_stands_alone(further: model.Circuit) -> None:
    there = load_circuit("gated-open", changes={"detector.filter.capacitor": "1n", "detector.kind": "window"})
    assert there.detector.filter == FirstOrder(resistor=20e3, capacitor=1e-9)
    assert load_circuit("gated-open", changes={"detector.kind": "window"}).detector == Window()
