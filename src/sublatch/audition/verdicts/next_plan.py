"""From verdicts to files: the circuit of a candidate, and the plan of what was kept, with a little around it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sublatch.audition.plan.records import Audition, CandidateEntry, Plan, SweepEntry
from sublatch.audition.verdicts.added_up import CandidateVerdicts, Verdicts
from sublatch.checked import Checked, shown
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.save import settings_of
from sublatch.errors import CircuitError, VerdictError, nearest_hint
from sublatch.json_data import plain_values

AROUND = 0.1
"""How far around what won the next plan goes on either side: as a share of a part's value, and of a knob's travel."""
TRAVEL = 10.0
"""Positions of a knob from end to end."""


def judged_circuit(candidate: CandidateVerdicts, plan: Audition) -> Circuit:
    """Return a candidate's circuit, as it was heard, with its knobs where they stood.

    Parameters
    ----------
    candidate
        From `read_verdicts`.
    plan
        The plan that the page was made from.

    Returns
    -------
    Circuit
        As drawn, also where the candidate was one board of it.

    Raises
    ------
    VerdictError
        When it is the take itself, its filter is a wish, or the plan has it otherwise.
    """
    entry = _entry(candidate, plan)
    return load_circuit(entry.circuit, changes=entry.set, folder=plan.path.parent)


def kept_plan(verdicts: Verdicts, plan: Audition, path: str | Path, *, around: Sequence[str] = ()) -> Plan:
    """Return the plan of what was kept, on the same takes.

    Parameters
    ----------
    verdicts
        From `read_verdicts`. Filters by wish are left out, since they have no parts.
    plan
        The plan that the page was made from.
    path
        Where the plan will be; it must lie beside the other, since takes are named from there.
    around
        Settings by dotted path that are also tried a tenth below and above, in the best of the candidates.

    Raises
    ------
    VerdictError
        When nothing but the take itself was kept, the plan has a candidate otherwise, or it would lie elsewhere.
    CircuitError
        When the best candidate has no such setting, or one that is no number.
    """
    kept = [one for one in verdicts.kept if one.circuit and one.wish is None]
    if not kept and verdicts.wished:
        raise VerdictError(f"a plan needs a candidate with parts, got none: {wish_in_words(verdicts.wished[0])}")
    if not kept:
        raise VerdictError(
            "a plan needs a candidate that was kept, got none: no more verdicts keep one than throw it out"
        )
    path = Path(path)
    if path.resolve().parent != plan.path.resolve().parent:
        raise VerdictError(f"the next plan must lie beside {plan.path}, which names its takes from there; got {path}")
    entries = [_entry(one, plan) for one in kept]
    sweeps = [_around(entries[0], setting, plan) for setting in around]
    return plan.plan.model_copy(update={"candidates": entries, "sweeps": sweeps, "output": path.stem})


def wish_in_words(candidate: CandidateVerdicts) -> str:
    """Return what is to be done with a candidate whose filter is a wish."""
    wish = candidate.wish
    assert wish is not None
    low, high = (f"{round(wish[end])}Hz" for end in ("low_hz", "high_hz"))
    return (
        f"{candidate.name!r} has a filter by wish; 'sublatch choose --low {low} --high {high} "
        f"--peak {wish['peak_db']:.1f}dB' finds parts for it"
    )


def _entry(candidate: CandidateVerdicts, plan: Audition) -> CandidateEntry:
    """Return a candidate as a plan has it, a sweep's as one of its own."""
    if not candidate.circuit:
        raise VerdictError(f"{candidate.name!r} is the take itself, without an effect: there is no circuit to write")
    if candidate.wish is not None:
        raise VerdictError(f"a circuit needs parts, but {wish_in_words(candidate)}")
    if candidate.base is not None:
        return _by_hand(candidate, candidate.base, plan)
    there = next((one for one in plan.candidates if one.name == candidate.name), None)
    if there is None:
        hint = nearest_hint(candidate.name, [one.name for one in plan.candidates])
        raise VerdictError(f"{plan.path}: must have the candidate {candidate.name!r} that was heard, got none{hint}")
    if (there.circuit_name, _as_drawn(plain_values(there.settings))) != (
        candidate.circuit,
        _as_drawn(candidate.settings),
    ):
        raise VerdictError(
            f"{plan.path}: the candidate {candidate.name!r} must be as it was heard, {candidate.circuit} with "
            f"{candidate.settings}, got {there.circuit_name} with {there.settings}; was the plan changed since?"
        )
    written = next((one for one in plan.plan.candidates if one.name == candidate.name), None)
    return written or CandidateEntry(name=there.name, circuit=there.circuit_name, set=dict(there.settings))


def _by_hand(candidate: CandidateVerdicts, base: CandidateVerdicts, plan: Audition) -> CandidateEntry:
    """Return what was set by hand as a plan has it, all but its settings being those of what it was turned from."""
    from_plan = _entry(base, plan)
    if from_plan.circuit != candidate.circuit:
        raise VerdictError(
            f"{candidate.name!r} must have the circuit of {base.name!r}, from which it was turned, "
            f"{from_plan.circuit!r}; got {candidate.circuit!r}"
        )
    entry = from_plan.model_copy(update={"name": candidate.name, "set": candidate.settings})
    load_circuit(entry.circuit, changes=entry.set, folder=plan.path.parent)  # what a circuit cannot have is told here
    return entry


def _as_drawn(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Return settings without the board that a candidate was put on."""
    return {path: value for path, value in settings.items() if path != "board"}


def _around(entry: CandidateEntry, setting: str, plan: Audition) -> SweepEntry:
    """Return a sweep of one setting a tenth below and above where a candidate has it."""
    number = _number(load_circuit(entry.circuit, changes=entry.set, folder=plan.path.parent), setting)
    values: list[str] | list[float]
    if setting.startswith("knobs."):
        step = AROUND * TRAVEL
        values = [round(min(max(number + by, 0.0), TRAVEL), 2) for by in (-step, 0.0, step)]
    else:
        values = [_text(entry, setting, number * factor, plan) for factor in (1.0 - AROUND, 1.0, 1.0 + AROUND)]
    return SweepEntry(
        name=f"{entry.name}, {setting.rpartition('.')[2].replace('_', ' ')}",
        circuit=entry.circuit,
        set={path: value for path, value in entry.set.items() if path != setting},
        vary=setting,
        values=list(dict.fromkeys(values)),
    )


def _number(circuit: Circuit, setting: str) -> float:
    """Return a setting's value as a number in its unit."""
    known = settings_of(circuit)
    value = _value_at(circuit, setting)
    if value is None:
        raise CircuitError(f"--around must be a setting of what won, got {setting!r}{nearest_hint(setting, known)}")
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        text = known[setting].text if setting in known else shown(value)
        raise CircuitError(f"--around must be a setting that is a number, got {setting} = {text}")
    return float(value)


def _value_at(circuit: Circuit, setting: str) -> object:
    """Return what stands at a dotted path, which goes through a list of parts by a part's name; None for nothing."""
    value: object = circuit
    for step in setting.split("."):
        if isinstance(value, tuple):
            value = next((part for part in value if getattr(part, "name", None) == step), None)
        else:
            value = getattr(value, step, None) if isinstance(value, Checked) else None
    return value


def _text(entry: CandidateEntry, setting: str, value: float, plan: Audition) -> str:
    """Return a value as the trade writes it, to three digits, checked where it will stand."""
    changed = load_circuit(
        entry.circuit, changes={**entry.set, setting: float(f"{value:.3g}")}, folder=plan.path.parent
    )
    table, _, name = setting.rpartition(".")
    record = _value_at(changed, table)
    assert isinstance(record, Checked)
    return settings_of(record)[name].text
