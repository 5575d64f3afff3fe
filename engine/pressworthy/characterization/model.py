"""The Neugebauer model fitted to measured patches, and a smooth curve through the black ramp."""

from __future__ import annotations

import numpy as np

from pressworthy.characterization.patches import INKS, OVERPRINTS, Array, Patches
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import D50, from_xyz


def neugebauer(patches: Patches, ink: Array, n: float) -> Array:
    """Return XYZ of inks (%) by the Yule-Nielsen modified Neugebauer model, Demichel's areas.

    Each ink's effective area comes from its own ramp.
    """
    area = np.empty_like(ink)
    for column, name in enumerate(INKS):
        device, xyz, _ = patches.ramp(name)
        root = np.maximum(xyz, 1e-6) ** (1 / n)
        span = root[-1] - root[0]
        area[:, column] = np.interp(ink[:, column], device, (root - root[0]) @ span / (span @ span))
    total = np.zeros((len(ink), 3))
    for primary in OVERPRINTS:
        factors = [area[:, i] if name in primary else 1 - area[:, i] for i, name in enumerate(INKS)]
        solid = np.maximum(patches.solid(primary)[0], 1e-6)
        total += np.prod(factors, axis=0)[:, None] * solid ** (1 / n)
    return np.asarray(np.clip(total, 1e-6, None) ** n)


def fit_yule_nielsen(patches: Patches) -> tuple[float, float]:
    """Return the n with the least mean CIEDE2000 over all patches, and that mean."""

    def error(n: float) -> float:
        model = from_xyz(neugebauer(patches, patches.ink, n) / 100)
        return float(delta_e_2000(patches.lab, model).mean())

    best = min((round(float(n), 2) for n in np.arange(1, 5, 0.05)), key=error)
    return best, error(best)


def black_curve(patches: Patches) -> Array:
    """Return Y relative to paper at gray 0 (full black ink) to 255 (paper).

    A smooth curve through L* of the ramp, exact at paper and solid: measured ramps are uneven,
    above all the newsprint one, and a gray wedge would show it.
    """
    device, xyz, _ = patches.ramp("K")
    k, light = device / 100, from_xyz(D50 * xyz[:, 1:2] / 100)[:, 0]
    inner = (k > 0) & (k < 1)
    chord = light[0] + (light[-1] - light[0]) * k
    bump = (k * (1 - k))[:, None] * np.vander(k, 5)
    weights = np.linalg.lstsq(bump[inner], (light - chord)[inner], rcond=None)[0]
    fine = 1 - np.arange(256) / 255
    smooth = light[0] + (light[-1] - light[0]) * fine
    smooth = smooth + (fine * (1 - fine))[:, None] * np.vander(fine, 5) @ weights
    luminance = ((smooth + 16) / 116) ** 3
    return np.asarray(luminance / luminance[-1])
