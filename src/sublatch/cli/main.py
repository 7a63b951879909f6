"""The group of all commands."""

from __future__ import annotations

import click

from sublatch.cli.audition import audition
from sublatch.cli.change import change
from sublatch.cli.choose import choose
from sublatch.cli.circuits import circuits
from sublatch.cli.decide import decide
from sublatch.cli.demo import demo
from sublatch.cli.exit_status import ReportingGroup
from sublatch.cli.knobs import knobs
from sublatch.cli.layout import layout
from sublatch.cli.manual import manual
from sublatch.cli.mybox import mybox
from sublatch.cli.render import render
from sublatch.cli.response import response
from sublatch.cli.settings import settings
from sublatch.cli.sheet import sheet
from sublatch.cli.shells import register
from sublatch.cli.take import take
from sublatch.cli.track import track
from sublatch.cli.trial import trial
from sublatch.cli.tune import tune
from sublatch.version import __version__

HELP = """Hear, measure and choose a change to a divide-by-two octave circuit before soldering it.

\b
Start with
  sublatch demo my-sounds
  sublatch audition my-sounds/audition.toml
  sublatch manual

Exit status: 0 done, 1 the job failed in part or whole, 2 wrong usage, 130 stopped with Ctrl-C.
"""


@click.group(cls=ReportingGroup, help=HELP, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="sublatch")
def main() -> None:
    """Hold all commands."""


register()
for _command in (
    *(demo, audition, render, take, track, trial, decide, tune, response, choose, knobs),
    *(mybox, change, sheet, layout, circuits, settings, manual),
):
    main.add_command(_command)
