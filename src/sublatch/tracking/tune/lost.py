"""Notes that a detector loses on a take, and whether one of the built-in detectors would hold on better."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sublatch.circuit.detectors.peak_latch import PeakLatch
from sublatch.circuit.load import changed
from sublatch.circuit.model import Circuit, detector_kinds
from sublatch.pitch.given.notes import GivenNotes
from sublatch.signal.cache import StageCache
from sublatch.takes.take import Take
from sublatch.tracking.track import Tracking, track
from sublatch.tracking.tune.search import POOR

WORTH_NAMING = 0.02
"""Share of the notes' time that another detector must gain before it is named: less is within what the next take of
the same line would change."""


@dataclass(frozen=True)
class BetterDetector:
    """A built-in detector that holds on to a take better than a circuit's own.

    Attributes
    ----------
    kind
        ``peak-latch``, or a kind that stands alone (``overtone``, ``logarithmic-latch``).
    locked_share
        Share of the notes' time with lock, 0 to 1.
    gained
        How much more that is than with the circuit's own detector.
    step_share
        Mean step at its drive's edges as a share of the note's own peak; None without edges in lock.
    how
        How to try it, in words.
    """

    kind: str
    locked_share: float
    gained: float
    step_share: float | None
    how: str

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: all but the words."""
        return {
            "kind": self.kind,
            "locked_share": self.locked_share,
            "gained": self.gained,
            "step_share": self.step_share,
        }


@dataclass(frozen=True)
class Lost:
    """What a circuit loses of a take.

    Attributes
    ----------
    poor_notes
        How many notes are held for less of their time than `POOR`.
    better
        The built-in detector that holds on best, where it gains at least `WORTH_NAMING`; not looked for where no note
        is poor.
    """

    poor_notes: int
    better: BetterDetector | None

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: its key says what is better."""
        return {"poor_notes": self.poor_notes, "better_detector": self.better}


def lost(
    take: Take,
    circuit: Circuit,
    tracking: Tracking,
    *,
    tuning: str = "bass-4",
    notes: GivenNotes | None = None,
    cache: StageCache | None = None,
) -> Lost:
    """Return how many notes of a take a circuit loses, and which built-in detector would hold on better.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit.
    tracking
        What `track` found of the two.
    tuning
        The instrument's open strings (see `open_strings`).
    notes
        The notes that were given to `track`, if any were.
    cache
        Results shared between circuits on this take.

    Raises
    ------
    UnitError
        When the tuning is not known.
    """
    poor_notes = sum(item.lock.locked_share < POOR for item in tracking.notes)
    own = tracking.locked_share
    if not poor_notes or own is None:
        return Lost(poor_notes, None)
    cache = cache or StageCache()

    def tried(kind: str, how: str, built_in: Circuit) -> BetterDetector:
        other = track(take, built_in, tuning=tuning, notes=notes, cache=cache)
        share = other.locked_share or 0.0
        return BetterDetector(kind, share, share - own, other.step_share, how)

    found = [tried(*built_in) for built_in in _with_built_in_detectors(circuit)]
    best = max(found, key=lambda one: one.gained)
    return Lost(poor_notes, best if best.gained >= WORTH_NAMING else None)


def _with_built_in_detectors(circuit: Circuit) -> Iterator[tuple[str, str, Circuit]]:
    """Give the circuit with each built-in detector that is not its own: its kind, how to try it, and the circuit."""
    kinds = detector_kinds().items()
    for word, detector in [(word, kind()) for word, kind in kinds if kind.stands_alone or kind is PeakLatch]:
        if circuit.detector == detector:
            continue
        changes = changed(circuit.model_dump(), {"detector.kind": word})
        if Circuit.model_validate(changes).detector == detector:
            how = f"--set detector.kind={word}"
        else:
            how = f'leave nothing but kind = "{word}" under [detector]'
        yield word, how, circuit.model_copy(update={"detector": detector})
