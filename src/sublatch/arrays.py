"""Arrays by what they hold, for type hints: one name each, used throughout."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Signal = NDArray[np.float64]
"""A sound or another signal, sample after sample (n,); volts inside the program."""
Array = NDArray[np.float64]
"""Real numbers of any other meaning and shape: frequencies, levels, positions."""
Complex = NDArray[np.complex128]
"""Complex numbers: responses, poles, zeros, spectra."""
Single = NDArray[np.float32]
"""Real numbers in single precision, where speed counts more than the last digits."""
SingleComplex = NDArray[np.complex64]
"""Complex numbers in single precision."""
Whole = NDArray[np.int64]
"""Whole numbers: indices and counts."""
Flags = NDArray[np.bool_]
"""Yes or no, one by one."""
