"""The plan that ``sublatch knobs --same-as`` writes: the nearest setting and a little more and less, to be heard."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sublatch.audition.plan.records import Plan
    from sublatch.parts.knobs.report import Knobs
    from sublatch.takes.take import Take

STEP = 1.0
"""How far on either side of the nearest setting the tone knob is heard, in positions."""


def nearest_plan(
    report: Knobs,
    path: Path,
    *,
    file: Path,
    take: Take,
    channel: int | None,
    circuits: tuple[str, str],
    changes: Mapping[str, Any],
) -> Plan:
    """Return a plan with the other circuit, the nearest setting and one position of the tone knob more and less.

    Parameters
    ----------
    report
        From `knobs` with `same_as` and a take.
    path
        Where the plan will be; files are named from its folder on.
    file, take, channel
        The recording's file, what was read from it, and the channel that was asked for.
    circuits
        The circuit, and the other one.
    changes
        What was changed in the circuit.
    """
    from sublatch.audition.plan.records import CandidateEntry, Plan, SweepEntry, TakeEntry
    from sublatch.circuit.components.quantities import UNITY
    from sublatch.circuit.save import settings_of

    assert report.same_as is not None
    nearest, (circuit, same_as) = report.same_as.nearest, circuits
    tones = [round(min(max(nearest.tone + step, 0.0), 10.0), 2) for step in (-STEP, 0.0, STEP)]
    settings = {path: value for path, value in changes.items() if path != "knobs.tone"}
    settings |= {"knobs.direct": nearest.direct, "knobs.volume": UNITY}
    settings |= {} if nearest.peak is None else {"switches.peak": nearest.peak}
    if report.trim is not None:
        texts = settings_of(report.circuit)
        for part in ("output.trim_resistor", *(report.ways[0].exchanged if report.ways else ())):
            settings[part] = texts[part].text if part in texts else "none"
        if "output.pot.taper" in settings:
            settings["output.pot.midpoint"] = report.circuit.output.pot.midpoint
    return Plan(
        title=f"Nearest to {report.same_as.circuit}",
        full_scale=None if take.full_scale_assumed else take.full_scale_volts,
        takes=[TakeEntry(file=_relative(file, path), channel=channel)],
        output=path.stem,
        candidates=[
            CandidateEntry(name=Path(same_as).stem, circuit=_circuit(same_as, path), set={"knobs.volume": UNITY})
        ],
        sweeps=[
            SweepEntry(
                name="tone",
                circuit=_circuit(circuit, path),
                set=settings,
                vary="knobs.tone",
                values=list(dict.fromkeys(tones)),
            )
        ],
    )


def plan_heading(report: Knobs) -> str:
    """Return what the plan says at its top."""
    assert report.same_as is not None
    nearest = report.same_as.nearest
    return (
        f"{report.title}: nearest to the old sound at tone {nearest.tone:g}, {nearest.difference_db:.1f} dB apart.\n"
        "Both, and tone a position less and more."
    )


def _circuit(name: str, plan: Path) -> str:
    """Return a circuit as a plan names it."""
    return _relative(Path(name), plan) if name.lower().endswith(".toml") else name


def _relative(file: Path, plan: Path) -> str:
    """Return a file's path from the plan's folder on; whole where it is on another drive."""
    try:
        return Path(os.path.relpath(os.path.realpath(file), os.path.realpath(plan.parent))).as_posix()
    except ValueError:
        return Path(os.path.realpath(file)).as_posix()
