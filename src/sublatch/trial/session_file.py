"""The file that the listening page saves after blind listening, checked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from string import ascii_uppercase
from typing import Annotated, Literal

from pydantic import Field, model_validator

from sublatch.checked import Unit, check, shown
from sublatch.checked.saved_json import Digits, Instant, Listed, Names, Settings, Strict, parsed_json
from sublatch.errors import TrialError
from sublatch.files.text import read_text
from sublatch.trial.odds import MOST_TRIALS

FORMAT = 1
"""The only form of the file so far; the key `blind_listening` tells it."""
FEWEST_TRIALS = 5
"""Trials of a forced choice at least: with fewer, even all right would prove nothing."""
SLACK = timedelta(seconds=1)
"""How far the clock may be set back while somebody listens."""

Seconds = Annotated[float, Field(ge=0.0, allow_inf_nan=False), Unit("s")]
Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]


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
    answer: Names = Field(description="The letters as they were put in order, the most liked first.")
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
    data = parsed_json(text, source=str(path), error=TrialError)
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
