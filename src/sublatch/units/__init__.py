"""Values as the trade writes them: "4k7" ↔ 4700.0, decibels ↔ ratio, note names ↔ hertz.

Readers take a text or a number and return a float in the SI base unit; a bare number is in that unit
already. They know the letter codes of IEC 60062:2016 ("4k7", "R47", "2u2") and SI prefixes ("4.7 kΩ",
"500mV"); m (milli) and M (mega) differ, k and K are both kilo. Writers give at most four digits.
"""

from __future__ import annotations

from sublatch.units.reading import amperes, decibels, farads, fraction, henries, hertz, ohms, seconds, volts
from sublatch.units.scales import CONCERT_A_HZ, cents, db_to_ratio, hz_to_note, note_to_hz, ratio_to_db
from sublatch.units.writing import (
    format_amperes,
    format_decibels,
    format_farads,
    format_farads_with_unit,
    format_henries,
    format_hertz,
    format_ohms,
    format_ohms_with_unit,
    format_seconds,
    format_volts,
)

__all__ = [
    "CONCERT_A_HZ",
    "amperes",
    "cents",
    "db_to_ratio",
    "decibels",
    "farads",
    "format_amperes",
    "format_decibels",
    "format_farads",
    "format_farads_with_unit",
    "format_henries",
    "format_hertz",
    "format_ohms",
    "format_ohms_with_unit",
    "format_seconds",
    "format_volts",
    "fraction",
    "henries",
    "hertz",
    "hz_to_note",
    "note_to_hz",
    "ohms",
    "ratio_to_db",
    "seconds",
    "volts",
]
