"""Which stated facts fixed each fitted value, and what was assumed beside it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin
from sublatch.parts.mybox.facts import BoxFacts
from sublatch.parts.mybox.volume_fit import MIDPOINT, POT, TAPER, load_path


@dataclass(frozen=True)
class Fixed:
    """Why a value is marked as fitted.

    Attributes
    ----------
    facts
        The stated facts that fixed it, by their words: without one of them it would be assumed.
    assumed
        Settings that it depends on and that nothing fixed, by dotted path: with others it would be another.
    """

    facts: tuple[str, ...]
    assumed: tuple[str, ...]

    @property
    def words(self) -> str:
        """Such as "fitted to corner, with filter.capacitor assumed"."""
        given = f", with {_listed(self.assumed)} assumed" if self.assumed else ""
        return f"fitted to {_listed(self.facts)}{given}"


def fixed_by(circuit: Circuit, facts: BoxFacts) -> dict[str, Fixed]:
    """Return what fixed each fitted value of a box, by dotted path.

    Parameters
    ----------
    circuit
        The box's circuit, its values marked.
    facts
        What was known of it.

    Notes
    -----
    A fact fixes one value, or one factor that values of a sort have in common; all else that has a say is known or
    assumed.
    """
    found = {}
    for path in _marked(circuit, circuit.origins, "fitted"):
        names, beside = (
            _of_filter(circuit, facts, path) if path.startswith("filter.") else _of_volume(circuit, facts, path)
        )
        stated = tuple(name for name in names if name in facts.stated)
        found[path] = Fixed(stated, tuple(_marked(circuit, beside, "assumed")))
    return found


def _of_filter(circuit: Circuit, facts: BoxFacts, path: str) -> tuple[tuple[str, ...], list[str]]:
    """Return the figures that can fix a part of the output filter, and the settings that have a say in it."""
    parts = [
        one for one in circuit.origins if one.startswith("filter.") and "taper" not in one and "midpoint" not in one
    ]
    if facts.low_hz is not None:
        is_resistance = path in ("filter.end_resistor", "filter.pot.value")
        figures = ("low", "high") if is_resistance else ("high", "peak") if path.endswith(".peaked") else ("high",)
        return figures, [one for one in parts if ("apacitor" in one) != is_resistance]
    fitted = _marked(circuit, parts, "fitted")
    has_resistors = any(one.endswith("resistor") for one in fitted)
    figures = ("corner",) if path.endswith("resistor") else ("peak",) if has_resistors else ("corner", "peak")
    return figures, parts


def _of_volume(circuit: Circuit, facts: BoxFacts, path: str) -> tuple[tuple[str, ...], list[str]]:
    """Return the figures that can fix a value of the volume knob or of the gain, and the settings with a say in it."""
    load, output, mix = load_path(circuit), circuit.output, circuit.mix
    curve = (*(("unity", "in-hand") if facts.unity_at is not None and facts.in_hand_db is not None else ()), "at-5")
    if path in (TAPER, MIDPOINT, POT, load) and any(name in facts.stated for name in curve):
        return curve, [POT, TAPER, MIDPOINT, load]
    made = [f"output.{name}" for name in output.gain_settings]
    level = ("in-hand",) if facts.in_hand_db is not None else ("unity",)
    return level, [*made, *(f"mix.{name}" for name in mix.level_settings)]


def _marked(circuit: Circuit, paths: Iterable[str], mark: Origin) -> list[str]:
    """Return the paths with a mark, kinds apart."""
    return [path for path in paths if circuit.origins.get(path) == mark and not path.endswith("kind")]


def _listed(words: Iterable[str]) -> str:
    """Return words one after the other, the last two joined by "and"."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
