"""``sublatch choose``: what it prints, the JSON keys, the file it writes, and wishes that cannot be."""

from __future__ import annotations

import json
import tomllib

import pytest

from command_line import sublatch
from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.circuit.save import save_circuit

WISH = ("choose", "--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--flat", "0dB", "--pot", "50k")


@pytest.fixture(scope="module")
def printed():
    """What the wish prints."""
    return sublatch(*WISH)


@pytest.fixture(scope="module")
def written():
    """The wish's JSON document."""
    return sublatch(*WISH, "--json")


def test_the_table_has_parts_figures_boards_and_other_sets(printed):
    assert printed.exit_code == 0
    told = printed.stdout
    headings = ["parts\n", "corner", "% of boards", "other sets, the easiest to buy", "for the circuit file"]
    places = [told.index(heading) for heading in headings]
    assert places == sorted(places)
    assert "50k dual-gang, reverse-log, 85 % at half rotation" in told
    assert "tone 0, flat" in told
    assert "tone 10, peaked" in told
    assert "what boards differ by comes from: pot" in told


def test_other_sets_are_told_with_their_errors(printed, written):
    """The printed errors are those of the corners and peaks in the JSON document, the largest of each."""
    told = json.loads(written.stdout)["alternatives"]
    lines = printed.stdout.partition("other sets")[2].partition("for the circuit file")[0].splitlines()[2:]
    assert len(told) == len([line for line in lines if line]) > 0
    for one, line in zip(told, lines, strict=False):
        corners = {"low_hz": 100.0, "high_hz": 3000.0, "peaked_low_hz": 100.0, "peaked_high_hz": 3000.0}
        worst = max((100.0 * (one[key] / asked - 1.0) for key, asked in corners.items()), key=abs)
        apart = 100.0 * (one["peaked_low_hz"] / one["low_hz"] - 1.0)
        assert f"  {worst:+.1f} %  {apart:+.1f} %  " in line
        assert line.endswith(f"{one['peak_db']:.2f} ({one['peak_db'] - 4.0:+.2f})")
    fixed = sublatch("choose", "--kind", "third-order", "--corner", "300Hz").stdout.partition("other sets")[2]
    assert fixed.splitlines()[1].split() == ["resistors", "capacitors", "corner", "off", "peak", "dB", "off"]


def test_the_printed_table_can_be_pasted(tmp_path, printed):
    table = printed.stdout.partition("[filter] tables\n\n")[2]
    (tmp_path / "box.toml").write_text(f'title = "Box"\n[octave]\nkind = "gain-gated"\n{table}', encoding="utf-8")
    circuit = load_circuit(tmp_path / "box.toml")
    assert tomllib.loads(table)["filter"]["kind"] == "swept-second-order"
    assert response(circuit).corner_hz is not None


def test_json_has_the_promised_keys_and_what_response_measures(written):
    told = json.loads(written.stdout)
    wanted = {"parts", "low_hz", "high_hz", "peak_db", "flat_peak_db", "yield_share", "alternatives", "changes", "toml"}
    assert wanted <= set(told)
    for tone, key in ((0, "low_hz"), (10, "high_hz")):
        settings = [f"{path}={value}" for path, value in told["changes"].items()]
        arguments = [word for one in (*settings, f"knobs.tone={tone}") for word in ("--set", one)]
        measured = json.loads(sublatch("response", "-c", "gated-open", *arguments, "--json").stdout)
        assert told[key] == pytest.approx(measured["corner_hz"], rel=1e-6)
    assert told["low_hz"] == pytest.approx(100.0, rel=0.1)
    assert 0.0 < told["yield_share"] < 1.0
    spread = told["spread"]
    assert len(spread["frequency_hz"]) == len(spread["low_db"]) == len(spread["high_db"])
    assert told["alternatives"][0]["parts"]["pot"]["value"] == 50e3
    assert told["output"] is None
    assert written.stderr == ""


def test_start_resistors_are_told_with_what_they_are_good_for(printed, written):
    told, table = json.loads(written.stdout), printed.stdout
    start_ohm, pot_ohm, end_ohm = told["parts"]["start_resistor"], 50e3, told["parts"]["end_resistor"]
    assert f"  start resistor      {told['changes']['filter.start_resistor']}, one across each gang\n" in table
    assert tomllib.loads(told["toml"])["filter"]["start_resistor"] == told["changes"]["filter.start_resistor"]
    section = pot_ohm * start_ohm / (pot_ohm + start_ohm)
    left, whole = 20 * section**2 / pot_ohm / (section + end_ohm), 20 * pot_ohm / (pot_ohm + end_ohm)
    line = (
        f"at tone 0 a pot 20 % off moves the corner by about {left:.0f} %, without the start resistors by {whole:.0f} %"
    )
    assert line in table
    share = told["without_start_yield_share"]
    assert f"of boards with the best set that has none, {100 * share:.1f} % come within" in table
    assert told["yield_share"] > share + 0.05
    assert told["alternatives"][0]["parts"]["start_resistor"] is None


def test_a_pot_that_is_too_large_is_listed_with_its_start_resistors():
    printed = sublatch("choose", "--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--pot", "10M").stdout
    heads, *rows = printed.partition("most that they are off\n")[2].partition("\n\n")[0].splitlines()
    assert heads.split()[:3] == ["pot", "start", "end"]
    assert rows
    assert all(row.split()[2].endswith(("M", *"0123456789")) for row in rows)
    assert "come within" not in printed


@pytest.fixture(scope="module")
def with_start(tmp_path_factory):
    """A circuit file with start resistors."""
    file = tmp_path_factory.mktemp("start") / "first.toml"
    assert sublatch(*WISH, "-c", "gated-swept", "-o", file).exit_code == 0
    assert load_circuit(file).filter.start_resistor is not None
    return file


@pytest.mark.long
@pytest.mark.parametrize(("tolerance", "start"), [("20%", True), ("1%", False)])
def test_start_resistors_are_written_and_old_ones_are_not_kept(tmp_path, with_start, tolerance, start):
    plain, second = tmp_path / "plain.toml", tmp_path / "second.toml"
    more = ("--pot-tolerance", tolerance, "--gang-mismatch", tolerance)
    assert sublatch(*WISH, *more, "-c", with_start, "-o", second).exit_code == 0
    assert (load_circuit(second).filter.start_resistor is not None) == start
    assert sublatch(*WISH, *more, "-c", "gated-swept", "-o", plain).exit_code == 0
    assert load_circuit(plain).filter == load_circuit(second).filter


@pytest.mark.parametrize("kind", ["third-order", "first-order"])
def test_fixed_filters(kind):
    told = json.loads(sublatch("choose", "--kind", kind, "--corner", "300Hz", "--json").stdout)
    assert told["corner_hz"] == pytest.approx(300.0, rel=0.03)
    assert told["parts"]["kind"] == kind
    table = sublatch("choose", "--kind", kind, "--corner", "300Hz").stdout
    assert "as built" in table
    assert f'kind = "{kind}"' in table


def test_a_state_variable_filter_is_chosen_and_put_into_a_circuit(tmp_path):
    wish = (*WISH, "--kind", "swept-state-variable")
    printed = sublatch(*wish).stdout
    assert "first capacitor" in printed
    assert "band resistor" in printed
    told = json.loads(sublatch(*wish, "-c", "gated-open", "-o", tmp_path / "mine.toml", "--json").stdout)
    circuit = load_circuit(tmp_path / "mine.toml")
    assert circuit.filter.model_dump() == told["parts"]
    settings = ("--set", "knobs.tone=10", "--set", "switches.peak=peaked")
    measured = json.loads(sublatch("response", "-c", tmp_path / "mine.toml", *settings, "--json").stdout)
    assert measured["corner_hz"] == pytest.approx(told["peaked_high_hz"], rel=1e-9)
    assert measured["peak_db"] == pytest.approx(told["peak_db"], abs=1e-6)
    before = {"filter.kind": "swept-state-variable", "filter.low_resistor": "22k"}
    assert load_circuit("gated-open", changes={**before, **told["changes"]}).filter == circuit.filter


def test_the_parts_are_put_into_a_circuit(tmp_path):
    file = tmp_path / "mine.toml"
    result = sublatch(*WISH, "-c", "polarity-third-order", "-o", file)
    assert result.exit_code == 0
    assert f"Written {file}" in result.stderr
    circuit = load_circuit(file)
    assert circuit.octave.kind == "polarity-switched"
    assert circuit.filter.pot.value == 50e3
    assert sublatch(*WISH, "-c", file, "-o", file).exit_code == 1
    file.write_text(file.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8")
    refused = sublatch(*WISH, "-c", "gated-swept", "-o", file)
    assert (refused.exit_code, refused.stdout) == (1, "")


@pytest.mark.long
@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Gain-gated octave, no output filter", "Gain-gated octave, first-order filter at 301 Hz"),
        ("Dad's box, blue, a filter of my own", "Dad's box, blue, first-order filter at 301 Hz"),
        ("Filter box", "Filter box, first-order filter at 301 Hz"),
    ],
)
def test_the_title_tells_the_new_filter(tmp_path, old, new):
    box, mine = tmp_path / "box.toml", tmp_path / "mine.toml"
    box.write_text(f'title = "{old}"\n[octave]\nkind = "gain-gated"\n', encoding="utf-8")
    wish = ("choose", "--kind", "first-order", "--corner", "300Hz")
    told = json.loads(sublatch(*wish, "-c", box, "-o", mine, "--json").stdout)
    assert told["written"]["title"] == load_circuit(mine).title == new
    assert told["corner_hz"] == pytest.approx(301, abs=0.5)
    assert sublatch(*WISH, "-c", mine, "-o", box, "--overwrite").exit_code == 0
    kept = new.partition(", first-order")[0]
    assert load_circuit(box).title == f"{kept}, swept filter from 95.4 Hz to 2.78 kHz with 3.7 dB of peak"
    assert "was Dad's box" in box.read_text(encoding="utf-8") or "Dad" not in old


def test_the_volume_goes_along_with_unity_and_that_is_told(tmp_path):
    """A filter whose corner is under the tone costs level; `knobs` finds unity where the volume stands then."""
    file = tmp_path / "dark.toml"
    wish = ("choose", "--kind", "third-order", "--corner", "60Hz")
    done = sublatch(*wish, "-c", "gated-first-order", "-o", file, "--json")
    written = json.loads(done.stdout)["written"]
    before, after = (
        json.loads(sublatch("knobs", "-c", name, "--json").stdout)["unity_position"]
        for name in ("gated-first-order", file)
    )
    assert (written["unity_before"], written["unity_after"]) == (pytest.approx(before), pytest.approx(after))
    assert after > before + 0.5
    assert written["volume"] == load_circuit(file).knobs.volume == pytest.approx(after, abs=0.01)
    old = load_circuit("gated-first-order").knobs.volume
    words = f"unity moved from {before:.2f} to {after:.2f} on the volume knob: knobs.volume is {after:.3g}, was {old:g}"
    assert words in done.stderr
    assert f"volume = {after:.3g}" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(("corner", "volume_stays"), [("300Hz", True), ("1kHz", True), ("60Hz", False)])
def test_a_trim_resistor_keeps_unity_where_it_was(tmp_path, corner, volume_stays):
    """`knobs` finds unity there again; where gain is missing for that, the volume follows."""
    old, file = tmp_path / "old.toml", tmp_path / "new.toml"
    save_circuit(load_circuit("gated-swept", changes={"detector.kind": "peak-latch"}), old)
    done = sublatch("choose", "--kind", "third-order", "--corner", corner, "-c", old, "-o", file, "--json")
    written, made = json.loads(done.stdout)["written"], load_circuit(file)
    before = json.loads(sublatch("knobs", "-c", old, "--json").stdout)["unity_position"]
    after = json.loads(sublatch("knobs", "-c", file, "--json").stdout)["unity_position"]
    assert written["unity_after"] == pytest.approx(after, abs=1e-6)
    assert written["old_trim_ohm"] == 75e3
    assert written["trim_ohm"] == made.output.trim_resistor
    if volume_stays:
        assert after == pytest.approx(before, abs=0.1)
    kept = "note: to keep unity where it was, output.trim_resistor is " in done.stderr
    assert kept == (made.output.trim_resistor != 75e3)
    assert kept or corner == "300Hz"
    assert made.knobs.volume == (7.5 if abs(round(after, 2) - before) <= 0.05 else pytest.approx(after, abs=0.01))


def test_a_volume_at_unity_stays_at_unity(tmp_path):
    box, file = tmp_path / "box.toml", tmp_path / "dark.toml"
    box.write_text('title = "Box"\nknobs.volume = "unity"\n[octave]\nkind = "gain-gated"\n', encoding="utf-8")
    done = sublatch("choose", "--kind", "third-order", "--corner", "60Hz", "-c", box, "-o", file)
    assert load_circuit(file).knobs.volume == "unity"
    assert "unity moved" not in done.stderr


def test_the_volume_stays_where_unity_does(tmp_path):
    file = tmp_path / "same.toml"
    wish = ("choose", "--kind", "first-order", "--corner", "272Hz")
    done = sublatch(*wish, "-c", "gated-first-order", "-o", file)
    assert load_circuit(file).knobs.volume == load_circuit("gated-first-order").knobs.volume
    assert "unity" not in done.stderr


def test_the_bands_are_drawn(tmp_path):
    picture = tmp_path / "chosen.png"
    result = sublatch(*WISH, "--plot", picture, "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["parts"]
    assert f"Drawn {picture}; shaded: nine boards of ten" in result.stderr
    assert picture.read_bytes().startswith(b"\x89PNG")
    picture.write_bytes(b"mine")
    refused = sublatch(*WISH, "--plot", picture)
    assert (refused.exit_code, refused.stdout, picture.read_bytes()) == (1, "", b"mine")
    assert "must end in .png" in sublatch(*WISH, "--plot", tmp_path / "chosen.jpg").stderr


@pytest.mark.parametrize("limit", [("--corner-within", "10%"), ("--peak-within", "0.3dB")])
def test_narrower_limits_let_fewer_boards_through(written, limit):
    results = (written, sublatch(*WISH, *limit, "--json"))
    wide, narrow = (json.loads(result.stdout)["yield_share"] for result in results)
    assert narrow < wide - 0.1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--low", "100Hz"), "--high, --peak must be given for --kind swept-second-order, such as --low 100Hz"),
        (("--kind", "third-order"), "--corner must be given for --kind third-order, such as --kind third-order"),
        (("--kind", "third-order", "--corner", "300", "--low", "3"), "--low is for --kind swept-second-order"),
        (("--low", "1", "--corner", "300"), "--corner is for --kind third-order or first-order"),
        (("--kind", "first-order", "--corner", "300", "--shape", "bessel"), "--shape is for --kind third-order"),
        (("--low", "100n", "--high", "3kHz", "--peak", "4dB"), "--low: "),
        (("--low", "3kHz", "--high", "100Hz", "--peak", "4dB"), "swap them?"),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--pot", "10k"), "take 47k or more"),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--taper", "audio"), "did you mean 'log'"),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "-o", "x.toml"), "-c and -o go together"),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--series", "E13"), "got 'E13'"),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--series", "E3"), "corners 9.0 % apart"),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--corner-within", "20"), "--corner-within: "),
        (
            ("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--capacitor-tolerance", "80%"),
            "the capacitors' tolerance must be 0 % to 50 %, got 80 %",
        ),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "-c", "gated", "-o", "x.toml"), "no built-in circuit"),
        (
            ("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--distribution", "norml"),
            "a distribution must be uniform or normal, got 'norml'; did you mean 'normal'",
        ),
        (("--low", "100Hz", "--high", "3kHz", "--peak", "4dB", "--pot-end", "2k"), "must be 0 Ω to 1k, got 2000 Ω"),
    ],
)
def test_a_wish_that_cannot_be_is_refused(arguments, words):
    result = sublatch("choose", *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert words in result.stderr


def test_the_distribution_is_told_beside_the_yield(printed):
    told = {name: sublatch(*WISH, "--distribution", name, "--json") for name in ("uniform", "normal")}
    by_name = {name: json.loads(result.stdout) for name, result in told.items()}
    assert [by_name[name]["distribution"] for name in by_name] == list(by_name)
    assert by_name["uniform"]["spread"]["tolerances"]["pot_end_ohm"] == 150.0
    assert by_name["normal"]["yield_share"] > by_name["uniform"]["yield_share"] + 0.05
    assert "parts uniform within their tolerance" in printed.stdout
    normal = sublatch(*WISH, "--distribution", "normal").stdout
    assert "parts normal, their tolerance three standard deviations and none outside it" in normal


def test_what_a_pot_leaves_at_its_ends_can_be_said():
    shares = [json.loads(sublatch(*WISH, "--pot-end", ohm, "--json").stdout)["yield_share"] for ohm in ("0", "500")]
    assert shares[1] < shares[0] - 0.05
    assert "up to 20 Ω left at each end" in sublatch(*WISH, "--pot-end", "20").stdout


def test_what_there_is_to_mind_is_told_in_words_and_in_json():
    wish = ("choose", "--low", "100Hz", "--high", "5kHz", "--peak", "20dB", "--pot", "220k")
    codes = [one["code"] for one in json.loads(sublatch(*wish, "--json").stdout)["remarks"]]
    assert codes == ["twitchy", "hard-to-buy", "little-headroom"]
    printed = sublatch(*wish).stdout
    for words in ("twitchy, more than 0.67 octaves", "dB are left below the limits of 9 V", "little headroom"):
        assert words in printed
    assert "Hard to buy: a 220k dual-gang reverse-log pot." in printed


BINS = (
    "kind,value,measured,quantity,taper\n"
    "resistor,1k5,,4,\nresistor,270k,,2,\npot,50k,51.2k,1,reverse-log\n"
    "capacitor,18n,18.4n,1,\ncapacitor,27n,,2,\ncapacitor,56n,,2,\ncapacitor,150n,,2,\n"
)


def test_what_is_owned_comes_first_and_its_file_is_never_replaced(tmp_path):
    stock, plan = tmp_path / "bins.csv", ("--pot", "50k,100k")
    stock.write_text(BINS, encoding="utf-8")
    result = sublatch(*WISH, *plan, "--stock", stock)
    assert result.exit_code == 0
    assert "You own all of these parts.\n" in result.stdout
    assert "51k2 dual-gang, reverse-log" in result.stdout
    assert "An order of one part" in result.stdout
    refused = sublatch(*WISH, "--stock", stock, "--plot", stock, "--overwrite")
    assert refused.exit_code == 1
    assert stock.read_text(encoding="utf-8") == BINS


def test_a_stock_file_that_is_wrong_is_refused_by_line(tmp_path):
    stock = tmp_path / "bins.csv"
    stock.write_text(BINS.replace("27n", "27k"), encoding="utf-8")
    result = sublatch(*WISH, "--stock", stock)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "line 6: value of a capacitor: " in result.stderr
    assert "that reads as a resistance" in result.stderr
