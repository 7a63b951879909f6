"""The page's own sound: what it makes while a knob is turned is what `render` gives, and as loud as the files.

The page's own graph is rendered without a loudspeaker at settings that a seed chose. `SUBLATCH_LIVE_SETTINGS=30` in the
environment takes as many of each circuit instead of the few that are taken otherwise.
"""

from __future__ import annotations

import os

import numpy as np
import pytest

from listening_pages import Watched
from live_desk import FULL_SCALE, LATE, OWN, RATE, TAKES, made, random_turn, write_desk
from sublatch.circuit.idle import output_limits_v
from sublatch.circuit.load import circuit_names
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.response import response
from sublatch.circuit.signal_path import output_network
from sublatch.sampling.levels import loudness
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import render
from sublatch.takes.take import read_take

SETTINGS = int(os.environ.get("SUBLATCH_LIVE_SETTINGS", "3"))
SECONDS = 2.0
import scipy.signal as S
LP = S.firwin(1023, 20000, fs=48000)
NAMES = [*circuit_names(), *OWN]


@pytest.fixture(scope="module")
def plan(chromium, tmp_path_factory):
    return write_desk(tmp_path_factory.mktemp("desk"), seconds=SECONDS)


@pytest.fixture(scope="module")
def page(chromium, plan):
    opened = Watched(chromium)
    opened.open(plan.output)
    opened.ready()
    yield opened.page
    opened.close()


@pytest.fixture(scope="module")
def takes(plan):
    """Give each take with the stages that its candidates share."""
    return [(read_take(plan.take_path(e), full_scale_volts=FULL_SCALE), StageCache()) for e in plan.plan.takes]


@pytest.mark.parametrize("name", NAMES)
def test_what_the_page_makes_is_what_render_gives(page, plan, takes, name):
    rng = np.random.default_rng(NAMES.index(name))
    (candidate,) = (one for one in plan.candidates if one.name == name)
    for n in range(SETTINGS):
        number = n % len(TAKES)
        take, cache = takes[number]
        turn, circuit = random_turn(rng, candidate.circuit, candidate=name)
        rendered = render(take, circuit, cache=cache)
        sound, (told,) = made(page, [turn], seconds=SECONDS, number=number)
        volts = sound[LATE:] * FULL_SCALE / 10 ** (told["gain_db"] / 20)
        low, high = output_limits_v(circuit)
        difference = (volts - rendered.samples[: len(volts)]) / max(-low, high)
        error = np.max(np.abs(difference))
        heard = np.max(np.abs(np.convolve(difference, LP, "same")))
        lufs = loudness(rendered.samples / FULL_SCALE, sample_rate=RATE)
        own = response(circuit, frequency_hz=told["response"]["frequency_hz"])
        passing = own.gain_db > -120
        off_db = np.max(np.abs(np.array(told["response"]["gain_db"]) - own.gain_db)[passing])
        print(f"{name:22} {20 * np.log10(error):7.1f} dB  {20*np.log10(heard):7.1f} lim {rendered.at_limit_share:.5f}"
              f"  loudness {told['lufs'] if told['lufs'] is None else told['lufs'] - (lufs or -99):+.3f} {lufs}  response {off_db:.5f} dB"
              f" corner {told['corner_hz']} {own.corner_hz} peak {told['peak_db']:.4f} {own.peak_db:.4f}", turn)
