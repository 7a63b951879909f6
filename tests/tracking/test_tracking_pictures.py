"""Pictures of tracking: nothing overlaps or is cut off, and what they show can be read in grey."""

import struct
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from matplotlib import colormaps
from matplotlib.collections import QuadMesh
from matplotlib.colors import to_hex
from matplotlib.patches import Patch
from matplotlib.text import Text

from sublatch.audition.page.labels import COLOURS as PAGE_COLOURS
from sublatch.audition.page.lock_strips import MARKS as PAGE_MARKS
from sublatch.circuit.boards import BoardDraws
from sublatch.pictures.paper import fitting
from sublatch.pitch.notes import Note
from sublatch.pitch.reference.track import PitchTrack
from sublatch.tracking.boards import BoardsLock
from sublatch.tracking.lock import Dropout, Lock
from sublatch.tracking.margins import NoteMargin
from sublatch.tracking.phase import Switching
from sublatch.tracking.pictures.level_map import COLOURS
from sublatch.tracking.pictures.page import DPI, tracking_figure, tracking_png
from sublatch.tracking.pictures.time_rows import legend_handles
from sublatch.tracking.playing_levels import GAINS_DB, LevelLock
from sublatch.tracking.track import TrackedNote, Tracking
from sublatch.units.scales import hz_to_note

pytestmark = pytest.mark.long

GAINS = np.array(GAINS_DB)


def made(take, circuit, notes, *, seed=0):
    """One circuit's tracking of a take of so many different notes, and its lock over level; dropouts of each kind."""
    rng = np.random.default_rng(seed)
    pitches = 30.8677 * 2 ** (rng.permutation(notes) / 12)
    time_s = np.arange(0.0, max(1.5 * notes, 1.0), 0.01)
    curve = np.repeat(pitches, 150) if notes else np.full(len(time_s), np.nan)
    found = tuple(
        Note(1.5 * k, 1.5 * k + 1.4, float(hz), hz_to_note(hz), k % 9 == 0, True, float(hz), float(hz))
        for k, hz in enumerate(pitches)
    )
    kinds = ("skip", "stall", "stray")
    items = tuple(
        TrackedNote(
            note,
            Lock(0.7, note.start_s, note.end_s, (Dropout(note.start_s + 0.3, note.start_s + 0.6, kinds[k % 3]),)),
            Switching(50, 20.0, 3.0, 1.0, 0.1, 0.4),
        )
        for k, note in enumerate(found)
    )
    drive = np.concatenate([np.arange(n.start_s, n.end_s, 1 / n.pitch_hz) for n in found]) if found else np.zeros(0)
    tracking = Tracking(
        take, circuit, items, (), drive, PitchTrack(time_s, curve, 0 * time_s, 0 * time_s + 1, np.array([]), 0 * time_s)
    )
    middle = rng.uniform(-20.0, 0.0, (notes, 1))
    return tracking, LevelLock(take, circuit, GAINS, 0.4, found, np.exp(-(((GAINS - middle) / 8.0) ** 2)))


def boxes_of(figure):
    """Every text that is drawn, and its box in pixels (texts, 4)."""
    renderer = figure.canvas.get_renderer()
    figure.draw(renderer)
    unseen = {label for axes in figure.axes for label in labels_beyond(axes)}
    texts = [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]
    texts = [text for text in texts if text not in unseen]
    return texts, np.array([text.get_window_extent(renderer).extents for text in texts])


def labels_beyond(axes):
    """Labels of ticks that lie beyond what the axes show; they are never drawn."""
    for axis in (axes.xaxis, axes.yaxis):
        low, high = sorted(axis.get_view_interval())
        for tick in [*axis.get_major_ticks(), *axis.get_minor_ticks()]:
            if not low <= tick.get_loc() <= high:
                yield from (tick.label1, tick.label2)


@pytest.mark.parametrize("notes", [1, 40])
@pytest.mark.parametrize("circuits", [1, 2, 5, 7])
def test_no_text_overlaps_another_or_leaves_the_paper(circuits, notes):
    several = [
        made("a take", f"circuit-{k} with quite a long name that goes on", notes, seed=k) for k in range(circuits)
    ]
    figure = tracking_figure([one for one, _ in several], levels=[one for _, one in several])
    texts, boxes = boxes_of(figure)
    assert len(texts) > 10 * circuits
    width, height = figure.bbox.width, figure.bbox.height
    assert np.all(boxes[:, :2] >= 0.0)
    assert np.all(boxes[:, 2] <= width)
    assert np.all(boxes[:, 3] <= height)
    left, bottom, right, top = boxes.T
    across = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    upright = np.minimum(top[:, None], top) - np.maximum(bottom[:, None], bottom)
    clash = (across > 0.5) & (upright > 0.5) & ~np.eye(len(texts), dtype=bool)
    assert not clash.any(), [(texts[i].get_text(), texts[j].get_text()) for i, j in np.argwhere(clash)[:6]]


def test_the_paper_grows_with_takes_and_circuits():
    one, two = made("first", "a", 4), made("second", "a", 4)
    alone = tracking_figure([one[0]])
    with_map = tracking_figure([one[0]], levels=[one[1]])
    both = tracking_figure([one[0], two[0]], levels=[one[1], two[1]])
    heights = [figure.get_figheight() for figure in (alone, with_map, both)]
    assert heights[0] < heights[1] < heights[2]
    assert {text.get_text() for text in both.texts} >= {"first", "second"}


def test_circuits_on_one_take_share_the_time_axis():
    figure = tracking_figure([made("a take", name, 4)[0] for name in "ab"])
    first, *others = figure.axes
    assert len(others) == 5  # pitch, strip and margins of each
    assert all(first.get_shared_x_axes().joined(first, other) for other in others)


def test_each_mark_is_at_its_kind_s_height_and_inside_its_own_note():
    tracking, _ = made("a take", "a", 9)
    pitch, strip, _ = tracking_figure([tracking]).axes
    assert not pitch.patches
    names = {label.get_text(): float(at) for at, label in zip(strip.get_yticks(), strip.get_yticklabels(), strict=True)}
    assert set(names) == {"skip", "stall", "stray"}
    marks = [mark.get_window_extent().transformed(strip.transData.inverted()) for mark in strip.patches]
    assert len(marks) == 9
    dropouts = [(item.note, dropout) for item in tracking.notes for dropout in item.lock.dropouts]
    for mark, (note, dropout) in zip(marks, dropouts, strict=True):
        assert note.start_s <= mark.x0 == pytest.approx(dropout.start_s)
        assert note.end_s >= mark.x1 == pytest.approx(dropout.end_s)
        through = {kind for kind, at in names.items() if mark.y0 <= at <= mark.y1}
        assert dropout.kind in through
        assert through == {dropout.kind} or dropout.kind == "stray"


def test_marks_are_told_apart_by_filling_and_outline_and_coloured_as_on_the_listening_page():
    handles = [handle for handle in legend_handles() if isinstance(handle, Patch)]
    assert [handle.get_label().split(":")[0] for handle in handles] == ["skip", "stray", "stall"]
    assert [handle.get_facecolor()[3] for handle in handles] == [1.0, 0.3, 0.0]
    assert [handle.get_linestyle() == "-" for handle in handles] == [True, False, True]
    for handle in handles:
        number = PAGE_MARKS[handle.get_label().split(":")[0]][2]
        assert to_hex(handle.get_edgecolor()) == PAGE_COLOURS[number - 1]


def test_where_it_locks_the_octave_is_drawn_at_half_the_note_s_pitch():
    tracking, _ = made("a take", "a", 1)
    pitch, _, _ = tracking_figure([tracking]).axes
    dots = next(line for line in pitch.lines if line.get_marker() == ".")
    assert np.allclose(dots.get_ydata(), tracking.notes[0].note.pitch_hz / 2)
    low, high = pitch.get_ylim()
    assert low < np.min(dots.get_ydata())
    assert high > tracking.notes[0].note.pitch_hz


def test_the_map_holds_the_shares_it_was_given():
    tracking, levels = made("a take", "a", 5)
    figure = tracking_figure([tracking], levels=[levels])
    meshes = [artist for axes in figure.axes for artist in axes.collections if isinstance(artist, QuadMesh)]
    drawn = [np.asarray(mesh.get_array()) for mesh in meshes]
    expected = np.array([row.shares for row in levels.by_name()])
    assert any(one.shape == expected.shape and np.allclose(one, expected) for one in drawn)
    assert any(one.shape == (1, 13) and np.allclose(one, levels.locked_share) for one in drawn)


def test_colours_rise_in_lightness_all_the_way():
    """CIE 1931 luminance of sRGB (IEC 61966-2-1), so that the map reads the same in grey."""
    rgb = colormaps[COLOURS](np.linspace(0, 1, 64))[:, :3]
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    lightness = 116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16
    assert np.all(np.diff(lightness) > 0.2)
    assert lightness[-1] - lightness[0] > 70


def test_the_same_results_give_the_same_bytes_and_say_who_made_them():
    tracking, levels = made("a take", "a", 3)
    first, second = (tracking_png([tracking], levels=[levels], software="sublatch test") for _ in range(2))
    assert first == second
    assert b"sublatch test" in first[:4096]
    width, height = struct.unpack(">II", first[16:24])
    assert width == 11 * DPI
    assert height > 2 * DPI


@pytest.mark.parametrize("name", ["$x_1$ & <b>", "低音オクターブ", "two\nlines\tand\x07bell", "", "w" * 200])
def test_any_name_can_be_drawn(name):
    tracking, levels = made(name, name, 2)
    assert tracking_png([tracking], levels=[levels]).startswith(b"\x89PNG")


def test_a_take_without_notes_has_no_map_but_a_row():
    silent, levels = made("silent", "a", 0)
    figure = tracking_figure([silent], levels=[levels])
    pitch, strip, _ = figure.axes
    assert not strip.patches
    assert len(pitch.lines) == 1
    assert any("no notes" in text.get_text() for text in figure.texts)


@pytest.mark.parametrize("width", [0.5, 1.0, 3.0])
def test_names_are_cut_to_the_room_there_is(width):
    assert fitting("E1", width) == "E1"
    cut = fitting("a circuit with a name that goes on and on and on and on and on and on", width)
    assert cut.endswith("…")
    assert len(cut) < 40


def test_margins_stand_at_their_height_and_what_boards_lose_is_told_without_overlap():
    tracking, _ = made("a take", "a", 12)
    margins_mv = [2.0, 5000.0, None, *np.geomspace(1.0, 500.0, 9)]
    notes = tuple(
        replace(item, margin=NoteMargin(margin_mv, None))
        for item, margin_mv in zip(tracking.notes, margins_mv, strict=True)
    )
    shares = np.where(np.arange(12) % 2, 0.2, 1.0) * np.ones((30, 1))
    shares[7:, 3] = 1.0
    boards = BoardsLock("a take", "a", BoardDraws(30), tuple(item.note for item in notes), shares)
    figure = tracking_figure([replace(tracking, notes=notes)], boards=[boards])
    figure.canvas.draw()
    margins = figure.axes[2]
    *drawn, limit = (line.get_ydata()[0] for line in margins.lines)
    assert drawn == pytest.approx([2.0, 1500.0, *margins_mv[3:]])
    assert limit == 10.0
    texts = [text.get_text() for text in margins.texts]
    assert texts[:2] == ["lost on 30 of 30", "lost on 7 of 30"]
    boxes = [text.get_window_extent() for text in margins.texts]
    assert all(left.x1 < right.x0 for left, right in pairwise(boxes))
