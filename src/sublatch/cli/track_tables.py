"""What ``sublatch track`` prints: strings or notes, circuits, and lock over playing level."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING

import click

from sublatch.cli.options import number, share
from sublatch.tracking.lock import locked_percent

if TYPE_CHECKING:
    from sublatch.cli.tracked import Tracked
    from sublatch.tracking.boards import BoardsLock
    from sublatch.tracking.lock_sums import LockSums
    from sublatch.tracking.playing_levels import LevelLock
    from sublatch.tracking.track import TrackedNote, Tracking

WIDTH = 120
MOST_LOST = 5
"""Notes that are named because boards lose them."""
MARGIN = "  mV"
NOTE_COLUMNS = (
    *("start s", "locked %", "lock ms", "early %", "uneven %"),
    *("at °", "± °", "jitter °", "step %", MARGIN, "lost s"),
)
SUM_COLUMNS = ("lock ms", "90 % ms", "early %", "uneven %")
STRING_COLUMNS = ("notes", "locked %", "poorest %", *SUM_COLUMNS, "step %", MARGIN)
SUMMED = (
    "A row such as 'E1 to A1' has the fretted notes between these two pitches, whatever string they were played on;",
    "poorest: of the note that was held on to worst; lock, 90 %: how long after its start half of the notes, and nine",
    "in ten, have locked, a dash where fewer ever do; early: locked in a note's first 150 ms; uneven: of the periods",
    "in lock, those that are longer and shorter in turn; step: share of the note's peak; mV: the least margin of a",
    "note, the comparators' further offset that loses up to a tenth of its edges. --each shows every note.",
)
EXPLAINED = (
    "lock: how long after the note's start it first locks; lost: when lock is first missing;",
    "early: locked in its first 150 ms; uneven: of the periods in lock, those that are longer and shorter in turn;",
    "at: where in the note's own cycle the drive switches the octave stage, 0 at a zero crossing, 90 at a crest;",
    "±: how far that wanders over the note; jitter: from one edge to the next; step: share of the note's peak;",
    "mV: its margin, the comparators' further offset that loses up to a tenth of its edges.",
)


def print_tables(found: Sequence[Tracked], *, tuning: str, each: bool) -> None:
    """Print each take string by string or note by note, lock over playing level, and a line for each detector."""
    for one in found:
        click.echo(_head(one))
        for remark in (*one.tracking.remarks, *one.tracking.margin_remarks):
            click.echo(fill(str(remark), WIDTH, initial_indent="  ", subsequent_indent="    "))
        (_print_notes if each else _print_strings)(one.tracking, tuning)
        _print_uncounted(one.tracking)
        _print_lost(one)
        if one.boards is not None:
            _print_boards(one.boards, one.selection)
        if one.levels is not None:
            _print_map(one.levels)
        click.echo()
    lines = EXPLAINED if each else SUMMED
    if any(one.tracking.notes for one in found):
        click.echo("\n".join(lines) + "\n")
    levels = [one.levels for one in found if one.levels is not None]
    if levels:
        _print_windows(levels)
    _print_circuits([one.tracking for one in found])


def _head(found: Tracked) -> str:
    """Return the take and the circuits, which are several where they share their detector."""
    shared = " (the same detector)" if len(found.circuits) > 1 else ""
    return f"{found.tracking.take}, {found.tracking.circuit}{shared}"


def _print_strings(result: Tracking, tuning: str) -> None:
    """Print a line for each open string, for what is fretted between them, and for the whole take."""
    from sublatch.tracking.strings import StringLock, by_string

    if not result.notes:
        return
    click.echo(f"  {'':<10}  {'  '.join(STRING_COLUMNS)}  lost by")
    for row in (*by_string(result, tuning=tuning), StringLock("whole take", result.notes)):
        told = (
            str(len(row.notes)),
            locked_percent(row.locked_share),
            locked_percent(row.least_locked_share),
            *_sums(row.sums),
            _step(row.step_share),
            _margin(row.least_margin_mv),
        )
        lost = ", ".join(f"{count} {kind}" for kind, count in row.dropouts.items())
        click.echo(f"  {row.name:<10}  {_under(STRING_COLUMNS, told)}  {lost}".rstrip())


def _sums(sums: LockSums) -> tuple[str, ...]:
    """Return the cells that tell how soon and how evenly a drive locks."""
    return (
        number(sums.median_first_lock_ms, places=0),
        number(sums.p90_first_lock_ms, places=0),
        locked_percent(sums.early_locked_share),
        _percent(sums.uneven_share),
    )


def _percent(value: float | None) -> str:
    """Return a share in per cent, a dash where there is none."""
    return "–" if value is None else share(value)


def _step(value: float | None) -> str:
    """Return a step in per cent of the peak, a dash where there is none."""
    return "–" if value is None else f"{100 * value:.0f}"


def _margin(value_mv: float | None) -> str:
    """Return a margin in millivolts, a tenth told where it matters; a dash where there is none."""
    return number(value_mv, places=0 if value_mv is not None and value_mv >= 99.95 else 1)


def _under(heads: Sequence[str], cells: Sequence[str]) -> str:
    """Return a line of cells, each flush with the end of its head."""
    return "  ".join(f"{text:>{len(head)}}" for text, head in zip(cells, heads, strict=True))


def _print_uncounted(result: Tracking) -> None:
    """Say how much of what sounds is in no counted note, and how much of the notes' time has an unsure octave."""
    if result.uncounted_share is None:
        return
    unsure = f"; notes of unsure octave are {share(result.unsure_share)} % of all notes' time"
    click.echo(
        f"  not counted: {share(result.uncounted_share)} % of the time in which the take sounds"
        f"{unsure if result.unsure_share else ''}"
    )


def _print_lost(found: Tracked) -> None:
    """Say how many notes are lost, and which built-in detector would hold on better."""
    from sublatch.tracking.tune.lost import WORTH_NAMING
    from sublatch.tracking.tune.search import POOR

    poor, better = found.lost.poor_notes, found.lost.better
    if not poor:
        return
    are = "is" if poor == 1 else "are"
    click.echo(f"  {poor} of {len(found.tracking.notes)} notes {are} held for less than {100 * POOR:.0f} % of the time")
    if better is None:
        click.echo(f"  no built-in detector would hold on for {100 * WORTH_NAMING:.0f} % more of this take")
    else:
        step = "" if better.step_share is None else f", step {100 * better.step_share:.0f} %"
        held = locked_percent(better.locked_share)
        text = f"the built-in {better.kind} detector would hold on for {held} % of this take{step}: "
        text += better.how.replace(" ", "\0")  # what is typed stays on one line
        lines = fill(text, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
        click.echo(lines.replace("\0", " "))


def _print_boards(boards: BoardsLock, selection: str) -> None:
    """Print how many boards hold on how well, which notes are lost on some of them, and which part to select."""
    low, middle, high = (locked_percent(boards.percentile(percent)) for percent in (10, 50, 90))
    numbers = boards.numbers
    poorest = locked_percent(float(boards.locked.min()))
    tolerances = boards.draws.tolerances
    click.echo(
        f"  {boards.draws.count} boards (resistors {_tolerance(tolerances.resistor)}, capacitors "
        f"{_tolerance(tolerances.capacitor)}, {tolerances.distribution}): locked {middle} % in the median,\n"
        f"    {low} % to {high} % from the 10th to the 90th percentile"
    )
    click.echo(
        f"    the poorest is board {numbers['poorest']} with {poorest} %, the median one board {numbers['median']}"
    )
    lost = [(count, note) for count, note in zip(boards.lost_on, boards.notes, strict=True) if count]
    for count, note in sorted(lost, key=lambda one: -one[0])[:MOST_LOST]:
        click.echo(f"    {note.name} at {note.start_s:.2f} s is lost on {count} of {boards.draws.count} boards")
    if len(lost) > MOST_LOST:
        click.echo(f"    and {len(lost) - MOST_LOST} more notes on some")
    if selection:
        click.echo(fill(selection, WIDTH, initial_indent="    ", subsequent_indent="      "))


def _tolerance(share_off: float) -> str:
    """Return a tolerance in per cent."""
    return f"{100 * share_off:g} %"


def _print_notes(result: Tracking, _tuning: str) -> None:
    """Print every note, open strings apart."""
    for title, wanted in (("open strings", True), ("other notes", False)):
        chosen = [item for item in result.notes if item.note.open_string is wanted]
        if chosen:
            click.echo(f"  {title}\n    {'':<3}  {'  '.join(NOTE_COLUMNS)}  lost by")
            for item in chosen:
                click.echo(_line(item))


def _line(item: TrackedNote) -> str:
    """Return one note's line."""
    kinds = [dropout.kind for dropout in item.lock.dropouts]
    lost = ", ".join(f"{kinds.count(kind)} {kind}" for kind in dict.fromkeys(kinds))
    where = item.switching
    told = (
        f"{item.note.start_s:.3f}",
        locked_percent(item.lock.locked_share),
        number(item.lock.first_lock_ms, places=0),
        locked_percent(item.lock.early_locked_share),
        _percent(item.lock.uneven_share),
        number(where.phase_deg, places=0),
        number(where.spread_deg, places=0),
        number(where.jitter_deg, places=1),
        _step(where.step_share),
        _margin(item.margin.margin_mv),
        number(item.lock.first_dropout_s, places=3),
    )
    return f"    {item.note.name:<3}  {_under(NOTE_COLUMNS, told)}  {lost}".rstrip()


def _print_map(levels: LevelLock) -> None:
    """Print the lock of one circuit on one take over note and level."""
    overall = levels.locked_share
    if overall is None:
        return
    click.echo("  locked % over playing level in dB, 0 as the take is")
    click.echo(f"    {'':<12}{''.join(f'{_signed(gain):>5}' for gain in levels.gains_db)}")
    rows = [(f"{row.name} open" if row.open_string else row.name, row.shares) for row in levels.by_name()]
    for name, shares in [*rows, ("all notes", overall)]:
        cells = (100 if share == 1.0 else min(round(100 * share), 99) for share in shares)
        click.echo(f"    {name:<12}{''.join(f'{cell:>5}' for cell in cells)}")


def _print_windows(levels: Sequence[LevelLock]) -> None:
    """Print, for each take and circuit, the levels within which 95 % of the best lock is kept."""
    takes, circuits = (max(len(one.take) for one in levels), max(len(one.circuit) for one in levels))
    click.echo("playing levels that keep 95 % of the best lock (interpolated between the levels tried)")
    for one in levels:
        click.echo(f"  {one.take:<{takes}}  {one.circuit:<{circuits}}  {_window(one)}")
    click.echo()


def _window(levels: LevelLock) -> str:
    """Return the window of one circuit on one take in words."""
    window = levels.window
    if window is None:
        return "never locks" if levels.notes else "no notes"
    low = (
        f"{_signed(window.low_db, places=1)} dB ({window.low_volts:.2g} V peak){' or lower' if window.or_lower else ''}"
    )
    high = f"{_signed(window.high_db, places=1)} dB ({window.high_volts:.2g} V peak)"
    more = " or higher" if window.or_higher else ""
    return f"{low} to {high}{more}; the best is {locked_percent(window.best_share)} %"


def _print_circuits(results: Sequence[Tracking]) -> None:
    """Print a line for each detector's circuits, and which of them switch in mid-wave."""
    from sublatch.tracking.phase import MID_WAVE
    from sublatch.tracking.track import mean_share, mean_step, sums_of

    circuits = list(dict.fromkeys(result.circuit for result in results))
    width = max(len("circuit"), *map(len, circuits))
    heads = ("locked %", "open strings %", *SUM_COLUMNS, "step %")
    click.echo(f"{'circuit':<{width}}  {'  '.join(heads)}")
    remarks = []
    for name in circuits:
        own = [result for result in results if result.circuit == name]
        shares = locked_percent(mean_share(own)), locked_percent(mean_share(own, open_strings=True))
        sums, step = sums_of(item for result in own for item in result.notes), mean_step(own)
        click.echo(f"{name:<{width}}  {_under(heads, (*shares, *_sums(sums), _step(step)))}")
        if step is not None and step > MID_WAVE:
            remarks.append(name)
    for name in remarks:
        click.echo(
            f"{name} switches in mid-wave: on average its steps are more than {100 * MID_WAVE:.0f} % of the note's "
            "peak, what a sine has 30° from its zero crossing; each is a click, and together they buzz"
        )


def _signed(gain_db: float, *, places: int = 0) -> str:
    """Return a gain with its sign, zero without."""
    shown = round(gain_db, places) + 0.0
    return f"{shown:+.{places}f}" if shown else f"{0:.{places}f}"
