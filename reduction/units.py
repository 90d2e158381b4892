"""Whether a column of readings can be a bucket's temperature in °C at all."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reduction.notes import Thresholds

BUCKET_C = (10.0, 40.0)
"""Where the water of a bucket is looked for when another unit is tried."""


@dataclass(frozen=True)
class Suspicion:
    """What the readings are near, and the unit they would make sense in; None where in none."""

    near: float
    unit: str | None
    would_be_c: float | None


def suspected_unit(temperature_c: NDArray[np.float64], limits: Thresholds) -> Suspicion | None:
    """None for what reads like a bucket in °C, by the median of the readings.

    °F and K are tried: `(T − 32)/1.8` and `T − 273.15`.
    """
    near = float(np.median(temperature_c))
    if limits.coldest_c <= near <= limits.warmest_c:
        return None
    for unit, in_celsius in (("°F", (near - 32.0) / 1.8), ("K", near - 273.15)):
        if near > limits.warmest_c and BUCKET_C[0] <= in_celsius <= BUCKET_C[1]:
            return Suspicion(near, unit, in_celsius)
    return Suspicion(near, None, None)
