"""Drawing: pages of a PDF as they look, and as ink on an output's paper, by a worker that stays."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from queue import LifoQueue
from typing import Any

import numpy as np
import pyvips

from pressworthy.colour.linear import from_light, to_light
from pressworthy.files.pages import PdfPage, UnreadPages, drawn, pages_in
from pressworthy.jobs.pull import Pull
from pressworthy.jobs.pull.encoded import jpeg, small
from pressworthy.jobs.pull.making import press_for
from pressworthy.jobs.pull.views import LONGEST, Stages, lights
from pressworthy.jobs.running.standing import Lost, Standing
from pressworthy.jobs.running.workers import Limits
from pressworthy.print import softproof
from pressworthy.values.finding import Unmeasured
from pressworthy.values.output import Output
from pressworthy.values.units import MM_PER_INCH

LIMITS = Limits(15.0, 1_500_000_000)
"""What one page may cost to draw, and the list of all pages to read."""

_QUALITY = 84


@dataclass(frozen=True)
class InPdf:
    """What is to be done with a PDF: read how large its pages are, where `index` is None.

    Or draw a page; as it prints too, where an output is given.
    """

    pdf: Path
    index: int | None = None
    output: Output | None = None


class Artist:
    """Draws pages in processes of its own, each within the limits, whatever stands in the PDF.

    at_once: so many at most are drawn at a time, by as many threads that ask.
    """

    def __init__(self, limits: Limits = LIMITS, at_once: int = 1) -> None:
        self._all = [Standing(_done, limits) for _ in range(at_once)]
        # the last that came back is warm
        self._free: LifoQueue[Standing] = LifoQueue()
        for standing in reversed(self._all):
            self._free.put(standing)

    def pages(self, pdf: Path) -> tuple[PdfPage, ...]:
        """Return the pages of a PDF. Raises UnreadPages."""
        try:
            found: tuple[PdfPage, ...] | str = self._do(InPdf(pdf))
        except Lost as lost:
            raise UnreadPages(f"{lost}: damaged, or made to harm") from None
        if isinstance(found, str):
            raise UnreadPages(found)
        return found

    def draw(self, pdf: Path, index: int, output: Output | None = None) -> Pull:
        """Return a page as it looks, and as it prints where an output is given.

        Where it cannot be drawn the pull says why.
        """
        try:
            pull: Pull = self._do(InPdf(pdf, index, output))
        except Lost as lost:
            return Pull(why=f"page {index + 1} cannot be drawn: {lost}")
        return pull

    def end(self) -> None:
        for standing in self._all:
            standing.end()

    def _do(self, task: InPdf) -> Any:
        standing = self._free.get()
        try:
            return standing.do(task)
        finally:
            self._free.put(standing)


def _done(asked: InPdf) -> Any:
    act: Callable[[], Any] = (
        (lambda: pages_in(asked.pdf))
        if asked.index is None
        else (lambda: page_pull(asked.pdf, asked.index or 0, asked.output))
    )
    try:
        return act()
    except UnreadPages as reason:
        return str(reason) if asked.index is None else Pull(why=str(reason))


def page_pull(pdf: Path, index: int, output: Output | None = None) -> Pull:
    """Return a page drawn, here and now. Raises UnreadPages.

    Its inks are those that its colours on a screen are converted to, not those in the PDF.
    """
    view, ppi = drawn(pdf, index, LONGEST)
    height, width = view.shape[:2]
    mm = width / ppi * MM_PER_INCH, height / ppi * MM_PER_INCH
    views = {"supplied": view}
    if output is not None:
        # a profile that cannot be used is told at every picture
        with suppress(Unmeasured, OSError, pyvips.Error):
            views |= _printed(view, output, ppi)
    paper_view = next(name for name in ("print", "soft", "supplied") if name in views)
    coded = {name: jpeg(shown, _QUALITY) for name, shown in views.items()}
    return Pull(
        views=coded,
        small=small(view),
        paper=coded[paper_view],
        paper_view=paper_view,
        size=(width, height),
        mm=mm,
    )


def _printed(view: Any, output: Output, ppi: float) -> dict[str, Any]:
    """Return the page in soft proof, print look and mono, as a picture without a copy has them."""
    image = pyvips.Image.new_from_array(view)
    light = to_light(image, "RGB", "srgb", intent="relative", black_point=True)
    after = from_light(
        light.romm(), light.image.height, output.condition.profiles[output.colour],
        intent="relative", black_point=True, most_ink=output.most_ink,
    )  # fmt: skip
    made = lights(Stages(light, after, None, None, ppi), output, press_for(output))
    return {
        name: np.asarray(softproof.srgb(one)) for name, one in made.items() if name != "supplied"
    }
