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
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files

import pyvips
from markupsafe import Markup

from pressworthy import __version__
from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import Pull
from pressworthy.report.marked_proof.environment import rendered
from pressworthy.report.marked_proof.pictures import serving, shown_picture, widest_mm
from pressworthy.report.marked_proof.remarks import Marked, numbered
from pressworthy.report.marked_proof.sections import section
from pressworthy.report.marked_proof.slip import OPENS, switches


def render(sheets: Sequence[Sheet]) -> str:
    """Return the whole page, for a browser."""
    numbers = list(numbered(sheets))
    pictures = [picture for marked in numbers for picture in marked]
    publishers = (sheet.house.publisher for sheet in sheets)
    script = _part("page.js")
    return rendered(
        "page.html",
        version=__version__,
        style=Markup(_part("page.css")),
        script=Markup(script),
        script_digest=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        publishers=list(dict.fromkeys(filter(None, publishers))),
        sections=[
            section(index, sheet, marked, several_houses=len(sheets) > 1)
            for index, (sheet, marked) in enumerate(zip(sheets, numbers, strict=True))
        ],
        switches=switches(pictures, sheets),
        waivers_left_over=sheets[0].report.left_over(),
    )


def render_picture(picture: Marked, sheet: Sheet, *, house_index: int = 0) -> str:
    """Return one picture of a sheet, the very HTML that `render` gives within its page.

    house_index: the sheet's place among the page's sheets.
    """
    shown = shown_picture(house_index, sheet, picture, widest_mm(sheet))
    return rendered("picture.html", picture=shown)


def render_for_paper(sheets: Sequence[Sheet]) -> str:
    """Return the page to be printed as it opens: no view but that one, pictures as JPEG.

    A browser lays JPEG into a PDF as it is, and any other kind without compression.
    """
    return render([replace(sheet, pulls=tuple(map(_on_paper, sheet.pulls))) for sheet in sheets])


def _on_paper(pull: Pull) -> Pull:
    views = {serving(pull, OPENS, "after")} if pull.views else set()
    return replace(
        pull,
        views={name: _jpeg(pull.views[name]) for name in views},
        overlays={},
        close={name: _jpeg(data) for name, data in pull.close.items()},
    )


def _jpeg(data: bytes) -> bytes:
    return bytes(pyvips.Image.new_from_buffer(data, "").jpegsave_buffer(Q=85))


@cache
def _part(name: str) -> str:
    return files(__name__).joinpath(name).read_text("utf-8")


__all__ = ["Marked", "Sheet", "numbered", "render", "render_for_paper", "render_picture"]
