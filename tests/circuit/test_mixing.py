"""Mixing stages and output buffers against closed forms, and the controls that each leaves.

Gains of a passive joint (Millman), of a virtual earth and of an inverting and a non-inverting amplifier, the loaded
wiper (Thévenin): textbook closed forms, from memory, worked out here from part values alone.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import OpAmp
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.response import response
from sublatch.circuit.save import circuit_toml, save_circuit
from sublatch.circuit.signal_path import input_network, output_network
from sublatch.errors import CircuitError

HIGH_HZ = 20e3
"""Where no coupling capacitor counts."""


def box(**changes: Any) -> Circuit:
    """A circuit without output filter or trim, its volume fully clockwise, with changes (dots as two underscores)."""
    plain = {"filter.kind": "none", "output.trim_resistor": "none", "knobs.volume": 10.0}
    return load_circuit("gated-swept", changes=plain | {key.replace("__", "."): v for key, v in changes.items()})


def gain(circuit: Circuit, source: str, hertz: float = HIGH_HZ) -> complex:
    """Gain from the octave stage or the direct signal to the output."""
    return complex(transfer(output_network(circuit), source=source).response(hertz))


def mixed(circuit: Circuit, source: str) -> float:
    """The same to the mixing stage's output."""
    return float(transfer(output_network(circuit), source=source, output="mix.out").response(HIGH_HZ).real)


@pytest.mark.parametrize("direct", [0.0, 2.5, 5.0, 10.0])
def test_two_resistors_are_millmans_joint(direct: float) -> None:
    circuit = box(knobs__direct=direct, mix__octave_resistor="33k", mix__direct_resistor="47k")
    alpha = direct / 10.0
    source = 47e3 + alpha * (1 - alpha) * 10e3
    assert mixed(circuit, "octave") == pytest.approx((1 / 33e3) / (1 / 33e3 + 1 / source), rel=1e-6)
    assert mixed(circuit, "direct") == pytest.approx(alpha / source / (1 / 33e3 + 1 / source), rel=1e-6, abs=1e-7)


@pytest.mark.parametrize("direct", [0.0, 2.5, 5.0, 10.0])
def test_a_virtual_earth_adds_what_each_resistor_feeds_it(direct: float) -> None:
    circuit = box(
        mix__kind="virtual-earth",
        knobs__direct=direct,
        mix__octave_resistor="33k",
        mix__direct_resistor="47k",
        mix__feedback_resistor="68k",
    )
    alpha = direct / 10.0
    assert mixed(circuit, "octave") == pytest.approx(-68 / 33, rel=1e-9)
    assert mixed(circuit, "direct") == pytest.approx(
        -68e3 * alpha / (47e3 + alpha * (1 - alpha) * 10e3), rel=1e-6, abs=1e-6
    )


def test_without_its_pot_the_direct_resistor_hangs_loose() -> None:
    """A virtual earth does not notice; at a plain joint the octave is no longer divided: twice as much."""
    earth, loose = (box(mix__kind="virtual-earth", **more) for more in ({}, {"mix__direct_pot": "none"}))
    assert mixed(loose, "octave") == pytest.approx(mixed(earth, "octave"), rel=1e-9)
    assert mixed(earth, "octave") == pytest.approx(-1.0, rel=1e-9)
    joint, loose_joint = box(), box(mix__direct_pot="none")
    assert mixed(joint, "octave") == pytest.approx(0.5, rel=1e-6)
    assert mixed(loose_joint, "octave") == pytest.approx(1.0, rel=1e-9)
    assert not loose.has_direct
    assert not loose_joint.has_direct


@pytest.mark.parametrize("position", [1.0, 2.5, 5.0, 9.0, 10.0])
@pytest.mark.parametrize("trim_ohm", [None, 75e3])
def test_an_inverting_buffer_loads_the_volume_pot_with_its_own_input_resistance(
    position: float, trim_ohm: float | None
) -> None:
    track = {"value": "100k", "taper": "linear"}
    trim = trim_ohm or "none"
    circuit = box(mix__kind="none", knobs__volume=position, output__pot=track, output__trim_resistor=trim)
    alpha = position / 10.0
    lower = 1 / (1 / (alpha * 100e3) + 1 / 220e3)
    divider = lower / (lower + (1 - alpha) * 100e3 + (trim_ohm or 0.0))
    assert gain(circuit, "octave").real == pytest.approx(-1e6 / 220e3 * divider, rel=1e-6)
    other = box(
        mix__kind="none",
        knobs__volume=position,
        output__pot=track,
        output__trim_resistor=trim,
        output__input_resistor="100k",
        output__feedback_resistor="330k",
    )
    lower = 1 / (1 / (alpha * 100e3) + 1 / 100e3)
    divider = lower / (lower + (1 - alpha) * 100e3 + (trim_ohm or 0.0))
    assert gain(other, "octave").real == pytest.approx(-3.3 * divider, rel=1e-6)


def test_the_coupling_corner_with_the_input_resistance_of_the_inverting_buffer() -> None:
    """1 / (2π C R), R the track in parallel with 220 kΩ: 3.01 dB down and 45° ahead there, twice turned to −135°."""
    circuit = box(mix__kind="none", output__coupling="100n")
    corner_hz = 1 / (2 * np.pi * 100e-9 * (100e3 * 220e3 / 320e3))
    assert corner_hz == pytest.approx(23.15, abs=0.01)
    at_corner, above = gain(circuit, "octave", corner_hz), gain(circuit, "octave")
    assert abs(at_corner / above) == pytest.approx(np.sqrt(0.5), rel=1e-4)
    assert np.degrees(np.angle(at_corner)) == pytest.approx(45.0 - 180.0, abs=0.01)


@pytest.mark.parametrize(
    ("mix", "buffer", "sign"),
    [
        ("two-resistors", "non-inverting", 1),
        ("two-resistors", "inverting", -1),
        ("virtual-earth", "non-inverting", -1),
        ("virtual-earth", "inverting", 1),
        ("none", "inverting", -1),
        ("none", "non-inverting", 1),
    ],
)
def test_the_sign_of_the_whole(mix: str, buffer: str, sign: int) -> None:
    circuit = box(mix__kind=mix, output__kind=buffer)
    assert circuit.sign == sign
    assert np.sign(gain(circuit, "octave").real) == sign
    if circuit.has_direct:
        turned = box(mix__kind=mix, output__kind=buffer, knobs__direct=10.0)
        assert np.sign(gain(turned, "direct").real) == sign


def test_the_direct_signal_has_a_low_pass_of_its_own() -> None:
    """First order, 1 / (2π R C) with R from the knob; the octave does not pass it."""
    changes = {"mix__direct_filter": {"kind": "swept-first-order", "capacitor": "10n"}, "knobs__direct": 10.0}
    for position, ohm in ((0.0, 103.3e3), (10.0, 3.3e3)):
        circuit = box(knobs__direct_tone=position, **changes)
        corner_hz = 1 / (2 * np.pi * ohm * 10e-9)
        assert response(circuit, direct=True).corner_hz == pytest.approx(corner_hz, rel=1e-6)
        plain = box(knobs__direct=10.0)
        through, beside = (
            gain(circuit, source, corner_hz) / gain(plain, source, corner_hz) for source in ("direct", "octave")
        )
        assert through == pytest.approx(1 / (1 + 1j), rel=1e-6)
        assert beside == pytest.approx(1.0, rel=1e-9)
    fixed = box(mix__direct_filter={"kind": "first-order", "resistor": "10k", "capacitor": "10n"})
    assert response(fixed, direct=True).corner_hz == pytest.approx(1591.55, abs=0.01)
    assert response(fixed).corner_hz is None
    assert fixed.direct_tone is None


def test_a_file_that_says_no_kind_is_as_it_was() -> None:
    circuit = load_circuit("gated-swept")
    assert (circuit.mix.kind, circuit.output.kind, circuit.sign, circuit.has_direct) == (
        "two-resistors",
        "non-inverting",
        1,
        True,
    )


def test_a_new_mixing_stage_brings_the_buffer_that_it_leaves() -> None:
    none = load_circuit("gated-swept", changes={"mix.kind": "none"})
    assert (none.output.kind, none.output.load_ohm, none.output.gain) == (
        "inverting",
        220e3,
        pytest.approx(-1e6 / 220e3),
    )
    assert none.output.pot == load_circuit("gated-swept").output.pot
    chosen = load_circuit("gated-swept", changes={"mix.kind": "none", "output.kind": "non-inverting"})
    assert chosen.output == load_circuit("gated-swept").output
    kept = load_circuit("gated-swept", changes={"output.kind": "inverting"})
    assert (kept.mix.kind, kept.output.kind) == ("two-resistors", "inverting")
    turned = load_circuit("gated-swept", changes={"mix.kind": "none", "output.input_resistor": "330k"})
    assert turned.output.load_ohm == 330e3


def test_a_new_mixing_stage_keeps_what_both_have() -> None:
    changes = {"mix.octave_resistor": "39k", "knobs.direct": 3.0, "mix.kind": "virtual-earth"}
    circuit = load_circuit("gated-swept", changes=changes)
    assert (circuit.mix.octave_resistor, circuit.mix.feedback_resistor, circuit.knobs.direct) == (39e3, 22e3, 3.0)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"mix.kind": "none", "knobs.direct": 3}, ("knobs.direct cannot be set", "mix.kind = 'none'")),
        ({"mix.kind": "none", "knobs.direct_tone": 3}, ("no direct tone knob", "mix.kind = 'none'")),
        (
            {"mix.kind": "virtual-earth", "mix.direct_pot": "none", "knobs.direct": 3},
            ("knobs.direct cannot be set", "mix.kind = 'virtual-earth' with mix.direct_pot = 'none'"),
        ),
        ({"knobs.direct_tone": 3}, ("no direct tone knob", "mix.direct_filter.kind = 'none'")),
        ({"mix.direct_filter.kind": "swept-second-order"}, ("no peak switch", "swept-first-order")),
        (
            {"mix.direct_pot": "none", "mix.direct_filter.kind": "first-order"},
            ("without a direct_pot nothing is heard", "first-order"),
        ),
        ({"mix.kind": "virtual-ground"}, ("two-resistors, virtual-earth, none", "virtual-earth'?")),
        ({"output.kind": "inverted"}, ("non-inverting, inverting", "'inverting'?")),
        ({"mix.kind": "none", "output.ground_resistor": "8k2"}, ("unknown key 'ground_resistor'", "input_resistor")),
    ],
)
def test_what_a_stage_does_not_have_is_refused_by_name(changes: dict[str, Any], told: tuple[str, ...]) -> None:
    with pytest.raises(CircuitError) as raised:
        load_circuit("gated-swept", changes=changes)
    for words in told:
        assert words in str(raised.value)


def test_a_response_of_the_direct_signal_needs_one() -> None:
    with pytest.raises(CircuitError, match=r"mix\.kind = 'none'"):
        response(load_circuit("gated-swept", changes={"mix.kind": "none"}), direct=True)


@pytest.mark.parametrize(
    "changes",
    [
        {"mix.kind": "none"},
        {"mix.kind": "virtual-earth", "mix.direct_pot": "none", "output.kind": "inverting"},
        {"mix.direct_pot": "none"},
        {"mix.direct_filter.kind": "swept-first-order", "knobs.direct": 2.0, "knobs.direct_tone": 7.0},
    ],
)
def test_a_circuit_comes_back_from_its_file(changes: dict[str, Any], tmp_path: Any) -> None:
    circuit = load_circuit("gated-swept", changes=changes)
    save_circuit(circuit, tmp_path / "box.toml")
    assert load_circuit(tmp_path / "box.toml") == circuit
    if changes.get("mix.direct_pot") == "none":
        assert 'direct_pot = "none"' in circuit_toml(circuit)


def test_op_amps_of_the_path_are_named_as_on_the_board() -> None:
    changes = {"mix.kind": "virtual-earth", "mix.direct_filter.kind": "first-order", "filter.kind": "first-order"}
    circuit = load_circuit("gated-swept", changes=changes)
    amps = [part.name for part in output_network(circuit).parts if isinstance(part, OpAmp)]
    assert amps == ["filter.follower", "mix.direct_filter.follower", "mix.amplifier", "output.buffer"]
    assert [part.name for part in input_network(circuit).parts if isinstance(part, OpAmp)] == ["follower"]
