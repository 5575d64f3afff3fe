"""Size and ppi on page PDFs against poppler's pdfimages and against figures worked out by hand.

The PDFs are written by reportlab and by cairo, two unrelated libraries.
"""

from __future__ import annotations

import io
import math
import subprocess
from pathlib import Path

import numpy as np
import pytest
import pyvips
from conftest import need
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.matching import Known, fingerprint, matches
from pressworthy.files.opening import decode, read_header
from pressworthy.files.pages import extract, survey
from pressworthy.testing import draw, write_picture

MM = 72 / 25.4
SIZE = (1680, 1050)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("files")
    rgb = Image.fromarray(draw(*SIZE))
    rgb.save(folder / "rgb.jpg", quality=90, icc_profile=rgb_profile("opRGB"))
    rgb.convert("CMYK").save(folder / "inks.jpg", quality=90)
    rgb.save(folder / "rgb.png")
    rgb.convert("L").save(folder / "gray.png")
    return {path.name: path for path in folder.iterdir()}


@pytest.fixture(scope="module")
def by_reportlab(files: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pdf") / "reportlab.pdf"
    page = canvas.Canvas(str(path), pagesize=(210 * MM, 297 * MM))
    page.drawImage(ImageReader(str(files["rgb.jpg"])), 20 * MM, 20 * MM, 60 * MM, 30 * MM)
    page.drawImage(ImageReader(str(files["inks.jpg"])), 20 * MM, 60 * MM, 61.3 * MM, 41.7 * MM)
    page.drawImage(ImageReader(str(files["gray.png"])), 20 * MM, 120 * MM, 160 * MM, 100 * MM)
    page.showPage()
    page.drawImage(ImageReader(str(files["rgb.png"])), 0, 0, 210 * MM, 297 * MM)
    page.translate(100 * MM, 100 * MM)
    page.rotate(30)
    page.drawImage(ImageReader(str(files["rgb.jpg"])), 0, 0, 60 * MM, 30 * MM)
    page.showPage()
    page.save()
    return path


@pytest.fixture(scope="module")
def by_cairo(files: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    try:
        import cairocffi as cairo
    except OSError:  # the binding is there, cairo itself is not
        need("libcairo.so.2")
        raise
    path = tmp_path_factory.mktemp("pdf") / "cairo.pdf"
    surface = cairo.PDFSurface(str(path), 210 * MM, 297 * MM)
    context = cairo.Context(surface)
    png = io.BytesIO(files["rgb.png"].read_bytes())
    picture = cairo.ImageSurface.create_from_png(png)
    for x, y, width, height, turn in (
        (20, 20, 60, 30, 0), (20, 90, 84, 52.5, 0), (110, 180, 60, 30, -30),
    ):  # fmt: skip
        context.save()
        context.translate(x * MM, y * MM)
        context.rotate(math.radians(turn))
        context.scale(width * MM / SIZE[0], height * MM / SIZE[1])
        context.set_source_surface(picture)
        context.paint()
        context.restore()
    surface.finish()
    return path


def listed(path: Path) -> list[tuple[int, int, int, float, float]]:
    """Return page, width, height and both ppi of each picture, as pdfimages -list gives them."""
    call = [need("pdfimages"), "-list", str(path)]
    done = subprocess.run(call, capture_output=True, text=True, check=True)
    rows = [line.split() for line in done.stdout.splitlines()[2:]]
    return [
        (int(row[0]), int(row[3]), int(row[4]), float(row[12]), float(row[13]))
        for row in rows
        if row[2] == "image"
    ]


@pytest.mark.parametrize("writer", ["by_reportlab", "by_cairo"])
def test_every_picture_is_found_at_popplers_ppi(
    writer: str, request: pytest.FixtureRequest
) -> None:
    path = request.getfixturevalue(writer)
    ours, theirs = survey(path, "media"), listed(path)
    assert len(ours) == len(theirs) >= 3
    for one, (page, width, height, across, down) in zip(ours, theirs, strict=True):
        assert (one.index + 1, one.width, one.height) == (page, width, height)
        assert one.facts["ppi"] == pytest.approx([across, down], abs=1)


@pytest.mark.parametrize("writer", ["by_reportlab", "by_cairo"])
def test_a_turned_picture_by_hand(writer: str, request: pytest.FixtureRequest) -> None:
    # 1680 px on 60 mm, 1050 px on 30 mm, at 30 degrees
    turned = survey(request.getfixturevalue(writer), "media")[-1]
    assert turned.facts["turn"] == pytest.approx(30, abs=0.01)
    assert turned.facts["placed"] == pytest.approx([60, 30], abs=0.01)
    assert turned.facts["ppi"] == pytest.approx([711.2, 889.0], abs=0.1)
    # its corners reach 60 cos 30 to the right of, and 30 sin 30 to the left of its origin
    sides = {name: round(mm, 1) for name, mm in turned.facts["trim"].items()}
    if writer == "by_reportlab":
        right = 110 - 60 * math.cos(math.radians(30))
        assert sides["right"] == pytest.approx(right, abs=0.1)
        assert sides["left"] == pytest.approx(100 - 30 * math.sin(math.radians(30)), abs=0.1)
        assert sides["bottom"] == pytest.approx(100, abs=0.1)


def test_pixels_of_both_writers_are_those_of_the_files(
    by_reportlab: Path, by_cairo: Path, files: dict[str, Path], tmp_path: Path
) -> None:
    first, inks, gray, lossless, _ = survey(by_reportlab, "media")
    got = extract(first, tmp_path)
    assert got.path.read_bytes() == files["rgb.jpg"].read_bytes()
    # by the PDF that writer leaves the file's own profile out: it does not count
    assert got.header.icc is None
    for one, name in ((gray, "gray.png"), (lossless, "rgb.png")):
        wanted = np.asarray(Image.open(files[name]))
        values = pyvips.Image.new_from_file(str(extract(one, tmp_path).path)).numpy()
        np.testing.assert_array_equal(values.reshape(wanted.shape), wanted)
    # inverted as JPEG stores inks, and turned back by the writer's Decode array
    wanted = np.asarray(Image.open(files["inks.jpg"])).astype(int)
    values = pyvips.Image.new_from_file(str(extract(inks, tmp_path).path)).numpy()
    assert np.abs(values - wanted).max() <= 2
    values = pyvips.Image.new_from_file(
        str(extract(survey(by_cairo, "media")[0], tmp_path).path)
    ).numpy()
    np.testing.assert_array_equal(values, np.asarray(Image.open(files["rgb.png"])))


def test_each_is_found_again_among_the_files(
    by_reportlab: Path, files: dict[str, Path], tmp_path: Path
) -> None:
    known = []
    for path in files.values():
        header = read_header(path)
        known.append(Known(path, header, fingerprint(path, header)))
    for seed in range(2, 6):
        other = write_picture(tmp_path / f"{seed}.jpg", 255 - draw(*SIZE, seed=seed))
        header = read_header(other)
        known.append(Known(other, header, fingerprint(other, header)))
    names = ["rgb.jpg", "inks.jpg", "gray.png", "rgb.png", "rgb.jpg"]
    for one, name in zip(survey(by_reportlab, "media"), names, strict=True):
        got = extract(one, tmp_path)
        found = matches(fingerprint(got.path, got.header, decode(got.path)), known)
        assert found[0].known.path.name == name
        assert found[0].same
        # the same picture in other colours, and none of the others
        assert {match.known.path.name for match in found} == set(files)
