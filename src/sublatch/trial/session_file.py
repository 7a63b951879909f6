"""The file that the listening page saves after blind listening, checked."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import isfinite
from pathlib import Path
from string import ascii_uppercase
from typing import Annotated, Any, Literal, NoReturn

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field, model_validator

from sublatch.checked import Checked, Unit, check, shown
from sublatch.errors import TrialError
from sublatch.files.text import read_text
from sublatch.trial.odds import MOST_TRIALS

FORMAT = 1
"""The only form of the file so far; the key `blind_listening` tells it."""
FEWEST_TRIALS = 5
"""Trials of a forced choice at least: with fewer, even all right would prove nothing."""
MOST_LEVELS = 8
"""Tables and lists within one another in a candidate's settings at most."""
SLACK = timedelta(seconds=1)
"""How far the clock may be set back while somebody listens."""


def _list(value: Any) -> Any:
    """Refuse what is no list."""
    if not isinstance(value, list):
        raise ValueError(f"must be a list, got {shown(value)}")
    return value


def _instant(value: str) -> str:
    """Refuse what is no instant with its zone."""
    try:
        if datetime.fromisoformat(value).tzinfo is not None:
            return value
    except ValueError:
        pass
    raise ValueError(f"must be an instant such as 2030-01-31T18:30:00.000Z, got {shown(value)}")


def _shallow(value: dict[Any, Any], levels: int = MOST_LEVELS) -> dict[Any, Any]:
    """Refuse tables within tables without end."""
    if not levels:
        raise ValueError(f"must be settings, got more than {MOST_LEVELS} tables within one another")
    for inner in value.values():
        if isinstance(inner, (dict, list)):
            _shallow(inner if isinstance(inner, dict) else dict(enumerate(inner)), levels - 1)
    return value


def _digits(value: str) -> str:
    """Refuse what is no session's own digits."""
    if len(value) == 16 and set(value) <= set("0123456789abcdef"):
        return value
    raise ValueError(f"must be 16 of the digits 0 to 9 and a to f, got {shown(value)}")


Listed = BeforeValidator(_list)
Digits = Annotated[str, AfterValidator(_digits)]
Settings = Annotated[dict[str, Any], AfterValidator(_shallow)]
Instant = Annotated[str, AfterValidator(_instant)]
Seconds = Annotated[float, Field(ge=0.0, allow_inf_nan=False), Unit("s")]
Names = Annotated[list[str], Listed]
Letters = Annotated[list[str], Listed]
Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]


class Strict(Checked):
    """A record whose values are of their kind already: no text is taken for a number."""

    model_config = ConfigDict(strict=True)


class HeardCandidate(Strict):
    """A candidate that was heard."""

    name: str = Field(min_length=1, description="Its name in the audition.")
    circuit: str = Field(description="Its circuit; empty for the take itself.")
    settings: Settings = Field(description="What was changed in the circuit.")
    sound: str | None = Field(description="Digest of the sound that was heard; none where the page had none.")


class Choice(Strict):
    """One trial of a forced choice."""

    order: Names = Field(description="The candidates behind A and B.")
    answer: Literal["A", "B"] = Field(description="Which was taken for the reference.")
    begun_s: Seconds = Field(description="When the trial began, from the session's beginning on.")
    answered_s: Seconds = Field(description="When it was answered.")


class Round(Strict):
    """One round of a ranking."""

    order: Names = Field(description="The candidates behind A, B, C and so on.")
    answer: Letters = Field(description="The letters as they were put in order, the most liked first.")
    begun_s: Seconds = Field(description="When the round began, from the session's beginning on.")
    answered_s: Seconds = Field(description="When it was answered.")


class ChoiceCount(Strict):
    """What the page counted in a forced choice."""

    answered: int = Field(ge=0, description="Trials that were answered.")
    right: int = Field(ge=0, description="Right answers among them.")
    stopped_early: bool = Field(description="Whether fewer were answered than planned.")
    probability: Share | None = Field(description="How often a guess does as well; none after an early stop.")


class RankingCount(Strict):
    """What the page counted in a ranking."""

    answered: int = Field(ge=0, description="Rounds that were answered.")
    stopped_early: bool = Field(description="Whether fewer were answered than planned.")
    mean_ranks: Annotated[list[Annotated[float, Field(ge=1.0, allow_inf_nan=False)]], Listed] = Field(
        description="Each candidate's mean place, 1 the most liked, in the order of `candidates`."
    )


class Session(Strict):
    """What both kinds of session have."""

    blind_listening: Literal[1] = Field(description="The form of the file.")
    program: str = Field(description="What wrote the page.")
    session: Digits = Field(description="Digits that no other session has.")
    audition: str = Field(description="The audition's title.")
    take: str = Field(description="The take's name.")
    voicing: str | None = Field(description="What it was heard through, as the plan names it; none for nothing.")
    bed: str | None = Field(description="What played along with it, as the plan names it; none for nothing.")
    began: Instant = Field(description="When it began.")
    ended: Instant = Field(description="When it ended.")

    def _check(self, candidates: list[HeardCandidate], trials: Sequence[Choice | Round], planned: int) -> None:
        """Refuse what cannot have happened."""
        names = [candidate.name for candidate in candidates]
        if len(set(names)) < len(names):
            raise ValueError("candidates must have names that differ")
        if len(trials) > planned:
            raise ValueError(f"trials must be at most the {planned} that were planned, got {len(trials)}")
        before_s = 0.0
        for number, trial in enumerate(trials, start=1):
            if sorted(trial.order) != sorted(names):
                raise ValueError(f"trials[{number}].order must hold every candidate once, got {shown(trial.order)}")
            letters = list(ascii_uppercase[: len(names)])
            if isinstance(trial, Round) and sorted(trial.answer) != letters:
                raise ValueError(
                    f"trials[{number}].answer must hold {', '.join(letters)} once each, got {shown(trial.answer)}"
                )
            if not before_s <= trial.begun_s <= trial.answered_s:
                raise ValueError(
                    f"trials[{number}] must begin after the one before and be answered after it began, got "
                    f"begun_s = {trial.begun_s:g} and answered_s = {trial.answered_s:g} after {before_s:g} s"
                )
            before_s = trial.answered_s
        if datetime.fromisoformat(self.ended) < datetime.fromisoformat(self.began) - SLACK:
            raise ValueError(f"ended must not be before began, got {self.ended} and {self.began}")


class ChoiceSession(Session):
    """Forced choices, in which A or B was the reference."""

    kind: Literal["forced-choice"] = Field(description="What was asked.")
    candidates: Annotated[list[HeardCandidate], Listed] = Field(
        min_length=2, max_length=2, description="The reference, and the one it was to be told from."
    )
    planned: int = Field(ge=FEWEST_TRIALS, le=MOST_TRIALS, description="Trials, as fixed beforehand.")
    trials: Annotated[list[Choice], Listed] = Field(min_length=1, description="Every trial that was answered.")
    result: ChoiceCount = Field(description="What the page counted; it is counted again on reading.")

    @model_validator(mode="after")
    def _can_have_happened(self) -> ChoiceSession:
        """Refuse impossible answers."""
        self._check(self.candidates, self.trials, self.planned)
        return self

    @property
    def right(self) -> int:
        """How many answers are right."""
        reference = self.candidates[0].name
        return sum(trial.order["AB".index(trial.answer)] == reference for trial in self.trials)


class RankingSession(Session):
    """Candidates put in order of liking, without knowing which is which."""

    kind: Literal["ranking"] = Field(description="What was asked.")
    candidates: Annotated[list[HeardCandidate], Listed] = Field(
        min_length=2, max_length=len(ascii_uppercase), description="The candidates."
    )
    planned: int = Field(ge=1, le=MOST_TRIALS, description="Rounds, as fixed beforehand.")
    trials: Annotated[list[Round], Listed] = Field(min_length=1, description="Every round that was answered.")
    result: RankingCount = Field(description="What the page counted; it is counted again on reading.")

    @model_validator(mode="after")
    def _can_have_happened(self) -> RankingSession:
        """Refuse impossible answers."""
        self._check(self.candidates, self.trials, self.planned)
        return self

    @property
    def ranks(self) -> list[list[int]]:
        """Every candidate's place in each round, 1 the most liked, in the order of `candidates`."""
        return [
            [1 + trial.answer.index(ascii_uppercase[trial.order.index(candidate.name)]) for trial in self.trials]
            for candidate in self.candidates
        ]


AnySession = ChoiceSession | RankingSession
KINDS: dict[str, type[ChoiceSession] | type[RankingSession]] = {
    "forced-choice": ChoiceSession,
    "ranking": RankingSession,
}


def read_session(path: Path) -> AnySession:
    """Return the session that a file holds.

    Raises
    ------
    TrialError
        When the file cannot be read, or the listening page cannot have written it.
    """
    text = read_text(
        path,
        what="a file that the listening page saved",
        missing="no such file",
        hint="the listening page saves one after blind listening",
        error=TrialError,
    )
    data = _parsed(text, path)
    if not isinstance(data, dict) or "blind_listening" not in data:
        raise TrialError(f"{path}: must be what the listening page saved after blind listening, got other JSON")
    if data["blind_listening"] != FORMAT or isinstance(data["blind_listening"], bool):
        raise TrialError(
            f"{path}: blind_listening must be {FORMAT}, got {shown(data['blind_listening'])}; "
            "was the page made by a later version?"
        )
    kind = data.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise TrialError(f"{path}: kind must be one of {', '.join(KINDS)}, got {shown(kind)}")
    return check(KINDS[kind], data, source=str(path), error=TrialError)


def _parsed(text: str, path: Path) -> Any:
    """Return the JSON document, in which every key stands once and every number is one."""
    if not text.strip():
        raise TrialError(f"{path}: must be a JSON file, got an empty one")
    try:
        return json.loads(text, object_pairs_hook=_unique_keys, parse_constant=_not_finite, parse_float=_finite)
    except json.JSONDecodeError as problem:
        at_end = problem.pos >= len(text.rstrip()) - 1 or problem.msg.startswith("Unterminated string")
        hint = "; is the file cut short?" if at_end else ""
        position = f"line {problem.lineno}, column {problem.colno}"
        raise TrialError(f"{path}: must be a JSON file: {problem.msg} ({position}){hint}") from None
    except ValueError as problem:
        raise TrialError(f"{path}: must be a JSON file: {problem}") from None
    except RecursionError:
        raise TrialError(f"{path}: must be a JSON file, got brackets nested too deeply") from None


def _unique_keys(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return a table, unless a key stands in it twice."""
    table = dict(pairs)
    if len(table) < len(pairs):
        keys = [key for key, _ in pairs]
        raise ValueError(f"the key {next(key for key in keys if keys.count(key) > 1)!r} stands there twice")
    return table


def _finite(text: str) -> float:
    """Return a number, unless it is larger than any."""
    return float(text) if isfinite(float(text)) else _not_finite(text)


def _not_finite(constant: str) -> NoReturn:
    """Refuse what is no finite number."""
    raise ValueError(f"{constant} is no finite number")
