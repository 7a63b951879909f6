"""The grammar behind `sublatch.units`: how a quantity is read, checked and written.

A value is a number with a tail ("4.7 kΩ", "47n", "-60dB") or, as IEC 60062 has it, a number whose decimal
point is a letter ("4k7", "R47"). A `Quantity` says which letters and units it knows and what range makes
sense. Numbers are put together as decimal text and converted once, so "4n7" is exactly 4.7e-9.
"""

from __future__ import annotations

import re
import reprlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from numbers import Real

from sublatch.errors import UnitError

# A bare capital E between digits ("4E7") is left out: some print it for the decimal point of a resistor.
_PLAIN = re.compile(
    r"(?P<number>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+))(?P<power>e[+-]?[0-9]+|E[+-][0-9]+)?\s*(?P<tail>\D*)"
)
_CODE = re.compile(r"(?P<whole>[+-]?[0-9]*)(?P<letter>[^\W\d_])(?P<part>[0-9]+)\s*(?P<tail>\D*)")
_NOT_ZERO = re.compile("[1-9]")
_SAME_CHARACTERS = str.maketrans({"µ": "u", "μ": "u", "\N{OHM SIGN}": "Ω", "−": "-"})
_TOLERANCE_LETTERS = "BCDFGJKMZ"  # F and K by IEC 60062:2016; the others from memory
_LONGEST_GUESS = 20  # characters; longer texts are no slip of the pen
_DIGITS = 4  # worst rounding error 0.05 %, and exact for the three digits of E192


@dataclass(frozen=True)
class Quantity:
    """One kind of value: its spellings, its limits and the words for messages."""

    name: str  # "a resistance"
    rule: str  # "a resistor is written like 4k7"
    units: tuple[str, ...]  # spellings; the first is used in messages
    low: float
    high: float
    span: str  # the limits in words
    prefixes: Mapping[str, int] = field(default_factory=lambda: {"": 0})  # before a unit → power of ten
    letters: Mapping[str, int] = field(default_factory=dict)  # alone, or as the decimal point
    bare_hint: str = ""  # what to say when a bare number is out of range

    def tail_power(self, tail: str) -> int | None:
        """Return the power of ten that `tail` stands for, or None if it is not one of this quantity's."""
        spellings = {"": 0, **self.letters}
        for prefix, power in self.prefixes.items():
            for unit in self.units:
                spellings[f"{prefix}{unit}"] = power
                spellings[f"{prefix} {unit}"] = power
        return spellings.get(tail)


def read(value: str | float, quantity: Quantity) -> float:
    """Return `value` in the quantity's base unit, or raise UnitError with a hint."""
    if isinstance(value, str):
        number = _read_text(value, quantity)
        if number is None:
            raise UnitError(f"{quantity.rule}, got {reprlib.repr(value)}{_hint(value, quantity)}")
        if number == 0.0 and _NOT_ZERO.search(value.partition("e")[0].partition("E")[0]):
            raise UnitError(
                f"{quantity.name} must be {quantity.span}, got {reprlib.repr(value)}, too small to tell from 0"
            )
        return checked(number, quantity, came=reprlib.repr(value))
    if isinstance(value, bool) or not isinstance(value, Real):
        raise UnitError(f"{quantity.rule}, got {reprlib.repr(value)} ({type(value).__name__})")
    try:
        return checked(float(value), quantity, came=str(value))
    except OverflowError:
        raise UnitError(f"{quantity.name} must be {quantity.span}, got a number above 1e308") from None


def checked(number: float, quantity: Quantity, *, came: str) -> float:
    """Return `number`, or raise UnitError if it is outside the quantity's limits or not a number."""
    if quantity.low <= number <= quantity.high:
        return number + 0.0  # −0 becomes 0
    unit = "" if quantity is FRACTION else quantity.units[0]
    written = came[0] in "'\""
    meaning = f" ({number:.6g} {unit})" if written and unit else f" {unit}".rstrip()
    bare = not re.search(r"[^\W\d_]|%", came)
    hint = f"; {quantity.bare_hint}" if quantity.bare_hint and bare and number > quantity.high else ""
    raise UnitError(f"{quantity.name} must be {quantity.span}, got {came}{meaning}{hint}")


def _read_text(text: str, quantity: Quantity) -> float | None:
    """Return the number that `text` stands for, without looking at limits; None if it is no such value."""
    text = text.strip().translate(_SAME_CHARACTERS)
    if plain := _PLAIN.fullmatch(text):
        power = quantity.tail_power(plain["tail"])
        if power is None or (plain["power"] and power):
            return None
        return float(plain["number"] + (plain["power"] or f"e{power}"))
    if code := _CODE.fullmatch(text):
        letter, tail = code["letter"], code["tail"]
        twice = letter in quantity.units and tail
        if letter in quantity.letters and not twice and (not tail or tail in quantity.units):
            return float(f"{code['whole']}.{code['part']}e{quantity.letters[letter]}")
    return None


def _hint(text: str, quantity: Quantity) -> str:
    """Return a guess at what `text` was meant to be, as the tail of a message."""
    if len(text) > _LONGEST_GUESS:
        return ""
    if "," in text:
        return "; use a point for the decimals and nothing between thousands"
    if re.fullmatch(r"\s*[0-9]+E[0-9]+\D*", text):
        return "; E may mean the point or a power of ten, so write 4R7 or 4e7"
    shorter, last = text.strip()[:-1], text.strip()[-1:].upper()
    if last in tuple(_TOLERANCE_LETTERS) and re.search(r"[^\W\d_]", shorter) and _fits(shorter, quantity):
        return f"; the last letter is a tolerance letter and is left out here, leaving {shorter!r}"
    for guess in _other_cases(text):
        if _fits(guess, quantity):
            return f"; did you mean {guess!r}?{' (m is milli, M is mega)' if 'm' in text.lower() else ''}"
    for other in ALL:
        if other is not quantity and _fits(text, other):
            return f"; that reads as {other.name}"
    return ""


def _other_cases(text: str) -> list[str]:
    """Return `text` with the case of one letter changed, for each letter, and then of all."""
    return [text[:i] + text[i].swapcase() + text[i + 1 :] for i in range(len(text))] + [text.swapcase()]


def _fits(text: str, quantity: Quantity) -> bool:
    """Return whether `text` is a value of the quantity inside its limits."""
    number = _read_text(text, quantity)
    return number is not None and quantity.low <= number <= quantity.high


def write_code(value: float, quantity: Quantity, letters: Sequence[tuple[int, str]]) -> str:
    """Return `value` as an IEC 60062 code with four digits at most; `letters` are (power, letter), rising."""
    rounded = _rounded(value, quantity)
    power, letter = _step(rounded, letters)
    whole, _, part = f"{rounded.scaleb(-power).normalize():f}".partition(".")
    return f"{whole}{letter}{part}" if whole != "0" else f"{letter}{part}"


def write_plain(value: float, quantity: Quantity, prefixes: Sequence[tuple[int, str]]) -> str:
    """Return `value` with a prefixed unit and four digits at most; `prefixes` are (power, prefix), rising."""
    rounded = _rounded(value, quantity)
    if rounded and rounded.adjusted() < prefixes[0][0] - 3:
        return f"{rounded.normalize():e} {quantity.units[0]}"
    power, prefix = _step(rounded, prefixes)
    return f"{rounded.scaleb(-power).normalize():f} {prefix}{quantity.units[0]}"


def _rounded(value: float, quantity: Quantity) -> Decimal:
    """Return `value` to four digits, after checking that it could be read back."""
    return Decimal(f"{checked(float(value), quantity, came=str(value)):.{_DIGITS - 1}e}")


def _step(rounded: Decimal, steps: Sequence[tuple[int, str]]) -> tuple[int, str]:
    """Return the largest step that leaves at least one digit before the point, or else the smallest step."""
    order = rounded.adjusted() if rounded else 0
    return max((step for step in steps if step[0] <= order), default=steps[0])


OHM = Quantity(
    name="a resistance",
    rule="a resistor is written like 4k7, 470R or 1M",
    units=("Ω", "ohm", "ohms", "Ohm", "Ohms"),
    low=1e-3,
    high=1e12,
    span="above zero, from 1 mΩ to 1 TΩ",
    prefixes={"": 0, "m": -3, "k": 3, "K": 3, "M": 6, "G": 9, "T": 12},
    # L is the milliohm of IEC 60062; a lone m is left out, because whoever writes "1m" means "1M"
    letters={"L": -3, "R": 0, "r": 0, "Ω": 0, "k": 3, "K": 3, "M": 6, "G": 9, "T": 12},
)
FARAD = Quantity(
    name="a capacitance",
    rule="a capacitor is written like 47n, 4n7 or 2u2",
    units=("F", "f"),
    low=1e-14,
    high=10.0,
    span="above zero, from 0.01 pF to 10 F",
    prefixes={"": 0, "p": -12, "n": -9, "u": -6, "m": -3},
    letters={"p": -12, "n": -9, "u": -6, "m": -3, "F": 0},
    bare_hint="a bare number is in farads, so add p, n or u",
)
VOLT = Quantity(
    name="a voltage",
    rule="a voltage is written like 9V, 500mV or 1V5",
    units=("V", "v"),
    low=-1e3,
    high=1e3,
    span="from −1 kV to 1 kV",
    prefixes={"": 0, "n": -9, "u": -6, "m": -3, "k": 3},
    letters={"n": -9, "u": -6, "m": -3, "V": 0, "v": 0, "k": 3},
)
AMPERE = Quantity(
    name="a current",
    rule="a current is written like 65pA, 250nA or 2mA",
    units=("A",),
    low=-10.0,
    high=10.0,
    span="from −10 A to 10 A",
    prefixes={"": 0, "f": -15, "p": -12, "n": -9, "u": -6, "m": -3},
)
HERTZ = Quantity(
    name="a frequency",
    rule="a frequency is written like 300Hz, 3kHz or 3k3",
    units=("Hz", "hz"),
    low=5e-324,  # anything above zero
    high=1e7,
    span="above zero, up to 10 MHz",
    prefixes={"": 0, "k": 3, "K": 3, "M": 6},
    letters={"k": 3, "K": 3, "M": 6},
)
SECOND = Quantity(
    name="a time",
    rule="a time is written like 20us, 5ms or 2s",
    units=("s",),
    low=0.0,
    high=1e3,
    span="from 0 to 1000 s",
    prefixes={"": 0, "n": -9, "u": -6, "m": -3},
    letters={"n": -9, "u": -6, "m": -3, "s": 0},
    bare_hint="a bare number is in seconds",
)
DECIBEL = Quantity(
    name="a level",
    rule="a level is written like -60dB",
    units=("dB", "db"),
    low=-400.0,
    high=400.0,
    span="from −400 dB to 400 dB",
)
FRACTION = Quantity(
    name="a fraction",
    rule="a fraction is written like 60% or 0.6",
    units=("%",),
    low=0.0,
    high=1.0,
    span="from 0 to 1 (0% to 100%)",
    prefixes={"": -2},
    bare_hint="a percentage needs its % sign",
)
ALL = (OHM, FARAD, VOLT, AMPERE, HERTZ, SECOND, DECIBEL, FRACTION)
