"""RGB spaces against colour-science, Debian's ICC profiles, and a photograph made in opRGB."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np
import pytest
from conftest import need

from pressworthy.colour.icc import parse
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.spaces import SPACES, identify

# names under which colour-science (0.4.7) keeps the same open standards
COLOUR_SCIENCE = {
    "sRGB": "sRGB",
    "opRGB": "Adobe RGB (1998)",
    "ROMM RGB": "ROMM RGB",
    "Display P3": "Display P3",
    "Rec.2020": "ITU-R BT.2020",
    "eciRGB v2": "ECI RGB v2",
}
D50 = np.array([0.9642, 1.0, 0.8249])
SHARE = Path("/usr/share")

# Debian packages ghostscript, colord-data and argyll
KNOWN = {
    "color/icc/ghostscript/srgb.icc": "sRGB",
    "color/icc/ghostscript/a98.icc": "opRGB",
    "color/icc/ghostscript/rommrgb.icc": "ROMM RGB",
    "color/icc/colord/sRGB.icc": "sRGB",
    "color/icc/colord/ECI-RGBv2.icc": "eciRGB v2",
    "color/argyll/ref/sRGB.icm": "sRGB",
    "color/argyll/ref/DisplayP3.icm": "Display P3",
    "color/argyll/ref/Rec2020.icm": "Rec.2020",
    # the sRGB colorants with another tone curve, and eciRGB's with gamma 1.8: neither may pass
    "color/icc/colord/Rec709.icc": "",
    "color/argyll/ref/Rec709.icm": "",
    "color/icc/colord/ECI-RGBv1.icc": "",
}


@pytest.mark.parametrize("name", SPACES)
def test_colorants_are_the_standards_adapted_to_d50(name: str) -> None:
    """Bradford adaptation of the primaries in colour-science, to 0.0004."""
    space = colour.RGB_COLOURSPACES[COLOUR_SCIENCE[name]]
    white = colour.xy_to_XYZ(space.whitepoint)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, D50, "Bradford")
    rows = (adapt @ colour.normalised_primary_matrix(space.primaries, space.whitepoint)).T
    assert np.abs(rows - SPACES[name].colorants).max() < 4e-4
    assert np.abs(SPACES[name].colorants.sum(axis=0) - D50).max() < 5e-4


@pytest.mark.parametrize("name", SPACES)
def test_decoding_is_colour_sciences(name: str) -> None:
    values = np.linspace(0, 1, 101)
    theirs = colour.RGB_COLOURSPACES[COLOUR_SCIENCE[name]].cctf_decoding(values)
    assert np.abs(SPACES[name].decode(values) - theirs).max() < 5e-4


def test_decoded_middle_values() -> None:
    """decode(0.5), computed from the standards' formulas with numpy."""
    worked = {
        "sRGB": 0.21404,
        "opRGB": 0.21776,
        "ROMM RGB": 0.28717,
        "Display P3": 0.21404,
        "Rec.2020": 0.25972,
        "eciRGB v2": 0.18419,
    }
    for name, value in worked.items():
        assert SPACES[name].decode(np.array(0.5)) == pytest.approx(value, abs=2e-5)


@pytest.mark.parametrize("path", KNOWN)
def test_profiles_by_other_makers_are_recognised(path: str) -> None:
    file = Path(need(SHARE / path))
    assert identify(parse(file.read_bytes())) == KNOWN[path]


@pytest.mark.parametrize("name", SPACES)
def test_our_own_profiles_are_recognised(name: str) -> None:
    assert identify(parse(rgb_profile(name))) == name


def test_a_photograph_made_in_oprgb() -> None:
    """skimage.data rocket (public domain): its embedded profile really is opRGB."""
    skimage = pytest.importorskip("skimage.data")
    path = Path(skimage.__file__).parent / "rocket.jpg"
    from PIL import Image

    with Image.open(path) as image:
        profile = parse(image.info["icc_profile"])
    assert identify(profile) == "opRGB"
    colorants = profile.colorants()
    assert colorants is not None
    assert colorants[0] == pytest.approx([0.60974, 0.31111, 0.01947], abs=2e-5)
