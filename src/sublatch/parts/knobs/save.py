"""Circuit files of what `knobs` found: the volume at unity, the trim resistor, the nearest setting."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sublatch.circuit.changed import change_comments
from sublatch.circuit.model import Circuit
from sublatch.circuit.save import save_circuit
from sublatch.parts.knobs.report import Knobs


def save_knobs(
    report: Knobs,
    path: str | Path,
    *,
    before: Circuit,
    origin: str,
    inputs: Iterable[str | Path] = (),
    overwrite: bool = False,
) -> None:
    """Write the circuit with what was found in it, saying what each value was.

    Parameters
    ----------
    report
        From `knobs`.
    path
        The file; it ends in ``.toml``.
    before
        The circuit that `knobs` was given.
    origin
        What that one is called.
    inputs
        Files that must never be replaced, whatever `overwrite` says.
    overwrite
        Replace a file that this program did not write, or that was changed since.

    Raises
    ------
    OutputError
        When the file cannot be written, or must not be replaced.
    """
    comments = change_comments(before, report.circuit)
    heading = knobs_heading(report, origin)
    save_circuit(report.circuit, path, comments=comments, heading=heading, inputs=inputs, overwrite=overwrite)


def knobs_heading(report: Knobs, origin: str) -> str:
    """Return what was found, as the file says it at its top.

    Parameters
    ----------
    report
        From `knobs`.
    origin
        What the circuit was called.
    """
    lines = [f"Knobs set from {' '.join(origin.split())}."]
    if report.same_as is not None:
        apart = report.same_as.nearest.difference_db
        lines.append(f"Nearest to {report.same_as.circuit!r} with {report.same_as.heard}: {apart:.1f} dB apart.")
    trim, found = report.trim, report.settled or report.unities[0]
    position, excess_db = found.position, found.excess_gain_db
    where = f"beyond 10, {-excess_db:.1f} dB" if position is None else f"at {position:.2f}, {excess_db:.1f} dB in hand"
    lines.append(f"Unity with {found.heard}: {where}.")
    if trim is not None and not trim.possible and not report.ways:
        lines.append(f"No trim resistor puts it at {trim.wanted_position:g}.")
    return "\n".join(lines)
