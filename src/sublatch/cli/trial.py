"""``sublatch trial``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sublatch.cli.help import Manual
from sublatch.cli.options import json_option, print_json, printable

if TYPE_CHECKING:
    from sublatch.trial.result import TrialResult

MOST_PAIRS = 6
"""Pairs of a ranking that are told in words: all there are of four candidates."""


@click.command(
    cls=Manual,
    short_help="Read back what blind listening showed.",
    examples=('sublatch trial "blind groove 1a2b3c4d.json"',),
)
@click.argument("results", nargs=-1, required=True, type=click.Path(), metavar="RESULT.json...")
@json_option
@click.pass_context
def trial(ctx: click.Context, results: tuple[str, ...], as_json: bool) -> None:
    """Read back what blind listening on an audition's page showed, counted again from the single answers.

    Several files of the same take, candidates and kind are added up; others are told one by one.
    """
    from sublatch.errors import TrialError
    from sublatch.trial.read import add_trials, read_trial

    trials, failed = [], False
    for file in results:
        try:
            trials.append(read_trial(file))
        except TrialError as problem:
            for line in str(problem).splitlines():
                click.echo(f"sublatch: {line}", err=True)
            failed = True
    comparisons = add_trials(trials)
    if as_json:
        print_json({"trials": comparisons})
    else:
        click.echo("\n\n".join(_text(result) for result in comparisons), nl=bool(comparisons))
    ctx.exit(1 if failed else 0)


def _text(result: TrialResult) -> str:
    """Return one comparison as text."""
    lines = [*result.files, f"  take {printable(result.take)}, {'; '.join(printable(s) for s in _auditions(result))}"]
    lines += _heard_through(result)
    lines += _ranking(result) if result.kind == "ranking" else _forced_choice(result)
    lines += [f"  {printable(result.words)}", f"  {result.meaning}"]
    return "\n".join([*lines, *(f"  note: {printable(remark)}" for remark in result.remarks)])


def _auditions(result: TrialResult) -> list[str]:
    """Return the audition's title and the day of each session."""
    return [f"{session.audition}, {session.began[:10]}" for session in result.sessions]


def _heard_through(result: TrialResult) -> list[str]:
    """Return what it was heard through and with, as a line; nothing where there was neither."""
    session = result.sessions[0]
    parts = [f"through {printable(session.voicing)}"] if session.voicing else []
    parts += [f"with {printable(session.bed)}"] if session.bed else []
    return [f"  heard {' and '.join(parts)}"] if parts else []


def _forced_choice(result: TrialResult) -> list[str]:
    """Return what was told apart, as lines."""
    reference, other = (printable(candidate.name) for candidate in result.candidates)
    return [f"  forced choice: {reference} (the reference) against {other}"]


def _ranking(result: TrialResult) -> list[str]:
    """Return the order of liking, and how every pair stands, as lines."""
    from sublatch.trial.odds import in_words
    from sublatch.trial.result import rank_text

    ranked = sorted(zip(result.mean_ranks, (candidate.name for candidate in result.candidates), strict=True))
    lines = [f"  ranking of {len(ranked)}, the most liked first, with the mean place:"]
    lines += [f"    {rank_text(rank):>4}  {printable(name)}" for rank, name in ranked]
    clearest = sorted(result.pairs, key=lambda pair: -pair.first_ahead) if result.answered > 1 else []
    for pair in clearest[:MOST_PAIRS]:
        how = "" if pair.probability is None else f"; a coin is as clear {in_words(pair.probability)}"
        first, second = printable(pair.first), printable(pair.second)
        lines.append(f"  {first} before {second} in {pair.first_ahead} of {pair.rounds} rounds{how}")
    rest = len(clearest) - MOST_PAIRS
    return lines + ([f"  ({rest} more pairs, less clear; --json has them)"] if rest > 0 else [])
