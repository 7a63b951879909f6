"""How long the main job takes on one core. Run alone: other work on the machine makes these fail."""

import time
from itertools import count
from pathlib import Path
from statistics import median

import numpy as np
import pytest

from sublatch.audition.plan import load_audition
from sublatch.audition.run import run_audition
from sublatch.circuit.load import load_circuit
from sublatch.demo.strings import pluck
from sublatch.files import write_audio
from sublatch.signal.chain import render
from sublatch.signal.stages import StageCache
from sublatch.take import take_from_samples

pytestmark = pytest.mark.speed

CANDIDATES = [
    ("gated-first-order", {}),
    ("gated-open", {}),
    ("gated-swept", {"knobs.tone": 2.0}),
    ("gated-swept", {"knobs.tone": 3.5}),
    ("gated-swept", {"knobs.tone": 5.0}),
    ("gated-swept", {"knobs.tone": 3.5, "switches.peak": "peaked"}),
    ("gated-swept", {"knobs.tone": 5.0, "switches.peak": "peaked"}),
    ("gated-swept", {"knobs.tone": 8.0}),
]


def line(seconds: float, rate: int = 48000) -> np.ndarray:
    """Plucked notes, one after another, in volts."""
    notes = [pluck(f, seconds=1.0, sample_rate=rate) for f in (41.2, 55.0, 73.4, 98.0)]
    return np.tile(np.concatenate(notes), int(np.ceil(seconds / 4)))[: round(seconds * rate)]


def cpu_seconds(job, times: int = 3) -> float:
    """The least processor time, all threads together, that a job took."""
    taken = []
    for _ in range(times):
        start = time.process_time()
        job()
        taken.append(time.process_time() - start)
    return min(taken)


def times_as_dear(job, other, rounds: int) -> float:
    """How many times the other's processor time a job takes: both run in turn, and the middle of the rounds counts.

    A machine shared with others changes its pace within seconds. The least of several short runs then lies further
    below the usual than the least of several long ones, and whatever runs after the other may meet another pace; the
    quotient of two neighbours leans to neither side.
    """
    return median(cpu_seconds(job, 1) / cpu_seconds(other, 1) for _ in range(rounds))


def test_a_minute_renders_in_under_a_second():
    """60 s at 48 kHz through the longest circuit, after a first run."""
    take, circuit = take_from_samples(line(60), 48000), load_circuit("gated-swept")
    render(take, circuit)
    assert cpu_seconds(lambda: render(take, circuit), 5) < 1.0


def test_candidates_together_cost_less_than_one_by_one():
    take = take_from_samples(line(30), 48000)
    circuits = [load_circuit(name, changes=changes) for name, changes in CANDIDATES]

    def together():
        cache = StageCache()
        for circuit in circuits:
            render(take, circuit, cache=cache)

    def apart():
        for circuit in circuits:
            render(take, circuit)

    assert times_as_dear(together, apart, 9) < 0.5


def plan_of(folder: Path, takes: int) -> Path:
    """A plan of some takes and the eight candidates."""
    folder.mkdir()
    for n in range(takes):
        write_audio(folder / f"take {n}.wav", (0.5 + 0.1 * n) * line(20), 48000)
    lines = ["takes = [" + ", ".join(f'"take {n}.wav"' for n in range(takes)) + "]"]
    for n, (name, changes) in enumerate(CANDIDATES):
        lines += ["[[candidates]]", f'name = "{n}"', f'circuit = "{name}"', "[candidates.set]"]
        lines += [f'"{key}" = {value!r}' for key, value in changes.items()]
    path = folder / "plan.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_a_plan_is_linear_in_takes(tmp_path: Path):
    """Three takes by eight candidates cost three times one take, page and all."""
    single, triple = load_audition(plan_of(tmp_path / "1", 1)), load_audition(plan_of(tmp_path / "3", 3))
    run_audition(single, output=tmp_path / "warm", jobs=1)
    outputs = (tmp_path / f"run {n}" for n in count())
    one, three = (lambda plan=plan: run_audition(plan, output=next(outputs), jobs=1) for plan in (single, triple))
    assert times_as_dear(three, one, 5) < 3.3


def test_a_second_run_costs_next_to_nothing(tmp_path: Path):
    plan = load_audition(plan_of(tmp_path / "1", 1))
    start = time.process_time()
    run_audition(plan, jobs=1)
    first = time.process_time() - start
    assert cpu_seconds(lambda: run_audition(plan, jobs=1), 2) < 0.25 * first
