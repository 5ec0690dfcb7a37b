"""Names for the arrays that formulas take and give."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]
Ints32 = NDArray[np.int32]
Ints64 = NDArray[np.int64]
Counts = NDArray[np.uint16]
"""Samples as a camera writes them."""
