"""``sublatch track --boards``: what it prints, its JSON, and its picture."""

from __future__ import annotations

import json

import pytest

from command_line import sublatch
from sublatch.demo.takes import demo_takes
from sublatch.files.sound import write_audio


@pytest.fixture(scope="module")
def take(tmp_path_factory):
    path = tmp_path_factory.mktemp("boards") / "dead-notes.wav"
    write_audio(path, demo_takes(16000)["dead-notes"] / 2.0, 16000)
    return str(path)


def test_boards_are_printed_and_told(take, tmp_path):
    options = (
        "track",
        take,
        "-c",
        "gated-open",
        "--set",
        "detector.kind=zero-crossing",
        "--full-scale",
        "2V",
        "--boards",
        "4",
        "--capacitor-tolerance",
        "5%",
    )
    printed = sublatch(*options, "--plot", str(tmp_path / "lock.png"))
    assert printed.exit_code == 0
    assert "4 boards (resistors 5 %, capacitors 5 %, uniform): locked " in printed.stdout
    assert "is lost on 4 of 4 boards" in printed.stdout
    assert (tmp_path / "lock.png").stat().st_size > 10_000
    (result,) = json.loads(sublatch(*options, "--json").stdout)["results"]
    assert result["boards"]["count"] == 4
    assert len(result["boards"]["locked"]) == 4
    assert result["boards"]["tolerances"]["capacitor"] == 0.05
    assert all("locked_p10" in note for note in result["notes"])


@pytest.mark.parametrize(
    ("option", "value", "message"),
    [
        ("--battery-down-to", "12V", "a battery ages to less than its 9 V, got 12 V"),
        ("--distribution", "even", "a distribution must be uniform or normal, got 'even'"),
        ("--resistor-tolerance", "60%", "the resistors' tolerance must be 0 % to 50 %, got 60 %"),
    ],
)
def test_what_cannot_be_is_told(take, option, value, message):
    failed = sublatch("track", take, "-c", "gated-open", "--full-scale", "2V", "--boards", "2", option, value)
    assert failed.exit_code == 2
    assert message in failed.stderr
