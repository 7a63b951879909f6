"""Tuning on notes that are made here, so that what locks and what does not is known; and each thing it may change."""

import json
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from sublatch.checked import Unit
from sublatch.circuit.boards import BoardDraws, drawn_board
from sublatch.circuit.components import preferred
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.load import load_circuit
from sublatch.circuit.model import Circuit, detector_kinds
from sublatch.errors import AudioDataError
from sublatch.json_data import plain_values
from sublatch.takes.take import read_take, take_from_samples
from sublatch.tracking.in_lock import WINDOW_CYCLES
from sublatch.tracking.tune.differences import changes_between
from sublatch.tracking.tune.fast_lock import Listener, TuneNote
from sublatch.tracking.tune.figures import locked_shares
from sublatch.tracking.tune.job import TuneAim, searched_boards
from sublatch.tracking.tune.job import tune as tune_on
from sublatch.tracking.tune.notes import tune_notes
from sublatch.tracking.tune.search import POOL, Candidates
from sublatch.tracking.tune.variants import butterworth, moved, sort_of, starting_points

RATE = 16000
PLAIN = {"detector.kind": "peak-latch"}
ERRORS = (
    *("devices.op_amp_offset", "devices.op_amp_bias", "devices.comparator_offset", "devices.comparator_bias"),
    "devices.diode_leakage",
)
TAKES = Path(__file__).parents[2] / "samples" / "takes"
WEAK = [0.01, 1.0, 0.03, 0.5, 0.4, 0.4, 0.3, 0.3, 0.25, 0.2, 0.2, 0.15, 0.1, 0.1]
STRONG = [1.0, 0.4, 0.2, 0.1]


def tune(notes, circuit, *, boards=None, step_weight=0.0, **how):
    """Search on few boards, and measure on few, which are enough to tell what is done with them."""
    return tune_on(notes, circuit, aim=TuneAim(step_weight, boards or BoardDraws(3)), **how)


def one_note(pitch, shares, *, seconds=0.8, lead=0.3, open_string=False, rate=RATE):
    """A take of silence and then one dying note; phases are the partials' numbers."""
    t = np.arange(round(seconds * rate)) / rate
    tone = sum(a * np.sin(2 * np.pi * n * pitch * t + n) for n, a in enumerate(shares, start=1))
    samples = 0.2 * np.minimum(1.0, t / 0.01) * np.exp(-2 * t) * tone
    take = take_from_samples(np.concatenate((np.zeros(round(lead * rate)), samples)), rate)
    return TuneNote(take, lead, lead + seconds, pitch, open_string)


@pytest.fixture(scope="module")
def weak_notes():
    """Open strings without much fundamental, and fretted notes with some."""
    opened = [one_note(pitch, WEAK, open_string=True) for pitch in (73.4, 82.4, 98.0)]
    return opened + [one_note(pitch, STRONG) for pitch in (46.2, 61.7, 116.5)]


@pytest.fixture(scope="module")
def tuned(weak_notes):
    return tune(weak_notes, load_circuit("gated-open", changes=PLAIN), trials=60, seed=3, held_out_share=0.34)


def test_weak_fundamentals_are_cured_on_notes_searched_on_and_held_out(tuned):
    for before, after in ((tuned.before, tuned.after), (tuned.held_out.before, tuned.held_out.after)):
        assert before.open_string_locked_share < 0.1
        assert after.open_string_locked_share > 0.94
        assert after.locked_share > 0.96
    assert tuned.trials == 60


def test_what_is_reported_is_what_the_whole_path_measures(tuned, weak_notes):
    shares = locked_shares(weak_notes, tuned.circuit)
    counts = 4, 2  # searched on, held out
    found = (tuned.after.locked_share * counts[0] + tuned.held_out.after.locked_share * counts[1]) / sum(counts)
    assert found == pytest.approx(np.mean(shares), abs=1e-12)


def test_it_is_told_in_plain_values(tuned):
    told = json.loads(json.dumps(plain_values(tuned)))
    assert set(told) == {"before", "after", "held_out", "changes", "trials", "notes", "boards"}
    assert (told["boards"]["count"], told["boards"]["first"], told["boards"]["searched_on"]) == (3, 1, 3)
    assert told["notes"] == {"searched_on": 4, "held_out": 2}
    assert set(told["held_out"]) == {"before", "after"}
    assert told["held_out"]["after"]["open_string_locked_share"] == tuned.held_out.after.open_string_locked_share
    assert told["before"]["locked_share"] == tuned.before.locked_share


def test_what_is_told_of_boards_is_what_each_of_them_does(weak_notes):
    """By the whole path; the takes' rate is that at which boards are heard."""
    draws = BoardDraws(4, first=11)
    start = load_circuit("gated-open", changes=PLAIN)
    found = tune(weak_notes[:3], start, trials=12, held_out_share=0.0, boards=draws)
    assert found.changes
    for circuit, told in ((start, found.before), (found.circuit, found.after)):
        shares = [np.mean(locked_shares(weak_notes[:3], drawn_board(circuit, number))) for number in range(11, 15)]
        assert told.locked_p10 == pytest.approx(np.percentile(shares, 10), abs=1e-12)
        assert told.locked_median == pytest.approx(np.median(shares), abs=1e-12)
    assert found.selection.as_drawn == pytest.approx(found.after.locked_share, abs=1e-12)
    assert not set(draws.numbers) & set(searched_boards(draws).numbers)


def test_a_circuit_that_cannot_be_among_the_best_is_heard_on_few_boards(weak_notes, monkeypatch):
    """What counts is what the two poorest of ten boards hold, so that few tell enough."""
    heard, real = [], Listener.locked_shares

    def counted(listener, circuit, **how):
        heard.append(circuit.devices.board)
        return real(listener, circuit, **how)

    monkeypatch.setattr(Listener, "locked_shares", counted)
    good = load_circuit("gated-open", changes={"detector.kind": "overtone"})
    deaf = load_circuit("gated-open", changes={"detector.kind": "zero-crossing", "detector.hysteresis": "5V"})
    search = Candidates(weak_notes[:3], good, np.random.default_rng(0), draws=BoardDraws(10, first=21))
    best = search._found(good, [])
    assert heard == list(range(21, 31))
    poorest = np.sort(best.boards)[:2]
    assert best.score == pytest.approx(np.mean(poorest), abs=1e-12)
    assert len(set(best.boards)) > 1
    heard.clear()
    assert search._found(deaf, [best] * POOL) is None
    assert 1 <= len(heard) <= 2
    assert heard == [21 + place for place in np.argsort(best.boards, kind="stable")[:2]][: len(heard)]
    assert search._found(good, [best] * (POOL - 1)).score == best.score


def test_changes_lead_from_the_start_to_the_result(tuned):
    assert tuned.changes
    assert load_circuit("gated-open", changes=tuned.changes) == tuned.circuit


def test_the_same_seed_gives_the_same_answer(weak_notes):
    first, second = (
        tune(weak_notes[:3], load_circuit("gated-open", changes=PLAIN), trials=25, seed=7) for _ in range(2)
    )
    for name in (field.name for field in fields(first)):
        assert getattr(first, name) == getattr(second, name)


@pytest.mark.parametrize("seed", range(4))
def test_it_is_never_worse_than_the_start(weak_notes, seed):
    """From a circuit that is good already, with only a few trials."""
    start = load_circuit("gated-open", changes={"detector.kind": "overtone", "detector.fraction": "60%"})
    found = tune(weak_notes, start, trials=6, seed=seed, held_out_share=0.5)
    for before, after in ((found.before, found.after), (found.held_out.before, found.held_out.after)):
        assert after.locked_share >= before.locked_share
        assert after.open_string_locked_share >= before.open_string_locked_share
        assert after.locked_p10 >= before.locked_p10


def test_where_nothing_can_be_gained_nothing_is_changed():
    start = load_circuit("gated-open", changes=PLAIN | dict.fromkeys(ERRORS, 0.0))
    exact = BoardDraws(2, tolerances=Tolerances(capacitor=0.0, resistor=0.0, pot=0.0))
    notes = [one_note(pitch, [1.0], seconds=0.5) for pitch in (41.2, 55.0)]
    assert np.all(locked_shares(notes, start) == 1.0)
    found = tune(notes, start, trials=12, held_out_share=0.0, boards=exact)
    assert found.changes == {}
    assert found.circuit == start
    assert found.after.locked_share == 1.0
    assert found.held_out.after.locked_share is None
    assert found.after.open_string_locked_share is None


def test_an_interruption_keeps_the_best_so_far(weak_notes):
    calls = []

    def interrupt(done, trials):
        calls.append((done, trials))
        if done == 7:
            raise KeyboardInterrupt

    found = tune(
        weak_notes[:3], load_circuit("gated-open", changes=PLAIN), trials=100, held_out_share=0.0, progress=interrupt
    )
    assert calls[:7] == [(k, 100) for k in range(1, 8)]
    assert [done for done, _ in calls] == list(range(1, len(calls) + 1))  # then boards are measured
    assert calls[-1][0] <= calls[-1][1]
    assert found.trials == 7
    assert found.after.locked_share > found.before.locked_share


@pytest.mark.parametrize("kind", detector_kinds())
@pytest.mark.parametrize("drive", ["normal", "inverted"])
def test_the_fast_measure_agrees_with_the_whole_path(weak_notes, kind, drive):
    notes = [*weak_notes, one_note(98.0, WEAK, rate=44100)]
    circuit = load_circuit("gated-open", changes={"detector.kind": kind, "switches.drive": drive})
    fast, whole = Listener(notes).locked_shares(circuit), locked_shares(notes, circuit)
    cycles = np.array([(note.end_s - note.start_s) * note.pitch_hz for note in notes])
    assert np.all(np.abs(fast - whole) <= WINDOW_CYCLES / cycles)  # the comparator may be set or not when a note begins


@pytest.mark.parametrize(
    "changes",
    [
        PLAIN,
        {**PLAIN, "detector.hold_resistor": "680k", "detector.fraction": "80%"},
        {**PLAIN, "devices.values": "ideal"},
        {"detector.kind": "overtone", "devices.values": "ideal"},
        {"detector.kind": "overtone"},
        {"detector.kind": "overtone", "detector.band.rectifier": "negative"},
        {"detector.kind": "zero-crossing"},
        {"detector.kind": "logarithmic-latch"},
    ],
    ids=[
        *("peak latch", "long hold", "ideal peak latch", "ideal overtone"),
        *("overtone", "diodes turned round", "zero crossing", "logarithmic latch"),
    ],
)
def test_the_fast_measure_remembers_a_loud_note_before_a_soft_one(changes):
    """The store of the loud note is 26 dB above the soft one, which begins unheard where the hold is long."""
    loud, soft = one_note(55.0, STRONG, lead=0.3), one_note(73.4, STRONG, lead=0.0, seconds=1.2)
    take = take_from_samples(np.concatenate((loud.take.samples, 0.05 * soft.take.samples)), RATE)
    notes = [TuneNote(take, 0.3, 1.1, 55.0), TuneNote(take, 1.1, 2.3, 73.4)]
    circuit = load_circuit("gated-open", changes=changes)
    fast, whole = Listener(notes).locked_shares(circuit), locked_shares(notes, circuit)
    np.testing.assert_allclose(fast, whole, atol=0.05)


def test_the_fast_measure_agrees_on_takes_as_they_are_played():
    """Measured on the demo takes: mean difference at most 0.015, and at most one note in 20 is off by more than 0.1."""
    takes = [read_take(path, full_scale_volts=2.0) for path in sorted(TAKES.glob("*.flac"))]
    notes = tune_notes(takes, tuning="bass-5").notes
    listener = Listener(notes)
    for changes in (
        PLAIN,
        {**PLAIN, "detector.hold_resistor": "680k", "detector.fraction": "80%"},
        {**PLAIN, "devices.values": "ideal"},
        {"detector.kind": "overtone", "devices.values": "ideal"},
        {"detector.kind": "overtone"},
        {"detector.kind": "overtone", "detector.band.rectifier": "negative"},
        {"detector.kind": "zero-crossing"},
        {"detector.kind": "logarithmic-latch"},
    ):
        circuit = load_circuit("gated-open", changes=changes)
        off = np.abs(listener.locked_shares(circuit) - locked_shares(notes, circuit))
        assert np.mean(off) < 0.02
        assert np.mean(off > 0.1) < 0.06


@pytest.mark.parametrize("values", ["ideal", "typical"])
def test_the_fast_measure_hears_a_louder_take_as_one(weak_notes, values):
    changes = {"detector.kind": "zero-crossing", "detector.hysteresis": "60mV", "devices.values": values}
    circuit = load_circuit("gated-open", changes=changes)
    louder = [TuneNote(take_from_samples(2 * n.take.samples, RATE), n.start_s, n.end_s, n.pitch_hz) for n in weak_notes]
    listener = Listener(weak_notes)
    assert not np.array_equal(listener.locked_shares(circuit), listener.locked_shares(circuit, level=2.0))
    np.testing.assert_allclose(
        listener.locked_shares(circuit, level=2.0), Listener(louder).locked_shares(circuit), atol=1e-9
    )


def test_a_kept_result_is_not_taken_for_another(weak_notes):
    """In any order, one listener says what a fresh one says."""
    starts = starting_points(load_circuit("gated-open", changes=PLAIN))
    circuits = [moved(start, np.random.default_rng(5), reach=3.0) for start in starts]
    one = Listener(weak_notes[:2])
    for circuit in [*circuits, *circuits[::-1]]:
        np.testing.assert_array_equal(one.locked_shares(circuit), Listener(weak_notes[:2]).locked_shares(circuit))


def parts_of(circuit):
    """Path, unit and value of each resistor, capacitor and threshold of a detector."""

    def walk(table, above):
        for name, info in type(table).model_fields.items():
            value = getattr(table, name)
            if hasattr(value, "model_fields_set"):
                yield from walk(value, f"{above}{name}.")
            elif unit := next((part.symbol for part in info.metadata if isinstance(part, Unit)), None):
                yield f"{above}{name}", unit, value

    return {path: (unit, value) for path, unit, value in walk(circuit.detector, "")}


def test_whatever_it_tries_can_be_bought():
    rng, kinds = np.random.default_rng(11), set()
    circuits = list(starting_points(load_circuit("gated-open", changes=PLAIN)))
    for trial in range(600):
        place = trial % len(circuits)
        circuit = circuits[place] = moved(circuits[place], rng, reach=4.0)
        kinds.add((sort_of(circuit), circuit.detector.filter.kind, circuit.switches.drive))
        for path, (unit, value) in parts_of(circuit).items():
            assert unit == "V" or preferred.is_preferred(value, {"Ω": "E24", "F": "E12"}[unit]), path
        if circuit.detector.kind in ("peak-latch", "overtone"):
            assert 0.1 <= circuit.detector.fraction <= 0.95
    sorts = {("zero-crossing", 0), ("peak-latch", 0), ("logarithmic-latch", 0), ("overtone", 1), ("overtone", -1)}
    assert {kind[0] for kind in kinds} == sorts
    assert {kind[1] for kind in kinds} == {"first-order", "second-order", "third-order"}
    assert {kind[2] for kind in kinds} == {"normal", "inverted"}


@pytest.mark.parametrize("order", [1, 2, 3])
@pytest.mark.parametrize("corner_hz", [40.0, 71.0, 150.0, 333.0])
def test_a_low_pass_put_in_is_a_butterworth_of_that_corner(order, corner_hz):
    """|H|² = 1 / (1 + (f/fc)^2n); half a step of E24, 5 %, and as much of E12's rounding are n · 0.8 dB of slope."""
    from sublatch.circuit.networks.solver import transfer

    frequency = corner_hz * np.array([0.2, 1.0, 3.0])
    gain = np.abs(transfer(butterworth(order, corner_hz).network(tone=None, peak=None)).response(frequency))
    expected = 1 / np.sqrt(1 + (frequency / corner_hz) ** (2 * order))
    np.testing.assert_allclose(20 * np.log10(gain), 20 * np.log10(expected), atol=0.8 * order)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[detector]\nkind = 'peak-latch'\nfraction = 0.7\n",
        "[detector]\nkind = 'overtone'\n[detector.band]\ncapacitor = '22n'\n",
        "[detector]\nkind = 'logarithmic-latch'\n[detector.amplifier]\ndiodes = 2\n",
        "[detector]\nkind = 'zero-crossing'\nleveller = { target = '300mV' }\n",
    ],
)
def test_changes_hold_for_files_that_leave_things_out(tmp_path, text):
    path = tmp_path / "box.toml"
    path.write_text(f"title = 'T'\noctave = {{ kind = 'gain-gated' }}\n{text}", encoding="utf-8")
    start, rng = load_circuit(path), np.random.default_rng(2)
    assert changes_between(start, start) == {}
    for end in [moved(one, rng, reach=3.0) for one in starting_points(start) for _ in range(12)]:
        changes = changes_between(start, end)
        assert load_circuit(path, changes=changes) == end
        assert all(isinstance(value, str) for value in changes.values())


def test_changes_are_written_as_the_trade_does():
    start = load_circuit("gated-open", changes=PLAIN)
    settings = start.model_dump()
    settings["detector"].update(fraction=0.65, hold_resistor=47e3, floor=0.0005)
    changes = changes_between(start, Circuit.model_validate(settings))
    assert changes == {
        "detector.fraction": "65%",
        "detector.hold_resistor": "47k",
        "detector.floor": "500 µV",
    }


@pytest.mark.parametrize(
    ("bad", "message"),
    [
        ({"trials": 0}, "trials must be 1 or more, got 0"),
        ({"held_out_share": 1.0}, r"held_out_share must be 0 to 0.9, got 1"),
    ],
)
def test_numbers_out_of_range_are_refused(weak_notes, bad, message):
    with pytest.raises(AudioDataError, match=message):
        tune(weak_notes, load_circuit("gated-open", changes=PLAIN), **bad)


def test_notes_that_cannot_be_are_refused(weak_notes):
    circuit = load_circuit("gated-open", changes=PLAIN)
    with pytest.raises(AudioDataError, match="at least one note"):
        tune([], circuit)
    with pytest.raises(AudioDataError, match="must lie within its take"):
        tune([TuneNote(weak_notes[0].take, 0.5, 2.5, 41.2)], circuit)
