"""Every setting that is offered can be set, and every setting of a circuit is offered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.settings import settings_of

OVERTONE = load_circuit("gated-swept", changes={"detector.kind": "overtone"})
HARDWIRED = load_circuit("gated-swept", changes={"hardwired": ["drive", "direct"]})
CIRCUITS = [*map(load_circuit, circuit_names()), OVERTONE, HARDWIRED]


def single(data: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Give each single value in a circuit's tables with its path."""
    for key, value in data.items():
        if isinstance(value, Mapping):
            yield from single(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", value


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_what_a_circuit_holds_is_what_is_offered(circuit: Circuit) -> None:
    held = {path for path, value in single(circuit.model_dump()) if value is not None}
    offered = {setting.path: setting for setting in settings_of(circuit)}
    assert held <= set(offered)
    beyond = {path for path in set(offered) - held if not path.startswith("detector.leveller")}
    absent = {"output.trim_resistor", "filter.start_resistor", "octave.linear_range", "switches.peak", "hardwired"}
    assert beyond <= absent
    assert all(setting.description for setting in offered.values())


@pytest.mark.parametrize("name", circuit_names())
def test_every_value_that_is_offered_can_be_set(name: str) -> None:
    for setting in settings_of(load_circuit(name)):
        for value in setting.values:
            if (setting.path, value) == ("filter.kind", "network"):  # it needs its parts
                continue
            if setting.path.endswith("filter.kind") and value == "network":
                continue
            load_circuit(name, changes={setting.path: int(value) if value.isdigit() else value})


def test_controls_are_offered_where_they_are() -> None:
    swept = {setting.path: setting.values for setting in settings_of(load_circuit("gated-swept"))}
    fixed = {setting.path for setting in settings_of(load_circuit("gated-first-order"))}
    assert swept["switches.peak"] == ("flat", "peaked")
    assert swept["switches.drive"] == ("normal", "inverted")
    assert swept["octave.kind"] == ("polarity-switched", "gain-gated")
    assert "swept-second-order" in swept["filter.kind"]
    assert "swept-second-order" not in swept["detector.filter.kind"]
    assert swept["knobs.tone"] == ()
    assert not {"knobs.tone", "switches.peak", "filter.pot.taper"} & fixed
