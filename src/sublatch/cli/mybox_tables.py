"""What ``sublatch mybox`` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sublatch.circuit.origins import ORIGINS, Origin
from sublatch.circuit.save import settings_of
from sublatch.cli.options import columns
from sublatch.parts.mybox.figures import in_words

if TYPE_CHECKING:
    from sublatch.parts.mybox.contradiction import Contradiction
    from sublatch.parts.mybox.job import Box

LINE = 120
FIGURES = {
    "corner": "corner of the output filter",
    "low": "corner with tone at 0",
    "high": "corner with tone at 10",
    "peak": "peak of the output filter",
    "unity": "unity on the volume knob",
    "in-hand": "in hand above unity, volume at 10",
    "at-5": "from volume 5 to volume 10",
}
HEADS = {
    "known": "known: read on the board, or stated",
    "fitted": "fitted: fixed by a fact that was stated; such values need not be sold",
    "assumed": "assumed: as in the built-in circuits, or the likeliest",
}


def print_box(box: Box, *, command: str) -> None:
    """Print a box: its figures, its values by how sure they are, and what would settle the rest."""
    click.echo(box.circuit.title)
    rows = [("", "stated", "in the file", "")]
    for one in box.figures:
        stated = "–" if one.stated is None else in_words(one.stated, one.unit)
        rows.append((FIGURES[one.name], stated, in_words(one.value, one.unit), one.origin))
    click.echo(columns(rows))
    click.echo(f"  unity with {box.heard}")
    for contradiction in box.doubtful:
        _print_doubtful(contradiction)
    for origin in ORIGINS:
        _print_values(box, origin)
    _print_measurements(box)
    click.echo(f"\nthe same again, to add to\n  {command}")


def _print_doubtful(contradiction: Contradiction) -> None:
    """Print what holds together only with something that nobody said, and the ways out."""
    click.echo(f"\n{click.wrap_text('to mind: ' + contradiction.text, LINE, subsequent_indent='  ')}")
    for way in contradiction.alternatives:
        click.echo(f"  --doubt {way.doubt}: {way.words}")


def _print_values(box: Box, origin: Origin) -> None:
    """Print the values with a mark."""
    texts = settings_of(box.circuit)
    paths = [path for path in box.paths(origin) if path in texts]
    if paths:
        click.echo(f"\n{HEADS[origin]}")
        fixed = box.fixed
        rows = [(path, texts[path].text, fixed[path].words if path in fixed else origin) for path in paths]
        click.echo(columns(rows))


def _print_measurements(box: Box) -> None:
    """Print what would settle what is assumed."""
    if not box.measurements:
        return
    click.echo("\nto settle what is assumed, the cheapest first")
    for one in box.measurements:
        click.echo(f"  {one.with_what}, for {', '.join(one.settles)}: {one.option}")
        click.echo(click.wrap_text(one.how, LINE, initial_indent="    ", subsequent_indent="    "))
