"""Coupling capacitors: the high-pass corner that each makes with what it works into, and the bass it costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq

from sublatch.arrays import Array
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import CORNER_DB
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.networks.transfer import Transfer
from sublatch.circuit.signal_path import input_network, volume_network
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.knobs.travel import HALF_STEPS

LOW_E_HZ = 41.203
"""The lowest open string of a four-string bass."""
OCTAVE_UNDER_HZ = LOW_E_HZ / 2
BASS_SUFFERS_DB = 1.0
"""More is called a loss of bass: about the least change of level that is heard. Common practice, no source."""
SETTLED_HZ = 1e9
"""Far above every such corner."""
LOWEST_HZ = 1e-6
"""A lower corner is given as this: eleven days a period."""


@dataclass(frozen=True, eq=False)
class Coupling:
    """A coupling capacitor.

    Attributes
    ----------
    name
        Its setting in a circuit file.
    farad
        Its value.
    position, corner_hz
        Positions of the volume knob (21,), and its high-pass corner there, 3.01 dB down.
    loss_low_e_db, loss_octave_db
        Most that it takes from a low E (41.2 Hz), and an octave under it (20.6 Hz), over the travel of the knob, in dB
        (0 and above).
    lowest_hz
        The lowest note that has to pass it: a low E before the octave stage, an octave under it after that.
    """

    name: str
    farad: float
    position: Array
    corner_hz: Array
    loss_low_e_db: float
    loss_octave_db: float
    lowest_hz: float

    @property
    def bass_suffers(self) -> bool:
        """Whether more than `BASS_SUFFERS_DB` is lost of the lowest note that has to pass."""
        loss = self.loss_octave_db if self.lowest_hz < LOW_E_HZ else self.loss_low_e_db
        return loss > BASS_SUFFERS_DB

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it: the corner by whole positions."""
        return {
            "name": self.name,
            "farad": self.farad,
            "corner_hz": [
                {"position": at, "corner_hz": corner}
                for at, corner in zip(self.position[::2], self.corner_hz[::2], strict=True)
            ],
            "highest_corner_hz": np.max(self.corner_hz),
            "loss_low_e_db": self.loss_low_e_db,
            "loss_octave_db": self.loss_octave_db,
            "lowest_hz": self.lowest_hz,
            "bass_suffers": self.bass_suffers,
        }


def couplings(circuit: Circuit) -> list[Coupling]:
    """Return the coupling capacitors of a circuit, from input to output.

    Parameters
    ----------
    circuit
        The circuit.

    Returns
    -------
    list of Coupling
        ``input.coupling``, a detector's own (such as ``detector.blend.coupling``), and ``output.coupling``.
    """
    without_pickup = with_settings(circuit, {"input.pickup": None})
    made = [_coupling("input.coupling", circuit.input.coupling, [transfer(input_network(without_pickup))], LOW_E_HZ)]
    front = circuit.detector.front
    for coupling in front.couplings:
        farad, network = front.coupled(coupling)
        path = transfer(network, source=coupling.source)
        made.append(_coupling(f"detector.{coupling.setting}", farad, [path], LOW_E_HZ))
    after = [
        transfer(volume_network(with_settings(circuit, {"knobs.volume": float(position)}))) for position in HALF_STEPS
    ]
    made.append(_coupling("output.coupling", circuit.output.coupling, after, OCTAVE_UNDER_HZ))
    return made


def high_pass_corner_hz(path: Transfer) -> float:
    """Return the frequency below which a path is more than 3.01 dB under its gain well above.

    Parameters
    ----------
    path
        The transfer function of a high-pass.
    """

    def above_corner_db(log_hz: float) -> float:
        return -_loss_db(path, float(np.exp(log_hz))) - float(CORNER_DB)

    if above_corner_db(np.log(LOWEST_HZ)) >= 0.0:
        return LOWEST_HZ
    return float(np.exp(brentq(above_corner_db, np.log(LOWEST_HZ), np.log(SETTLED_HZ), xtol=1e-10)))


def _coupling(name: str, farad: float, paths: list[Transfer], lowest_hz: float) -> Coupling:
    """Return a capacitor with its corner on each path; a single path holds over all the travel."""
    corners = np.array([high_pass_corner_hz(path) for path in paths])
    return Coupling(
        name=name,
        farad=farad,
        position=HALF_STEPS,
        corner_hz=np.broadcast_to(corners, HALF_STEPS.shape).copy(),
        loss_low_e_db=max(_loss_db(path, LOW_E_HZ) for path in paths),
        loss_octave_db=max(_loss_db(path, OCTAVE_UNDER_HZ) for path in paths),
        lowest_hz=lowest_hz,
    )


def _loss_db(path: Transfer, frequency_hz: float) -> float:
    """Return how much less passes at a frequency than well above."""
    low, settled = np.abs(path.response([frequency_hz, SETTLED_HZ]))
    return float(20.0 * np.log10(settled / max(low, 1e-300)))
