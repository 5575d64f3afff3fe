"""The soft proof against LittleCMS's own absolute colorimetric intent, called through Pillow."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageCms

from pressworthy.colour.convert import as_vips
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import from_xyz
from pressworthy.house import House
from pressworthy.print import softproof


@pytest.mark.parametrize("name", ["coated-magazine", "newsprint"])
def test_colours_on_paper(houses: dict[str, House], name: str) -> None:
    output = houses[name].output
    rng = np.random.default_rng(4)
    inks = rng.integers(0, 256, (8, 8, 4)).astype(np.uint8)
    inks[0, 0] = 0
    lab = ImageCms.profileToProfile(
        Image.fromarray(inks, "CMYK"),
        ImageCms.getOpenProfile(str(output.condition.profiles["cmyk"])),
        ImageCms.createProfile("LAB"),
        renderingIntent=ImageCms.Intent.ABSOLUTE_COLORIMETRIC,
        outputMode="LAB",
    )
    coded = np.asarray(lab).astype(np.float64)
    # 8-bit LAB of Pillow: L* over 255, a* and b* signed
    wanted = np.stack(
        [
            coded[..., 0] / 2.55,
            coded[..., 1].astype(np.uint8).view(np.int8),
            coded[..., 2].astype(np.uint8).view(np.int8),
        ],
        axis=-1,
    )
    light = softproof.soft_proof(
        softproof.copy_light(as_vips(inks, "CMYK"), output), output.condition
    )
    got = from_xyz(light.astype(np.float64))
    assert delta_e_2000(got, wanted).mean() < 0.6
    assert delta_e_2000(got, wanted).max() < 1.6
