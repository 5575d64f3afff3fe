"""What is drawn for the sheet beside the pulls: first looks, and one picture in several ways.

All is made in a worker process and from a reduced master, so that it is there within a moment; what
differs between the ways goes through the very steps of preparing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from math import ceil
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pyvips

from pressworthy.colour.linear import to_light
from pressworthy.colour.spaces import SPACES
from pressworthy.files.opening import read_header, upright
from pressworthy.house import House
from pressworthy.jobs import Run, Task
from pressworthy.jobs.proofing import proof_picture
from pressworthy.jobs.pull import Pull
from pressworthy.jobs.pull.encoded import jpeg, small
from pressworthy.jobs.tasks import taken_in
from pressworthy.measure.gray_mix import as_written
from pressworthy.measure.icc import profile_for_pixels
from pressworthy.measure.metadata import words
from pressworthy.measure.pixels import pixels
from pressworthy.prepare import Order, Refused, geometry, planned, render, tried
from pressworthy.print import softproof
from pressworthy.values.finding import Unmeasured
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture
from pressworthy.values.placement import AS_SUPPLIED, EDGES, HOUSE_TONE, OF_PICTURE, GrayMix

LOOK_PX, WAY_PX = 1000, 560
"""Most px of the longer edge, of a first look and of a way."""

LEANING = {"reds lighter": (0.6, 0.3, 0.1), "blues lighter": (0.1, 0.4, 0.5)}
"""Gray mixes to compare with: shares of linear red, green and blue; our choice."""

_QUALITY = 84


@dataclass(frozen=True)
class Look:
    """A picture before its pull is made.

    pull: with one view, as supplied, cut for its place; whole: JPEG of all of the picture.
    shown: left, top, width, height of what its place shows, as fractions; stands: the path of its
    prepared copy, "" where none stands that is up to date.
    """

    pull: Pull
    whole: bytes = field(default=b"", repr=False)
    shown: tuple[float, float, float, float] = (0, 0, 1, 1)
    stands: str = ""


@dataclass(frozen=True)
class Way:
    """A picture as it would print if its list said so; why: the reason there is nothing to see."""

    value: str
    label: str
    image: bytes = field(default=b"", repr=False)
    why: str = ""


@dataclass(frozen=True)
class Pixels:
    """A copy at its own pixels, in soft proof, before and after sharpening: JPEG."""

    before: bytes = field(default=b"", repr=False)
    after: bytes = field(default=b"", repr=False)
    size: tuple[int, int] = (0, 0)
    why: str = ""


def look(task: Task, house: House, run: Run, order: Order | None = None) -> Look:
    """Return a first look at a picture; where nothing can be seen its pull says why.

    order: of its copy, which may stand already.
    """
    standing = str(order.target) if order and stands(order, house) else ""
    return replace(_look(task, house), stands=standing)


def stands(order: Order, house: House) -> bool:
    """Tell whether the copy that is ordered is there, as it was made."""
    if not order.target.exists():
        return False
    try:
        standing = tried(order, house)[1]
    except (Refused, Unmeasured, OSError, pyvips.Error):
        return False
    return standing.copy is not None and not standing.edited


def _look(task: Task, house: House) -> Look:
    try:
        picture = taken_in(task, house)
        whole = _as_supplied(picture, LOOK_PX)
    except (Unmeasured, OSError, pyvips.Error) as reason:
        return Look(Pull(why=str(reason)))
    place, texts = picture.placement, words(picture)
    if place is None:
        pull = _one_view(whole, None)
        pull = replace(pull, caption=texts.get("caption"), credit=texts.get("credit"))
        return Look(pull, jpeg(whole, _QUALITY))
    width, height = picture.header.upright()
    # a box's shape alone tells the cut: at 1 ppi there are pixels enough
    cut = geometry.plan(width, height, place, 1.0, enlarge=1.0, mirror=False).cut
    shown = cut.left / width, cut.top / height, cut.width / width, cut.height / height
    down, across = whole.shape[:2]
    columns = _span(shown[0], shown[2], across)
    rows = _span(shown[1], shown[3], down)
    pull = _one_view(whole[rows, columns].copy(), place.covered())
    over, right, under, left = (place.bleed * (edge in place.edges) for edge in EDGES)
    pull = replace(
        pull,
        bleed=(over, right, under, left),
        caption=texts.get("caption"),
        credit=texts.get("credit"),
    )
    return Look(pull, jpeg(whole, _QUALITY), shown)


def _span(start: float, share: float, px: int) -> slice:
    first = round(start * px)
    return slice(first, max(first + 1, round((start + share) * px)))


def _one_view(view: Any, mm: tuple[float, float] | None) -> Pull:
    data = jpeg(view, _QUALITY)
    return Pull(
        views={"supplied": data},
        small=small(view),
        paper=data,
        paper_view="supplied",
        size=(view.shape[1], view.shape[0]),
        mm=mm,
    )


def _as_supplied(picture: Picture, most: int) -> Any:
    """Return sRGB (height, width, 3) of a picture as a screen shows it, upright."""
    image = upright(pixels(picture), picture.header.orientation)
    factor = max(1, ceil(max(image.width, image.height) / most))
    light = to_light(
        image.shrink(factor, factor),
        picture.header.mode,
        profile_for_pixels(picture),
        intent="relative",
        black_point=True,
    )
    return softproof.srgb(softproof.relative_light(light))


def spaces(task: Task, house: House, run: Run) -> tuple[Way, ...]:
    """Return the picture read as made in each RGB space that a person may vouch for."""
    return _ways(task, house, [(name, name, replace(task, assume=name)) for name in SPACES])


def mixes(task: Task, house: House, run: Run) -> tuple[Way, ...]:
    """Return gray mixes of the picture: the house's, its own, and two that lean to one side."""
    asked: list[tuple[str, str, GrayMix]] = [
        ("", "as the house mixes", ""),
        (OF_PICTURE, "most of its own contrast", OF_PICTURE),
        *((as_written(mix), label, mix) for label, mix in LEANING.items()),
    ]
    return _ways(task, house, [(v, label, _asking(task, gray_mix=m)) for v, label, m in asked])


def tones(task: Task, house: House, run: Run, lift: str = "+6 L*") -> tuple[Way, ...]:
    """Return the picture with the house's lift, as supplied, and lifted as a person may."""
    asked = [
        (HOUSE_TONE, "as the house lifts"),
        (AS_SUPPLIED, "as supplied"),
        (lift, f"lifted by {lift}"),
    ]
    return _ways(task, house, [(v, label, _asking(task, tone=v)) for v, label in asked])


def copy_pixels(task: Task, house: House, run: Run) -> Pixels:
    """Return a copy at its own pixels, as it goes to press and before it was sharpened."""
    section = house.prepare
    if section is None:
        return Pixels(why=f"{house.name} does not say how copies are made")
    try:
        after = _copy(task, house, house.output)
        plain = replace(house, prepare={**section, "amount": 0})
        before = _copy(task, plain, house.output)
    except (Refused, Unmeasured, OSError, pyvips.Error) as reason:
        return Pixels(why=str(reason))
    size = after.shape[1], after.shape[0]
    return Pixels(jpeg(before, _QUALITY), jpeg(after, _QUALITY), size)


def pulled(task: Task, house: House, run: Run) -> Pull:
    """Return a picture's pull, as the command `proof` makes it."""
    return proof_picture(task, house, run)[1]


def _asking(task: Task, **asked: Any) -> Task:
    return replace(task, request=replace(task.request, **asked))


def _ways(task: Task, house: House, asked: Sequence[tuple[str, str, Task]]) -> tuple[Way, ...]:
    section = house.prepare
    if section is None:
        why = f"{house.name} does not say how copies are made"
        return tuple(Way(value, label, why=why) for value, label, _ in asked)
    plain = replace(house, prepare={**section, "amount": 0})
    try:
        with _reduced(task) as path:
            return tuple(
                _way(value, label, replace(one, path=path), plain) for value, label, one in asked
            )
    except (Unmeasured, OSError, pyvips.Error) as reason:
        return tuple(Way(value, label, why=str(reason)) for value, label, _ in asked)


def _way(value: str, label: str, task: Task, house: House) -> Way:
    try:
        return Way(value, label, jpeg(_copy(task, house, house.output), _QUALITY))
    except (Refused, Unmeasured, OSError, pyvips.Error) as reason:
        return Way(value, label, why=str(reason))


def _copy(task: Task, house: House, output: Output) -> Any:
    """Return sRGB of a copy's pixels in soft proof. Raises Refused, Unmeasured."""
    scale = max((house.prepare or {}).get("scales", [1])) if output.medium == "screen" else 0
    order = Order(task.path, task.path, task.request, scale, task.assume)
    master, plan = planned(order, house)
    image = render(master, plan, house).image.copy_memory()
    light = softproof.soft_proof(softproof.copy_light(image, output), output.condition)
    return softproof.srgb(light)


@contextmanager
def _reduced(task: Task) -> Iterator[Path]:
    """Give a small master of the same colours and size in mm, which goes again."""
    picture = Picture(task.path, read_header(task.path), None)  # type: ignore[arg-type]
    image = upright(pixels(picture), picture.header.orientation)
    factor = max(1, round(max(image.width, image.height) / WAY_PX))
    with TemporaryDirectory(prefix="pressworthy-", ignore_cleanup_errors=True) as folder:
        path = Path(folder) / "reduced.tif"
        reduced = image.shrink(factor, factor)
        ppi = picture.header.ppi
        how = {"xres": ppi[0] / 25.4 / factor, "yres": ppi[1] / 25.4 / factor} if ppi else {}
        reduced.copy(**how).tiffsave(str(path), keep="icc")
        yield path


__all__ = ["Look", "Pixels", "Way", "copy_pixels", "look", "mixes", "pulled", "spaces", "tones"]
