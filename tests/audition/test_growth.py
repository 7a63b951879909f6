"""How the work of an audition grows with takes and candidates, counted and not timed."""

from __future__ import annotations

import pytest

from small_auditions import CANDIDATES, RATE, note, write_plan
from sublatch.audition import render_candidate as sounds
from sublatch.audition.listen import measurements as measured
from sublatch.audition.run import run_audition
from sublatch.files.sound import write_audio
from sublatch.signal import detector
from sublatch.signal.octave_stage import switched

pytestmark = pytest.mark.usefixtures("plain_page")


@pytest.fixture
def work(counted):
    """Count the steps of an audition that cost the most."""
    steps = ((sounds, "render"), (measured, "levels"), (sounds, "write_audio"), (sounds, "write_sound_script"))
    return counted(*steps, (detector, "edges"), (switched, "generate"))


def plan_of(folder, takes, candidates):
    folder.mkdir()
    names = [f"take {n}.wav" for n in range(takes)]
    for n, name in enumerate(names):
        write_audio(folder / name, (0.5 + 0.1 * n) * note(1.0), RATE)
    return write_plan(folder, tuple(names), dict(list(CANDIDATES.items())[:1] + candidates))


def swept(count):
    return [(f"{n}", f'circuit = "gated-swept"\nset = {{ "knobs.tone" = {n} }}') for n in range(count)]


def test_an_audition_s_work_is_linear_in_takes(tmp_path, work):
    found = []
    for takes in (1, 3):
        run_audition(plan_of(tmp_path / str(takes), takes, swept(3)), jobs=1)
        found.append(dict(work))
        work.clear()
    assert found[0]["render"] == 2 * 4  # to be measured, and to be written; neither is kept in between
    assert found[1] == {name: 3 * calls for name, calls in found[0].items()}


def test_another_candidate_costs_two_renderings_a_measurement_and_its_files(tmp_path, work):
    found = []
    for count in (2, 6):
        run_audition(plan_of(tmp_path / str(count), 1, swept(count)), jobs=1)
        found.append(dict(work))
        work.clear()
    more = {name: found[1][name] - found[0][name] for name in found[0]}
    assert more == {"render": 2 * 4, "levels": 4, "write_audio": 4, "write_sound_script": 4, "edges": 0, "generate": 0}


def test_a_second_run_renders_measures_and_writes_nothing(tmp_path, work):
    plan = plan_of(tmp_path / "box", 2, swept(2))
    run_audition(plan, jobs=1)
    work.clear()
    run_audition(plan, jobs=1)
    assert work == {}
