"""The build sheet on the screens it is read on: a phone beside the iron, a laptop; it asks for nothing on either."""

from __future__ import annotations

import pytest

from board_cases import circuit_of
from browsers import OUTSIDE_ITS_BOX, ROLLS, Driven
from sublatch.board.sheet.write import write_sheet

pytestmark = pytest.mark.long

CASES = ["gated-swept", "polarity-third-order", "gated-swept-overtone", "own-networks", "bare"]
WIDTHS = (320, 390, 800, 1280)


@pytest.fixture(scope="module", params=CASES)
def sheet(request, tmp_path_factory):
    path = tmp_path_factory.mktemp(request.param) / "sheet.html"
    write_sheet(circuit_of(request.param), path)
    return path


@pytest.fixture
def page(sheet, chromium):
    opened = Driven(chromium)
    requests = []
    opened.page.on("request", lambda request: requests.append(request.url))
    opened.open(sheet)
    yield opened
    assert requests == [sheet.as_uri()]
    opened.close()


def test_no_screen_is_too_narrow(page):
    """The page itself never moves sideways; drawings and tables that are wider do, each in its own place."""
    for width in WIDTHS:
        page.size(width)
        assert page.js("document.documentElement.scrollWidth") <= width
        assert page.js(f"({OUTSIDE_ITS_BOX})()") == []
        assert set(page.js(f"({ROLLS})('.roll, figure')")) <= {"auto"}
    assert page.js(f"({ROLLS})('.roll, figure')") == []  # the widest screen shows all


def test_on_a_narrow_screen_readings_keep_to_one_line(page):
    """A voltage is not broken over lines, and the schematic keeps its size rather than shrinking with the screen."""
    page.size(390)
    assert page.js("""() => [...document.querySelectorAll("#bench td.n")].every((one) => {
      const text = document.createRange();
      text.selectNodeContents(one);
      return text.getClientRects().length <= 1;
    })""")
    sizes = "[...document.querySelectorAll('#schematic svg')].map((one) => one.getBoundingClientRect().width)"
    narrow = page.js(sizes)
    page.size(1280)
    wide = page.js(sizes)
    assert len(narrow) == len(wide) > 0
    assert all(a >= b - 1 for a, b in zip(narrow, wide, strict=True))
