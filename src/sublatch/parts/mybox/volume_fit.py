"""The volume knob's taper and load, and the gain behind it, from where unity lies and how much is in hand above it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log10

import numpy as np

from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import AudioDataError
from sublatch.parts.fit.fitting import UnmetError, is_open, solved, with_fitted
from sublatch.parts.knobs.sound_bands import SourceBands
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.signal.node_voltages import OutputSources
from sublatch.signal.unity import Measure, effect_gain_db
from sublatch.units import format_ohms

HALF_WAY = 5.0
LEFT_ALONE_DB, LEFT_ALONE = 0.15, 0.05
"""A curve of the volume knob that is off by less, in dB and in positions, needs nothing fitted."""
SOLVED_DB = 0.005
"""A fitted curve is off by no more."""
MIDPOINTS = (0.04, 0.35)
"""Shares of a log track at half rotation that pots come out with; 10 % to 20 % is sold. Common practice, no source."""
LOADS_OHM, POTS_OHM = (100.0, 10e6), (500.0, 5e6)
LEAST_GAIN, MOST_GAIN = 1.001, 2000.0
"""Of the output buffer, 1 + Rf / Rg."""
LEAST_GROUND_OHM, MOST_FEEDBACK_OHM = 10.0, 100e6
MIXING_OHM = (10.0, 100e6)
LOAD, POT = "output.load", "output.pot.value"
TAPER, MIDPOINT = "output.pot.taper", "output.pot.midpoint"
FEEDBACK, GROUND, MIXING = "output.feedback_resistor", "output.ground_resistor", "mix.octave_resistor"
INVOLVED_IN_CURVE = ("unity", "in-hand", "at-5", "output.pot", "output.load", "output.trim_resistor")
INVOLVED_IN_GAIN = ("unity", "in-hand", FEEDBACK, GROUND, MIXING)


@dataclass(frozen=True, eq=False)
class UnitySource:
    """What unity is found with.

    Attributes
    ----------
    source
        A take, or a tone in its stead, as far as the octave stage.
    measure
        How loudness is judged.
    bands
        Its levels in narrow bands, on which the volume knob's curve is worked out without filtering samples again.
    """

    source: OutputSources
    measure: Measure
    bands: SourceBands

    def gain_db(self, circuit: Circuit, volume: float) -> float:
        """Return how much louder than the bypassed take a circuit is, with its volume knob at a position.

        Raises
        ------
        AudioDataError
            When nothing sounds.
        """
        gain = effect_gain_db(self.source, with_settings(circuit, {"knobs.volume": volume}), measure=self.measure)
        if gain is None:
            raise AudioDataError(f"{self.source.take.name} makes no sound in the box; is it silent?")
        return gain

    def below_full_db(self, circuit: Circuit, *volumes: float) -> list[float]:
        """Return how much softer a circuit is with its volume knob at some positions than with it at 10, by RMS."""
        at = (with_settings(circuit, {"knobs.volume": volume}) for volume in (FULL_TURN, *volumes))
        full, *turned = (float(np.sum(self.bands.powers(one))) for one in at)
        return [10.0 * log10(full / max(power, 1e-30)) for power in turned]


def fit_volume(circuit: Circuit, facts: BoxFacts, heard: UnitySource) -> Circuit:
    """Return a circuit with unity where it is known to be, and as much in hand above it.

    Parameters
    ----------
    circuit
        The circuit, its output filter fitted.
    facts
        What is known.
    heard
        What unity is found with.

    Raises
    ------
    UnmetError
        When no value of what is not known gives them.
    """
    wanted: dict[float, float] = {}
    if facts.unity_at is not None and facts.in_hand_db is not None:
        wanted[facts.unity_at] = facts.in_hand_db
    if facts.half_db is not None:
        wanted[HALF_WAY] = facts.half_db
    if facts.unity_at == HALF_WAY and None not in (facts.half_db, facts.in_hand_db):
        _same(facts)
    if wanted:
        circuit = _with_curve(circuit, wanted, heard)
    if facts.in_hand_db is not None:
        return _with_gain(circuit, FULL_TURN, facts.in_hand_db, heard)
    if facts.unity_at is not None:
        return _with_gain(circuit, facts.unity_at, 0.0, heard)
    return circuit


def _same(facts: BoxFacts) -> None:
    """Refuse two figures of one position that differ."""
    assert facts.half_db is not None
    assert facts.in_hand_db is not None
    if abs(facts.half_db - facts.in_hand_db) > LEFT_ALONE_DB:
        text = f"unity at 5 with {facts.in_hand_db:g} dB in hand is {facts.in_hand_db:g} dB from 5 to 10"
        raise UnmetError(f"{text}, not {facts.half_db:g} dB", ("unity", "in-hand", "at-5"))


def _with_curve(circuit: Circuit, wanted: Mapping[float, float], heard: UnitySource) -> Circuit:
    """Return a circuit whose volume knob is so many dB below full at some positions, changed as little as need be."""
    nearest: tuple[float, str] | None = None
    for trial, unknowns in _trials(circuit):
        fitted, worst_db = _fitted_curve(trial, unknowns, wanted, heard)
        if worst_db <= SOLVED_DB or (not unknowns and worst_db <= LEFT_ALONE_DB and _close(fitted, wanted, heard)):
            return fitted
        if nearest is None or worst_db < nearest[0]:
            nearest = worst_db, _curve_words(fitted, wanted, heard)
    assert nearest is not None
    stated = " and ".join(f"{db:g} dB from {position:g} to 10" for position, db in wanted.items())
    raise UnmetError(f"{nearest[1]}, not {stated}", INVOLVED_IN_CURVE)


def _trials(circuit: Circuit) -> Iterator[tuple[Circuit, tuple[str, ...]]]:
    """Give what may be fitted of the volume knob, the likeliest first: taper, midpoint, load or track."""
    divider = tuple(path for path in (LOAD, POT) if is_open(circuit, path))[:1]
    midpoint = () if circuit.origins.get(MIDPOINT) == "known" else (MIDPOINT,)
    tapers = [circuit.output.pot.taper] if not is_open(circuit, TAPER) else ["linear", "log", "reverse-log"]
    trials = [circuit if len(tapers) == 1 else with_fitted(circuit, {TAPER: taper}) for taper in tapers]
    bent = [trial for trial in trials if trial.output.pot.taper != "linear"]
    yield from ((trial, ()) for trial in trials)
    yield from ((trial, midpoint) for trial in bent if midpoint)
    yield from ((trial, divider) for trial in trials if divider)
    yield from ((trial, (*midpoint, *divider)) for trial in bent if midpoint and divider)


def _fitted_curve(
    circuit: Circuit, unknowns: tuple[str, ...], wanted: Mapping[float, float], heard: UnitySource
) -> tuple[Circuit, float]:
    """Return a circuit with its unknowns where they come nearest to a curve, and how far it is off at most."""
    bounds = {LOAD: LOADS_OHM, POT: POTS_OHM, MIDPOINT: MIDPOINTS}
    start = {LOAD: 3.0 * circuit.output.pot.value, POT: circuit.output.load / 3.0, MIDPOINT: 0.15}

    def misses(values: Sequence[float]) -> list[float]:
        trial = with_fitted(circuit, dict(zip(unknowns, values, strict=True)))
        fallen = heard.below_full_db(trial, *wanted)
        return [here_db - db for here_db, db in zip(fallen, wanted.values(), strict=True)]

    if not unknowns:
        return circuit, max(map(abs, misses([])))
    values = solved(misses, [start[path] for path in unknowns], [bounds[path] for path in unknowns])
    return with_fitted(circuit, dict(zip(unknowns, values, strict=True))), max(map(abs, misses(values)))


def _close(circuit: Circuit, wanted: Mapping[float, float], heard: UnitySource) -> bool:
    """Return whether a curve has its levels where they are wanted, to a small part of a position."""
    for position, below_db in wanted.items():
        under, over = max(position - LEFT_ALONE, 0.01), min(position + LEFT_ALONE, FULL_TURN)
        most_db, least_db = heard.below_full_db(circuit, under, over)
        if not least_db <= below_db <= most_db:
            return False
    return True


def _curve_words(circuit: Circuit, wanted: Mapping[float, float], heard: UnitySource) -> str:
    """Return in words how a volume knob falls at the positions that were asked for."""
    pot = circuit.output.pot
    fallen = zip(wanted, heard.below_full_db(circuit, *wanted), strict=True)
    falls = " and ".join(f"{below_db:.1f} dB from {position:g} to 10" for position, below_db in fallen)
    return f"a {format_ohms(pot.value)} {pot.taper} volume pot into {_load(circuit)} gives {falls}"


def _load(circuit: Circuit) -> str:
    """Return what follows the volume pot, in words."""
    ohm = format_ohms(float(f"{circuit.output.load:.3g}"))
    return f"a light load ({ohm})" if circuit.output.load > 20.0 * circuit.output.pot.value else f"a load of {ohm}"


def _with_gain(circuit: Circuit, volume: float, gain_db: float, heard: UnitySource) -> Circuit:
    """Return a circuit that is so much louder than the bypassed take at a position of its volume knob."""
    change_db = gain_db - heard.gain_db(circuit, volume)
    buffer_open = [path for path in (GROUND, FEEDBACK) if is_open(circuit, path)]
    if abs(change_db) <= LEFT_ALONE_DB and not buffer_open and not is_open(circuit, MIXING):
        return circuit
    if buffer_open:
        circuit = _buffer(circuit, buffer_open[0], change_db)
        change_db = gain_db - heard.gain_db(circuit, volume)
    if abs(change_db) > 1e-3 and is_open(circuit, MIXING):
        circuit = _mixing(circuit, volume, gain_db, heard)
        change_db = gain_db - heard.gain_db(circuit, volume)
    if abs(change_db) > LEFT_ALONE_DB:
        at = "in hand" if volume == FULL_TURN else f"above the bypassed note at {volume:g}"
        got = f"{heard.gain_db(circuit, volume):.1f} dB {at}"
        raise UnmetError(f"the parts known leave {got}, not {gain_db:g} dB", INVOLVED_IN_GAIN)
    return circuit


def _buffer(circuit: Circuit, path: str, change_db: float) -> Circuit:
    """Return a circuit whose output buffer has so much more gain, as far as that goes, by one of its two resistors."""
    feedback, ground = circuit.output.feedback_resistor, circuit.output.ground_resistor
    gain = (1.0 + feedback / ground) * 10.0 ** (change_db / 20.0)
    gain = min(max(gain, LEAST_GAIN), MOST_GAIN)
    ohm = feedback / (gain - 1.0) if path == GROUND else ground * (gain - 1.0)
    return with_fitted(circuit, {path: min(max(ohm, LEAST_GROUND_OHM), MOST_FEEDBACK_OHM)})


def _mixing(circuit: Circuit, volume: float, gain_db: float, heard: UnitySource) -> Circuit:
    """Return a circuit with so much gain by the resistor that mixes the octave, as far as that goes."""

    def with_ohm(ohm: float) -> Circuit:
        return with_fitted(circuit, {MIXING: ohm})

    values = solved(
        lambda ohms: [heard.gain_db(with_ohm(ohms[0]), volume) - gain_db], [circuit.mix.octave_resistor], [MIXING_OHM]
    )
    return with_ohm(values[0])
