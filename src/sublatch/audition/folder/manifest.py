"""What an audition folder holds, so that a second run redoes only what changed and replaces only its own files."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from hashlib import file_digest, sha256
from pathlib import Path, PurePosixPath
from typing import Any, TypeVar

from sublatch.audition.folder.code_digest import code_digest
from sublatch.audition.folder.sound_script import is_sound_script
from sublatch.files.sound import made_here
from sublatch.files.whole_files import guard, write_text
from sublatch.json_data import plain_values, record_from

T = TypeVar("T")

MANIFEST_NAME = ".sublatch.json"
FORMAT = 1


def digest(*facts: Any) -> str:
    """Return a short text that stands for facts: equal facts, equal text."""
    return sha256(json.dumps(facts, sort_keys=True, default=str).encode()).hexdigest()[:32]


@dataclass
class _Content:
    """What a manifest holds: the code that wrote it, each file's key and SHA-256, and what was measured, by its key.

    `intended` has the SHA-256 of files that a run which was ended had been about to write.
    """

    code: str | None = None
    files: dict[str, dict[str, str]] = field(default_factory=dict)
    measured: dict[str, Any] = field(default_factory=dict)
    intended: dict[str, list[str]] = field(default_factory=dict)


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
        self._old, self._new = _read(self.path) or _Content(), _Content(code_digest())
        if self._old.code != self._new.code:
            self._old.files = {name: {**file, "key": ""} for name, file in self._old.files.items()}
            self._old.measured = {}

    def measured(self, key: str, kind: type[T]) -> T | None:
        """Return what an earlier run measured under a key, as a record of its kind; None where it did not."""
        return record_from(kind, self._old.measured.get(key))

    def keep_measured(self, key: str, record: Any) -> None:
        """Keep what was measured for the next run."""
        self._new.measured[key] = plain_values(record)

    def is_ours(self, path: Path) -> bool:
        """Return whether a file is as this program wrote it; a sound file or a sound script says so itself."""
        return self._is_unchanged(path) or self._was_intended(path) or made_here(path) or is_sound_script(path)

    def is_current(self, path: Path, key: str) -> bool:
        """Return whether a file is as this program wrote it, from the very same facts; it is then kept."""
        file = self._old.files.get(self._name(path))
        current = file is not None and file["key"] == key and self._is_unchanged(path)
        if current:
            self.keep_file(path)
        return current

    def keep_file(self, path: Path) -> None:
        """Go on knowing a file of an earlier run, whatever it holds."""
        name = self._name(path)
        if name in self._old.files:
            self._new.files[name] = self._old.files[name]

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
        self._new.files[self._name(path)] = {"key": key, "sha256": _file_digest(path) or ""}

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
            self._new.files[self._name(path)] = {"key": key, "sha256": _text_digest(text)}

    def sha256(self, path: Path) -> str:
        """Return the SHA-256 of a file that this run has written or kept."""
        return self._new.files[self._name(path)]["sha256"]

    def drop_leftovers(self) -> None:
        """Remove files of earlier runs that this one has no use for and nobody has changed."""
        for name in self._old.files.keys() - self._new.files.keys():
            path = self.folder / name
            if self._is_unchanged(path):
                path.unlink(missing_ok=True)
                _drop_if_empty(path.parent, self.folder)

    def save(self) -> None:
        """Write the manifest, unless it says the same already."""
        if self._new != self._old:
            self._write(self._new)

    def save_so_far(self, *, intended: Mapping[str, str] | None = None) -> None:
        """Write the manifest of a run that has not come to its end: what it wrote, and what is there from before.

        Parameters
        ----------
        intended
            SHA-256 of each file that is about to be written, by its name from the folder on.
        """
        old, new = self._old, self._new
        for name, sha in (intended or {}).items():
            old.intended[name] = [*old.intended.get(name, []), sha]
        self._write(_Content(new.code, old.files | new.files, old.measured | new.measured, old.intended))

    def _write(self, content: _Content) -> None:
        """Write the manifest."""
        document = {"format": FORMAT, **vars(content)}
        if not content.intended:
            del document["intended"]
        write_text(self.path, json.dumps(document, indent=1, sort_keys=True) + "\n")

    def _is_unchanged(self, path: Path) -> bool:
        """Return whether a file is the very one that this program wrote."""
        file = self._old.files.get(self._name(path))
        return file is not None and file["sha256"] == _file_digest(path)

    def _was_intended(self, path: Path) -> bool:
        """Return whether a file is what a run that was ended had noted that it would write."""
        return _file_digest(path) in self._old.intended.get(self._name(path), [])

    def _name(self, path: Path) -> str:
        """Return a file's name from the folder on."""
        return path.relative_to(self.folder).as_posix()


def _read(path: Path) -> _Content | None:
    """Return what a manifest holds; None where there is none, or something else has its name."""
    if not path.is_file():
        return None
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        if document.get("format") != FORMAT:
            return None
        files = {
            name: {"key": str(file["key"]), "sha256": str(file["sha256"])}
            for name, file in document["files"].items()
            if _stays_inside(name)
        }
        intended = {name: [str(sha) for sha in shas] for name, shas in document.get("intended", {}).items()}
        return _Content(document.get("code"), files, dict(document["measured"]), intended)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


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
