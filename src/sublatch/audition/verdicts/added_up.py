"""Verdicts of one or several people added up: how each candidate stands, what won, and where they disagree."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from sublatch.audition.verdicts.by_hand import told_apart
from sublatch.audition.verdicts.verdict_file import JudgedCandidate, Verdict, VerdictFile, read_verdict
from sublatch.errors import VerdictError


@dataclass(frozen=True)
class Note:
    """What a listener noted of a candidate on a take."""

    listener: str
    take: str
    text: str


@dataclass(frozen=True)
class CandidateVerdicts:
    """How one candidate stands.

    Attributes
    ----------
    name, circuit, settings
        The candidate, as it was heard.
    keep, maybe, out
        How many verdicts of each kind it has, over all takes and listeners.
    notes
        What was noted of it.
    base
        The candidate that it was turned from by hand on the page; None where it is the plan's own.
    wish
        The filter that was wished there in place of the circuit's own, which has no parts yet: ``low_hz``, ``high_hz``
        and ``peak_db``; None without one.
    """

    name: str
    circuit: str
    settings: dict[str, Any]
    keep: int = 0
    maybe: int = 0
    out: int = 0
    notes: tuple[Note, ...] = ()
    base: CandidateVerdicts | None = None
    wish: dict[str, float] | None = None

    @property
    def is_kept(self) -> bool:
        """Whether more verdicts keep it than throw it out."""
        return self.keep > self.out

    @property
    def rank(self) -> tuple[int, int, int]:
        """What candidates are put in order by, the largest first: kept less thrown out, fewer out, more maybe."""
        return (self.keep - self.out, -self.out, self.maybe)


@dataclass(frozen=True)
class Disagreement:
    """A candidate that some keep on a take and others throw out."""

    candidate: str
    take: str
    keep: tuple[str, ...]
    out: tuple[str, ...]


@dataclass(frozen=True)
class Verdicts:
    """All verdicts on one audition.

    Attributes
    ----------
    files, listeners
        What was added up, and whose it is.
    audition, plan
        The audition's title, and the name of its plan's file.
    candidates
        All candidates, the best first; those that stand alike in the plan's order, what was set by hand after them.
    disagreements
        Where listeners contradict each other.
    remarks
        What else must be said, in words.
    """

    files: tuple[str, ...]
    listeners: tuple[str, ...]
    audition: str
    plan: str
    candidates: tuple[CandidateVerdicts, ...]
    disagreements: tuple[Disagreement, ...] = ()
    remarks: tuple[str, ...] = field(default=())

    @property
    def first(self) -> tuple[CandidateVerdicts, ...]:
        """The candidate that won; several where they stand alike, none where nothing is kept."""
        kept = self.kept
        return tuple(one for one in kept if one.rank == kept[0].rank)

    @property
    def kept(self) -> tuple[CandidateVerdicts, ...]:
        """The candidates that more verdicts keep than throw out, the best first."""
        return tuple(one for one in self.candidates if one.is_kept)

    @property
    def wished(self) -> tuple[CandidateVerdicts, ...]:
        """Those of them whose filter is a wish."""
        return tuple(one for one in self.kept if one.wish is not None)

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the fields, what won and what is kept."""
        first, kept = ([one.name for one in group] for group in (self.first, self.kept))
        return {**vars(self), "first": first, "kept": kept}


def read_verdicts(paths: Iterable[str | Path]) -> Verdicts:
    """Return the verdicts of one or several people, added up.

    Parameters
    ----------
    paths
        Files that the listening page of one audition saved. Of two that one page saved, the later counts.

    Raises
    ------
    VerdictError
        When a file cannot be read, or they are not of one audition.
    """
    read = [(str(path), read_verdict(path)) for path in paths]
    if not read:
        raise VerdictError("there must be at least one file of verdicts, got none")
    for path, one in read[1:]:
        _same_audition(read[0], (path, one))
    kept, remarks = _latest(read)
    listeners = _listeners(kept)
    kept = [(path, told_apart(file, kept, who)) for who, (path, file) in zip(listeners, kept, strict=True)]
    given = [(who, one) for who, (_, file) in zip(listeners, kept, strict=True) for one in file.verdicts]
    by_hand = {own.name: own for _, file in kept for own in file.by_hand}
    planned = {one.name: _counted(one, given) for one in kept[0][1].candidates}
    turned = [replace(_counted(own, given), base=planned[own.base], wish=own.wished) for own in by_hand.values()]
    candidates = [*planned.values(), *turned]
    return Verdicts(
        files=tuple(path for path, _ in kept),
        listeners=tuple(listeners),
        audition=kept[0][1].audition,
        plan=kept[0][1].plan,
        candidates=tuple(sorted(candidates, key=lambda one: one.rank, reverse=True)),
        disagreements=tuple(_disagreements(given)),
        remarks=tuple(remarks),
    )


def _same_audition(first: tuple[str, VerdictFile], other: tuple[str, VerdictFile]) -> None:
    """Refuse verdicts on other candidates, or on another audition."""
    (path, one), (other_path, two) = first, other
    if one.audition != two.audition:
        raise VerdictError(
            f"verdicts must be of one audition, got {one.audition!r} in {path} and {two.audition!r} in {other_path}"
        )
    if one.candidates != two.candidates:
        names = [ours.name for ours, theirs in zip(one.candidates, two.candidates, strict=False) if ours != theirs]
        which = f"{names[0]!r} differs" if names else "one has more of them"
        raise VerdictError(
            f"verdicts must be of the same candidates, but {which} in {path} and {other_path}; "
            "was the plan changed between them?"
        )


def _latest(read: list[tuple[str, VerdictFile]]) -> tuple[list[tuple[str, VerdictFile]], list[str]]:
    """Return the latest file of each page, and remarks on those that it stands in for."""
    latest: dict[str, tuple[str, VerdictFile]] = {}
    remarks = []
    for path, one in sorted(read, key=lambda entry: datetime.fromisoformat(entry[1].saved)):
        if one.session in latest:
            remarks.append(
                f"{latest[one.session][0]} is from the same page as {path}, which was saved later and counts"
            )
        latest[one.session] = (path, one)
    return [entry for entry in read if entry in latest.values()], remarks


def _listeners(kept: list[tuple[str, VerdictFile]]) -> list[str]:
    """Return what to call each listener: by name, or by file without one or where two have the same."""
    names = [file.listener.strip() for _, file in kept]
    counts = Counter(names)
    return [
        name if name and counts[name] == 1 else f"{name or 'someone'} ({Path(path).name})"
        for name, (path, _) in zip(names, kept, strict=True)
    ]


def _counted(candidate: JudgedCandidate, given: list[tuple[str, Verdict]]) -> CandidateVerdicts:
    """Return how one candidate stands."""
    own = [(who, one) for who, one in given if one.candidate == candidate.name]
    counts = Counter(one.verdict for _, one in own)
    return CandidateVerdicts(
        name=candidate.name,
        circuit=candidate.circuit,
        settings=candidate.settings,
        keep=counts["keep"],
        maybe=counts["maybe"],
        out=counts["out"],
        notes=tuple(Note(who, one.take, one.note) for who, one in own if one.note),
    )


def _disagreements(given: list[tuple[str, Verdict]]) -> list[Disagreement]:
    """Return where one keeps what another throws out."""
    places = dict.fromkeys((one.candidate, one.take) for _, one in given)
    found = []
    for candidate, take in places:
        here = [(who, one.verdict) for who, one in given if (one.candidate, one.take) == (candidate, take)]
        keep, out = (tuple(who for who, verdict in here if verdict == word) for word in ("keep", "out"))
        if keep and out:
            found.append(Disagreement(candidate, take, keep, out))
    return found
