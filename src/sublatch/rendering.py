"""One take through one circuit, to a file, with the figures that go with it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sublatch.arrays import Array, Signal
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.model import Circuit
from sublatch.files.sound import LONGEST_COMMENT_BYTES, made_here, write_audio, written_kind
from sublatch.files.whole_files import guard, guard_folder, guard_inputs
from sublatch.json_data import plain_values
from sublatch.sampling.levels import Levels, levels
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import output_sources, render
from sublatch.signal.moves import Move
from sublatch.signal.unity import with_volume_found
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take
from sublatch.units.scales import db_to_ratio

TURNED_DOWN_TO_DBFS = -1.0
"""Peak of a file whose signal would not fit otherwise."""
LONGEST_TOLD_TITLE = 200
"""Characters of a circuit's title that are told in a file."""


@dataclass(frozen=True)
class RenderReport:
    """What came of one take and one circuit.

    Attributes
    ----------
    output
        The file written.
    sample_rate, seconds
        Its sample rate in hertz and its length in seconds.
    peak_dbfs, loudness_lufs, rms_dbfs, low_band_dbfs
        Levels of the circuit's output relative to the take's full scale (see `levels`); None where there is none.
    at_limit_share
        Share of time that the output buffer spent at its supply limits, 0 to 1.
    effect_gain_db
        Loudness of the effect against the bypassed take in dB, or their RMS where loudness cannot be told.
    effect_rms_gain_db
        RMS of the effect against the bypassed take in dB.
    written_gain_db
        Gain in the file that the circuit does not have, in dB: 0 unless the output would not have fitted.
    volume
        Where the volume knob stood.
    remarks
        What must be said of a volume at unity, in words.
    """

    output: str
    sample_rate: int
    seconds: float
    peak_dbfs: float | None
    loudness_lufs: float | None
    rms_dbfs: float | None
    low_band_dbfs: float | None
    at_limit_share: float
    effect_gain_db: float | None
    effect_rms_gain_db: float | None
    written_gain_db: float
    volume: float
    remarks: tuple[Remark, ...] = ()


def render_file(
    take: Take,
    circuit: Circuit,
    output: str | Path,
    *,
    settings: Mapping[str, Any] | None = None,
    overwrite: bool = False,
) -> RenderReport:
    """Write a take as a circuit gives it.

    Parameters
    ----------
    take
        The take.
    circuit
        The circuit; a volume at unity is found by loudness.
    output
        The WAV or FLAC file to write, at the take's rate and with its full scale.
    settings
        What was changed in the circuit, for the file's metadata.
    overwrite
        Replace a file that this program did not make.

    Raises
    ------
    OutputError
        When the file cannot be written, or must not be replaced.
    """
    guard_inputs(output, [take.path] if take.path else [])
    guard(output, overwrite=overwrite, made_here=made_here)
    guard_folder(output)
    written_kind(output)
    cache = StageCache()
    at_unity = circuit.knobs.volume == UNITY
    circuit = with_volume_found(output_sources(take, circuit, cache=cache), circuit)
    rendered = render(take, circuit, cache=cache)
    before = levels(take.samples, sample_rate=take.sample_rate, full_scale_volts=take.full_scale_volts)
    after = levels(rendered.samples, sample_rate=take.sample_rate, full_scale_volts=take.full_scale_volts)
    gain_db = _fitting_gain_db(after)
    write_audio(
        output,
        fitted(rendered.samples / take.full_scale_volts, gain_db),
        take.sample_rate,
        title=f"{take.name}: {circuit.title}",
        comment=metadata(take, circuit, settings or {}, gain_db),
    )
    rms_gain = _difference(after.rms_dbfs, before.rms_dbfs)
    loudness_gain = _difference(after.loudness_lufs, before.loudness_lufs)
    return RenderReport(
        output=str(output),
        sample_rate=take.sample_rate,
        seconds=take.seconds,
        peak_dbfs=after.peak_dbfs,
        loudness_lufs=after.loudness_lufs,
        rms_dbfs=after.rms_dbfs,
        low_band_dbfs=after.low_band_dbfs,
        at_limit_share=rendered.at_limit_share,
        effect_gain_db=loudness_gain if loudness_gain is not None else rms_gain,
        effect_rms_gain_db=rms_gain,
        written_gain_db=gain_db,
        volume=circuit.volume,
        remarks=(unity_remark(circuit.volume, told=rms_gain is not None),) if at_unity else (),
    )


def unity_remark(volume: float, *, told: bool, beyond: bool | None = None) -> Remark:
    """Return what must be said of a volume knob at unity.

    Parameters
    ----------
    volume
        Where it was found to stand.
    told
        Whether something sounds, so that unity can be told.
    beyond
        Whether unity lies beyond 10; where the knob stands at 10, when not given.
    """
    if not told:
        return Remark("unity-untold", f"nothing sounds, so that unity cannot be told; volume stands at {volume:g}")
    if beyond or (beyond is None and volume == FULL_TURN):
        return Remark("unity-beyond", "unity lies beyond 10 of the volume knob, so it stands at 10")
    return Remark("unity-found", f"volume at unity is {volume:.1f} here")


def fitted(samples: Signal, gain_db: float) -> Array:
    """Return samples (n,) with a gain in dB."""
    return samples * float(db_to_ratio(gain_db)) if gain_db else samples


def metadata(
    take: Take, circuit: Circuit | None, settings: Mapping[str, Any], gain_db: float, *, moves: Sequence[Move] = ()
) -> str:
    """Return, as one line of JSON that fits a file's comment, how the file came to be; no circuit is a bypass."""
    facts: dict[str, Any] = {"circuit": circuit.title[:LONGEST_TOLD_TITLE] if circuit else "bypassed"}
    if circuit:
        facts["settings"] = dict(settings)
        facts["knobs"] = circuit.knobs.model_dump(exclude_none=True)
        facts["switches"] = circuit.switches.model_dump(exclude_none=True)
    facts["full_scale_volts"] = take.full_scale_volts
    if take.full_scale_assumed:
        facts["full_scale_assumed"] = True
    facts["gain_db"] = round(gain_db, 3) + 0.0
    if moves:
        facts["moves"] = plain_values(moves)
    for table in ("settings", "moves"):
        if table in facts and len(_json(facts).encode()) > LONGEST_COMMENT_BYTES:
            facts[table] = "too many to be told here"
    return _json(facts)


def _json(facts: Mapping[str, Any]) -> str:
    """Return facts as one line of JSON."""
    return json.dumps(facts, ensure_ascii=False, separators=(",", ":"))


def _fitting_gain_db(after: Levels) -> float:
    """Return the gain that keeps the peak below full scale: 0 where it already is."""
    if after.peak_dbfs is None or after.peak_dbfs < 0.0:
        return 0.0
    return TURNED_DOWN_TO_DBFS - after.peak_dbfs


def _difference(a: float | None, b: float | None) -> float | None:
    """Return a − b, or None where either is not there."""
    return None if a is None or b is None else a - b
