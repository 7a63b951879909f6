"""Files written whole or not at all, guards, and names that are safe everywhere."""

import errno
import os
import stat
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sublatch.errors import OutputError, PlanError
from sublatch.files import whole_files
from sublatch.files.whole_files import (
    LONGEST_NAME_BYTES,
    atomic_path,
    guard,
    guard_inputs,
    make_folder,
    resolved,
    safe_name,
    safe_names,
    write_bytes,
    write_text,
)

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="devices and modes are those of POSIX")


def test_text_is_utf_8_with_its_own_line_ends(tmp_path):
    write_text(tmp_path / "a.csv", "µ\nb\r\n")
    assert (tmp_path / "a.csv").read_bytes() == b"\xc2\xb5\nb\r\n"


def test_the_temporary_file_is_a_hidden_neighbour_and_goes_away(tmp_path):
    with atomic_path(tmp_path / "a.wav") as temporary:
        assert temporary.parent == tmp_path
        assert temporary.name.startswith(".")
        assert temporary.name.endswith(".part")
        temporary.write_bytes(b"new")
        assert not (tmp_path / "a.wav").exists()
    assert {p.name for p in tmp_path.iterdir()} == {"a.wav"}
    assert (tmp_path / "a.wav").read_bytes() == b"new"


@pytest.mark.parametrize("problem", [RuntimeError, KeyboardInterrupt, GeneratorExit])
def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path, problem):
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(problem), atomic_path(target) as temporary:  # noqa: PT012
        temporary.write_text("half")
        raise problem
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full; free some space"),
        (errno.EACCES, "not allowed; is it write-protected or open in another program"),
        (errno.EROFS, "the disk is read-only"),
        (errno.EIO, os.strerror(errno.EIO)),
    ],
)
def test_a_disk_that_fails_is_named_and_leaves_the_old_file(tmp_path, monkeypatch, step, number, words):
    target = tmp_path / "a.txt"
    target.write_text("old")

    def fail(*_):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(whole_files.os, step, fail)
    with pytest.raises(OutputError, match=rf"a\.txt cannot be written: .*{words}"):
        write_text(target, "new")
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no always-full device here")
def test_a_really_full_device_is_said_to_be_full(tmp_path):
    target = tmp_path / "a.bin"
    with (
        pytest.raises(OutputError, match=r"a\.bin cannot be written: the disk is full"),
        atomic_path(target),
        open("/dev/full", "wb", buffering=0) as full,
    ):
        full.write(b"x")
    assert list(tmp_path.iterdir()) == []


def test_an_error_about_another_file_is_left_as_it_is(tmp_path):
    with pytest.raises(FileNotFoundError, match="input"), atomic_path(tmp_path / "a.txt"):
        (tmp_path / "input").read_text()
    assert list(tmp_path.iterdir()) == []


def test_places_that_cannot_be_written_to_are_explained(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="its folder does not exist; make the folder first"):
        write_text(tmp_path / "none" / "a.txt", "")
    with pytest.raises(OutputError, match="must be a file, got a folder"):
        write_text(tmp_path, "")
    with pytest.raises(OutputError, match="a part of its path is a file"):
        write_text(tmp_path / "file" / "a.txt", "")
    with pytest.raises(OutputError, match="the name or path is too long; shorten it"):
        write_text(tmp_path / ("a" * 300), "")
    assert (tmp_path / "file").read_text() == ""


@needs_posix
@pytest.mark.skipif(sys.platform != "win32" and os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_permission_is_explained(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="writing there is not allowed"):
            write_text(tmp_path / "a.txt", "")
    finally:
        tmp_path.chmod(0o700)


@needs_posix
def test_a_device_is_never_replaced(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OutputError, match="must be a file, got a device or pipe"):
        write_text(tmp_path / "pipe", "")
    with pytest.raises(OutputError, match="must be a file, got a device or pipe"):
        guard(tmp_path / "pipe", overwrite=True, made_here=lambda _: True)
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)


@needs_posix
def test_links_and_modes_are_as_for_any_file(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link.txt").symlink_to(tmp_path / "real" / "a.txt")
    write_text(tmp_path / "link.txt", "through")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real" / "a.txt").read_text() == "through"
    (tmp_path / "plain").open("w").close()
    assert (tmp_path / "real" / "a.txt").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_folders_are_made_or_the_reason_is_given(tmp_path):
    make_folder(tmp_path / "a" / "b")
    make_folder(tmp_path / "a" / "b")
    assert (tmp_path / "a" / "b").is_dir()
    write_bytes(tmp_path / "file", b"")
    with pytest.raises(OutputError, match="must be a folder, got a file"):
        make_folder(tmp_path / "file")
    with pytest.raises(OutputError, match="cannot be made: a part of its path is a file"):
        make_folder(tmp_path / "file" / "b")


def test_a_foreign_file_is_only_replaced_when_asked(tmp_path):
    target = tmp_path / "mine.wav"
    guard(target, overwrite=False, made_here=lambda _: False)
    target.write_text("hours of work")
    with pytest.raises(OutputError, match=r"mine\.wav exists and was not made by sublatch.*--overwrite"):
        guard(target, overwrite=False, made_here=lambda _: False)
    guard(target, overwrite=True, made_here=lambda _: False)
    guard(target, overwrite=False, made_here=lambda path: path == target)


def test_two_dots_after_a_folder_that_is_not_there_lead_where_they_will_lead_once_it_is(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "far" / "deep").mkdir(parents=True)
    (tmp_path / "link").symlink_to(tmp_path / "far" / "deep")
    assert resolved("nope/../vic") == tmp_path / "vic"
    assert resolved("far/no/../../vic") == tmp_path / "vic"
    assert resolved("link/no/../../vic") == tmp_path / "far" / "vic"
    for path in ("vic", "a/b/c", "../x", "far/../vic", "link/../vic", "far/..", str(tmp_path), "", "."):
        assert resolved(path) == Path(path)


@pytest.mark.parametrize("path", ["nope/../mine.txt", "nope/no/../../mine.txt", "far/no/../../mine.txt"])
def test_a_file_is_found_behind_a_folder_that_is_not_there(tmp_path, monkeypatch, path):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "far").mkdir()
    (tmp_path / "mine.txt").write_text("hours of work")
    with pytest.raises(OutputError, match=r"mine\.txt exists and was not made by sublatch"):
        guard(path, overwrite=False, made_here=lambda _: False)
    (tmp_path / "mine.txt").unlink()
    (tmp_path / "mine.txt").mkdir()
    with pytest.raises(OutputError, match="must be a file, got a folder"):
        guard(path, overwrite=True, made_here=lambda _: True)


def test_a_folder_is_not_replaced_even_when_asked(tmp_path):
    with pytest.raises(OutputError, match="must be a file, got a folder"):
        guard(tmp_path, overwrite=True, made_here=lambda _: True)
    with pytest.raises(OutputError, match="too long"):
        guard(tmp_path / ("a" * 300), overwrite=True, made_here=lambda _: True)


def test_an_output_is_never_an_input(tmp_path, monkeypatch):
    take = tmp_path / "take.wav"
    take.write_bytes(b"x")
    (tmp_path / "soft.wav").symlink_to(take)
    os.link(take, tmp_path / "hard.wav")
    monkeypatch.chdir(tmp_path)
    for name in ("take.wav", "soft.wav", "hard.wav", "./take.wav", str(take)):
        with pytest.raises(OutputError, match="so it cannot be written to as well"):
            guard_inputs(name, [tmp_path / "other.wav", take])
    guard_inputs("new.wav", [take])
    guard_inputs("new.wav", [])
    with pytest.raises(OutputError, match="so it cannot be written to as well"):
        guard_inputs("absent.wav", [tmp_path / "absent.wav"])


@pytest.mark.parametrize("name", ["tone 4", "filter=first-order", "Größe", "低音", "a.b", "-6 dB", "x" * 96])
def test_fit_names_stay(name):
    assert safe_name(name) == name


@pytest.mark.parametrize("name", ["../x", "a/b", "/etc/x", "..", ".", " .. ", "a\\b", "C:\\x", "..\\x"])
def test_names_that_lead_elsewhere_are_refused(name):
    with pytest.raises(PlanError, match="must stay in its folder"):
        safe_name(name)


@pytest.mark.parametrize("name", ["", " ", "\t\n"])
def test_empty_names_are_refused(name):
    with pytest.raises(PlanError, match="must not be empty"):
        safe_name(name)


@pytest.mark.parametrize(
    "name",
    [
        *("CON", "con", "nul.wav", "LPT1", "com9.tar.gz", "COM¹", "aux .x", "x.", "x ", " x", ".hidden", "a:b"),
        *("a?", 'a"b', "a<b>", "a|b", "a*", "a\nb", "a\x00b", "a\u202eb", "e\u0301", "x" * 97, "\ud800"),
    ],
)
def test_awkward_names_are_changed_and_marked(name):
    safe = safe_name(name)
    assert safe != name
    assert safe[-9] == "-"
    assert set(safe[-8:]) <= set("0123456789abcdef")


# What Windows refuses ("Naming Files, Paths, and Namespaces", from memory), and what leaves a folder anywhere.
REFUSED = set('<>:"/\\|?*') | {chr(code) for code in range(32)}
DEVICES = {"CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in "0123456789¹²³")}


@given(st.text(st.characters(), min_size=1, max_size=130).filter(lambda t: t.strip() not in ("", ".", "..")))
def test_every_name_becomes_legal_everywhere(name):
    if "/" in name or "\\" in name:
        with pytest.raises(PlanError):
            safe_name(name)
        return
    safe = safe_name(name)
    assert not REFUSED & set(safe)
    assert safe.split(".")[0].rstrip().upper() not in DEVICES
    assert safe == safe.strip()
    assert not safe.startswith(".")
    assert not safe.endswith(".")
    assert len(safe.encode("utf-8")) <= LONGEST_NAME_BYTES
    assert safe_name(safe) == safe


AWKWARD = st.text(st.sampled_from('aA?:*\u00e9\u0301. x"'), min_size=1, max_size=4).filter(
    lambda t: t.strip(". ") != ""
)


@given(st.sets(AWKWARD, min_size=2, max_size=12))
def test_different_names_become_different_files_whatever_the_case(names):
    safe = safe_names(sorted(names))
    assert len({text.casefold() for text in safe.values()}) == len(names)


def test_only_names_that_clash_are_marked():
    safe = safe_names(["Tone", "tone", "level"])
    assert safe["level"] == "level"
    assert safe["Tone"].startswith("Tone-")
    assert safe["tone"].startswith("tone-")
    assert safe_name("x" * 300) != safe_name("x" * 301)


def test_names_can_be_files(tmp_path):
    for name in ('a?"', "CON", "x" * 300, "低" * 100):
        write_text(tmp_path / (safe_name(name) + ".wav"), "")
    assert len(list(tmp_path.iterdir())) == 4
