"""The build sheet as a page: whole, well-formed, the same every time, and safe from hostile titles."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from board_cases import CHANGES, circuit_of
from sublatch.board.assemble import board
from sublatch.board.parts_list import parts_list
from sublatch.board.sheet.amounts import amount
from sublatch.board.sheet.bench_table import bench_table
from sublatch.board.sheet.knob_chart import knob_value
from sublatch.board.sheet.page import css_string, settings_sentence
from sublatch.board.sheet.wiring import wiring
from sublatch.board.sheet.write import SHEETS, build_sheet, write_sheet
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.errors import CircuitError, OutputError
from sublatch.parts.knobs.travel import knob_curve

VOID = {"meta", "br", "wbr", "hr", "link", "img", "input"}
HOSTILE = """</title></style><script>alert(1)</script>" onload="x" \\";}* { display: none } <b>Größe & 低 {{ 7*7 }}"""
SECTIONS = ["schematic", "parts", "pins", "notes", "knobs", "response", "wiring", "bench", "supply", "cautions", "file"]


class Page(HTMLParser):
    """A page read strictly: every tag that is opened is closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag that opens."""
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag that closes itself."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Close the tag that was opened last."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Keep a text."""
        if "style" not in self.open:
            self.texts.append(data)

    @property
    def text(self) -> str:
        """All texts."""
        return " ".join(self.texts)


QUICK = ["gated-swept", "gated-open", "polarity-third-order-zero-crossing", "own-networks", "bare"]
LONG = [
    *(name for name in circuit_names() if name not in QUICK),
    *("gated-swept-peak-latch", "two-octaves", "own-passive-filter", "levelled", "no-hysteresis"),
]
CASES = [*QUICK, *(pytest.param(case, marks=pytest.mark.long) for case in LONG)]


class Pages(dict[str, str]):
    """Sheets by case, made when they are asked for."""

    def __missing__(self, case: str) -> str:
        """Make one and keep it."""
        self[case] = build_sheet(circuit_of(case))
        return self[case]


@pytest.fixture(scope="module")
def pages() -> Pages:
    return Pages()


def test_the_cases_are_known() -> None:
    assert {*QUICK, *LONG} <= set(CHANGES)


@pytest.mark.parametrize("case", CASES)
def test_every_part_and_net_of_the_circuit_is_on_the_sheet(pages: Pages, case: str) -> None:
    page, made = Page(pages[case]), board(circuit_of(case))
    words = set(re.findall(r"[A-Z]+\d+[A-Z]?", page.text))
    missing = {part.reference for part in made.components} - words
    assert not missing
    for line in parts_list(made):
        assert line.value in page.text
    for note in made.notes:
        assert note in page.text


@pytest.mark.parametrize("case", CASES)
def test_what_was_left_out_on_purpose_is_told_and_the_jacks_polarity_stated(pages: Pages, case: str) -> None:
    page, made = Page(pages[case]), board(circuit_of(case))
    assert len(made.left_out) >= 8
    for thing in made.left_out:
        assert thing in page.text
    assert "Left out on purpose" in page.text
    assert "Supply jack: centre contact minus, sleeve plus." in page.text


@pytest.mark.parametrize("case", CASES)
def test_the_footswitch_has_three_columns_with_the_jacks_the_board_and_the_lamp(case: str) -> None:
    (footswitch,) = [one for one in wiring(board(circuit_of(case))).switches if one.control == "bypass"]
    nets = [[lug.net for lug in pole.lugs] for pole in footswitch.poles]
    assert nets == [["in", "input tip", "bypass"], ["out", "output tip", "bypass"], ["lamp", "0V", "in"]]


@pytest.mark.parametrize("case", CASES)
def test_the_page_is_whole_and_asks_for_nothing(pages: Pages, case: str) -> None:
    page = Page(pages[case])
    tags = Counter(tag for tag, _ in page.tags)
    assert tags["h1"] == 1
    assert not {"script", "iframe", "object", "img", "audio", "base", "form"} & set(tags)
    for tag, attributes in page.tags:
        assert not {name for name in attributes if name.startswith("on") or name in ("src", "srcset")}
        link = attributes.get("href") or attributes.get("xlink:href") or "#"
        assert link.startswith("#"), tag
    assert "@import" not in pages[case]
    assert not re.search(r"url\((?!#)", pages[case])
    assert [attributes["id"] for tag, attributes in page.tags if tag == "section"] == SECTIONS


@pytest.mark.parametrize("case", CASES)
def test_headings_go_down_one_step_at_a_time(pages: Pages, case: str) -> None:
    levels = [int(tag[1]) for tag, _ in Page(pages[case]).tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


@pytest.mark.parametrize("case", CASES)
def test_ids_are_unique_or_of_one_and_the_same_thing(pages: Pages, case: str) -> None:
    text = pages[case]
    ids = Counter(attributes["id"] for _, attributes in Page(text).tags if "id" in attributes)
    referred = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', text))
    assert referred <= set(ids)
    for name in referred:
        kinds = {re.sub(r"\s+", " ", found) for found in re.findall(rf'<\w+ id="{name}"[^>]*>', text)}
        assert len(kinds) == 1


def test_the_same_circuit_gives_the_same_bytes(pages: Pages) -> None:
    assert build_sheet(circuit_of("gated-open")) == pages["gated-open"]


def test_another_circuit_gives_another_sheet(pages: Pages) -> None:
    assert len({pages[case] for case in QUICK}) == len(QUICK)


def test_the_date_is_left_to_the_builder(pages: Pages) -> None:
    assert "<div>Date</div>" in pages["gated-swept"]
    assert not re.search(r"\b20\d\d-\d\d", pages["gated-swept"])


def test_a_hostile_title_stays_a_title() -> None:
    circuit = load_circuit("gated-open").model_copy(update={"title": HOSTILE})
    text = build_sheet(circuit)
    page = Page(text)
    assert "script" not in {tag for tag, _ in page.tags}
    assert "b" not in {tag for tag, _ in page.tags}
    assert HOSTILE in page.texts
    style = text.partition("<style>")[2].partition("</style>")[0]
    assert "@bottom-right" in style
    assert 'content: "' + css_string(HOSTILE[:69] + "…") + '";' in style


@pytest.mark.parametrize(
    ("text", "css"),
    [("Box 1", "Box\\20 1"), ('a"b', "a\\22 b"), ("</", "\\3c \\2f "), ("\n\\", "\\20 \\5c "), ("ö低", "\\f6 \\4f4e ")],
)
def test_a_footer_is_written_as_css_has_it(text: str, css: str) -> None:
    assert css_string(text) == css


def test_settings_are_told_in_a_sentence() -> None:
    told = settings_sentence(load_circuit("gated-swept", changes={"knobs.tone": 3.5, "switches.peak": "peaked"}))
    assert "tone at 3.5, volume at 7.5, direct at 0; drive normal, peak peaked; supply 9 V" in told
    assert "tone" not in settings_sentence(load_circuit("gated-open"))


def test_the_knob_chart_shows_each_whole_position(pages: Pages) -> None:
    curve = knob_curve(load_circuit("gated-swept"), "volume")
    values = [knob_value(curve, step) for step in range(11)]
    assert values[0] == "off"
    assert values[10] == "0.0 dB"
    cells = "".join(pages["gated-swept"].split())
    assert all(f'<tdclass="n">{"".join(value.split())}</td>' in cells for value in values)


@pytest.mark.long
def test_the_knob_chart_warns_of_too_little_gain_and_of_lost_bass() -> None:
    """Followed by hand: 10 kΩ and 1 µF are 15.9 Hz, 2.07 dB at 20.6 Hz, with all else as it was."""
    changes = {"output.pot.value": "10k", "output.trim_resistor": None, "output.ground_resistor": "100M"}
    text = Page(build_sheet(load_circuit("gated-first-order", changes=changes))).text
    assert re.search(r"Even with the volume fully clockwise the effect is \d+\.\d dB softer than bypassed", text)
    assert re.search(
        r"output\.coupling: what it couples loses 0\.6 dB at 41\.2 Hz and 2\.1 dB .*; the bass suffers\.", text
    )
    assert "input.coupling: what it couples loses 0.1 dB at 41.2 Hz and 0.5 dB at 20.6 Hz. " in text


@pytest.mark.long
def test_a_peak_too_low_to_be_told_is_none() -> None:
    """Pairs of 47 and 22 nF make 0.02 dB at 0.11 of the corner: no peak that anyone would look for."""
    pairs = {"filter.ground_capacitor.flat": "22n", "filter.feedback_capacitor.flat": "47n"}
    text = Page(build_sheet(load_circuit("gated-swept", changes=pairs))).text
    rows = text.partition("Highest")[2].partition("Wiring of pots")[0].split()
    assert rows.count("no") == 3
    assert [rows[place - 1] for place, word in enumerate(rows) if word.startswith("dB")] == ["+3.8"] * 3


def test_a_falling_rheostat_has_its_wiper_joined_to_lug_1() -> None:
    wired = wiring(board(load_circuit("gated-swept")))
    tone = next(pot for pot in wired.pots if pot.control == "tone knob")
    made = board(load_circuit("gated-swept"))
    assert len(tone.gangs) == 2
    for gang in tone.gangs:
        assert [lug.name for lug in gang.lugs] == ["1", "2", "3"]
        assert gang.lugs[0].net == gang.lugs[1].net != gang.lugs[2].net
        part = next(part for part in made.components if part.reference == gang.reference)
        assert [lug.net for lug in gang.lugs] == [part.net(pin) for pin in ("ccw", "wiper", "cw")]
    assert tone.between == "2 and 3"
    assert tone.check == ((0.0, "100k"), (5.0, "15k"), (10.0, "0R"))


def test_a_divider_rises_from_lug_1() -> None:
    volume = next(pot for pot in wiring(board(load_circuit("gated-swept"))).pots if pot.control == "volume knob")
    assert volume.gangs[0].lugs[0].net == "bias"
    assert volume.check == ((0.0, "0R"), (5.0, "20k"), (10.0, "100k"))


def test_switches_have_their_common_lug_in_the_middle() -> None:
    switches = {one.control: one for one in wiring(board(load_circuit("gated-swept"))).switches}
    assert [lug.net for lug in switches["drive"].poles[0].lugs] == ["latch", "clock", "not latch"]
    assert [lug.name for lug in switches["peak"].poles[1].lugs] == ["flat", "common", "peaked"]
    assert len(switches["peak"].poles) == 2


@pytest.mark.parametrize("case", ["gated-swept", "two-octaves", "bare"])
def test_a_lug_names_two_of_the_parts_it_goes_to_and_says_whether_there_are_more(case: str) -> None:
    made = board(circuit_of(case))
    wired, counts = wiring(made), Counter[int]()
    gangs = [gang for one in wired.pots for gang in one.gangs] + [pole for one in wired.switches for pole in one.poles]
    for gang in gangs:
        for lug in gang.lugs:
            ends = {part.reference for part in made.components if lug.net in dict(part.pins).values()}
            packages = {part.reference for part in made.components if part.kind == "package"}
            others = ends - packages - {gang.reference}
            named = [one.split()[0] for one in lug.leads.removesuffix(" …").split(", ") if one]
            assert set(named) <= others
            assert len(named) == len(set(named)) == min(2, len(others))
            assert lug.leads.endswith(" …") is (len(others) > 2)
            counts[min(3, len(others))] += 1
    assert counts[2] > 0
    assert counts[3] > 0


@pytest.mark.parametrize(
    "words",
    [
        "A battery and an external supply must never feed the board together",
        "The supply jack’s switch has to take the battery off",
        "plus of the jack",
        "Capacitors keep their charge",
        "through 1\xa0kΩ until a meter reads nothing",
        "CMOS parts die of static",
        "Wear glasses",
        "fumes",
        "never open it",
        "by the rules of the place you live in",
        "harm hearing",
        "loudspeaker’s cone",
        "The least threshold is 15.0\xa0mV",
    ],
)
def test_the_cautions_are_there(pages: Pages, words: str) -> None:
    assert words in Page(pages["gated-swept"]).text


def test_what_matters_before_power_stands_ahead_of_the_first_reading(pages: Pages) -> None:
    text = pages["gated-swept"]
    first, reading = text.index("Never two supplies at once"), text.index("1. No signal")
    assert text.index('id="bench"') < first < text.index("Polarity.") < reading
    assert text.count("Never two supplies at once") == 2


def test_a_sheet_is_written_and_known_again(pages: Pages, tmp_path: Path) -> None:
    circuit, path = load_circuit("gated-open"), tmp_path / "sheet.html"
    report = write_sheet(circuit, path)
    first = path.read_bytes()
    assert first.decode() == pages["gated-open"]
    assert first.rpartition(SHEETS.before.encode())[1]
    assert report.parts == sum(line.quantity for line in parts_list(board(circuit)))
    write_sheet(circuit, path)
    assert path.read_bytes() == first
    path.write_bytes(first.replace(b"Build sheet.", b"My notes."))
    with pytest.raises(OutputError, match="was changed since"):
        write_sheet(circuit, path)
    write_sheet(circuit, path, overwrite=True)
    assert path.read_bytes() == first


def test_a_sheet_that_cannot_be_is_refused_ahead_of_the_work(tmp_path: Path) -> None:
    circuit = load_circuit("gated-open")
    with pytest.raises(OutputError, match=r"must end in \.html, as sheets do, got '\.pdf'"):
        write_sheet(circuit, tmp_path / "sheet.pdf")
    with pytest.raises(OutputError, match="folder does not exist"):
        write_sheet(circuit, tmp_path / "no" / "sheet.html")
    page = tmp_path / "page.html"
    page.write_text("<p>mine</p>", encoding="utf-8")
    with pytest.raises(OutputError, match="was not made by sublatch"):
        write_sheet(circuit, page)
    with pytest.raises(OutputError, match="so it cannot be written to as well"):
        write_sheet(circuit, page, inputs=[page], overwrite=True)
    with pytest.raises(CircuitError, match=r"detector\.floor must lie between"):
        write_sheet(load_circuit("gated-open", changes={"detector.floor": 5.0}), tmp_path / "other.html")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["page.html"]


@pytest.mark.long
def test_a_reading_that_a_plain_meter_cannot_tell_is_told_as_such() -> None:
    """Plain meters resolve a millivolt or less (common practice, no source)."""
    circuit = circuit_of("swept-state-variable")
    table = bench_table(board(circuit))
    rows = [*table.held_still, *table.response, *table.octave_sounding]
    little = [amount(row.rms_v, "V") for row in rows if row.high_v < 1e-3]
    assert 0 < len(little) < len(rows)
    assert re.findall("too little for a plain meter: ([^<]+)<", build_sheet(circuit)) == little
