"""Time and memory of the main jobs on this machine: ``python scripts/benchmark.py [--json] [--rounds N]``.

Run it with the environment's Python, from anywhere, while nothing else runs. Every job is measured in rounds, each
straight after the floor: reading a minute, bringing it to twice its rate and back, and writing it, below which no
rendering can come. A figure is the median of its rounds; a quotient is the median over pairs of neighbours, so that a
machine which changes its pace leans to neither side. Time is that of the processor, all threads together. Slow jobs
make do with fewer rounds.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from functools import partial
from importlib.metadata import version
from itertools import count
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

import sublatch
from _page_opening import page_openings
from plain_octave import floor, plain_octave
from sublatch.demo.takes import demo_takes
from sublatch.files.sound import write_audio
from sublatch.signal.cache import StageCache

ROUNDS = 5
SLOW_S, SLOW_ROUNDS = 2.0, 3
"""A job that takes longer than this, with the one ahead of it, is measured in so many rounds at most."""
RATE, SECONDS = 48000, 60
LIBRARIES = ("numpy", "scipy", "soxr", "soundfile", "pyloudnorm")
CANDIDATES: tuple[tuple[str, dict[str, Any]], ...] = (
    ("gated-first-order", {}),
    ("gated-open", {}),
    *(("gated-swept", {"knobs.tone": tone}) for tone in (2.0, 3.5, 5.0, 8.0)),
    *(("gated-swept", {"knobs.tone": tone, "switches.peak": "peaked"}) for tone in (3.5, 5.0)),
)
"""What players compare: eight settings that differ after the octave stage."""
COMMANDS = (("--help",), ("circuits",), ("response", "-c", "gated-swept"), ("take", "line.wav"))
MEGABYTE = 1 << 20
PRINT_PEAK = """
import resource
try:
    with open("/proc/self/status") as status:
        print(*(line.split()[1] for line in status if line.startswith("VmHWM:")))
except OSError:
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
"""What a process is given to tell the most memory it took; on Linux `ru_maxrss` begins at what its parent took."""


@dataclass(frozen=True)
class Figure:
    """What was measured of one job.

    Attributes
    ----------
    name
        The job.
    seconds
        Median of its processor time.
    least, most
        The extremes, in seconds.
    rounds
        How many rounds it was measured in.
    against
        The job that it is a quotient of; an empty text for none.
    times
        Median of the quotients of neighbouring rounds; None without `against`.
    """

    name: str
    seconds: float
    least: float
    most: float
    rounds: int
    against: str = ""
    times: float | None = None


Job = Callable[[], object]


def main() -> int:
    """Measure everything and print it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--json", action="store_true", help="one JSON document on standard output")
    parser.add_argument(
        "--rounds",
        type=int,
        default=ROUNDS,
        help=f"rounds of a job, {ROUNDS} unless given, {SLOW_ROUNDS} at most of a slow one",
    )
    asked = parser.parse_args()
    if asked.rounds < 1:
        parser.error(f"--rounds must be 1 or more, got {asked.rounds}")
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), asked.rounds)
        figures: list[Figure] = []
        for figure in bench.figures():
            figures.append(figure)
            if sys.stderr.isatty():
                print(f"  {figure.name}: {figure.seconds:.3f} s", file=sys.stderr)
        memory = dict(bench.memory())
    if asked.json:
        document = {**machine(), "figures": [asdict(figure) for figure in figures], "peak_megabytes": memory}
        print(json.dumps(document, indent=2))
    else:
        print("\n".join(table(figures, memory)))
    return 0


class Bench:
    """The jobs, and what they work on.

    Parameters
    ----------
    folder
        An empty folder.
    rounds
        How often each job is measured.
    """

    def __init__(self, folder: Path, rounds: int) -> None:
        self.folder, self.rounds = folder, rounds
        self.file = folder / "line.wav"
        write_line(self.file, SECONDS, peak=0.25)
        self._page_bytes = 0.0
        self._fresh = (folder / f"out {n}" for n in count())

    def figures(self) -> Iterator[Figure]:
        """Give the figures in the order of the report."""
        lowest = ("floor", partial(floor, self.file, self.folder / "floor.wav"))
        yield self._measure("floor: read, twice the rate and back, write", lowest[1])
        plain = ("plain script", partial(plain_octave, self.file, self.folder / "plain.wav"))
        yield self._measure("plain script: 8 x oversampling, sample-aligned switching", plain[1], lowest)
        yield self._measure("render a file: read, render, measure twice, write", self._render_file, plain)
        yield self._measure("render alone", self._render, lowest)
        apart = ("one by one", partial(self._render_all, cached=False))
        yield self._measure("eight candidates together", partial(self._render_all, cached=True), apart)
        one, three, kept = self._plan(1), self._plan(3), self._plan(1)
        first = ("one take", partial(self._audition, one))
        yield self._measure("audition, one take of 20 s by eight candidates", first[1], lowest)
        yield self._measure("audition, three takes", partial(self._audition, three), first)
        self._audition(kept, output=kept.parent / "out")
        again = partial(self._audition, kept, output=kept.parent / "out")
        yield self._measure("audition, a second run", again, first)
        yield from self._tracking(lowest)
        request = sublatch.ChooseRequest(low_hz=90.0, high_hz=2900.0, peak_db=4.0)
        yield self._measure("choose parts for a sweep", partial(sublatch.choose, request))
        seconds, self._page_bytes = page_openings(self.folder, self.rounds)
        if seconds:
            name = "open a page of ten candidates of a minute, by the clock"
            yield Figure(name, median(seconds), min(seconds), max(seconds), len(seconds))
        for words in COMMANDS:
            yield self._measure(f"start: sublatch {' '.join(words)}", partial(self._command, words))

    def memory(self) -> Iterator[tuple[str, float]]:
        """Give the most memory, in megabytes, that a process of its own took for a job."""
        if self._page_bytes:
            yield "the page of ten candidates of a minute", self._page_bytes / MEGABYTE
        if sys.platform == "win32":
            return
        plan, file = self._plan(1, seconds=SECONDS), self.folder / "memory.wav"
        jobs = {
            "nothing but reading the minute": "",
            "render a minute": f"sublatch.render_file(take, sublatch.load_circuit('gated-swept'), {str(file)!r})",
            "audition, a minute by eight candidates": f"run_audition(sublatch.load_audition({str(plan)!r}), jobs=1)",
        }
        for name, job in jobs.items():
            yield name, self._peak_megabytes(job)

    def _tracking(self, lowest: tuple[str, Job]) -> Iterator[Figure]:
        """Give the figures of tracking and tuning."""
        circuit = sublatch.load_circuit("gated-swept")
        levels = iter(np.linspace(0.5, 0.9, 4 * self.rounds + 4))
        samples = sublatch.read_take(self.file, full_scale_volts=2.0).samples

        def fresh() -> object:
            return sublatch.track(sublatch.take_from_samples(next(levels) * samples, RATE), circuit)

        yield self._measure("track a minute, its pitch not known yet", fresh, lowest)
        known = sublatch.take_from_samples(samples, RATE)
        sublatch.track(known, circuit)
        yield self._measure("track a minute, its pitch known", lambda: sublatch.track(known, circuit), lowest)
        notes = sublatch.tune_notes([sublatch.take_from_samples(samples[: 15 * RATE], RATE)]).notes
        yield self._measure("tune, a hundred trials on 15 s", lambda: sublatch.tune(notes, circuit, trials=100))

    def _measure(self, name: str, job: Job, other: tuple[str, Job] | None = None) -> Figure:
        """Return one job's figures, each round straight after one of the job that it stands against."""
        seconds: list[float] = []
        quotients: list[float] = []
        rounds = self.rounds
        while len(seconds) < rounds:
            before = processor_seconds(other[1]) if other else 0.0
            seconds.append(processor_seconds(job))
            if other:
                quotients.append(seconds[-1] / before)
            if before + seconds[-1] > SLOW_S:
                rounds = min(rounds, SLOW_ROUNDS)
        figure = Figure(name, median(seconds), min(seconds), max(seconds), len(seconds))
        return replace(figure, against=other[0], times=median(quotients)) if other else figure

    def _render_file(self) -> None:
        """Read, render, measure and write the minute."""
        take = sublatch.read_take(self.file, full_scale_volts=2.0)
        sublatch.render_file(take, sublatch.load_circuit("gated-swept"), self.folder / "heard.wav")

    def _render(self) -> None:
        """Render the minute."""
        sublatch.render(sublatch.read_take(self.file, full_scale_volts=2.0), sublatch.load_circuit("gated-swept"))

    def _render_all(self, *, cached: bool) -> None:
        """Render every candidate on half the minute."""
        samples = sublatch.read_take(self.file, full_scale_volts=2.0).samples[: SECONDS * RATE // 2]
        take, cache = sublatch.take_from_samples(samples, RATE), StageCache() if cached else None
        for name, changes in CANDIDATES:
            sublatch.render(take, sublatch.load_circuit(name, changes=changes), cache=cache)

    def _plan(self, takes: int, *, seconds: int = 20) -> Path:
        """Return the file of a plan of some takes and the eight candidates."""
        folder = next(self._fresh)
        folder.mkdir()
        for n in range(takes):
            write_line(folder / f"take {n}.wav", seconds, peak=0.1 + 0.02 * n)
        lines = ['full_scale = "2V"', "takes = [" + ", ".join(f'"take {n}.wav"' for n in range(takes)) + "]"]
        for n, (name, changes) in enumerate(CANDIDATES):
            lines += ["[[candidates]]", f'name = "{n}"', f'circuit = "{name}"', "[candidates.set]"]
            lines += [f'"{key}" = {json.dumps(value)}' for key, value in changes.items()]
        path = folder / "plan.toml"
        path.write_text("\n".join(lines), encoding="utf-8")
        return path

    def _audition(self, plan: Path, output: Path | None = None) -> None:
        """Run a plan, into a folder that is not there yet unless it is given."""
        sublatch.run_audition(sublatch.load_audition(plan), output=output or next(self._fresh), jobs=1)

    def _command(self, words: tuple[str, ...]) -> None:
        """Run a command in a process of its own."""
        subprocess.run([sys.executable, "-m", "sublatch", *words], cwd=self.folder, capture_output=True, check=True)

    def _peak_megabytes(self, job: str) -> float:
        """Return the most memory that a process took for a line of Python."""
        lines = (
            "import sublatch, sublatch.rendering",
            "from sublatch.audition.run import run_audition",
            f"take = sublatch.read_take({str(self.file)!r}, full_scale_volts=2.0)",
            job,
            PRINT_PEAK,
        )
        child = subprocess.run([sys.executable, "-c", "\n".join(lines)], capture_output=True, text=True, check=True)
        return int(child.stdout) / (MEGABYTE if sys.platform == "darwin" else 1024)


def processor_seconds(job: Job) -> float:
    """Return the processor time that a job took, all its threads and processes together."""
    before = os.times()
    start = time.process_time()
    job()
    own = time.process_time() - start
    after = os.times()
    children = after.children_user + after.children_system - before.children_user - before.children_system
    return own + children


def write_line(file: Path, seconds: int, *, peak: float) -> None:
    """Write the demo's walking line, over and over, at a peak of full scale."""
    samples = np.resize(demo_takes(RATE)["walking-line"], seconds * RATE)
    write_audio(file, peak * samples / np.max(np.abs(samples)), RATE)


def machine() -> dict[str, object]:
    """Return what was measured, and on what."""
    return {
        "sublatch": sublatch.__version__,
        "python": platform.python_version(),
        **{name: version(name) for name in LIBRARIES},
        "system": f"{platform.system()} {platform.machine()}",
        "cores": os.cpu_count(),
    }


def table(figures: list[Figure], memory: dict[str, float]) -> list[str]:
    """Return the report in lines."""
    lines = [", ".join(f"{name} {fact}" for name, fact in machine().items())]
    lines += ["processor time, median (least to most, rounds)", ""]
    width = max(len(figure.name) for figure in figures)
    for figure in figures:
        against = f"   {figure.times:.2f} x {figure.against}" if figure.times is not None else ""
        extremes = f"({figure.least:.3f} to {figure.most:.3f}, {figure.rounds})"
        lines.append(f"{figure.name:<{width}}  {figure.seconds:7.3f} s  {extremes}{against}")
    if memory:
        lines += ["", "most memory of a process of its own"]
        lines += [f"{name:<{width}}  {megabytes:7.0f} MB" for name, megabytes in memory.items()]
    return lines


if __name__ == "__main__":
    sys.exit(main())
