"""The page's own sound: what it makes while a knob is turned is what `render` gives, and as loud as the files.

The page's own graph is rendered without a loudspeaker at settings that a seed chose; what clips is held against a
clipping at many times the rate, which is nearer to the truth than either. `SUBLATCH_LIVE_SETTINGS=30` in the
environment takes as many of each circuit instead of the few that are taken otherwise, on longer takes.
"""

from __future__ import annotations

import math
import os
import re

import numpy as np
import pytest
from scipy.signal import firwin

from browsers import wait
from firefox import firefox
from listening_pages import READY, Watched
from live_desk import FULL_SCALE, IDEAL, IN_STEP, LATE, OWN, RATE, TAKES, made, random_turn, step_in, write_desk
from oracles import clipped_finely
from sublatch.audition.page import content
from sublatch.circuit.idle import output_limits_v
from sublatch.circuit.load import circuit_names
from sublatch.circuit.response import response
from sublatch.sampling.levels import loudness
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import output_sources, render
from sublatch.signal.node_voltages import node_voltages
from sublatch.takes.take import read_take

SETTINGS = int(os.environ.get("SUBLATCH_LIVE_SETTINGS", "2"))
SECONDS = 1.3 if SETTINGS < 10 else 4.0
NAMES = [*circuit_names(), *OWN]
CORNER_HZ = 0.1
"""Lowest corner of the output's coupling."""
AUDIBLE = firwin(1023, 19.5e3, fs=RATE, window=("kaiser", 10.0))
NEAR, NEAR_CLIPPED = 10 ** (-80 / 20), 10 ** (-70 / 20)
"""Largest difference below the output's limits; of what clips, below 19.5 kHz, where `render` lets its band end."""
ENDS = slice(2000, -4000)


@pytest.fixture(scope="module")
def plan(chromium, tmp_path_factory):
    """Give an audition whose page has no pictures, which take longest and are not of use here."""
    with pytest.MonkeyPatch.context() as patch:
        for picture in ("responses", "filter_curves", "spectrum", "close_up"):
            patch.setattr(content, picture, lambda *_: "")
        return write_desk(tmp_path_factory.mktemp("desk"), seconds=SECONDS)


@pytest.fixture(scope="module")
def page(chromium, plan):
    opened = Watched(chromium)
    opened.open(plan.output)
    opened.ready()
    yield opened.page
    opened.close()


@pytest.fixture(scope="module", params=["Chromium", "Firefox"])
def either(request, plan):
    """Give the page in one browser after the other."""
    if request.param == "Chromium":
        yield request.getfixturevalue("page")
        return
    with firefox() as opened:
        opened.open(plan.output / "index.html")
        wait(opened, READY)
        yield opened


@pytest.fixture(scope="module")
def takes(plan):
    """Give each take with the stages that its candidates share."""
    return [(read_take(plan.take_path(e), full_scale_volts=FULL_SCALE), StageCache()) for e in plan.plan.takes]


def turns(circuit, name):
    """Give turns of a candidate and the circuits they make; the last has its output coupled as low as can be."""
    rng = np.random.default_rng(NAMES.index(name))
    for _ in range(SETTINGS - 1):
        yield random_turn(rng, circuit, candidate=name)
    output = circuit.output
    track = 1.0 / (1.0 / output.pot.value + 1.0 / output.load_ohm) + (output.trim_resistor or 0.0)
    yield random_turn(rng, circuit, candidate=name, changed={"output.coupling": 1 / (2 * np.pi * CORNER_HZ * track)})


@pytest.mark.parametrize("name", NAMES)
def test_what_the_page_makes_is_what_render_gives(either, plan, takes, name):
    (candidate,) = (one for one in plan.candidates if one.name == name)
    for n, (turn, circuit) in enumerate(turns(candidate.circuit, name)):
        take, cache = takes[n % len(TAKES)]
        rendered = render(take, circuit, cache=cache)
        sound, (told,) = made(either, [turn | {"settle": True}], seconds=SECONDS, number=n % len(TAKES))
        volts = sound[LATE:] * FULL_SCALE / 10 ** (told["gain_db"] / 20)
        low, high = output_limits_v(circuit)
        if rendered.at_limit_share == 0.0:
            assert np.max(np.abs(volts - rendered.samples[: len(volts)])) < NEAR * max(-low, high)
        else:
            (ahead,) = node_voltages(output_sources(take, circuit, cache=cache), circuit)
            off = volts - clipped_finely(ahead, (low, high))[: len(volts)]
            assert np.max(np.abs(np.convolve(off, AUDIBLE, "same")[ENDS])) < NEAR_CLIPPED * max(-low, high)
        lufs = loudness(rendered.samples / FULL_SCALE, sample_rate=RATE)
        assert told["lufs"] == pytest.approx(lufs, abs=0.2)
        assert told["settled"]["at_limit_share"] == pytest.approx(rendered.at_limit_share, abs=0.003)
        responds_alike(told, circuit)


def responds_alike(told, circuit):
    """Hold the filter's response, corner and peak as the page tells them against Python's."""
    own = response(circuit, frequency_hz=told["response"]["frequency_hz"])
    np.testing.assert_allclose(told["response"]["gain_db"], own.gain_db, atol=0.01)
    for key in ("corner_hz", "low_corner_hz"):
        assert told[key] == (None if getattr(own, key) is None else pytest.approx(getattr(own, key), rel=1e-4))
    assert told["peak_db"] == pytest.approx(own.peak_db, abs=0.01)


def test_ten_turns_a_second_step_no_further_than_a_setting_that_stands_still(either):
    name, rng = "gated-swept", np.random.default_rng(4)
    corners = [
        {"tone": t, "volume": v, "direct": d} for t, v, d in ((0, 9, 0), (10, 9, 0), (10, 2, 6), (0, 2, 6), (5, 5, 3))
    ]
    still = [step_in(made(either, [{"candidate": name, "controls": one}], seconds=SECONDS)[0]) for one in corners]
    chosen = rng.integers(len(corners), size=round(10 * SECONDS))
    turned = [
        {"candidate": name, "controls": corners[one], "frame": round(n * RATE / 10)} for n, one in enumerate(chosen)
    ]
    sound, _ = made(either, turned, seconds=SECONDS)
    assert np.max(np.abs(sound)) > 0.01
    assert step_in(sound) <= max(still)


def test_what_is_set_begins_within_ten_milliseconds_of_its_frame(either):
    loud, soft = ({"candidate": "gated-swept", "controls": {"tone": tone, "volume": 7}} for tone in (10, 1))
    at = round(0.8 * RATE)
    plain, _ = made(either, [loud], seconds=SECONDS)
    turned, _ = made(either, [loud, soft | {"frame": at}], seconds=SECONDS)
    first = int(np.flatnonzero(plain != turned)[0])
    assert at <= first <= at + 0.01 * RATE


def test_a_candidate_chosen_while_another_sounds_soon_sounds_as_if_alone(either):
    """Its network begins with the other's voltages, which its coupling capacitors forget within a second."""
    one, other = ({"candidate": name, "fresh": True} for name in ("gated-swept", "gated-first-order"))
    alone, _ = made(either, [other], seconds=SECONDS)
    after, _ = made(either, [one, other | {"frame": round(0.6 * RATE)}], seconds=SECONDS)
    late = slice(round((SECONDS - 0.2) * RATE), None)
    assert np.max(np.abs(alone[late])) > 0.01
    assert np.max(np.abs(after - alone)[late]) < 1e-4 * np.max(np.abs(alone))
    assert np.max(np.abs(after - alone)) > 0.01


@pytest.mark.parametrize(("loop", "near"), [(None, 1e-3), ([0.4, 0.9], 1e-2)])
def test_the_pages_own_sound_runs_in_step_with_the_file(either, loop, near):
    """A loop's seam goes through the network, which makes a little of it."""
    file, own = (np.array(one) for one in either.evaluate(IN_STEP, {"loop": loop, "name": IDEAL}))
    level_db = either.evaluate("JSON.parse(document.getElementById('audition').textContent).takes[0].gain_db")
    assert np.max(np.abs(file)) > 0.1 * 10 ** (level_db / 20)
    assert np.max(np.abs(own - file)) < near * np.max(np.abs(file))


def test_a_knob_turned_by_keys_is_heard_and_told(page, plan):
    take = page.locator(".take").first
    take.locator("[data-view=turn]").click()
    wait(page, "document.querySelector('[data-live-do=candidate]').options.length > 0")
    take.locator("[data-live-do=candidate]").select_option("gated-swept")
    tone = take.locator("[data-live-do=tone]")
    before = take.locator("[data-live-show=filter]").inner_text()
    tone.focus()
    page.keyboard.press("End")
    (candidate,) = (one for one in plan.candidates if one.name == "gated-swept")
    knobs = candidate.circuit.knobs.model_copy(update={"tone": 10.0})
    corner = response(candidate.circuit.model_copy(update={"knobs": knobs})).corner_hz
    assert take.locator("[data-live-show=filter]").inner_text() == f"Output filter: corner {corner:.0f} Hz, no peak."
    assert before != take.locator("[data-live-show=filter]").inner_text()
    assert take.locator("[data-live-do=own]").is_checked()
    page.keyboard.press("1")
    assert not take.locator("[data-live-do=own]").is_checked()


def test_parts_found_for_a_wish_are_heard_and_do_what_was_wished(page):
    page.keyboard.press(".")
    take = page.locator(".take").nth(1)
    take.locator("[data-view=turn]").click()
    wait(page, "document.querySelectorAll('[data-live-do=candidate]')[1].options.length > 0")
    take.locator("[data-live-do=candidate]").select_option("gated-open")
    take.locator("[data-live-do=wish]").check()
    wished = take.locator("[data-live-show=filter]").inner_text()
    take.locator("[data-live-do=find]").click()
    take.locator("[data-live-show=found] button").first.click()
    found = take.locator("[data-live-show=filter]").inner_text()
    assert not take.locator("[data-live-do=wish]").is_checked()
    corners = [float(re.search(r"corner (\d+) Hz", text)[1]) for text in (wished, found)]
    assert corners[0] == pytest.approx(math.sqrt(100 * 1000), abs=1)  # half way in pitch between 100 Hz and 1 kHz
    assert corners[1] == pytest.approx(corners[0], rel=0.5)
    take.locator(".turning-parts summary").click()
    assert take.locator("[data-live-show=parts]").inner_text().count("filter pot") == 1
