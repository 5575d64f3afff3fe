"""Finished copies against LittleCMS' own conversion and exiftool's reading of the file."""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from pathlib import Path

import colour
import numpy as np
import pytest
import pyvips
from conftest import need

from pressworthy.colour.convert import to_lab
from pressworthy.house import House, load_house
from pressworthy.measure.pixels import pixels
from pressworthy.plugins import Registry
from pressworthy.prepare import Order, make
from pressworthy.testing import CREDITED, write_picture
from pressworthy.values.placement import PlacementRequest


def untouched(house: House, **changes: object) -> House:
    """Return the house with no sharpening and no tone curve: conversion alone is left."""
    assert house.prepare is not None
    section = {**house.prepare, "amount": 0, **changes}
    return replace(house, prepare=section, output=replace(house.output, steepest=1.0))


def a_photograph() -> np.ndarray:
    from skimage import data

    return np.asarray(data.astronaut())  # public domain, per its docstring


@pytest.mark.parametrize("house", ["coated-magazine", "newsprint", "mono", "screen"])
@pytest.mark.parametrize("space", ["sRGB", "opRGB", "ROMM RGB"])
@pytest.mark.parametrize("intent", ["relative", "perceptual"])
def test_the_conversion_is_littlecms_own(
    house: str, space: str, intent: str, registry: Registry, tmp_path: Path
) -> None:
    """Mean dE00 below 0.5 against one direct LittleCMS transform at 16 bits."""
    values = a_photograph()
    path = write_picture(tmp_path / "master.png", values, icc=space)
    loaded = untouched(load_house(house, registry), intent=intent, format="TIFF", compression="lzw")
    side = 512 / loaded.output.ppi * 25.4
    made = make(Order(path, tmp_path / "copy.tif", PlacementRequest((side, side))), loaded)
    output = made.copy.output
    profile = output.condition.profiles[output.colour]
    direct = pyvips.Image.new_from_file(str(path)).icc_transform(
        str(profile), embedded=True, intent=intent, black_point_compensation=True, depth=16
    )
    icc, mode = profile.read_bytes(), made.copy.header.mode

    def seen(image: pyvips.Image) -> np.ndarray:
        array = np.asarray(image.numpy())
        return to_lab(array.reshape(*array.shape[:2], -1), mode, icc)

    apart = colour.delta_E(seen(pixels(made.copy)), seen(direct), method="CIE 2000")
    assert apart.shape == (512, 512)
    assert apart.mean() < 0.5
    # the copy has 8 bits, and colours outside the output are cut off at slightly other places
    assert np.percentile(apart, 99) < 2.0


def test_exiftool_reads_the_copy(registry: Registry, tmp_path: Path) -> None:
    exiftool = need("exiftool")
    master = write_picture(tmp_path / "master.jpg", a_photograph(), words=CREDITED, Q=92)
    subprocess.run(
        [
            exiftool, "-q", "-overwrite_original", "-XMP-dc:Subject=orange", "-XMP-dc:Subject=suit",
            "-XMP-photoshop:Headline=Portrait", "-IPTC:Headline=Portrait", "-IPTC:By-line=A. Maker",
            "-GPSLatitude=54.5", "-GPSLatitudeRef=N", "-EXIF:SerialNumber=12345",
            "-XMP-xmpMM:DocumentID=xmp.did:1", "-XMP-crs:Exposure2012=+1", str(master),
        ],
        check=True,
    )  # fmt: skip
    for house, name in (("coated-magazine", "copy.tif"), ("screen", "copy.jpg")):
        loaded = load_house(house, registry)
        request = PlacementRequest((40, 40))
        make(Order(master, tmp_path / name, request, scale=float(house == "screen")), loaded)
        done = subprocess.run(
            [exiftool, "-json", "-G1", "-struct", "-a", str(tmp_path / name)],
            check=True, capture_output=True, text=True,
        )  # fmt: skip
        read = json.loads(done.stdout)[0]
        assert read["XMP-dc:Creator"] == ["A. Maker"]
        assert read["XMP-dc:Rights"] == CREDITED["copyright"]
        assert read["XMP-dc:Description"] == CREDITED["caption"]
        assert read["XMP-photoshop:Credit"] == CREDITED["credit"]
        assert read["XMP-dc:Subject"] == ["orange", "suit"]
        assert read["XMP-photoshop:Headline"] == read["IPTC:Headline"] == "Portrait"
        assert read["XMP-ticket:House"] == house
        profile = loaded.output.condition.profiles[loaded.output.colour]
        icc = subprocess.run(
            [exiftool, "-b", "-ICC_Profile", str(tmp_path / name)], check=True, capture_output=True
        ).stdout
        assert icc == profile.read_bytes()
        lost = "GPS", "SerialNumber", "Thumbnail", "XMP-crs", "XMP-xmpMM"
        assert not [key for key in read if any(word in key for word in lost)]
        resolution = read.get("IFD0:XResolution")
        assert resolution == pytest.approx(300 if house == "coated-magazine" else 96)
        assert read["IFD0:ResolutionUnit"] == "inches"
        assert "Warning" not in " ".join(read)
