"""What choosing parts comes to: sets of parts with what they give, and how boards with the best one differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sublatch.circuit.components.controls import PEAKS
from sublatch.circuit.model import Circuit
from sublatch.circuit.save import circuit_toml
from sublatch.parts.choose.from_stock import Order, hard_orders
from sublatch.parts.knobs.judgement import InHand, buying_remarks, hard_parts, headroom_remarks, step_remarks
from sublatch.parts.tolerance import Limits, Spread, Wanted
from sublatch.takes.remarks import Remark


@dataclass(frozen=True)
class Setting:
    """What one end of the knob and one position of the switch give, measured, beside what was asked for.

    Attributes
    ----------
    wanted
        What was asked for.
    corner_hz, peak_db
        What there is, as `response` measures it.
    natural_hz
        The natural frequency f0 of the slowest pole.
    """

    wanted: Wanted
    corner_hz: float
    peak_db: float
    natural_hz: float

    @property
    def corner_off(self) -> float:
        """How far the corner is off, as a share."""
        assert self.wanted.corner_hz is not None
        return self.corner_hz / self.wanted.corner_hz - 1.0

    @property
    def peak_off_db(self) -> float:
        """How far the peak is off."""
        return self.peak_db - self.wanted.peak_db


@dataclass(frozen=True)
class LowEnd:
    """How much of the pot's error is left in the corner at the low end of a swept filter.

    Attributes
    ----------
    pot_counts
        Share of a small error of the track by which the corner is off.
    pot_alone_counts
        The same with these parts but no start resistor.
    """

    pot_counts: float
    pot_alone_counts: float


@dataclass(frozen=True, eq=False)
class MeasuredSet:
    """One set of parts.

    Attributes
    ----------
    circuit
        A circuit with these parts.
    changes
        The parts as settings by dotted path, values as the trade writes them, for `load_circuit`.
    settings
        What they give.
    misses
        How far they are off, as the search has it; with none above 1 they are near enough.
    steepest_octaves
        Octaves that the steepest of the tone knob's ten steps covers; None without one.
    low_end
        What the pot's tolerance does there; None without a tone knob.
    share_within
        Share of boards within the limits, 0 to 1; None where it was not worked out.
    orders
        What of it must be bought; None where it is not told what is owned.
    """

    circuit: Circuit
    changes: dict[str, str | float]
    settings: tuple[Setting, ...]
    misses: tuple[float, ...]
    steepest_octaves: float | None = None
    low_end: LowEnd | None = None
    share_within: float | None = None
    orders: tuple[Order, ...] | None = None

    @property
    def hard(self) -> tuple[str, ...]:
        """What of it is hard to buy, in words; what is owned is not."""
        return hard_parts(self.circuit.filter) if self.orders is None else hard_orders(self.orders)

    @property
    def corner_off(self) -> float:
        """How far its corners are off at most, as a share."""
        return max(abs(setting.corner_off) for setting in self.settings)

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """What there is to mind with these parts, but for headroom."""
        steps = step_remarks("tone", self.steepest_octaves, "octaves")
        return (*steps, *buying_remarks(self.hard))

    @property
    def miss(self) -> float:
        """The largest miss."""
        return max(self.misses)

    @property
    def pairs(self) -> tuple[str, str]:
        """A swept filter's two capacitors in each position of the switch, flat and peaked, as the trade writes them."""
        flat, peaked = (
            " / ".join(str(value) for path, value in self.changes.items() if path.endswith(f"_capacitor.{position}"))
            for position in PEAKS
        )
        return flat, peaked

    @property
    def parts(self) -> dict[str, Any]:
        """The filter's settings in ohms and farads, as a circuit file nests them."""
        return self.circuit.filter.model_dump()

    @property
    def toml(self) -> str:
        """The parts as the tables of a circuit file."""
        tables = circuit_toml(self.circuit).split("\n\n")
        return "\n\n".join(table.strip("\n") for table in tables if table.startswith(("[filter]", "[filter."))) + "\n"

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the ends of the knob by name."""
        fields: dict[str, Any] = {"parts": self.parts, "changes": self.changes}
        if self.low_end is not None:
            flat_low, flat_high, peaked_low, peaked_high = self.settings
            fields |= {
                "low_hz": flat_low.corner_hz,
                "high_hz": flat_high.corner_hz,
                "peak_db": peaked_low.peak_db,
                "flat_peak_db": flat_low.peak_db,
                "peaked_low_hz": peaked_low.corner_hz,
                "peaked_high_hz": peaked_high.corner_hz,
                "flat_natural_hz": [flat_low.natural_hz, flat_high.natural_hz],
                "peaked_natural_hz": [peaked_low.natural_hz, peaked_high.natural_hz],
                "steepest_octaves_per_step": self.steepest_octaves,
                "low_end_pot_counts": self.low_end.pot_counts,
            }
        else:
            fields |= {"corner_hz": self.settings[0].corner_hz, "peak_db": self.settings[0].peak_db}
        if self.orders is not None:
            fields["orders"] = self.orders
        return fields | {"largest_miss": self.miss, "yield_share": self.share_within, "remarks": self.remarks}


@dataclass(frozen=True, eq=False)
class Choice:
    """The best set of parts, others, and how boards with the best one differ.

    Attributes
    ----------
    best
        The best set.
    alternatives
        The best set with each other pot, for a filter without one each other resistor; where the pot was given, with
        each other end resistor.
    spread
        How boards with the best set differ, held against what was asked for.
    limits
        How far a board may be off.
    without_start_share
        Where the best set has a start resistor, share of boards within the limits with the best set that has none; None
        where there is none, or the best set has none itself.
    in_hand
        What the best set leaves below the supply's limits; None for a filter without a peak.
    gain
        Where the best set needs no order: the best one for which one part must be ordered; None where there is none.
    """

    best: MeasuredSet
    alternatives: tuple[MeasuredSet, ...]
    spread: Spread
    limits: Limits
    without_start_share: float | None = None
    in_hand: InHand | None = None
    gain: MeasuredSet | None = None

    @property
    def gains(self) -> bool:
        """Whether the order of one part gains something: more boards within the limits, or smaller misses."""
        if self.gain is None or self.best.orders:
            return False
        more = (self.gain.share_within or 0.0) - (self.best.share_within or 0.0)
        return more > 0.0 or (more == 0.0 and self.gain.miss < self.best.miss)

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """What there is to mind with the best set."""
        return (*self.best.remarks, *headroom_remarks(self.in_hand))

    @property
    def changes(self) -> dict[str, str | float]:
        """The best set as settings by dotted path, for `load_circuit`."""
        return self.best.changes

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the best set flat, the others beside it."""
        owned = {} if self.best.orders is None else {"gain": self.gain, "gains": self.gains}
        return {
            **self.best.json_fields(),
            **owned,
            "toml": self.best.toml,
            "yield_share": self.spread.yield_share,
            "without_start_yield_share": self.without_start_share,
            "spread": self.spread,
            "distribution": self.spread.tolerances.distribution,
            "in_hand": self.in_hand,
            "remarks": self.remarks,
            "alternatives": self.alternatives,
        }
