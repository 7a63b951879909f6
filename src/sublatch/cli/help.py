"""A command's help: options in named groups, examples at the end, and what was meant where -c is forgotten."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from typing import Any

import click

LONG = 8
"""A command with more options than this shows them in groups."""
CIRCUIT, RECORDING, OTHER, OUTPUT = "Circuit", "Recording", "Options", "Output"
SHARED = {
    **dict.fromkeys(("--circuit", "--set"), CIRCUIT),
    **dict.fromkeys(("--take", "--full-scale", "--calibration", "--channel"), RECORDING),
    **dict.fromkeys(("--tuning", "--notes", "--notes-start"), RECORDING),
    **dict.fromkeys(("--output", "--plot", "--overwrite", "--json", "--help"), OUTPUT),
}
"""Where options that several commands share stand, unless the command says otherwise."""
CIRCUIT_PARAMETERS = ("circuit", "circuits")


class Manual(click.Command):
    """A command whose help has its options in groups and ends with examples.

    Parameters
    ----------
    examples
        Whole command lines, each as one would type it.
    groups
        Names of options, as "--low", by the title they stand under, in this order. A title in `SHARED` adds to it, and
        an option that is in none stands under "Options".
    """

    def __init__(
        self, *arguments: Any, examples: Sequence[str], groups: Mapping[str, Sequence[str]] | None = None, **others: Any
    ) -> None:
        super().__init__(*arguments, **others)
        self.examples = tuple(examples)
        self.groups = dict(groups or {})

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options, those of a long command group by group."""
        options = [option for option in self.get_params(ctx) if isinstance(option, click.Option) and not option.hidden]
        titles = SHARED | {name: title for title, names in self.groups.items() for name in names}
        if len(options) <= LONG:
            titles = {}
        between = [title for title in self.groups if title != OUTPUT]
        for title in dict.fromkeys((CIRCUIT, RECORDING, *between, OTHER, OUTPUT)):
            records = (option.get_help_record(ctx) for option in options if _title_of(option, titles) == title)
            rows = [record for record in records if record is not None]
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the examples, none of them broken into lines."""
        with formatter.section("Examples" if len(self.examples) > 1 else "Example"):
            for example in self.examples:
                formatter.write(f"{'':{formatter.current_indent}}{example}\n")

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the command line; where -c is missing, say which of its words was probably meant for it."""
        words = list(args)
        try:
            return super().parse_args(ctx, args)
        except click.MissingParameter as problem:
            if problem.param is None or problem.param.name not in CIRCUIT_PARAMETERS:
                raise
            meant = _circuit_words(words) if problem.param.multiple else _circuit_words(words)[:1]
            if not meant:
                known = f"It is a .toml file or a built-in one: {', '.join(_circuit_names())}."
                raise click.MissingParameter(known, ctx=ctx, param=problem.param) from None
            raise click.UsageError(_with_circuit(ctx, words, meant), ctx) from None


def _title_of(option: click.Option, titles: Mapping[str, str]) -> str:
    """Return the title that an option stands under."""
    return next((titles[name] for name in option.opts if name in titles), OTHER)


def _circuit_words(words: Sequence[str]) -> list[str]:
    """Return the words that look like circuits and are no option's value."""
    before = ("", *words)
    return [
        word
        for last, word in zip(before, words, strict=False)
        if not last.startswith("-") and (word.lower().endswith(".toml") or word in _circuit_names())
    ]


def _circuit_names() -> list[str]:
    """Return the names of the built-in circuits."""
    from sublatch.circuit.load import circuit_names

    return circuit_names()


def _with_circuit(ctx: click.Context, words: Sequence[str], meant: Sequence[str]) -> str:
    """Return the command line that was meant where a circuit was named without -c."""
    rest = list(words)
    for word in meant:
        rest.remove(word)
    line = [*ctx.command_path.split(), *rest, *(part for word in meant for part in ("-c", word))]
    return f"a circuit is named with -c; did you mean: {shlex.join(line)}"
