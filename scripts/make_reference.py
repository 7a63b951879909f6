"""Rewrite what the manual says of the code: every setting, and the codes of all remarks.

Run it with the environment's Python: ``python scripts/make_reference.py``. It changes nothing but what stands between
the marks ``<!-- settings -->`` and ``<!-- end of settings -->``, and likewise for the remarks.
"""

from __future__ import annotations

from pathlib import Path

from sublatch.manual.fields import NEEDED, NONE
from sublatch.manual.reference import Row, Table, tables
from sublatch.takes.remarks import FIT, UNFIT

ROOT = Path(__file__).resolve().parent.parent
MANUAL = ROOT / "src" / "sublatch" / "manual"
TITLES = {"circuit": "A circuit file", "plan": "A plan"}


def main() -> None:
    """Rewrite the pages that are out of date."""
    for path, text in documents().items():
        if path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8", newline="\n")
            print(f"{path.relative_to(ROOT)}: rewritten")


def documents() -> dict[Path, str]:
    """Return the pages as they should be, by path."""
    parts = {MANUAL / "settings.md": ("settings", settings()), MANUAL / "scripts.md": ("remarks", remarks())}
    return {path: _between(path.read_text(encoding="utf-8"), *part) for path, part in parts.items()}


def remarks() -> str:
    """Return a table of the codes of all remarks on takes."""
    rows = [f"| `{code}` | unfit | {what} |" for code, what in UNFIT.items()]
    rows += [f"| `{code}` | | {what} |" for code, what in FIT.items()]
    return "\n".join(["| code | | what it stands for |", "|---|---|---|", *rows, ""])


def settings() -> str:
    """Return a section for each table of a circuit file and of a plan."""
    sections = []
    for table in tables():
        title = f"## {TITLES[table.file]}"
        sections += [title] if title not in sections else []
        sections.append(_section(table))
    return "\n\n".join(sections) + "\n"


def _section(table: Table) -> str:
    """Return one table's heading, its sentence and its rows."""
    heads = [f"`{_header(path)}`" for path in table.paths if path] + ([f"`{table.tag}`"] if table.tag else [])
    lines = [f"### {', '.join(heads)}", ""] if heads else []
    lines += [table.description, ""]
    if table.rows:
        lines += ["| setting | range | default | what it is |", "|---|---|---|---|"]
        lines += [f"| `{row.name}` | {row.range} | {_default(row)} | {row.description} |" for row in table.rows]
    return "\n".join(lines).strip()


def _default(row: Row) -> str:
    """Return a default as code, or that there is none."""
    return row.default if row.default in (NEEDED, NONE) else f"`{row.default}`"


def _header(path: str) -> str:
    """Return a dotted path as the header of its table."""
    return f"[[{path.removesuffix('[]')}]]" if path.endswith("[]") else f"[{path.replace('[]', '')}]"


def _between(text: str, mark: str, new: str) -> str:
    """Return `text` with what stands between two marks replaced."""
    first, last = f"<!-- {mark} -->\n", f"<!-- end of {mark} -->\n"
    before, _, rest = text.partition(first)
    _, mark_there, after = rest.partition(last)
    if not mark_there:
        raise SystemExit(f"the marks {first.strip()} and {last.strip()} must be there, in that order")
    return f"{before}{first}\n{new}\n{last}{after}"


if __name__ == "__main__":
    main()
