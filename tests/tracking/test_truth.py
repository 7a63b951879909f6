"""Dropouts planted in sound, through a built-in detector: every one found, in its place and kind, and none invented.

Where a dropout truly begins and ends is worked out on the comparator's input as closed forms give it (a first-order
high-pass of 22 nF and 1 MΩ, a third-order Butterworth low-pass, both by scipy) at twice the take's rate, with the latch
as plain bookkeeping, sample by sample; parts are ideal. A period of the note without a set, or with two, is one without
lock.

Notes begin at once, and the first periods go to the coupling capacitor and the empty peak stores; what lock says there
is held against the sets themselves.
"""

from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from oracles import latch_loop
from sublatch.circuit.load import load_circuit
from sublatch.signal.chain import detected_edges
from sublatch.takes.take import take_from_samples
from sublatch.tracking.lock import lock
from sublatch.units.scales import note_to_hz

RATE_HZ = 48000
FINE_HZ = 2 * RATE_HZ
START_S, SECONDS = 0.2, 1.7
END_S = START_S + 1.4
COUPLING_HZ = 1 / (2 * np.pi * 22e-9 * 1e6)
LOW_PASS_HZ = 1 / (2 * np.pi * 33e3 * (47e-9 * 120e-9 * 6.8e-9) ** (1 / 3))  # equal resistors: geometric mean
FRACTION, HOLD_S, FLOOR_V = 0.85, 100e3 * 470e-9, 1e-3
ATTACK = 5
"""Periods at the beginning that are judged apart."""
PITCHES = ["E1", "A1", "D2", "G2", "C3", "G3"]
LONG = [pytest.param(name, marks=pytest.mark.long) for place, name in enumerate(PITCHES) if place % 3]
PLANTED = ["skip", "fade", "silence"]


def gain(hz):
    """Gain of the low-pass, of Butterworth's form."""
    return 1 / np.sqrt(1 + (hz / LOW_PASS_HZ) ** 6)


def note(time_s, pitch_hz, *, kind="", first=0, periods=0, level_volts=0.3):
    """A note of two partials from 0.2 to 1.6 s; for some periods its second partial takes over, or it dies."""
    cycles = (time_s - START_S) * pitch_hz
    sounding = (cycles >= 0) & (time_s < END_S)
    inside = (cycles >= first) & (cycles < first + periods)
    swap = np.clip(np.minimum(cycles - first, first + periods - cycles) + 1, 0, 1)  # within a period
    one, two = np.sin(2 * np.pi * cycles), np.sin(4 * np.pi * cycles)
    plain = one + 0.2 * two
    if kind == "skip":
        sound = plain * (1 - swap) + swap * (0.05 * one + two * gain(pitch_hz) / gain(2 * pitch_hz))
    elif kind == "silence":
        sound = np.where(inside, 0.0, plain)
    elif kind == "fade":  # evenly in decibels, over the twelve periods before, to 0.2 mV at the comparator
        least = 2e-4 / (level_volts * gain(pitch_hz))
        way = np.clip((cycles - first + 12) / 12, 0, 1)
        sound = plain * np.where(cycles < first + periods, least**way, 1.0)
    else:
        sound = plain * 10 ** (-0.5 * np.maximum(time_s - START_S, 0))  # 10 dB a second
    return level_volts * sound * sounding


def true_sets(inverted, pitch_hz, **planted):
    """Times at which the comparator sets, by scipy's filters and bookkeeping."""
    sound = note(np.arange(round(SECONDS * FINE_HZ)) / FINE_HZ, pitch_hz, **planted)
    high = butter(1, COUPLING_HZ, "highpass", fs=FINE_HZ, output="sos")
    low = butter(3, LOW_PASS_HZ, fs=FINE_HZ, output="sos")
    heard = sosfilt(low, sosfilt(high, sound)) * (-1 if inverted else 1)
    return latch_loop(heard, FRACTION, np.exp(-1 / (HOLD_S * FINE_HZ)), FLOOR_V)[::2] / FINE_HZ


def found_sets(inverted, pitch_hz, **planted):
    """Times at which the drive changes, by the whole path of a built-in circuit."""
    take = take_from_samples(note(np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ, pitch_hz, **planted), RATE_HZ)
    latch = {"detector.kind": "peak-latch", "devices.values": "ideal"}
    circuit = load_circuit("gated-open", changes={**latch, "switches.drive": "inverted" if inverted else "normal"})
    return detected_edges(take, circuit)[::2]


def held_of(sets, pitch_hz, *, after=ATTACK):
    """Lock from some periods after the note's beginning to its end."""
    return lock(sets, start_s=START_S + after / pitch_hz, end_s=END_S, pitch_hz=pitch_hz)


@dataclass
class Truth:
    """A stretch of periods that all have no set, or all two, from the set before or at its start to the one after."""

    kind: str
    start_s: float
    end_s: float
    periods: int


def truths_of(sets, pitch_hz, first):
    """Return the dropouts that a list of sets has, by counting the sets of every period; one by itself makes no lock.

    A period goes from a quarter before the place of its set to three quarters after.
    """
    period = np.floor(sets * pitch_hz - place_of(sets, pitch_hz, first) + 0.25).astype(int)
    numbers = range(int((START_S + ATTACK / pitch_hz) * pitch_hz) + 1, int((END_S - 2 / pitch_hz) * pitch_hz))
    counts = {number: np.count_nonzero(period == number) for number in numbers}
    runs: list[tuple[str, int, int]] = []
    for number in (number for number in numbers if counts[number] != 1):
        kind = "stall" if counts[number] == 0 else "skip"
        if runs and runs[-1][0] == kind and number - runs[-1][2] <= (2 if kind == "stall" else 1):
            runs[-1] = (kind, runs[-1][1], number)
        else:
            runs.append((kind, number, number))
    return [_truth(sets, period, *run) for run in runs]


def place_of(sets, pitch_hz, first):
    """Return where in its period a set lies, 0 to 1, on average before anything was planted."""
    before = (sets > START_S + ATTACK / pitch_hz) & (sets < START_S + (first - 12) / pitch_hz)
    return np.angle(np.mean(np.exp(2j * np.pi * sets[before] * pitch_hz))) / (2 * np.pi)


def displaced(sets, pitch_hz, first):
    """Return the sets that lie more than a fifth of a period from their place, the attack aside."""
    off = (sets * pitch_hz - place_of(sets, pitch_hz, first) + 0.5) % 1 - 0.5
    return sets[(np.abs(off) > 0.2) & (sets > START_S + ATTACK / pitch_hz)]


def _truth(sets, period, kind, low, high):
    start_s = sets[period < low][-1] if kind == "stall" else sets[period == low][0]
    return Truth(kind, start_s, sets[period > high][0], high - low + 1)


@pytest.mark.parametrize("kind", PLANTED)
@pytest.mark.parametrize("name", [*PITCHES[::3], *LONG])
def test_what_was_planted_is_found(name, kind):
    """From G2 on the low-pass takes up to two periods of a skip, and a full store a set after it: a short stall.

    A set out of its place, next to a dropout, may be counted to either side.
    """
    pitch_hz, first = note_to_hz(name), 20
    for periods, inverted in product((2, 3, 6, 12), (False, True)):
        planted = {"kind": kind, "first": first, "periods": periods, "level_volts": 0.1 if periods == 3 else 0.3}
        sets = true_sets(inverted, pitch_hz, **planted)
        truths, odd = truths_of(sets, pitch_hz, first), displaced(sets, pitch_hz, first)
        found = held_of(found_sets(inverted, pitch_hz, **planted), pitch_hz).dropouts
        where = (periods, inverted, truths, found)
        long = [truth for truth in truths if truth.periods >= 2]
        least = periods - 2 if kind == "skip" and pitch_hz > 90 else periods - 1
        wanted = [truth for truth in long if truth.kind == ("skip" if kind == "skip" else "stall")]
        assert max((truth.periods for truth in wanted), default=0) >= (least if least > 1 else 0), where

        def near(found_s, true_s, pitch_hz=pitch_hz, odd=odd):
            places = np.array([true_s, *odd[np.abs(odd - true_s) * pitch_hz < 2]])
            return np.min(np.abs(places - found_s)) * pitch_hz < 1

        for truth in long:
            assert any(
                (one.kind, near(one.start_s, truth.start_s), near(one.end_s, truth.end_s)) == (truth.kind, True, True)
                for one in found
            ), where
        assert len(found) <= len(truths), where
        assert near(found[0].start_s, truths[0].start_s), where
        assert near(found[-1].end_s, truths[-1].end_s), where
        assert all(one.end_s <= other.start_s for one, other in pairwise(found)), where


@pytest.mark.parametrize("level_volts", [0.02, 0.1, 1.0])
@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize("name", PITCHES)
def test_none_is_invented_on_a_clean_note(name, inverted, level_volts):
    pitch_hz = note_to_hz(name)
    sets = found_sets(inverted, pitch_hz, level_volts=level_volts)
    held = held_of(sets, pitch_hz)
    assert held.dropouts == ()
    assert held.locked_share == 1.0


@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize("name", PITCHES)
def test_what_the_attack_is_said_to_lose_it_loses(name, inverted):
    """Sets of the first four cycles that are more than 50 cents out, or missing, by plain bookkeeping."""
    pitch_hz = note_to_hz(name)
    held = held_of(found_sets(inverted, pitch_hz), pitch_hz, after=0)
    sets = (true_sets(inverted, pitch_hz) - START_S) * pitch_hz
    pairs = [(sets[place + 4] - sets[place]) / 4 for place in range(ATTACK)]
    off_cents = [abs(1200 * np.log2(cycle)) for cycle in pairs]
    assert len(held.dropouts) <= 1
    if max(off_cents) < 40:
        assert held.dropouts == ()
    elif max(off_cents) > 60:
        assert (held.dropouts[0].start_s - START_S) * pitch_hz < ATTACK
    assert held.locked_share > 1 - (ATTACK + 2) / ((END_S - START_S) * pitch_hz)
