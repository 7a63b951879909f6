"""The whole job: known values in the nearest circuit, the rest fitted, and what speaks against it."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin
from sublatch.circuit.save import settings_of
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.parts.fit.filter_parts import CORNER_SHARE, INVOLVED_IN_FILTER, filter_figures, fit_filter
from sublatch.parts.fit.fitting import UnmetError, value_at, with_fitted
from sublatch.parts.mybox.classes import class_circuit
from sublatch.parts.mybox.contradiction import Alternative, Contradiction, ContradictionError
from sublatch.parts.mybox.facts import BoxFacts, check_facts
from sublatch.parts.mybox.figures import HERTZ, UNITS, Figure, figures_of, in_words, title_of
from sublatch.parts.mybox.fixed_by import Fixed, fixed_by
from sublatch.parts.mybox.measurements import Measurement, cheapest
from sublatch.parts.mybox.odd_pots import odd_pots
from sublatch.parts.mybox.volume_fit import HALF_WAY, POT, UnitySource, fit_volume, load_path
from sublatch.parts.sound_bands import source_bands
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import tone_take, unity
from sublatch.takes.take import Take
from sublatch.units import format_ohms


@dataclass(frozen=True, eq=False)
class Box:
    """A circuit made from what is known of a box.

    Attributes
    ----------
    circuit
        The circuit, its values marked in ``origins``, its volume at unity.
    facts
        What was known.
    heard
        What unity was found with.
    figures
        What the circuit gives, beside what was stated.
    doubtful
        Facts that hold together only with something that nobody said.
    measurements
        The cheapest measurements that would settle what is assumed.
    """

    circuit: Circuit
    facts: BoxFacts
    heard: str
    figures: tuple[Figure, ...]
    doubtful: tuple[Contradiction, ...]
    measurements: tuple[Measurement, ...]

    def figure(self, name: str) -> Figure | None:
        """Return a figure by its name; None where the box has none so called."""
        return next((one for one in self.figures if one.name == name), None)

    def paths(self, origin: Origin) -> list[str]:
        """Return the values with a mark, by dotted path."""
        return [path for path, mark in self.circuit.origins.items() if mark == origin]

    @property
    def fixed(self) -> dict[str, Fixed]:
        """The stated facts that fixed each fitted value, by dotted path."""
        return fixed_by(self.circuit, self.facts)

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: each value with its mark."""
        texts = settings_of(self.circuit)
        fixed = self.fixed
        values = [
            {"path": path, "value": texts[path].text if path in texts else "none", "origin": mark}
            | ({"fitted_to": fixed[path].facts, "assumed": fixed[path].assumed} if path in fixed else {})
            for path, mark in self.circuit.origins.items()
        ]
        return {
            "title": self.circuit.title,
            "heard": self.heard,
            "figures": self.figures,
            "values": values,
            "doubtful": self.doubtful,
            "measurements": self.measurements,
        }


def my_box(facts: BoxFacts, *, take: Take | None = None) -> Box:
    """Return a circuit from what is known of a box, the rest fitted or assumed.

    Parameters
    ----------
    facts
        What is known.
    take
        What unity was found with; a sine of 82.4 Hz when not given.

    Raises
    ------
    ContradictionError
        When not all facts can hold; it names what each would have to be instead.
    CircuitError
        When a fact cannot be by itself.
    AudioDataError
        When the take is silent, or makes no sound.
    """
    check_facts(facts)
    try:
        box = _made(facts, take)
    except UnmetError as problem:
        text = problem.text
        raise ContradictionError(Contradiction(text, _ways_out(facts, take, problem.involved))) from None
    return replace(box, doubtful=_doubtful(box, take))


def _made(facts: BoxFacts, take: Take | None) -> Box:
    """Return the box without what is doubtful in it."""
    circuit = fit_filter(class_circuit(facts), facts.filter)
    at_number = with_settings(circuit, {"knobs.volume": HALF_WAY if facts.unity_at is None else facts.unity_at})
    source = output_sources(tone_take() if take is None else take, at_number)
    heard = UnitySource(source, "rms" if take is None else unity(source, at_number).measure, source_bands(source))
    circuit = _rounded_parts(fit_volume(at_number, facts, heard))
    found = unity(source, circuit, measure=heard.measure)
    (half_db,) = heard.below_full_db(circuit, HALF_WAY)
    got = {**filter_figures(circuit), "unity": found.position, "in-hand": found.excess_gain_db, "at-5": half_db}
    volume = FULL_TURN if found.position is None else round(found.position, 2)
    circuit = with_settings(circuit, {"knobs.volume": volume}).model_copy(update={"title": title_of(circuit, got)})
    return Box(circuit, facts, found.heard, figures_of(circuit, facts, got), (), cheapest(circuit, facts))


def _rounded_parts(circuit: Circuit) -> Circuit:
    """Return a circuit whose fitted values are rounded to four digits, which is closer than parts are made."""
    fitted = {path: value_at(circuit, path) for path, mark in circuit.origins.items() if mark == "fitted"}
    numbers = {path: float(f"{value:.4g}") for path, value in fitted.items() if isinstance(value, float)}
    return with_fitted(circuit, numbers)


def _ways_out(facts: BoxFacts, take: Take | None, involved: Iterable[str]) -> tuple[Alternative, ...]:
    """Return what each of the facts involved would be if all others held."""
    tables = tuple(involved)
    names = [name for name in facts.names if any(name == table or name.startswith(f"{table}.") for table in tables)]
    ways = []
    for name in names:
        with suppress(CircuitError):
            rest = facts.without(name)
            check_facts(rest)
            becomes = _becomes(_made(rest, take), name)
            if becomes is not None:
                ways.append(Alternative(name, _stated(facts, name), becomes))
    return tuple(ways)


def _becomes(box: Box, name: str) -> str | None:
    """Return in words what a fact is that was left out; None where it is only assumed, or not there."""
    figure = box.figure(name)
    if figure is not None:
        return in_words(figure.value, figure.unit)
    setting = settings_of(box.circuit).get(name)
    if setting is None or box.circuit.origins.get(name) != "fitted":
        return None
    return setting.text


def _stated(facts: BoxFacts, name: str) -> str:
    """Return in words what a fact was said to be."""
    if name in facts.stated:
        return in_words(facts.stated[name], UNITS[name])
    there = settings_of(class_circuit(facts)).get(name)
    return str(facts.known[name]) if there is None else there.text


def _doubtful(box: Box, take: Take | None) -> tuple[Contradiction, ...]:
    """Return what holds together only with a load that nobody said, or with parts that are not what one would find."""
    return (*_parts_are_off(box, take), *_load_is_guessed(box, take), *_pots_are_odd(box, take))


def _pots_are_odd(box: Box, take: Take | None) -> tuple[Contradiction, ...]:
    """Return where what was stated asks for a pot that is not sold."""
    return tuple(
        Contradiction(text, _ways_out(box.facts, take, box.fixed[path].facts)) for path, text in odd_pots(box.circuit)
    )


def _parts_are_off(box: Box, take: Take | None) -> tuple[Contradiction, ...]:
    """Return where parts that were read make another corner than was stated, as near as parts are made."""
    found = []
    for one in box.figures:
        if one.unit == HERTZ and one.stated and one.value and abs(one.value / one.stated - 1.0) > CORNER_SHARE:
            made, stated = in_words(one.value, HERTZ), in_words(one.stated, HERTZ)
            text = f"the parts read make the {one.name} {made}, stated is {stated}: no more than such parts are off"
            found.append(Contradiction(text, _ways_out(box.facts, take, INVOLVED_IN_FILTER)))
    return tuple(found)


def _load_is_guessed(box: Box, take: Take | None) -> tuple[Contradiction, ...]:
    """Return what holds together only with a load that nobody said."""
    facts, circuit = box.facts, box.circuit
    load = load_path(circuit)
    if circuit.origins.get(load) != "fitted" or facts.half_db is not None:
        return ()
    supposed = {load: class_circuit(facts).output.load_ohm, POT: circuit.output.pot.value}
    light = replace(facts, known={**supposed, **facts.known})
    try:
        _made(light, take)
    except UnmetError as problem:
        ohms = format_ohms(float(f"{circuit.output.load_ohm:.3g}"))
        text = f"{problem.text}; what follows would have to load the wiper with {ohms}, and that is what was fitted"
        ways = tuple(
            way for way in _ways_out(light, take, problem.involved) if way.doubt in ("unity", "in-hand", "at-5")
        )
        return (Contradiction(text, ways),)
    return ()
