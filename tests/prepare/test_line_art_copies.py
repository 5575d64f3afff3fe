"""Copies of line art: the master's own pixels in 1 bit, packed as faxes are, at its placed size."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import pyvips
from conftest import need
from pdf_writer import stream, write_pages
from PIL import Image

from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.files.opening import read_header
from pressworthy.files.pages import survey
from pressworthy.house import House
from pressworthy.jobs import Run
from pressworthy.jobs.pages import check_pages, known_files
from pressworthy.jobs.preparing import prepare_copy
from pressworthy.measure.ticket import pixel_hash
from pressworthy.plugins import Registry
from pressworthy.prepare import Made, Order, Refused
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.placement import Crop, PlacementRequest

LINES = np.where(draw(1260, 945, channels=1) > 128, np.uint8(255), np.uint8(0))


@pytest.fixture
def lines(tmp_path: Path) -> Path:
    return write_picture(
        tmp_path / "lines.tif", LINES, mode="gray", icc=None, bitdepth=1, words=CREDITED, ppi=800
    )


def read(path: Path, *tags: str) -> list[str]:
    named = [f"-{tag}" for tag in tags]
    return subprocess.run(
        [need("exiftool"), "-s3", *named, str(path)], capture_output=True, text=True, check=True
    ).stdout.splitlines()  # fmt: skip


@pytest.mark.parametrize("house", ["coated-magazine", "newsprint", "mono"])
def test_a_copy_has_its_masters_pixels_and_the_size_of_its_box(
    house: str, lines: Path, prepared: Callable[..., Made]
) -> None:
    made = prepared(lines, house, size=(40, 30))
    path = made.copy.path
    assert made.steps == ("kept 1260 x 945 px at 800 ppi, in 1 bit",)
    with Image.open(path) as image:
        assert image.mode == "1" and image.info["compression"] == "group4"
        assert (np.asarray(image) == (LINES[..., 0] > 0)).all()
    tags = read(path, "BitsPerSample", "Compression", "XResolution", "ResolutionUnit")
    assert tags[:2] == ["1", "T6/Group 4 Fax"] and tags[3] == "inches"
    assert 1260 / float(tags[2]) * 25.4 == pytest.approx(40, abs=0.01)
    assert made.copy.header.is_line_art
    # its words, and a ticket that holds
    assert read(path, "XMP-dc:Creator") == [CREDITED["creator"]]
    ticket = read_ticket(read_header(path).xmp)
    assert ticket is not None and ticket.pixels == pixel_hash(made.copy)
    before = path.read_bytes()
    assert not prepared(lines, house, size=(40, 30)).fresh
    assert prepared(lines, house, size=(40, 30), force=True).copy.path.read_bytes() == before
    with pytest.raises(Refused, match="it is a prepared copy"):
        prepared(path, house, size=(40, 30), name="again.tif")


def test_it_is_cut_and_never_resampled(lines: Path, prepared: Callable[..., Made]) -> None:
    request = PlacementRequest((20, 30), crop=Crop(0.25, 0, 0.5, 1))
    made = prepared(lines, request=request)
    assert made.steps[0] == "cropped to 630 x 945 px"
    pixels = pyvips.Image.new_from_file(str(made.copy.path)).numpy()
    assert (pixels.squeeze() == LINES[:, 315:945, 0]).all()


def test_one_that_lies_on_its_side_stands_up(tmp_path: Path, prepared: Callable[..., Made]) -> None:
    path = write_picture(
        tmp_path / "side.tif", LINES, mode="gray", icc=None, bitdepth=1, words=CREDITED,
        fields={"orientation": 6},
    )  # fmt: skip
    made = prepared(path, size=(30, 40))
    pixels = pyvips.Image.new_from_file(str(made.copy.path)).numpy()
    assert (pixels.squeeze() == np.rot90(LINES[..., 0], -1)).all()


@pytest.mark.parametrize(("mm", "codes"), [(40, set()), (60, {"line-art/too-few-pixels"})])
def test_the_copy_is_judged_and_what_it_lacks_stays_a_finding(
    mm: float, codes: set[str], lines: Path, tmp_path: Path, coated: House, registry: Registry
) -> None:
    order = Order(lines, tmp_path / "copy.tif", PlacementRequest((mm, mm * 0.75)))
    verdict = prepare_copy(order, coated, Run(registry, processes=1))
    assert {f"{rule}/{one.code}" for rule, one in verdict.findings()} == codes
    assert not verdict.unjudged()


def test_what_would_blur_it_is_refused_in_words(
    lines: Path, coated: House, prepared: Callable[..., Made]
) -> None:
    with pytest.raises(Refused, match="would be pulled to fill its box"):
        prepared(lines, request=PlacementRequest((40, 40), fit="stretch"))
    assert coated.prepare is not None
    jpegs = replace(coated, prepare={**coated.prepare, "format": "JPEG", "quality": 90})
    with pytest.raises(Refused, match="which a JPEG does not hold"):
        prepared(lines, jpegs, size=(40, 30), name="copy.jpg")


@pytest.mark.parametrize(("mm", "codes"), [(40, set()), (60, {"too-few-pixels", "other-size"})])
def test_a_copy_on_a_page_is_judged_as_line_art_and_found_again(
    mm: float, codes: set[str], lines: Path, tmp_path: Path, coated: House, registry: Registry,
    prepared: Callable[..., Made],
) -> None:  # fmt: skip
    made = prepared(lines, size=(40, 30))
    bits = stream(
        "/Type /XObject /Subtype /Image /Width 1260 /Height 945 /BitsPerComponent 1 "
        "/ColorSpace /DeviceGray",
        np.packbits(LINES[..., 0] > 0, axis=1).tobytes(),
    )
    across, down = (side / 25.4 * 72 for side in (mm, mm * 0.75))
    page = "/MediaBox [0 0 500 700] /TrimBox [0 0 500 700]"
    content = f"q {across} 0 0 {down} 100 100 cm /A Do Q"
    pdf = write_pages(tmp_path / "p.pdf", content, {"A": bits}, page=page)
    known = known_files([made.copy.path, lines], processes=1)
    report = check_pages(survey(pdf), known, coated, Run(registry, processes=1))
    (verdict,) = report.verdicts
    assert verdict.facts["found"]["file"] == str(made.copy.path)
    assert verdict.facts["found"]["same"]
    told = {one.code for _, one in verdict.findings()} - {"no-intent"}
    assert told == codes
    assert {rule for rule, one in verdict.findings() if one.code == "too-few-pixels"} <= {
        "line-art"
    }
