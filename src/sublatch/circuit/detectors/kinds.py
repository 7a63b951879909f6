"""The kinds of detector that a circuit file can ask for."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sublatch.circuit.detectors.logarithmic_latch import LogarithmicLatch
from sublatch.circuit.detectors.overtone import Overtone
from sublatch.circuit.detectors.peak_latch import PeakLatch
from sublatch.circuit.detectors.zero_crossing import ZeroCrossing

Detector = Annotated[ZeroCrossing | PeakLatch | Overtone | LogarithmicLatch, Field(discriminator="kind")]
