"""What blind listening showed: counted again from the single answers, with how often chance does as well."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from pathlib import Path
from typing import Any

from sublatch.json_data import plain_values
from sublatch.trial.odds import chance, least_right, sign_test
from sublatch.trial.result import KEEN_SHARE, Pair, TrialResult
from sublatch.trial.session_file import AnySession, ChoiceSession, HeardCandidate, RankingSession, read_session


def read_trial(path: str | Path) -> TrialResult:
    """Return what a session of blind listening showed.

    Parameters
    ----------
    path
        The file that the listening page saved.

    Returns
    -------
    TrialResult
        Counted from the single answers; where the file counts otherwise, a remark says so.

    Raises
    ------
    TrialError
        When the file cannot be read, or the listening page cannot have written it.

    Notes
    -----
    k right answers of n: P(X ≥ k) with X binomial, n, ½, one-sided, exact. See `chance` and `sign_test`.
    """
    return _counted([str(path)], [read_session(Path(path))])


def add_trials(results: Iterable[TrialResult]) -> tuple[TrialResult, ...]:
    """Return the results with all sessions of one comparison added up.

    Parameters
    ----------
    results
        From `read_trial`.

    Returns
    -------
    tuple of TrialResult
        One for each comparison: the same kind, take, voicing, bed, candidates, settings and sounds. What was planned is
        added up too. A session that is there twice counts once.
    """
    groups: dict[object, list[tuple[str, AnySession]]] = {}
    for result in results:
        for file, session in zip(result.files, result.sessions, strict=True):
            setup = (session.take, session.voicing, session.bed)
            comparison = (session.kind, setup, tuple(repr(candidate) for candidate in _candidates_in_order(session)))
            groups.setdefault(comparison, []).append((file, session))
    return tuple(_counted([file for file, _ in group], [session for _, session in group]) for group in groups.values())


def _candidates_in_order(session: AnySession) -> list[HeardCandidate]:
    """Return a session's candidates in an order that tells comparisons apart: which is the reference matters."""
    if isinstance(session, ChoiceSession):
        return session.candidates
    return sorted(session.candidates, key=lambda candidate: candidate.name)


def _counted(files: list[str], sessions: list[AnySession]) -> TrialResult:
    """Return what sessions of one comparison show together."""
    remarks: list[str] = []
    kept: dict[str, tuple[str, AnySession]] = {}
    for file, session in zip(files, sessions, strict=True):
        if session.session in kept:
            first_file, first_session = kept[session.session]
            claim = "is the same session as" if session == first_session else "claims to be the same session as"
            remarks.append(f"{file} {claim} {first_file}, and is left out")
            continue
        kept[session.session] = (file, session)
        remarks += [f"{file} {fault}" for fault in _faults(session)]
    files, sessions = [file for file, _ in kept.values()], [session for _, session in kept.values()]
    if len(sessions) > 1:
        remarks.append("sessions may be added up when it was settled beforehand which ones, not once they went well")
    return _result(files, sessions, remarks)


def _result(files: list[str], sessions: list[AnySession], remarks: list[str]) -> TrialResult:
    """Return what sessions of one kind show."""
    choices = [session for session in sessions if isinstance(session, ChoiceSession)]
    rankings = [session for session in sessions if isinstance(session, RankingSession)]
    return _choice_result(files, choices, remarks) if choices else _ranking_result(files, rankings, remarks)


def _choice_result(files: list[str], sessions: list[ChoiceSession], remarks: list[str]) -> TrialResult:
    """Return what forced choices of one comparison show."""
    planned = sum(session.planned for session in sessions)
    answered = sum(len(session.trials) for session in sessions)
    right = sum(session.right for session in sessions)
    needed = least_right(planned)
    return TrialResult(
        files=tuple(files),
        sessions=tuple(sessions),
        planned=planned,
        answered=answered,
        right=right,
        probability=float(chance(right, trials=answered)) if answered == planned else None,
        least_right=needed,
        keen_probability=None if needed is None else float(chance(needed, trials=planned, share=KEEN_SHARE)),
        remarks=tuple(remarks),
    )


def _ranking_result(files: list[str], sessions: list[RankingSession], remarks: list[str]) -> TrialResult:
    """Return what rankings of one comparison show."""
    planned = sum(session.planned for session in sessions)
    names = [candidate.name for candidate in sessions[0].candidates]
    ranks: dict[str, list[int]] = {name: [] for name in names}
    for session in sessions:
        for candidate, session_ranks in zip(session.candidates, session.ranks, strict=True):
            ranks[candidate.name] += session_ranks
    answered = len(ranks[names[0]])
    claimed = answered == planned
    pairs = tuple(_pair(first, second, ranks, claimed=claimed) for first, second in combinations(names, 2))
    smallest = min((pair.probability for pair in pairs if pair.probability is not None), default=None)
    return TrialResult(
        files=tuple(files),
        sessions=tuple(sessions),
        planned=planned,
        answered=answered,
        mean_ranks=tuple(sum(ranks[name]) / answered for name in names),
        pairs=pairs,
        any_pair_probability=None if smallest is None else min(1.0, len(pairs) * smallest),
        remarks=tuple(remarks),
    )


def _pair(first: str, second: str, ranks: dict[str, list[int]], *, claimed: bool) -> Pair:
    """Return how two candidates of a ranking stand to each other."""
    rounds = len(ranks[first])
    ahead = sum(first_rank < second_rank for first_rank, second_rank in zip(ranks[first], ranks[second], strict=True))
    if 2 * ahead < rounds:
        first, second, ahead = second, first, rounds - ahead
    return Pair(first, second, ahead, rounds, float(sign_test(ahead, rounds=rounds)) if claimed else None)


def _faults(session: AnySession) -> list[str]:
    """Return where the file counts otherwise than its answers do."""
    recounted = plain_values(_result([""], [session], []))
    faults = []
    for key, given in session.result.model_dump().items():
        counted = recounted[key]
        if given != counted and not _about_equal(given, counted):
            faults.append(
                f"was altered, or not written by the page: it says {key} = {_value_in_words(given)}, its answers give "
                f"{_value_in_words(counted)}; the answers count"
            )
    return faults


def _about_equal(given: Any, counted: Any) -> bool:
    """Return whether two numbers, or two lists of them, differ by no more than rounding."""
    if isinstance(given, list) and isinstance(counted, list):
        return len(given) == len(counted) and all(map(_about_equal, given, counted))
    if isinstance(given, bool) or not isinstance(given, (int, float)) or not isinstance(counted, (int, float)):
        return False
    return abs(given - counted) <= 1e-12 * max(1e-300, abs(counted))


def _value_in_words(value: Any) -> str:
    """Return a counted value for a remark."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(_value_in_words, value)) if isinstance(value, list) else f"{value:.4g}"
