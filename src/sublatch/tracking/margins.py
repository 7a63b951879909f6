"""Margins: how large an offset of its comparator each edge survives, beyond what the circuit's devices are off already.

An edge stands until the next one. An offset of the comparator's input against the edge, negative for a set and positive
for a reset, can do two things in that stretch: the signal no longer reaches the edge's threshold, so that the edge is
lost with the next one, or it reaches the other threshold too early and comes back, which makes two changes too many.
The margin is the least offset that does either. An offset the other way only makes the edge come earlier, so that the
offsets that do harm anywhere are told by the margins of all edges together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Flags, Signal, Whole
from sublatch.circuit.detectors.thresholds import Thresholds
from sublatch.circuit.devices.catalogue import COMPARATORS
from sublatch.circuit.model import Circuit
from sublatch.pitch.notes import Note
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import comparator_volts, detected_edges, detector_key
from sublatch.signal.comparator import state_changes, stores
from sublatch.signal.detector import thresholds_heard
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take
from sublatch.tracking.lock import Dropout
from sublatch.tracking.phase import LEAST_EDGES, locked_edges

PERCENT = 10.0
"""Which percentile of a note's margins is told: as many of its edges have less."""
SMALL_MV = 10.0
"""Under this a note's margin is remarked upon, in millivolts: twice the largest of the usual offsets."""
USUAL_MV = (1, 5)
"""What comparators in common use may be off, in millivolts (data sheets' typical and largest values, from memory)."""


@dataclass(frozen=True)
class NoteMargin:
    """What one note's edges in lock have to spare; both None where there are fewer than four of them.

    Attributes
    ----------
    margin_mv
        The 10th percentile of their margins, in millivolts at the comparator's input: an offset of that size loses
        up to a tenth of them, or makes as many false ones.
    margin_db
        The same in decibels against the note's own peak there, 0 or less; None too where the margin is nothing.
    """

    margin_mv: float | None = None
    margin_db: float | None = None


UNKNOWN = NoteMargin()


@dataclass(frozen=True, eq=False)
class Margins:
    """Every edge of a comparator with its margin, ready to be told note by note.

    Attributes
    ----------
    edges_s
        Times in seconds (m,) at which the comparator changes, in turn set and reset.
    margins_v
        Their margins in volts (m,).
    comparator_volts
        What the comparator sees, in volts (n,).
    sample_rate
        Samples per second.
    """

    edges_s: Signal
    margins_v: Signal
    comparator_volts: Signal
    sample_rate: int

    def of_note(self, *, start_s: float, end_s: float, dropouts: Sequence[Dropout] = ()) -> NoteMargin:
        """Return what a note's edges in lock have to spare.

        Parameters
        ----------
        start_s, end_s
            From where to where the note counts, in seconds.
        dropouts
            The stretches without lock; edges within them do not count.
        """
        own_v = self.margins_v[locked_edges(self.edges_s, start_s, end_s, dropouts)]
        if len(own_v) < LEAST_EDGES:
            return UNKNOWN
        margin_v = float(np.percentile(own_v, PERCENT, method="inverted_cdf"))
        first, stop = (round(moment * self.sample_rate) for moment in (start_s, end_s))
        peak_v = float(np.max(np.abs(self.comparator_volts[first : stop + 1])))
        return NoteMargin(1000.0 * margin_v, float(20.0 * np.log10(margin_v / peak_v)) if margin_v > 0.0 else None)


def small_margins(notes: Sequence[tuple[Note, NoteMargin]], *, off_mv: float = 0.0) -> tuple[Remark, ...]:
    """Return a remark where notes have a margin under 10 mV, which names the least; none where no note has.

    Parameters
    ----------
    notes
        The notes of a take, each with its margin.
    off_mv
        How far the circuit's comparators are off already, either way, in millivolts: what the margins are beyond.
    """
    small = sorted(
        (margin.margin_mv, note.start_s, note.name)
        for note, margin in notes
        if margin.margin_mv is not None and margin.margin_mv < SMALL_MV
    )
    if not small:
        return ()
    (least_mv, start_s, name), have = small[0], "has" if len(small) == 1 else "have"
    text = (
        f"small margins: {len(small)} of {len(notes)} notes {have} less than {SMALL_MV:g} mV at the comparator, "
        f"{name} at {start_s:.2f} s the least with {least_mv:.2g} mV; {_offset_of(off_mv)} loses up to a tenth of its "
        f"edges or makes false ones; {USUAL_MV[0]} to {USUAL_MV[1]} mV are usual (data sheets, from memory), and "
        f"{_classes_below(least_mv - off_mv)}"
    )
    return (Remark("small-margin", text),)


def _offset_of(off_mv: float) -> str:
    """Return what loses edges: an offset, or one more beside what a comparator is off already."""
    if off_mv == 0.0:
        return "a comparator with an offset of that size"
    return f"a comparator that is so much further off than the {off_mv:.2g} mV reckoned with"


def _classes_below(offset_mv: float) -> str:
    """Return which classes of comparators are off by less, even at their worst."""
    below = [name for name, one in COMPARATORS.items() if 1000.0 * one.offset_v.worst < offset_mv]
    if not below:
        return "no class of comparators is sure to be off by less"
    return f"{' and '.join(below)} {'is' if len(below) == 1 else 'are'} off by less at worst"


def detected_margins(take: Take, circuit: Circuit, *, cache: StageCache | None = None) -> Margins:
    """Return every edge of a circuit's comparator on a take with its margin.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit; only its input, detector and drive switch matter.
    cache
        Results shared between circuits on this one take; none by default.
    """
    cache = cache or StageCache()
    volts, rate = comparator_volts(take, circuit, cache), take.sample_rate

    def compute() -> Signal:
        return edge_margins(volts, sample_rate=rate, thresholds=thresholds_heard(circuit))

    margins_v = cache.get(("margins", *detector_key(circuit)), compute)
    return Margins(detected_edges(take, circuit, cache=cache), margins_v, volts, rate)


def edge_margins(comparator_volts: Signal, *, sample_rate: int, thresholds: Thresholds) -> Signal:
    """Return how large an offset each edge of a comparator survives.

    Parameters
    ----------
    comparator_volts
        What the comparator sees, in volts (n,); the comparator starts reset.
    sample_rate
        Samples per second.
    thresholds
        When the comparator sets and resets.

    Returns
    -------
    NDArray
        Margins in volts (m,), one for each edge of `signal.detector.edges`: the least size of an offset at the
        comparator's input, the peak stores left as they are, at which the comparator does not change this way just
        once between this edge and the next, but never or more often. That the next edge comes early is no harm. The
        last edge stands to the end, so that a single change back is one too many.

    Notes
    -----
    From one edge to the next let u be how far the signal is past the threshold of the edge and w how far it is from
    the threshold of the other direction, both in volts and moving with the stores. An offset a against the edge loses
    it where u ≤ a throughout. It makes a false change at n where w(n) < a, if u is above a both before and after n.
    So the margin is the least of max u and of those w(n) that are below max u on either side. Between edges only the
    local extremes of u and w count. Margins are told at the samples, not between them.
    """
    over, under = _distances(comparator_volts, sample_rate, thresholds)
    changes = state_changes(over > 0.0, under < 0.0)
    if len(changes) == 0:
        return np.empty(0)
    places = np.flatnonzero(_extremes(over, under, changes))
    places = places[np.searchsorted(places, changes[0]) :]
    stretch = np.searchsorted(changes, places, side="right") - 1
    is_set = stretch % 2 == 0
    past = np.where(is_set, over[places], -under[places])
    away = np.where(is_set, under[places], -over[places])
    highest = _highest_so_far(past, stretch), _highest_so_far(past[::-1], -stretch[::-1])[::-1]
    highest[1][stretch == len(changes) - 1] = np.inf
    false = np.where(away < np.minimum(*highest), away, np.inf)
    starts = np.searchsorted(places, changes)
    return np.asarray(np.minimum(np.maximum.reduceat(past, starts), np.minimum.reduceat(false, starts)))


def _distances(comparator_volts: Signal, sample_rate: int, thresholds: Thresholds) -> tuple[Signal, Signal]:
    """Return how far a signal lies above the threshold at which it sets, and above the one at which it resets."""
    positive, negative = stores(comparator_volts, sample_rate=sample_rate, thresholds=thresholds)
    return comparator_volts - positive.threshold_v, comparator_volts + negative.threshold_v


def _extremes(over: Signal, under: Signal, changes: Whole) -> Flags:
    """Return the local peaks of one distance, the local dips of the other, each stretch's beginning and the last end.

    Another stretch's end needs no place of its own: a signal past its threshold there is at a peak, since it turns.
    """
    rises, falls = over[1:] > over[:-1], under[1:] < under[:-1]
    found = np.zeros(len(over), dtype=np.bool_)
    found[1:-1] = (rises[:-1] & ~rises[1:]) | (falls[:-1] & ~falls[1:])
    found[changes] = found[-1] = True
    return found


def _highest_so_far(values: Signal, stretch: Whole) -> Signal:
    """Return the highest of the values (k,) from the start of their stretch on, whose numbers never fall.

    Complex numbers are compared by their real parts first, so that each stretch begins anew.
    """
    return np.asarray(np.maximum.accumulate(stretch + 1j * values).imag)
