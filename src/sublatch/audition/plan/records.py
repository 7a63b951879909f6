"""What a plan may hold, as checked tables, and the audition that it becomes: takes, candidates, matching, folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from sublatch.audition.plan.planned_moves import MoveEntry
from sublatch.checked import Checked, shown
from sublatch.circuit.components.quantities import Decibels, Volts
from sublatch.circuit.load import is_circuit_file
from sublatch.circuit.model import Circuit
from sublatch.errors import PlanError, UnitError
from sublatch.files.whole_files import resolved
from sublatch.pitch.open_strings import open_strings
from sublatch.signal.moves import Move

Match = Literal["loudness", "rms", "peak", "none"]
BYPASSED = "bypassed"
"""Name of the take itself among the candidates."""
LOUDSPEAKER = "loudspeaker"
"""Name of the voicing that needs no file."""


def _settings(value: dict[str, Any]) -> dict[str, Any]:
    """Refuse settings that no circuit has."""
    for path, setting in value.items():
        if hasattr(setting, "isoformat"):
            raise ValueError(f"{path} must be a text, a number or a table, got the date {setting.isoformat()}")
    return value


def _sweep_value(value: Any) -> Any:
    """Refuse what does not vary a setting."""
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise ValueError(f"must be a number or a text, got {shown(value)}")
    return value


def _path(value: str) -> str:
    """Refuse what no system has as a path."""
    if "\0" in value:
        raise ValueError(f"must be a path, got {value!r} with a null character in it")
    return value


def _tuning(value: str) -> str:
    """Refuse what no instrument is tuned to."""
    try:
        open_strings(value)
    except UnitError as problem:
        raise ValueError(str(problem)) from None
    return value


PathText = Annotated[str, Field(min_length=1), AfterValidator(_path)]
Tuning = Annotated[str, AfterValidator(_tuning)]
Settings = Annotated[dict[str, Any], AfterValidator(_settings)]


SweepValues = list[Annotated[Any, BeforeValidator(_sweep_value)]]


class TakeEntry(Checked):
    """One take of a plan."""

    file: PathText = Field(description="The recording, from the plan's folder on.")
    channel: Annotated[int, Field(ge=1)] | None = Field(None, description="Channel to use, counted from 1.")
    full_scale: Volts | None = Field(None, gt=0.0, description="Volts at 0 dBFS; the plan's when absent.")
    calibration: PathText | None = Field(None, description="File that says so instead; the plan's when absent.")
    tuning: Tuning | None = Field(None, description="The instrument's open strings; the plan's when absent.")
    bed: PathText | None = Field(None, description="What plays along with it; the plan's when absent.")
    bed_level: Decibels | None = Field(None, description="The bed's loudness against it; the plan's when absent.")


def _take_entry(value: Any) -> Any:
    """Let a bare file name stand for a take."""
    return {"file": value} if isinstance(value, str) else value


class CandidateEntry(Checked):
    """One candidate of a plan."""

    name: str = Field(min_length=1, description="What it is called on the page and as a file.")
    circuit: PathText = Field(description="A built-in circuit, or a circuit file from the plan's folder on.")
    set: Settings = Field({}, description="Settings to change, by dotted path.")
    moves: list[MoveEntry] = Field([], description="Controls that are moved while a take plays.")


class SweepEntry(Checked):
    """Several candidates that differ in one setting, or in two of which each value meets each of the other's."""

    name: str = Field(min_length=1, description="What they are called; the value comes after it.")
    circuit: PathText = Field(description="A built-in circuit, or a circuit file from the plan's folder on.")
    set: Settings = Field({}, description="Settings to change in all of them, by dotted path.")
    vary: str = Field(
        min_length=1,
        description="The setting that differs, by dotted path; or what it is to mean: `corner` in hertz, `peak` in dB, "
        "`unity` as a position of the volume knob.",
    )
    values: SweepValues = Field(min_length=1, description="Its values.")
    also_vary: str | None = Field(None, min_length=1, description="A second one, for a grid.")
    also_values: SweepValues | None = Field(None, min_length=1, description="Its values.")

    @model_validator(mode="after")
    def _is_a_whole_grid(self) -> Self:
        """Refuse half of a second setting, and the same setting twice."""
        if (self.also_vary is None) != (self.also_values is None):
            raise ValueError("also_vary and also_values go together: the second setting, and its values")
        if self.also_vary == self.vary:
            raise ValueError(f"also_vary must be another setting than vary, got {self.vary!r} twice")
        return self


class Plan(Checked):
    """What an audition shall do."""

    title: str = Field("Audition", description="Heads the page.")
    full_scale: Volts | None = Field(
        None, gt=0.0, description="Volts at 0 dBFS of the takes; 1 V is assumed when absent."
    )
    calibration: PathText | None = Field(
        None,
        description="File that says so instead, as `sublatch take --meter` writes it, from the plan's folder on.",
    )
    takes: list[Annotated[TakeEntry, BeforeValidator(_take_entry)]] = Field(min_length=1, description="The recordings.")
    tuning: Tuning = Field(
        "bass-4",
        description="The instrument's open strings, told apart from other notes: `bass-4`, `bass-5`, `bass-6`, "
        '`guitar-6`, `guitar-7`, or notes such as `"D1 A1 D2 G2"`.',
    )
    match: Match = Field("loudness", description="What is made equal before listening.")
    headroom: Decibels = Field(1.0, ge=0.0, description="How far the largest peak of a take stays below full scale.")
    voicing: PathText | None = Field(
        None,
        description="What is listened through: `loudspeaker`, a plain one of bass size, or the file of an impulse "
        "response, from the plan's folder on.",
    )
    bed: PathText | None = Field(
        None, description="What plays along with every take, from its start, from the plan's folder on."
    )
    bed_level: Decibels = Field(0.0, description="The bed's loudness against the bypassed take, as both are heard.")
    output: PathText = Field(
        "audition", description="Folder to write, below the plan's folder; `-o` may name any other."
    )
    candidates: list[CandidateEntry] = Field([], description="Circuits to compare.")
    sweeps: list[SweepEntry] = Field([], description="Circuits to compare over several values of one setting.")


@dataclass(frozen=True)
class SweepStep:
    """Where in a sweep a candidate is.

    Attributes
    ----------
    name
        The sweep's; in a grid with the value of its second setting.
    vary, value
        The setting that differs, by dotted path or by its meaning, and its value here.
    order
        Counted from 0.
    """

    name: str
    vary: str
    value: str | int | float
    order: int


@dataclass(frozen=True)
class Candidate:
    """A circuit under audition.

    Attributes
    ----------
    name, circuit_name
        What it and its circuit are called.
    settings
        What was changed in the circuit.
    circuit
        The circuit, its controls where they stand before any move.
    sweep
        Its place in a sweep, if any.
    moves
        What is moved while a take plays, in order of time.
    """

    name: str
    circuit_name: str
    settings: Settings
    circuit: Circuit
    sweep: SweepStep | None = None
    moves: tuple[Move, ...] = ()


@dataclass(frozen=True)
class Audition:
    """A plan made ready: everything checked that can be checked without reading a recording."""

    plan: Plan
    path: Path
    candidates: tuple[Candidate, ...]
    calibrations: Mapping[Path, float] = field(default_factory=dict)

    def take_path(self, entry: TakeEntry) -> Path:
        """Return where a take's recording is."""
        return self.path.parent / entry.file

    def full_scale_volts(self, entry: TakeEntry) -> float | None:
        """Return the volts at 0 dBFS that hold for a take, or None where nothing is said."""
        calibration = self.calibration_path(entry)
        return scale_of(entry, self.plan).full_scale if calibration is None else self.calibrations[calibration]

    def calibration_path(self, entry: TakeEntry) -> Path | None:
        """Return the calibration file that holds for a take, if there is one."""
        file = scale_of(entry, self.plan).calibration
        return None if file is None else self.path.parent / file

    def tuning(self, entry: TakeEntry) -> str:
        """Return the tuning that holds for a take."""
        return entry.tuning if entry.tuning is not None else self.plan.tuning

    def bed_path(self, entry: TakeEntry) -> Path | None:
        """Return where the bed that holds for a take is, if there is one."""
        file = entry.bed if entry.bed is not None else self.plan.bed
        return None if file is None else self.path.parent / file

    def bed_level_db(self, entry: TakeEntry) -> float:
        """Return the loudness of a take's bed against the take."""
        return entry.bed_level if entry.bed_level is not None else self.plan.bed_level

    @property
    def voicing_path(self) -> Path | None:
        """The file of the impulse response that is listened through, if there is one."""
        file = self.plan.voicing
        return None if file is None or file == LOUDSPEAKER else self.path.parent / file

    @property
    def inputs(self) -> list[Path]:
        """Every file that the audition reads."""
        takes = self.plan.takes
        optional = (path_of(entry) for entry in takes for path_of in (self.bed_path, self.calibration_path))
        circuits = (name for name in (candidate.circuit_name for candidate in self.candidates) if is_circuit_file(name))
        return [
            self.path,
            *(self.take_path(entry) for entry in takes),
            *(path for path in (self.voicing_path, *optional) if path is not None),
            *(self.path.parent / name for name in circuits),
        ]

    @property
    def output(self) -> Path:
        """The folder to write: the plan's own or one below it, since a plan may come from somebody else.

        Raises
        ------
        PlanError
            When what the plan names is elsewhere.
        """
        folder = self.path.parent
        output = resolved(folder / self.plan.output)
        if not Path(os.path.realpath(output)).is_relative_to(os.path.realpath(folder)):
            raise PlanError(
                f"{self.path}: output must be a folder below the plan's own, got {self.plan.output!r}; "
                "to write elsewhere, say where with -o"
            )
        return output


def scale_of(entry: TakeEntry, plan: Plan) -> TakeEntry | Plan:
    """Return where it is said for a take: the take's own entry if that says anything, otherwise the plan."""
    return entry if entry.full_scale is not None or entry.calibration is not None else plan
