"""What is wrong with a text that should be TOML, told as its writer would put it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from tomllib import TOMLDecodeError

_POSITION = re.compile(r"\(at (line (?P<line>\d+), column \d+|end of document)\)$")
_HEADER = re.compile(r"\s*(?P<open>\[{1,2})\s*(?P<name>[\w.\-\"' ]*?)\s*(?P<close>\]{0,2})\s*(#.*)?")
_PAIR = re.compile(r"\s*(?P<key>[\w.\-\"']+)\s*=\s*(?P<value>.*)")
_COLON = re.compile(r"\s*(?P<key>[\w.\-]+)\s*:\s*(?P<value>.*)")
_BARE_KEY = re.compile(r"\s*(?P<key>[\w\-]+)\s+(?P<value>[\"'\d].*)")
_CURLY = str.maketrans("“”„‟″«»‘’", '"""""""\'\'')
_LONGEST_SHOWN = 60
"""Characters of a line that a message repeats."""


def fault(text: str, problem: ValueError, *, is_list: Callable[[str], bool]) -> str | None:
    """Return what is wrong with a document and how to write it, with the line; None where that cannot be told.

    Parameters
    ----------
    text
        The document.
    problem
        What the parser says of it.
    is_list
        Tells whether a table's name, in dotted form, stands for a list of tables.
    """
    position = _POSITION.search(str(problem)) if isinstance(problem, TOMLDecodeError) else None
    if position is None:
        return None
    lines = text.rstrip().split("\n")  # the parser's own idea of a line
    number = int(position["line"] or len(lines))
    if number > len(lines):
        return None
    line = lines[number - 1]
    is_header = line.lstrip().startswith("[")
    description = _header_fault(lines, number, is_list) if is_header else _setting_fault(lines, number)
    return None if description is None else f"line {number}: {description}"


def _header_fault(lines: Sequence[str], number: int, is_list: Callable[[str], bool]) -> str | None:
    """Return what is wrong with the head of a table."""
    head = _HEADER.fullmatch(lines[number - 1])
    if head is None or not head["name"]:
        return None
    name = head["name"]
    if len(head["open"]) != len(head["close"]):
        brackets = ("[[", "]]") if is_list(name) else ("[", "]")
        return f"a table's name stands between brackets; write {brackets[0]}{name}{brackets[1]}"
    heads = (_HEADER.fullmatch(line) for line in lines[: number - 1])
    earlier = next((line for line, other in enumerate(heads, start=1) if other and other["name"] == name), None)
    if earlier is None:
        return None
    if is_list(name):
        return f"there are several {name}: write [[{name}]], with two brackets, for each, from line {earlier} on"
    return f"[{name}] is there already, in line {earlier}; put both under one [{name}]"


def _setting_fault(lines: Sequence[str], number: int) -> str | None:
    """Return what is wrong with a line that should set something."""
    line = lines[number - 1]
    pair = _PAIR.fullmatch(line)
    if pair is None:
        pair = _COLON.fullmatch(line) or _BARE_KEY.fullmatch(line)
        if pair is None:
            return None
        return f"a setting is written with an equals sign; write {_cut(pair['key'] + ' = ' + _quoted(pair['value']))}"
    return _value_fault(pair["key"], pair["value"].strip()) or _repeated_key(lines, number, pair["key"])


def _value_fault(key: str, value: str) -> str | None:
    """Return what is wrong with a setting's value."""
    bare = value.partition("#")[0].strip()
    if not bare:
        return f"{key} must have a value after its equals sign, got nothing"
    if bare.translate(_CURLY) != bare:
        return f"quotation marks must be straight ones; write {_cut(f'{key} = {bare.translate(_CURLY)}')}"
    if bare.lower() in ("true", "false"):
        return None if bare.islower() else f"true and false are written small; write {key} = {bare.lower()}"
    if bare[0] in "\"'":
        return _text_fault(key, value)
    if bare[0] in "[{":
        return None
    if re.fullmatch(r"[+-]?\d+,\d+", bare):
        return f"decimals come after a point; write {key} = {bare.replace(',', '.')}"
    if not re.fullmatch(r"[+-]?(\d[\d_]*)?(\.\d+)?(e[+-]?\d+)?", bare, re.IGNORECASE):
        return f"a text, and a value with its unit, stand in quotation marks; write {_cut(f'{key} = {_quoted(bare)}')}"
    return None


def _text_fault(key: str, value: str) -> str | None:
    """Return what is wrong with a text in quotation marks."""
    mark = value[0]
    if value.startswith(3 * mark):
        return None
    if value.count(mark) == 1:
        return f"the text has no quotation mark at its end; write {_cut(f'{key} = {value}{mark}')}"
    if mark == '"' and "\\" in value:
        return f"in a text a backslash means something else; write {_cut(f'{key} = {value}').replace(chr(92), '/')}"
    return None


def _repeated_key(lines: Sequence[str], number: int, key: str) -> str | None:
    """Return that a key stands twice in its table, where it does."""
    for index in range(number - 2, -1, -1):
        if _HEADER.fullmatch(lines[index]):
            return None
        pair = _PAIR.fullmatch(lines[index])
        if pair is not None and pair["key"] == key:
            return f"{key} is there already, in line {index + 1}; keep one of them"
    return None


def _quoted(value: str) -> str:
    """Return a value in quotation marks, unless it has some or is a number."""
    value = value.strip()
    return value if re.fullmatch(r"[\"'].*|[+-]?[\d.]+", value) else f'"{value}"'


def _cut(text: str) -> str:
    """Return a text, cut where it is long."""
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 1] + "…"
