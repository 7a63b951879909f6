"""What can go wrong, as one base error and a handful of kinds.

Every message says what must hold, what came instead (name, value, unit, file) and, where one can be
guessed, what was probably meant.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches


class SublatchError(Exception):
    """Base of every error that this package raises on purpose."""


class UnitError(SublatchError, ValueError):
    """A text is not a value of the quantity that is asked for."""


class CircuitError(SublatchError, ValueError):
    """A circuit, a knob, a switch or a part value cannot be as described."""


class PlanError(SublatchError, ValueError):
    """An audition plan cannot be carried out as written."""


class CalibrationError(SublatchError, ValueError):
    """A file does not say how many volts full scale stands for."""


class NotesError(SublatchError, ValueError):
    """A file does not give the notes that were played, one at a time."""


class StockError(SublatchError, ValueError):
    """A file does not say what parts the user owns."""


class TrialError(SublatchError, ValueError):
    """A file is not what the listening page saved after blind listening."""


class VerdictError(SublatchError, ValueError):
    """A file is not what the listening page saved as verdicts, or what is asked does not follow from them."""


class ManualError(SublatchError, LookupError):
    """The manual has no such topic, or circuits and plans no such setting."""


class AudioFileError(SublatchError, OSError):
    """A sound file cannot be read or is not fit to use."""


class OutputError(SublatchError, OSError):
    """A file cannot be written, or must not be replaced."""


class AudioDataError(SublatchError, ValueError):
    """Samples in memory are not what a take must be."""


def nearest_hint(name: str, known: Iterable[str]) -> str:
    """Return ``"; did you mean 'x'?"`` for the known name nearest to `name`, or an empty text."""
    close = get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f"; did you mean {close[0]!r}?" if close else ""
