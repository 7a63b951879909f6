"""What the reference answers for a path."""

from __future__ import annotations

from typing import Annotated

import pytest
from pydantic import Field
from pydantic.fields import FieldInfo

from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.settings import settings_of
from sublatch.errors import ManualError
from sublatch.manual.fields import bounds
from sublatch.manual.reference import answer, setting_paths, tables


@pytest.mark.long
@pytest.mark.parametrize("name", circuit_names())
def test_every_setting_of_a_circuit_is_answered(name: str) -> None:
    for setting in settings_of(load_circuit(name)):
        found = answer(setting.path)
        rows = [row for _, _, row in found.settings]
        assert rows or found.tables
        if not setting.path.endswith(".kind"):
            assert setting.description in {row.description for row in rows} | {
                one.description for _, one in found.tables
            }


def test_a_setting_has_unit_range_and_default() -> None:
    (above, table, row), (_, other, _) = answer("filter.capacitor").settings
    assert other.tag == 'kind = "swept-first-order"'
    assert (above, table.file, table.tag) == ("filter", "circuit", 'kind = "first-order"')
    assert (row.unit, row.range, row.default) == ("F", "1 pF to 0.1 F", '"15n"')


def test_every_table_says_in_a_sentence_what_it_is() -> None:
    assert not [table.record.__name__ for table in tables() if not table.description.endswith(".")]
    assert len({table.description for table in tables()}) == len(tables())


def test_kinds_with_the_same_setting_are_told_each() -> None:
    found = answer("detector.fraction").settings
    assert {(table.tag, row.default) for _, table, row in found} == {
        ('kind = "peak-latch"', '"85%"'),
        ('kind = "overtone"', '"40%"'),
    }


def test_a_path_of_both_files_is_told_of_both() -> None:
    assert [table.file for _, table, _ in answer("title").settings] == ["circuit", "plan"]


def test_lists_are_found_with_brackets_and_without() -> None:
    assert answer("candidates.moves.start") == answer("candidates[].moves[].start")
    assert answer("[[takes]]") == answer("takes")
    assert [table.record.__name__ for _, table in answer("takes").tables]


def test_what_stands_in_double_brackets_in_a_file_is_told_as_a_list_and_nothing_else() -> None:
    keys = {key for table in tables() for path in table.paths for key in path.split(".")}
    lists = {"takes", "candidates", "sweeps", "moves", "parts"}
    assert {key.removesuffix("[]") for key in keys if key.endswith("[]")} == lists
    assert not lists & keys


def test_a_kind_stands_for_its_table_in_all_its_kinds() -> None:
    kinds = [table.tag for _, table in answer("octave.kind").tables]
    assert kinds == ['kind = "polarity-switched"', 'kind = "gain-gated"']


def test_a_name_alone_stands_for_every_setting_of_that_name() -> None:
    assert {"output.pot", "filter.pot"} <= {above for above, _, _ in answer("taper").settings}


def test_every_path_is_answered() -> None:
    paths = setting_paths()
    assert len(paths) > 100
    assert len(set(paths)) == len(paths)
    for path in paths:
        found = answer(path)
        assert found.settings or found.tables


@pytest.mark.parametrize(
    ("path", "nearest"),
    [("filter.capcitor", "filter.capacitor"), ("knobs.volum", "knobs.volume"), ("takes.fil", "takes.file")],
)
def test_an_unknown_path_is_told_with_the_nearest(path: str, nearest: str) -> None:
    with pytest.raises(ManualError, match=rf"no setting '{path}'; did you mean '{nearest}'\?"):
        answer(path)


@pytest.mark.parametrize("path", ["", "[]", " "])
def test_nothing_is_no_path(path: str) -> None:
    with pytest.raises(ManualError, match="no setting"):
        answer(path)


def test_bounds_are_the_narrowest_of_all_that_is_asked() -> None:
    """Of two upper and two lower limits the nearer ones count, and one that is itself left out says so."""
    wide = FieldInfo.from_annotation(Annotated[float, Field(ge=-1.0), Field(gt=2.0), Field(le=9.0), Field(lt=5.0)])
    assert bounds(wide) == ((2.0, True), (5.0, True))
    closed = FieldInfo.from_annotation(Annotated[float, Field(ge=3.0), Field(gt=2.0), Field(le=4.0), Field(lt=5.0)])
    assert bounds(closed) == ((3.0, False), (4.0, False))
    same = FieldInfo.from_annotation(Annotated[float, Field(le=4.0), Field(lt=4.0)])
    assert bounds(same)[1] == (4.0, True)
