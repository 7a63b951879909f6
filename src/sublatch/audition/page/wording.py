"""Settings as they would be read out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from itertools import groupby
from typing import Any

from sublatch.sampling.bands import NOMINAL_HZ


def in_words(settings: Mapping[str, Any]) -> str:
    """Return settings in words: "tone at 4; drive: inverted; filter ground capacitor: 12n"."""
    return "; ".join(setting_in_words(path, value) for path, value in flat_settings(settings))


def flat_settings(settings: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Give each single setting with its whole path."""
    for key, value in settings.items():
        if isinstance(value, Mapping):
            yield from flat_settings(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", value


def setting_in_words(path: str, value: Any) -> str:
    """Return one setting in words."""
    name = path_in_words(path)
    if path.startswith("knobs."):
        return f"{name}\N{NO-BREAK SPACE}at\N{NO-BREAK SPACE}{value_in_words(value)}"
    return f"{name}: {value_in_words(value)}"


def path_in_words(path: str) -> str:
    """Return a dotted path in words, without what goes without saying."""
    group, _, name = path.partition(".")
    table, is_part, part = path.partition(".parts.")
    if is_part:
        return _spaced(f"{table}.{part.replace('.value', '')}")
    return _spaced(name if group in ("knobs", "switches") else path.removesuffix(".kind"))


def value_in_words(value: Any) -> str:
    """Return a setting's value in words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}".replace("-", "−")
    if isinstance(value, Mapping):
        return " ".join(f"{_spaced(key)} {value_in_words(entry)}" for key, entry in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(value_in_words(entry) for entry in value)
    return str(value)


def _spaced(path: str) -> str:
    """Return a dotted path as words."""
    return path.replace(".", " ").replace("_", " ")


def above_in_words(above_hz: Collection[float]) -> str:
    """Return where a bass stands above a bed: "above the bed from 50 Hz to 160 Hz and at 800 Hz".

    Parameters
    ----------
    above_hz
        The bands by their nominal frequencies, as `Standing.above_hz` has them.
    """
    runs = [list(bands) for is_above, bands in groupby(NOMINAL_HZ, key=lambda hertz: hertz in above_hz) if is_above]
    if not runs:
        return "nowhere above the bed"
    *first, last = [_run(run) for run in runs]
    return f"above the bed {' and '.join([', '.join(first), last] if first else [last])}"


def _run(bands: list[float]) -> str:
    """Return bands side by side in words."""
    start, end = (f"{hertz:g}\N{NO-BREAK SPACE}Hz" for hertz in (bands[0], bands[-1]))
    return f"at {start}" if len(bands) == 1 else f"from {start} to {end}"
