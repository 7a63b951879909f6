"""The page as a desk: takes as tabs, one screen, swapping, dropouts, zoom, hidden names, verdicts kept and saved."""

from __future__ import annotations

import json

import pytest

from browsers import Driven, wait
from listening_pages import NAMES, Watched, write_audition
from sublatch.audition.verdicts.added_up import read_verdicts

MANY = "\n".join(
    f'[[candidates]]\nname = "number {n}"\ncircuit = "gated-open"\nset = {{ "knobs.volume" = {n / 10} }}'
    for n in range(6)
)
IN_SIGHT = """(places) => places.filter((place) => [...document.querySelectorAll(`.shown ${place}`)].some((one) => {
  const box = one.getBoundingClientRect();
  return one.checkVisibility() && (box.top < 0 || box.left < 0 || box.bottom > innerHeight || box.right > innerWidth);
}))"""
SHOWN = "document.querySelector('.take.shown')"


@pytest.fixture(scope="module")
def folder(chromium, tmp_path_factory):
    return write_audition(tmp_path_factory.mktemp("desk"), takes=3, more=MANY)


@pytest.fixture
def watched(chromium, folder):
    opened = Watched(chromium, viewport={"width": 1280, "height": 800})
    opened.open(folder)
    opened.ready()
    yield opened
    opened.close()


@pytest.fixture
def page(watched):
    return watched.page


def heard(page):
    return page.inner_text(".shown .name")


def data(page):
    return json.loads(page.evaluate("document.getElementById('audition').textContent"))


def place(page):
    return float(page.inner_text(".shown [data-show=time]"))


def looped(page):
    """Return the ends of the shown take's loop as they are read aloud, None without one."""
    if page.get_attribute(".shown [data-do=loop]", "aria-pressed") != "true":
        return None
    return [float(end.get_attribute("aria-valuenow")) for end in page.query_selector_all(".shown .end")]


def marks(page):
    return {
        row.locator("bdi").inner_text(): row.locator(".mark").inner_text()
        for row in page.locator(".shown .choice").all()
    }


def test_all_that_one_listens_and_decides_with_is_on_one_screen(page):
    for press in ("", "1", "4", "s"):
        if press:
            page.keyboard.press(press)
        assert page.evaluate("[document.documentElement.scrollHeight, document.documentElement.scrollWidth]") == [
            800,
            1280,
        ]
        places = [
            ".transport",
            ".seeking",
            ".wave",
            ".strips",
            ".notes",
            ".axis",
            ".name",
            ".verdict",
            ".curves",
            ".bars",
        ]
        assert page.evaluate(IN_SIGHT, [*places, ".choice.heard"]) == []
    assert not page.locator(".shown .figures").is_visible()


def test_few_words_stand_before_play(page):
    before = page.evaluate(
        """(() => {
          const play = document.querySelector('.shown [data-do=play]');
          const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
          let words = 0;
          while (texts.nextNode()) {
            const { currentNode: text } = texts;
            if (play.contains(text)) return words;
            const seen = text.parentElement.checkVisibility() && !text.parentElement.closest('script');
            words += seen ? text.textContent.trim().split(/\\s+/).filter(Boolean).length : 0;
          }
        })()"""
    )
    assert before < 45


def test_the_caution_goes_when_playing_starts(page):
    seen = "document.querySelector('.caution').checkVisibility({ visibilityProperty: true })"
    assert page.evaluate(seen)
    page.keyboard.press("Space")
    wait(page, f"!{seen}")


def test_the_candidate_goes_along_to_another_take_and_place_and_loop_stay(page):
    page.keyboard.press("2")
    page.keyboard.press("n")
    own = looped(page)
    note = data(page)["takes"][0]["notes"][0]
    assert own == pytest.approx([note["start_s"], note["end_s"]], abs=0.006)
    page.locator("nav a").nth(1).click()
    assert heard(page) == NAMES[1]
    assert (looped(page), place(page)) == (None, 0.0)
    page.keyboard.press("1")
    page.keyboard.press(",")
    assert (heard(page), looped(page)) == (NAMES[0], own)
    page.keyboard.press("s")
    assert heard(page) == NAMES[1]
    for _ in range(3):
        page.keyboard.press(".")
    assert looped(page) == own


def test_tabs_are_walked_by_arrows_and_told_as_tabs(page):
    page.locator("nav a").first.focus()
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.activeElement.getAttribute('aria-selected')") == "true"
    assert page.evaluate(f"{SHOWN} === document.querySelectorAll('.take')[1]")
    page.keyboard.press("End")
    assert page.evaluate(f"{SHOWN} === document.querySelectorAll('.take')[2]")
    roles = page.evaluate("[...document.querySelectorAll('nav [role]')].map((one) => one.role)")
    assert roles == ["tablist", *["presentation", "tab"] * 3]


def test_the_last_two_are_swapped(page):
    page.keyboard.press("1")
    page.keyboard.press("3")
    for name in (NAMES[0], NAMES[2], NAMES[0]):
        page.click(".shown [data-do=swap]")
        assert heard(page).strip() == name.strip()


def test_the_next_dropout_is_gone_to_in_turn_and_round(page):
    page.keyboard.press("d")
    assert page.inner_text(".aside") == "What you hear has no dropout on this take."
    page.keyboard.press("2")
    dropouts = data(page)["takes"][0]["candidates"][2]["dropouts"]
    assert len(dropouts) >= 1
    found = []
    for _ in range(len(dropouts) + 1):
        page.keyboard.press("d")
        found.append(page.inner_text(".aside"))
    told = [f"{d['kind']} at {d['start_s']:.2f} seconds, {n} of {len(dropouts)}" for n, d in enumerate(dropouts, 1)]
    assert set(found) == set(told)
    assert place(page) == pytest.approx(max(dropouts[told.index(found[-1])]["start_s"] - 0.5, 0.0), abs=0.051)


def test_enlarged_the_lanes_roll_and_a_press_lies_where_it_is(page):
    width = page.locator(".shown .lanes").bounding_box()["width"]
    page.keyboard.press("+")
    page.keyboard.press("+")
    lanes = page.locator(".shown .lanes").bounding_box()
    assert lanes["width"] == pytest.approx(4 * width, rel=1e-3)
    page.evaluate("document.querySelector('.shown .roll').scrollLeft = 1e6")
    roll = page.locator(".shown .roll").bounding_box()
    page.mouse.click(roll["x"] + roll["width"] / 2, roll["y"] + 20)
    assert place(page) == pytest.approx(4.0 * 7 / 8, abs=0.06)
    ticks = page.evaluate("[...document.querySelectorAll('.shown .ticks span')].map((one) => Number(one.textContent))")
    assert ticks == pytest.approx([n / 10 for n in range(41)])
    assert page.evaluate("document.documentElement.scrollWidth") == 1280
    page.keyboard.press("-")
    page.keyboard.press("-")
    assert page.locator(".shown .lanes").bounding_box()["width"] == width


def test_one_picture_is_shown_at_a_time_on_every_take(page):
    panes = """[...document.querySelectorAll('.shown .curves [data-pane]')].filter(e => e.checkVisibility())
      .map(e => e.dataset.pane)"""
    assert page.evaluate(panes) == ["response"]
    page.keyboard.press("p")
    assert page.evaluate(panes) == ["spectrum"]
    page.keyboard.press(".")
    assert page.evaluate(panes) == ["spectrum"]


def test_bars_tell_the_balance(page):
    page.keyboard.press("2")
    balance = data(page)["takes"][0]["candidates"][2]["balance"]
    for key in ("weight_db", "body_db", "bite_db"):
        bar = page.locator(f".shown [data-bar={key}]")
        told = float(bar.locator(".amount").inner_text().removesuffix(" dB").replace("−", "-"))
        assert told == pytest.approx(balance[key], abs=0.0501)
        track, fill = bar.locator(".track").bounding_box(), bar.locator(".fill").bounding_box()
        length = fill["width"] / (track["width"] / 2) * 12
        assert length == pytest.approx(min(abs(balance[key]), 12.0), abs=0.3)
        middle = track["x"] + track["width"] / 2
        side = fill["x"] + fill["width"] / 2 - middle
        assert side * balance[key] >= 0 or abs(balance[key]) < 0.1


def test_the_list_is_searched_ordered_and_rid_of_what_is_out(page):
    names = """[...document.querySelectorAll('.shown .choice')].filter(e => !e.hidden)
      .map(e => e.querySelector('bdi').textContent)"""
    everything = page.evaluate(names)
    assert len(everything) == 11
    page.fill(".shown [data-sift=words]", "number")
    assert page.evaluate(names) == ["bypassed", *[f"number {n}" for n in range(6)]]  # what is heard stays
    page.fill(".shown [data-sift=words]", "")
    page.select_option(".shown [data-sift=order]", "bite_db")
    candidates = data(page)["takes"][0]["candidates"]
    bites = {one["name"]: one["balance"]["bite_db"] for one in candidates if one["balance"]}
    ordered = [bites[name] for name in page.evaluate(names) if name in bites]
    assert ordered == sorted(ordered, reverse=True)
    page.select_option(".shown [data-sift=order]", "plan")
    assert page.evaluate(names) == everything
    page.keyboard.press("Escape")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("2")
    page.keyboard.press("o")
    page.keyboard.press("1")
    page.locator(".shown .sifting label").click()
    assert page.evaluate(names) == [name for name in everything if name != NAMES[1]]
    page.keyboard.press("ArrowDown")  # past what is hidden
    assert heard(page).strip() == NAMES[2].strip()


def test_verdicts_and_notes_are_kept_and_saved_and_read_back(page, folder, tmp_path):
    page.keyboard.press("1")
    page.keyboard.press("k")
    page.keyboard.press("e")
    page.keyboard.type("kind to fingers, 0 k")
    page.keyboard.press("Enter")
    page.keyboard.press("3")
    page.click(".shown [data-verdict=out]")
    page.keyboard.press(".")
    page.keyboard.press("3")
    page.keyboard.press("m")
    page.keyboard.press("m")  # taken back
    assert page.inner_text("[data-tool=save]") == "Save *"
    page.reload()
    wait(page, "document.querySelector('.take.ready')")
    told = marks(page)
    assert (told[NAMES[0]], told[NAMES[2]]) == ("keep", "out")
    assert sum(bool(mark) for mark in told.values()) == 2
    page.keyboard.press("1")
    assert page.input_value(".shown [data-note]") == "kind to fingers, 0 k"
    assert page.get_attribute(".shown [data-verdict=keep]", "aria-pressed") == "true"
    page.keyboard.press("r")
    page.fill(".overview [type=text]", "Ann")
    with page.expect_download() as coming:
        page.click(".overview .line button >> nth=0")
    path = tmp_path / coming.value.suggested_filename
    coming.value.save_as(path)
    page.keyboard.press("Escape")
    found = read_verdicts([path])
    results = data(page)
    assert (found.listeners, found.plan) == (("Ann",), "plan.toml")
    counts = {one.name: (one.keep, one.maybe, one.out) for one in found.candidates if one.keep or one.maybe or one.out}
    assert counts == {NAMES[0]: (1, 0, 0), NAMES[2]: (0, 0, 1)}
    (kept,) = found.kept
    assert [(said.take, said.text) for said in kept.notes] == [(results["takes"][0]["name"], "kind to fingers, 0 k")]
    assert {one.name for one in found.candidates} == {one["name"] for one in results["takes"][0]["candidates"]}
    assert page.inner_text("[data-tool=save]") == "Save"


def test_a_verdict_on_an_earlier_sound_says_so(page):
    page.keyboard.press("1")
    page.keyboard.press("k")
    assert page.inner_text(".shown .earlier") == ""
    page.evaluate(
        """() => {
          const place = Object.keys(localStorage).find((key) => key.startsWith('sublatch'));
          localStorage.setItem(place, localStorage.getItem(place).replace(/sha256:[0-9a-f]/, 'sha256:x'));
        }"""
    )
    page.reload()
    wait(page, "document.querySelector('.take.ready')")
    page.keyboard.press("1")
    assert page.inner_text(".shown .earlier") == "Decided before it was rendered anew."
    page.keyboard.press("m")
    assert page.inner_text(".shown .earlier") == ""


def test_the_overview_shows_every_verdict_and_leads_there(page):
    page.keyboard.press("2")
    page.keyboard.press("k")
    page.keyboard.press(".")
    page.keyboard.press("o")
    page.keyboard.press("r")
    cells = page.locator(".overview tbody tr").nth(2).locator("button").all_inner_texts()
    assert cells == ["keep", "out", "·"]
    names = page.locator(".overview tbody th").all_inner_texts()
    assert names == ["bypassed", *(one["name"] for one in data(page)["takes"][0]["candidates"][1:])]
    page.locator(".overview tbody tr").nth(5).locator("button").nth(2).click()
    assert not page.locator(".overview").is_visible()
    assert page.evaluate(f"{SHOWN} === document.querySelectorAll('.take')[2]")
    assert heard(page) == names[5]


def test_where_the_browser_keeps_nothing_it_says_so_and_asks_before_leaving(chromium, folder):
    driven = Driven(chromium)
    refuse = "Storage.prototype.setItem = () => { throw new DOMException('no room', 'QuotaExceededError'); };"
    driven.page.add_init_script(refuse)
    driven.open(folder / "index.html")
    driven.wait("document.querySelector('.take.ready')")
    assert not driven.asks_before_leaving()
    driven.wait("document.querySelector('.take.ready')")
    driven.page.click(".shown [data-verdict=keep]")
    assert "This browser keeps no verdicts for this page" in driven.page.inner_text(".shown .trouble")
    assert driven.asks_before_leaving()
    driven.close()


def test_hidden_names_are_letters_on_the_same_player(page):
    page.keyboard.press("1")
    page.keyboard.press("k")
    page.keyboard.press("Space")
    wait(page, "document.querySelector('.take.playing')")
    page.keyboard.press("a")
    assert page.evaluate("Boolean(document.querySelector('.take.playing'))")
    letters = page.locator(".shown .lettered .who").all_inner_texts()
    assert letters == [*"ABCDEFGHIJKLM"]
    assert set(page.locator(".shown .lettered .mark").all_inner_texts()) == {""}  # an earlier verdict would tell
    names = [one["name"] for one in data(page)["takes"][0]["candidates"]]
    for key in ("0", "3", "ArrowDown", "7", "s", "k"):
        page.keyboard.press(key)
        seen = page.evaluate("document.querySelector('.shown').innerText + document.querySelector('.aside').innerText")
        assert not [name for name in names if name.strip() in seen]
        assert heard(page) in letters
    assert page.locator(".shown .lettered .mark").all_inner_texts().count("keep") == 1
    for unseen in (".curves", ".bars", ".strips", ".choice bdi"):
        assert not any(one.is_visible() for one in page.locator(f".shown {unseen}").all()), unseen
    letter = heard(page)
    page.keyboard.press(".")
    assert heard(page) == letter
    page.keyboard.press(",")
    page.click("[data-tool=trial]")
    chosen = [page.locator(f".shown [name={name}]").input_value() for name in ("reference", "other")]
    assert chosen == ["0", "1"]  # what was heard would tell
    page.click(".shown .blind-top button")
    page.keyboard.press("a")
    assert heard(page) in names
    assert page.inner_text(".aside") == f"Names are shown. You hear {heard(page)}, which was {letter}."
    told = marks(page)
    assert told[NAMES[0]] == "keep"
    assert told.get(heard(page), "keep") == "keep"


def test_the_blind_trial_takes_the_whole_screen_and_begins_with_what_was_heard(page):
    page.keyboard.press("1")
    page.keyboard.press("3")
    page.keyboard.press("n")
    own = looped(page)
    page.click("[data-tool=trial]")
    room = page.locator(".shown .blind-room")
    assert room.bounding_box() == {"x": 0, "y": 0, "width": 1280, "height": 800}
    chosen = [room.locator(f"[name={name}]").input_value() for name in ("reference", "other")]
    assert chosen == ["1", "3"]
    page.keyboard.press("2")  # nothing of the page is reached
    assert heard(page).strip() == NAMES[2].strip()
    room.locator("form > button").click()
    wait(page, "document.querySelector('.shown [data-hear]')")
    part = [float(one.input_value()) for one in room.locator(".blind-line input").all()]
    assert part == pytest.approx(own, abs=0.006)
    page.keyboard.press("Escape")
    assert "Leave? Nothing has been answered" in room.inner_text()
    room.locator(".blind-stop button").first.click()
    room.locator(".blind-top button").click()
    assert not room.is_visible()


def test_a_page_without_its_folder_says_so(chromium, folder, tmp_path):
    (tmp_path / "index.html").write_bytes((folder / "index.html").read_bytes())
    opened = Watched(chromium)
    opened.open(tmp_path)
    wait(opened.page, "document.querySelector('.shown .trouble').textContent !== ''")
    text = opened.page.inner_text(".shown .trouble")
    assert "None of the sounds of this take is beside the page" in text
    assert "Open it where the audition wrote it, or move the whole folder." in text
    opened.context.close()


def test_a_start_that_the_browser_holds_back_is_told(chromium, folder):
    opened = Watched(chromium)
    opened.page.add_init_script(
        "AudioContext.prototype.resume = () => new Promise(() => {});"
        "Object.defineProperty(AudioContext.prototype, 'state', { get: () => 'suspended' });"
    )
    opened.open(folder)
    opened.ready()
    opened.page.keyboard.press("Space")
    wait(opened.page, "document.querySelector('.shown .trouble').textContent !== ''")
    assert "No sound comes out" in opened.page.inner_text(".shown .trouble")
    opened.close()


def test_takes_are_equally_loud_by_one_stated_gain(page):
    """The louder take is brought down to the softer; that the gain is right is `test_take_levels`."""
    takes = data(page)["takes"]
    assert max(take["gain_db"] for take in takes) == 0.0
    for number, take in enumerate(takes):
        told = page.locator(".evened").nth(number).text_content()
        assert ("this take" in told) == bool(take["gain_db"])


@pytest.mark.parametrize("size", [(390, 844), (360, 740)])
def test_on_a_telephone_the_controls_lie_at_the_thumb(chromium, folder, size):
    width, height = size
    opened = Watched(chromium, viewport={"width": width, "height": height}, has_touch=True)
    opened.open(folder)
    opened.ready()
    page = opened.page
    for part in (".transport button", ".verdict button"):
        for box in (one.bounding_box() for one in page.locator(f".shown {part}").all()):
            assert box["y"] > height * 0.75
            assert box["y"] + box["height"] <= height
    page.locator(".shown [data-do=next]").tap()
    page.locator(".shown [data-verdict=keep]").tap()
    assert marks(page)[NAMES[0]] == "keep"
    assert page.evaluate("document.documentElement.scrollWidth") == width
    opened.close()


def test_the_figures_are_shut_until_they_are_asked_for(page):
    page.click("[data-tool=drawer]")
    assert page.get_attribute("[data-tool=drawer]", "aria-expanded") == "true"
    for part in (".shown table", ".shown .figures figure", "footer dl", "#filters"):
        assert page.locator(part).first.is_visible(), part
    page.keyboard.press("f")
    assert not page.locator("table").first.is_visible()
