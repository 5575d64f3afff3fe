"""The pixel grid of a scene, and the shapes and arrays that all drawing passes on."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float32]
Shape = tuple[Array, Array]  # outline (n, 2) in scene units, linear colour (3,)
Box = tuple[slice, slice]
Corners = tuple[float, float, float, float]
SPAN = 10 / 7  # the full view's width in scene units


def f32(values: ArrayLike) -> Array:
    return np.asarray(values, dtype=np.float32)


class View(NamedTuple):
    """The pixel grid: width and height in pixels, scale in pixels per scene unit."""

    width: int
    height: int
    scale: float

    @property
    def x(self) -> Array:
        """(1, width) scene abscissae."""
        return f32((np.arange(self.width) + 0.5 - self.width / 2) / self.scale)[None, :]

    @property
    def y(self) -> Array:
        """(height, 1) scene ordinates."""
        return f32((np.arange(self.height) + 0.5 - self.height / 2) / self.scale + 0.5)[:, None]

    def box(self, left: float, top: float, right: float, bottom: float) -> Box:
        """Rows and columns covering a rectangle given in scene units, clipped to the grid."""
        cols = [round(v * self.scale + self.width / 2) for v in (left, right)]
        rows = [round((v - 0.5) * self.scale + self.height / 2) for v in (top, bottom)]
        (x0, x1), (y0, y1) = np.clip(cols, 0, self.width), np.clip(rows, 0, self.height)
        return slice(int(y0), int(y1)), slice(int(x0), int(x1))


def view_of(width: int, height: int) -> View:
    return View(width, height, max(float(height), width / SPAN))
