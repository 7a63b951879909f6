"""What several listeners set by hand under one name, told apart by whose it is."""

from __future__ import annotations

from collections.abc import Sequence

from sublatch.audition.verdicts.verdict_file import VerdictFile


def told_apart(file: VerdictFile, read: Sequence[tuple[str, VerdictFile]], listener: str) -> VerdictFile:
    """Return verdicts in which what was set by hand bears its listener's name, where another has that name otherwise.

    Parameters
    ----------
    file
        One listener's verdicts.
    read
        Those of all, each with its path.
    listener
        What the one listener is called.
    """
    others = [own for _, other in read for own in other.by_hand]
    taken = {
        own.name: f"{own.name} ({listener})"
        for own in file.by_hand
        if any(other.name == own.name and other != own for other in others)
    }
    if not taken:
        return file
    by_hand = [own.model_copy(update={"name": taken.get(own.name, own.name)}) for own in file.by_hand]
    verdicts = [one.model_copy(update={"candidate": taken.get(one.candidate, one.candidate)}) for one in file.verdicts]
    return file.model_copy(update={"by_hand": by_hand, "verdicts": verdicts})
