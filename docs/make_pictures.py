"""Makes every picture and figure of docs/tutorial.md and docs/print-look.md again:

    .venv/bin/python docs/make_pictures.py

Follows both pages from top to bottom in a folder of its own: writes the files they show, runs the
commands they quote, and names every quoted line that the program does not print. Then draws
docs/pictures/ from the masters, the marked proof (in Chromium) and the engine. About five minutes.

    .venv/bin/python docs/make_pictures.py --pages issue

writes only the two page PDFs of the tutorial, from the copies in issue/copies.
"""

from __future__ import annotations

import argparse
import base64
import os
import shlex
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from html import escape
from pathlib import Path
from typing import Any

import numpy as np
import pyvips

from following import follow
from pressworthy.colour.lab import D50
from pressworthy.files.opening import read_header
from pressworthy.house import House, load_house
from pressworthy.plugins import load
from pressworthy.prepare import Order, planned, render
from pressworthy.prepare.amount import Curve, derive, misfit
from pressworthy.print import softproof
from pressworthy.print.eye import as_seen, cpiq, low_pass, mm_per_degree, reach
from pressworthy.print.optics import blur_share, cropped, padded
from pressworthy.print.printlook import Part, dots_light, press_of, tones_of
from pressworthy.print.transfer import BANDS, Transfer
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.units import MM_PER_INCH

DOCS = Path(__file__).parent
ROOT = DOCS.parent
PICTURES = DOCS / "pictures"
PAGES = ("tutorial.md", "print-look.md")
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
STYLE = """
:root { --ink: #1d1b18; --soft: #5a554d; --hair: #cdc7b9; }
body { margin: 0; padding: 18px; width: max-content; background: #fcfbf7; color: var(--ink);
  font: 15px/1.35 "Iowan Old Style", Charter, Georgia, "Noto Serif", "DejaVu Serif", serif; }
.row { display: flex; gap: 26px; align-items: flex-end; margin-bottom: 20px; }
.row:last-child { margin-bottom: 0; }
figure { margin: 0; } img { display: block; image-rendering: pixelated; }
figcaption { margin-top: 6px; } small { color: var(--soft); font-size: 13px; display: block; }
table { border-spacing: 14px 12px; margin: -12px -14px; }
th { font-weight: 500; font-style: italic; text-align: left; color: var(--soft); }
tr > th:first-child { max-width: 8.5em; vertical-align: middle; }
"""

SLACK_TIDE = (183.0, 245.0)
"""mm of the magazine's page."""

PLACED = (
    # page, copy, mm: from the left trim, from the top trim, width, height; all with their bleed
    ("harbour at low water", -3.0, -3.0, 189.0, 132.0),
    ("marsh at noon", 16.5, 20.0, 150.0, 105.0),
    ("fog over the flats", 16.5, 20.0, 150.0, 105.0),
    ("chapel of the drowned", 16.5, 20.0, 150.0, 105.0),
    ("dyed cloth", 16.5, 20.0, 124.8, 87.4),
    ("oranges", 16.5, 20.0, 150.0, 105.0),
    ("three of the crew", 16.5, 20.0, 150.0, 105.0),
)


def main() -> int:
    """Return 0 when the program printed every line that the pages quote."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--pages", type=Path, metavar="ISSUE", help="write its page PDFs only")
    parser.add_argument("--check", action="store_true", help="follow the pages, draw nothing")
    options = parser.parse_args()
    if options.pages:
        write_pages(options.pages)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder)
        lay_out(work)
        wrong = [
            line for name in PAGES for line in follow(DOCS / name, work, partial(run, work=work))
        ]
        for line in wrong:
            print(line, file=sys.stderr)
        if not options.check:
            draw(work)
    return int(bool(wrong))


# --- following the pages -----------------------------------------------------------------------


def lay_out(work: Path) -> None:
    """Put the magazine's masters where the tutorial's reader has them."""
    sys.path.insert(0, str(ROOT / "demo"))
    from issue import draw_issue

    # afresh: those in demo/out may be of an earlier version
    drawn = work / "drawn"
    draw_issue(drawn)
    (work / "issue").mkdir()
    (drawn / "slack-tide").rename(work / "issue" / "masters")
    for name in ("demo", "docs"):
        (work / name).symlink_to(ROOT / name)


def run(command: str, work: Path) -> str:
    """Return what a command of the pages prints, both streams."""
    print(command, flush=True)
    words = shlex.split(command)
    if words[0] == "pressworthy":
        words = [sys.executable, "-m", *words]
    elif words[0] == ".venv/bin/python":
        words[0] = sys.executable
    settings = {**os.environ, "XDG_CACHE_HOME": str(work / "cache")}
    done = subprocess.run(
        words, cwd=work, env=settings, text=True, check=False,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    return done.stdout


# --- the tutorial's page PDFs --------------------------------------------------------------------


def write_pages(issue: Path) -> None:
    """Write the magazine's pages twice: with one picture pulled too large, and as planned."""
    for name, grown in (("pages-1.pdf", 160.0), ("pages-2.pdf", 150.0)):
        places = [
            (copy, x, y, grown, grown * 0.7) if copy == "three of the crew" else (copy, x, y, w, h)
            for copy, x, y, w, h in PLACED
        ]
        write_pdf(issue / name, issue / "copies", places)
        print(f"{issue / name}: {len(places)} pages")


def write_pdf(
    path: Path, copies: Path, places: Sequence[tuple[str, float, float, float, float]]
) -> None:
    """Write a page for each place (ISO 32000-1), its copy on it with the copy's ICC profile."""
    point, around = 72 / MM_PER_INCH, 10.0
    width, height = (side + 2 * around for side in SLACK_TIDE)
    boxes = " ".join(
        f"/{name} [{(around - more) * point:.3f} {(around - more) * point:.3f} "
        f"{(width - around + more) * point:.3f} {(height - around + more) * point:.3f}]"
        for name, more in (("TrimBox", 0.0), ("BleedBox", 3.0), ("MediaBox", around))
    )
    kids = " ".join(f"{3 + 4 * i} 0 R" for i in range(len(places)))
    bodies = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        f"<< /Type /Pages /Kids [{kids}] /Count {len(places)} >>".encode(),
    ]
    for copy, left, top, across, down in places:
        image = pyvips.Image.new_from_file(str(copies / f"{copy}-slack-tide.tif"))
        first = len(bodies) + 1
        x, y = (around + left) * point, (height - around - top - down) * point
        drawn = f"q {across * point:.4f} 0 0 {down * point:.4f} {x:.4f} {y:.4f} cm /P Do Q"
        bodies += [
            f"<< /Type /Page /Parent 2 0 R {boxes} /Contents {first + 1} 0 R "
            f"/Resources << /XObject << /P {first + 2} 0 R >> >> >>".encode(),
            _stream("", drawn.encode()),
            _stream(
                f"/Type /XObject /Subtype /Image /Width {image.width} /Height {image.height} "
                f"/BitsPerComponent 8 /ColorSpace [/ICCBased {first + 3} 0 R]",
                image.write_to_memory(),
            ),
            _stream("/N 4", image.get("icc-profile-data")),
        ]
    text, offsets = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", []
    for number, body in enumerate(bodies, 1):
        offsets.append(len(text))
        text += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    table = "".join(f"{offset:010d} 00000 n \n" for offset in offsets)
    size = len(bodies) + 1
    end = f"xref\n0 {size}\n0000000000 65535 f \n{table}trailer << /Size {size} /Root 1 0 R >>\n"
    path.write_bytes(text + f"{end}startxref\n{len(text)}\n%%EOF\n".encode())


def _stream(entries: str, data: bytes) -> bytes:
    packed = zlib.compress(data, 1)
    head = f"<< {entries} /Filter /FlateDecode /Length {len(packed)} >>\nstream\n"
    return head.encode() + packed + b"\nendstream"


# --- pictures --------------------------------------------------------------------------------


def draw(work: Path) -> None:
    """Draw all of docs/pictures/."""
    import playwright.sync_api as playwright

    PICTURES.mkdir(exist_ok=True)
    registry = load()
    names = ("coated-magazine", "newsprint")
    houses = {name: load_house(name, registry) for name in names}
    magazine = load_house(str(ROOT / "demo" / "houses" / "slack-tide.yaml"), registry)
    masters = work / "issue" / "masters"
    courier = work / "drawn" / "ebbworth-courier"
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path="/usr/bin/chromium", headless=True, args=FLAGS
        )
        page = browser.new_context(viewport={"width": 1240, "height": 900}).new_page()
        shoot(page, contact(masters), "masters")
        proof(page, work / "issue" / "proof" / "marked-proof.html")
        shoot(
            page,
            four(masters / "harbour at low water.jpg", magazine, (189, 132), HARBOUR, 2),
            "harbour",
        )
        shoot(
            page,
            four(masters / "three of the crew.tif", houses["coated-magazine"], (150, 105), CREW, 2),
            "detail-coated",
        )
        shoot(
            page,
            four(courier / "lighthouse.jpg", houses["newsprint"], (150, 105), LAMP, 3),
            "detail-newsprint",
        )
        shoot(
            page,
            dots(masters / "three of the crew.tif", houses["coated-magazine"], (150, 105), CREW),
            "dots",
            quality=70,
        )
        browser.close()
    curves = [(house, derive(house)) for house in houses.values()]
    (PICTURES / "transfer.svg").write_text(transfer_plot(curves), "utf-8")
    (PICTURES / "amount.svg").write_text(amount_plot(curves), "utf-8")
    write_table(DOCS / "print-look.md", transfer_table(curves))
    for path in sorted(PICTURES.iterdir()):
        print(f"{path.relative_to(ROOT)}: {path.stat().st_size / 1000:.0f} kB")


def shoot(page: Any, body: str, name: str, quality: int = 80) -> None:
    """Write what a page of HTML shows as docs/pictures/NAME.webp."""
    page.set_content(f"<!doctype html><meta charset=utf-8><style>{STYLE}</style>{body}")
    save(page.locator("body").screenshot(), name, quality)


def save(png: bytes, name: str, quality: int = 80) -> None:
    image = pyvips.Image.new_from_buffer(png, "")
    bands = image[0:3] if image.bands > 3 else image
    bands.webpsave(str(PICTURES / f"{name}.webp"), Q=quality, effort=6, smart_subsample=True)


def contact(masters: Path) -> str:
    """Return the masters at one scale, by the sizes they state."""
    cells = []
    for path in sorted(masters.iterdir()):
        header = read_header(path)
        width, height = header.upright()
        assert header.ppi is not None
        mm = width / header.ppi[0] * MM_PER_INCH
        image = pyvips.Image.thumbnail(str(path), round(mm * 1.55))
        source = base64.b64encode(image.pngsave_buffer(strip=True)).decode()
        facts = f"{width} × {height} px<br>{mm:.0f} mm wide at {header.ppi[0]:.0f} ppi"
        cells.append(
            f'<figure><img src="data:image/png;base64,{source}">'
            f"<figcaption>{escape(path.name)}<small>{facts}</small></figcaption></figure>"
        )
    rows = (cells[:4], cells[4:])
    return "".join(f'<div class="row">{"".join(row)}</div>' for row in rows)


def proof(page: Any, file: Path) -> None:
    """Write the top of the marked proof, and one picture with its remarks."""
    page.goto(file.as_uri())
    bottom = page.locator(".slip").bounding_box()
    end = bottom["y"] + bottom["height"] + 12
    page.set_viewport_size({"width": 1240, "height": int(end)})
    save(page.screenshot(), "proof-top")
    # as high as a picture with all that is beneath it
    page.set_viewport_size({"width": 1240, "height": 1300})
    page.check("#v-soft")
    page.click(".slip summary")
    page.check("#o-gamut")
    page.click(".slip summary")
    cloth = page.locator("article", has_text="dyed cloth.jpg")
    cloth.evaluate("picture => picture.scrollIntoView()")
    page.wait_for_timeout(500)
    box, around = cloth.bounding_box(), 18
    clip = {**box, "x": box["x"] - around, "width": box["width"] + 2 * around}
    save(page.screenshot(clip=clip), "proof-cloth", 44)


HARBOUR = (0.42, 0.50)
CREW = (0.45, 0.30)
LAMP = (0.655, 0.13)
"""Middles of the details shown, as shares of width and height."""
DETAIL_MM = (22.0, 16.0)
DOTS_MM = (6.0, 4.5)
DOTS_WIDTH_PX = 520
SAMPLES = 8
"""Of print to a pixel of the copy: 2400 dpi on 300 ppi."""


def states(path: Path, house: House, mm: tuple[float, float]) -> tuple[Any, Any]:
    """Return the pixels of a master's copy before and after its sharpening."""
    assert house.prepare is not None
    master, plan = planned(Order(path, path, PlacementRequest(mm)), house)
    plain = replace(house, prepare={**house.prepare, "amount": 0})
    return tuple(render(master, plan, one)[0].copy_memory() for one in (plain, house))


def views(image: Any, house: House, at: tuple[float, float], scale: int) -> tuple[Any, Any]:
    """Return a detail as a screen shows it, and as read in print: sRGB, `scale` px a pixel.

    at: its middle, as shares of width and height. Paper is the screen's white in both.
    """
    output = house.output
    window = detail(image, output.ppi, at, DETAIL_MM)
    edge = round(3 / MM_PER_INCH * output.ppi)
    left, top = max(0, window.left - edge), max(0, window.top - edge)
    right = min(image.width, window.left + window.width + edge)
    bottom = min(image.height, window.top + window.height + edge)
    part = image.crop(left, top, right - left, bottom - top)
    rows = slice(window.top - top, window.top - top + window.height)
    columns = slice(window.left - left, window.left - left + window.width)
    screen = softproof.srgb(softproof.copy_light(part, output))[rows, columns]
    # whole device pixels to a pixel, so that the views of all houses are enlarged alike
    press = replace(press_of(output.condition), device=output.ppi * SAMPLES)
    light = dots_light(tones_of(part.numpy(), "CMYK"), output.ppi, press)
    pitch = MM_PER_INCH / output.ppi / SAMPLES
    seen = cropped(
        as_seen(
            padded(light, pitch, reach(output.viewing_distance)), pitch, output.viewing_distance
        ),
        light,
    )
    read_light = pyvips.Image.new_from_array(np.ascontiguousarray(np.moveaxis(seen, 0, -1)))
    read_light = read_light.resize(scale / SAMPLES, kernel="linear").crop(
        columns.start * scale, rows.start * scale, window.width * scale, window.height * scale
    )
    read = softproof.srgb(read_light.numpy() * (D50 / press.inks.paper()).astype(np.float32))
    return np.repeat(np.repeat(screen, scale, axis=0), scale, axis=1), read


def detail(image: Any, ppi: float, at: tuple[float, float], mm: tuple[float, float]) -> Part:
    width, height = (round(side / MM_PER_INCH * ppi) for side in mm)
    left, top = round(at[0] * image.width - width / 2), round(at[1] * image.height - height / 2)
    left, top = min(max(left, 0), image.width - width), min(max(top, 0), image.height - height)
    return Part(left, top, width, height)


def four(
    path: Path, house: House, mm: tuple[float, float], at: tuple[float, float], scale: int
) -> str:
    """Return one detail four times: on screen and in print look, unsharpened and sharpened."""
    shown = [views(state, house, at, scale) for state in states(path, house, mm)]
    rows = []
    for number, name in enumerate(("on screen, pixel by pixel", "print look, as read")):
        cells = "".join(f"<td>{picture(state[number])}</td>" for state in shown)
        rows.append(f"<tr><th>{name}</th>{cells}</tr>")
    heads = "<tr><th></th><th>unsharpened</th><th>sharpened</th></tr>"
    return f"<table>{heads}{''.join(rows)}</table>"


def dots(path: Path, house: House, mm: tuple[float, float], at: tuple[float, float]) -> str:
    """Return 6 mm of a copy dot by dot, unsharpened and sharpened."""
    output, cells = house.output, []
    for image in states(path, house, mm):
        part = detail(image, output.ppi, at, DOTS_MM)
        tones = tones_of(image.numpy(), "CMYK")
        light = dots_light(tones, output.ppi, press_of(output.condition), part)
        close = pyvips.Image.new_from_array(np.ascontiguousarray(np.moveaxis(light, 0, -1)))
        close = close.resize(DOTS_WIDTH_PX / close.width, kernel="linear")
        cells.append(f"<td>{picture(softproof.srgb(close.numpy()))}</td>")
    heads = "<tr><th>unsharpened</th><th>sharpened</th></tr>"
    return f"<table>{heads}<tr>{''.join(cells)}</tr></table>"


def picture(values: Any) -> str:
    image = pyvips.Image.new_from_array(np.ascontiguousarray(values))
    source = base64.b64encode(image.pngsave_buffer()).decode()
    return f'<img src="data:image/png;base64,{source}">'


# --- figures -----------------------------------------------------------------------------------


def chosen(house: House) -> Sequence[Transfer]:
    """Return the transfers without sharpening, and with the amount of the house profile."""
    assert house.prepare is not None
    return derive(house, amounts=(0.0, house.prepare["amount"])).transfers


def transfer_table(curves: Sequence[tuple[House, Curve]]) -> str:
    """Return the share of contrast that is left, by band, as a table of Markdown."""
    names = " | ".join(f"{low}–{high}" for low, high in BANDS)
    lines = [
        f"| cycles/degree | {names} | acutance |",
        "|---" * (len(BANDS) + 2) + "|",
    ]
    for house, _ in curves:
        assert house.prepare is not None
        for one, amount in zip(chosen(house), (0, house.prepare["amount"]), strict=True):
            word = f"amount {amount:g}" if amount else "unsharpened"
            shares = " | ".join(f"{share:.2f}" for share in one.values)
            lines.append(f"| {house.name}, {word} | {shares} | {one.acutance:.2f} |")
    house, curve = curves[0]
    distance = house.output.viewing_distance
    middle = np.array([sum(band) / 2 for band in BANDS]) / mm_per_degree(distance)
    for name, left in (
        (
            f"the blur alone, faint contrast, d {curve.blur:g} mm",
            (1 + blur_share(middle, curve.blur)) / 2,
        ),
        ("the eye, of what the print shows", low_pass(middle, distance)),
    ):
        lines.append(f"| {name} | {' | '.join(f'{share:.2f}' for share in left)} | |")
    return "\n".join(lines)


def write_table(page: Path, table: str) -> None:
    """Put a table between the two comments of a page that name it."""
    before, _, rest = page.read_text("utf-8").partition("<!-- transfer -->\n")
    _, end, after = rest.partition("<!-- end of transfer -->")
    page.write_text(f"{before}<!-- transfer -->\n{table}\n{end}{after}", "utf-8")


def transfer_plot(curves: Sequence[tuple[House, Curve]]) -> str:
    """Return contrast transfer by cycles/degree, a panel for each house."""
    parts = []
    for panel, (house, curve) in enumerate(curves):
        assert house.prepare is not None
        axes = Axes(60 + panel * 420, 46, 330, 220, (0, 24), (0, 1.25))
        parts += axes.frame(
            f"{house.name}: {house.output.ppi:g} ppi, radius {curve.radius:.2f} px",
            "cycles/degree", range(0, 25, 4), (0, 0.25, 0.5, 0.75, 1, 1.25),
        )  # fmt: skip
        words = ("unsharpened", f"sharpened, amount {house.prepare['amount']:g}")
        for one, word, dashes in zip(chosen(house), words, ("5 4", ""), strict=True):
            keep = one.frequencies <= 24
            parts.append(axes.line(one.frequencies[keep], one.response[keep], dashes))
            above = bool(one.acutance > 0.9)
            parts.append(axes.text(12 if above else 10, 1.1 if above else 0.5, word))
    return svg(840, 320, "Share of contrast that outlives screen and paper", parts)


def amount_plot(curves: Sequence[tuple[House, Curve]]) -> str:
    """Return the distance from a transfer of 1 by amount, a line for each house."""
    axes = Axes(60, 46, 520, 220, (0, 3), (0, 0.35))
    parts = axes.frame(
        "distance from a transfer of 1, weighted by the eye", "amount",
        (0, 0.5, 1, 1.5, 2, 2.5, 3), (0, 0.1, 0.2, 0.3),
    )  # fmt: skip
    steps = np.linspace(0, 3, 121)
    for (house, curve), dashes, aside in zip(curves, ("", "5 4"), (-0.06, 0.02), strict=True):
        responses = np.array([one.response for one in curve.transfers])
        between = np.array([np.interp(steps, curve.amounts, ring) for ring in responses.T]).T
        misfits = misfit(between, cpiq(curve.transfers[0].frequencies))
        parts.append(axes.line(steps, misfits, dashes))
        x, y = axes.at(curve.amount, float(np.interp(curve.amount, steps, misfits)))
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.5" fill="#1d1b18"/>')
        words = f"{house.name}, least at {curve.amount:.2f}"
        parts.append(axes.text(3, float(misfits[-1]) + aside, words))
    return svg(620, 320, "Distance from a transfer of 1 by amount of sharpening", parts)


class Axes:
    """A panel of a plot: its place in px, and the values that it spans."""

    def __init__(
        self, left: float, top: float, width: float, height: float,
        x: tuple[float, float], y: tuple[float, float],
    ) -> None:  # fmt: skip
        self._place, self._x, self._y = (left, top, width, height), x, y

    def at(self, x: float, y: float) -> tuple[float, float]:
        left, top, width, height = self._place
        (x0, x1), (y0, y1) = self._x, self._y
        return left + width * (x - x0) / (x1 - x0), top + height * (y1 - y) / (y1 - y0)

    def frame(self, title: str, below: str, xs: Any, ys: Any) -> list[str]:
        left, top, width, height = self._place
        parts = [f'<text x="{left}" y="{top - 20}" font-weight="600">{escape(title)}</text>']
        for y in ys:
            _, at = self.at(0, y)
            heavy = ' stroke="#1d1b18" stroke-dasharray="1 3"' if y == 1 else ' stroke="#cdc7b9"'
            parts.append(f'<path d="M{left} {at:.1f}h{width}"{heavy}/>')
            parts.append(f'<text x="{left - 8}" y="{at + 4:.1f}" text-anchor="end">{y:g}</text>')
        for x in xs:
            at, base = self.at(x, self._y[0])
            parts.append(f'<path d="M{at:.1f} {base}v4" stroke="#1d1b18"/>')
            parts.append(f'<text x="{at:.1f}" y="{base + 18}" text-anchor="middle">{x:g}</text>')
        parts.append(
            f'<text x="{left + width}" y="{top + height + 36}" text-anchor="end" '
            f'font-style="italic">{below}</text>'
        )
        return parts

    def line(self, xs: Any, ys: Any, dashes: str) -> str:
        points = "L".join(
            "{:.1f} {:.1f}".format(*self.at(x, y)) for x, y in zip(xs, ys, strict=True)
        )
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        return f'<path d="M{points}" fill="none" stroke="#1f4f99" stroke-width="2"{dashed}/>'

    def text(self, x: float, y: float, words: str) -> str:
        across, down = self.at(x, y)
        return f'<text x="{across:.1f}" y="{down:.1f}" text-anchor="end">{escape(words)}</text>'


def svg(width: int, height: int, title: str, parts: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'font-family="Georgia, \'DejaVu Serif\', serif" font-size="13" fill="#1d1b18" role="img">'
        f'<title>{escape(title)}</title><rect width="{width}" height="{height}" fill="#fcfbf7"/>'
        + "".join(parts)
        + "</svg>\n"
    )


if __name__ == "__main__":
    raise SystemExit(main())
