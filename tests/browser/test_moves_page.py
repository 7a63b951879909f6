"""What the listening page shows of controls that are moved while a take plays, against where the program has them."""

from __future__ import annotations

import pytest

from listening_pages import Watched, write_audition
from sublatch.audition.plan.load import load_audition
from sublatch.signal.moves import position_at

pytestmark = pytest.mark.long

SECONDS = 4.0
MORE = """
[[candidates]]
name = "moved"
circuit = "gated-swept"
set = { "knobs.tone" = 2 }
moves = [
    { control = "knobs.tone", to = 8, start = "0.5s", end = "1.5s" },
    { control = "switches.peak", to = "peaked", start = "1.25s" },
    { control = "knobs.tone", to = 0.3, start = "1.5s", end = "1.9s" },
    { control = "knobs.tone", to = 5, start = "3s", end = "3.7s" },
    { control = "engaged", to = false, start = "2.2s" },
    { control = "engaged", to = true, start = "2.9s" },
]
"""
PLACE, NAME = 4, "moved"
TIMES = [*(number / 40 for number in range(161)), 0.5, 1.5, 1.9, 1.2499999, 1.25, 2.2, 2.9, 1 / 3, 2 / 3]


@pytest.fixture(scope="module")
def folder(chromium, tmp_path_factory):
    return write_audition(tmp_path_factory.mktemp("moved"), seconds=SECONDS, takes=1, tones=(2, 8), more=MORE)


@pytest.fixture
def page(chromium, folder):
    opened = Watched(chromium, viewport={"width": 1200, "height": 900})
    opened.open(folder)
    opened.ready()
    yield opened.page
    opened.close()


def seek(page, seconds):
    """Press the wave at a time."""
    wave = page.locator(".wave svg")
    wave.scroll_into_view_if_needed()
    box = wave.bounding_box()
    page.mouse.click(box["x"] + box["width"] * seconds / SECONDS, box["y"] + 20)


def test_controls_stand_where_the_program_has_them(page, folder):
    candidate = load_audition(folder.parent / "plan.toml").candidates[PLACE - 1]
    assert candidate.name == NAME
    found = page.evaluate(
        """(times) => {
          const { candidates } = JSON.parse(document.getElementById('audition').textContent).takes[0];
          const { moves } = candidates.find(({ name }) => name === 'moved');
          return times.map((time) => Object.fromEntries(sublatch.moves.positions(moves, time)));
        }""",
        TIMES,
    )
    for time_s, stands in zip(TIMES, found, strict=True):
        wanted = position_at(candidate.moves, candidate.circuit, time_s)
        assert set(stands) == {"knobs.tone", "switches.peak", "engaged"}
        for control, where in stands.items():
            if control == "knobs.tone":
                assert where == pytest.approx(wanted[control], abs=1e-9), time_s
            else:
                assert where == wanted[control], (control, time_s)


def test_the_line_beside_the_clock_tells_them_while_it_is_heard(page):
    assert page.inner_text(".stands") == ""
    page.keyboard.press(str(PLACE))
    for time_s, told in (
        (0.2, "tone 2.0, peak: flat, engaged"),
        (2.5, "tone 0.3, peak: peaked, not engaged"),
        (3.9, "tone 5.0, peak: peaked, engaged"),
    ):
        seek(page, time_s)
        assert page.inner_text(".stands") == told
        assert page.get_attribute(".head", "aria-valuetext").endswith(f" seconds, {told}")
    seek(page, 1.0)
    knob = page.inner_text(".stands").split(",")[0]
    assert float(knob.removeprefix("tone ")) == pytest.approx(5.0, abs=0.1)
    page.keyboard.press("0")
    assert page.inner_text(".stands") == ""
    assert page.get_attribute(".head", "aria-valuetext").endswith(" seconds")


def test_playing_keeps_it_up_to_date(page):
    page.keyboard.press(str(PLACE))
    seek(page, 0.6)
    before = page.inner_text(".stands")
    page.keyboard.press("Space")
    page.wait_for_timeout(400)
    assert page.inner_text(".stands") != before


@pytest.mark.parametrize("width", [360, 1200])
def test_brackets_lie_over_the_wave_where_the_moves_are(page, width):
    page.set_viewport_size({"width": width, "height": 900})
    lane = page.locator(".moved svg")
    assert not lane.is_visible()
    height = page.locator(".lanes").bounding_box()["height"]
    page.keyboard.press(str(PLACE))
    assert lane.is_visible()
    assert page.locator(".lanes").bounding_box()["height"] == height  # nothing jumps
    wave = page.locator(".wave svg").bounding_box()
    spans = page.evaluate(
        """[...document.querySelectorAll('.moved g g')].map((bracket) => {
          const boxes = [...bracket.querySelectorAll('line')].map((line) => line.getBoundingClientRect());
          return [Math.min(...boxes.map((b) => b.left)), Math.max(...boxes.map((b) => b.right))];
        })"""
    )
    wanted = [(0.5, 1.5), (1.25, 1.25), (1.5, 1.9), (2.2, 2.2), (2.9, 2.9), (3.0, 3.7)]
    for found, times in zip(spans, wanted, strict=True):
        assert found == pytest.approx([wave["x"] + wave["width"] * time_s / SECONDS for time_s in times], abs=1.5)
    words = page.evaluate(
        "[...document.querySelectorAll('.moved text')].map((e) => e.getBoundingClientRect().toJSON())"
    )
    for number, one in enumerate(words):
        assert wave["x"] - 1 <= one["left"]
        assert one["right"] <= wave["x"] + wave["width"] + 1
        for other in words[:number]:
            apart = one["left"] >= other["right"] or other["left"] >= one["right"]
            assert apart or abs(one["top"] - other["top"]) >= 13
    assert page.evaluate("document.documentElement.scrollWidth") == width


def test_without_scripts_every_lane_has_its_names(chromium, folder):
    opened = Watched(chromium, java_script_enabled=False)
    opened.open(folder)
    assert opened.page.locator(".moved svg").is_visible()
    assert opened.page.inner_text(".moved p") == f"{NAME}: moved"
    row = opened.page.locator("tbody tr").nth(PLACE).inner_text()
    assert "moved: tone 2 to 8 from 0.5 s to 1.5 s; peak: peaked at 1.25 s" in row
    opened.close()
