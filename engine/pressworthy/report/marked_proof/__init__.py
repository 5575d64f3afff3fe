"""The marked proof: one page that needs nothing else, in the manner of a sub-editor's marked sheet.

The issue at a glance, then every picture at its relative size with the remarks in its margin. The
switches are radio buttons and check boxes that the style sheet reads, so the page shows all of it
without its script, which only filters and listens to the keyboard. The page's own policy lets it
load nothing and run no other script.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files

import pyvips

from pressworthy import __version__
from pressworthy.jobs.proofing import Sheet
from pressworthy.jobs.pull import Pull
from pressworthy.report.marked_proof.foot import foot, symbols
from pressworthy.report.marked_proof.markup import Markup, joined, tag
from pressworthy.report.marked_proof.pictures import serving, sheet_of
from pressworthy.report.marked_proof.remarks import numbered
from pressworthy.report.marked_proof.slip import OPENS, slip
from pressworthy.report.marked_proof.top import glance, masthead


def render(sheets: Sequence[Sheet]) -> str:
    """Return the whole page, for a browser."""
    return _page(sheets)


def render_for_paper(sheets: Sequence[Sheet]) -> str:
    """Return the page to be printed as it opens: no view but that one, pictures as JPEG.

    A browser lays JPEG into a PDF as it is, and any other kind without compression.
    """
    return _page([replace(sheet, pulls=tuple(map(_on_paper, sheet.pulls))) for sheet in sheets])


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


def _page(sheets: Sequence[Sheet]) -> str:
    marked = list(numbered(sheets))
    style, script = _part("page.css"), _part("page.js")
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=_policy(script)),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="generator", content=f"pressworthy {__version__}"),
        tag("title", f"Marked proof: {', '.join(sheet.report.house for sheet in sheets)}"),
        tag("style", Markup(style)),
    )
    count = sum(len(pictures) for pictures in marked)
    body = tag(
        "body",
        tag("a", "To the pictures", class_="skip", href="#pictures"),
        symbols(sheets),
        masthead(sheets),
        tag(
            "main",
            joined(
                glance(sheet, pictures, several=len(sheets) > 1)
                for sheet, pictures in zip(sheets, marked, strict=True)
            ),
            slip([picture for pictures in marked for picture in pictures], sheets),
            tag("div", id="pictures", tabindex="-1"),
            joined(
                sheet_of(index, sheet, pictures, several=len(sheets) > 1)
                for index, (sheet, pictures) in enumerate(zip(sheets, marked, strict=True))
            ),
            tag("p", "No picture is left under these filters.", id="none", hidden=True),
        ),
        foot(sheets),
        tag("script", Markup(script)),
        data_pictures=count,
    )
    return "<!doctype html>\n" + tag("html", head, body, lang="en") + "\n"


@cache
def _part(name: str) -> str:
    return files(__name__).joinpath(name).read_text("utf-8")


def _policy(script: str) -> str:
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return (
        "default-src 'none'; img-src data:; style-src 'unsafe-inline'; "
        f"script-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    )


__all__ = ["Sheet", "render", "render_for_paper"]
