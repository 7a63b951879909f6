"""Facts that contradict each other, and what each would have to be for the others to hold."""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.errors import CircuitError


@dataclass(frozen=True)
class Alternative:
    """One way out of a contradiction.

    Attributes
    ----------
    doubt
        The fact that gives way, as `BoxFacts.without` has it.
    stated
        What it was said to be, in words.
    becomes
        What it would be instead, in words.
    """

    doubt: str
    stated: str
    becomes: str

    @property
    def words(self) -> str:
        """The way out in a sentence."""
        return f"{self.doubt} is {self.becomes}, not {self.stated}"


@dataclass(frozen=True)
class Contradiction:
    """Facts of which not all can hold, or hold only with something unlikely.

    Attributes
    ----------
    text
        What is wrong.
    alternatives
        The ways out.
    """

    text: str
    alternatives: tuple[Alternative, ...]


class ContradictionError(CircuitError):
    """Facts of which not all can hold.

    Parameters
    ----------
    contradiction
        What is wrong, and the ways out.
    """

    def __init__(self, contradiction: Contradiction) -> None:
        ways = [f"  --doubt {one.doubt}: {one.words}" for one in contradiction.alternatives]
        which = ["which is to be trusted less?", *ways] if ways else []
        super().__init__("\n".join([contradiction.text, *which]))
        self.contradiction = contradiction
