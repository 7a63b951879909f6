"""The circuit file of what `knobs` found: the volume at unity, the trim resistor, the nearest setting."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sublatch.circuit.changed import change_comments
from sublatch.circuit.model import Circuit
from sublatch.circuit.save import save_circuit
from sublatch.parts.knobs.report import Knobs


def write_settled(
    found: Knobs,
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
    found
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
    comments = change_comments(before, found.circuit)
    heading = settled_heading(found, origin)
    save_circuit(found.circuit, path, comments=comments, heading=heading, inputs=inputs, overwrite=overwrite)


def settled_heading(found: Knobs, origin: str) -> str:
    """Return what was found, as the file says it at its top.

    Parameters
    ----------
    found
        From `knobs`.
    origin
        What the circuit was called.
    """
    lines = [f"Knobs set from {' '.join(origin.split())}."]
    if found.same_as is not None:
        apart = found.same_as.nearest.difference_db
        lines.append(f"Nearest to {found.same_as.circuit!r} with {found.same_as.heard}: {apart:.1f} dB apart.")
    trim, first = found.trim, found.unities[0]
    position = found.settled_position
    excess_db = first.excess_gain_db if trim is None else trim.excess_gain_db
    where = f"beyond 10, {-excess_db:.1f} dB" if position is None else f"at {position:.2f}, {excess_db:.1f} dB in hand"
    lines.append(f"Unity with {first.heard}: {where}.")
    if trim is not None and not trim.possible:
        lines.append(f"No trim resistor puts it at {trim.wanted_position:g}.")
    return "\n".join(lines)
