"""The listening page: what it says, that it needs nothing else, and that no name in it becomes markup.

Published: percent-encoding and resolution of relative references as RFC 3986 has them, through the standard library's
parser; contrast as WCAG 2.1 defines it, 4.5:1 for text and 3:1 for graphics (success criteria 1.4.3 and 1.4.11; from
memory).
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from dataclasses import replace
from hashlib import sha256
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path
from urllib.parse import unquote, urljoin, urlsplit

import numpy as np
import pytest

from sublatch import __version__
from sublatch.audition.listen.candidate_lock import TakeNote
from sublatch.audition.listen.results import AuditionResult, CandidateResult, HeardBed, HeardVoicing, TakeResult
from sublatch.audition.page import MATCHING, SCRIPTS, STYLES, Pictures, render_page
from sublatch.audition.page.content import LockFigure, LockStrip, move_lanes
from sublatch.audition.page.curves import response_curves, spectrum_curves
from sublatch.audition.page.data import entries
from sublatch.audition.page.labels import COLOURS
from sublatch.audition.page.lanes import NARROW_CLASS, note_lane, time_axis, wave_lane
from sublatch.audition.page.lock_strips import lock_strip
from sublatch.audition.page.pictures import close_up_picture, response_picture
from sublatch.circuit.networks.corners import Response
from sublatch.pictures.responses import Curve
from sublatch.sampling.levels import Levels
from sublatch.signal.moves import Move
from sublatch.takes.remarks import Remark
from sublatch.tracking.lock import Dropout

VOID = {"meta", "br", "link", "img", "input", "hr"}
EXPECTED = """
html head meta title style body header main footer section nav h1 h2 h3 p strong em bdi code small ul li a dl dt dd
div figure figcaption table caption thead tbody tr th td audio span svg g path text defs rect line clippath
button fieldset legend label input kbd script details summary select option output
"""
HOSTILE = [
    "<script>alert(1)</script>",
    '" onmouseover="alert(1)',
    "' onfocus='alert(1)' autofocus='",
    "javascript:alert(1)",
    "</title></style></svg><img src=x onerror=alert(1)>",
    "{{ 7 * 7 }}{% raw %}&amp;&lt;",
    "]]><!--",
    "wide " * 40,
    "🎸 低音 \u202eright to left",
]
LEVELS = Levels(loudness_lufs=-23.04, rms_dbfs=-18.26, low_band_dbfs=-20.0, peak_dbfs=-3.3)


NOTES = (TakeNote(0.5, 2.0, 41.2, "E1", True), TakeNote(3.0, 5.0, 61.7, "B1", False))
DROPOUTS = (Dropout(1.0, 1.2, "skip"), Dropout(4.0, 4.1, "stall"), Dropout(4.5, 4.8, "stray"))


class Document(HTMLParser):
    """Elements, attributes and texts of a document, as a browser would find them."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.texts: list[tuple[tuple[str, ...], str]] = []
        self.comments: list[str] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element that begins."""
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        assert len(attrs) == len(dict(attrs)), f"an attribute twice in {tag}"
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element without content."""
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        """Require that the innermost element ends first."""
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Note a text with the elements around it."""
        self.texts.append((tuple(self._open), data))

    def handle_comment(self, data: str) -> None:
        """Note a comment."""
        self.comments.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        """Return the attributes of every element of a kind."""
        return [attributes for name, attributes in self.elements if name == tag]

    def text(self, tag: str = "body") -> str:
        """Return all text inside elements of a kind, with single spaces."""
        return " ".join("".join(text for opened, text in self.texts if tag in opened).split())


def _candidate(name: str, **changes: object) -> CandidateResult:
    whole = CandidateResult(name, "gated-swept", {}, f"audio/walk/{name}.wav", LEVELS, 0.0, 0.0)
    return replace(whole, **changes)  # type: ignore[arg-type]


def _take(name: str = "walk", *candidates: CandidateResult, **changes: object) -> TakeResult:
    bypassed = _candidate("bypassed", circuit="")
    whole = TakeResult(
        name=name,
        file=f"takes/{name}.flac",
        sample_rate=44100,
        seconds=12.34,
        full_scale_volts=2.0,
        matched_by="loudness",
        reel=f"reels/{name}.wav",
        tuning="bass-4",
        notes=NOTES,
        candidates=(bypassed, *(candidates or (_candidate("tone 5"),))),
    )
    return replace(whole, **changes)  # type: ignore[arg-type]


def _page(*takes: TakeResult, title: str = "Rehearsal", match: str = "loudness", drawn: bool = False) -> str:
    result = AuditionResult(title, match, takes)
    if not drawn:
        empty = {take.name: "<svg></svg>" for take in takes}
        return render_page(result, data=_data(*takes), pictures=Pictures(responses="<svg></svg>", close_ups=empty))
    time_ms = np.linspace(0.0, 40.0, 50)
    names = [candidate.name for candidate in takes[0].candidates]
    falling = Response(None, 0.0, None, None, 0.0, None, np.array([20.0, 2e4]), np.array([0.0, -40.0]))
    response = response_picture([Curve(name, falling) for name in names])
    close_ups = {
        take.name: close_up_picture(time_ms, [(c.name, np.sin(time_ms)) for c in take.candidates])
        for take in takes
        if not take.error
    }
    hertz = np.array([20.0, 2e4])
    pictures = Pictures(
        responses=response,
        filter_curves=response_curves(
            names[1:], frequency_hz=hertz, gains_db=[np.array([0.0, -40.0])] * len(names[1:])
        ),
        lock_figures={take.name: _lock_figure(take) for take in takes if not take.error},
        spectra={take.name: _spectrum(take) for take in takes if not take.error},
        close_ups=close_ups,
    )
    return render_page(result, data=_data(*takes), pictures=pictures)


def _data(*takes: TakeResult) -> dict[str, object]:
    """Return what the scripts are told, as short as it may be."""
    return {
        "title": "Rehearsal",
        "takes": [
            {
                "name": take.name,
                "seconds": take.seconds,
                "candidates": [{"name": c.name, "sweep": None} for c in take.candidates],
            }
            for take in takes
            if not take.error
        ],
    }


def _spectrum(take: TakeResult) -> str:
    noise = np.random.default_rng(1).normal(size=4800)
    return spectrum_curves([c.name for c in take.candidates], [noise] * len(take.candidates), sample_rate=48000)


def _lock_figure(take: TakeResult, dropouts: tuple[Dropout, ...] = DROPOUTS) -> LockFigure:
    names = [candidate.name for candidate in take.candidates[1:]]
    strip = lock_strip(NOTES, dropouts, seconds=take.seconds, names=names)
    return LockFigure(
        wave=wave_lane(np.sin(np.arange(1000.0)), name=take.name),
        notes=note_lane(NOTES, seconds=take.seconds),
        axis=time_axis(take.seconds),
        strips=(LockStrip(tuple(names), 0.9512, None, "1 skip, 1 stall, 1 stray", strip),),
        moves=move_lanes(take),
    )


def _rows(page: str) -> list[list[str]]:
    """Return the cells of every candidate's row."""
    found = []
    for row in re.findall(r"<tr.*?</tr>", page.split("<tbody", 1)[1].split("</tbody>")[0], re.DOTALL):
        cells = re.findall(r"<t[hd][ >].*?</t[hd]>", row, re.DOTALL)
        found.append([Document(f"<body>{cell}</body>").text() for cell in cells])
    return found


def test_the_page_says_what_it_is() -> None:
    page = _page(_take())
    document = Document(page)
    assert page.startswith("<!DOCTYPE html>")
    assert document.all("html") == [{"lang": "en"}]
    metas = document.all("meta")
    assert {"charset": "utf-8"} in metas
    assert {"name": "generator", "content": f"sublatch {__version__}"} in metas
    assert any(meta.get("name") == "viewport" for meta in metas)
    assert document.text("title") == "Rehearsal"
    assert document.text("h1") == "Rehearsal"
    assert "Start low" in document.text("header")


@pytest.mark.parametrize("match", ["loudness", "rms", "peak", "none"])
def test_matching_is_told(match: str) -> None:
    text = Document(_page(_take(matched_by=match), match=match)).text("footer")
    assert MATCHING[match] in text
    assert sum(sentence in text for sentence in MATCHING.values()) == 1


def test_the_page_needs_nothing_from_elsewhere() -> None:
    page = _page(_take(), _take("slide"), drawn=True)
    document = Document(page)
    links = [
        value for _, attributes in document.elements for key, value in attributes.items() if key in ("src", "href")
    ]
    assert {urlsplit(link).scheme + urlsplit(link).netloc for link in links} == {""}
    assert not re.search(r"@import|url\((?!#)|expression\(", page)
    (policy,) = [m["content"] for m in document.all("meta") if m.get("http-equiv") == "Content-Security-Policy"]
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == "'none'"
    assert rules["media-src"] == "'self' file:"
    assert set(rules) == {"default-src", "script-src", "media-src", "style-src", "base-uri", "form-action"}


def test_nothing_but_the_style_is_left_of_the_template() -> None:
    page = _page(
        _take(remarks=(Remark("hot", "hot"),), full_scale_assumed=True), _take("x", error="missing", candidates=())
    )
    outside = page.split("<style>")[0] + re.sub(r"<script.*?</script>", "", page.split("</style>")[1], flags=re.DOTALL)
    assert not re.search(r"\{\{|\}\}|\{%|Undefined|None|Markup\(", outside)
    assert "prefers-color-scheme: dark" in page


@pytest.mark.long
@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_only_text(name: str) -> None:
    bad = _candidate(name, circuit=name, settings={name: name}, file=f"audio/{name}/{name}.wav")
    failed = TakeResult(name=f"second {name}", file=name, error=name)
    page = _page(
        _take(name, bad, file=name, remarks=(Remark("hot", name),), reel=f"reels/{name}.wav"),
        failed,
        title=name,
        drawn=True,
    )
    document = Document(page)
    assert {tag for tag, _ in document.elements} <= set(EXPECTED.split())
    assert document.comments == []
    for tag, attributes in document.elements:
        assert not any(key.startswith("on") or key in ("autofocus", "srcdoc", "formaction") for key in attributes), tag
        assert all(urlsplit(attributes.get(key, "")).scheme == "" for key in ("src", "href"))
    plain = " ".join(name.split())
    for tag in ("title", "h1", "h2", "th", "td", "li", "p", "caption"):
        assert plain in document.text(tag), tag
    calm = _candidate("calm", circuit="calm", settings={"calm": "calm"})
    tame = _page(
        _take("calm", calm, remarks=(Remark("hot", "calm"),)),
        TakeResult("b", "b", error="calm"),
        title="calm",
        drawn=True,
    )
    assert _structure(document) == _structure(Document(tame))


def _structure(document: Document) -> list[str]:
    """Return the page's elements in order, but not the texts of pictures: a long name has more lines."""
    return [tag for tag, _ in document.elements if tag not in ("g", "text")]


@pytest.mark.parametrize(
    "file",
    [
        "audio/a take/tone 5.wav",
        "audio/a#b/50% ?.wav",
        'audio/it\'s/"quoted" & more.wav',
        "audio/🎸/低音.wav",
        "audio/a%20b/%.wav",
        "audio/c:d/javascript:x.wav",
        "audio/a;b/x+y=z,~.wav",
    ],
)
def test_sounds_are_found_beside_the_page(file: str) -> None:
    page = _page(_take("walk", _candidate("odd", file=file), reel=file))
    sources = [audio["src"] for audio in Document(page).all("audio")]
    assert len(sources) == 3
    for source in sources[1:]:
        found = urlsplit(urljoin("file:///home/player/my%20audition/index.html", source))
        assert unquote(found.path) == "/home/player/my audition/" + file
        assert (found.query, found.fragment) == ("", "")
        assert source.isascii()


def test_sounds_are_only_loaded_when_played() -> None:
    for audio in Document(_page(_take())).all("audio"):
        assert audio["preload"] == "none"
        assert {"controls", "src", "aria-label"} < set(audio)


def test_a_row_tells_all_about_a_candidate() -> None:
    swept = _candidate(
        "swept",
        settings={"knobs.tone": 3.5, "switches.drive": "inverted", "filter.ground_capacitor.flat": "12n"},
        levels=Levels(loudness_lufs=-30.0, rms_dbfs=-25.55, low_band_dbfs=-27.5, peak_dbfs=-9.0),
        gain_db=6.96,
        at_limit_share=0.0123,
        unity_position=7.04,
        at_limit_share_unity=0.0456,
        remarks=(Remark("lifted", "lifted by 6.9 dB <to> match"),),
        locked_share=0.95678,
        open_string_locked_share=1.0,
        median_first_lock_ms=23.7,
        p90_first_lock_ms=None,
        early_locked_share=0.5049,
        uneven_share=0.1234,
    )
    bypassed, row = _rows(_page(_take("walk", swept)))
    assert row[0] == "swept"
    assert (
        row[2]
        == "gated-swept: tone at 3.5; drive: inverted; filter ground capacitor flat: 12n lifted by 6.9 dB <to> match"
    )
    locked = ("95.7", "100", "24 / –", "50.5", "12.3")
    assert row[3:] == ["−30.0", "−25.6", "−27.5", "−9.0", "+7.0", "−0.5", "1.2", "4.6 at 7.0", *locked]
    assert bypassed[2:] == ["the take itself", "−23.0", "−18.3", "−20.0", "−3.3", "0.0", "0.0", *("–" * 7)]


def test_where_unity_lies_beyond_the_knob_a_row_says_so() -> None:
    _, row = _rows(_page(_take("walk", _candidate("weak", at_limit_share_unity=0.0))))
    assert row[10] == "0 beyond 10"


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({}, "gated-swept, as it stands"),
        ({"knobs": {"tone": 4, "direct": -0.5}}, "gated-swept: tone at 4; direct at −0.5"),
        ({"filter.kind": "first-order"}, "gated-swept: filter: first-order"),
        (
            {"filter.parts": [{"kind": "resistor", "value": "10k"}, "x"]},
            "gated-swept: filter parts: kind resistor value 10k, x",
        ),
        ({"a.b": True, "supply": "9V"}, "gated-swept: a b: yes; supply: 9V"),
    ],
)
def test_settings_are_told_in_words(settings: dict[str, object], words: str) -> None:
    assert _rows(_page(_take("walk", _candidate("x", settings=settings))))[1][2] == words


def test_what_cannot_be_told_is_a_dash() -> None:
    silent = _candidate("silent", levels=Levels(None, None, None, None))
    assert _rows(_page(_take("walk", silent)))[1][3:7] == ["–"] * 4
    assert _rows(_page(_take("walk", silent)))[1][8] == "–"


@pytest.mark.parametrize(
    ("share", "told"), [(0.0, "0"), (1e-5, "< 0.1"), (0.0006, "0.1"), (0.5, "50.0"), (1.0, "100.0")]
)
def test_a_little_clipping_is_not_taken_for_none(share: float, told: str) -> None:
    assert _rows(_page(_take("walk", _candidate("x", at_limit_share=share))))[1][9] == told


@pytest.mark.parametrize(("gain_db", "told"), [(-0.04, "0.0"), (0.04, "0.0"), (-1.0, "−1.0"), (1.0, "+1.0")])
def test_gains_have_a_sign_unless_nothing_is_left(gain_db: float, told: str) -> None:
    assert _rows(_page(_take("walk", _candidate("x", gain_db=gain_db))))[1][7] == told


def test_a_take_is_told_with_its_remarks() -> None:
    text = Document(_page(_take(remarks=(Remark("hot", "hot: lower it"), Remark("hum", "hum: look for a loop"))))).text(
        "section"
    )
    assert "takes/walk.flac, 12.3 s at 44.1 kHz, 0 dBFS is 2 V" in text
    assert "hot: lower it" in text
    assert "hum: look for a loop" in text
    assert "assumed" not in text


def test_an_assumed_full_scale_is_told() -> None:
    text = Document(_page(_take(full_scale_assumed=True, full_scale_volts=1.0))).text("section")
    assert "0 dBFS assumed to be 1 V" in text
    assert "so 1 V was assumed" in text


def test_a_take_matched_in_another_way_says_so() -> None:
    assert "here the RMS level was made equal" in Document(_page(_take(matched_by="rms"))).text("li")
    assert "here the" not in Document(_page(_take())).text("li")


def test_a_failed_take_gives_its_reason_and_the_rest_goes_on() -> None:
    page = _page(_take(), TakeResult("lost", "takes/lost.flac", error="takes/lost.flac: no such file"), _take("last"))
    document = Document(page)
    assert "This take could not be used: takes/lost.flac: no such file" in document.text("p")
    assert len(document.all("table")) == 2
    assert "lost (failed)" in document.text("nav")


def test_an_audition_of_failures_alone_can_be_shown() -> None:
    failed = AuditionResult("x", "rms", (TakeResult("lost", "lost.wav", error="gone"),))
    document = Document(render_page(failed, data=_data(), pictures=Pictures()))
    assert "gone" in document.text("p")
    assert document.all("svg") == []


def test_a_strip_is_told_beside_its_names() -> None:
    take = _take("walk", _candidate("tone 5"), _candidate("tone 6"))
    text = Document(_page(take, drawn=True)).text("section")
    assert "tone 5 · tone 6: 95.1 % locked, 1 skip, 1 stall, 1 stray" in text
    assert "open strings (bass-4)" in text
    for kind in ("skip", "stall", "stray"):
        assert f"{kind}: " in text


def test_how_much_of_what_sounds_is_not_counted_is_told() -> None:
    """In per cent, below the strips, and nothing where all is counted."""
    line = "not counted: 12.3 % of the time in which the take sounds"
    told = Document(_page(_take(uncounted_share=0.1234), drawn=True)).text("li")
    assert line in told
    assert "unsure" not in told
    unsure = Document(_page(_take(uncounted_share=0.1234, unsure_share=0.0456), drawn=True)).text("li")
    assert f"{line}; notes of unsure octave are 4.6 % of all notes’ time" in unsure
    for share in (None, 0.0):
        assert "not counted" not in Document(_page(_take(uncounted_share=share), drawn=True)).text()


def test_what_was_not_counted_as_a_note_is_told() -> None:
    remark = "not counted: dead notes, 2 × from 4.06 s"
    assert remark in Document(_page(_take(note_remarks=(Remark("not-counted", remark),)), drawn=True)).text("li")
    without = Document(_page(_take(notes=(), note_remarks=(Remark("no-notes", "no notes: <b>"),)), drawn=True))
    assert "There is no note in it" in without.text("section")
    assert "no notes: <b>" in without.text("li")
    assert not [svg for svg in without.all("svg") if "Notes:" in svg.get("aria-label", "")]


def test_names_without_room_are_hidden_on_a_narrow_screen_alone() -> None:
    style = files("sublatch.audition.page").joinpath("style.css").read_text(encoding="utf-8")
    narrow = style.split("@media screen and (max-width: 46rem)")[1].split("@media print")[0]
    assert f".{NARROW_CLASS} {{ display: none; }}" in narrow
    assert style.count(NARROW_CLASS) == 1


def test_a_take_without_reel_or_close_up_can_be_shown() -> None:
    result = AuditionResult("x", "rms", (_take(reel=None, matched_by="rms"),))
    document = Document(render_page(result, data=_data(_take()), pictures=Pictures()))
    assert len(document.all("audio")) == 2
    assert document.all("figure") == []


@pytest.mark.parametrize(
    ("voicing", "bed", "told"),
    [
        (
            "loudspeaker",
            None,
            "Heard through a plain loudspeaker. The reel is the same; the files are without, though ",
        ),
        ("own <b>.wav", 0.0, "Heard through own <b>.wav and with the bed beat.wav, as loud as the bypassed take. The"),
        (None, -3.0, "Heard with the bed beat.wav, 3.0 dB softer than the bypassed take. The reel is the same; "),
        (None, 2.0, "Heard with the bed beat.wav, 2.0 dB louder than the bypassed take. The reel is the same; "),
    ],
)
def test_what_a_take_is_heard_through_and_with_is_told(voicing: str | None, bed: float | None, told: str) -> None:
    take = _take(
        voicing=voicing and HeardVoicing(voicing, "v", "places/walk/voicing.js", 0.0, 64),
        bed=None if bed is None else HeardBed("beat.wav", "b", "places/walk/bed.js", 0.0, bed, 9.0),
    )
    page = Document(_page(take, drawn=True))
    assert told in page.text("p")
    assert ("though matched for it" in page.text("p")) == (voicing is not None)
    assert [box["data-heard"] for box in page.all("input") if "data-heard" in box] == [
        *(["voicing"] if voicing else []),
        *(["bed"] if bed is not None else []),
    ]
    assert ("turns the loudspeaker on and off" in page.text("footer")) == (voicing is not None)


def test_without_a_place_there_is_nothing_to_turn() -> None:
    page = Document(_page(_take(), drawn=True))
    assert not [box for box in page.all("input") if "data-heard" in box]
    assert "Heard" not in page.text("fieldset") + page.text("p")


def test_moves_are_in_the_table_and_over_the_wave() -> None:
    moves = (Move("knobs.tone", 2.0, 8.0, 1.0, 3.0), Move("switches.peak", "flat", "peaked", 4.0))
    take = _take("walk", _candidate("still"), _candidate("<moved>", moves=moves), _candidate("too", moves=moves))
    page = _page(take, drawn=True)
    words = "tone 2 to 8 from 1 s to 3 s; peak: peaked at 4 s"
    assert _rows(page)[2][2] == f"gated-swept, as it stands; moved: {words}"
    document = Document(page)
    (lane,) = [svg for svg in document.all("svg") if svg.get("aria-label", "").startswith("Moves:")]
    assert lane["aria-label"] == f"Moves: {words}."
    assert "2 3" in [div.get("data-of") for div in document.all("div")]
    assert "<moved> · too: moved" in document.text("p")


@pytest.mark.parametrize(("seconds", "told"), [(12.34, "0:13"), (12.7, "0:13"), (58.99, "0:59"), (59.0, "1:00")])
def test_a_start_in_the_reel_is_told_no_later_than_it_is(seconds: float, told: str) -> None:
    assert f"tone 5 {told}." in Document(_page(_take(seconds=seconds))).text("p")


def test_every_picture_has_words_for_it() -> None:
    moves = (Move("knobs.tone", 2.0, 8.0, 1.0, 3.0),)
    page = _page(_take("walk", _candidate("tone 5", moves=moves)), drawn=True)
    for picture in re.findall(r"<svg\b[^>]*>", page):
        if 'aria-hidden="true"' in picture:
            continue
        assert 'role="img"' in picture
        assert re.search(r'aria-label="[^"]{10,}"', picture), picture
    hidden = re.findall(r"<svg\b[^>]*aria-hidden.*?</svg>\s*(<\S+)", page, re.DOTALL)
    axis, *marks = hidden  # the axis is of seconds, the marks have their words beside them
    assert axis == "</div>"
    assert marks == [f"<span><strong>{kind}</strong>:" for kind in ("skip", "stall", "stray")]


def test_tables_and_pictures_can_be_read_aloud() -> None:
    document = Document(_page(_take(), _take("slide"), drawn=True))
    assert {th.get("scope") for th in document.all("th")} == {"col", "colgroup", "row"}
    assert len(document.all("caption")) == 2
    assert len(document.all("figcaption")) == len(document.all("figure")) == 7
    pictures = [svg for svg in document.all("svg") if svg.get("aria-hidden") != "true"]
    assert all(svg["role"] == "img" for svg in pictures)
    assert len([svg for svg in pictures if "tone 5" in svg["aria-label"]]) == 9
    assert [svg["aria-label"] for svg in pictures if svg["aria-label"].startswith("Notes:")] == [
        "Notes: E1 open at 0.5 s, B1 at 3.0 s."
    ] * 2
    assert len([svg for svg in pictures if "loses lock 3 times" in svg["aria-label"]]) == 2
    names = [attributes["id"] for _, attributes in document.elements if "id" in attributes]
    assert len(names) == len(set(names))
    targets = [attributes["aria-labelledby"] for _, attributes in document.elements if "aria-labelledby" in attributes]
    targets += [a["href"].removeprefix("#") for a in document.all("a") if a["href"].startswith("#")]
    assert set(targets) <= set(names)


def test_the_scripts_are_the_packages_and_the_policy_names_each() -> None:
    page = _page(_take())
    (policy,) = [m["content"] for m in Document(page).all("meta") if m.get("http-equiv") == "Content-Security-Policy"]
    allowed = re.search(r"script-src ([^;]*);", policy)
    assert allowed
    inline = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    hashes = [f"'sha256-{b64encode(sha256(script.encode()).digest()).decode()}'" for script in inline]
    assert allowed[1].split() == ["'self'", "file:", "data:", *hashes]
    parts = files("sublatch.audition.page")
    assert len(inline) == len(SCRIPTS) == len(list(Path(str(parts), "scripts").rglob("*.js")))
    assert {path.name for path in parts.iterdir() if path.name.endswith(".css")} == set(STYLES)
    for script, name in zip(inline, SCRIPTS, strict=True):
        assert script.strip() == parts.joinpath("scripts", f"{name}.js").read_text(encoding="utf-8").strip()


@pytest.mark.parametrize("name", HOSTILE)
def test_the_scripts_are_told_a_name_as_it_is(name: str) -> None:
    page = _page(_take(name, _candidate(name)), title=name)
    (data,) = re.findall(r'<script type="application/json" id="audition">(.*?)</script>', page, re.DOTALL)
    assert not re.search("[<>&\u2028\u2029]", data)
    assert json.loads(data)["takes"][0]["candidates"][1]["name"] == name


def test_every_candidate_can_be_chosen_and_a_sweep_is_one_line() -> None:
    names = ["bypassed", "plain", "tone 2", "tone 5", "volume 1", "volume 9"]
    sweeps = [None, None, *(("tone", value, order) for order, value in enumerate("25"))]
    sweeps += [("volume", value, order) for order, value in enumerate("19")]
    data = [
        {"name": name, "sweep": sweep and dict(zip(("name", "position", "order"), sweep, strict=True), label="knob")}
        for name, sweep in zip(names, sweeps, strict=True)
    ]
    found = entries(data)
    assert [(e.key, e.name, e.candidates, e.positions) for e in found] == [
        ("0", "bypassed", (0,), ()),
        ("1", "plain", (1,), ()),
        ("2", "tone", (2, 3), ("2", "5")),
        ("3", "volume", (4, 5), ("1", "9")),
    ]
    many = entries([{"name": str(n), "sweep": None} for n in range(13)])
    assert [e.key for e in many] == [*"0123456789", "", "", ""]


def test_header_cells_cover_the_same_columns_as_the_rows() -> None:
    page = _page(_take())
    head, body = (re.search(f"<{part}.*?</{part}>", page, re.DOTALL) for part in ("thead", "tbody"))
    assert head
    assert body
    widths = [
        [
            sum(int(cell.get("colspan", 1)) for tag, cell in Document(row).elements if tag in ("th", "td"))
            for row in rows
        ]
        for rows in (re.findall(r"<tr.*?</tr>", part.group(), re.DOTALL) for part in (head, body))
    ]
    assert {width for part in widths for width in part} == {16}
    plays = [
        [("play" in cell.get("class", "")) for tag, cell in Document(row).elements if tag in ("th", "td")]
        for row in re.findall(r"<tr.*?</tr>", page, re.DOTALL)
    ]
    assert all(play[1] and sum(play) == 1 for play in plays), "what is left out in print is the second column"


def test_colours_stand_out_by_day_and_by_night() -> None:
    day, night = _schemes()
    for scheme in (day, {**day, **night}):
        for name in ("ink", "quiet", "warn", "link", "heard", "before"):
            for ground in ("paper", "tint"):
                assert _contrast(scheme[name], scheme[ground]) >= 4.5, (name, ground)
        for number, colour in enumerate(COLOURS, start=1):
            assert _contrast(scheme.get(f"curve-{number}", colour), scheme["paper"]) >= 3.0, number
    assert {f"curve-{number}" for number in range(1, len(COLOURS) + 1)} <= set(night)


def _schemes() -> tuple[dict[str, str], dict[str, str]]:
    """Return the colours of the style, by day and what differs by night."""
    style = files("sublatch.audition.page").joinpath("style.css").read_text(encoding="utf-8")
    day, night = re.findall(r":root \{(.*?)\}", style, re.DOTALL)[:2]
    first, second = (dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", part)) for part in (day, night))
    return first, second


def _contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours."""
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    """Return the relative luminance of "#rrggbb"."""
    values = [int(colour[start : start + 2], 16) / 255.0 for start in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in values]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
