"""A tuning job as it is told: its figures, and the circuit file that says what was changed and what that gained."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import Any

from sublatch.circuit.changed import change_comments, changed_settings
from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import carried_marks
from sublatch.circuit.save import save_circuit
from sublatch.tracking.tune.figures import TuneFigures
from sublatch.tracking.tune.job import TuneResult
from sublatch.tracking.tune.notes import TuneNotes
from sublatch.units import format_volts

HEADING_WIDTH = 100


@dataclass(frozen=True, eq=False)
class Tuned:
    """A tuning job that is done.

    Attributes
    ----------
    start
        The circuit that it started from.
    origin
        What that one is called.
    notes
        The notes that it was given.
    result
        What came of it.
    trials
        How many circuits it was to try.
    seed
        Where its chance came from.
    step_weight
        What steps at the edges cost it (see `tune`).
    """

    start: Circuit
    origin: str
    notes: TuneNotes
    result: TuneResult
    trials: int
    seed: int
    step_weight: float = 0.0

    @property
    def counts(self) -> tuple[int, int]:
        """How many notes were searched on, and how many were held out."""
        return self.result.searched_on_count, self.result.held_out_count

    @property
    def stopped_early(self) -> bool:
        """Whether it was interrupted."""
        return self.result.trials < self.trials

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the result flat, the takes by name, no circuit."""
        takes = [{"take": one.take.name, "notes": len(one.notes), "remarks": one.remarks} for one in self.notes.takes]
        facts = {
            "seed": self.seed,
            "step_weight": self.step_weight,
            "stopped_early": self.stopped_early,
            "takes": takes,
        }
        return {**self.result.json_fields(), **facts}


def write_tuned(tuned: Tuned, path: str | Path, *, inputs: Iterable[str | Path] = (), overwrite: bool = False) -> None:
    """Write the circuit file of a tuned circuit.

    Parameters
    ----------
    tuned
        The job.
    path
        The file; it ends in ``.toml``.
    inputs
        Files that must never be replaced, whatever `overwrite` says.
    overwrite
        Replace a file that this program did not write, or that was changed since.

    Raises
    ------
    OutputError
        When the file cannot be written, or must not be replaced.
    """
    end = tuned.result.circuit
    marks = carried_marks(tuned.start.origins, end, changed_settings(tuned.start, end))
    save_circuit(
        end.model_copy(update={"origins": marks}),
        path,
        comments=change_comments(tuned.start, end),
        heading=_heading(tuned),
        inputs=inputs,
        overwrite=overwrite,
    )


def old_and_new(tuned: Tuned) -> dict[str, tuple[str | None, str]]:
    """Return each value that differs, as it was, None where there was none, and as it is, by dotted path.

    Values that a new kind brought with it are among them.
    """
    return changed_settings(tuned.start, tuned.result.circuit)


def percent(share: float | None) -> str:
    """Return a share in per cent; it says 100 only where nothing is missing, and 0 only where there is nothing."""
    if share is None:
        return "–"
    return f"{100 * share:.0f}" if share in {0.0, 1.0} else f"{min(max(100 * share, 0.1), 99.9):.1f}"


def gained(before: float | None, after: float | None) -> str:
    """Return a share in per cent before and after."""
    return "–" if before is None else f"{percent(before)} → {percent(after)}"


def stepped(before: float | None, after: float | None) -> str:
    """Return a step share in per cent before and after; a dash where there is none."""
    both = ("–" if share is None else f"{100 * share:.0f}" for share in (before, after))
    return "–" if before is None and after is None else " → ".join(both)


def _heading(tuned: Tuned) -> str:
    """Return what the file says at its top."""
    result = tuned.result
    (searched_on, held_out), takes = tuned.counts, [one for one in tuned.notes.takes if one.notes]
    names = ", ".join(dict.fromkeys(one.take.name for one in takes))
    scales = ", ".join(dict.fromkeys(format_volts(one.take.full_scale_volts) for one in takes))
    edges = f" Edges: {100 * tuned.step_weight:g}%." if tuned.step_weight else ""
    early = f" of {tuned.trials}, stopped early" if tuned.stopped_early else ""
    lines = [
        f"The detector tuned for lock, from {' '.join(tuned.origin.split())}.",
        f"Notes of {names}; 0 dBFS is {scales}.",
        f"Trials: {result.trials}{early}. Seed: {tuned.seed}.{edges}",
        "",
        "Locked, in per cent, every note counting alike:",
        _figures(f"searched on ({searched_on})", result.before, result.after),
    ]
    if held_out:
        lines.append(_figures(f"held out ({held_out})", result.held_out.before, result.held_out.after))
    lines += ["", *_boards(tuned)]
    return "\n".join(lines)


def _boards(tuned: Tuned) -> list[str]:
    """Return the lines on boards, and on the part to select where there is one to name."""
    result, draws = tuned.result, tuned.result.draws
    parts = f"resistors {100 * draws.tolerances.resistor:g}%, capacitors {100 * draws.tolerances.capacitor:g}%"
    battery = "" if draws.least_supply_v is None else f", battery down to {format_volts(draws.least_supply_v)}"
    lines = [
        f"{draws.count} boards from number {draws.first} on ({parts}, {draws.tolerances.distribution}{battery}),",
        "locked, in per cent, median and 10th percentile:",
        _over_boards("searched on", result.before, result.after),
    ]
    if tuned.counts[1]:
        lines.append(_over_boards("held out", result.held_out.before, result.held_out.after))
    said = result.selection.words()
    return lines + (wrap(f"{said[0].upper()}{said[1:]}.", HEADING_WIDTH) if said else [])


def _over_boards(what: str, before: TuneFigures, after: TuneFigures) -> str:
    """Return the line of one set of notes over boards."""
    median, low = gained(before.locked_median, after.locked_median), gained(before.locked_p10, after.locked_p10)
    return f"  {what}: {median}, {low}"


def _figures(what: str, before: TuneFigures, after: TuneFigures) -> str:
    """Return the line of one set of notes."""
    everything = gained(before.locked_share, after.locked_share)
    opened = gained(before.open_string_locked_share, after.open_string_locked_share)
    steps = stepped(before.step_share, after.step_share)
    return (
        f"  {what}: {everything}"
        + ("" if opened == "–" else f", open strings {opened}")
        + ("" if steps == "–" else f"; steps {steps}")
    )
