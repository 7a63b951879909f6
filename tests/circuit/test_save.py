"""Circuit files written: what is read back is the very same circuit, whatever its values; and the text reads well."""

import tomllib
from itertools import product

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sublatch import units
from sublatch.circuit.load import circuit_names, circuit_text, load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.save import CIRCUIT_FILES, LONGEST_LINE, circuit_toml, save_circuit, settings_of
from sublatch.errors import CircuitError, OutputError

FILTERS = ("none", "first-order", "second-order", "third-order", "swept-second-order")
PARTS = [
    {"part": "rheostat", "name": "VR1a", "pot": {"value": "50k"}, "end_resistor": "2k2", "between": ["in", "a \\ b"]},
    {"part": "switched-capacitor", "name": 'C"1', "value": {"flat": "12n", "peaked": "5n6"}, "between": ["out", "ö"]},
    {"part": "capacitor", "name": "C2", "value": "22n", "between": ["a \\ b", "ground"]},
    {"part": "resistor", "name": "R1", "value": 12345.678901234567, "between": ["a \\ b", "b"]},
    {"part": "capacitor", "name": "C3", "value": 1e-9 / 3, "between": ["b", "ground"]},
    {"part": "op-amp", "name": "U1", "plus": "b", "minus": "out", "output": "out"},
    {"part": "resistor", "name": "R2", "value": "10k", "between": ["ö", "ground"]},
]


def read_back(text):
    """Return the circuit that a text loads as."""
    return Circuit.model_validate(tomllib.loads(text))


@pytest.mark.parametrize("name", circuit_names())
def test_built_in_circuits_read_back_equal(name, tmp_path):
    circuit = load_circuit(name)
    save_circuit(circuit, tmp_path / "box.toml", heading="mine")
    assert load_circuit(tmp_path / "box.toml") == circuit


@pytest.mark.parametrize("name", circuit_names())
def test_a_value_stands_as_the_built_in_file_has_it(name):
    """Those files are written by hand, values as the trade writes them."""
    text = circuit_toml(load_circuit(name))
    by_hand = [line.split("  ")[0].strip() for line in circuit_text(name).splitlines() if " = " in line]
    wanted = [
        line for line in by_hand if not line.startswith(("#", "[", "flat", "peaked", "taper = ", "midpoint", "value"))
    ]
    assert len(wanted) > 20
    assert set(wanted) <= set(text.splitlines())


@pytest.mark.parametrize(
    ("detector", "octave", "filter_"),
    list(product(("zero-crossing", "peak-latch", "overtone"), ("polarity-switched", "gain-gated"), FILTERS)),
)
def test_every_kind_reads_back_equal(detector, octave, filter_):
    changes = {"detector.kind": detector, "octave.kind": octave, "filter.kind": filter_, "detector.leveller": {}}
    circuit = load_circuit("gated-swept", changes={**changes, "octave.linear_range": "26mV"})
    assert circuit.detector.leveller is not None
    assert read_back(circuit_toml(circuit)) == circuit


def test_a_network_of_ones_own_reads_back_equal_a_part_in_each_line():
    own = {"kind": "network", "parts": PARTS}
    plain = {
        "kind": "network",
        "parts": [PARTS[2] | {"between": ["out", "ground"]}, PARTS[3] | {"between": ["in", "out"]}],
    }
    circuit = load_circuit("gated-swept", changes={"filter": own, "detector.filter": plain, "knobs.tone": 3.5})
    text = circuit_toml(circuit, comments={"filter.parts": "drawn by hand"})
    assert read_back(text) == circuit
    assert "# drawn by hand\nparts = [\n" in text
    assert (
        '    { part = "resistor", name = "R1", value = "12.345678901234567k", between = ["a \\\\ b", "b"] },\n' in text
    )
    assert (
        '    { part = "rheostat", name = "VR1a", pot = { value = "50k", taper = "linear" }, end_resistor = "2k2"'
        in text
    )


WORDS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30).filter(str.strip)


@given(title=WORDS, heading=st.text(max_size=200), comment=st.text(max_size=200))
@example(title='a "b" \\ c\nd\te\x7f\x00é低', heading="a\r\nb\x1b[31m\x85c\x00\udcff", comment="x\ny\x7f")
@example(title="'''\"\"\"", heading='"""', comment="#")
def test_no_text_breaks_the_file(title, heading, comment):
    circuit = load_circuit("gated-open").model_copy(update={"title": title.strip()})
    comments = {"supply": comment, "detector": comment, "detector.fraction": comment}
    text = circuit_toml(circuit, comments=comments, heading=heading)
    assert read_back(text.encode("utf-8").decode("utf-8")) == circuit


@given(
    ohm=st.floats(0.1, 100e6),
    farad=st.floats(1e-12, 0.1),
    volt=st.floats(0.0, 100.0),
    second=st.floats(0.0, 5e-3),
    share=st.floats(0.0, 1.0, exclude_min=True, exclude_max=True),
    gain=st.floats(1.0, 1e4),
    position=st.floats(0.0, 10.0),
)
@example(ohm=4.7e3 * 1.1, farad=330e-9 * 1.1, volt=5e-324, second=1.1e-16, share=5e-324, gain=1.1e3, position=1e-300)
@example(ohm=0.1, farad=1e-12, volt=2.3456789e-13, second=20e-6, share=0.1 + 0.2, gain=30.0, position=0.1 + 0.2)
@example(ohm=99999.5, farad=999.95e-9, volt=0.99995, second=1e-9, share=1e-9, gain=9999.9999, position=1 / 3)
def test_odd_values_read_back_exactly(ohm, farad, volt, second, share, gain, position):
    circuit = load_circuit(
        "gated-open",
        changes={
            "knobs.direct": position,
            "input": {"coupling": farad, "resistance": ohm},
            "octave": {"transition": second, "feedthrough": volt, "leak": share},
            "output": {"trim_resistor": ohm, "load": ohm},
            "detector": {"fraction": share, "hold_capacitor": farad, "floor": volt, "leveller": {"most_gain": gain}},
        },
    )
    assert read_back(circuit_toml(circuit)) == circuit
    assert read_back(circuit_toml(circuit)).model_dump() == circuit.model_dump()


@pytest.mark.parametrize(
    ("path", "value", "text"),
    [
        ("output.load", 4700.0, '"4k7"'),
        ("output.load", 0.47, '"R47"'),
        ("output.load", 12345.0, '"12.345k"'),
        ("output.load", 10000.000000000002, '"10.000000000000002k"'),
        ("input.coupling", 2.2e-6, '"2u2"'),
        ("input.coupling", 1.23456e-9, '"1.23456n"'),
        ("detector.floor", 0.0005, '"500uV"'),
        ("detector.floor", 0.0, '"0V"'),
        ("detector.floor", 1e-15, "1e-15"),
        ("detector.fraction", 0.85, '"85%"'),
        ("detector.fraction", 0.8512345678, '"85.12345678%"'),
        ("octave.transition", 20e-6, '"20us"'),
        ("knobs.volume", 5.0, "5"),
        ("knobs.volume", 2.5, "2.5"),
    ],
)
def test_values_as_the_trade_writes_them(path, value, text):
    written = circuit_toml(load_circuit("gated-open", changes={path: value}))
    assert f"\n{path.partition('.')[2]} = {text}\n" in written


def test_a_switch_that_is_not_there_is_not_written_and_a_default_is():
    text = circuit_toml(load_circuit("gated-open"))
    assert "tone = " not in text
    assert "trim_resistor" not in text
    assert 'bias = "50%"' in text
    assert "midpoint" not in text
    log = load_circuit("gated-open", changes={"output.pot.midpoint": "20%"})
    assert 'pot = { value = "100k", taper = "linear", midpoint = "20%" }' in circuit_toml(log)


def test_comments_stand_beside_a_setting_or_above_it():
    comments = {
        "detector": "all of it",
        "detector.fraction": "was 60%",
        "detector.hold_resistor": "much to say " * 12,
        "detector.floor": "two\nlines",
        "output.pot.value": "big",
        "mix.direct_pot": "small",
    }
    text = circuit_toml(load_circuit("gated-open"), comments=comments, heading="First\n\n" + "and more " * 20)
    lines = text.splitlines()
    assert lines[:3] == ["# First", "#", "# and more" + " and more" * 10]
    assert lines[4:6] == ["", 'title = "Gain-gated octave, no output filter"']
    assert "[detector]                  # all of it" in lines
    assert 'fraction = "40%"            # was 60%' in lines
    assert lines[lines.index('hold_resistor = "30k"') - 2].startswith("# much to say much")
    assert '# two\n# lines\nfloor = "15mV"\n' in text
    assert '[output.pot]\nvalue = "100k"              # big\ntaper = "linear"\n' in text
    assert 'direct_pot = { value = "10k", taper = "linear" }  # small' in lines
    assert max(map(len, lines)) <= LONGEST_LINE
    assert read_back(text) == load_circuit("gated-open")


def test_a_comment_for_what_is_not_there_is_refused():
    with pytest.raises(CircuitError, match=r"got 'detector.fracton'; did you mean 'detector.fraction'\?"):
        circuit_toml(load_circuit("gated-open"), comments={"detector.fracton": "was 60%"})


def test_settings_are_told_as_the_file_has_them():
    circuit = load_circuit("gated-swept", changes={"detector.kind": "overtone"})
    told = settings_of(circuit)
    assert told["detector.band.capacitor"].text == "18n"
    assert told["detector.kind"].text == "overtone"
    assert told["detector.kind"].description.startswith("A peak latch that also hears rectified overtones")
    assert told["filter.pot.midpoint"].text == "15%"
    assert told["knobs.tone"].text == "4"
    assert units.ohms(told["output.trim_resistor"].text) == circuit.output.trim_resistor
    assert all(setting.text and setting.description for setting in told.values())


def test_its_own_file_is_replaced_until_somebody_changes_it(tmp_path):
    path = tmp_path / "box.toml"
    save_circuit(load_circuit("gated-open"), path)
    save_circuit(load_circuit("gated-swept"), path, heading="again")
    assert load_circuit(path) == load_circuit("gated-swept")
    changed = path.read_text(encoding="utf-8").replace("tone = 4", "tone = 5")
    path.write_text(changed, encoding="utf-8")
    with pytest.raises(OutputError, match="was changed since"):
        save_circuit(load_circuit("gated-open"), path)
    assert path.read_text(encoding="utf-8") == changed
    save_circuit(load_circuit("gated-open"), path, overwrite=True)
    assert load_circuit(path) == load_circuit("gated-open")


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("box.txt", r"box.txt must end in .toml, as circuit files do, got '.txt'"),
        ("box", "must end in .toml, as circuit files do, got 'no ending'"),
        ("gone/box.toml", "its folder does not exist"),
        ("mine.toml", "exists and was not made by sublatch"),
        ("start.toml", "so it cannot be written to as well"),
    ],
)
def test_what_cannot_be_written_is_refused_ahead(tmp_path, name, message):
    for there in ("mine.toml", "start.toml"):
        (tmp_path / there).write_text("title = 'mine'\n", encoding="utf-8")
    before = sorted((path, path.read_bytes()) for path in tmp_path.iterdir())
    for refused in (CIRCUIT_FILES.guard, lambda *a, **k: save_circuit(load_circuit("gated-open"), *a, **k)):
        with pytest.raises(OutputError, match=message):
            refused(tmp_path / name, inputs=[tmp_path / "start.toml"], overwrite=name == "start.toml")
    assert sorted((path, path.read_bytes()) for path in tmp_path.iterdir()) == before


def test_the_same_circuit_gives_the_same_bytes(tmp_path):
    for name in ("a.toml", "b.toml"):
        save_circuit(load_circuit("gated-open"), tmp_path / name, comments={"supply": "new"}, heading="ü")
    assert (tmp_path / "a.toml").read_bytes() == (tmp_path / "b.toml").read_bytes()


def test_a_start_resistor_reads_back_and_is_not_written_where_there_is_none():
    plain = load_circuit("gated-swept")
    assert plain.filter.start_resistor is None
    assert "start_resistor" not in circuit_toml(plain)
    started = load_circuit("gated-swept", changes={"filter.start_resistor": "220k"})
    text = circuit_toml(started)
    assert 'start_resistor = "220k"\nend_resistor = "3k"\n' in text
    assert read_back(text) == started
    assert started != plain
