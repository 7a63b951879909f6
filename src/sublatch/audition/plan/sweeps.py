"""Sweeps and grids made into candidates: one for each value, what is meant turned into settings."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sublatch.audition.plan.records import CandidateEntry, SweepEntry, SweepStep
from sublatch.circuit.load import load_circuit
from sublatch.errors import CircuitError, PlanError
from sublatch.parts.fit.meanings import MEANINGS, settings_for


def expanded(sweep: SweepEntry, path: Path) -> list[tuple[CandidateEntry, SweepStep]]:
    """Return a sweep's candidates with their steps in it, one for each value; of a grid a row for each second value.

    Parameters
    ----------
    sweep
        The sweep.
    path
        The plan file, which circuit files are named from.

    Raises
    ------
    PlanError
        When a circuit cannot be brought to what is meant.
    """
    steps: list[tuple[CandidateEntry, SweepStep]] = []
    for also in [None] if sweep.also_values is None else sweep.also_values:
        second = {} if sweep.also_vary is None else {sweep.also_vary: also}
        row = sweep.name if sweep.also_vary is None else f"{sweep.name}, {_last(sweep.also_vary)} {also}"
        for order, value in enumerate(sweep.values):
            name = f"{sweep.name} {value}" if sweep.also_vary is None else f"{sweep.name} {value}, {also}"
            settings = _settings(sweep, {sweep.vary: value, **second}, name, path)
            entry = CandidateEntry(name=name, circuit=sweep.circuit, set=settings)
            steps.append((entry, SweepStep(row, sweep.vary, value, order)))
    return steps


def _last(path: str) -> str:
    """Return the last step of a dotted path."""
    return path.rpartition(".")[2]


def _settings(sweep: SweepEntry, varied: Mapping[str, Any], name: str, path: Path) -> dict[str, Any]:
    """Return the settings of one candidate: the sweep's, those that differ, and those that are meant."""
    plain = {**sweep.set, **{key: value for key, value in varied.items() if key not in MEANINGS}}
    wanted = {key: value for key, value in varied.items() if key in MEANINGS}
    if not wanted:
        return plain
    try:
        circuit = load_circuit(sweep.circuit, changes=plain, folder=path.parent)
        return {**plain, **settings_for(circuit, wanted)}
    except CircuitError as problem:
        lines = (f"{path}: candidate {name!r}: {line}" for line in str(problem).splitlines())
        raise PlanError("\n".join(lines)) from None
