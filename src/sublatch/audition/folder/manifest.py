"""What an audition folder holds, so that a second run redoes only what changed and replaces only its own files."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from hashlib import file_digest, sha256
from pathlib import Path, PurePosixPath
from typing import Any

from sublatch.audition.folder.code_digest import code_digest
from sublatch.audition.folder.sound_script import is_sound_script
from sublatch.files.outputs import guard, write_text
from sublatch.files.sound import made_here

MANIFEST_NAME = ".sublatch.json"
FORMAT = 1


def digest(*facts: Any) -> str:
    """Return a short text that stands for facts: equal facts, equal text."""
    return sha256(json.dumps(facts, sort_keys=True, default=str).encode()).hexdigest()[:32]


class Manifest:
    """The files of one audition folder and the measurements behind them.

    What other code than this has made is known as the program's own, but never kept: a key holds only together with
    `code_digest`.

    Parameters
    ----------
    folder
        The audition folder; it need not exist.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / MANIFEST_NAME
        known = _read(self.path) or {}
        self._old_files: dict[str, dict[str, str]] = known.get("files", {})
        self._old_intended: dict[str, list[str]] = known.get("intended", {})
        self._old_measured: dict[str, dict[str, Any]] = known.get("measured", {})
        self._old_tracked: dict[str, dict[str, Any]] = known.get("tracked", {})
        self._old_code = known.get("code")
        if self._old_code != code_digest():
            self._old_files = {name: {**facts, "key": ""} for name, facts in self._old_files.items()}
            self._old_measured, self._old_tracked = {}, {}
        self._files: dict[str, dict[str, str]] = {}
        self._measured: dict[str, dict[str, Any]] = {}
        self._tracked: dict[str, dict[str, Any]] = {}

    def measured(self, key: str) -> dict[str, Any] | None:
        """Return what an earlier run measured of a sound, as it was noted then."""
        return self._old_measured.get(key)

    def measure(self, key: str, facts: dict[str, Any]) -> None:
        """Note what was measured of a sound: facts that JSON can hold."""
        self._measured[key] = facts

    def tracked(self, key: str) -> dict[str, Any] | None:
        """Return what an earlier run found of a detector's tracking, as it was noted then."""
        return self._old_tracked.get(key)

    def track(self, key: str, facts: dict[str, Any]) -> None:
        """Note what was found of a detector's tracking: facts that JSON can hold."""
        self._tracked[key] = facts

    def is_ours(self, path: Path) -> bool:
        """Return whether a file is as this program wrote it; a sound file or a sound script says so itself."""
        return self._is_unchanged(path) or self._was_intended(path) or made_here(path) or is_sound_script(path)

    def is_current(self, path: Path, key: str) -> bool:
        """Return whether a file is as this program wrote it, from the very same facts; it is then kept."""
        known = self._old_files.get(self._name(path))
        current = known is not None and known["key"] == key and self._is_unchanged(path)
        if current:
            self.keep(path)
        return current

    def keep(self, path: Path) -> None:
        """Go on knowing a file of an earlier run, whatever it holds."""
        known = self._old_files.get(self._name(path))
        if known is not None:
            self._files[self._name(path)] = known

    def guard(self, paths: Iterable[Path], *, overwrite: bool) -> None:
        """Refuse, before anything is written, to replace what is not this program's own.

        Raises
        ------
        OutputError
            Naming the first such file.
        """
        guard(self.path, overwrite=overwrite, made_here=lambda path: _read(path) is not None)
        for path in paths:
            guard(path, overwrite=overwrite, made_here=self.is_ours)

    def wrote(self, path: Path, key: str) -> None:
        """Note a file that was just written."""
        self._files[self._name(path)] = {"key": key, "sha256": _file_digest(path) or ""}

    def write(self, texts: Iterable[tuple[Path, str, str]]) -> None:
        """Write text files, noted ahead so that a run that is ended in between leaves none that nobody knows.

        Parameters
        ----------
        texts
            Of each file its path, its key and its text.

        Raises
        ------
        OutputError
            When one cannot be written.
        """
        texts = list(texts)
        if texts:
            self.save_so_far(intended={self._name(path): _text_digest(text) for path, _, text in texts})
        for path, key, text in texts:
            write_text(path, text)
            self._files[self._name(path)] = {"key": key, "sha256": _text_digest(text)}

    def sha256(self, path: Path) -> str:
        """Return the SHA-256 of a file that this run has written or kept."""
        return self._files[self._name(path)]["sha256"]

    def drop_leftovers(self) -> None:
        """Remove files of earlier runs that this one has no use for and nobody has changed."""
        for name in self._old_files.keys() - self._files.keys():
            path = self.folder / name
            if self._is_unchanged(path):
                path.unlink(missing_ok=True)
                _drop_if_empty(path.parent, self.folder)

    def save(self) -> None:
        """Write the manifest, unless it says the same already."""
        now = self._files, self._measured, self._tracked
        before = self._old_files, self._old_measured, self._old_tracked
        if now != before or self._old_code != code_digest() or self._old_intended:
            self._write(*now, intended={})

    def save_so_far(self, *, intended: Mapping[str, str] | None = None) -> None:
        """Write the manifest of a run that has not come to its end: what it wrote, and what is there from before.

        Parameters
        ----------
        intended
            SHA-256 of each file that is about to be written, by its name from the folder on.
        """
        for name, sha in (intended or {}).items():
            self._old_intended[name] = [*self._old_intended.get(name, []), sha]
        self._write(
            {**self._old_files, **self._files},
            {**self._old_measured, **self._measured},
            {**self._old_tracked, **self._tracked},
            intended=self._old_intended,
        )

    def _write(
        self,
        files: dict[str, dict[str, str]],
        measured: dict[str, dict[str, Any]],
        tracked: dict[str, dict[str, Any]],
        *,
        intended: dict[str, list[str]],
    ) -> None:
        """Write the manifest."""
        known = {"format": FORMAT, "code": code_digest(), "files": files, "measured": measured, "tracked": tracked}
        if intended:
            known["intended"] = intended
        write_text(self.path, json.dumps(known, indent=1, sort_keys=True) + "\n")

    def _is_unchanged(self, path: Path) -> bool:
        """Return whether a file is the very one that this program wrote."""
        known = self._old_files.get(self._name(path))
        return known is not None and known["sha256"] == _file_digest(path)

    def _was_intended(self, path: Path) -> bool:
        """Return whether a file is what a run that was ended had noted that it would write."""
        return _file_digest(path) in self._old_intended.get(self._name(path), [])

    def _name(self, path: Path) -> str:
        """Return a file's name from the folder on."""
        return path.relative_to(self.folder).as_posix()


def _read(path: Path) -> dict[str, Any] | None:
    """Return what a manifest holds; None where there is none, or something else has its name."""
    if not path.is_file():
        return None
    try:
        known = json.loads(path.read_text(encoding="utf-8"))
        if known.get("format") != FORMAT:
            return None
        files = {
            name: {"key": str(facts["key"]), "sha256": str(facts["sha256"])}
            for name, facts in known["files"].items()
            if _stays_inside(name)
        }
        intended = {name: [str(sha) for sha in several] for name, several in known.get("intended", {}).items()}
        kept = {"measured": dict(known["measured"]), "tracked": dict(known.get("tracked", {}))}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    return {"files": files, "intended": intended, "code": known.get("code"), **kept}


def _stays_inside(name: str) -> bool:
    """Return whether a name leads to a file in the folder, and not out of it."""
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and not Path(name).is_absolute()


def _file_digest(path: Path) -> str | None:
    """Return the SHA-256 of a file, or None where there is none."""
    if not path.is_file():
        return None
    try:
        with path.open("rb") as file:
            return file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def _text_digest(text: str) -> str:
    """Return the SHA-256 of a file that holds a text."""
    return sha256(text.encode("utf-8")).hexdigest()


def _drop_if_empty(folder: Path, top: Path) -> None:
    """Remove a folder below `top` when nothing is left in it, and those between."""
    while folder != top and not any(folder.iterdir()):
        folder.rmdir()
        folder = folder.parent
