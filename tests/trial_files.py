"""Files as the listening page saves them after blind listening, for tests."""

from __future__ import annotations

import json
from string import ascii_uppercase

NAMES = ("as built", "brighter", "darker")


def candidate(name):
    return {"name": name, "circuit": "gated-swept", "settings": {"knobs.tone": 4}, "sound": f"sha256:{name}"}


def session(kind, trials, *, names, planned=None, digits="0123456789abcdef", **changes):
    """Return a session whose trials are pairs of order and answer, without a result."""
    made = [
        {"order": list(order), "answer": answer, "begun_s": 10.0 * i, "answered_s": 10.0 * i + 7.5}
        for i, (order, answer) in enumerate(trials)
    ]
    return {
        "blind_listening": 1,
        "program": "sublatch 0.1.0",
        "session": digits,
        "audition": "Which filter",
        "take": "riff",
        "voicing": None,
        "bed": None,
        "kind": kind,
        "candidates": [candidate(name) for name in names],
        "planned": len(made) if planned is None else planned,
        "began": "2030-01-31T18:30:00.000Z",
        "ended": "2030-01-31T18:44:00.000Z",
        "trials": made,
        **changes,
    }


def forced(right, answered=16, *, planned=None, probability=None, names=NAMES[:2], **changes):
    """Return a forced choice with so many right answers; the reference is behind A and B in turn."""
    trials = []
    for i in range(answered):
        order = names if i % 2 == 0 else names[::-1]
        good, bad = ("A", "B") if i % 2 == 0 else ("B", "A")
        trials.append((order, good if i < right else bad))
    made = session("forced-choice", trials, names=names, planned=planned, **changes)
    stopped = answered < made["planned"]
    count = {"answered": answered, "right": right, "stopped_early": stopped, "probability": probability}
    return {**made, "result": changes.get("result", count)}


def ranking(rounds, *, names=NAMES, mean_ranks=None, planned=None, **changes):
    """Return a ranking; each round is the names as they were liked, behind letters that move on by one each round."""
    trials = []
    for i, liked in enumerate(rounds):
        order = [names[(k + i) % len(names)] for k in range(len(names))]
        trials.append((order, [ascii_uppercase[order.index(name)] for name in liked]))
    made = session("ranking", trials, names=names, planned=planned, **changes)
    means = mean_ranks or [sum(1 + list(liked).index(name) for liked in rounds) / len(rounds) for name in names]
    count = {"answered": len(trials), "stopped_early": len(trials) < made["planned"], "mean_ranks": means}
    return {**made, "result": changes.get("result", count)}


def write(path, document):
    path.write_text(json.dumps(document), encoding="utf-8")
    return path
