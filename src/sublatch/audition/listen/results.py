"""What came of an audition."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sublatch.audition.listen.balance import Balance, Standing
from sublatch.audition.listen.candidate_lock import TakeNote
from sublatch.audition.plan.planned_moves import move_in_words
from sublatch.json_data import plain_values
from sublatch.sampling.levels import Levels
from sublatch.signal.moves import Move
from sublatch.takes.remarks import Remark
from sublatch.tracking.lock import Dropout
from sublatch.version import __version__


@dataclass(frozen=True)
class HeardVoicing:
    """What a take is listened through, as an impulse response that the page convolves with.

    Attributes
    ----------
    name
        ``"loudspeaker"``, or the impulse response's file as the plan names it.
    key, carrier
        What the page asks for the response by, and the sound script that carries it, from the audition folder on.
    gain_db
        Gain that what is carried lacks.
    ahead_samples
        How many of its samples lie ahead of the moment itself: what is convolved comes so much later.
    """

    name: str
    key: str
    carrier: str
    gain_db: float
    ahead_samples: int


@dataclass(frozen=True)
class HeardBed:
    """What plays along with a take, from its start; never through the voicing.

    Attributes
    ----------
    name
        Its file as the plan names it.
    key, carrier
        What the page asks for it by, and the sound script that carries it, from the audition folder on.
    gain_db
        Gain that what is carried lacks.
    level_db
        Its loudness against the bypassed take, both as heard.
    seconds
        How long it plays; there is silence after it.
    """

    name: str
    key: str
    carrier: str
    gain_db: float
    level_db: float
    seconds: float


@dataclass(frozen=True)
class BareSound:
    """A take ahead of all that the page makes itself: octave stage and direct signal, as one sound of two channels.

    Attributes
    ----------
    candidates
        The candidates that have just this ahead of their output filter.
    key, carrier
        What the page asks for the sound by, and the sound script that carries it, from the audition folder on.
    full_scale_volts
        Volts at full scale of what is carried.
    bands_key, bands_carrier, blocks
        The same for its powers by bands (`live.loudness_bands`), and of how many gating blocks.
    """

    candidates: tuple[str, ...]
    key: str
    carrier: str
    full_scale_volts: float
    bands_key: str
    bands_carrier: str
    blocks: int


@dataclass(frozen=True)
class CandidateResult:
    """One candidate on one take.

    Attributes
    ----------
    name, circuit, settings
        The candidate, its circuit, and what was changed in it.
    file
        The sound, from the audition folder on.
    levels
        Levels before matching, relative to the take's full scale, of what the circuit gives, without any voicing.
    gain_db
        Gain of the file, which is what the circuit gives: it makes the candidates equal as they are heard, so through
        the voicing where the take has one.
    at_limit_share
        Share of time at the supply limits, 0 to 1.
    locked_share, open_string_locked_share
        Share of the notes' time with lock, 0 to 1, of all notes and of open strings; None without any, and for the
        take itself.
    note_locked_shares
        The same for each of the take's notes.
    dropouts
        Where lock is lost, in order of time. Lock is that of the controls where they stand before any move, but the
        drive switch's moves count.
    sha256
        The sound file's.
    plain_gain_db
        Gain that makes the candidates equal, and as loud as with the voicing, when they are heard without it; `gain_db`
        where there is none.
    heard_levels
        Levels before matching through the voicing; None without one.
    moves
        What was moved while the take played.
    balance
        Weight, body and bite of the file against the bypassed one; None for the bypassed take.
    standing
        Third-octave levels as heard, against the bed's; None without one.
    volume
        Where the volume knob stood, before any move; None for the take itself.
    unity_position
        Where it would have to stand for the effect to be as loud as the bypassed take, by what the levels are matched
        by, if no supply limited it; None where that is beyond 10 or cannot be told.
    at_limit_share_unity
        Share of time at the supply limits there, 0 to 1, or at 10 where unity lies beyond; None where unity cannot be
        told: nothing sounds, or the volume knob is moved.
    matched_gain_db
        Gain of the file against that of the bypassed take's, in dB: by how much the candidate is lifted to match.
    remarks
        What must be said of that, in words.
    median_first_lock_ms, p90_first_lock_ms, early_locked_share, uneven_share
        How soon and how evenly the drive locks (see `LockSums`); None where it cannot be told, and for the take itself.
    note_first_lock_ms
        Milliseconds from each note's start to its first lock; None for one that never locks.
    """

    name: str
    circuit: str
    settings: dict[str, Any]
    file: str
    levels: Levels
    gain_db: float
    at_limit_share: float
    locked_share: float | None = None
    open_string_locked_share: float | None = None
    note_locked_shares: tuple[float, ...] = ()
    dropouts: tuple[Dropout, ...] = ()
    sha256: str = ""
    plain_gain_db: float = 0.0
    heard_levels: Levels | None = None
    moves: tuple[Move, ...] = ()
    balance: Balance | None = None
    standing: Standing | None = None
    volume: float | None = None
    unity_position: float | None = None
    at_limit_share_unity: float | None = None
    matched_gain_db: float | None = None
    remarks: tuple[Remark, ...] = ()
    median_first_lock_ms: float | None = None
    p90_first_lock_ms: float | None = None
    early_locked_share: float | None = None
    uneven_share: float | None = None
    note_first_lock_ms: tuple[float | None, ...] = ()


@dataclass(frozen=True)
class TakeResult:
    """All candidates on one take, or why there are none.

    Attributes
    ----------
    name, file, sample_rate, seconds, full_scale_volts, full_scale_assumed, remarks
        The take.
    matched_by
        What was made equal, as heard: the plan's choice, or what stood in for it.
    reel
        The candidates one after another as heard, voicing and bed included, from the audition folder on.
    tuning, notes, note_remarks
        The open strings that were told apart, the notes, and what was not counted as a note, in words.
    candidates
        The take itself first.
    error
        Why the take could not be used.
    voicing, bed
        What it is listened through, and with; None without. The files under `candidates` are without either.
    uncounted_share
        Share of the time in which the take sounds that is in none of the notes, 0 to 1; None where nothing sounds.
    unsure_share
        Share of all notes' time that those of unsure octave have, which are not among `notes`, 0 to 1.
    bare
        What the page makes sounds from itself, each for the candidates that share it.
    """

    name: str
    file: str
    sample_rate: int = 0
    seconds: float = 0.0
    full_scale_volts: float = 0.0
    full_scale_assumed: bool = False
    remarks: tuple[Remark, ...] = ()
    matched_by: str = ""
    reel: str | None = None
    tuning: str = ""
    notes: tuple[TakeNote, ...] = ()
    note_remarks: tuple[Remark, ...] = ()
    candidates: tuple[CandidateResult, ...] = ()
    error: str | None = None
    voicing: HeardVoicing | None = None
    bed: HeardBed | None = None
    uncounted_share: float | None = None
    unsure_share: float = 0.0
    bare: tuple[BareSound, ...] = ()


@dataclass(frozen=True)
class AuditionResult:
    """All takes of an audition."""

    title: str
    match: str
    takes: tuple[TakeResult, ...]

    @property
    def failures(self) -> tuple[str, ...]:
        """What failed, a line each."""
        return tuple(take.error for take in self.takes if take.error)

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the fields, and what wrote them."""
        return {"program": f"sublatch {__version__}", **vars(self)}


def results_json(result: AuditionResult) -> str:
    """Return the results as a JSON document."""
    return json.dumps(plain_values(result), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def results_csv(result: AuditionResult) -> str:
    """Return the results as a table, a row for each take and candidate, for a spreadsheet."""
    text = io.StringIO()
    rows = list(_rows(result))
    writer = csv.DictWriter(text, fieldnames=list(COLUMNS), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


COLUMNS = (
    "take",
    "candidate",
    "circuit",
    "settings",
    "file",
    "loudness_lufs",
    "rms_dbfs",
    "low_band_dbfs",
    "peak_dbfs",
    "true_peak_dbtp",
    "gain_db",
    "at_limit_share",
    "locked_share",
    "open_string_locked_share",
    "first_dropout_s",
    "plain_gain_db",
    "weight_db",
    "body_db",
    "bite_db",
    "moves",
    "volume",
    "unity_position",
    "at_limit_share_unity",
    "matched_gain_db",
    "remarks",
    "median_first_lock_ms",
    "p90_first_lock_ms",
    "early_locked_share",
    "uneven_share",
    "uncounted_share",
    "unsure_share",
)


def _rows(result: AuditionResult) -> Iterator[dict[str, Any]]:
    """Give a row for each take and candidate."""
    for take in result.takes:
        for candidate in take.candidates:
            values = {
                **vars(candidate),
                **vars(candidate.levels),
                **vars(candidate.balance or Balance(None, None, None)),
                "take": take.name,
                "uncounted_share": take.uncounted_share,
                "unsure_share": take.unsure_share,
                "candidate": candidate.name,
                "settings": "; ".join(f"{key} = {value}" for key, value in candidate.settings.items()),
                "first_dropout_s": candidate.dropouts[0].start_s if candidate.dropouts else None,
                "moves": "; ".join(move_in_words(move) for move in candidate.moves),
                "remarks": " | ".join(remark.text for remark in candidate.remarks),
            }
            yield {column: _cell(values[column], decimals=6 if "share" in column else 3) for column in COLUMNS}


def _cell(value: float | str | None, *, decimals: int) -> float | str:
    """Return a number for a table, or a text that is no formula to a spreadsheet even where it begins like one."""
    if value is None:
        return ""
    if isinstance(value, str):
        return "'" + value if value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
    return round(value, decimals)
