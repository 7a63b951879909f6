"""How many volts full scale stands for: found once with a tone and a meter, and kept in a file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pydantic import Field

from sublatch.checked import Checked, check, parse_toml
from sublatch.circuit.components.quantities import Volts
from sublatch.errors import CalibrationError
from sublatch.files.own_files import OwnFiles
from sublatch.files.text import read_text
from sublatch.takes.take import level_dbfs, read_take
from sublatch.takes.tone import Tone, full_scale_of, measure_tone
from sublatch.units import format_volts

CALIBRATION_FILES = OwnFiles(
    "calibration files",
    "\n# Found by sublatch. Once changed by hand, it is replaced only with --overwrite. Check: ",
)


class CalibrationFile(Checked):
    """What a calibration file says."""

    full_scale: Volts = Field(gt=0.0, description="Volts at 0 dBFS.")


@dataclass(frozen=True)
class Calibration:
    """What a tone and a meter tell of an input.

    Attributes
    ----------
    file
        The recording of the tone.
    meter_volts
        What the meter read, RMS.
    tone
        The tone as it was recorded.
    full_scale_volts
        Volts that full scale stands for.
    """

    file: str
    meter_volts: float
    tone: Tone
    full_scale_volts: float

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the tone without what was measured on the way."""
        tone = self.tone
        return {
            "file": self.file,
            "full_scale_volts": self.full_scale_volts,
            "meter_volts": self.meter_volts,
            "tone_hz": tone.hz,
            "tone_dbfs": level_dbfs(tone.peak),
            "start_s": tone.start_s,
            "end_s": tone.end_s,
            "impurity": tone.impurity,
            "remarks": tone.remarks,
        }


def calibrate(path: str | Path, *, meter_volts: float, channel: int | None = None) -> Calibration:
    """Return what full scale stands for, from the recording of a tone and a meter's reading of it.

    Parameters
    ----------
    path
        The recording.
    meter_volts
        The reading in volts RMS, above 0.
    channel
        Which channel of the file, from 1.

    Raises
    ------
    AudioFileError
        When the file cannot be read, or it is not clear which channel is meant.
    AudioDataError
        When there is no steady tone in it, or the two do not go together.
    """
    tone = measure_tone(read_take(path, channel=channel))
    return Calibration(str(path), meter_volts, tone, full_scale_of(tone, meter_volts=meter_volts))


def read_calibration(path: str | Path) -> float:
    """Return the volts that full scale stands for, from a calibration file.

    Raises
    ------
    CalibrationError
        When it cannot be read, or says something else.
    """
    text = read_text(
        Path(path),
        what="a calibration file",
        missing="no such calibration file",
        hint="'sublatch take tone.wav --meter 0.31V -o interface.toml' writes one",
        error=CalibrationError,
    )
    data = parse_toml(text, source=str(path), error=CalibrationError)
    return check(CalibrationFile, data, source=str(path), error=CalibrationError).full_scale


def write_calibration(calibration: Calibration, path: str | Path, *, overwrite: bool = False) -> None:
    """Write a calibration file, whole or not at all.

    Parameters
    ----------
    calibration
        What was found.
    path
        The file; it ends in ``.toml``.
    overwrite
        Replace a file that this program did not write, or that was changed since.

    Raises
    ------
    OutputError
        When the file cannot be written, or must not be replaced.
    """
    CALIBRATION_FILES.guard(path, inputs=[calibration.file], overwrite=overwrite)
    CALIBRATION_FILES.write(path, calibration_toml(calibration))


def calibration_toml(calibration: Calibration) -> str:
    """Return the text of a calibration file; the date is that of the recording, so that the text stays the same."""
    tone = calibration.tone
    recorded = datetime.fromtimestamp(Path(calibration.file).stat().st_mtime, UTC).date()
    meter, full_scale = format_volts(calibration.meter_volts), format_volts(calibration.full_scale_volts)
    name = Path(calibration.file).name.encode("ascii", "backslashreplace").decode()
    lines = [
        "How many volts digital full scale stands for, peak. It holds for one input at one gain setting.",
        "Which input, and how its gain stands (write it here):",
        f"Found from {name} of {recorded}: {tone.hz:.1f} Hz at {level_dbfs(tone.peak):.2f} dBFS peak,",
        f"steady from {tone.start_s:.1f} to {tone.end_s:.1f} s; the meter read {meter} RMS.",
        *(f"Mind: {remark.text}." for remark in tone.remarks),
    ]
    return "".join(f"# {line}\n" for line in lines) + f'\nfull_scale = "{full_scale}"\n'
