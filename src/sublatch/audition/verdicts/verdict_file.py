"""The file of verdicts that the listening page saves, checked."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from sublatch.checked import check, shown
from sublatch.checked.saved_json import Digits, Instant, Listed, Names, Settings, Strict, parsed_json
from sublatch.errors import VerdictError
from sublatch.files.text import read_text

FORMAT = 1
"""The only form of the file so far; the key `audition_verdicts` tells it."""
Word = Literal["keep", "maybe", "out"]


class JudgedCandidate(Strict):
    """A candidate of the audition."""

    name: str = Field(min_length=1, description="Its name in the audition.")
    circuit: str = Field(description="Its circuit; empty for the take itself.")
    settings: Settings = Field(description="What was changed in the circuit.")


class Wish(Strict):
    """A filter of which only this is said: it has no parts yet."""

    low_hz: float = Field(gt=0.0, description="Its corner in hertz with the tone knob at 0.")
    high_hz: float = Field(gt=0.0, description="Its corner in hertz with the tone knob at 10.")
    peak_db: float = Field(ge=0.0, description="Its peak in dB with the peak switch at peaked.")


class OwnCandidate(JudgedCandidate):
    """What a listener set by hand on the page, and kept under a name."""

    base: str = Field(description="The candidate that it was turned from.")
    wish: Wish | None = Field(None, description="The filter that was wished in place of the circuit's own, if one was.")

    @property
    def wished(self) -> dict[str, float] | None:
        """The wish as plain numbers; None without one."""
        return None if self.wish is None else self.wish.model_dump()


class Verdict(Strict):
    """What was decided of one candidate on one take."""

    take: str = Field(description="The take's name.")
    candidate: str = Field(description="The candidate's name.")
    verdict: Word | None = Field(description="The decision; none where there is only a note.")
    note: str = Field(description="What was noted; may be empty.")
    sound: str = Field(description="Digest of the sound that was heard; may be empty.")


class VerdictFile(Strict):
    """All that one listener decided."""

    audition_verdicts: Literal[1] = Field(description="The form of the file.")
    program: str = Field(description="What wrote the page.")
    session: Digits = Field(description="Digits of this page in this browser.")
    saved: Instant = Field(description="When it was saved.")
    listener: str = Field(description="Who listened; may be empty.")
    audition: str = Field(description="The audition's title.")
    plan: str = Field(description="Name of the plan's file.")
    takes: Names = Field(description="The takes' names.")
    candidates: Annotated[list[JudgedCandidate], Listed] = Field(description="The candidates, the take itself first.")
    by_hand: Annotated[list[OwnCandidate], Listed] = Field([], description="What was set by hand and kept.")
    verdicts: Annotated[list[Verdict], Listed] = Field(description="What was decided.")

    @model_validator(mode="after")
    def _fits(self) -> VerdictFile:
        """Refuse verdicts on what is not there, and two on one."""
        planned = [candidate.name for candidate in self.candidates if candidate.circuit]
        for number, own in enumerate(self.by_hand, start=1):
            if own.base not in planned:
                raise ValueError(f"by_hand[{number}].base must be one of the candidates, got {shown(own.base)}")
        names = [candidate.name for candidate in (*self.candidates, *self.by_hand)]
        for what, listed in (("candidates", names), ("takes", self.takes)):
            if len(set(listed)) < len(listed):
                raise ValueError(f"{what} must have names that differ")
        places = [(one.take, one.candidate) for one in self.verdicts]
        for number, (take, candidate) in enumerate(places, start=1):
            if take not in self.takes:
                raise ValueError(f"verdicts[{number}].take must be one of the takes, got {shown(take)}")
            if candidate not in names:
                raise ValueError(f"verdicts[{number}].candidate must be one of the candidates, got {shown(candidate)}")
            if (take, candidate) in places[: number - 1]:
                raise ValueError(f"verdicts[{number}] must be the only one on {shown(candidate)} of {shown(take)}")
        return self


def read_verdict(path: str | Path) -> VerdictFile:
    """Return what a listener decided.

    Parameters
    ----------
    path
        The file that the listening page saved.

    Raises
    ------
    VerdictError
        When the file cannot be read, or the listening page cannot have written it.
    """
    text = read_text(
        Path(path),
        what="a file of verdicts that the listening page saved",
        missing="no such file",
        hint="the listening page saves one with its button Save",
        error=VerdictError,
    )
    data = parsed_json(text, source=str(path), error=VerdictError)
    if isinstance(data, dict) and "blind_listening" in data:
        raise VerdictError(f"{path}: must be a file of verdicts, got a blind trial; 'sublatch trial' reads it")
    if not isinstance(data, dict) or "audition_verdicts" not in data:
        raise VerdictError(f"{path}: must be what the listening page saved as verdicts, got other JSON")
    if data["audition_verdicts"] != FORMAT or isinstance(data["audition_verdicts"], bool):
        raise VerdictError(
            f"{path}: audition_verdicts must be {FORMAT}, got {shown(data['audition_verdicts'])}; "
            "was the page made by a later version?"
        )
    return check(VerdictFile, data, source=str(path), error=VerdictError)
