"""The manual's topics: their order, which commands each explains, and their texts."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files

from sublatch.errors import ManualError, nearest_hint

COMMANDS_OF: dict[str, tuple[str, ...]] = {
    "recording": ("demo", "take"),
    "plan": (),
    "listening": ("audition", "decide", "trial"),
    "mybox": ("mybox",),
    "filters": ("response",),
    "knobs": ("knobs", "render"),
    "tracking": ("track",),
    "devices": (),
    "tuning": ("tune",),
    "choosing": ("choose",),
    "sheet": ("sheet",),
    "layout": ("layout",),
    "change": ("change",),
    "decisions": (),
    "circuits": ("circuits",),
    "own-filter": (),
    "settings": ("settings",),
    "files": (),
    "scripts": ("manual",),
    "completion": (),
    "methods": (),
    "limits": (),
    "cautions": (),
    "changes": (),
}
"""Every topic, in the order in which they are read, and the commands that it explains."""

_PAGES = files("sublatch.manual")


@dataclass(frozen=True)
class Topic:
    """One topic of the manual.

    Attributes
    ----------
    name
        What it is asked for by, such as ``own-filter``.
    title
        Its heading.
    summary
        Its first sentence.
    text
        The whole page, in Markdown.
    """

    name: str
    title: str
    summary: str
    text: str


def topic_names() -> list[str]:
    """Return the names of all topics, in the order in which they are read."""
    return list(COMMANDS_OF)


def topic(name: str) -> Topic:
    """Return a topic by its own name, or by that of a command that it explains.

    Raises
    ------
    ManualError
        When there is no such topic.
    """
    explained = {command: topic_name for topic_name, commands in COMMANDS_OF.items() for command in commands}
    file_name = name if name in COMMANDS_OF else explained.get(name)
    if file_name is None:
        hint = nearest_hint(name, [*COMMANDS_OF, *explained])
        raise ManualError(f"the manual has no topic {name!r}{hint} (known: {', '.join(COMMANDS_OF)})")
    text = (_PAGES / f"{file_name}.md").read_text(encoding="utf-8")
    heading, first = text.split("\n\n", 2)[:2]
    return Topic(file_name, heading.removeprefix("# "), _sentence(first), text)


def _sentence(paragraph: str) -> str:
    """Return a paragraph's first sentence on one line."""
    return " ".join(paragraph.split()).partition(". ")[0].rstrip(".") + "."
