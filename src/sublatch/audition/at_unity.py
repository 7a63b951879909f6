"""A candidate at unity: where its volume knob would have to stand to be as loud as the bypassed take, and what clips.

The files are matched by a gain that no circuit has. On the box the volume knob does it, ahead of the output buffer, so
the limits of the supply are measured there too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log10

from sublatch.audition.folder.manifest import digest
from sublatch.audition.listen.match import Gains, is_audible, matched_level_db
from sublatch.audition.plan.records import Candidate
from sublatch.audition.render_candidate import MeasuredSound, heard_through, rendered, sound_key
from sublatch.audition.take_work import TakeWork
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.idle import output_limits_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import AudioDataError
from sublatch.rendering import unity_remark
from sublatch.signal.chain import output_sources
from sublatch.signal.filtering.limits import NEAR
from sublatch.signal.moves import with_start_found
from sublatch.signal.unity import Measure, effect_gain_db, unity_position, volume_gain_db, with_volume_found
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take

REMARKED_LIFT_DB = 6.0
"""A candidate that is lifted by more says so: the box has to be turned up by as much."""
MARGIN_DB = 1.0
"""Room for what a turned volume knob changes besides the level, where limits are told to be far."""
SAME_POSITION = 2e-3
"""Positions that differ by less are one."""


@dataclass(frozen=True)
class AtUnity:
    """A candidate at unity.

    Attributes
    ----------
    position
        Position of the volume knob; None where unity lies beyond 10.
    at_limit_share
        Share of time at the supply limits there, 0 to 1; at 10 where unity lies beyond.
    """

    position: float | None
    at_limit_share: float


@dataclass(frozen=True)
class VolumeFigures:
    """What is said of a candidate's volume; see `CandidateResult`."""

    volume: float | None = None
    unity_position: float | None = None
    at_limit_share_unity: float | None = None
    matched_gain_db: float | None = None
    remarks: tuple[Remark, ...] = ()


def measure_of(match: str) -> Measure:
    """Return how loud is judged for unity: as the levels are matched, by loudness where they are not."""
    measures: dict[str, Measure] = {"rms": "rms", "peak": "peak"}
    return measures.get(match, "loudness")


def with_volume(work: TakeWork, measure: Measure, candidate: Candidate) -> Candidate:
    """Return a candidate whose volume knob stands at a number: as it is, or where unity is on this take.

    Parameters
    ----------
    work
        The take, what it is listened through, and what an earlier run has found.
    measure
        How loud is judged.
    candidate
        The candidate.
    """
    if candidate.circuit.knobs.volume != UNITY:
        return candidate
    key = digest(sound_key(work.take, candidate), work.monitoring.voicing_digest, measure, "volume")
    volume = work.manifest.measured(key, float)
    if volume is None:
        heard = heard_through(work)
        sources = output_sources(work.take, candidate.circuit, cache=work.cache)
        volume = with_volume_found(sources, candidate.circuit, measure=measure, heard=heard).volume
    work.manifest.keep_measured(key, volume)
    circuit = with_settings(candidate.circuit, {"knobs.volume": volume})
    return replace(candidate, circuit=circuit, moves=with_start_found(candidate.moves, circuit))


def at_unity(work: TakeWork, measure: Measure, bypassed: MeasuredSound, sound: MeasuredSound) -> AtUnity | None:
    """Return a candidate at unity, from an earlier run where that found the very same.

    Parameters
    ----------
    work
        The take, what it is listened through (unity is judged as heard), and what an earlier run has found.
    measure
        How loud is judged.
    bypassed, sound
        The take itself and the candidate, measured.

    Returns
    -------
    AtUnity or None
        None for the take itself, where nothing sounds, and where the volume knob is moved, so that it stands nowhere.

    Notes
    -----
    Other controls stand where they do before any move when the position is sought; the share is that of the take with
    all its moves.
    """
    candidate = sound.candidate
    if candidate is None or any(move.control == "knobs.volume" for move in candidate.moves):
        return None
    if not all(is_audible(measured.levels) for measured in (bypassed.plain, bypassed.heard, sound.plain, sound.heard)):
        return None
    key = digest(sound.heard_key, measure, "at unity")
    unity = work.manifest.measured(key, AtUnity)
    if unity is None:
        try:
            position = _position(work, measure, bypassed, sound, candidate)
        except AudioDataError:  # a loudness below the gate of BS.1770, say
            return None
        unity = AtUnity(position, _share(work, sound, candidate, FULL_TURN if position is None else position))
    work.manifest.keep_measured(key, unity)
    return unity


def volume_figures(
    planned: Sequence[Candidate], sounds: Sequence[MeasuredSound], gains: Gains, unities: Sequence[AtUnity | None]
) -> list[VolumeFigures]:
    """Return what is told of the volume of the take itself and of its candidates.

    Parameters
    ----------
    planned
        The candidates as the plan has them.
    sounds
        The take itself and its candidates, measured.
    gains
        Their gains.
    unities
        The same at unity, None where there is nothing to tell.
    """
    figures = [VolumeFigures()]
    for candidate, sound, gain_db, unity in zip(planned, sounds[1:], gains.files_db[1:], unities[1:], strict=True):
        assert sound.candidate is not None
        both_audible = is_audible(sounds[0].plain.levels) and is_audible(sound.plain.levels)
        lift_db = gain_db - gains.files_db[0] if both_audible else None
        volume = sound.candidate.circuit.volume
        remarks = _remarks(volume, unity, lift_db, asked=candidate.circuit.knobs.volume == UNITY)
        position, share = (None, None) if unity is None else (unity.position, unity.at_limit_share)
        figures.append(VolumeFigures(volume, position, share, lift_db, remarks))
    return figures


def _remarks(volume: float, unity: AtUnity | None, lift_db: float | None, *, asked: bool) -> tuple[Remark, ...]:
    """Return what must be said of a candidate's volume; `asked` where its file or the plan has it at unity."""
    remarks = [unity_remark(volume, told=unity is not None or lift_db is not None, beyond=_is_beyond(unity))] * asked
    lifted = lift_db is not None and lift_db > REMARKED_LIFT_DB
    if not lifted and (asked or not _is_beyond(unity)):
        return tuple(remarks)
    clauses = [f"lifted by {lift_db:.1f} dB to match"] * lifted
    if unity is not None:
        clauses.append(_on_the_box(volume, unity))
    return (*remarks, Remark("lifted" if lifted else "too-soft", "; ".join(clauses)))


def _is_beyond(unity: AtUnity | None) -> bool:
    """Return whether unity lies beyond 10."""
    return unity is not None and unity.position is None


def _on_the_box(volume: float, unity: AtUnity) -> str:
    """Return in words what a volume knob must do for unity, and what clips there."""
    share = unity.at_limit_share
    if unity.position is None:
        setting = "on the box not even volume at 10 is as loud as the bypassed take"
    else:
        setting = f"on the box that takes volume at {unity.position:.1f} instead of {volume:.1f}"
    if not share:
        return setting
    percent = "less than 0.1" if share < 5e-4 else f"{100 * share:.1f}"
    return f"{setting}, and there the output clips {percent} % of the time"


def _position(
    work: TakeWork, measure: Measure, bypassed: MeasuredSound, sound: MeasuredSound, candidate: Candidate
) -> float | None:
    """Return where unity is; None beyond 10. Raises AudioDataError where nothing can be told.

    The levels that were measured tell how far it is, unless something clipped or moved.
    """
    if measure == "loudness" and None in (sound.heard.levels.loudness_lufs, bypassed.heard.levels.loudness_lufs):
        measure = "rms"
    gain_db = None
    if not sound.plain.at_limit_share and not candidate.moves:
        gain_db = matched_level_db(sound.heard.levels, measure) - matched_level_db(bypassed.heard.levels, measure)
    heard = heard_through(work)

    def gain_at(circuit: Circuit) -> float | None:
        return effect_gain_db(
            output_sources(work.take, circuit, cache=work.cache), circuit, measure=measure, heard=heard
        )

    return unity_position(candidate.circuit, gain_at=gain_at, gain_db=gain_db)


def _share(work: TakeWork, sound: MeasuredSound, candidate: Candidate, volume: float) -> float:
    """Return the share of time at the limits with the volume knob elsewhere, worked out only where there may be one."""
    share_as_set, volume_as_set = sound.plain.at_limit_share, candidate.circuit.volume
    if abs(volume - volume_as_set) < SAME_POSITION or (volume < volume_as_set and not share_as_set):
        return share_as_set
    if not share_as_set and not candidate.moves and _far_from_limits(work.take, sound, candidate, volume):
        return 0.0
    turned = with_settings(candidate.circuit, {"knobs.volume": volume})
    return rendered(work, replace(candidate, circuit=turned))[1]


def _far_from_limits(take: Take, sound: MeasuredSound, candidate: Candidate, volume: float) -> bool:
    """Return whether no sample comes near a limit with the volume knob elsewhere."""
    circuit, peak_dbfs = candidate.circuit, sound.plain.levels.peak_dbfs
    assert peak_dbfs is not None
    low, high = output_limits_v(circuit)
    limit_db = 20.0 * log10(NEAR * min(-low, high) / take.full_scale_volts)
    raised_db = volume_gain_db(circuit, volume) - volume_gain_db(circuit, circuit.volume)
    return peak_dbfs + raised_db + MARGIN_DB < limit_db
