"""What the fits share: a circuit with fitted values in it, unknowns found so that figures are met, and when none do."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from scipy.optimize import least_squares

from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import Origin
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError


def with_fitted(circuit: Circuit, settings: Mapping[str, float | str | None]) -> Circuit:
    """Return a circuit with settings that were fitted, and marked so."""
    marks: dict[str, Origin] = {**circuit.origins, **dict.fromkeys(settings, "fitted")}
    return with_settings(circuit, settings).model_copy(update={"origins": marks})


def is_open(circuit: Circuit, path: str) -> bool:
    """Return whether a value is only assumed so far, so that it may be fitted."""
    return circuit.origins.get(path) == "assumed"


def solved(
    misses: Callable[[Sequence[float]], Sequence[float]],
    start: Sequence[float],
    bounds: Sequence[tuple[float, float]],
) -> list[float]:
    """Return positive unknowns at which some misses are the least.

    Parameters
    ----------
    misses
        How far each figure is off, by the unknowns.
    start
        Where the search begins.
    bounds
        Least and most of each unknown.
    """
    low, high = np.log(np.array(bounds, dtype=float)).T
    first = np.clip(np.log(np.array(start, dtype=float)), low + 1e-9, high - 1e-9)
    found = least_squares(
        lambda logs: np.asarray(misses(np.exp(logs).tolist()), dtype=float),
        first,
        bounds=(low, high),
        xtol=1e-8,
        ftol=1e-8,
        gtol=1e-8,
    )
    return [float(value) for value in np.exp(found.x)]


class UnmetError(CircuitError):
    """A figure that no value of what is left open reaches.

    Parameters
    ----------
    text
        What cannot be, and the nearest that can.
    involved
        The figures and the tables of settings that have a say in it.
    """

    def __init__(self, text: str, involved: tuple[str, ...]) -> None:
        super().__init__(text)
        self.text = text
        self.involved = involved
