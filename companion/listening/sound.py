"""Sound inside the companion."""

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE = 16_000
"""Samples a second of all sound inside the companion (one channel, 16-bit integers)."""

Sound = NDArray[np.int16]
"""One-channel sound at `SAMPLE_RATE`."""
