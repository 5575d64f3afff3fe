"""Page PDFs of an issue's masters, written in code: pages with words, and pictures where we say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

import pikepdf
import pyvips
from sheets import TITLE

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.testing import draw, write_picture

MM = 72 / 25.4
SIZE = (210.0, 297.0)
BLEED = 5.0
"""mm of paper around the trim."""

Spot = tuple[Path, float, float, float, float]
"""A file, and in mm from the top left of the trim: left, top, width, height."""

WORDS = "The tide goes out over the flats, and the boats lie down each beside its own name."


def two_pages(issue: Path) -> Path:
    """Write an issue of two pictures, listed for two pages, and return its masters' folder."""
    masters = issue / "masters"
    masters.mkdir(parents=True)
    rows = ["picture,page,house,width,height"]
    for page, name in enumerate(("pier.jpg", "fog.jpg"), 1):
        write_picture(masters / name, draw(150, 112, seed=page), Q=90)
        rows.append(f"masters/{name},{page},{TITLE},50,37.5")
    (issue / "issue.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return masters


def write_issue(
    path: Path,
    pages: Iterable[Iterable[Spot]],
    *,
    size: tuple[float, float] = SIZE,
    words: int = 40,
    more: Mapping[int, Mapping[str, object]] | None = None,
) -> Path:
    """Write a PDF of pages with a TrimBox, their pictures over lines of words.

    more: page's index -> further entries of its dictionary.
    """
    with pikepdf.new() as pdf:
        font = pikepdf.Dictionary(
            Type=pikepdf.Name.Font,
            Subtype=pikepdf.Name.Type1,
            BaseFont=pikepdf.Name("/Times-Roman"),
        )
        profile = pdf.make_stream(rgb_profile("sRGB"), N=3)
        images: dict[Path, pikepdf.Stream] = {}
        width, height = ((side + 2 * BLEED) * MM for side in size)
        for index, spots in enumerate(pages):
            page = pdf.add_blank_page(page_size=(width, height))
            edge = BLEED * MM
            page.obj.TrimBox = pikepdf.Array([edge, edge, width - edge, height - edge])
            lines = [
                f"BT /F 9 Tf {edge + 15 * MM:.2f} {edge + (size[1] - 18 - 6 * n) * MM:.2f} Td "
                f"({WORDS}) Tj ET"
                for n in range(words)
            ]
            held = pikepdf.Dictionary()
            for number, (file, left, top, across, down) in enumerate(spots):
                if file not in images:
                    images[file] = _image(pdf, file, profile)
                held[f"/P{number}"] = images[file]
                x, y = edge + left * MM, edge + (size[1] - top - down) * MM
                lines.append(
                    f"q {across * MM:.3f} 0 0 {down * MM:.3f} {x:.3f} {y:.3f} cm /P{number} Do Q"
                )
            page.obj.Resources = pikepdf.Dictionary(XObject=held, Font=pikepdf.Dictionary(F=font))
            page.obj.Contents = pdf.make_stream("\n".join(lines).encode())
            for name, value in ((more or {}).get(index) or {}).items():
                page.obj[name] = value
        whole = path.with_name(f".{path.name}")
        pdf.save(whole)
        # as programs export: whole, in one step
        whole.replace(path)
    return path


def _image(pdf: pikepdf.Pdf, path: Path, profile: pikepdf.Stream) -> pikepdf.Stream:
    image = pyvips.Image.new_from_file(str(path))
    stream = pdf.make_stream(bytes(image.write_to_memory()))
    stream.Type, stream.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    stream.Width, stream.Height = image.width, image.height
    stream.ColorSpace = pikepdf.Array([pikepdf.Name.ICCBased, profile])
    stream.BitsPerComponent = 8
    return stream
