"""What the page's scripts are told of an audition."""

from __future__ import annotations

import json

import pytest

from small_auditions import RATE, note, write_plan
from sublatch.audition.folder.layout import Layout
from sublatch.audition.page.data import entries, json_in_html, listening_data, page_monitoring
from sublatch.audition.page.wording import above_in_words
from sublatch.audition.run import run_audition
from sublatch.files.sound import write_audio

pytestmark = pytest.mark.usefixtures("plain_page")

SWEEP = """
[[sweeps]]
name = "third <b>"
circuit = "polarity-third-order"
vary = "knobs.volume"
values = [2, 7.5]
[[sweeps]]
name = "swept"
circuit = "gated-swept"
vary = "switches.peak"
values = ["flat", "peaked"]
"""


def data_of(folder, candidates, more="", head=""):
    """Return what is told of the first take of a plan."""
    write_plan(folder, candidates=candidates, head=head)
    path = folder / "plan.toml"
    path.write_text(path.read_text(encoding="utf-8") + more, encoding="utf-8")
    from sublatch.audition.plan.load import load_audition

    plan = load_audition(path)
    result = run_audition(plan)
    return listening_data(result, plan, Layout(plan.output, plan)), result


def words(candidate):
    return {path: text.replace("\xa0", " ") for path, text in candidate["words"]}


def test_two_candidates_of_a_circuit_are_told_by_the_same_paths(folder):
    plain = 'circuit = "gated-swept"'
    changed = 'circuit = "gated-swept"\nset = { "knobs.tone" = 3.5, "octave.leak" = 0.01 }'
    data, _ = data_of(folder, {"plain": plain, "changed": changed})
    bypassed, first, second = data["takes"][0]["candidates"]
    assert words(bypassed) == {"circuit": "the take itself, without an effect"}
    one, two = words(first), words(second)
    assert list(one) == list(two)
    differing = {path: (one[path], two[path]) for path in one if one[path] != two[path]}
    assert differing["octave.leak"] == ("octave leak: as it stands", "octave leak: 0.01")
    assert differing["knobs.tone"][1] == "tone at 3.5"
    assert set(differing) == {"octave.leak", "knobs.tone"}
    assert one["circuit"] == "gated-swept"
    assert one["switches.peak"] == "peak: flat"


def test_sweeps_are_told_with_their_places(folder):
    data, _ = data_of(folder, {"open": 'circuit = "gated-open"'}, SWEEP)
    candidates = data["takes"][0]["candidates"]
    assert [candidate["sweep"] for candidate in candidates] == [
        None,
        None,
        {"name": "third <b>", "label": "volume", "position": "2", "order": 0},
        {"name": "third <b>", "label": "volume", "position": "7.5", "order": 1},
        {"name": "swept", "label": "peak", "position": "flat", "order": 0},
        {"name": "swept", "label": "peak", "position": "peaked", "order": 1},
    ]
    assert [entry.candidates for entry in entries(candidates)] == [(0,), (1,), (2, 3), (4, 5)]


def test_what_sets_candidates_apart_is_told_and_what_they_share_is_not(folder):
    more = 'circuit = "gated-swept"\nset = { "knobs.tone" = 3.5 }'
    data, _ = data_of(folder, {"plain": 'circuit = "gated-swept"', "changed": more})
    told = [one["differs"].replace("\xa0", " ") for one in data["takes"][0]["candidates"]]
    assert told[0] == "the take itself"
    assert told[2] == "tone at 3.5"
    assert told[1].startswith("tone at ")
    assert told[1] != told[2]
    data, _ = data_of(folder, {"open": 'circuit = "gated-open"'}, SWEEP)
    sweep = entries(data["takes"][0]["candidates"])[-1]
    assert "peak:" not in sweep.differs  # the slider tells it
    assert "gated-swept" in sweep.differs


def test_every_take_has_its_gain_and_the_page_its_plan(folder):
    data, _ = data_of(folder, {"open": 'circuit = "gated-open"'})
    assert data["plan"] == "plan.toml"
    assert [take["gain_db"] for take in data["takes"]] == [0.0]


def test_sounds_and_figures_are_the_results(folder):
    data, result = data_of(folder, {"a # b": 'circuit = "gated-open"'})
    take, known = data["takes"][0], result.takes[0]
    assert (take["seconds"], take["sample_rate"]) == (known.seconds, known.sample_rate)
    for told, candidate in zip(take["candidates"], known.candidates, strict=True):
        assert (told["name"], told["file"], told["key"]) == (candidate.name, candidate.file, candidate.sha256)
        assert told["digest"] == f"sha256:{candidate.sha256}"
        assert told["locked_share"] == candidate.locked_share
    assert take["candidates"][1]["sound"] == "./page/a/a%20%23%20b.js"
    assert take["candidates"][0]["balance"] is None
    assert set(take["candidates"][1]["balance"]) == {"weight_db", "body_db", "bite_db"}


def test_without_a_place_there_is_none(folder):
    data, _ = data_of(folder, {"open": 'circuit = "gated-open"'})
    (take,) = data["takes"]
    assert (take["voicing"], take["bed"]) == (None, None)
    for told in take["candidates"]:
        assert (told["offset_db"], told["above"]) == ({"voiced": 0.0, "plain": 0.0}, None)


def test_a_place_is_told_with_what_each_candidate_needs_in_it(folder):
    write_audio(folder / "bed.wav", note(pitch_hz=330.0), RATE)
    data, result = data_of(folder, {"open": 'circuit = "gated-open"'}, head='voicing = "loudspeaker"\nbed = "bed.wav"')
    take, known = data["takes"][0], result.takes[0]
    assert {key: take[key] for key in ("voicing", "bed")} == page_monitoring(known)
    assert take["voicing"]["sound"] == "./places/a/voicing.js"
    for told, candidate in zip(take["candidates"], known.candidates, strict=True):
        assert told["offset_db"]["plain"] == candidate.plain_gain_db - candidate.gain_db != 0.0
        assert told["above"] == above_in_words(candidate.standing.above_hz)
        assert told["above"].startswith("above the bed ")


def test_moves_are_told_as_they_are_and_in_words(folder):
    turned = """circuit = "gated-swept"
set = { "knobs.tone" = 2 }
moves = [
    { control = "knobs.tone", to = 8, start = 0.1, end = 0.3 },
    { control = "engaged", to = false, start = 0.4 },
]"""
    data, _ = data_of(folder, {"still": 'circuit = "gated-swept"', "turned": turned})
    _, still, moved = data["takes"][0]["candidates"]
    assert still["moves"] == []
    assert moved["moves"] == [
        {"control": "knobs.tone", "start": 2.0, "end": 8.0, "start_s": 0.1, "end_s": 0.3},
        {"control": "engaged", "start": True, "end": False, "start_s": 0.4, "end_s": None},
    ]
    assert words(moved)["moves"] == "moved: tone 2 to 8 from 0.1 s to 0.3 s; not engaged at 0.4 s"


def test_a_failed_take_is_left_out(folder):
    (folder / "a.wav").write_bytes(b"no sound")
    plan = write_plan(folder, ("a.wav", "b.wav"))
    data = listening_data(run_audition(plan), plan, Layout(plan.output, plan))
    assert [take["name"] for take in data["takes"]] == ["b"]


@pytest.mark.parametrize("text", ["</script>", "<!--", "]]>", "&lt;", "\u2028\u2029", "🎸", '"\\'])
def test_no_text_ends_the_element(text):
    written = json_in_html({"name": text})
    assert not set("<>&\u2028\u2029") & set(written)
    assert json.loads(written) == {"name": text}
