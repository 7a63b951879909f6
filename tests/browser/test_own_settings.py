"""What is set by hand on the page: heard, kept under a name, there after a reload, saved, and made into a plan."""

from __future__ import annotations

import json

import numpy as np
import pytest

from browsers import wait
from listening_pages import NAMES, Watched, write_audition
from own_networks import SWEPT
from sublatch.audition.plan.load import load_audition
from sublatch.audition.plan.save import write_plan
from sublatch.audition.verdicts.added_up import read_verdicts
from sublatch.audition.verdicts.next_plan import judged_circuit, kept_plan
from sublatch.circuit.load import load_circuit
from sublatch.circuit.response import response
from sublatch.errors import VerdictError
from sublatch.parts.knobs.travel import knob_curve

BESIDES = '[[candidates]]\nname = "swept by hand"\ncircuit = "gated-swept"'
IN_SIGHT = """(places) => places.filter((place) => {
  const box = document.querySelector(`.shown ${place}`).getBoundingClientRect();
  return box.top < 0 || box.left < 0 || box.bottom > innerHeight || box.right > innerWidth;
})"""
ROLLED = """(() => {
  const { scrollHeight, clientHeight } = document.querySelector('.shown .seen > .told');
  return scrollHeight - clientHeight;
})()"""
BED = 'bed = "take 1 & co.wav"\nbed_level = "-6dB"'


@pytest.fixture(scope="module")
def folder(chromium, tmp_path_factory):
    return write_audition(tmp_path_factory.mktemp("own"), seconds=2.0, takes=2, tones=(2, 5), head=BED, more=BESIDES)


@pytest.fixture
def page(chromium, folder):
    opened = Watched(chromium, viewport={"width": 1280, "height": 800})
    opened.open(folder)
    opened.ready()
    yield opened.page
    opened.close()


def heard(page):
    return page.inner_text(".shown .name")


def line(page, name):
    return page.locator(".shown .choice", has=page.get_by_text(name, exact=True))


def turn(page, control, key="End"):
    page.locator(f".shown [data-live-do={control}]").focus()
    page.keyboard.press(key)
    wait(page, "document.querySelector('.shown .choice.own')")


def inline(value):
    """A value as TOML has it in a line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {inline(inner)}" for key, inner in value.items()) + " }"
    return json.dumps(value)


def saved(page, folder):
    with page.expect_download() as coming:
        page.click("[data-tool=save]")
    path = folder / coming.value.suggested_filename
    coming.value.save_as(path)
    return path


def test_a_new_user_plays_switches_turns_keeps_and_saves_in_five_presses(page, folder, tmp_path):
    presses = iter(range(1, 100))
    for place in ("[data-do=play]", "[data-do=next]"):
        page.click(f".shown {place}")
        count = next(presses)
    page.click(".shown [data-live-do=volume]")  # in the middle of the slider
    count = next(presses)
    wait(page, "document.querySelector('.shown .choice.own.heard')")
    assert heard(page) == "by hand"
    page.click(".shown .verdict [data-verdict=keep]")
    count = next(presses)
    path = saved(page, tmp_path)
    count = next(presses)
    assert count == 5
    (won,) = read_verdicts([path]).first
    assert (won.base.name, won.circuit) == (NAMES[0], "gated-first-order")
    volume = won.settings["knobs.volume"]
    assert volume == pytest.approx(5.0, abs=0.3)
    assert judged_circuit(won, load_audition(folder.parent / "plan.toml")) == load_circuit(
        "gated-first-order", changes={"knobs.volume": volume}
    )


def test_the_usual_knobs_and_what_they_do_are_in_sight_without_rolling(page):
    page.keyboard.press("4")
    page.click(".shown [data-view=turn]")
    turn(page, "tone", "End")
    places = [f"[data-live-of={control}]" for control in ("tone", "volume", "direct", "peak")]
    places += [f"[data-live-show={shown}]" for shown in ("lamp", "limits", "curve", "filter", "steps", "level")]
    places += ["[data-live-do=other]", "[data-live-do=name]", ".bars"]
    wait(page, "document.querySelector('.shown [data-live-show=limits]').textContent.includes('volume at')")
    assert [place for place in places if not page.locator(f".shown {place}").is_visible()] == []
    assert page.evaluate(IN_SIGHT, places) == []
    assert page.evaluate("document.documentElement.scrollHeight") == 800
    assert page.evaluate(ROLLED) <= 1


def test_what_is_kept_has_a_name_and_is_there_after_a_reload_on_every_take(page, folder, tmp_path):
    line(page, "swept by hand").click()
    turn(page, "tone", "End")
    page.fill(".shown [data-live-do=name]", "bright")
    page.click(".shown .keeping button")
    assert (heard(page), line(page, "bright").locator(".mark").inner_text()) == ("bright", "keep")
    turn(page, "tone", "Home")
    assert heard(page) == "by hand"
    page.fill(".shown [data-live-do=name]", "bright")  # a name that is taken
    page.keyboard.press("Enter")
    assert heard(page) == "bright 2"
    page.click(".shown [data-verdict=maybe]")
    page.keyboard.press(".")
    wait(page, "document.querySelector('.shown .choice.own.heard')")
    assert heard(page) == "bright 2"
    page.reload()
    wait(page, "document.querySelector('.take.ready')")
    line(page, "bright").click()
    wait(page, "document.querySelector('.shown .choice.own.heard')")
    assert heard(page) == "bright"
    assert page.input_value(".shown [data-live-do=tone]") == "10"
    assert page.is_checked(".shown [data-live-do=own]")
    line(page, "swept by hand").click()
    assert not page.is_checked(".shown [data-live-do=own]")
    page.keyboard.press("s")
    wait(page, "document.querySelector('.shown [data-live-do=own]').checked")
    assert heard(page) == "bright"
    found = read_verdicts([saved(page, tmp_path)])
    assert [(one.name, one.keep, one.maybe) for one in found.candidates[:1]] == [("bright", 1, 0)]
    plan = load_audition(folder.parent / "plan.toml")
    path = folder.parent / "next.toml"
    write_plan(kept_plan(found, plan, path), path)
    (bright,) = load_audition(path).candidates
    assert (bright.name, bright.circuit.tone) == ("bright", 10.0)


def test_parts_that_were_found_are_kept_as_a_circuit(page, folder, tmp_path):
    page.keyboard.press("2")
    page.click(".shown [data-view=turn]")
    wait(page, "document.querySelector('.shown [data-live-do=candidate]').options.length")
    page.check(".shown [data-live-do=wish]")
    page.click(".shown [data-live-do=find]")
    page.locator(".shown [data-live-show=found] button").first.click()
    corner = page.inner_text(".shown [data-live-show=filter]")
    page.click(".shown .verdict [data-verdict=keep]")
    (won,) = read_verdicts([saved(page, tmp_path)]).first
    circuit = judged_circuit(won, load_audition(folder.parent / "plan.toml"))
    assert circuit.filter.kind == "swept-second-order"
    assert f"corner {response(circuit).corner_hz:.0f} Hz" in corner
    assert circuit.knobs.volume == load_circuit("polarity-third-order").knobs.volume


def test_what_was_not_kept_is_there_again_too(page):
    page.keyboard.press("4")
    turn(page, "tone")
    page.keyboard.press("1")
    page.reload()
    wait(page, "document.querySelector('.take').classList.contains('ready')")
    line(page, "by hand").click()
    wait(page, "document.querySelector('.shown .choice.own.heard')")
    assert page.input_value(".shown [data-live-do=tone]") == "10"
    page.evaluate(
        "localStorage.setItem(Object.keys(localStorage)[0], JSON.stringify({ "
        "...JSON.parse(Object.values(localStorage)[0]), hand: { candidate: 'gone' } }))"
    )
    page.reload()
    wait(page, "document.querySelector('.take').classList.contains('ready')")
    assert page.locator(".shown .choice.own").count() == 0


def test_a_wish_is_kept_as_what_it_is(page, folder, tmp_path):
    """It has no parts, so that no circuit comes of it, but the command that finds some."""
    page.keyboard.press("2")
    page.click(".shown [data-view=turn]")
    wait(page, "document.querySelector('.shown [data-live-do=candidate]').options.length")
    page.check(".shown [data-live-do=wish]")
    turn(page, "peak_db", "ArrowRight")
    peak = float(page.input_value(".shown [data-live-do=peak_db]"))
    corner = page.inner_text(".shown [data-live-show=filter]")
    page.click(".shown .verdict [data-verdict=keep]")
    assert "no parts yet" in page.inner_text(".aside")
    name = heard(page)
    page.keyboard.press("1")
    page.reload()
    wait(page, "document.querySelector('.take').classList.contains('ready')")
    line(page, name).click()
    wait(page, "document.querySelector('.shown .choice.own.heard')")
    assert page.inner_text(".shown [data-live-show=filter]") == corner
    found = read_verdicts([saved(page, tmp_path)])
    (won,) = found.first
    assert (won.name, won.wish) == (name, {"low_hz": 100.0, "high_hz": 1000.0, "peak_db": peak})
    plan = load_audition(folder.parent / "plan.toml")
    words = f"--low 100Hz --high 1000Hz --peak {peak:.1f}dB' finds parts"
    with pytest.raises(VerdictError, match=words):
        judged_circuit(won, plan)
    with pytest.raises(VerdictError, match=words):
        kept_plan(found, plan, folder.parent / "next.toml")


def test_parts_of_a_network_of_ones_own_are_kept(chromium, tmp_path):
    parts = ", ".join(inline(part) for part in SWEPT)
    (tmp_path / "own.toml").write_text(
        f'title = "Own"\n[octave]\nkind = "gain-gated"\n[filter]\nkind = "network"\nparts = [{parts}]\n'
    )
    more = '[[candidates]]\nname = "own"\ncircuit = "own.toml"'
    folder = write_audition(tmp_path, seconds=1.0, takes=1, tones=(2,), more=more)
    opened = Watched(chromium, viewport={"width": 1280, "height": 800})
    opened.open(folder)
    opened.ready()
    line(opened.page, "own").click()
    opened.page.click(".shown [data-view=turn]")
    wait(opened.page, "document.querySelector('.shown [data-live-do=candidate]').options.length")
    opened.page.locator(".shown .turning-parts summary").click()
    for words in ("filter P1 end resistor", "filter P2 pot", "filter C1 peaked"):
        opened.page.get_by_label(f"{words}: next higher value").click()
    opened.page.click(".shown .verdict [data-verdict=keep]")
    found = read_verdicts([saved(opened.page, tmp_path)])
    plan = load_audition(tmp_path / "plan.toml")
    first, second, switched_part, *_ = judged_circuit(found.first[0], plan).filter.parts
    assert (first.end_resistor, second.pot.value, switched_part.value.peaked) == (2400.0, 100e3, 18e-9)
    around = kept_plan(found, plan, tmp_path / "next.toml", around=["filter.parts.P1.end_resistor"]).sweeps
    assert around[0].values == ["2k16", "2k4", "2k64"]
    write_plan(
        kept_plan(found, plan, tmp_path / "next.toml", around=["filter.parts.P1.end_resistor"]), tmp_path / "next.toml"
    )
    heard_next = load_audition(tmp_path / "next.toml").candidates
    assert [one.circuit.filter.parts[0].end_resistor for one in heard_next] == [2400.0, 2160.0, 2400.0, 2640.0]
    opened.close()


def test_letters_hide_what_was_set_by_hand(page):
    page.keyboard.press("1")
    turn(page, "volume", "Home")
    page.keyboard.press("a")
    assert len(heard(page)) == 1
    candidates = page.locator(".shown .choices:not(.lettered) .choice:not(.own)").count() + 1  # two lie in a sweep
    assert page.locator(".shown .lettered .choice").count() == candidates
    assert not page.is_checked(".shown [data-live-do=own]")
    page.keyboard.press("a")
    assert heard(page) == NAMES[0]


def test_what_was_kept_has_a_letter_and_notes_are_taken_behind_it(page, folder, tmp_path):
    page.keyboard.press("1")
    turn(page, "volume", "Home")
    page.fill(".shown [data-live-do=name]", "soft")
    page.click(".shown [data-live-do=keep] button")
    page.fill(".shown [data-note]", "warm")
    page.keyboard.press("Enter")
    page.keyboard.press("a")
    candidates = page.locator(".shown .choices:not(.lettered) .choice:not(.own)").count() + 1
    assert page.locator(".shown .lettered .choice").count() == candidates + 1
    letter = heard(page)
    assert len(letter) == 1
    page.click(".shown [data-note]")
    page.keyboard.type("dark, a keeper")  # letters that are keys elsewhere
    page.keyboard.press("Enter")
    assert heard(page) == letter
    lines = page.locator(".shown .lettered .choice")
    other = next(line for line in lines.all() if line.locator(".who").text_content() != letter)
    other.click()
    assert page.input_value(".shown [data-note]") == ""
    next(line for line in lines.all() if line.locator(".who").text_content() == letter).click()
    wait(page, f"document.querySelector('.shown .name').innerText === '{letter}'")
    assert page.input_value(".shown [data-note]") == "dark, a keeper"
    page.keyboard.press("a")
    assert heard(page) == "soft"
    assert page.inner_text(".aside.seen") == f"Names are shown. You hear soft, which was {letter}."
    (soft,) = read_verdicts([saved(page, tmp_path)]).first
    assert [(note.take, note.text) for note in soft.notes] == [("take 0 & co", "warm; dark, a keeper")]


CURVE = """(pane) => {
  const svg = document.querySelector(`.shown [data-pane=${pane}] svg`);
  const [left, right, top, bottom, low, high, end] = svg.dataset.plane.split(' ').map(Number);
  const line = svg.querySelector('.own');
  const points = line.getAttribute('d').slice(1).split('L').map((point) => point.split(' ').map(Number));
  return [line.getAttribute('class'), points.map(([x, y]) => [
    20 * (end / 20) ** ((x - left) / (right - left)), low + (bottom - y) / (bottom - top) * (high - low)])];
}"""


def test_what_is_set_has_its_curves_beside_the_candidates(page):
    page.keyboard.press("4")
    turn(page, "tone")
    shown, points = page.evaluate(CURVE, "response")
    assert shown == "own curve heard"
    found = response(load_circuit("gated-swept", changes={"knobs.tone": 10.0}))
    for hertz, gain_db in points[::20]:
        expected = np.interp(np.log(hertz), np.log(found.frequency_hz), found.gain_db)
        assert gain_db == pytest.approx(expected, abs=0.3)
    _, levels = page.evaluate(CURVE, "spectrum")
    assert [hertz for hertz, _ in levels[:3]] == pytest.approx([20.0, 25.1, 31.6], rel=0.01)
    page.keyboard.press("4")
    assert page.evaluate(CURVE, "response")[0] == "own curve before"
    page.keyboard.press("1")
    page.keyboard.press("2")
    assert page.evaluate(CURVE, "response")[0] == "own curve gone"


def test_parts_that_were_found_sound_like_the_wish_where_it_stands(page):
    """The knob of real parts lies elsewhere between its ends; it is set to where the corner is the wish's."""
    page.keyboard.press("4")
    page.click(".shown [data-view=turn]")
    wait(page, "document.querySelector('.shown [data-live-do=candidate]').options.length")
    page.check(".shown [data-live-do=wish]")
    wished = page.inner_text(".shown [data-live-show=filter]")
    page.click(".shown [data-live-do=find]")
    hear = page.locator(".shown [data-live-show=found] button")
    hear.nth(1).click()
    assert [one.get_attribute("aria-pressed") for one in hear.all()[:3]] == ["false", "true", "false"]
    corners = [
        float(text.split("corner ")[1].split(" Hz")[0])
        for text in (wished, page.inner_text(".shown [data-live-show=filter]"))
    ]
    assert corners[1] == pytest.approx(corners[0], rel=0.03)  # the knob is set to a tenth
    assert page.is_visible(".shown [data-live-do=find]")


def test_what_follows_the_hand_is_what_python_tells_of_the_same_setting(page):
    """Turned there and back, it sounds as the candidate does; bands by their middles are within 0.05 dB."""
    page.keyboard.press("4")
    told = page.evaluate(
        "JSON.parse(document.getElementById('audition').textContent).takes[0].candidates.find(c => c.name === "
        "document.querySelector('.shown .name bdi').textContent)"
    )
    assert told["name"] == "swept by hand"
    page.click(".shown [data-view=turn]")
    turn(page, "tone", "ArrowRight")
    page.keyboard.press("ArrowLeft")
    for key in ("weight_db", "body_db", "bite_db"):
        amount = page.inner_text(f".shown [data-bar={key}] .amount").removesuffix(" dB").replace("−", "-")
        assert float(amount) == pytest.approx(told["balance"][key], abs=0.16)
    above = page.locator(".shown [data-show=above]").text_content()
    assert above == f"What is set stands {told['above']}."
    steepest = knob_curve(load_circuit("gated-swept"), "tone")
    words = f"steepest step {steepest.steepest_per_step:.2f} octaves, from {steepest.steepest_at:g} to"
    wait(page, f"document.querySelector('.shown [data-live-show=steps]').textContent.includes('{words}')")


def test_the_old_sounds_place_on_the_new_knob_is_set_by_one_press(page):
    page.keyboard.press("4")
    page.click(".shown [data-view=turn]")
    wait(page, "document.querySelector('.shown [data-live-do=other]').options.length > 1")
    page.select_option(".shown [data-live-do=other]", NAMES[0])
    button = page.locator(".shown [data-live-do=nearest]")
    words = button.text_content()
    button.click()
    tone = float(page.locator(".shown [data-live-of=tone] output").text_content())
    assert f": tone {tone:.1f} {page.input_value('.shown [data-live-do=peak]')}, " in words
    assert heard(page) == "by hand"
    page.select_option(".shown [data-live-do=other]", "swept by hand")  # what it was turned from lies where it stood
    knobs = load_circuit("gated-swept").knobs
    assert button.text_content() == f"Nearest to swept by hand: tone {knobs.tone:.1f} flat, 0.0 dB off"
