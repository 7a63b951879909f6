"""Fixtures and settings that all tests share."""

from __future__ import annotations

import os
from typing import Protocol

import numpy as np
import pytest
from hypothesis import settings
from numpy.typing import NDArray

os.environ["MPLBACKEND"] = "Agg"  # no window, also in the programs that tests start

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")


class Sine(Protocol):
    """Maker of sines."""

    def __call__(
        self,
        frequency_hz: float,
        seconds: float = 1.0,
        *,
        rate: int = 48000,
        amplitude: float = 1.0,
        phase: float = 0.0,
    ) -> NDArray[np.float64]:
        """Return amplitude · sin(2πft + phase), the phase in radians, from t = 0."""


@pytest.fixture
def rng() -> np.random.Generator:
    """Give random numbers that are the same in every run."""
    return np.random.default_rng(20240229)


@pytest.fixture
def sine() -> Sine:
    """Give a maker of sines."""

    def make(
        frequency_hz: float,
        seconds: float = 1.0,
        *,
        rate: int = 48000,
        amplitude: float = 1.0,
        phase: float = 0.0,
    ) -> NDArray[np.float64]:
        t = np.arange(round(seconds * rate)) / rate
        return np.asarray(amplitude * np.sin(2 * np.pi * frequency_hz * t + phase), dtype=np.float64)

    return make
