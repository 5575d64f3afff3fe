"""One look through a picture keeps what the whole picture in memory would give."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from numpy.typing import NDArray

from pressworthy.files import opening
from pressworthy.files.opening import hash_pixels
from pressworthy.measure import pixels as measured
from pressworthy.measure.pixels import (
    busy_places,
    decode_now,
    lost_pixels,
    pixels,
    small_copy,
    survey,
    tiles,
)
from pressworthy.measure.press import ink_coverage
from pressworthy.measure.survey import MOST_TILES, SMALL_PX, TILE, look_through, tile_places
from pressworthy.measure.ticket import pixel_hash
from pressworthy.testing import a_picture, draw, write_picture
from pressworthy.values.finding import Unmeasured

# one pixel, rows that end in less than half a step of the small copy and in more, narrow ones
SIZES = [(1, 1), (640, 480), (1501, 1207), (1499, 1203), (4097, 70), (70, 4097)]


def shrunk(image: Any) -> NDArray[Any]:
    factor = max(1, math.floor(math.sqrt(image.width * image.height / SMALL_PX)))
    across, down = min(factor, image.width), min(factor, image.height)
    small = image.shrink(across, down) if factor > 1 else image
    return np.asarray(small.numpy()).reshape(small.height, small.width, -1)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("depth", "space"), [(8, "srgb"), (16, "rgb16")])
def test_as_the_whole_picture_gives_it(size: tuple[int, int], depth: int, space: str) -> None:
    image = pyvips.Image.new_from_array(draw(*size, depth=depth)).copy(interpretation=space)
    seen = look_through(image, "RGB", hashed=True)
    assert np.array_equal(seen.small, shrunk(image))
    assert seen.digest == hash_pixels(image)
    assert seen.drawn.shape == seen.small.shape[:2] and seen.drawn.all()
    for (left, top), tile in seen.tiles.items():
        part = image.crop(left, top, tile.shape[1], tile.shape[0]).numpy()
        assert np.array_equal(tile, part.reshape(tile.shape))
        assert tile.shape[:2] == (min(TILE, size[1] - top), min(TILE, size[0] - left))


def test_what_is_transparent() -> None:
    values = draw(1501, 1207, channels=4)
    values[:, :, 3] = np.linspace(0, 255, 1501)
    image = pyvips.Image.new_from_array(values).copy(interpretation="srgb")
    seen, laid = look_through(image, "RGB", hashed=True), opening.opaque(image, "RGB")
    assert np.array_equal(seen.small, shrunk(laid)) and seen.digest == hash_pixels(laid)
    assert np.array_equal(seen.drawn, shrunk(opening.is_inked(image, 3))[..., 0] >= 128)
    assert 0 < seen.drawn.mean() < 1


def test_the_busiest_tiles_of_a_large_picture() -> None:
    rng = np.random.default_rng(2)
    values = np.full((2600, 3600, 3), 128, np.uint8)
    places = tile_places(3600, 2600)
    for rank, number in enumerate(rng.permutation(len(places))):
        left, top = places[number]
        part = values[top : top + TILE, left : left + TILE]
        part[:] = np.clip(128 + rng.normal(0, 1 + 4 * rank, part.shape), 0, 255)
    seen = look_through(pyvips.Image.new_from_array(values), "RGB", hashed=False)
    assert len(places) > len(seen.tiles) == MOST_TILES
    grey = seen.small.astype(np.float32).mean(axis=2)
    detail = np.abs(np.diff(grey, axis=0))[:, :-1] + np.abs(np.diff(grey, axis=1))[:-1]
    scale = grey.shape[1] / 3600
    side = int(TILE * scale)

    def busy(place: tuple[int, int]) -> float:
        left, top = (int(v * scale) for v in place)
        return float(detail[top : top + side, left : left + side].mean())

    assert list(seen.tiles) == sorted(places, key=busy, reverse=True)[:MOST_TILES]
    for (left, top), tile in seen.tiles.items():
        assert np.array_equal(tile, values[top : top + TILE, left : left + TILE])


def test_tiles_stand_in_the_order_of_the_page(tmp_path: Path) -> None:
    values = draw(1536, 512)
    values[:, :1024] = 128
    picture = a_picture(write_picture(tmp_path / "p.png", values))
    assert busy_places(picture, 1) == [(1024, 0)]
    assert [bool(tile.std() > 1) for tile in tiles(picture)] == [False, False, True]


def test_inks_are_summed_over_every_pixel(tmp_path: Path) -> None:
    inks = np.zeros((1300, 1300, 4), np.uint8)
    inks[700, 701] = 255, 255, 255, 127
    for values in (inks, inks.astype(np.uint16) * 257):
        path = write_picture(tmp_path / "p.tif", values, mode="CMYK", icc=None)
        seen = ink_coverage(a_picture(path))
        assert seen.most == pytest.approx(892 / 2.55)
        assert seen.histogram[892] == pytest.approx(1 / 1300**2)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_each_sum_of_inks_is_counted(dtype: Any) -> None:
    # all sums from none to four whole inks; 16 bits are rounded to 8
    inks = np.random.default_rng(3).integers(0, 256, (90, 110, 4))
    inks[0] = np.clip(np.arange(110)[:, None] * 10 - np.arange(4) * 255, 0, 255)
    inks[1, 0] = 255
    values = inks.astype(dtype)
    if dtype == np.uint16:
        values = values * np.uint16(257) + np.uint16(128) * (inks < 255).astype(np.uint16)
    image = pyvips.Image.new_from_array(values).copy(interpretation="cmyk")
    seen = look_through(image, "CMYK", hashed=False)
    assert (seen.ink == np.bincount(inks.sum(axis=2).ravel(), minlength=1021)).all()


@pytest.mark.parametrize("first", [pixel_hash, small_copy])
def test_one_look_serves_all(first: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture = a_picture(write_picture(tmp_path / "p.png", draw()))
    opened: list[Path] = []
    stream = opening.stream

    def watched(path: Path, **how: Any) -> Any:
        opened.append(path)
        return stream(path, **how)

    monkeypatch.setattr(measured, "stream", watched)
    first(picture)
    assert len(tiles(picture)) == 1 and small_copy(picture).size
    assert len(opened) == 1
    assert pixel_hash(picture) == hash_pixels(pixels(picture))


def test_pixels_that_are_there_are_not_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = a_picture(write_picture(tmp_path / "p.png", draw()))
    whole = pixels(picture)
    monkeypatch.setattr(measured, "stream", None)
    assert np.array_equal(small_copy(picture), shrunk(whole))


@pytest.mark.parametrize(
    ("subsample", "width", "height"),
    [("on", 2100, 960 + more) for more in (0, 1, 7, 8, 9, 15)]
    + [("off", 777, height) for height in (3, 24, 31, 33)],
)
def test_a_jpeg_is_decoded_once_and_its_end_seen(
    subsample: str, width: int, height: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "p.jpg"
    image = pyvips.Image.new_from_array(draw(width, height)).copy(interpretation="srgb")
    image.jpegsave(str(path), Q=80, subsample_mode=subsample)
    plain = look_through(opening.stream(path, strict=True), "RGB", hashed=False)
    monkeypatch.setattr(measured, "stream", None)
    monkeypatch.setattr(measured, "lost_in_step", None)
    picture = a_picture(path)
    assert lost_pixels(picture) == ""
    off = np.abs(survey(picture).small.astype(int) - plain.small)
    assert off[:-1].sum() == 0 and off.max() <= (8 if subsample == "on" else 0)
    # kept whole meanwhile, it is looked at no more
    monkeypatch.setattr(measured, "decode", None)
    kept = a_picture(path)
    decode_now(kept)
    monkeypatch.setattr(measured, "in_step", None)
    assert lost_pixels(kept) == ""
    assert np.array_equal(small_copy(kept), survey(picture).small)
    whole = opening.decode(path)
    off = np.abs(pixels(kept).numpy().astype(int) - whole.numpy())
    assert off[:-1].sum() == 0 and off.max() <= (8 if subsample == "on" else 0)
    assert pixels(kept).interpretation == whole.interpretation


@pytest.mark.parametrize("size", [(333, 96), (2100, 960)])
def test_a_hash_is_of_the_pixels_as_they_are(size: tuple[int, int], tmp_path: Path) -> None:
    path = tmp_path / "p.jpg"
    image = pyvips.Image.new_from_array(draw(*size)).copy(interpretation="srgb")
    image.jpegsave(str(path), Q=80, subsample_mode="on")
    whole = pyvips.Image.new_from_file(str(path))
    assert pixel_hash(a_picture(path)) == hash_pixels(whole)
    small = small_copy(a_picture(path))
    assert (size[0] > 2000) or np.array_equal(small, shrunk(whole))


def test_damage_is_told_as_when_it_is_read_whole(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.jpg", draw(1600, 1200))
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    for measure in (survey, pixels, pixel_hash):
        with pytest.raises(Unmeasured, match="damaged or cut short"):
            measure(a_picture(path))


@pytest.mark.parametrize("part", [0.5, 0.999])
def test_damage_is_told_of_what_was_to_be_kept_whole(part: float, tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.jpg", draw(1600, 1200))
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * part)])
    picture = a_picture(path)
    decode_now(picture)
    for measure in (survey, pixels, lost_pixels):
        with pytest.raises(Unmeasured, match="damaged or cut short"):
            measure(picture)


def test_a_jpeg_that_is_too_large_for_memory_waits_in_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_picture(tmp_path / "p.jpg", draw(640, 480))
    monkeypatch.setattr(opening, "IN_MEMORY_BYTES", 640 * 480)
    assert opening.in_step(path, exactly=True)
    assert opening.in_step(path, exactly=True, kept=True) is None
    picture = a_picture(path)
    decode_now(picture)
    assert np.array_equal(small_copy(picture), small_copy(a_picture(path)))
