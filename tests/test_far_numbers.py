"""Numbers that no part or knob can have: hundreds of digits, beyond the largest float, next to nothing, no number."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

from command_line import sublatch
from sublatch import units
from sublatch.circuit.load import load_circuit
from sublatch.errors import CircuitError, SublatchError, UnitError
from sublatch.signal.chain import render
from sublatch.takes.take import take_from_samples

READERS = (units.ohms, units.farads, units.volts, units.hertz, units.seconds, units.decibels, units.fraction)
DIGITS = "1" * 400
BEYOND: tuple[Any, ...] = (
    *(DIGITS, f"-{DIGITS}", "1" * 5000, "1e999", "-1e999", "1e400", f"1e{DIGITS}", "nan", "inf", "-inf"),
    *(math.nan, math.inf, -math.inf, 10**400, -(10**400)),
)
LETTERED = {units.ohms: "k", units.farads: "n", units.volts: "V", units.hertz: "kHz", units.seconds: "ms"}
NEXT_TO_NOTHING = ("1e-999", f"0.{'0' * 400}1", "-1e-400")
FAR: tuple[Any, ...] = (
    *BEYOND,
    *NEXT_TO_NOTHING,
    "1e999k",
    f"4k{DIGITS}{DIGITS}k",
    10**4000,
    [10**400],
    {"a": 10**400},
)


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("value", BEYOND, ids=lambda value: repr(value)[:12] if not isinstance(value, int) else "whole")
def test_a_quantity_beyond_all_limits_is_refused_in_a_short_line(read, value):
    with pytest.raises(UnitError) as caught:
        read(value)
    assert len(str(caught.value)) < 700
    if value != value or isinstance(value, str):
        assert "got" in str(caught.value)


@pytest.mark.parametrize(("read", "tail"), LETTERED.items())
@pytest.mark.parametrize("text", [DIGITS, "1e999", "9" * 309])
def test_a_unit_or_letter_changes_nothing_about_that(read, tail, text):
    with pytest.raises(UnitError, match=r"must be|is written like"):
        read(text + tail)


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("text", NEXT_TO_NOTHING)
def test_what_is_too_small_for_a_number_is_not_silently_nothing(read, text):
    with pytest.raises(UnitError, match="too small to tell from 0"):
        read(text)


@pytest.mark.parametrize("text", ["0", "0.000", "0e5", "0V"])
def test_nothing_is_nothing(text):
    assert units.volts(text) == 0.0


def paths(record: BaseModel, above: str = "") -> Iterator[str]:
    """Give the dotted path of every setting."""
    for name in type(record).model_fields:
        value = getattr(record, name)
        if isinstance(value, BaseModel):
            yield from paths(value, f"{above}{name}.")
        else:
            yield f"{above}{name}"


CIRCUITS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("gated-swept", {}),
    ("polarity-third-order", {"detector.kind": "zero-crossing"}),
    ("gated-first-order", {"detector.kind": "overtone", "detector.leveller": {}}),
)


@pytest.mark.long
@pytest.mark.parametrize(("name", "changes"), CIRCUITS)
def test_every_setting_of_a_circuit_refuses_them_or_is_a_text(name, changes):
    for path in paths(load_circuit(name, changes=changes)):
        for value in FAR:
            try:
                load_circuit(name, changes=changes | {path: value})
            except CircuitError:
                continue
            assert path == "title"
            assert isinstance(value, str)


SMALL_PATHS = (
    "knobs.tone",
    "detector.floor",
    "octave.transition",
    "octave.feedthrough",
    "octave.linear_range",
    "octave.leak",
)


@pytest.mark.parametrize("path", SMALL_PATHS)
@pytest.mark.parametrize("value", [5e-324, 1e-310, 1e-30])
def test_a_setting_next_to_nothing_gives_a_finite_sound_or_is_refused(path, value, sine):
    take = take_from_samples(sine(61.0, 0.25, rate=8000, amplitude=0.3), 8000, full_scale_volts=1.0)
    try:
        circuit = load_circuit("gated-swept", changes={path: value})
    except SublatchError as problem:
        assert "octave.linear_range: must be at least 1 µV" in str(problem)  # noqa: PT017
        return
    assert np.all(np.isfinite(render(take, circuit).samples))


@pytest.mark.parametrize("value", [DIGITS, "1e999", "nan", "inf", "[" + DIGITS + "]"])
@pytest.mark.parametrize("path", ["knobs.tone", "filter.end_resistor", "divider.stages", "octave.leak"])
def test_the_command_line_says_so_without_a_trace(path, value):
    done = sublatch("response", "-c", "gated-swept", "--set", f"{path}={value}")
    assert (done.exit_code, done.stdout) == (2, "")
    assert path in done.stderr
    assert done.stderr.count("\n") == 1
    assert len(done.stderr) < 700
