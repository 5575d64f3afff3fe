"""The fitted numbers of the pixel measurements: one data file, made by one command.

The file names the command that made it; nobody edits it by hand.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

FILE = "detection_weights.json"


def weights(part: str) -> dict[str, Any]:
    """Return the fitted numbers of one measurement, by name."""
    fitted: dict[str, Any] = _all()[part]
    return fitted


@cache
def _all() -> Any:
    return json.loads(files("pressworthy.measure").joinpath(FILE).read_text("utf-8"))


def votes(part: str, numbers: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return ln p of each class by the fitted networks of `part`, averaged and made to sum to 1.

    The numbers are standardised and cut at 4 deviations; tanh stands between the layers.
    """
    mean, scale, members = _networks(part)
    scaled = np.clip((numbers - mean) / scale, -4, 4)
    total: NDArray[np.float64] | None = None
    for layers in members:
        values = scaled
        for i, (matrix, bias) in enumerate(layers):
            values = (np.tanh(values) if i else values) @ matrix + bias
        values = _log_softmax(values)
        total = values if total is None else total + values
    if total is None:
        raise ValueError(f"{FILE}: {part} has no networks")
    return _log_softmax(total / len(members))


Layers = list[tuple[NDArray[np.float64], NDArray[np.float64]]]


@cache
def _networks(part: str) -> tuple[NDArray[np.float64], NDArray[np.float64], list[Layers]]:
    known = weights(part)
    members = [[(np.array(m), np.array(b)) for m, b in layers] for layers in known["members"]]
    return np.array(known["mean"]), np.array(known["scale"]), members


def _log_softmax(values: NDArray[np.float64]) -> NDArray[np.float64]:
    least = values - values.max()
    return np.asarray(least - np.log(np.exp(least).sum()))
