"""Where a plan says what full scale of a take stands for: beside the take or for all of them, outright or in a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sublatch.errors import CalibrationError, PlanError
from sublatch.takes.calibration import read_calibration

if TYPE_CHECKING:
    from sublatch.audition.plan.records import Plan, TakeEntry


def read_calibrations(plan: Plan, path: Path) -> dict[Path, float]:
    """Return the volts at 0 dBFS that each calibration file of a plan says.

    Parameters
    ----------
    plan, path
        The plan, and its file.

    Raises
    ------
    PlanError
        When one cannot be read, or stands beside a full scale.
    """
    takes = [(f"takes[{number}].calibration", entry) for number, entry in enumerate(plan.takes, start=1)]
    said: list[tuple[str, TakeEntry | Plan]] = [("calibration", plan), *takes]
    found = {}
    for key, one in said:
        if one.calibration is None:
            continue
        if one.full_scale is not None:
            raise PlanError(f"{path}: {key}: full_scale beside it says the same; keep one of them")
        file = path.parent / one.calibration
        try:
            found[file] = read_calibration(file)
        except CalibrationError as problem:
            raise PlanError("\n".join(f"{path}: {key}: {line}" for line in str(problem).splitlines())) from None
    return found
