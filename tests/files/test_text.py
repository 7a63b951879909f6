"""Text files: what is no regular file of a sensible size is refused at once, be it a plan, a circuit or a result."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

import pytest

from command_line import sublatch
from sublatch.checked import parse_toml
from sublatch.errors import PlanError
from sublatch.files.text import MOST_BYTES, read_text

needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="devices and pipes are those of POSIX")


def read(path):
    return read_text(path, what="a plan file", missing="no such plan", hint="write one", error=PlanError)


def test_a_byte_order_mark_is_no_part_of_the_text(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbftitle = 'x'\r\n")
    assert parse_toml(read(path), source="a.toml", error=PlanError) == {"title": "x"}


def test_every_line_end_becomes_a_line_feed(tmp_path):
    (tmp_path / "a.toml").write_bytes(b"a\r\nb\rc\n\n")
    assert read(tmp_path / "a.toml") == "a\nb\nc\n\n"


def test_what_is_no_text_file_is_refused(tmp_path):
    (tmp_path / "wide.toml").write_bytes("title = 'x'".encode("utf-16"))
    for name, words in (
        ("none.toml", "no such plan; write one"),
        (".", "must be a plan file, got a folder"),
        ("wide.toml", "must be a text file in UTF-8"),
        ("a\0b.toml", "cannot be read"),
    ):
        with pytest.raises(PlanError, match=words):
            read(tmp_path / name)


def test_the_largest_file_is_read_and_a_larger_one_refused_without_reading_it(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * MOST_BYTES)
    assert len(read(path)) == MOST_BYTES
    os.truncate(path, 2**40)  # sparse: a terabyte that takes no room and could never be held
    with pytest.raises(PlanError, match=r"a\.toml: must be at most 4 MB, got more; is it a plan file\?"):
        read(path)


@needs_posix
@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["audition", "{}"], "must be a plan file, got a device or pipe; give a file's name"),
        (["response", "-c", "{}"], "must be a circuit file, got a device or pipe; give a file's name"),
        (["trial", "{}"], "must be a file that the listening page saved, got a device or pipe; give a file's name"),
    ],
)
@pytest.mark.parametrize("kind", ["pipe", "/dev/zero", "/dev/tty"])
def test_a_device_or_pipe_is_refused_and_not_waited_for(tmp_path, command, words, kind):
    path = tmp_path / "x.toml"
    if kind == "pipe":
        os.mkfifo(path)
    elif Path(kind).exists():
        path.symlink_to(kind)
    else:
        pytest.skip(f"there is no {kind} here")
    told = []
    thread = threading.Thread(
        target=lambda: told.append(sublatch(*(word.format(path) for word in command))), daemon=True
    )
    thread.start()
    thread.join(60)  # a reader of the pipe would wait for ever
    assert told, "it waits"
    assert told[0].exit_code in (1, 2)
    assert f"{path}: {words}" in told[0].stderr
