"""The listening page in a browser: opened from a disk, played, switched, looped, by keys alone and without scripts.

That a switch is in place is shown by rendering the page's own graph and setting it against the files' samples.
"""

from __future__ import annotations

import json
import shutil
import time
from urllib.parse import unquote

import numpy as np
import pytest

from browsers import wait
from listening_pages import EDGE, NAMES, RATE, TITLE, Watched, offline, steps, write_audition
from sublatch.files.sound import read_audio

SWITCH = 480
"""Length in samples of a switch (10 ms)."""


@pytest.fixture(scope="module")
def folder(chromium, tmp_path_factory):
    return write_audition(tmp_path_factory.mktemp("audition # 1 & 50%"))


@pytest.fixture(scope="module")
def sounds(folder):
    """Give the samples of the first take's candidates, in the page's order."""
    document = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    files = [candidate["file"] for candidate in document["takes"][0]["candidates"]]
    return [read_audio(folder / file).samples[:, 0] for file in files]


@pytest.fixture
def watched(chromium, folder):
    opened = Watched(chromium, viewport={"width": 1200, "height": 900})
    opened.open(folder)
    opened.ready()
    yield opened
    opened.close()


@pytest.fixture
def page(watched):
    return watched.page


def heard(page):
    return page.inner_text(".board .name")


def now(page):
    return float(page.inner_text("[data-show=time]"))


def playing(page):
    return page.inner_text("[data-do=play]") == "Pause"


def looped(page):
    """Return the ends of the loop as they are read aloud, None without one."""
    if page.get_attribute("[data-do=loop]", "aria-pressed") != "true":
        return None
    return [float(end.get_attribute("aria-valuenow")) for end in page.query_selector_all(".take:first-of-type .end")]


def test_twenty_switches_are_in_place_and_without_a_click(page, sounds, rng):
    at = np.sort(rng.choice(np.arange(2000, 3 * RATE, SWITCH + 40), 20, replace=False))
    chosen = [0]
    for _ in at:
        chosen.append(int(rng.choice([n for n in range(len(sounds)) if n != chosen[-1]])))
    script = [{"at_s": float(a / RATE), "choose": c} for a, c in zip(at, chosen[1:], strict=True)]
    found = offline(page, script=script, seconds=3.5)

    wanted = sounds[0][: len(found)].copy()
    for begin, old, new in zip(at, chosen, chosen[1:], strict=False):
        fading = np.clip((np.arange(len(found)) - begin) / SWITCH, 0.0, 1.0)
        wanted = np.where(
            fading > 0, (1 - fading) * sounds[old][: len(found)] + fading * sounds[new][: len(found)], wanted
        )
    assert np.max(np.abs(found[EDGE:] - wanted[EDGE:])) < 1e-6  # float gains of the graph
    alone = np.ones(len(found), bool)
    alone[:EDGE] = False
    for begin in at:
        alone[begin : begin + SWITCH + 1] = False
    assert np.count_nonzero(alone) > RATE
    assert np.array_equal(found[alone], wanted[alone])  # to the last bit of 24
    for begin, old, new in zip(at, chosen, chosen[1:], strict=False):
        around = slice(begin - SWITCH, begin + 2 * SWITCH)
        own = max(steps(sounds[old][around]).max(), steps(sounds[new][around]).max())
        own += np.abs(sounds[old][around] - sounds[new][around]).max() / SWITCH  # what a straight fade adds
        assert steps(found[around]).max() <= own + 1e-6, (begin, old, new)


def test_a_switch_while_another_is_under_way_waits_for_its_end(page, sounds):
    script = [{"at_s": 1.0, "choose": 1}, {"at_s": 1.004, "choose": 2}, {"at_s": 1.006, "choose": 3}]
    found = offline(page, script=script, seconds=1.2)
    assert np.array_equal(found[EDGE:RATE], sounds[0][EDGE:RATE])
    end = RATE + 3 * SWITCH + 1
    assert np.array_equal(found[end:], sounds[3][end : len(found)])
    own = max(steps(sound[RATE - SWITCH : end + SWITCH]).max() for sound in sounds[:4])
    assert steps(found[RATE : end + SWITCH]).max() <= own + 1e-6


def test_a_loop_comes_round_to_the_sample_and_softly(page, sounds):
    start, end, first = 48007, 60011, 50001
    loop = [start / RATE, end / RATE]
    found = offline(page, seconds=1.0, start_s=first / RATE, loop=loop, script=[{"at_s": 0.5, "choose": 1}])
    place = start + (first - start + np.arange(len(found))) % (end - start)
    far = (place - start >= EDGE) & (end - place > EDGE)
    before = far & (np.arange(len(found)) >= EDGE) & (np.arange(len(found)) < RATE // 2)
    after = far & (np.arange(len(found)) > RATE // 2 + SWITCH)
    assert np.array_equal(found[before], sounds[0][place[before]])
    assert np.array_equal(found[after], sounds[1][place[after]])
    seams = np.flatnonzero(np.diff(place) < 0)
    assert len(seams) == 4
    for seam in seams:
        assert np.abs(found[seam : seam + 2]).max() < 1e-6
        own = max(
            steps(sound[around]).max()
            for sound in sounds[:2]
            for around in (slice(start, start + 600), slice(end - 600, end))
        )
        # a fade of 240 samples adds at most the peak's 240th to a step
        peak = max(np.abs(sound[start - 300 : end + 300]).max() for sound in sounds[:2])
        assert steps(found[max(seam - EDGE, 0) : seam + EDGE]).max() <= own + peak / EDGE


def test_it_plays_and_switches_by_keys_alone(page):
    said = ["bypassed", *NAMES, "swept 2"]
    page.keyboard.press("l")  # over and over, however slow the machine is
    page.keyboard.press("Space")
    wait(page, "Number(document.querySelector('[data-show=time]').textContent) > 0")
    for turn in range(20):
        key = (3 * turn + 1) % 5
        page.keyboard.press(str(key))
        assert heard(page) == said[key].strip()
        assert page.inner_text(".aside").startswith(said[key].strip())
        assert page.evaluate("document.querySelectorAll('.board')[0].querySelectorAll('.choice.heard').length") == 1
    assert playing(page)
    page.keyboard.press("Space")
    assert not playing(page)
    stopped = now(page)
    page.wait_for_timeout(150)
    assert now(page) == stopped


def test_arrows_choose_in_the_list_and_on_a_sweep(page):
    page.focus(".choice input[type=radio]")
    page.keyboard.press("ArrowDown")
    assert heard(page) == NAMES[0]
    page.keyboard.press("4")
    page.focus(".choice input[type=range]")
    for name, told in (("swept 5", "tone 5"), ("swept 8", "tone 8")):
        page.keyboard.press("ArrowRight")
        assert heard(page) == name
        assert page.get_attribute(".choice input[type=range]", "aria-valuetext") == told
    assert "Unlike swept 5: tone at 8" in page.inner_text(".differs").replace("\xa0", " ")
    page.keyboard.press("1")
    page.keyboard.press("4")
    assert heard(page) == "swept 8"


def test_what_is_heard_is_brought_out_against_what_was(page):
    page.keyboard.press("1")
    page.keyboard.press("2")
    marked = "(kind) => [...document.querySelectorAll(`.take:first-of-type .curve.${kind}`)].map(e => e.dataset.of)"
    assert page.evaluate(marked, "heard") == ["2", "2"]
    assert page.evaluate(marked, "before") == ["1", "1"]
    assert page.evaluate("document.querySelectorAll('.take:first-of-type .strip.heard').length") == 1
    shown = page.inner_text(".differs")
    assert shown.startswith(f"Unlike {NAMES[0]}: polarity-third-order")
    assert page.inner_text(".alike").startswith("The same: ")


def test_a_loop_is_set_moved_and_left(page):
    assert looped(page) is None
    page.keyboard.press("l")
    assert looped(page) == [0.0, 4.0]
    page.focus(".take:first-of-type .end:nth-of-type(4)")
    for key, start in (("ArrowRight", 0.1), ("Shift+ArrowRight", 0.11), ("PageUp", 1.11), ("ArrowLeft", 1.01)):
        page.keyboard.press(key)
        assert looped(page) == [pytest.approx(start), 4.0]
    page.keyboard.press("Tab")
    page.keyboard.press("PageDown")
    assert looped(page) == pytest.approx([1.01, 3.0])
    assert page.inner_text(".aside") == "Loop from 1.01 to 3.00 seconds"
    page.keyboard.press("l")
    assert looped(page) is None
    page.keyboard.press("l")
    assert looped(page) == pytest.approx([1.01, 3.0])


def test_a_loop_is_drawn_and_its_ends_are_dragged(page):
    wave = page.locator(".take:first-of-type .wave svg")
    wave.scroll_into_view_if_needed()
    box = wave.bounding_box()

    def drag(start, end):
        page.mouse.move(box["x"] + box["width"] * start / 4.0, box["y"] + 10)
        page.mouse.down()
        page.mouse.move(box["x"] + box["width"] * end / 4.0, box["y"] + 12, steps=4)
        page.mouse.up()

    drag(3.0, 1.0)
    assert looped(page) == pytest.approx([1.0, 3.0], abs=0.01)
    drag(1.0, 2.0)
    assert looped(page) == pytest.approx([2.0, 3.0], abs=0.01)
    drag(3.0, 1.5)  # past the other end
    assert looped(page) == pytest.approx([1.5, 2.0], abs=0.01)


def test_playing_stays_inside_the_loop(page):
    page.keyboard.press("l")
    page.focus(".take:first-of-type .end:nth-of-type(5)")
    for _ in range(3):
        page.keyboard.press("PageDown")
    for _ in range(8):
        page.keyboard.press("ArrowLeft")
    assert looped(page) == pytest.approx([0.0, 0.2])
    page.keyboard.press("Space")
    end = time.monotonic() + 1.0
    while time.monotonic() < end:
        assert now(page) <= 0.2
    assert playing(page)


def test_it_starts_from_a_note_and_from_here_again(page):
    data = json.loads(page.inner_text("#audition") or page.evaluate("document.getElementById('audition').textContent"))
    notes = data["takes"][0]["notes"]
    assert len(notes) >= 3
    page.focus(".note-starts button")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    wait(page, "document.querySelector('[data-do=play]').textContent === 'Pause'")
    first = now(page)
    assert notes[2]["start_s"] - 0.1 <= first <= notes[2]["start_s"] + 1.0
    page.wait_for_timeout(800)
    gone_on = now(page)
    page.keyboard.press("h")
    page.wait_for_timeout(60)
    assert notes[2]["start_s"] - 0.1 <= now(page) < gone_on - 0.3
    page.click(".take:first-of-type .wave svg", position={"x": 5, "y": 5})
    page.wait_for_timeout(60)
    assert now(page) < 0.5


def test_it_stops_at_the_end_and_begins_anew(page):
    page.focus(".take:first-of-type .head")
    page.keyboard.press("End")
    page.keyboard.press("PageDown")
    assert now(page) == 3.0
    page.keyboard.press("Space")
    wait(page, "document.querySelector('[data-do=play]').textContent === 'Play'")
    assert now(page) == 4.0
    page.keyboard.press("Space")
    page.wait_for_timeout(100)
    assert now(page) < 1.0


def test_one_take_plays_at_a_time(page):
    page.keyboard.press("Space")
    wait(page, "document.querySelectorAll('.take.playing').length === 1")
    page.locator("nav a").nth(1).click()
    wait(page, "document.querySelectorAll('.take')[1].classList.contains('playing')")
    assert page.evaluate("document.querySelectorAll('.take.playing').length") == 1
    page.locator("nav a").nth(0).click()
    wait(page, "document.querySelectorAll('.take')[0].classList.contains('playing')")
    assert page.evaluate("document.querySelectorAll('.take.playing').length") == 1
    page.evaluate("document.dispatchEvent(new CustomEvent('sublatch-hush'))")
    assert page.evaluate("document.querySelectorAll('.take.playing').length") == 0


def test_names_show_as_themselves(page):
    assert page.inner_text("h1") == TITLE
    labels = page.locator(".board").first.locator(".choice label bdi").all_inner_texts()
    assert labels == ["bypassed", *NAMES, "swept"]
    for number, name in enumerate(NAMES, start=1):
        page.keyboard.press(str(number))
        assert heard(page) == name
    assert page.evaluate("globalThis.hurt") is None
    assert page.evaluate("document.querySelectorAll('img').length") == 0


def test_an_inserted_script_or_request_is_refused(chromium, folder):
    opened = Watched(chromium)
    opened.open(folder)
    opened.page.evaluate(
        """() => {
          const image = '<img src="https://example.invalid/x" onerror="globalThis.hurt = 1">';
          document.body.insertAdjacentHTML('beforeend', image);
          const script = document.createElement('script');
          script.textContent = 'globalThis.hurt = 2';
          document.body.append(script);
          fetch('https://example.invalid/y').catch(() => {});
        }"""
    )
    opened.page.wait_for_timeout(300)
    assert opened.page.evaluate("globalThis.hurt") is None
    assert len([text for text in opened.said if "Content Security Policy" in text]) >= 3
    opened.context.close()


@pytest.mark.parametrize("width", [360, 800, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_every_width(chromium, folder, width, scheme):
    opened = Watched(chromium, viewport={"width": width, "height": 800}, color_scheme=scheme)
    opened.open(folder)
    opened.ready()
    opened.page.keyboard.press("l")
    assert opened.page.evaluate("document.documentElement.scrollWidth") == width
    pressed = ".shown :is(.choice label, .controls button, .verdict *, .views button), .tools *"
    small = f"""[...document.querySelectorAll('{pressed}')]
      .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).length"""
    assert opened.page.evaluate(small) == 0
    opened.close()


def test_it_is_played_by_touch(chromium, folder):
    opened = Watched(chromium, viewport={"width": 360, "height": 800}, has_touch=True)
    opened.open(folder)
    opened.ready()
    opened.page.tap("[data-do=play]")
    wait(opened.page, "document.querySelector('[data-do=play]').textContent === 'Pause'")
    opened.page.locator(".choice label").nth(2).tap()
    assert heard(opened.page) == NAMES[1]
    opened.close()


@pytest.mark.parametrize("without", ["scripts", "Web Audio"])
def test_without_it_there_are_tables_and_files_to_play(chromium, folder, without):
    opened = Watched(chromium, java_script_enabled=without != "scripts")
    if without == "Web Audio":
        opened.page.add_init_script("delete globalThis.AudioContext")
    opened.open(folder)
    page = opened.page
    assert page.locator("table").first.is_visible()
    assert page.locator("audio").count() == 2 * 8
    assert all(audio.is_visible() for audio in page.locator("audio").all())
    for part in (".board", ".transport", ".tools", ".seeking", ".evened", ".keys", ".trouble", ".aside img"):
        assert not any(one.is_visible() for one in page.locator(part).all()), part
    opened.close()


def without_bare_sounds(folder, tmp_path):
    """Return a copy of an audition whose candidates all come from files."""
    copy = tmp_path / "copy"
    shutil.copytree(folder, copy)
    for bare in (copy / "bare").rglob("*-sound.js"):
        bare.unlink()
    return copy


def test_missing_sounds_are_told_and_the_files_stay(chromium, folder, tmp_path):
    copy = without_bare_sounds(folder, tmp_path)
    lost = sorted((copy / "page").iterdir())[0] / "swept 5.js"
    lost.unlink()
    opened = Watched(chromium)
    opened.open(copy)
    wait(opened.page, "document.querySelector('.trouble').textContent !== ''")
    page = opened.page
    text = page.inner_text(".trouble")
    assert "the sound of “swept 5” is not beside the page" in text
    page.keyboard.press("f")
    assert page.locator("audio").first.is_visible()
    page.keyboard.press("f")
    page.keyboard.press("Space")  # the others are heard as ever
    wait(page, "Number(document.querySelector('[data-show=time]').textContent) > 0")
    for number, name in ((1, NAMES[0]), (3, NAMES[2]), (4, "swept 2")):
        page.keyboard.press(str(number))
        assert heard(page) == name.strip()
    page.focus(".choice input[type=range]")
    page.keyboard.press("ArrowRight")
    assert heard(page) == "swept 8"
    assert playing(page)
    opened.context.close()


def test_a_sound_of_another_run_is_not_taken(chromium, folder, tmp_path):
    copy = without_bare_sounds(folder, tmp_path)
    take = sorted((copy / "page").iterdir())[0]
    shutil.copy(take / "swept 2.js", take / "swept 5.js")
    opened = Watched(chromium)
    opened.open(copy)
    wait(opened.page, "document.querySelector('.trouble').textContent !== ''")
    assert "“swept 5” is from another audition" in opened.page.inner_text(".trouble")
    opened.context.close()


def test_print_has_tables_and_pictures_and_no_buttons(page):
    page.emulate_media(media="print")
    assert page.locator("table").first.is_visible()
    assert page.locator(".lanes").first.is_visible()
    for part in ("button", "audio", ".board", ".marks", "nav", ".tools", "dialog"):
        assert not any(one.is_visible() for one in page.locator(part).all()), part


def test_every_picture_is_told_in_words_and_every_control_has_a_name(page):
    assert page.evaluate(
        "[...document.querySelectorAll('svg:not([aria-hidden])')].every(e => e.ariaLabel && e.role === 'img')"
    )
    nameless = """[...document.querySelectorAll('button, input, [role=slider]')].filter(
      e => !(e.ariaLabel || e.textContent.trim() || e.labels?.[0]?.textContent.trim())).length"""
    assert page.evaluate(nameless) == 0


def test_the_reel_has_the_pages_order_and_times(page, folder, sounds):
    reel = read_audio(next((folder / "reels").glob("take 0*"))).samples[:, 0]
    told = page.locator(".reel").first.locator("p > span")
    names = told.locator("bdi").all_inner_texts()
    assert names == ["bypassed", *NAMES, "swept 2", "swept 5", "swept 8"]
    assert unquote(page.locator(".reel a").first.get_attribute("href")) == "./reels/take 0 & co.wav"
    end = 0
    for name, text, sound in zip(names, told.all_inner_texts(), sounds, strict=True):
        minutes, seconds = text.removeprefix(name).strip().split(":")
        begin = place_of(sound, reel, from_=end)
        assert begin // RATE == 60 * int(minutes) + int(seconds), name
        assert np.array_equal(reel[begin : begin + len(sound)], sound)
        assert not np.any(reel[end:begin])
        end = begin + len(sound)
    assert end == len(reel)


def place_of(sound, reel, *, from_):
    """Return where a sound begins in a reel, by a hundredth of a second around its largest sample."""
    top = int(np.argmax(np.abs(sound)))
    part = sound[top : top + RATE // 100]
    for place in np.flatnonzero(reel[from_:] == part[0]) + from_:
        if np.array_equal(reel[place : place + len(part)], part):
            return place - top
    raise AssertionError("it is not in the reel")
