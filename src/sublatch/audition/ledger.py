"""What an audition folder holds, so that a second run redoes only what changed and replaces only its own files."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from hashlib import sha256
from pathlib import Path
from typing import Any

from sublatch.outputs import guard, write_text
from sublatch.signal.levels import Levels

LEDGER_NAME = ".sublatch.json"
FORMAT = 1


def digest(*facts: Any) -> str:
    """Return a short text that stands for facts: equal facts, equal text."""
    return sha256(json.dumps(facts, sort_keys=True, default=str).encode()).hexdigest()[:32]


class Ledger:
    """The files of one audition folder and the measurements behind them.

    Parameters
    ----------
    folder
        The audition folder; it need not exist.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        known = _read(folder / LEDGER_NAME)
        self._old_files: dict[str, dict[str, str]] = known.get("files", {})
        self._old_measured: dict[str, dict[str, Any]] = known.get("measured", {})
        self._files: dict[str, dict[str, str]] = {}
        self._measured: dict[str, dict[str, Any]] = {}

    def measured(self, key: str) -> tuple[Levels, float] | None:
        """Return levels and share of time at the limits that an earlier run found for a rendering."""
        found = self._old_measured.get(key)
        if found is None:
            return None
        self._measured[key] = found
        return Levels(**found["levels"]), found["at_limit_share"]

    def measure(self, key: str, levels: Levels, at_limit_share: float) -> None:
        """Note what was found for a rendering."""
        self._measured[key] = {"levels": asdict(levels), "at_limit_share": at_limit_share}

    def is_ours(self, path: Path) -> bool:
        """Return whether a file is as this program wrote it."""
        known = self._old_files.get(self._name(path)) or self._files.get(self._name(path))
        return known is not None and known["sha256"] == _file_digest(path)

    def is_current(self, path: Path, key: str) -> bool:
        """Return whether a file is as this program wrote it, from the very same facts; it is then kept."""
        known = self._old_files.get(self._name(path))
        current = known is not None and known["key"] == key and self.is_ours(path)
        if current and known is not None:
            self._files[self._name(path)] = known
        return current

    def guard(self, paths: Iterable[Path], *, overwrite: bool) -> None:
        """Refuse, before anything is written, to replace what is not this program's own.

        Raises
        ------
        OutputError
            Naming the first such file.
        """
        for path in paths:
            guard(path, overwrite=overwrite, made_here=self.is_ours)

    def wrote(self, path: Path, key: str) -> None:
        """Note a file that was just written."""
        self._files[self._name(path)] = {"key": key, "sha256": _file_digest(path) or ""}

    def drop_leftovers(self) -> None:
        """Remove files of earlier runs that this one has no use for and nobody has changed."""
        for name in self._old_files.keys() - self._files.keys():
            path = self.folder / name
            if self.is_ours(path):
                path.unlink(missing_ok=True)
                _drop_if_empty(path.parent, self.folder)

    def save(self) -> None:
        """Write the ledger."""
        known = {"format": FORMAT, "files": self._files, "measured": self._measured}
        write_text(self.folder / LEDGER_NAME, json.dumps(known, indent=1, sort_keys=True) + "\n")

    def save_interrupted(self) -> None:
        """Write the ledger of a run that did not come to its end: what it wrote, and what is still there from before."""
        self._files = {**self._old_files, **self._files}
        self._measured = {**self._old_measured, **self._measured}
        self.save()

    def _name(self, path: Path) -> str:
        """Return a file's name from the folder on."""
        return path.relative_to(self.folder).as_posix()


def _read(path: Path) -> dict[str, Any]:
    """Return what a ledger holds; nothing where there is none or it cannot be understood."""
    try:
        known = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return known if isinstance(known, dict) and known.get("format") == FORMAT else {}


def _file_digest(path: Path) -> str | None:
    """Return the SHA-256 of a file, or None where there is none."""
    try:
        return sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


def _drop_if_empty(folder: Path, top: Path) -> None:
    """Remove a folder below `top` when nothing is left in it."""
    if folder != top and not any(folder.iterdir()):
        folder.rmdir()
