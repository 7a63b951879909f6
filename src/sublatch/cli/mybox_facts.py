"""What `sublatch mybox` asks: one table of facts for its options and for its questions."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any

import click

from sublatch.cli.changes import read_changes
from sublatch.cli.options import note
from sublatch.errors import CircuitError, UnitError, nearest_hint

if TYPE_CHECKING:
    from sublatch.parts.mybox.facts import BoxFacts
    from sublatch.parts.mybox.tone_recording import ToneReading

FILTERS = {
    **dict.fromkeys(("none", "0dB"), "none"),
    **dict.fromkeys(("6dB", "first-order"), "first-order"),
    **dict.fromkeys(("12dB", "second-order"), "second-order"),
    **dict.fromkeys(("18dB", "third-order"), "third-order"),
    **dict.fromkeys(("swept", "swept-second-order"), "swept-second-order"),
    "swept-state-variable": "swept-state-variable",
}
"""The output filter's kind by what a player may call it: its slope per octave, or its order."""
OCTAVES = {
    **dict.fromkeys(("gated", "gain-gated"), "gain-gated"),
    **dict.fromkeys(("polarity", "polarity-switched"), "polarity-switched"),
}
TAPERS = {word: word for word in ("linear", "log", "reverse-log")}
LEAST_PEAK_DB, RECORDED_OFF = 0.3, 0.03
"""From which peak on a recording speaks of one, and by which share it may be off what was stated."""
BOARD = "A value read on the board, such as filter.capacitor=22n; empty when there is no other"
UNKNOWN = ("", "?", "don't know", "dont know", "unknown")


@dataclass(frozen=True)
class Fact:
    """A fact that is asked for.

    Attributes
    ----------
    option
        How it is given on the command line.
    metavar, help
        For the option's line in the help.
    question
        For a terminal.
    reads
        A reader of `sublatch.units`, ``position``, or the words that there are.
    target
        A field of `BoxFacts`, or the dotted path of a setting.
    unless
        Options whose answers make the question needless, each with the answers that do; all of them where none stand.
    """

    option: str
    metavar: str
    help: str
    question: str
    reads: str | Mapping[str, str]
    target: str
    unless: Mapping[str, Sequence[str]]

    @property
    def key(self) -> str:
        """The option without its dashes."""
        return self.option.removeprefix("--")


SWEPT_WORDS = ("swept", "swept-second-order", "swept-state-variable")
FIXED_WORDS = tuple(word for word in FILTERS if word not in SWEPT_WORDS)
NOT_SWEPT = {"filter": ("", *FIXED_WORDS)}
FACTS: tuple[Fact, ...] = (
    Fact(
        "--octave",
        "WORD",
        "How it makes the octave: gated or polarity.",
        "Does it gate the note every other cycle, or turn its polarity over (gated, polarity)",
        OCTAVES,
        "octave.kind",
        {},
    ),
    Fact(
        "--filter",
        "WORD",
        "Output filter: none, 6dB, 12dB or 18dB per octave, or swept.",
        "How steep is the output filter (none, 6dB, 12dB, 18dB per octave; swept where a tone knob moves it)",
        FILTERS,
        "filter.kind",
        {"low": ()},
    ),
    Fact(
        "--corner",
        "HZ",
        "Its corner, 3.01 dB down.",
        "Where is its corner, such as 275Hz",
        "hertz",
        "corner_hz",
        {"filter": ("none", "0dB", *SWEPT_WORDS), "low": ()},
    ),
    Fact("--low", "HZ", "Corner with the tone knob at 0.", "Corner with tone at 0", "hertz", "low_hz", NOT_SWEPT),
    Fact("--high", "HZ", "Corner with the tone knob at 10.", "Corner with tone at 10", "hertz", "high_hz", NOT_SWEPT),
    Fact("--peak", "DB", "Its peak, switched to peaked.", "Its peak, such as 4dB", "decibels", "peak_db", NOT_SWEPT),
    Fact(
        "--volume-pot",
        "OHMS",
        "The volume pot's track.",
        "Value of the volume pot, such as 100k",
        "ohms",
        "output.pot.value",
        {},
    ),
    Fact(
        "--taper",
        "WORD",
        "Its taper: linear, log or reverse-log.",
        "Its taper (linear, log, reverse-log)",
        TAPERS,
        "output.pot.taper",
        {},
    ),
    Fact(
        "--unity-at",
        "P",
        "Volume, 0 to 10, at which the effect is as loud as bypassed.",
        "At which volume, 0 to 10, is the effect as loud as bypassed",
        "position",
        "unity_at",
        {},
    ),
    Fact(
        "--in-hand",
        "DB",
        "How much louder than bypassed it is with the volume at 10.",
        "How much louder than bypassed is it with the volume at 10, such as 10dB",
        "decibels",
        "in_hand_db",
        {},
    ),
    Fact(
        "--at-5",
        "DB",
        "How much louder it is with the volume at 10 than at 5.",
        "How much louder is it with the volume at 10 than at 5",
        "decibels",
        "half_db",
        {},
    ),
    Fact("--supply", "VOLTS", "Its supply.", "Supply, such as 9V", "volts", "supply", {}),
    Fact(
        "--mix-resistor",
        "OHMS",
        "Resistor from the output filter to where the direct signal joins.",
        "Resistor from the output filter to where the direct signal is mixed in",
        "ohms",
        "mix.octave_resistor",
        {},
    ),
    Fact(
        "--load",
        "OHMS",
        "What follows the volume pot's wiper, as a load.",
        "Input resistance of what follows the volume pot's wiper, such as 1M",
        "ohms",
        "output.load",
        {},
    ),
)


def read_fact(fact: Fact, text: str) -> Any:
    """Return a fact's value from its text.

    Raises
    ------
    UnitError
        Naming the option, and what it takes.
    """
    from sublatch import units

    text = text.strip()
    if isinstance(fact.reads, Mapping):
        if text not in fact.reads:
            words = ", ".join(fact.reads)
            raise UnitError(f"{fact.option} must be one of {words}, got {text!r}{nearest_hint(text, fact.reads)}")
        return fact.reads[text]
    try:
        if fact.reads != "position":
            return float(getattr(units, fact.reads)(text))
        return float(text)
    except UnitError as problem:
        raise UnitError(f"{fact.option}: {problem}") from None
    except ValueError:
        raise UnitError(f"{fact.option} must be a number from 0 to 10, got {text!r}") from None


def facts_from(answers: Mapping[str, str], read: Sequence[str], doubts: Sequence[str]) -> BoxFacts:
    """Return the facts that answers, parts read on the board and doubts come to.

    Parameters
    ----------
    answers
        Texts by option, without dashes.
    read
        Settings as PATH=VALUE.
    doubts
        Facts that give way, by name.

    Raises
    ------
    UnitError
        When an answer is none.
    CircuitError
        When there is no such fact to doubt.
    """
    from sublatch.parts.mybox.facts import BoxFacts

    figures: dict[str, Any] = {}
    known: dict[str, Any] = {}
    for fact in FACTS:
        if fact.key in answers:
            target = known if fact.target == "supply" or "." in fact.target else figures
            target[fact.target] = read_fact(fact, answers[fact.key])
    facts = BoxFacts(**figures, known={**known, **read_changes(tuple(read), option="--read")})
    for name in doubts:
        facts = facts.without(name)
    return facts


def recorded(answers: Mapping[str, str], reading: ToneReading) -> dict[str, str]:
    """Return the answers with those that a recording gives to what nobody stated; say where the two differ."""
    found = {"octave": reading.octave_kind}
    if "low" not in answers and answers.get("filter") not in SWEPT_WORDS:
        found["filter"] = reading.filter_kind
        if reading.corner_hz is not None:
            found["corner"] = f"{reading.corner_hz:.4g}Hz"
        if reading.peak_db >= LEAST_PEAK_DB:
            found["peak"] = f"{reading.peak_db:.2g}dB"
    for key, text in found.items():
        fact = next(fact for fact in FACTS if fact.key == key)
        if key in answers and _differs(read_fact(fact, answers[key]), read_fact(fact, text)):
            note(f"the recording has --{key} {text}, stated {answers[key]}: what was stated is kept")
    return {**found, **answers}


def _differs(stated: Any, found: Any) -> bool:
    """Return whether a recording speaks against what was stated."""
    return bool(stated != found if isinstance(stated, str) else abs(found - stated) > RECORDED_OFF * stated)


def fact_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add an option for each fact; the command gets their texts as `answers`, by option without dashes."""

    @wraps(function)
    def with_answers(*args: Any, **others: Any) -> Any:
        texts = {fact.key: others.pop(fact.key.replace("-", "_")) for fact in FACTS}
        return function(*args, answers={key: text for key, text in texts.items() if text is not None}, **others)

    for fact in reversed(FACTS):
        with_answers = click.option(fact.option, metavar=fact.metavar, help=fact.help)(with_answers)
    return with_answers


def ask(answers: Mapping[str, str], read: Sequence[str]) -> tuple[dict[str, str], tuple[str, ...]]:
    """Return answers and values read on the board, with those that a terminal gives; empty is don't know."""
    given = dict(answers)
    click.echo("What is known of the box? Leave empty what is not.", err=True)
    for fact in FACTS:
        if fact.key in given or not _is_asked(fact, given):
            continue
        answer = click.prompt(fact.question, default="", show_default=False, value_proc=_reader(fact), err=True)
        if answer:
            given[fact.key] = answer
    values = list(read)
    while True:
        value = click.prompt(BOARD, default="", show_default=False, value_proc=_board_reader(given, values), err=True)
        if not value:
            return given, tuple(values)
        values.append(value)


def _board_reader(given: Mapping[str, str], values: Sequence[str]) -> Callable[[str], str]:
    """Return what checks a value read on the board against all that is known so far."""
    from sublatch.parts.mybox.classes import class_circuit

    def read(text: str) -> str:
        if text.strip().lower() in UNKNOWN:
            return ""
        try:
            class_circuit(facts_from(given, [*values, text], ()))
        except (UnitError, CircuitError) as problem:
            raise click.UsageError(str(problem)) from None
        return text.strip()

    return read


def _is_asked(fact: Fact, given: Mapping[str, str]) -> bool:
    """Return whether nothing that is known makes a question needless."""
    for key, needless in fact.unless.items():
        if not needless:
            if key in given:
                return False
        elif given.get(key, "") in needless:
            return False
    return True


def _reader(fact: Fact) -> Callable[[str], str]:
    """Return what checks an answer, so that a wrong one is asked for again."""

    def read(text: str) -> str:
        if text.strip().lower() in UNKNOWN:
            return ""
        try:
            read_fact(fact, text)
        except UnitError as problem:
            raise click.UsageError(str(problem)) from None
        return text.strip()

    return read
