"""Candidates at unity: where it is, what clips there, and a volume that stands there."""

from __future__ import annotations

import csv
import json

import numpy as np
import pytest
from scipy.signal import resample

from small_auditions import RATE, content, note, times, write_plan
from sublatch.audition import render_candidate as sounds
from sublatch.audition.plan.load import load_audition
from sublatch.audition.run import run_audition
from sublatch.circuit.load import load_circuit
from sublatch.errors import PlanError
from sublatch.files.sound import read_audio, write_audio
from sublatch.sampling.levels import levels
from sublatch.signal.chain import render
from sublatch.signal.unity import volume_gain_db
from sublatch.takes.remarks import Remark
from sublatch.takes.take import read_take

pytestmark = pytest.mark.usefixtures("plain_page")

SUPPLY = 3.4
PLAIN = {"detector.kind": "peak-latch", "devices.values": "ideal"}
"""A detector that no supply changes, and an output that rests half way between its limits."""
SET = {**PLAIN, "knobs.volume": 2.5, "supply": f"{SUPPLY}V"}
MEASURES = {"loudness": "loudness_lufs", "rms": "rms_dbfs", "peak": "peak_dbfs"}


def candidate(name="gated-swept", moves="", **settings):
    told = ", ".join(f'"{path}" = {json.dumps(value)}' for path, value in settings.items())
    return f'circuit = "{name}"\nset = {{ {told} }}\n{moves}'


def audition(folder, head="", **candidates):
    (take,) = run_audition(write_plan(folder, candidates=candidates, head=head)).takes
    assert take.error is None
    return dict(zip(candidates, take.candidates[1:], strict=True))


def unlimited(folder, volume, **settings):
    """A take's output at a position as if nothing limited it, by a rendering with a supply of 60 V."""
    circuit = load_circuit("gated-swept", changes={**PLAIN, **settings, "supply": "60V", "knobs.volume": volume})
    return render(read_take(folder / "a.wav"), circuit).samples


@pytest.mark.parametrize("measure", MEASURES)
def test_a_box_that_clips_where_it_is_as_loud_as_the_take_shows_it(folder, measure):
    """At 2.5 nothing clips; unity, sought here by bisection of whole renderings, is far above it and clips."""
    told = audition(folder, f'match = "{measure}"', box=candidate(**SET))["box"]
    bypassed, low, high = read_take(folder / "a.wav").samples, 2.5, 10.0

    def level(samples):
        return getattr(levels(samples, sample_rate=RATE), MEASURES[measure])

    for _ in range(20):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if level(unlimited(folder, middle)) < level(bypassed) else (low, middle)
    assert told.unity_position == pytest.approx(low, abs=0.01)
    fine = resample(unlimited(folder, low), 8 * len(bypassed))
    share = float(np.mean(np.abs(fine) > SUPPLY / 2 - 1.5))  # half the supply less the margin
    assert share > 0.01
    assert told.at_limit_share == 0.0
    assert told.at_limit_share_unity == pytest.approx(share, abs=0.003)
    (remark,) = told.remarks
    assert remark.text.startswith(
        f"lifted by {told.matched_gain_db:.1f} dB to match; on the box that takes volume at {low:.1f}"
    )
    assert remark.code == "lifted"
    assert remark.text.endswith(
        f"instead of 2.5, and there the output clips {100 * told.at_limit_share_unity:.1f} % of the time"
    )


def test_the_gain_that_matches_is_told_against_the_bypassed_take(folder):
    told = audition(folder, soft=candidate(**{"knobs.volume": 6}), loud=candidate(**{"knobs.volume": 10}))
    table = json.loads((folder / "audition" / "results.json").read_text(encoding="utf-8"))["takes"][0]["candidates"]
    assert [one["matched_gain_db"] for one in table] == [
        None,
        *(pytest.approx(one.gain_db - table[0]["gain_db"]) for one in told.values()),
    ]
    assert 0.0 < told["soft"].matched_gain_db < 6.0
    assert told["loud"].matched_gain_db < 0.0
    assert not told["soft"].remarks
    assert not told["loud"].remarks


def test_a_volume_at_unity_is_the_number_that_is_told(folder):
    told = audition(folder, word=candidate(**{**SET, "knobs.volume": "unity"}))["word"]
    assert told.volume == pytest.approx(told.unity_position, abs=0.005)
    assert told.at_limit_share_unity == told.at_limit_share > 0.0
    assert told.remarks == (Remark("unity-found", f"volume at unity is {told.volume:.1f} here"),)
    comment = json.loads(read_audio(folder / "audition" / told.file).comment)
    assert comment["knobs"]["volume"] == told.volume
    assert comment["settings"]["knobs.volume"] == "unity"
    number = audition(folder, "output = 'other'", word=candidate(**{**SET, "knobs.volume": told.volume}))["word"]
    sounds_of = [read_audio(folder / out / told.file).samples for out in ("audition", "other")]
    np.testing.assert_array_equal(*sounds_of)
    assert number.levels == told.levels


def test_a_sweep_can_hold_unity(folder):
    plan = folder / "sweep.toml"
    plan.write_text(
        'takes = ["a.wav"]\n[[sweeps]]\nname = "v"\ncircuit = "gated-open"\nvary = "knobs.volume"\n'
        'values = [2, "unity"]\n',
        encoding="utf-8",
    )
    _, two, unity = run_audition(load_audition(plan)).takes[0].candidates
    assert two.unity_position == pytest.approx(unity.volume, abs=0.01)


def test_where_unity_lies_beyond_it_is_measured_at_ten_and_told(folder):
    """The output has 5 mV on either side; op-amps that are off would rest at their limits in the detector."""
    weak = {"output.ground_resistor": "100M", "supply": "3.01V", "devices.values": "ideal"}
    told = audition(
        folder, word=candidate(**weak, **{"knobs.volume": "unity"}), five=candidate(**weak, **{"knobs.volume": 5})
    )
    assert (told["word"].volume, told["word"].unity_position, told["five"].unity_position) == (10.0, None, None)
    assert told["word"].at_limit_share == told["word"].at_limit_share_unity > 0.0
    assert told["five"].at_limit_share_unity == pytest.approx(told["word"].at_limit_share)
    assert told["five"].at_limit_share < told["five"].at_limit_share_unity
    assert "unity-beyond" in [remark.code for remark in told["word"].remarks]
    assert "on the box not even volume at 10 is as loud as the bypassed take" in told["five"].remarks[-1].text


def test_a_moved_volume_has_no_unity_and_sets_out_from_it(folder):
    moves = 'moves = [{ control = "knobs.volume", to = 9, start = "0.1s", end = "0.3s" }]'
    told = audition(folder, moved=candidate(moves=moves, **{"knobs.volume": "unity"}))["moved"]
    assert told.unity_position is told.at_limit_share_unity is None
    assert told.moves[0].start == told.volume
    with pytest.raises(PlanError, match=r'candidate .moved.: .* it can start at "unity", not end there'):
        write_plan(folder, candidates={"moved": candidate(moves=moves.replace("9", '"unity"'))})


def test_other_moves_count_where_the_limits_are_measured(folder):
    """Turned to full tone, more gets to the output buffer than where the tone stands at first."""
    moves = 'moves = [{ control = "knobs.tone", to = 10, start = "0.05s", end = "0.15s" }]'
    still = {**SET, "knobs.tone": 0}
    told = audition(folder, still=candidate(**still), moved=candidate(moves=moves, **still))
    assert told["moved"].unity_position == pytest.approx(told["still"].unity_position, abs=0.01)
    assert told["moved"].at_limit_share_unity > told["still"].at_limit_share_unity


def test_it_is_judged_through_the_voicing(folder):
    plain = audition(folder, box=candidate(**SET))["box"]
    heard = audition(folder, 'voicing = "loudspeaker"', box=candidate(**SET))["box"]
    assert heard.unity_position < plain.unity_position - 0.05
    assert plain.at_limit_share == heard.at_limit_share == 0.0
    circuit = load_circuit("gated-swept")
    for told in (plain, heard):
        more_db = volume_gain_db(circuit, told.unity_position) - volume_gain_db(circuit, 2.5)
        assert more_db == pytest.approx(told.matched_gain_db, abs=0.01)


def test_silence_has_no_unity_and_no_remark_but_where_the_knob_stands(folder):
    write_audio(folder / "a.wav", np.zeros(4000), RATE)
    told = audition(folder, word=candidate(**{"knobs.volume": "unity"}), off=candidate(**{"knobs.volume": 0}))
    assert [one.at_limit_share_unity for one in told.values()] == [None, None]
    assert [one.matched_gain_db for one in told.values()] == [None, None]
    assert told["word"].volume == 5.0
    assert [[remark.code for remark in one.remarks] for one in told.values()] == [["unity-untold"], []]


def test_only_what_may_clip_is_rendered_again_and_a_second_run_renders_nothing(folder, monkeypatch):
    calls, original = [], sounds.render

    def noted(take, circuit, **how):
        calls.append(circuit.volume)
        return original(take, circuit, **how)

    monkeypatch.setattr(sounds, "render", noted)
    candidates = {
        "above": candidate(**{"knobs.volume": 9, "supply": "9V"}),  # does not clip, and unity is lower
        "far": candidate(**{"knobs.volume": 3, "supply": "30V"}),
        "near": candidate(**SET),
        "word": candidate(**{**SET, "knobs.volume": "unity"}),
    }
    plan = write_plan(folder, candidates=candidates)
    first = run_audition(plan, jobs=1)
    assert len(calls) == 2 * len(candidates) + 1  # measured and written, one of them at unity too
    before = times(folder / "audition")
    assert run_audition(plan, jobs=1) == first
    assert len(calls) == 2 * len(candidates) + 1
    assert times(folder / "audition") == before


@pytest.mark.usefixtures("real_page")
def test_tables_and_page_show_both_shares(folder):
    write_audio(folder / "b.wav", note(peak=0.4), RATE)
    told = audition(folder, box=candidate(**SET), word=candidate(**{**SET, "knobs.volume": "unity"}))
    table = (folder / "audition" / "results.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(table.splitlines()))[1:]
    for row, one in zip(rows, told.values(), strict=True):
        assert float(row["at_limit_share_unity"]) == pytest.approx(one.at_limit_share_unity, abs=1e-6)
        assert float(row["matched_gain_db"]) == pytest.approx(one.matched_gain_db, abs=1e-3)
        assert float(row["unity_position"]) == pytest.approx(one.unity_position, abs=1e-3)
        assert float(row["volume"]) == pytest.approx(one.volume, abs=1e-3)
        assert row["remarks"] == " | ".join(remark.text for remark in one.remarks)
    page = content(folder / "audition")["index.html"].decode()
    assert told["box"].remarks[0].text in page
    share, position = f"{100 * told['box'].at_limit_share_unity:.1f}", f"at {told['box'].unity_position:.1f}"
    assert f'data-label="At limits at unity, % of time">{share} <small>{position}</small>' in page
    assert 'data-label="At limits as written, % of time">0<' in page
    assert f"volume\u00a0at\u00a0unity ({told['word'].volume:.1f})" in page
