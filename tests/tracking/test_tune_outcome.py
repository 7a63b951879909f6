"""How a tuning job is told."""

from dataclasses import replace

import numpy as np
import pytest

from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.load import load_circuit
from sublatch.takes.take import take_from_samples
from sublatch.tracking.tune.fast_lock import TuneNote
from sublatch.tracking.tune.figures import locked_shares
from sublatch.tracking.tune.job import TuneAim
from sublatch.tracking.tune.job import tune as tune_on
from sublatch.tracking.tune.notes import TakeNotes, TuneNotes
from sublatch.tracking.tune.outcome import Tuned, gained, old_and_new, percent, stepped, write_tuned

RATE = 8000
PLAIN = {"detector.kind": "peak-latch"}


def tune(notes, circuit, *, boards=None, step_weight=0.0, **how):
    """Search on few boards, and measure on few, which are enough to tell what is done with them."""
    return tune_on(notes, circuit, aim=TuneAim(step_weight, boards or BoardDraws(3)), **how)


def silent_after(locked, *, count):
    """Notes of one take, of which only the first few sound."""
    t = np.arange(RATE // 4) / RATE
    parts = [0.2 * np.sin(2 * np.pi * 110.0 * t) * (place < locked) for place in range(count)]
    take = take_from_samples(np.concatenate(parts), RATE)
    return [TuneNote(take, place / 4, (place + 1) / 4, 110.0) for place in range(count)]


@pytest.mark.parametrize(("count", "share"), [(1, 0.9), (2, 0.25), (2, 0.9), (5, 0.5), (7, 0.5), (9, 0.25), (9, 0.0)])
def test_the_counts_are_those_of_the_search(count, share):
    """Both means, weighed with the counts, give the mean over all notes."""
    notes = silent_after(max(1, count // 2), count=count)
    circuit = load_circuit("gated-open", changes=PLAIN)
    result = tune(notes, circuit, trials=1, held_out_share=share)
    tuned = Tuned(circuit, "x", TuneNotes((TakeNotes(notes[0].take, tuple(notes), ()),)), result, 1, 0)
    searched_on, held_out = tuned.counts
    assert searched_on + held_out == count
    total = searched_on * result.before.locked_share
    assert (held_out == 0) is (result.held_out.before.locked_share is None)
    total += held_out * (result.held_out.before.locked_share or 0.0)
    assert total == pytest.approx(float(np.sum(locked_shares(notes, circuit))), abs=1e-9)


def test_shares_say_all_and_nothing_only_where_it_is_so():
    assert [percent(share) for share in (None, 0.0, 1e-6, 0.0123, 0.9999, 1.0)] == [
        "–", "0", "0.1", "1.2", "99.9", "100",
    ]  # fmt: skip
    assert gained(None, None) == "–"
    assert gained(0.5, 1.0) == "50.0 → 100"


def test_steps_are_told_in_whole_per_cent():
    assert [stepped(0.374, 0.126), stepped(None, 0.126), stepped(0.4, None), stepped(None, None)] == [
        "37 → 13", "– → 13", "40 → –", "–",
    ]  # fmt: skip


def test_a_part_of_another_kind_of_filter_has_no_old_value():
    start = load_circuit("gated-open", changes=PLAIN)
    changes = {"detector.filter.kind": "first-order", "detector.filter.resistor": "47k", "detector.fraction": "70%"}
    end = load_circuit("gated-open", changes=PLAIN | changes)
    notes = silent_after(1, count=1)
    told = tune(notes, start, trials=1)
    result = replace(told, circuit=end, changes=changes)
    tuned = Tuned(start, "x", TuneNotes((TakeNotes(notes[0].take, tuple(notes), ()),)), result, 1, 0)
    assert old_and_new(tuned) == {
        "detector.filter.kind": ("third-order", "first-order"),
        "detector.filter.resistor": (None, "47k"),
        "detector.filter.capacitor": (None, "15n"),
        "detector.fraction": ("85%", "70%"),
    }


def test_the_marks_of_what_a_search_leaves_are_written(tmp_path):
    plain = load_circuit("gated-open")
    marks = {"output.load": "fitted", "detector.fraction": "known", "detector.filter.first_resistor": "assumed"}
    start = plain.model_copy(update={"origins": marks})
    changes = {"detector.filter.kind": "first-order", "detector.fraction": "70%"}
    end = load_circuit("gated-open", changes=changes)
    notes = silent_after(1, count=1)
    result = replace(tune(notes, plain, trials=1), circuit=end)
    tuned = Tuned(start, "x", TuneNotes((TakeNotes(notes[0].take, tuple(notes), ()),)), result, 1, 0)
    write_tuned(tuned, tmp_path / "tuned.toml")
    assert load_circuit(tmp_path / "tuned.toml").origins == {"output.load": "fitted"}
