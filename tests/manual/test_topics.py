"""The manual's topics: each file is one, in its order, and each begins with a heading and one sentence."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import sublatch
from sublatch.errors import ManualError
from sublatch.manual import topics
from sublatch.manual.topics import topic, topic_names

FOLDER = Path(topics.__file__).parent


def test_each_page_is_a_topic() -> None:
    assert sorted(topic_names()) == sorted(path.stem for path in FOLDER.glob("*.md"))


@pytest.mark.parametrize("name", topic_names())
def test_a_topic_begins_with_its_heading_and_a_sentence(name: str) -> None:
    found = topic(name)
    assert found.name == name
    assert found.text == (FOLDER / f"{name}.md").read_text(encoding="utf-8")
    assert found.text.startswith(f"# {found.title}\n\n")
    assert " ".join(found.text.split()).startswith(f"# {found.title} {found.summary}")
    assert re.fullmatch(r"[A-Z][^|#*]{20,160}\.", found.summary)


def test_a_commands_name_stands_for_the_topic_that_explains_it() -> None:
    assert topic("track") == topic("tracking")
    assert topic("render") == topic("knobs")


def test_an_unknown_topic_is_told_with_the_nearest() -> None:
    with pytest.raises(ManualError, match=r"no topic 'caution'; did you mean 'cautions'\?.*known: recording, plan"):
        topic("caution")


def test_the_newest_version_in_the_changes_is_this_one() -> None:
    versions = re.findall(r"^## (\S+)$", topic("changes").text, flags=re.MULTILINE)
    assert versions[0] == sublatch.__version__
    numbers = [tuple(map(int, version.split("."))) for version in versions]
    assert numbers == sorted(set(numbers), reverse=True)
