"""Plan files read and checked: every fault of a plan named, its sweeps expanded, its circuits loaded."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sublatch.audition.plan.planned_moves import in_plan_words, planned_moves
from sublatch.audition.plan.records import (
    BYPASSED,
    Audition,
    Candidate,
    CandidateEntry,
    Plan,
    SweepStep,
    TakeEntry,
)
from sublatch.audition.plan.sweeps import expanded
from sublatch.checked import check, parse_toml
from sublatch.circuit.load import load_circuit
from sublatch.errors import AudioDataError, CalibrationError, CircuitError, PlanError
from sublatch.files.text import read_text
from sublatch.files.whole_files import safe_name
from sublatch.signal.moves import checked_moves
from sublatch.takes.calibration import read_calibration
from sublatch.takes.take import Take


def load_audition(path: str | Path) -> Audition:
    """Return the audition that a plan file asks for.

    Raises
    ------
    PlanError
        When the plan cannot be read or carried out: every line of the message names what must change.
    """
    path = Path(path)
    plan = check(Plan, _read(path), source=str(path), error=PlanError)
    if not plan.candidates and not plan.sweeps:
        raise PlanError(f"{path}: a plan needs at least one [[candidates]] or [[sweeps]] table")
    entries: list[tuple[CandidateEntry, SweepStep | None]] = [(entry, None) for entry in plan.candidates]
    entries += [pair for sweep in plan.sweeps for pair in expanded(sweep, path)]
    _check_names([entry.name for entry, _ in entries], path)
    _check_takes(plan, path)
    candidates = tuple(_candidate(entry, path, step) for entry, step in entries)
    return Audition(plan, path, candidates, _calibrations(plan, path))


def _read(path: Path) -> dict[str, Any]:
    """Return the plan file's tables."""
    plan_inside = path / "audition.toml"
    if plan_inside.is_file():
        raise PlanError(f"{path}: must be a plan file, got a folder; is it {plan_inside}?")
    text = read_text(
        path,
        what="a plan file",
        missing="no such plan",
        hint="'sublatch demo my-sounds' writes one to start from",
        error=PlanError,
    )
    return parse_toml(text, source=str(path), error=PlanError, kind=Plan)


def _calibrations(plan: Plan, path: Path) -> dict[Path, float]:
    """Return the volts at 0 dBFS that each calibration file of a plan says, beside a take or for all of them."""
    volts: dict[Path, float] = {}
    tables: list[tuple[str, Plan | TakeEntry]] = [("calibration", plan)]
    tables += [(f"takes[{number}].calibration", entry) for number, entry in enumerate(plan.takes, start=1)]
    for key, table in tables:
        if table.calibration is None:
            continue
        if table.full_scale is not None:
            raise PlanError(f"{path}: {key}: full_scale beside it says the same; keep one of them")
        file = path.parent / table.calibration
        try:
            volts[file] = read_calibration(file)
        except CalibrationError as problem:
            raise PlanError("\n".join(f"{path}: {key}: {line}" for line in str(problem).splitlines())) from None
    return volts


def _candidate(entry: CandidateEntry, path: Path, step: SweepStep | None) -> Candidate:
    """Return a candidate with its circuit loaded."""
    try:
        circuit = load_circuit(entry.circuit, changes=entry.set, folder=path.parent)
        moves = planned_moves(entry.moves, circuit)
    except CircuitError as problem:
        lines = (f"{path}: candidate {entry.name!r}: {line}" for line in str(problem).splitlines())
        raise PlanError("\n".join(lines)) from None
    return Candidate(entry.name, entry.circuit, entry.set, circuit, step, moves)


def _check_names(names: list[str], path: Path) -> None:
    """Refuse names that are taken, reserved, or no file name."""
    for name in names:
        if name.casefold() == BYPASSED:
            raise PlanError(f"{path}: the name {BYPASSED!r} is kept for the take itself; choose another")
    repeated = _first_repeated(names, path)
    if repeated:
        raise PlanError(f"{path}: every candidate needs a name of its own, got {repeated}")


def _check_takes(plan: Plan, path: Path) -> None:
    """Refuse two takes that would be written to one folder."""
    repeated = _first_repeated([Path(entry.file).stem for entry in plan.takes], path)
    if repeated:
        raise PlanError(f"{path}: takes need file names that differ, got {repeated}; rename one")


def _first_repeated(names: list[str], path: Path) -> str:
    """Return in words the first name whose file another has already; an empty text without one."""
    name_of: dict[str, str] = {}
    for name in names:
        file = _file_name(name, path).casefold()
        if file in name_of:
            return f"{name!r} {'more than once' if name_of[file] == name else f'beside {name_of[file]!r}'}"
        name_of[file] = name
    return ""


def _file_name(name: str, path: Path) -> str:
    """Return `name` as a file name, or say that it cannot be one."""
    try:
        return safe_name(name)
    except PlanError as problem:
        raise PlanError(f"{path}: {problem}") from None


def check_times(candidates: Sequence[Candidate], take: Take, *, file: str) -> None:
    """Refuse a take that is over before a candidate's last move is.

    Parameters
    ----------
    candidates
        The plan's candidates.
    take
        The take.
    file
        What to call it.

    Raises
    ------
    AudioDataError
        Naming the take, the candidate and the move.
    """
    for candidate in candidates:
        try:
            checked_moves(candidate.moves, candidate.circuit, seconds=take.seconds)
        except CircuitError as problem:
            raise AudioDataError(f"{file}: candidate {candidate.name!r}: {in_plan_words(problem)}") from None
