"""Finding files again by content, on the photographs that scikit-image carries.

Sixteen of them, two a stereo pair of one scene, as unlike one another as an issue's pictures are;
each is sought in what printing and page making do to it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import skimage
from PIL import Image, ImageFilter

from pressworthy.files.matching import Known, Match, fingerprint, matches
from pressworthy.files.opening import decode, read_header
from pressworthy.plugins import Registry

NAMES = (
    "astronaut.png", "brick.png", "camera.png", "chelsea.png", "coffee.png", "coins.png",
    "grass.png", "gravel.png", "hubble_deep_field.jpg", "ihc.png", "moon.png",
    "motorcycle_left.png", "motorcycle_right.png", "page.png", "retina.jpg", "rocket.jpg",
)  # fmt: skip


def known(path: Path) -> Known:
    header = read_header(path)
    return Known(path, header, fingerprint(path, header))


def changed(photo: Image.Image, how: str, path: Path, inks: Path) -> Path:
    """Write the photograph as a page, a press or an editor may have changed it."""
    rgb = photo.convert("RGB")
    if how == "small":
        rgb.resize((photo.width * 2 // 5, photo.height * 2 // 5)).save(path / "c.jpg", quality=40)
    elif how == "gray":
        rgb.convert("L").save(path / "c.jpg", quality=80)
    elif how == "inks":
        from PIL import ImageCms

        turn = ImageCms.buildTransform(ImageCms.createProfile("sRGB"), str(inks), "RGB", "CMYK")
        done = ImageCms.applyTransform(rgb, turn)
        assert done is not None
        done.save(path / "c.jpg", quality=80)
    elif how == "lighter":
        Image.fromarray((255 * (np.asarray(rgb) / 255) ** 0.7).astype(np.uint8)).save(
            path / "c.jpg"
        )
    else:
        rgb.filter(ImageFilter.UnsharpMask(2, 150, 0)).save(path / "c.jpg", quality=80)
    return path / "c.jpg"


@pytest.fixture(scope="module")
def photos() -> list[Known]:
    folder = Path(skimage.__file__).parent / "data"
    return [known(folder / name) for name in NAMES]


@pytest.mark.parametrize("how", ["small", "gray", "inks", "lighter", "sharpened"])
def test_a_changed_photograph_is_found_and_no_other(
    how: str, photos: list[Known], tmp_path: Path, registry: Registry
) -> None:
    inks = registry.condition_folders[0] / "coated" / "cmyk.icc"
    for one in photos:
        path = changed(Image.open(one.path), how, tmp_path, inks)
        found: list[Match] = matches(fingerprint(path, read_header(path)), photos)
        assert found, one.path.name
        assert found[0].known is one
        assert not found[0].same
        pair = {"motorcycle_left.png", "motorcycle_right.png"}
        others = {match.known.path.name for match in found[1:]}
        assert others <= (pair if one.path.name in pair else set())


@pytest.mark.parametrize(
    "box",
    [(0.5, 0.0, 0.5, 0.9), (0.3, 0.35, 0.4, 0.45)],
)
def test_a_cut_out_is_found_with_its_place(
    box: tuple[float, float, float, float], photos: list[Known], tmp_path: Path
) -> None:
    left, top, width, height = box
    lost = []
    for one in photos:
        photo = Image.open(one.path).convert("RGB")
        w, h = photo.size
        part = photo.crop(
            (round(left * w), round(top * h), round((left + width) * w), round((top + height) * h))
        )
        part.resize((part.width * 3 // 4, part.height * 3 // 4)).save(
            tmp_path / "c.jpg", quality=70
        )
        found = matches(known(tmp_path / "c.jpg").print, photos)
        if not found:
            lost.append(one.path.name)
            continue
        assert found[0].known is one
        crop = found[0].part
        assert crop is not None
        told = (crop.left, crop.top, crop.width, crop.height)
        assert told == pytest.approx(box, abs=0.03), one.path.name
    # a lawn, gravel and bricks are alike everywhere: at most those may be lost
    assert set(lost) <= {"grass.png", "gravel.png", "brick.png"}


def test_a_turned_file_is_known_upright(photos: list[Known], tmp_path: Path) -> None:
    photo = Image.open(photos[0].path).crop((0, 0, 512, 300))
    photo.save(tmp_path / "u.png")
    # EXIF orientation -> how a camera that stores it holds the pixels
    stored = {
        2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90, 7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }  # fmt: skip
    upright = known(tmp_path / "u.png")
    for orientation, turn in stored.items():
        exif = Image.Exif()
        exif[0x0112] = orientation
        path = tmp_path / f"{orientation}.jpg"
        photo.transpose(turn).save(path, quality=95, exif=exif)
        (match,) = matches(known(path).print, [upright])
        assert match.likeness > 0.95, orientation


def test_plain_grounds_are_known_by_their_pixels_only(tmp_path: Path) -> None:
    for name, level in (("a.png", 120), ("b.png", 121)):
        Image.new("RGB", (90, 60), (level, level, level)).save(tmp_path / name)
    both = [known(tmp_path / "a.png"), known(tmp_path / "b.png")]
    shown = fingerprint(both[1].path, both[1].header, decode(both[1].path))
    (match,) = matches(shown, both)
    assert match.known is both[1] and match.same
