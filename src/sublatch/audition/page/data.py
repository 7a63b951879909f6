"""What the listening page's scripts know of an audition: takes, notes, candidates, and where their sounds are."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sublatch.audition.folder.layout import Layout, url_of
from sublatch.audition.listen.results import AuditionResult, CandidateResult, HeardBed, HeardVoicing, TakeResult
from sublatch.audition.listen.take_levels import take_gains_db
from sublatch.audition.page.live_data import live_data, live_take
from sublatch.audition.page.move_lanes import moves_in_words
from sublatch.audition.page.wording import (
    above_in_words,
    flat_settings,
    path_in_words,
    setting_in_words,
    value_in_words,
)
from sublatch.audition.plan.records import Audition, Candidate
from sublatch.circuit.components.quantities import UNITY
from sublatch.json_data import plain_values

ESCAPED = str.maketrans({c: f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"})
"""Characters that could end the element that the data stand in, or a line of a script."""
KEYS = "0123456789"
"""Keys that choose the bypassed take and what comes after it."""


@dataclass(frozen=True)
class Entry:
    """One line to choose by: a candidate, or a sweep's candidates in order.

    Attributes
    ----------
    name
        The candidate's, or the sweep's.
    key
        The key that chooses it, empty where there are no more.
    candidates
        Their numbers, counted from 0 with the bypassed take.
    label, positions
        Of a sweep: the setting that differs in words, and its values; empty for a single candidate.
    differs
        What sets it apart from the other lines, in words.
    """

    name: str
    key: str
    candidates: tuple[int, ...]
    label: str = ""
    positions: tuple[str, ...] = ()
    differs: str = ""


def entries(data: Sequence[Mapping[str, Any]]) -> list[Entry]:
    """Return what can be chosen on a take, from its candidates' data, in their order.

    Parameters
    ----------
    data
        Its candidates, as `listening_data` has them.
    """
    groups: list[list[int]] = []
    for number, candidate in enumerate(data):
        sweep = candidate["sweep"]
        if sweep and sweep["order"] and groups:
            groups[-1].append(number)
        else:
            groups.append([number])
    keys = list(KEYS) + [""] * len(groups)
    return [_entry(group, data, key) for group, key in zip(groups, keys, strict=False)]


def _entry(group: list[int], data: Sequence[Mapping[str, Any]], key: str) -> Entry:
    """Return one line to choose by."""
    first = data[group[0]]
    differs = first.get("differs", "")
    if len(group) == 1:
        return Entry(first["name"], key, tuple(group), differs=differs)
    positions = tuple(data[number]["sweep"]["position"] for number in group)
    return Entry(first["sweep"]["name"], key, tuple(group), first["sweep"]["label"], positions, differs)


def listening_data(result: AuditionResult, plan: Audition, layout: Layout) -> dict[str, Any]:
    """Return what the page's scripts are told: plain values for JSON.

    Parameters
    ----------
    result, plan, layout
        The audition. Takes that could not be used are left out.
    """
    of_candidates = _facts(plan.candidates)
    facts = [[("circuit", "the take itself, without an effect")], *of_candidates]
    differs = ["the take itself", *differences(of_candidates, [_varied(c) for c in plan.candidates])]
    sweeps = [None, *(_sweep(candidate) for candidate in plan.candidates)]
    usable = [take for take in result.takes if take.error is None]
    return {
        "title": result.title,
        "plan": plan.path.name,
        "takes": [
            _take(take, _Told(facts, differs, sweeps), layout) | {"gain_db": gain_db}
            for take, gain_db in zip(usable, take_gains_db(usable), strict=True)
        ],
        "live": live_data(plan.candidates),
    }


def differences(facts: Sequence[Sequence[tuple[str, str]]], varied: Sequence[str | None]) -> list[str]:
    """Return for each candidate what it does not share with all others, in words.

    Parameters
    ----------
    facts
        What each candidate is made of, path and words.
    varied
        The path that each candidate's sweep varies, which its line shows by itself; None without a sweep.
    """
    shared = set(facts[0]).intersection(*map(set, facts)) if len(facts) > 1 else set()
    return [
        "; ".join(words for path, words in own if (path, words) not in shared and path != leave)
        for own, leave in zip(facts, varied, strict=True)
    ]


def _varied(candidate: Candidate) -> str | None:
    """Return the path that a candidate's sweep varies, None without one."""
    return candidate.sweep.vary if candidate.sweep else None


def page_monitoring(take: TakeResult) -> dict[str, Any]:
    """Return what the page is told of how a take is listened to: ``voicing`` and ``bed``, each None without.

    Parameters
    ----------
    take
        The take's result.

    Returns
    -------
    dict
        For each, its ``key``, ``name``, ``sound`` (the sound script's URL) and ``gain_db``, the gain after it; of the
        voicing also ``ahead_s``, by which what it convolves comes late, and of the bed ``seconds`` and ``level_db``.
    """
    voicing, bed = take.voicing, take.bed
    return {
        "voicing": voicing and {**_carried(voicing), "ahead_s": voicing.ahead_samples / take.sample_rate},
        "bed": bed and {**_carried(bed), "level_db": bed.level_db, "seconds": bed.seconds},
    }


def offsets_db(candidate: CandidateResult) -> dict[str, float]:
    """Return what the page adds to a candidate's file, by how it is heard: ``voiced`` and ``plain``."""
    return {"voiced": 0.0, "plain": candidate.plain_gain_db - candidate.gain_db}


def json_in_html(data: Mapping[str, Any]) -> str:
    """Return data as JSON that can stand in an HTML element and end it by no text."""
    return json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":")).translate(ESCAPED)


@dataclass(frozen=True)
class _Told:
    """What is told of each candidate whatever the take: what it is made of, what differs, its place in a sweep."""

    facts: Sequence[Sequence[tuple[str, str]]]
    differs: Sequence[str]
    sweeps: Sequence[Any]


def _take(take: TakeResult, told: _Told, layout: Layout) -> dict[str, Any]:
    """Return one take's data."""
    return {
        "name": take.name,
        "seconds": take.seconds,
        "sample_rate": take.sample_rate,
        **page_monitoring(take),
        "live": live_take(take),
        "notes": [{k: v for k, v in plain_values(note).items() if k != "pitch_hz"} for note in take.notes],
        "candidates": [
            _candidate(
                candidate,
                _with_volume(facts, candidate.volume),
                sweep,
                layout.relative(layout.sound_script(take.name, candidate.name)),
            )
            | {"differs": differs}
            for candidate, facts, differs, sweep in zip(
                take.candidates, told.facts, told.differs, told.sweeps, strict=True
            )
        ],
    }


def _carried(sound: HeardVoicing | HeardBed) -> dict[str, Any]:
    """Return how the page comes by a voicing or a bed."""
    return {"key": sound.key, "name": sound.name, "sound": url_of(sound.carrier), "gain_db": sound.gain_db}


def _candidate(candidate: CandidateResult, facts: Sequence[tuple[str, str]], sweep: Any, script: str) -> dict[str, Any]:
    """Return one candidate's data."""
    return {
        "name": candidate.name,
        "words": facts,
        "circuit": candidate.circuit,
        "settings": candidate.settings,
        "key": candidate.sha256,
        "digest": f"sha256:{candidate.sha256}",
        "file": candidate.file,
        "sound": url_of(script),
        "offset_db": offsets_db(candidate),
        "locked_share": candidate.locked_share,
        "dropouts": plain_values(candidate.dropouts),
        "sweep": sweep,
        "moves": plain_values(candidate.moves),
        "balance": plain_values(candidate.balance),
        "above": above_in_words(candidate.standing.above_hz) if candidate.standing else None,
    }


def _with_volume(facts: Sequence[tuple[str, str]], volume: float | None) -> list[tuple[str, str]]:
    """Return what a candidate is made of, with a volume at unity as the number that it is on a take."""
    at_unity = setting_in_words("knobs.volume", UNITY)
    return [
        (path, f"{text} ({volume:.1f})" if volume is not None and text == at_unity else text) for path, text in facts
    ]


def _sweep(candidate: Candidate) -> dict[str, Any] | None:
    """Return a candidate's place in a sweep in words."""
    step = candidate.sweep
    if step is None:
        return None
    return {
        "name": step.name,
        "label": path_in_words(step.vary),
        "position": value_in_words(step.value),
        "order": step.order,
    }


def _facts(candidates: Sequence[Candidate]) -> list[list[tuple[str, str]]]:
    """Return for each candidate what it is made of, path and words, so that two can be set against each other.

    Besides the circuit, its knobs and its switches that is whatever some candidate of the same circuit changes.
    """
    changed_paths: dict[str, dict[str, None]] = {}
    for candidate in candidates:
        changed_paths.setdefault(candidate.circuit_name, {}).update(
            dict.fromkeys(path for path, _ in flat_settings(candidate.settings))
        )
    return [_facts_of(candidate, changed_paths[candidate.circuit_name]) for candidate in candidates]


def _facts_of(candidate: Candidate, paths: Mapping[str, None]) -> list[tuple[str, str]]:
    """Return what one candidate is made of."""
    circuit, changed = candidate.circuit, dict(flat_settings(candidate.settings))
    controls = {
        "knobs.tone": circuit.tone,
        "switches.peak": circuit.peak,
        "switches.drive": circuit.switches.drive,
        "knobs.direct": circuit.knobs.direct if circuit.has_direct else None,
        "knobs.direct_tone": circuit.direct_tone,
        "knobs.volume": circuit.knobs.volume,
    }
    facts = [(path, setting_in_words(path, value)) for path, value in controls.items() if value is not None]
    for path in paths:
        if path not in controls:
            text = setting_in_words(path, changed[path]) if path in changed else f"{path_in_words(path)}: as it stands"
            facts.append((path, text))
    facts += [("moves", f"moved: {moves_in_words(candidate.moves)}")] if candidate.moves else []
    return [("circuit", candidate.circuit_name), *facts]
