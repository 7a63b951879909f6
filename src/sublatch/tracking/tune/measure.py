"""What a search found, measured by the whole signal path: as drawn, and on boards that were not searched on."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.model import Circuit
from sublatch.tracking.board_parts import Selection, hearings, part_to_select
from sublatch.tracking.tune.fast_lock import TuneNote
from sublatch.tracking.tune.figures import CircuitFigures, NoteFigures, note_figures, slower

Progress = Callable[[int, int], None]


class Measure:
    """The notes and boards that circuits are measured on; each circuit that is heard is told.

    Parameters
    ----------
    notes
        The notes.
    draws
        The boards.
    progress
        Called with how many circuits are heard and how many there are to hear so far.
    done
        From where to count.
    """

    def __init__(self, notes: Sequence[TuneNote], draws: BoardDraws, *, progress: Progress | None, done: int) -> None:
        self.draws = draws
        self._notes, self._slower = notes, slower(notes)
        self._progress, self._done, self._total = progress, done, done

    def as_drawn(self, circuit: Circuit) -> NoteFigures:
        """Return how well a circuit does on each note as drawn."""
        return note_figures(self._notes, circuit)

    def whole(self, circuit: Circuit, drawn: NoteFigures) -> CircuitFigures:
        """Return how well a circuit does as drawn and on boards."""
        self._total += self.draws.count
        return CircuitFigures(
            drawn, tuple(self._heard(self.draws.board(circuit, number)) for number in self.draws.numbers)
        )

    def selection(self, circuit: Circuit, figures: CircuitFigures) -> Selection:
        """Return which part of a circuit to select."""
        self._total += hearings(circuit, self.draws)
        locked = np.array([np.mean(board.locked_shares) for board in figures.boards])
        return part_to_select(
            circuit, self.draws, locked, locked_share=lambda heard: float(np.mean(self._heard(heard).locked_shares))
        )

    def _heard(self, circuit: Circuit) -> NoteFigures:
        """Return how well a circuit does on each note at the boards' rate."""
        figures = note_figures(self._slower, circuit)
        self._done += 1
        if self._progress is not None:
            self._progress(self._done, self._total)
        return figures
