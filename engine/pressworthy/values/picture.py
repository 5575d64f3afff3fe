"""A picture under judgement: its file's header, its placement, and what was measured of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from copy import copy
from dataclasses import dataclass, field, replace
from functools import partial, wraps
from pathlib import Path
from typing import Any, TypeVar, overload

import numpy as np

from pressworthy.values.finding import Unmeasured
from pressworthy.values.on_page import OnPage
from pressworthy.values.output import Output
from pressworthy.values.placement import GrayMix, Placement
from pressworthy.values.watched import FIELDS, Watched


@dataclass(frozen=True)
class Header:
    """What a picture file says of itself before any pixel is read.

    format: JPEG, TIFF, PNG, WebP, HEIC, AVIF, JPEG 2000 or JPEG XL; width, height: px as stored.
    mode: RGB, CMYK, gray or Lab, alpha left out; depth: bits a channel.
    orientation: the EXIF/TIFF value 1 to 8; pages: pictures in the file.
    ppi: the stated resolution (across, down), or None.
    extra_channels: how many a TIFF has beyond its colours that are no alpha; they are left out.
    stated_space: the RGB space a PNG or HEIC names beside an ICC profile, or "".
    other_ppi: a second resolution the file states, where it is another than `ppi`.
    quantisation: a JPEG's tables of 64 numbers in natural order, luma first; subsampled: whether
    it keeps chroma of fewer pixels than luma.
    """

    format: str
    width: int
    height: int
    mode: str
    depth: int
    alpha: bool
    orientation: int
    pages: int
    ppi: tuple[float, float] | None
    file_bytes: int
    icc: bytes | None
    exif: bytes | None
    xmp: bytes | None
    iptc: bytes | None
    quantisation: tuple[tuple[int, ...], ...] = ()
    extra_channels: int = 0
    stated_space: str = ""
    other_ppi: tuple[float, float] | None = None
    subsampled: bool = False

    @property
    def is_line_art(self) -> bool:
        """Whether each pixel is ink or paper, and nothing between."""
        return self.depth == 1

    def upright(self) -> tuple[int, int]:
        """Return width and height in px as a viewer that honours the orientation shows them."""
        if self.orientation >= 5:
            return self.height, self.width
        return self.width, self.height


@dataclass(frozen=True, eq=False)
class Picture:
    """One picture as rules see it. `placement` is None where no size is known.

    assumed: the ICC profile a person vouches for, to read the pixels by whatever is embedded.
    page_object: where in a page PDF it was found, "" for a file of its own.
    masters: files of this run among which a prepared copy's master may be.
    tone: what a person asks of the tone curve of its copy, see `placement.parse_tone`, or "".
    sharpen, gray_mix: what a person asks for its copy, see `PlacementRequest`.
    dropped: the ICC profile of the file behind a page object that has none, in a few words.
    on_page: what its page says of the printing, None for a file of its own.
    What is measured of it is kept with it; `dataclasses.replace` makes a picture measured anew.
    """

    path: Path
    header: Header
    output: Output
    placement: Placement | None = None
    assumed: bytes | None = None
    page_object: str = ""
    masters: tuple[Path, ...] = ()
    tone: str = ""
    sharpen: bool = True
    gray_mix: GrayMix = ""
    dropped: str = ""
    on_page: OnPage | None = None
    _memo: dict[Any, Any] = field(default_factory=dict, repr=False, init=False)
    _read: dict[Any, frozenset[str]] = field(default_factory=dict, repr=False, init=False)

    @property
    def span(self) -> tuple[float, float]:
        """L* of the darkest that its copy can print, and of the paper; on a screen 0 and 100."""
        return self.output.condition.span(in_black=self.in_black_alone)

    @property
    def in_black_alone(self) -> bool:
        """Whether black is the only ink its copy is printed in."""
        output = self.output
        one_ink = output.colour == "cmyk" and output.gray_pictures == "one ink"
        return output.colour == "gray" or (one_ink and self.header.mode == "gray")


Measured = TypeVar("Measured")
_ANYWHERE: set[Any] = set()
"""Measurements in which the placement takes no part."""


@overload
def measurement(measure: Callable[[Picture], Measured]) -> Callable[[Picture], Measured]: ...
@overload
def measurement(
    *, anywhere: bool
) -> Callable[[Callable[[Picture], Measured]], Callable[[Picture], Measured]]: ...
def measurement(measure: Any = None, *, anywhere: bool = False) -> Any:
    """Make `measure` run once a picture: all rules share its result, or its failure.

    Arrays come back read-only, so that no rule can spoil what the next one reads. anywhere: the
    placement takes no part in it, so that `elsewhere` need not measure anew.
    """
    if measure is None:
        return partial(measurement, anywhere=anywhere)

    @wraps(measure)
    def once(picture: Picture) -> Any:
        seen = picture.output.seen if isinstance(picture.output, Watched) else set()
        if once not in picture._memo:
            before = set(seen)
            seen.clear()
            try:
                picture._memo[once] = _frozen(measure(picture)), None
            except Exception as error:
                picture._memo[once] = None, _bare(error)
            picture._read[once] = frozenset(seen)
            seen |= before
        else:
            # what it read when it was measured counts for whoever asks now
            seen |= picture._read.get(once, FIELDS)
        result, failure = picture._memo[once]
        if failure is not None:
            raise _bare(failure)
        return result

    if anywhere:
        _ANYWHERE.add(once)
    return once


def elsewhere(
    picture: Picture, placement: Placement | None, on_page: OnPage | None = None
) -> Picture:
    """Return the same picture at another place, with what was measured of it `anywhere`."""
    there = replace(picture, placement=placement, on_page=on_page)
    there._memo.update({one: known for one, known in picture._memo.items() if one in _ANYWHERE})
    there._read.update({one: read for one, read in picture._read.items() if one in _ANYWHERE})
    return there


def preset(
    picture: Picture, measure: Callable[[Picture], Measured], result: Measured | Unmeasured
) -> None:
    """Let a measurement of this picture return what is known of it, or raise the `Unmeasured`."""
    known = (None, result) if isinstance(result, Unmeasured) else (_frozen(result), None)
    picture._memo[measure] = known
    if isinstance(picture.output, Watched):
        # it came of no more than was read until now
        picture._read[measure] = frozenset(picture.output.seen)


def measured(picture: Picture) -> Iterator[tuple[Any, Any, Exception | None, frozenset[str]]]:
    """Yield each measurement made so far: its result or failure, and what of the output it read.

    Only of a picture whose output is `Watched` is that known.
    """
    for one, (result, failure) in picture._memo.items():
        yield one, result, failure, picture._read.get(one, FIELDS)


def preset_as_measured(
    picture: Picture, measure: Any, result: Any, failure: Exception | None, read: frozenset[str]
) -> None:
    """Let a measurement return or raise what `measured` told of it on the same picture before."""
    picture._memo[measure] = _frozen(result), failure
    picture._read[measure] = read


def is_known(picture: Picture, measure: Callable[[Picture], Any]) -> bool:
    """Tell whether a measurement of this picture, or its failure, is there already."""
    return measure in picture._memo


def _bare(error: Exception) -> Exception:
    """Return the same error without its frames, which would keep the picture's pixels in memory."""
    try:
        return copy(error)
    except Exception:
        return RuntimeError(f"{type(error).__name__}: {error}")


def _frozen(result: Any) -> Any:
    if isinstance(result, np.ndarray):
        result.setflags(write=False)
    elif isinstance(result, tuple):
        for part in result:
            _frozen(part)
    return result
