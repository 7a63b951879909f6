"""What the page's scripts are told of an audition."""

from __future__ import annotations

import json

import pytest

from small_auditions import write_plan
from sublatch.audition.layout import Layout
from sublatch.audition.listening import as_json, entries, listening_data
from sublatch.audition.run import run_audition

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


def data_of(folder, candidates, more=""):
    """Return what is told of the first take of a plan."""
    write_plan(folder, candidates=candidates)
    path = folder / "plan.toml"
    path.write_text(path.read_text(encoding="utf-8") + more, encoding="utf-8")
    from sublatch.audition.plan import load_audition

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


def test_a_failed_take_is_left_out(folder):
    (folder / "a.wav").write_bytes(b"no sound")
    plan = write_plan(folder, ("a.wav", "b.wav"))
    data = listening_data(run_audition(plan), plan, Layout(plan.output, plan))
    assert [take["name"] for take in data["takes"]] == ["b"]


@pytest.mark.parametrize("text", ["</script>", "<!--", "]]>", "&lt;", "\u2028\u2029", "🎸", '"\\'])
def test_no_text_ends_the_element(text):
    written = as_json({"name": text})
    assert not set("<>&\u2028\u2029") & set(written)
    assert json.loads(written) == {"name": text}
