"""Files that the program writes and a user may edit: which of them it may replace."""

from __future__ import annotations

import pytest

from sublatch.audition.plan.save import PLAN_FILES
from sublatch.board.sheet.write import SHEETS
from sublatch.circuit.save import CIRCUIT_FILES
from sublatch.errors import OutputError
from sublatch.takes.calibration import CALIBRATION_FILES

SORTS = (CIRCUIT_FILES, PLAN_FILES, CALIBRATION_FILES, SHEETS)


@pytest.mark.parametrize("sort", SORTS, ids=lambda sort: sort.name)
def test_its_own_file_is_replaced_until_somebody_changes_it(tmp_path, sort):
    path = tmp_path / f"mine{sort.endings[0]}"
    sort.write(path, "a text\n")
    sort.guard(path)
    sort.write(path, "another\n")
    assert path.read_text(encoding="utf-8").startswith("another\n")
    path.write_text(path.read_text(encoding="utf-8").replace("another", "my own"), encoding="utf-8")
    with pytest.raises(OutputError, match="was changed since"):
        sort.guard(path)
    sort.guard(path, overwrite=True)


@pytest.mark.parametrize("sort", SORTS, ids=lambda sort: sort.name)
def test_its_last_line_has_the_first_16_digits_of_the_texts_sha_256(sort):
    """The digest of "abc" is in the examples of FIPS 180-4; files with fewer digits or more would be nobody's."""
    assert sort.with_check("abc") == f"abc{sort.before}ba7816bf8f01cfea{sort.after}"


@pytest.mark.parametrize("sort", SORTS, ids=lambda sort: sort.name)
def test_no_sort_replaces_another(tmp_path, sort):
    for other in SORTS:
        path = tmp_path / f"{other.name}{sort.endings[0]}"
        other.write(path, "a text\n")
        assert sort.is_ours(path) == (other is sort)


@pytest.mark.parametrize("sort", SORTS, ids=lambda sort: sort.name)
def test_another_ending_is_refused_with_the_right_one(tmp_path, sort):
    with pytest.raises(OutputError, match=rf"must end in \{sort.endings[0]}, as {sort.name} do, got '.txt'"):
        sort.guard(tmp_path / "mine.txt")


@pytest.mark.parametrize("name", ["gone.toml", "folder.toml"])
def test_what_is_no_file_is_not_its_own(tmp_path, name):
    (tmp_path / "folder.toml").mkdir()
    assert not CIRCUIT_FILES.is_ours(tmp_path / name)
