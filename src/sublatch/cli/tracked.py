"""What `sublatch track` found of one detector on one take, as it goes from the command to its tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sublatch.pitch.second_opinion import PitchOpinions
    from sublatch.tracking.boards import BoardsLock
    from sublatch.tracking.playing_levels import LevelLock
    from sublatch.tracking.track import Tracking
    from sublatch.tracking.tune.lost import Lost


@dataclass(frozen=True)
class Tracked:
    """How the circuits of one detector hold on to one take: their names, and what was found for all of them.

    With boards, `selection` says which part to select, in words.
    """

    circuits: tuple[str, ...]
    tracking: Tracking
    lost: Lost
    levels: LevelLock | None
    opinions: PitchOpinions | None = None
    boards: BoardsLock | None = None
    selection: str = ""
