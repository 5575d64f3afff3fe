"""The marked proof: one page that needs nothing else, in the manner of a sub-editor's marked sheet.

The issue at a glance, then every picture at its relative size with the remarks in its margin. The
modules here say what is shown, as plain values; the `templates` hold all HTML, one part of the page
each, and page.css its looks. The switches are radio buttons and check boxes that the style sheet
reads, so the page shows all of it without its script, which only filters and listens to the
keyboard. The page's own policy lets it load nothing and run no other script.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files

from markupsafe import Markup

from pressworthy import __version__
from pressworthy.jobs.proofing import Sheet
from pressworthy.report.marked_proof import environment
from pressworthy.report.marked_proof.pictures import data_uri, shown_picture, widest_mm
from pressworthy.report.marked_proof.remarks import Marked, numbered
from pressworthy.report.marked_proof.sections import section
from pressworthy.report.marked_proof.slip import switches


def render(sheets: Sequence[Sheet], preparing: Sequence[str] = ()) -> str:
    """Return the whole page, for a browser.

    preparing: the words of the command that prepares these pictures, which the page shows where
    preparing puts something right.
    """
    return "".join(parts(sheets, preparing))


def parts(sheets: Sequence[Sheet], preparing: Sequence[str] = ()) -> Iterator[str]:
    """Yield the page that `render` returns, some megabytes for each ten pictures, as it comes."""
    numbers = list(numbered(sheets))
    pictures = [picture for marked in numbers for picture in marked]
    publishers = (sheet.house.publisher for sheet in sheets)
    script = _part("page.js")
    return environment.parts(
        "page.html",
        sheet_name="Marked proof",
        version=__version__,
        style=Markup(_part("page.css")),
        script=Markup(script),
        script_digest=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        publishers=list(dict.fromkeys(filter(None, publishers))),
        sections=[
            section(index, sheet, marked, preparing, several_houses=len(sheets) > 1)
            for index, (sheet, marked) in enumerate(zip(sheets, numbers, strict=True))
        ],
        switches=switches(pictures, sheets),
        told_once=[line for sheet in sheets for line in sheet.report.told_once],
        waivers_left_over=sheets[0].report.left_over(),
    )


def render_picture(picture: Marked, sheet: Sheet, *, house_index: int = 0) -> str:
    """Return one picture of a sheet, the very HTML that `render` gives within its page.

    house_index: the sheet's place among the page's sheets.
    """
    shown = shown_picture(house_index, sheet.house, picture, widest_mm(sheet.pulls), data_uri)
    return environment.rendered("picture.html", picture=shown)


def render_for_paper(sheets: Sequence[Sheet], preparing: Sequence[str] = ()) -> str:
    """Return the page to be printed at once: without the views and overlays of the screen."""
    for_paper = [
        replace(sheet, pulls=tuple(replace(pull, views={}, overlays={}) for pull in sheet.pulls))
        for sheet in sheets
    ]
    return render(for_paper, preparing)


@cache
def _part(name: str) -> str:
    return files(__name__).joinpath(name).read_text("utf-8")


__all__ = ["Marked", "Sheet", "numbered", "parts", "render", "render_for_paper", "render_picture"]
