"""A measurement of this pack's own: by how much the horizon leans."""

import numpy as np

from pressworthy.measure import measurement
from pressworthy.measure.lightness import lab
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture

STEEPEST = 8.0
CLEAR = 6.0


@measurement
def lean(picture: Picture) -> float:
    """Return the angle of the horizon in degrees, clockwise positive.

    The lightness steps down the picture are added up along lines of every angle within 8 degrees;
    the horizon is the line where most come together. Raises Unmeasured where none stands out.
    """
    light = lab(picture)[..., 0]
    steps = np.abs(np.diff(light, axis=0))
    height, width = steps.shape
    columns = np.arange(width) - width / 2
    rows = np.arange(height)[:, None]
    angles = np.arange(-STEEPEST, STEEPEST + 0.125, 0.25)
    peaks = []
    for angle in angles:
        shifted = np.round(rows + np.tan(np.radians(angle)) * columns).astype(int)
        sums = np.take_along_axis(steps, np.clip(shifted, 0, height - 1), axis=0).mean(axis=1)
        peaks.append(sums[height // 10 : -height // 10].max())
    best = int(np.argmax(peaks))
    if peaks[best] < CLEAR or abs(angles[best]) >= STEEPEST:
        raise Unmeasured("no straight line across the picture stands out")
    return float(angles[best])
