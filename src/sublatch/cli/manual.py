"""``sublatch manual``."""

from __future__ import annotations

import shutil
from dataclasses import asdict

import click
from click.shell_completion import CompletionItem

from sublatch.cli.help import Manual
from sublatch.cli.options import json_option, print_json


def complete_topic(_ctx: click.Context, _parameter: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Return the manual's topics, each with its first sentence."""
    from sublatch.manual.topics import topic, topic_names

    return [CompletionItem(name, help=topic(name).summary) for name in topic_names() if name.startswith(incomplete)]


@click.command(
    cls=Manual,
    short_help="Show the manual, topic by topic.",
    examples=(
        "sublatch manual",
        "sublatch manual tracking",
    ),
)
@click.argument("topic", required=False, shell_complete=complete_topic)
@json_option
def manual(topic: str | None, as_json: bool) -> None:
    """Show one TOPIC of the manual, page by page on a terminal, or list the topics.

    The name of a command stands for the topic that explains it.
    """
    from sublatch.manual.topics import COMMANDS_OF, topic_names
    from sublatch.manual.topics import topic as read_topic

    if topic is not None:
        page = read_topic(topic)
        if as_json:
            print_json(asdict(page))
        else:
            from sublatch.manual.plain import plain_text

            click.echo_via_pager(plain_text(page.text, width=_width()))
        return
    pages = [read_topic(name) for name in topic_names()]
    if as_json:
        topics = [
            {"name": page.name, "title": page.title, "summary": page.summary, "commands": COMMANDS_OF[page.name]}
            for page in pages
        ]
        print_json({"topics": topics})
        return
    formatter = click.HelpFormatter(width=_width())
    formatter.write_dl([(page.name, page.summary) for page in pages])
    click.echo(formatter.getvalue(), nl=False)


def _width() -> int:
    """Return how many characters a line has: what the terminal has room for, within what is easy to read."""
    from sublatch.manual.plain import WIDEST

    return min(shutil.get_terminal_size((WIDEST, 24)).columns, WIDEST)
