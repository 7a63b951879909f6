"""The listening page through a voicing and with a bed: it plays what the program works out, however it is turned.

The page's own graph is rendered and set against `Monitoring.heard` of the candidates' files.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import fftconvolve

from browsers import wait
from listening_pages import EDGE, RATE, Watched, offline, steps, write_audition
from sublatch.audition.listen.monitoring import Monitoring, read_bed, read_voicing, voicing_response
from sublatch.audition.page.wording import above_in_words
from sublatch.audition.plan.load import load_audition
from sublatch.files.sound import read_audio, write_audio
from sublatch.takes.take import read_take

pytestmark = pytest.mark.long

SECONDS, BED_SECONDS = 3.0, 2.2
SWITCH = 480
PLACES = ("loudspeaker", "ir.wav")
NEAR = 1e-4
"""80 dB below the peak."""
STATES = [(voicing, bed) for voicing in (True, False) for bed in (True, False)]


def beats():
    """Return a bed of short tones that is over before the take."""
    time_s = np.arange(round(BED_SECONDS * RATE)) / RATE
    return 0.5 * np.sin(2 * np.pi * 130 * 2 ** np.floor(3 * time_s) * time_s) * np.exp(-5 * (time_s % 0.5))


def cabinet():
    """Return an impulse response of a tenth of a second, the first hundredth of it ahead of the loudest."""
    rise = np.linspace(0, 0.3, RATE // 100) ** 2
    fall = np.exp(-np.arange(RATE // 10) / (0.008 * RATE))
    return np.random.default_rng(7).standard_normal(len(rise) + len(fall)) * np.concatenate([rise, fall])


class Heard:
    """An audition in a place, and what Python says is heard of it."""

    def __init__(self, folder, voicing):
        write_audio(folder / "bed.wav", beats(), RATE)
        write_audio(folder / "ir.wav", 0.5 * cabinet() / np.max(np.abs(cabinet())), RATE)
        head = f'voicing = "{voicing}"\nbed = "bed.wav"\nbed_level = "-2dB"'
        self.folder = write_audition(folder, seconds=SECONDS, takes=1, tones=(2, 8), head=head)
        plan = load_audition(folder / "plan.toml")
        entry = plan.plan.takes[0]
        self.place = Monitoring(*read_voicing(plan), read_bed(plan, entry, read_take(plan.take_path(entry))))
        document = json.loads((self.folder / "results.json").read_text(encoding="utf-8"))
        self.take = document["takes"][0]
        self.files = [read_audio(self.folder / one["file"]).samples[:, 0] for one in self.take["candidates"]]
        self.late = self.take["voicing"]["ahead_samples"]
        peak_db = 20 * np.log10(np.max(np.abs(self.place.bed.samples)))
        self.bed_db = self.take["bed"]["gain_db"] - peak_db

    def wanted(self, index, *, voicing=True, bed=True):
        """Return a candidate as heard from the take's start, where playing fades in."""
        begun = np.clip(np.arange(len(self.files[0])) / EDGE, 0.0, 1.0)
        one = self.take["candidates"][index]
        offset_db = 0.0 if voicing else one["plain_gain_db"] - one["gain_db"]
        faded = replace(self.place.bed, samples=self.place.bed.samples * begun[: len(self.place.bed.samples)])
        place = Monitoring(self.place.voicing if voicing else None, "", faded if bed else None)
        sound = 10 ** (offset_db / 20) * self.files[index] * begun
        return place.heard(sound, RATE, bed_gain_db=self.bed_db)

    def offline(self, page, *, seconds=SECONDS, **asked):
        """Return what the page plays, from when it is heard."""
        return offline(page, seconds=seconds + self.late / RATE, **asked)[self.late :]


@pytest.fixture(scope="module", params=PLACES)
def heard(request, chromium, tmp_path_factory):
    return Heard(tmp_path_factory.mktemp("place"), request.param)


@pytest.fixture
def page(chromium, heard):
    opened = Watched(chromium, viewport={"width": 1200, "height": 900})
    opened.open(heard.folder)
    opened.ready()
    yield opened.page
    opened.close()


def apart(found, wanted):
    """Return how far two sounds lie apart at most, as a share of the wanted one's peak."""
    return np.max(np.abs(found - wanted)) / np.max(np.abs(wanted))


def test_every_candidate_is_heard_as_the_program_hears_it(page, heard):
    for index in range(len(heard.files)):
        found = heard.offline(page, chosen=index)
        assert apart(found, heard.wanted(index)) < NEAR
        assert np.max(np.abs(found)) < 10 ** (-1 / 20)  # the headroom
        assert apart(found, heard.files[index]) > 100 * NEAR


@pytest.mark.parametrize(("voicing", "bed"), STATES)
def test_voicing_and_bed_can_be_off(page, heard, voicing, bed):
    found = heard.offline(page, chosen=2, heard={"voicing": voicing, "bed": bed})
    assert apart(found, heard.wanted(2, voicing=voicing, bed=bed)) < NEAR


def test_they_are_turned_on_and_off_in_place_and_without_a_click(page, heard, rng):
    at = np.sort(rng.choice(np.arange(2000, round((SECONDS - 0.2) * RATE), 2 * SWITCH), 16, replace=False))
    states = [(True, True)]
    for number in range(len(at)):
        voicing, bed = states[-1]
        states.append((not voicing, bed) if number % 2 else (voicing, not bed))
    assert set(states) == set(STATES)
    late_s = heard.late / RATE
    script = [
        {"at_s": float(a / RATE + late_s), "hear": {"voicing": voicing} if number % 2 else {"bed": bed}}
        for number, (a, (voicing, bed)) in enumerate(zip(at, states[1:], strict=True))
    ]
    found = heard.offline(page, chosen=1, script=script)
    sounds = {state: heard.wanted(1, voicing=state[0], bed=state[1]) for state in STATES}
    wanted = sounds[states[0]]
    for begin, old, new in zip(at, states, states[1:], strict=False):
        over = np.clip((np.arange(len(found)) - begin) / SWITCH, 0.0, 1.0)
        wanted = np.where(over > 0, (1 - over) * sounds[old] + over * sounds[new], wanted)
        around = slice(begin - SWITCH, begin + 2 * SWITCH)
        own = max(steps(sounds[state][around]).max() for state in (old, new))
        assert steps(found[around]).max() <= own + NEAR * np.max(np.abs(wanted)), (begin, old, new)
    assert apart(found, wanted) < NEAR


def test_a_candidate_is_switched_through_the_voicing(page, heard):
    at = RATE
    found = heard.offline(page, script=[{"at_s": at / RATE, "choose": 3}])
    begun = np.clip(np.arange(len(found)) / EDGE, 0.0, 1.0)
    over = np.clip((np.arange(len(found)) - at) / SWITCH, 0.0, 1.0)
    mixed = ((1 - over) * heard.files[0] + over * heard.files[3]) * begun
    bed = heard.wanted(0) - heard.wanted(0, bed=False)
    through = Monitoring(heard.place.voicing).heard(mixed, RATE, bed_gain_db=None)
    assert apart(found, through + bed) < NEAR
    plain = heard.offline(page, script=[{"at_s": at / RATE, "choose": 3}], heard={"voicing": False, "bed": False})
    old, new = (heard.wanted(index, voicing=False, bed=False) for index in (0, 3))
    assert apart(plain, (1 - over) * old + over * new) < NEAR


def test_a_loop_comes_round_in_step_with_the_bed_and_rings_on(page, heard):
    start, end = round(1.5 * RATE) + 7, round(2.5 * RATE) + 3  # the bed ends in it
    seconds = 2.5
    count = round(seconds * RATE)
    place = start + np.arange(count) % (end - start)
    gain = np.clip(np.minimum(place - start, end - 1 - place) / EDGE, 0.0, 1.0)
    gain *= np.clip(np.arange(count) / EDGE, 0.0, 1.0)
    bed = np.zeros(len(heard.files[0]))
    bed[: len(heard.place.bed.samples)] = 10 ** (heard.bed_db / 20) * heard.place.bed.samples
    response = voicing_response(heard.place.voicing, RATE)
    through = fftconvolve(heard.files[1][place] * gain, response.samples)[response.ahead :][:count]
    loop = {"loop": [start / RATE, end / RATE], "start_s": start / RATE, "chosen": 1, "seconds": seconds}
    found = heard.offline(page, **loop)
    assert apart(found[: -heard.late or None], (through + bed[place] * gain)[: -heard.late or None]) < NEAR
    found = heard.offline(page, **loop, heard={"voicing": False, "bed": True})
    plain_db = heard.take["candidates"][1]["plain_gain_db"] - heard.take["candidates"][1]["gain_db"]
    assert apart(found, (10 ** (plain_db / 20) * heard.files[1][place] + bed[place]) * gain) < NEAR


def test_the_playhead_is_where_the_sound_is(page, heard):
    places = page.evaluate(
        """async (late) => {
          const take = JSON.parse(document.getElementById('audition').textContent).takes[0];
          const context = new OfflineAudioContext(1, 1, take.sample_rate);
          const sounds = await sublatch.Player.sounds(take);
          const all = { context, take, ...sounds, heard: { voicing: true, bed: true }, chosen: 0, from_s: 0.5 };
          const voices = new sublatch.Voices({ ...all, at_s: 0.25, loop: null });
          return [0, 0.25 + late, 0.75 + late, 9].map((time) => voices.timeAt(time));
        }""",
        heard.late / RATE,
    )
    assert places == pytest.approx([0.5, 0.5, 1.0, SECONDS], abs=1e-9)


def test_it_is_turned_by_boxes_and_keys_and_the_next_player_hears_it_so(page):
    told = """() => {
      const take = JSON.parse(document.getElementById('audition').textContent).takes[0];
      const boxes = [...document.querySelectorAll('.monitoring input')].map((box) => box.checked);
      const { heard } = new sublatch.Player({ take, context: null });
      return [...boxes, heard.voicing, heard.bed];
    }"""
    assert page.evaluate(told) == [True] * 4
    page.keyboard.press("v")
    assert page.evaluate(told) == [False, True, False, True]
    assert page.inner_text(".aside") == "loudspeaker off"
    page.locator(".monitoring label").nth(1).click()
    assert page.evaluate(told) == [False] * 4
    page.keyboard.press("Space")  # the box has the keys
    assert page.evaluate(told) == [False, True, False, True]
    assert page.inner_text("[data-do=play]") == "Play"
    page.keyboard.press("2")
    assert page.evaluate("document.querySelectorAll('.board .choice')[2].classList.contains('heard')")
    page.keyboard.press("v")
    assert page.evaluate(told) == [True] * 4


def test_the_help_names_every_key_of_the_page_and_no_other(page):
    named = page.evaluate("[...document.querySelectorAll('.keys kbd')].map((key) => key.textContent.toLowerCase())")
    whole = {"space": " ", "up": "ArrowUp", "down": "ArrowDown"}
    asked = {whole.get(name, name) for name in named} | set("0123456789")  # as 0 to 9
    assert asked == set(page.evaluate("Object.keys(sublatch.keys.TAKE)"))


def test_it_goes_on_while_it_is_turned(page):
    page.keyboard.press("l")
    page.keyboard.press("Space")
    wait(page, "Number(document.querySelector('[data-show=time]').textContent) > 0.2")
    for key in "vbvbv31v":
        page.keyboard.press(key)
        page.wait_for_timeout(30)
    assert page.inner_text("[data-do=play]") == "Pause"
    assert 0.2 < float(page.inner_text("[data-show=time]")) < SECONDS


def test_blind_it_is_heard_as_the_page_has_it_turned(page):
    page.evaluate(
        """() => {
          sublatch.Voices = class extends sublatch.Voices {
            constructor(asked) {
              super(asked);
              globalThis.asked = [asked.response?.length > 0, asked.bed?.length > 0, { ...asked.heard }];
            }
          };
        }"""
    )
    page.keyboard.press("v")
    page.click("[data-tool=trial]")
    page.click(".blind form > button")
    wait(page, "document.querySelector('.blind-play')")
    page.click(".blind-play")
    wait(page, "globalThis.asked")
    assert page.evaluate("globalThis.asked") == [True, True, {"voicing": False, "bed": True}]
    page.click(".blind-stop button")
    page.click(".blind-stop button:first-of-type")


def test_the_bed_is_drawn_once_and_told_in_words(page, heard):
    assert page.locator(".board .curves figure svg").count() == 2
    assert page.locator(".board .curves .bed").count() == 1
    alternative = page.get_attribute(".curves figure:nth-of-type(2) svg", "aria-label")
    for key, told in zip("0123", heard.take["candidates"], strict=False):
        page.keyboard.press(key)
        words = above_in_words(told["standing"]["above_hz"]).replace("\N{NO-BREAK SPACE}", " ")
        said = page.inner_text(".above").replace("\N{NO-BREAK SPACE}", " ")
        assert said == f"{told['name']} stands {words}."
        assert words in alternative.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("width", [360, 800, 1280])
def test_it_fits_every_width(chromium, heard, width):
    opened = Watched(chromium, viewport={"width": width, "height": 800})
    opened.open(heard.folder)
    opened.ready()
    assert opened.page.evaluate("document.documentElement.scrollWidth") == width
    low = (
        "[...document.querySelectorAll('.monitoring label')].filter(e => e.getBoundingClientRect().height < 44).length"
    )
    assert opened.page.evaluate(low) == 0
    opened.close()


def test_a_voicing_that_is_not_beside_the_page_is_told(chromium, heard, tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(heard.folder, copy)
    next((copy / "places").glob("*/voicing.js")).unlink()
    opened = Watched(chromium)
    opened.open(copy)
    wait(opened.page, "document.querySelector('.trouble').textContent !== ''")
    assert f"the sound of “{heard.take['voicing']['name']}” is not beside" in opened.page.inner_text(".trouble")
    opened.context.close()
