"""Verdicts read back, added up, and made into a circuit and the next plan."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sublatch.audition.plan.load import load_audition
from sublatch.audition.plan.save import write_plan
from sublatch.audition.verdicts.added_up import Verdicts, read_verdicts
from sublatch.audition.verdicts.next_plan import judged_circuit, kept_plan
from sublatch.circuit.load import load_circuit
from sublatch.errors import CircuitError, VerdictError
from verdict_files import CANDIDATES, PLAN, verdicts, write


def read(folder: Path, *documents: Any) -> Verdicts:
    """Return what some documents come to."""
    return read_verdicts([write(folder / f"{n}.json", document) for n, document in enumerate(documents)])


def plan_of(folder: Path, text: str = PLAN) -> Any:
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    return load_audition(folder / "plan.toml")


def counts(found: Verdicts) -> dict[str, tuple[int, int, int]]:
    return {one.name: (one.keep, one.maybe, one.out) for one in found.candidates}


def test_verdicts_are_counted_and_the_best_stand_first(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        verdicts("walk: swept: keep", "slide: swept: keep: warm", "walk: as built: out", "slide: as built: maybe"),
        verdicts("walk: swept: maybe", "slide: volume 2: keep", listener="Ben", session=2),
    )
    assert counts(found) == {
        "swept": (2, 1, 0),
        "volume 2": (1, 0, 0),
        "bypassed": (0, 0, 0),
        "volume 9.5": (0, 0, 0),
        "as built": (0, 1, 1),
    }
    assert [one.name for one in found.candidates] == list(counts(found))
    assert ([one.name for one in found.first], [one.name for one in found.kept]) == (["swept"], ["swept", "volume 2"])
    assert [(said.listener, said.take, said.text) for said in found.candidates[0].notes] == [("Ann", "slide", "warm")]
    assert found.disagreements == ()


def test_where_one_keeps_what_another_throws_out_is_told(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        verdicts("walk: swept: keep", "slide: swept: out", "walk: as built: maybe"),
        verdicts("walk: swept: out", "slide: swept: out", "walk: as built: out", listener="Ben", session=2),
        verdicts("walk: swept: keep", listener="", session=3),
    )
    (one,) = found.disagreements
    assert (one.candidate, one.take, one.keep, one.out) == ("swept", "walk", ("Ann", "someone (2.json)"), ("Ben",))
    assert counts(found)["swept"] == (2, 0, 3)
    assert found.kept == found.first == ()


def test_those_that_stand_alike_are_all_first(tmp_path: Path) -> None:
    found = read(tmp_path, verdicts("walk: swept: keep", "walk: volume 2: keep"))
    assert [one.name for one in found.first] == ["swept", "volume 2"]
    thrown = read(
        tmp_path, verdicts("walk: swept: keep", "slide: swept: keep", "walk: volume 2: keep", "walk: bypassed: keep")
    )
    assert [one.name for one in thrown.first] == ["swept"]


def test_of_two_files_of_one_page_the_later_counts(tmp_path: Path) -> None:
    early = verdicts("walk: swept: keep", saved="2030-01-31T18:00:00.000Z")
    late = verdicts("walk: swept: out", saved="2030-01-31T19:30:00.000+01:00")
    for documents in ((early, late), (late, early)):
        found = read(tmp_path, *documents)
        assert counts(found)["swept"] == (0, 0, 1)
        (remark,) = found.remarks
        assert "is from the same page as" in remark


def test_two_listeners_of_one_name_are_told_apart(tmp_path: Path) -> None:
    found = read(tmp_path, verdicts("walk: swept: keep"), verdicts("walk: swept: keep", session=2))
    assert found.listeners == ("Ann (0.json)", "Ann (1.json)")


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ("", "must be a JSON file, got an empty one"),
        ('{"audition_verdicts": 1', "is the file cut short"),
        ("[]", "must be what the listening page saved as verdicts"),
        ({"blind_listening": 1}, "'sublatch trial' reads it"),
        (verdicts(audition_verdicts=2), "audition_verdicts must be 1, got 2; was the page made by a later version"),
        (verdicts(session="x"), "session: must be 16 of the digits"),
        (verdicts(saved="today"), "saved: must be an instant such as"),
        (verdicts("walk: swept: good"), "verdicts[1].verdict: must be one of keep, maybe, out, got 'good'"),
        (verdicts("run: swept: keep"), "verdicts[1].take must be one of the takes, got 'run'"),
        (verdicts("walk: sweep: keep"), "verdicts[1].candidate must be one of the candidates, got 'sweep'"),
        (verdicts("walk: swept: keep", "walk: swept: out"), "verdicts[2] must be the only one on 'swept' of 'walk'"),
        (verdicts(candidates=[CANDIDATES[0], CANDIDATES[0]]), "candidates must have names that differ"),
        (verdicts(winner="swept"), "unknown key 'winner'"),
    ],
)
def test_what_no_page_saved_is_refused(tmp_path: Path, document: Any, words: str) -> None:
    with pytest.raises(VerdictError) as raised:
        read(tmp_path, document)
    assert words in str(raised.value)
    assert "0.json" in str(raised.value)


def test_verdicts_on_other_candidates_are_not_added_up(tmp_path: Path) -> None:
    with pytest.raises(VerdictError, match=r"must be of one audition, got 'Which filter' in .* and 'Other' in"):
        read(tmp_path, verdicts(), verdicts(audition="Other", session=2))
    changed = [*CANDIDATES[:2], {**CANDIDATES[2], "settings": {"knobs.tone": 4}}, *CANDIDATES[3:]]
    with pytest.raises(VerdictError, match=r"but 'swept' differs in"):
        read(tmp_path, verdicts(), verdicts(candidates=changed, session=2))
    with pytest.raises(VerdictError, match=r"no such file"):
        read_verdicts([tmp_path / "gone.json"])


def test_the_circuit_is_the_one_that_was_heard(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    found = read(tmp_path, verdicts("walk: swept: keep", "walk: volume 9.5: maybe", "walk: bypassed: out"))
    swept, volume = found.candidates[:2]
    assert judged_circuit(swept, plan) == load_circuit("gated-swept", changes={"knobs.tone": 3.5})
    assert judged_circuit(volume, plan) == load_circuit("gated-open", changes={"knobs.volume": 9.5})
    with pytest.raises(VerdictError, match=r"'bypassed' is the take itself"):
        judged_circuit(found.candidates[-1], plan)


def test_a_plan_that_was_changed_since_is_refused(tmp_path: Path) -> None:
    (swept,) = read(tmp_path, verdicts("walk: swept: keep")).kept
    with pytest.raises(VerdictError, match=r"must be as it was heard.*was the plan changed since"):
        judged_circuit(swept, plan_of(tmp_path, PLAN.replace("3.5", "3")))
    with pytest.raises(VerdictError, match=r"must have the candidate 'swept' that was heard, got none"):
        judged_circuit(swept, plan_of(tmp_path, PLAN.replace('"swept"', '"other"')))


def test_the_next_plan_has_what_was_kept_on_the_same_takes(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    found = read(
        tmp_path, verdicts("walk: volume 9.5: keep", "walk: swept: keep", "slide: swept: keep", "walk: bypassed: keep")
    )
    path = tmp_path / "next.toml"
    write_plan(kept_plan(found, plan, path, around=["knobs.volume", "filter.pot.value"]), path)
    again = load_audition(path)
    assert (again.plan.takes, again.plan.full_scale, again.plan.output) == (plan.plan.takes, 2.0, "next")
    heard = {one.name: one.circuit for one in plan.candidates}
    assert {one.name: one.circuit for one in again.candidates[:2]} == {n: heard[n] for n in ("swept", "volume 9.5")}
    volume, pot = heard["swept"].knobs.volume, heard["swept"].filter.pot.value
    around = again.candidates[2:]
    assert [one.circuit.knobs.volume for one in around[:3]] == pytest.approx([volume - 1, volume, volume + 1])
    assert [one.circuit.filter.pot.value for one in around[3:]] == pytest.approx([0.9 * pot, pot, 1.1 * pot], rel=2e-3)
    assert all(one.circuit.tone == 3.5 for one in around)


def test_a_knob_is_not_turned_past_its_end(tmp_path: Path) -> None:
    found = read(tmp_path, verdicts("walk: volume 9.5: keep"))
    plan = kept_plan(found, plan_of(tmp_path), tmp_path / "next.toml", around=["knobs.volume"])
    assert plan.sweeps[0].values == [8.5, 9.5, 10.0]


def test_what_cannot_follow_is_refused(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    found = read(tmp_path, verdicts("walk: swept: keep"))
    with pytest.raises(VerdictError, match=r"the next plan must lie beside"):
        kept_plan(found, plan, tmp_path / "deeper" / "next.toml")
    with pytest.raises(
        CircuitError, match=r"must be a setting of what won, got 'knobs.ton'; did you mean 'knobs.tone'"
    ):
        kept_plan(found, plan, tmp_path / "next.toml", around=["knobs.ton"])
    with pytest.raises(CircuitError, match=r"must be a setting that is a number, got switches.peak = flat"):
        kept_plan(found, plan, tmp_path / "next.toml", around=["switches.peak"])
    with pytest.raises(VerdictError, match=r"a plan needs a candidate that was kept, got none"):
        kept_plan(read(tmp_path, verdicts("walk: bypassed: keep")), plan, tmp_path / "next.toml")


def by_hand(*given: str, name: str = "warmer", tone: float = 6.5, **more: Any) -> dict[str, Any]:
    """Return verdicts of one who turned the swept candidate's tone knob, and kept that."""
    own = {"name": name, "base": "swept", "circuit": "gated-swept", "settings": {"knobs.tone": tone}}
    return verdicts(*given, by_hand=[own], **more)


def test_what_was_set_by_hand_wins_as_any_candidate_does(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    found = read(tmp_path, by_hand("walk: warmer: keep", "slide: warmer: keep", "walk: swept: maybe"))
    (warmer,) = found.first
    assert judged_circuit(warmer, plan) == load_circuit("gated-swept", changes={"knobs.tone": 6.5})
    path = tmp_path / "next.toml"
    write_plan(kept_plan(found, plan, path, around=["knobs.tone"]), path)
    again = load_audition(path).candidates
    assert [(one.name, one.circuit.tone) for one in again[:1]] == [("warmer", 6.5)]
    assert [one.circuit.tone for one in again[1:]] == [5.5, 6.5, 7.5]


def test_what_two_set_by_hand_under_one_name_is_told_apart(tmp_path: Path) -> None:
    ann, ben = (
        by_hand("walk: warmer: keep", tone=tone, listener=name, session=number)
        for number, (tone, name) in enumerate(((6.5, "Ann"), (7.5, "Ben")), start=1)
    )
    assert [one.name for one in read(tmp_path, ann, ben).first] == ["warmer (Ann)", "warmer (Ben)"]
    same = by_hand("walk: warmer: keep", listener="Ben", session=2)
    (warmer,) = read(tmp_path, ann, same).first
    assert (warmer.name, warmer.keep) == ("warmer", 2)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"base": "sweep"}, "by_hand[1].base must be one of the candidates, got 'sweep'"),
        ({"base": "bypassed"}, "by_hand[1].base must be one of the candidates, got 'bypassed'"),
        ({"name": "swept"}, "candidates must have names that differ"),
    ],
)
def test_what_nobody_can_have_set_by_hand_is_refused(tmp_path: Path, changes: dict[str, str], words: str) -> None:
    document = by_hand()
    document["by_hand"][0] |= changes
    with pytest.raises(VerdictError) as raised:
        read(tmp_path, document)
    assert words in str(raised.value)


def test_what_was_set_by_hand_needs_the_plan_as_it_was_heard(tmp_path: Path) -> None:
    (warmer,) = read(tmp_path, by_hand("walk: warmer: keep")).kept
    with pytest.raises(VerdictError, match=r"'swept' must be as it was heard.*was the plan changed since"):
        judged_circuit(warmer, plan_of(tmp_path, PLAN.replace("3.5", "3")))
    (gone,) = read(tmp_path, by_hand("walk: warmer: keep", tone=11.0)).kept
    with pytest.raises(CircuitError, match=r"knobs.tone"):
        judged_circuit(gone, plan_of(tmp_path))
