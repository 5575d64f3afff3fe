"""JPEG quality against the tables of ITU-T T.81 annex K, as Pillow scales and writes them."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from pressworthy.measure.jpeg import blockiness, jpeg_quality, scaled_tables
from pressworthy.testing import a_picture


def test_tables_of_the_standard() -> None:
    """First eight luma entries and the sums, worked from annex K by the usual scaling."""
    first = {
        50: [16, 11, 10, 16, 24, 40, 51, 61],
        75: [8, 6, 5, 8, 12, 20, 26, 31],
        90: [3, 2, 2, 3, 5, 8, 10, 12],
        95: [2, 1, 1, 2, 2, 4, 5, 6],
    }
    sums = {50: (3688, 5505), 75: (1858, 2780), 85: (1109, 1666), 90: (736, 1110), 92: (592, 891),
            95: (369, 558), 98: (151, 224)}  # fmt: skip
    for quality, row in first.items():
        assert list(scaled_tables(quality)[0][:8]) == row
    for quality, pair in sums.items():
        assert tuple(int(table.sum()) for table in scaled_tables(quality)) == pair


def test_every_quality_is_recovered_exactly(tmp_path: Path) -> None:
    image = Image.fromarray(np.full((16, 16, 3), 128, np.uint8))
    for quality in range(1, 101):
        path = tmp_path / f"{quality}.jpg"
        image.save(path, quality=quality)
        assert jpeg_quality(a_picture(path)) == quality


def test_foreign_tables_give_the_nearest_quality(tmp_path: Path) -> None:
    tables = [[int(v) for v in table] for table in scaled_tables(80)]
    tables[0][5] += 1
    path = tmp_path / "foreign.jpg"
    Image.new("RGB", (16, 16), "gray").save(path, qtables=tables)
    assert jpeg_quality(a_picture(path)) == 80


def test_blockiness_of_a_photograph(tmp_path: Path) -> None:
    """skimage.data astronaut (public domain): B/A computed by the paper's formula with numpy.

    Those figures take both directions together over the whole picture at the known phase; ours
    takes the weaker direction of tiles at an unknown phase, hence the tolerance.
    """
    data = pytest.importorskip("skimage.data")
    image = Image.fromarray(data.astronaut())
    worked = {95: 1.050, 75: 1.194, 50: 1.333, 30: 1.522, 10: 2.263}
    measured = {}
    for quality in worked:
        path = tmp_path / f"{quality}.jpg"
        image.save(path, quality=quality, subsampling=0)
        measured[quality] = blockiness(a_picture(path)).ratio
        assert measured[quality] == pytest.approx(worked[quality], rel=0.12)
    assert sorted(measured, key=lambda q: measured[q]) == sorted(worked, reverse=True)
    image.save(tmp_path / "clean.png")
    assert blockiness(a_picture(tmp_path / "clean.png")).ratio == pytest.approx(1.026, abs=0.05)


def test_a_crop_does_not_hide_the_grid(tmp_path: Path) -> None:
    data = pytest.importorskip("skimage.data")
    packed = io.BytesIO()
    Image.fromarray(data.astronaut()).save(packed, "JPEG", quality=30, subsampling=0)
    whole = Image.open(packed)
    ratios = []
    for shift in range(0, 8, 3):
        path = tmp_path / f"{shift}.png"
        whole.crop((shift, shift, 512, 512)).save(path)
        ratios.append(blockiness(a_picture(path)).ratio)
    assert max(ratios) - min(ratios) < 0.05
