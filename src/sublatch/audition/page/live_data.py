"""What the page is told so that it can make sounds itself: circuits after the octave stage, and bare sounds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sublatch.audition.folder.layout import url_of
from sublatch.audition.listen.results import BareSound, CandidateResult, TakeResult
from sublatch.audition.live.parts import live_circuit, live_filter
from sublatch.audition.page.wording import path_in_words
from sublatch.audition.plan.records import Candidate
from sublatch.circuit.filters.swept_second_order import SweptSecondOrder


def live_data(candidates: Sequence[Candidate]) -> dict[str, Any]:
    """Return what all takes share: what the page makes circuits from.

    Parameters
    ----------
    candidates
        The audition's candidates.

    Returns
    -------
    dict
        ``circuits``, each candidate's after the octave stage by its name, as `live_circuit`, but for those with moves;
        and ``swept``, a filter that parts can be found for, as `live_filter`. Both with ``words``, what each of their
        settings is called.
    """
    return {
        "circuits": {
            candidate.name: _worded(live_circuit(candidate.circuit)) for candidate in candidates if not candidate.moves
        },
        "swept": _worded(live_filter(SweptSecondOrder())),
    }


def _worded(parts: dict[str, Any]) -> dict[str, Any]:
    """Return parts with what their settings are called."""
    return {**parts, "words": {setting: path_in_words(setting) for setting in (*parts["values"], *parts["pots"])}}


def live_take(take: TakeResult) -> dict[str, Any] | None:
    """Return what the page makes a take's sounds from; None where it makes none.

    Parameters
    ----------
    take
        The take's result.

    Returns
    -------
    dict
        ``sounds``, each with its ``carrier``, its ``bands``, its ``full_scale_volts`` and its ``candidates`` with the
        volume that each has on this take and the gain in dB of its file; ``target_lufs``, the loudness that all are
        brought to, None where another level was made equal; ``gain_db``, the gain then; ``bypassed_lufs``, None where
        it cannot be told; the take's own ``full_scale_volts``; and ``bed_db``, the bed's third-octave levels as heard,
        None without one and where a voicing makes the bass another.
    """
    if not take.bare:
        return None
    bypassed, by_name = take.candidates[0], {candidate.name: candidate for candidate in take.candidates}
    loudness = bypassed.levels.loudness_lufs if take.matched_by == "loudness" else None
    return {
        "sounds": [_sound(bare, by_name) for bare in take.bare],
        "target_lufs": None if loudness is None else loudness + bypassed.plain_gain_db,
        "gain_db": bypassed.plain_gain_db,
        "bypassed_lufs": bypassed.levels.loudness_lufs,
        "full_scale_volts": take.full_scale_volts,
        "bed_db": None if bypassed.standing is None or take.voicing is not None else list(bypassed.standing.bed_db),
    }


def _sound(bare: BareSound, by_name: dict[str, CandidateResult]) -> dict[str, Any]:
    """Return one bare sound's data."""
    name = " and ".join(bare.candidates)
    return {
        "carrier": {"key": bare.key, "sound": url_of(bare.carrier), "name": name},
        "bands": {"key": bare.bands_key, "sound": url_of(bare.bands_carrier), "name": name},
        "full_scale_volts": bare.full_scale_volts,
        "candidates": [
            {"name": one, "volume": by_name[one].volume, "gain_db": by_name[one].plain_gain_db}
            for one in bare.candidates
        ],
    }
