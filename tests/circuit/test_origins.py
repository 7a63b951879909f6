"""Marks of values: they live through load, change and save, stand where values are shown, and touch no sound."""

from __future__ import annotations

import tomllib

import pytest

from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import ORIGINS, carried_marks, least_sure, markable_paths, marked
from sublatch.circuit.save import circuit_toml, save_circuit, settings_of
from sublatch.circuit.settings import settings_of as settable
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError

MARKS = {"filter.resistor": "fitted", "filter.capacitor": "assumed", "output.pot.value": "known", "supply": "known"}


@pytest.fixture
def box(tmp_path):
    lines = "".join(f'"{path}" = "{mark}"\n' for path, mark in MARKS.items())
    path = tmp_path / "box.toml"
    path.write_text(circuit_toml(load_circuit("gated-first-order")) + f"\n[origins]\n{lines}", encoding="utf-8")
    return path


def test_marks_live_through_load_and_save(box, tmp_path):
    circuit = load_circuit(box)
    assert circuit.origins == MARKS
    save_circuit(circuit, tmp_path / "again.toml")
    assert load_circuit(tmp_path / "again.toml") == circuit
    text = (tmp_path / "again.toml").read_text(encoding="utf-8")
    assert 'resistor = "39k"            # fitted' in text
    assert 'supply = "9V"               # known' in text
    assert '[output.pot]\nvalue = "100k"              # known\n' in text  # its taper has no mark


@pytest.mark.parametrize("name", circuit_names())
def test_every_value_of_every_circuit_can_have_a_mark(name):
    plain = load_circuit(name)
    paths = markable_paths(plain)
    assert set(settings_of(plain)) - set(paths) == {
        path for path in settings_of(plain) if path.startswith(("knobs.", "switches.")) or path == "title"
    }
    whole = plain.model_copy(update={"origins": {path: ORIGINS[n % 3] for n, path in enumerate(paths)}})
    assert Circuit.model_validate(tomllib.loads(circuit_toml(whole))) == whole


def test_a_pot_in_one_line_has_one_mark():
    circuit = load_circuit("gated-first-order")
    marks = {"output.pot.value": "known", "output.pot.taper": "known"}
    text = circuit_toml(circuit.model_copy(update={"origins": marks}))
    assert 'pot = { value = "100k", taper = "linear" }  # known' in text


def test_what_is_changed_loses_its_mark(box):
    assert load_circuit(box, changes={"filter.resistor": "10k"}).origins == {
        path: mark for path, mark in MARKS.items() if path != "filter.resistor"
    }
    assert "filter.resistor" not in with_settings(load_circuit(box), {"filter.resistor": 1e4}).origins
    assert with_settings(load_circuit(box), {"knobs.volume": 7.0}).origins == MARKS
    assert load_circuit(box, changes={"output": {"pot": {"value": "10k"}}}).origins.keys() == MARKS.keys() - {
        "output.pot.value"
    }


def test_another_kind_drops_the_marks_of_the_one_before(box):
    assert load_circuit(box, changes={"filter.kind": "third-order"}).origins == {
        "output.pot.value": "known",
        "supply": "known",
    }
    assert load_circuit(box, changes={"filter.kind": "first-order"}).origins == MARKS


def test_marks_go_along_to_a_circuit_made_from_another(box):
    before = load_circuit(box)
    after = load_circuit("gated-swept")
    assert carried_marks(before.origins, after, ["supply"]) == {"output.pot.value": "known"}


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('"filter.resistr" = "known"', "got 'filter.resistr'; did you mean 'filter.resistor'"),
        ('"knobs.volume" = "known"', "a mark must be for a value of this circuit, got 'knobs.volume'"),
        ('"filter" = "known"', "got 'filter'"),
        ('"filter.resistor" = "fited"', "must be one of known, fitted, assumed, got 'fited'; did you mean 'fitted'"),
    ],
)
def test_a_wrong_mark_is_refused(box, line, message):
    box.write_text(
        box.read_text(encoding="utf-8") + f"{line}\n".replace('"filter.resistor" =', '"mix.octave_resistor" =')
    )
    with pytest.raises(CircuitError, match=message):
        load_circuit(box)


def test_marks_touch_neither_keys_nor_hashes(box):
    circuit = load_circuit(box)
    plain = circuit.model_copy(update={"origins": {}})
    assert circuit.model_dump() == plain.model_dump()
    assert hash(circuit) == hash(plain)
    assert circuit != plain
    assert "origins" not in {setting.path for setting in settable(circuit)}
    assert "origins" not in settings_of(circuit)


def test_the_least_sure_mark_counts():
    assert least_sure(MARKS, "filter") == "assumed"
    assert least_sure(MARKS, "filter.resistor", "supply") == "fitted"
    assert least_sure(MARKS, "mix") is None
    assert marked("39k", MARKS, "filter.resistor") == "39k, fitted"
    assert marked("22k", MARKS, "mix.octave_resistor") == "22k"
