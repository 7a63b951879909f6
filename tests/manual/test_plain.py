"""The manual as plain text: nothing is lost, no marks are left, no line of prose is too long."""

from __future__ import annotations

import re

import pytest

from sublatch.manual.plain import plain_text
from sublatch.manual.topics import topic, topic_names

PAGE = """# A *page*

First **bold words** and `--code` of a
line, see [the knobs](knobs.md).

<!-- mark -->

## Part

1. One item that is
   long enough.
2. Two.

```console
$ sublatch x  |  *y*

    kept
```

| a | what it is |
|---|---|
| `x \\| y` | one two three four |
"""


def test_each_sort_of_block() -> None:
    assert plain_text(PAGE, width=30) == (
        "A page\n======\n\n"
        "First bold words and `--code`\nof a line, see the knobs\n(sublatch manual knobs).\n\n"
        "Part\n----\n\n"
        "1. One item that is long\n   enough.\n2. Two.\n\n"
        "    $ sublatch x  |  *y*\n\n        kept\n\n"
        "a      what it is\n-----  ------------------\nx | y  one two three four\n"
    )


def test_of_a_picture_there_is_what_it_shows() -> None:
    assert plain_text("![A board,\nfrom below](pictures/board.png)\n") == "(Picture: A board, from below)\n"


def test_a_wide_table_gives_way_in_its_widest_column() -> None:
    table = f"| a | b |\n|---|---|\n| short | {'many words ' * 8}|\n"
    lines = plain_text(table, width=40).splitlines()
    assert max(map(len, lines)) <= 40
    assert lines[2] == "short  many words many words many words"
    assert lines[3] == "       many words many words many words"


@pytest.mark.parametrize("name", topic_names())
def test_every_word_of_a_topic_is_there_and_no_mark(name: str) -> None:
    text = topic(name).text
    plain = plain_text(text)
    assert "**" not in plain
    assert "](" not in plain
    assert "<!--" not in plain
    without = re.sub(r"<!--.*?-->|\]\([\w/-]+\.(?:md|png)\)|^```\w*$", " ", text, flags=re.MULTILINE)
    assert not set(re.findall(r"\w+", without)) - set(re.findall(r"\w+", plain))


@pytest.mark.parametrize("name", topic_names())
@pytest.mark.parametrize("width", [60, 100])
def test_prose_fits_its_width(name: str, width: int) -> None:
    prose = re.sub(r"^```.*?^```|^\|.*?$", "", topic(name).text, flags=re.MULTILINE | re.DOTALL)
    assert max(map(len, plain_text(prose, width=width).splitlines())) <= width
