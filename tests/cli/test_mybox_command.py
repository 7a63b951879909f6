"""`sublatch mybox`: options, questions, facts that contradict each other, and the file."""

from __future__ import annotations

import json
import shlex

import numpy as np
import pytest
from click.testing import CliRunner

from sublatch.circuit.load import load_circuit
from sublatch.cli import main
from sublatch.files.sound import write_audio
from sublatch.parts.fit.fitting import value_at
from sublatch.signal.chain import render
from sublatch.takes.take import take_from_samples

BOX = (
    *("--octave", "gated", "--filter", "6dB", "--corner", "275Hz", "--volume-pot", "10k", "--taper", "linear"),
    *("--unity-at", "3"),
)


def run(*words, input=None):
    return CliRunner().invoke(main, ["mybox", *words], input=input)


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_box_is_written_and_shown_with_the_mark_of_each_value():
    result = run(*BOX, "--in-hand", "10.5dB", "-o", "box.toml")
    assert result.exit_code == 0, result.output
    assert result.stderr == "Written box.toml\n"
    circuit = load_circuit("box.toml")
    for path, mark in circuit.origins.items():
        assert any(line.split()[:1] == [path] and line.split()[2] == mark for line in result.stdout.splitlines()) or (
            value_at(circuit, path) is None  # what is left out has no line
        )
    assert circuit.knobs.volume == pytest.approx(3.0, abs=0.1)
    assert "to settle what is assumed, the cheapest first" in result.stdout


def test_its_own_command_line_makes_the_same_file():
    result = run(*BOX, "--in-hand", "12dB", "--read", "supply=12V", "--doubt", "in-hand", "-o", "box.toml")
    assert result.exit_code == 0, result.output
    before = load_circuit("box.toml")
    command = shlex.split(result.stdout.splitlines()[-1].strip())
    assert command[:2] == ["sublatch", "mybox"]
    again = CliRunner().invoke(main, command[1:])
    assert again.exit_code == 0, again.output
    assert load_circuit("box.toml") == before
    assert before.supply == 12.0


def test_marks_are_shown_by_the_other_commands():
    run(*BOX, "-o", "box.toml")
    for words, said in (
        (("response",), "resistor 38k58, fitted; capacitor 15n, assumed"),
        (("knobs",), "linear pot, known"),
        (("knobs",), "22n, assumed"),
    ):
        shown = CliRunner().invoke(main, [*words, "-c", "box.toml"])
        assert said in shown.stdout
    shown = CliRunner().invoke(main, ["circuits", "box.toml"])
    assert 'resistor = "38k58"          # fitted' in shown.stdout
    shown = CliRunner().invoke(main, ["circuits", "box.toml", "--json"])
    assert json.loads(shown.stdout)["origins"]["filter.resistor"] == "fitted"
    CliRunner().invoke(main, ["sheet", "-c", "box.toml", "-o", "box.html"])
    with open("box.html", encoding="utf-8") as page:
        assert "0.25 W; no preferred value: two in series, fitted" in page.read()
    changed = CliRunner().invoke(main, ["response", "-c", "box.toml", "--set", "filter.resistor=39k"])
    assert "resistor 39k; capacitor 15n, assumed" in changed.stdout


def test_other_commands_keep_the_marks_of_what_they_leave():
    run(*BOX, "--in-hand", "10.5dB", "-o", "box.toml")
    words = ["knobs", "-c", "box.toml", "--unity-at", "5", "-o", "trimmed.toml"]
    assert CliRunner().invoke(main, words).exit_code == 0
    before, after = load_circuit("box.toml"), load_circuit("trimmed.toml")
    assert "output.pot.value" in after.origins
    assert after.origins == {path: mark for path, mark in before.origins.items() if path in after.origins}
    words = ["choose", "--kind", "first-order", "--corner", "300Hz", "-c", "box.toml", "-o", "chosen.toml"]
    assert CliRunner().invoke(main, words).exit_code == 0
    kept = load_circuit("chosen.toml").origins
    assert not any(path.startswith("filter.") for path in kept)
    assert kept["output.pot.value"] == "known"


def test_json_has_each_value_with_its_mark():
    result = run(*BOX, "--in-hand", "12dB", "--json")
    document = json.loads(result.stdout)
    values = {one["path"]: one for one in document["values"]}
    assert values["output.load"]["origin"] == "fitted"
    assert values["octave.kind"] == {"path": "octave.kind", "value": "gain-gated", "origin": "known"}
    assert document["doubtful"][0]["alternatives"][0]["doubt"] == "unity"
    assert document["measurements"]
    assert document["output"] is None


def test_nothing_is_asked_where_nobody_is():
    result = run("--octave", "polarity", input="")
    assert result.exit_code == 0
    assert "What is known" not in result.stderr


def test_questions_are_asked_of_what_is_not_given_and_wrong_answers_again():
    answers = [
        "gated",
        "6 apples",
        "6dB",
        "275Hz",
        "?",
        "3",
        "10.5dB",
        *[""] * 5,
        "filter.capacitr=22n",
        "filter.capacitor=22n",
        "",
    ]
    result = run("--ask", "--volume-pot", "10k", "-o", "box.toml", input="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    assert "--filter must be one of none, 0dB, 6dB" in result.stderr
    assert "Value of the volume pot" not in result.stderr
    assert "Corner with tone at 0" not in result.stderr
    command = result.stdout.splitlines()[-1]
    assert (
        "--volume-pot 10k --octave gated --filter 6dB --corner 275Hz --unity-at 3 --in-hand 10.5dB "
        "--read filter.capacitor=22n --no-ask" in command
    )
    assert "unknown key 'capacitr'; did you mean 'capacitor'?" in result.stderr
    made = load_circuit("box.toml")
    assert made.filter.capacitor == 22e-9
    assert (made.origins["filter.capacitor"], made.origins["supply"]) == ("known", "assumed")


def test_a_swept_filter_is_asked_for_its_two_corners():
    answers = ["polarity", "swept", "100Hz", "3kHz", "4dB", *[""] * 10]
    result = run("--ask", input="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    assert "Where is its corner" not in result.stderr
    assert "swept filter from 100 Hz to 3 kHz" in result.stdout


def test_questions_that_end_early_write_nothing(folder):
    result = run("--ask", "-o", "box.toml", input="gated\n")
    assert result.exit_code == 1
    assert not (folder / "box.toml").exists()


@pytest.mark.parametrize(("choice", "load", "unity"), [("0", 10.77e3, 3.0), ("1", 1e6, 2.52), ("2", 1e6, 3.0)])
def test_which_fact_to_trust_is_asked(choice, load, unity):
    given = ("--supply", "9V", "--mix-resistor", "22k", "--at-5", "7.8dB")
    answers = "\n\n\n\n" + choice + "\n"  # at 5, what mixes, the load and what else is on the board are not known
    result = run(*BOX, "--in-hand", "12dB", *given[:4], "--ask", "-o", "box.toml", input=answers)
    assert result.exit_code == 0, result.output
    assert "0  trust all of it" in result.stderr
    circuit = load_circuit("box.toml")
    assert circuit.output.load == pytest.approx(load, rel=0.01)
    assert circuit.knobs.volume == pytest.approx(unity, abs=0.05)


@pytest.mark.parametrize(
    ("words", "buffer", "loaded"),
    [
        (("--mixing", "none", "--load", "150k"), "inverting", "input_resistor"),
        (("--mixing", "none", "--load", "150k", "--read", "output.ground_resistor=10k"), "non-inverting", "load"),
        (("--mixing", "virtual-earth", "--load", "150k"), "non-inverting", "load"),
        (("--load", "150k", "--read", "output.input_resistor=150k"), "inverting", "input_resistor"),
    ],
)
def test_the_load_is_that_of_the_buffer_behind_what_mixes(words, buffer, loaded):
    result = run(*BOX, "--in-hand", "10.5dB", *words, "-o", "box.toml")
    assert result.exit_code == 0, result.output
    circuit = load_circuit("box.toml")
    assert circuit.mix.kind == (words[1] if words[0] == "--mixing" else "two-resistors")
    assert (circuit.output.kind, circuit.output.load_ohm) == (buffer, 150e3)
    assert circuit.origins[f"output.{loaded}"] == "known"
    assert circuit.knobs.volume == pytest.approx(3.0, abs=0.1)


def test_a_box_that_mixes_nothing_is_not_asked_for_the_mixing_resistor():
    asked = run("--ask", "--mixing", "none", input="\n" * 30)
    assert asked.exit_code == 0, asked.output
    assert "Input resistance of what follows" in asked.stderr
    assert "where the direct signal is mixed in" not in asked.stderr
    assert run("--mixing", "none", "--mix-resistor", "22k").exit_code != 0


def test_a_contradiction_is_settled_by_who_is_asked_or_refused():
    words = (*BOX, "--in-hand", "12dB", "--supply", "9V", "--mix-resistor", "22k", "--load", "1M")
    refused = run(*words)
    assert refused.exit_code == 2
    assert "sublatch: which is to be trusted less?" in refused.stderr
    assert "sublatch:   --doubt in-hand: in-hand is 10.5 dB, not 12 dB" in refused.stderr
    asked = run(*words, "--ask", input="\n\n\n2\n")
    assert asked.exit_code == 0, asked.output
    assert "--doubt in-hand" in asked.stdout.splitlines()[-1]


def test_a_recording_of_a_tone_is_taken():
    rate = 24000
    tone = take_from_samples(0.2 * np.sin(2 * np.pi * 110.0 * np.arange(3 * rate) / rate), rate, name="tone")
    circuit = load_circuit("polarity-third-order", changes={"filter.kind": "first-order", "filter.resistor": "22k"})
    write_audio("heard.wav", 0.5 * render(tone, circuit).samples, rate)
    result = run("--recording", "heard.wav", "--octave", "gated", "-o", "box.toml")
    assert result.exit_code == 0, result.output
    assert "note: the recording has --octave polarity-switched, stated gated: what was stated is kept" in result.stderr
    made = load_circuit("box.toml")
    assert made.octave.kind == "gain-gated"
    assert made.filter.kind == "first-order"
    assert made.origins["filter.kind"] == "known"
    assert "--corner 48" in result.stdout.splitlines()[-1]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--octave", "gate"), "--octave must be one of gated, gain-gated, polarity, polarity-switched, got 'gate'"),
        (("--corner", "275 apples"), "--corner: "),
        (("--unity-at", "three"), "--unity-at must be a number from 0 to 10, got 'three'"),
        (("--unity-at", "30"), "unity must be 0.1 to 10 of 10, got 30; was it meant as 3?"),
        (("--read", "filter.resistor"), "--read takes PATH=VALUE"),
        (("--doubt", "unity"), "only a fact that is given can be doubted, got 'unity'"),
        (("--channel", "2"), "belong to a --take"),
        (("-o", "box.txt"), "must end in .toml"),
    ],
)
def test_what_cannot_be_is_refused(words, message):
    result = run(*words)
    assert result.exit_code in (1, 2)
    assert message in result.stderr
