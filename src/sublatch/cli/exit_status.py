"""Errors to exit statuses: a message on standard error, and what the shell is told."""

from __future__ import annotations

import errno
import sys
from io import TextIOWrapper
from typing import Any

import click

from sublatch.errors import (
    CalibrationError,
    CircuitError,
    ManualError,
    NotesError,
    PlanError,
    StockError,
    SublatchError,
    UnitError,
)

WRONG_USAGE = (CalibrationError, CircuitError, ManualError, NotesError, PlanError, StockError, UnitError)
"""What the user wrote cannot be: exit status 2. Anything else that goes wrong: 1."""
INTERRUPTED = 130
"""Exit status after Ctrl-C, as shells have it."""


class Failed(click.ClickException):
    """A job that failed, in part or whole."""

    exit_code = 1

    def show(self, file: Any = None) -> None:
        """Print every line of the message on standard error."""
        for line in self.message.splitlines():
            click.echo(f"sublatch: {line}", err=True)


class WronglyUsed(Failed):
    """A job that could not be begun, because of what was asked."""

    exit_code = 2


class ReportingGroup(click.Group):
    """A group of commands that turns the library's errors into messages."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        _print_anything()
        try:
            return super().invoke(ctx)
        except WRONG_USAGE as problem:
            raise WronglyUsed(str(problem)) from problem
        except SublatchError as problem:
            raise Failed(str(problem)) from problem
        except MemoryError as problem:
            raise Failed("not enough memory; try a shorter take or fewer --jobs") from problem
        except OSError as problem:
            if problem.errno == errno.EPIPE:  # whoever reads the output has seen enough
                raise
            raise Failed(f"{problem.filename or 'output'}: {problem.strerror or problem}") from problem
        except KeyboardInterrupt:
            click.echo("\nsublatch: stopped; files already written are whole, nothing else was kept", err=True)
            exec("")  # Python dies of the signal instead when it came inside an exec, unless another follows
            ctx.exit(INTERRUPTED)


def _print_anything() -> None:
    """Have characters that a terminal does not know printed as escapes, where they would be errors."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
