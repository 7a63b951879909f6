"""The volume knob's taper and load, and the gain behind it, from where unity lies and how much is in hand above it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log10

import numpy as np

from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import AudioDataError
from sublatch.parts.fit.fitting import UnmetError, is_open, solved, value_at, with_fitted
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.parts.sound_bands import SourceBands
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
LEAST_MORE_GAIN, MOST_GAIN = 0.001, 2000.0
"""Of the output buffer: how much above the least of its kind, and at most."""
RESISTOR_OHM = (10.0, 100e6)
POT, TAPER, MIDPOINT = "output.pot.value", "output.pot.taper", "output.pot.midpoint"


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
        circuit = _with_gain(circuit, FULL_TURN, facts.in_hand_db, heard)
    elif facts.unity_at is not None:
        circuit = _with_gain(circuit, facts.unity_at, 0.0, heard)
    if wanted and _fitted_curve(circuit, (), wanted, heard)[1] > LEFT_ALONE_DB:  # a load that had to make the gain too
        involved = (*_involved(circuit), *_involved(circuit, gain=True))
        raise UnmetError(_not_the_curve(_curve_words(circuit, wanted, heard), wanted), involved)
    return circuit


def load_path(circuit: Circuit) -> str:
    """Return the setting that loads the volume pot's wiper, by its dotted path."""
    return f"output.{circuit.output.load_setting}"


def _involved(circuit: Circuit, *, gain: bool = False) -> tuple[str, ...]:
    """Return what has a say in the volume knob's curve, or in the gain."""
    output, mix = circuit.output, circuit.mix
    if gain:
        settings = (f"output.{name}" for name in output.gain_settings)
        return ("unity", "in-hand", *settings, *(f"mix.{name}" for name in mix.level_settings))
    return ("unity", "in-hand", "at-5", "output.pot", load_path(circuit), "output.trim_resistor")


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
        if len(unknowns) > len(wanted):
            continue  # a fact fixes one value
        fitted, worst_db = _fitted_curve(trial, unknowns, wanted, heard)
        if _is_met(fitted, unknowns, worst_db, wanted, heard):
            return _without_a_guess(circuit, fitted, wanted, heard)
        if nearest is None or worst_db < nearest[0]:
            nearest = worst_db, _curve_words(fitted, wanted, heard)
    assert nearest is not None
    raise UnmetError(_not_the_curve(nearest[1], wanted), _involved(circuit))


def _is_met(
    fitted: Circuit, unknowns: tuple[str, ...], worst_db: float, wanted: Mapping[float, float], heard: UnitySource
) -> bool:
    """Return whether a curve is met: by what was fitted exactly, by what was there well enough to leave it."""
    if unknowns:
        return worst_db <= SOLVED_DB
    return worst_db <= SOLVED_DB or (worst_db <= LEFT_ALONE_DB and _close(fitted, wanted, heard))


def _without_a_guess(circuit: Circuit, fitted: Circuit, wanted: Mapping[float, float], heard: UnitySource) -> Circuit:
    """Return a fitted circuit whose taper counts as assumed if another one, with what else is open, does as well."""
    if not is_open(circuit, TAPER):
        return fitted
    for trial, unknowns in _trials(circuit):
        if trial.output.pot.taper != fitted.output.pot.taper and len(unknowns) <= len(wanted):
            other, worst_db = _fitted_curve(trial, unknowns, wanted, heard)
            if _is_met(other, unknowns, worst_db, wanted, heard):
                return _assumed(fitted, TAPER)
    return fitted


def _assumed(circuit: Circuit, path: str) -> Circuit:
    """Return a circuit with a value that no fact fixed, and marked so."""
    marks: dict[str, Origin] = {**circuit.origins, path: "assumed"}
    return circuit.model_copy(update={"origins": marks})


def _not_the_curve(found: str, wanted: Mapping[float, float]) -> str:
    """Return in words that a curve is another than was stated."""
    stated = " and ".join(f"{db:g} dB from {position:g} to 10" for position, db in wanted.items())
    return f"{found}, not {stated}"


def _trials(circuit: Circuit) -> Iterator[tuple[Circuit, tuple[str, ...]]]:
    """Give what may be fitted of the volume knob, the likeliest first: taper, midpoint, load or track."""
    divider = tuple(path for path in (load_path(circuit), POT) if is_open(circuit, path))[:1]
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
    load = load_path(circuit)
    bounds = {load: LOADS_OHM, POT: POTS_OHM, MIDPOINT: MIDPOINTS}
    start = {load: 3.0 * circuit.output.pot.value, POT: circuit.output.load_ohm / 3.0, MIDPOINT: 0.15}

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
    load_ohm = circuit.output.load_ohm
    words = format_ohms(float(f"{load_ohm:.3g}"))
    return f"a light load ({words})" if load_ohm > 20.0 * circuit.output.pot.value else f"a load of {words}"


def _with_gain(circuit: Circuit, volume: float, gain_db: float, heard: UnitySource) -> Circuit:
    """Return a circuit that is so much louder than the bypassed take at a position of its volume knob."""
    change_db = gain_db - heard.gain_db(circuit, volume)
    of_buffer, of_level = _open_of_gain(circuit)
    if abs(change_db) <= LEFT_ALONE_DB and not of_buffer and not of_level:
        return circuit
    if of_buffer:
        circuit = _buffer(circuit, of_buffer[0], change_db)
        change_db = gain_db - heard.gain_db(circuit, volume)
    if abs(change_db) > 1e-3 and of_level:
        circuit = _level(circuit, of_level[0], volume, gain_db, heard)
        circuit = _assumed(circuit, of_buffer[0]) if of_buffer else circuit  # at its end, which fixes nothing
        change_db = gain_db - heard.gain_db(circuit, volume)
    if abs(change_db) > LEFT_ALONE_DB:
        at = "in hand" if volume == FULL_TURN else f"above the bypassed note at {volume:g}"
        got = f"{heard.gain_db(circuit, volume):.1f} dB {at}"
        raise UnmetError(f"the parts known leave {got}, not {gain_db:g} dB", _involved(circuit, gain=True))
    return circuit


def _open_of_gain(circuit: Circuit) -> tuple[list[str], list[str]]:
    """Return what is open of the resistors that make the buffer's gain alone, and of those that load or mix as well."""
    load = load_path(circuit)
    made = [f"output.{name}" for name in circuit.output.gain_settings]
    mixed = [f"mix.{name}" for name in circuit.mix.level_settings]
    alone = [path for path in made if path != load and is_open(circuit, path)]
    return alone, [path for path in (*mixed, *made) if path not in alone and is_open(circuit, path)]


def _buffer(circuit: Circuit, path: str, change_db: float) -> Circuit:
    """Return a circuit whose output buffer has so much more gain, as far as that goes, by one of its resistors."""
    output = circuit.output
    gain = abs(output.gain) * 10.0 ** (change_db / 20.0)
    gain = min(max(gain, output.least_gain + LEAST_MORE_GAIN), MOST_GAIN)
    ohm = output.ohm_for_gain(path.removeprefix("output."), gain)
    return with_fitted(circuit, {path: min(max(ohm, RESISTOR_OHM[0]), RESISTOR_OHM[1])})


def _level(circuit: Circuit, path: str, volume: float, gain_db: float, heard: UnitySource) -> Circuit:
    """Return a circuit with so much gain by a resistor that mixes the octave or loads the pot, as far as that goes."""

    def with_ohm(ohm: float) -> Circuit:
        return with_fitted(circuit, {path: ohm})

    values = solved(
        lambda ohms: [heard.gain_db(with_ohm(ohms[0]), volume) - gain_db], [value_at(circuit, path)], [RESISTOR_OHM]
    )
    return with_ohm(values[0])
