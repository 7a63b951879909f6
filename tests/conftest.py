"""Fixtures and settings that all tests share."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable
from typing import Any, Protocol

import numpy as np
import pytest
from hypothesis import settings

from sublatch.arrays import Array

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
    ) -> Array:
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
    ) -> Array:
        t = np.arange(round(seconds * rate)) / rate
        return np.asarray(amplitude * np.sin(2 * np.pi * frequency_hz * t + phase), dtype=np.float64)

    return make


Counting = Callable[..., Counter[str]]
"""Takes pairs of a module and a function's name; returns a counter that grows with each call from then on."""


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counting:
    """Give a way to count how often functions are called, each by the module that calls it."""

    def count(*wanted: tuple[Any, str]) -> Counter[str]:
        calls: Counter[str] = Counter()
        for home, name in wanted:
            monkeypatch.setattr(home, name, _counting(getattr(home, name), name, calls))
        return calls

    return count


def _counting(function: Callable[..., Any], name: str, calls: Counter[str]) -> Callable[..., Any]:
    """Return a function that counts its calls under a name."""

    def call(*arguments: Any, **settings: Any) -> Any:
        calls[name] += 1
        return function(*arguments, **settings)

    return call
