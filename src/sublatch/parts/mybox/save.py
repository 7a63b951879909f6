"""A circuit file of a box: what each value is worth, and how the file was made."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sublatch.circuit.origins import ORIGINS
from sublatch.circuit.save import save_circuit
from sublatch.parts.mybox.figures import in_words
from sublatch.parts.mybox.job import Box


def save_box(
    box: Box, path: str | Path, *, command: str, inputs: Iterable[str | Path] = (), overwrite: bool = False
) -> None:
    """Write a box's circuit, each value marked as known, assumed, or fitted and to which facts.

    Parameters
    ----------
    box
        From `my_box`.
    path
        The file; it ends in ``.toml``.
    command
        The command line that makes it again.
    inputs
        Files that must never be replaced, whatever `overwrite` says.
    overwrite
        Replace a file that this program did not write, or that was changed since.

    Raises
    ------
    OutputError
        When the file cannot be written, or must not be replaced.
    """
    comments = {setting: fixed.words for setting, fixed in box.fixed.items()}
    save_circuit(
        box.circuit,
        path,
        comments=comments,
        heading=box_heading(box, command),
        inputs=inputs,
        overwrite=overwrite,
    )


def box_heading(box: Box, command: str) -> str:
    """Return what a box's file says at its top.

    Parameters
    ----------
    box
        From `my_box`.
    command
        The command line that makes it again.
    """
    lines = [f"From what is known of a box, with {box.heard}."]
    for one in box.figures:
        if one.stated is not None:
            lines.append(f"{one.name}: {in_words(one.value, one.unit)}; stated {in_words(one.stated, one.unit)}.")
    lines += [f"To mind: {one.text}." for one in box.doubtful]
    counts = ", ".join(f"{len(box.paths(origin))} {origin}" for origin in ORIGINS)
    lines += [f"Values: {counts}. Fitted ones need not be sold.", "Made again with:", command]
    return "\n".join(lines)
