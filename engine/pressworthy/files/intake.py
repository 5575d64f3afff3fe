"""Pictures named on the command line: files as they are, folders walked."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from fnmatch import fnmatch
from pathlib import Path

from pressworthy.files.opening import read_header
from pressworthy.values.finding import Unmeasured
from pressworthy.values.output import Output
from pressworthy.values.picture import Header, Picture
from pressworthy.values.placement import BY_FILE, Placement, PlacementRequest
from pressworthy.values.units import MM_PER_INCH


def walk(paths: Iterable[Path], skip: Sequence[str] = ()) -> Iterator[Path]:
    """Yield every file named or lying below a named folder, once, in a steady order.

    Hidden files and folders below a named folder, and names that match a `skip` pattern, are left
    out; a linked folder is entered once.
    """
    entered: set[tuple[int, int]] = set()  # folders, by device and inode
    # no folder where the name is too long, which is then reported
    asked = [(path, None if os.path.isdir(path) else _location(path)) for path in paths]  # noqa: PTH112
    named = {location for _, location in asked if location}
    left = set(named)
    for path, location in asked:
        if location is None:
            below = _below(path, skip, entered)
            yield from (one for one in below if not named or _location(one) not in named)
        elif location in left:
            left.remove(location)
            yield path


def _location(path: Path) -> tuple[str, str]:
    """Return where a file lies, however the way to it is written; a link is a file of its own."""
    return os.path.realpath(path.parent), path.name


def _below(folder: Path, skip: Sequence[str], entered: set[tuple[int, int]]) -> Iterator[Path]:
    try:
        facts = folder.stat()
        if (facts.st_dev, facts.st_ino) in entered:
            return
        entered.add((facts.st_dev, facts.st_ino))
        entries = sorted(folder.iterdir())
    except OSError:
        # the folder itself is handed on, so that the report has a line for it
        yield folder
        return
    for entry in entries:
        if entry.name.startswith(".") or any(fnmatch(entry.name, pattern) for pattern in skip):
            continue
        if os.path.isdir(entry):  # noqa: PTH112 - False where it cannot be looked at
            yield from _below(entry, skip, entered)
        else:
            yield entry


def take_in(path: Path, output: Output, request: PlacementRequest) -> Picture:
    """Return the picture at `path` with its placement on the page. Raises Unmeasured."""
    header = read_header(path)
    return Picture(
        path,
        header,
        output,
        _placement(header, output, request),
        tone=request.tone,
        sharpen=request.sharpen,
        gray_mix=request.gray_mix,
    )


def _placement(header: Header, output: Output, request: PlacementRequest) -> Placement | None:
    bleed = Placement(0, 0, request.bleed, request.edges).covered()
    if request.size:
        width, height = request.size
        source = "given"
    elif header.ppi and output.medium == "print":
        across, down = header.upright()
        ppi = header.ppi if header.orientation < 5 else header.ppi[::-1]
        width = across / ppi[0] * MM_PER_INCH - bleed[0]
        height = down / ppi[1] * MM_PER_INCH - bleed[1]
        source = BY_FILE
    else:
        return None
    if width <= 0 or height <= 0:
        raise Unmeasured(f"the bleed leaves nothing of the picture ({width:.1f} x {height:.1f} mm)")
    return Placement(
        width, height, request.bleed, request.edges, request.crop, request.page, source,
        fit=request.fit,
    )  # fmt: skip
