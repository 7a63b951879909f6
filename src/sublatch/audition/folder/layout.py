"""Where the files of an audition are."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

from sublatch.audition.plan.records import BYPASSED, Audition
from sublatch.files.whole_files import safe_names

BARE = ("sound", "bands")
"""What the page is given of a take's octave stage."""


class Layout:
    """The audition folder's files.

    Parameters
    ----------
    folder
        The audition folder.
    plan
        The plan whose takes and candidates go there.

    Attributes
    ----------
    page, csv, json
        The page to open, and the results as a table and for programs.
    """

    def __init__(self, folder: Path, plan: Audition) -> None:
        self.folder = folder
        self.page, self.csv, self.json = (folder / name for name in ("index.html", "results.csv", "results.json"))
        self._takes = safe_names(Path(entry.file).stem for entry in plan.plan.takes)
        self._monitoring: dict[str, list[str]] = {}
        for entry in plan.plan.takes:
            sources = {"voicing": plan.plan.voicing, "bed": plan.bed_path(entry)}
            self._monitoring[Path(entry.file).stem] = [kind for kind, source in sources.items() if source is not None]
        self._candidates = safe_names([BYPASSED, *(candidate.name for candidate in plan.candidates)])

    def sound(self, take: str, candidate: str) -> Path:
        """Return the file of one candidate on one take."""
        return self.folder / "audio" / self._takes[take] / f"{self._candidates[candidate]}.wav"

    def sound_script(self, take: str, candidate: str) -> Path:
        """Return the sound script that carries one candidate's sound to the page."""
        return self.folder / "page" / self._takes[take] / f"{self._candidates[candidate]}.js"

    def reel(self, take: str) -> Path:
        """Return the file with all candidates of a take one after another."""
        return self.folder / "reels" / f"{self._takes[take]}.wav"

    def monitoring_script(self, take: str, kind: str) -> Path:
        """Return the sound script that carries a take's ``voicing`` or ``bed`` to the page."""
        return self.folder / "places" / self._takes[take] / f"{kind}.js"

    def bare_script(self, take: str, number: int, kind: str) -> Path:
        """Return the script that carries a take's bare sound of a number, or its ``bands``, to the page."""
        return self.folder / "bare" / self._takes[take] / f"{number}-{kind}.js"

    def all_files(self) -> Iterator[Path]:
        """Give every file that the audition may write."""
        yield from (self.page, self.csv, self.json)
        for take in self._takes:
            yield from self.files_of(take)

    def files_of(self, take: str) -> Iterator[Path]:
        """Give every file of one take."""
        yield self.reel(take)
        for candidate in self._candidates:
            yield self.sound(take, candidate)
            yield self.sound_script(take, candidate)
        for kind in self._monitoring[take]:
            yield self.monitoring_script(take, kind)
        for number in range(1, len(self._candidates)):
            for kind in BARE:
                yield self.bare_script(take, number, kind)

    def relative(self, path: Path) -> str:
        """Return a file's path from the folder on, with forward slashes."""
        return path.relative_to(self.folder).as_posix()


def url_of(path: str) -> str:
    """Return the URL of a file whose path from the audition folder on is given, for the page in that folder."""
    return "./" + quote(path, safe="/")
