"""What ``sublatch track --second-opinion`` prints: the notes of which pYIN has another pitch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from sublatch.cli.options import columns, number

if TYPE_CHECKING:
    from sublatch.cli.tracked import Tracked
    from sublatch.pitch.second_opinion import PitchOpinions

HEADS = ("start s", "length s", "note", "Hz", "pYIN", "Hz", "cents")


def print_opinions(found: Sequence[Tracked]) -> None:
    """Print the second opinion on each take, once for all its circuits."""
    takes = {id(one.opinions): (one.tracking.take, one.opinions) for one in found if one.opinions is not None}
    for take, opinions in takes.values():
        _print(take, opinions)
        click.echo()


def _print(take: str, opinions: PitchOpinions) -> None:
    """Print how many notes of a take agree, those that do not, and what pYIN can be trusted with."""
    from sublatch.pitch.second_opinion import AGREE_CENTS, FRAME_S
    from sublatch.units.scales import hz_to_note

    count = len(opinions.notes)
    without = sum(one.pitch_hz is None for one in opinions.notes)
    differing = [one for one in opinions.notes if one.differs]
    click.echo(
        f"{take}, second opinion by pYIN: {count - without - len(differing)} of {count} notes agree within "
        f"{AGREE_CENTS:.0f} cents (another pitch: {len(differing)}, no pitch: {without})"
    )
    rows = [
        (
            f"{one.note.start_s:.3f}",
            f"{one.note.end_s - one.note.start_s:.2f}",
            one.note.name,
            number(one.note.pitch_hz),
            hz_to_note(one.pitch_hz),
            number(one.pitch_hz),
            f"{one.difference_cents:+.0f}",
        )
        for one in differing
        if one.pitch_hz is not None
    ]
    if rows:
        click.echo(columns([HEADS, *rows], right_from=0))
    click.echo(f"  pYIN looks at {1000 * FRAME_S:.0f} ms at a time: notes that are not much longer are at its limit")
