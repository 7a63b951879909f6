"""The change sheet on a phone and a laptop, and printed on A4 and letter: nothing cut off, nothing over anything."""

from __future__ import annotations

import re

import pytest

from board_cases import circuit_of
from browsers import OUTSIDE_ITS_BOX, ROLLS, Driven
from sublatch.board.change.page.write import write_change
from sublatch.board.stripboard import search

pytestmark = pytest.mark.long

CASES = {"small": ("gated-first-order", "hardwired"), "large": ("own-networks", "swept-state-variable")}
WIDTHS = (390, 1280)
PAPERS_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN_MM = 9.0
"""Left and right in the sheet's own style."""
PX_PER_MM = 96.0 / 25.4
OVER_ONE_ANOTHER = """() => {
  const leaves = [...document.querySelectorAll("main td, main th, main p, main h2, main h4, main caption, figcaption")]
    .filter((one) => one.textContent.trim() && !one.closest("svg"));
  const boxes = leaves.map((one) => {
    const text = document.createRange();
    text.selectNodeContents(one);
    return [one, [...text.getClientRects()].filter((box) => box.width > 0.5)];
  });
  const found = [];
  for (let i = 0; i < boxes.length; i++) for (let k = i + 1; k < boxes.length; k++) {
    if (boxes[i][0].contains(boxes[k][0]) || boxes[k][0].contains(boxes[i][0])) continue;
    for (const a of boxes[i][1]) for (const b of boxes[k][1]) {
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (wide > 1 && high > 3) found.push(boxes[i][0].textContent.trim() + " | " + boxes[k][0].textContent.trim());
    }
  }
  return found.slice(0, 5);
}"""
BEYOND_THE_PAPER = """() => [...document.querySelectorAll("body *")].filter((one) => {
  const box = one.getBoundingClientRect();
  return box.width > 0 && (box.left < -0.5 || box.right > innerWidth + 1.0);
}).map((one) => one.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module", params=CASES)
def written(request, tmp_path_factory):
    path = tmp_path_factory.mktemp(request.param) / "change.html"
    with pytest.MonkeyPatch.context() as patch:  # the smallest board is not looked for here
        patch.setattr(search, "STEPS", 60_000)
        patch.setattr(search, "MORE_STEPS", 0)
        write_change(*(circuit_of(case) for case in CASES[request.param]), path)
    return request.param, path


@pytest.fixture
def page(written, chromium):
    opened = Driven(chromium)
    requests = []
    opened.page.on("request", lambda request: requests.append(request.url))
    opened.open(written[1])
    yield opened
    assert requests == [written[1].as_uri()]
    opened.close()


def test_no_screen_is_too_narrow(page):
    for width in WIDTHS:
        page.size(width)
        assert page.js("document.documentElement.scrollWidth") <= width
        assert page.js(f"({OUTSIDE_ITS_BOX})()") == []
        assert set(page.js(f"({ROLLS})('.roll, figure, .pictures')")) <= {"auto"}
        assert page.js(f"({OVER_ONE_ANOTHER})()") == []
    assert page.js(f"({ROLLS})('.roll, figure, .pictures')") == []  # the wide screen shows all


def test_nothing_is_beyond_the_paper_or_over_anything(page):
    page.page.emulate_media(media="print")
    for width_mm, _ in PAPERS_MM.values():
        page.size(int((width_mm - 2 * MARGIN_MM) * PX_PER_MM))
        assert page.js(f"({BEYOND_THE_PAPER})()") == []
        assert page.js(f"({OVER_ONE_ANOTHER})()") == []


def test_a_change_of_ordinary_size_takes_two_pages(written, page):
    name, _ = written
    page.js("document.getElementById('small-board').remove()")  # it has pages of its own
    for paper in PAPERS_MM:
        data = page.page.pdf(format=paper, print_background=True)
        pages = len(re.findall(rb"/Type\s*/Page[^s]", data))
        assert pages == 2 if name == "small" else pages > 2


def test_the_small_board_is_printed_as_large_as_it_is(written, page):
    page.page.emulate_media(media="print")
    page.size(int((PAPERS_MM["A4"][0] - 2 * MARGIN_MM) * PX_PER_MM))
    boxes = page.js(
        "[...document.querySelectorAll('#small-board svg')].map((one) => "
        "[one.getAttribute('aria-label'), one.getBoundingClientRect().width])"
    )
    rulers = [width for name, width in boxes if name == "Ruler, 50 mm"]
    assert rulers == [pytest.approx(54.0 * PX_PER_MM, rel=2e-3)]  # 2 mm beyond each end


LEAST_PT = {"small": 7.8, "large": 8.5}
"""A change that takes two pages is in smaller type, so that it does."""


def test_the_printed_type_is_large_enough_to_read_at_the_bench(written, page):
    page.page.emulate_media(media="print")
    page.size(int((PAPERS_MM["A4"][0] - 2 * MARGIN_MM) * PX_PER_MM))
    sizes = page.js(
        "[...document.querySelectorAll('#work td, #parts td, #wiring td, #points td, #checks td, #small-board td')]"
        ".map((one) => parseFloat(getComputedStyle(one).fontSize) * one.currentCSSZoom * 0.75)"
    )
    assert min(sizes) > LEAST_PT[written[0]] - 0.01


def test_each_page_says_whether_it_is_of_the_change_or_of_the_small_board(page):
    rules = page.js(
        "[...document.styleSheets].flatMap((sheet) => [...sheet.cssRules]).map((rule) => rule.cssText)"
        ".filter((text) => text.startsWith('@page')).join(' ')"
    )
    assert '"change, page " counter(page) " of " counter(pages)' in rules
    assert '"small board, page " counter(page) " of " counter(pages)' in rules
    page.page.emulate_media(media="print")
    assert page.js("getComputedStyle(document.getElementById('small-board')).page") == "board"
