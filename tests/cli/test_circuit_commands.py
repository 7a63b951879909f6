"""``sublatch circuits`` and ``sublatch response``: what they list, and figures that a formula gives too."""

from __future__ import annotations

import json
from math import log10, pi, sqrt

import pytest

from command_line import sublatch
from own_networks import HIGH_PASS
from sublatch.circuit.load import circuit_names, circuit_text, load_circuit
from sublatch.circuit.save import save_circuit
from sublatch.units import hertz

RESPONSE_KEYS = [
    *("dc_gain_db", "reference_db", "low_corner_hz", "corner_hz", "peak_db", "peak_hz"),
    *("frequency_hz", "gain_db"),
]


def test_the_list_names_every_circuit_with_its_title():
    lines = sublatch("circuits").stdout.splitlines()
    assert [line.split()[0] for line in lines] == circuit_names()
    assert len({line.index(load_circuit(line.split()[0]).title) for line in lines}) == 1
    told = json.loads(sublatch("circuits", "--json").stdout)
    assert [entry["name"] for entry in told["circuits"]] == circuit_names()


def test_a_printed_circuit_is_a_file_to_start_from(tmp_path):
    result = sublatch("circuits", "gated-swept")
    assert result.stdout == circuit_text("gated-swept")
    (tmp_path / "box.toml").write_text(result.stdout, encoding="utf-8")
    assert load_circuit(tmp_path / "box.toml") == load_circuit("gated-swept")


def test_a_circuit_as_json_has_numbers_in_si_units():
    told = json.loads(sublatch("circuits", "gated-first-order", "--json").stdout)
    assert (told["filter"]["resistor"], told["filter"]["capacitor"]) == (39e3, 15e-9)


def test_an_unknown_circuit_is_refused_with_the_nearest():
    result = sublatch("circuits", "gated-first")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "no built-in circuit 'gated-first'; did you mean 'gated-first-order'?" in result.stderr


def test_the_response_of_a_resistor_and_a_capacitor():
    """The corner is 1 / (2 π R C); the curve falls by 3.01 dB there."""
    lines = sublatch("response", "-c", "gated-first-order").stdout.splitlines()
    assert lines[0] == "Gain-gated octave, first-order filter"
    assert lines[1] == "gain at 0 Hz   0.00 dB"
    assert hertz(lines[2].removeprefix("corner").removesuffix("(3.01 dB down)").strip()) == pytest.approx(
        1 / (2 * pi * 39e3 * 15e-9), rel=1e-3
    )
    assert lines[3] == "peak           none"
    for line in lines[4:]:
        frequency, gain = (float(text) for text in line.replace("Hz", "").replace("dB", "").split())
        ratio = frequency * 2 * pi * 39e3 * 15e-9
        assert gain == pytest.approx(-10 * log10(1 + ratio**2), abs=0.0051)
    assert len({len(line) for line in lines[4:]}) == 1


def test_the_peak_of_a_second_order_filter_as_json():
    """Peak 20 log (Q² / √(Q² − ¼)) with Q = ½ √(feedback / ground), for equal resistors and unity gain."""
    result = sublatch("response", "-c", "gated-swept", "--set", "switches.peak=peaked", "--json")
    told = json.loads(result.stdout)
    assert list(told) == RESPONSE_KEYS
    q = sqrt(47 / 5.6) / 2
    assert told["peak_db"] == pytest.approx(20 * log10(q**2 / sqrt(q**2 - 0.25)), abs=1e-6)
    assert len(told["frequency_hz"]) == len(told["gain_db"]) > 100
    assert result.stderr == ""


def test_no_filter_has_no_corner_and_no_peak():
    lines = sublatch("response", "-c", "gated-open").stdout.splitlines()
    assert lines[1:4] == ["gain at 0 Hz   0.00 dB", "corner         none", "peak           none"]
    assert {line.split("Hz")[1].strip() for line in lines[4:]} == {"0.00 dB"}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            "knobs.tone=35",
            "knobs.tone: a knob's position must be 0 (fully anticlockwise) to 10, got 35; was it meant as 3.5?",
        ),
        ("knobs.tone=nan", "got nan"),
        ("knobs.tone.x=1", "gated-swept: knobs.tone.x: tone is a value, not a table"),
        ("filter.end_resistor=47n", "got '47n'; that reads as a capacitance"),
        ("octave.transition=1s", "octave.transition: must be at most 5 ms, got '1s'"),
        ("a" * 5000 + "=1", "unknown key"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_in_one_line(change, words):
    result = sublatch("response", "-c", "gated-swept", "--set", change)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr
    assert result.stderr.count("\n") == 1


@pytest.mark.parametrize("title", ["[" * 5000 + "]", "1" * 5000, "{", '"'])
def test_what_is_no_toml_is_a_text(title):
    assert sublatch("response", "-c", "gated-open", "--set", f"title={title}").stdout.splitlines()[0] == title


def test_several_responses_stand_side_by_side(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    names = ("gated-first-order", "polarity-third-order", "gated-open")
    arguments = [part for name in names for part in ("-c", name)]
    lines = sublatch("response", *arguments).stdout.splitlines()
    assert lines[0].split() == list(names)
    corners = next(line for line in lines if line.startswith("corner")).split()
    assert float(corners[1]) == pytest.approx(1 / (2 * pi * 39e3 * 15e-9), abs=0.1)
    assert corners[-1] == "none"
    row = next(line for line in lines if line.strip().startswith("1000 Hz")).split()
    assert float(row[2]) == pytest.approx(-10 * log10(1 + (1000 * 2 * pi * 39e3 * 15e-9) ** 2), abs=0.005)
    told = json.loads(sublatch("response", *arguments, "--json").stdout)
    assert [one["circuit"] for one in told["responses"]] == list(names)
    assert told["responses"][2]["corner_hz"] is None


def test_a_picture_is_drawn_and_nothing_of_the_users_is_replaced(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    made = sublatch("response", "-c", "gated-open", "-c", "gated-first-order", "--plot", "r.png")
    assert made.exit_code == 0
    assert "Drawn r.png" in made.stderr
    assert (tmp_path / "r.png").read_bytes().startswith(b"\x89PNG")
    assert sublatch("response", "-c", "gated-open", "--plot", "r.png").exit_code == 0
    (tmp_path / "mine.png").write_bytes(b"mine")
    refused = sublatch("response", "-c", "gated-open", "--plot", "mine.png")
    assert refused.exit_code == 1
    assert "was not made by sublatch" in refused.stderr
    assert (tmp_path / "mine.png").read_bytes() == b"mine"


def test_a_high_pass_has_no_gain_at_zero_and_says_so(tmp_path, monkeypatch):
    """A corner of 1 / (2π R C), 1591.5 Hz; what it passes at 20 kHz, 0.03 dB down, is 3.01 dB above it at 1581.6 Hz."""
    monkeypatch.chdir(tmp_path)
    box = load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": HIGH_PASS}})
    save_circuit(box, "box.toml")
    lines = sublatch("response", "-c", "box.toml").stdout.splitlines()
    assert lines[1] == "gain at 0 Hz   no gain at 0 Hz; -0.03 dB at most"
    assert lines[2] == "corner         1.582 kHz (3.01 dB down)"
    assert lines[3] == "peak           none"
    told = json.loads(sublatch("response", "-c", "box.toml", "--json").stdout)
    assert (told["dc_gain_db"], told["corner_hz"], told["peak_db"]) == (None, None, 0.0)
    assert sublatch("sheet", "-c", "box.toml", "-o", "box.html").exit_code == 0
    assert "no gain at 0 Hz" in (tmp_path / "box.html").read_text("utf-8")
