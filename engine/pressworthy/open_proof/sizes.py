"""The largest size that a picture's pixels allow, as the remedy for too few of them has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import inf

from pressworthy.house import House
from pressworthy.jobs.tasks import Task, taken_in
from pressworthy.measure.resolution import fit
from pressworthy.open_proof.issue import Issue, seen_from
from pressworthy.open_proof.journal import Place
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.picture import Picture
from pressworthy.values.placement import Crop, PlacementRequest
from pressworthy.values.units import MM_PER_INCH


def largest(issue: Issue, place: Place, house: House) -> Mapping[str, str]:
    """Return the fields `width` and `height` of the decision "largest size" for the place.

    The box keeps its shape; without one it has that of the picture. Raises SetupError where there
    is no such size.
    """
    task = _task(issue, place)
    try:
        picture = taken_in(task, house)
        if picture.placement is None:
            picture = taken_in(replace(task, request=_as_it_is(task.request, picture)), house)
        placed = fit(picture)
    except Unmeasured as reason:
        raise SetupError([f"{place.picture}: {reason}"]) from None
    resolution = house.rules.get("resolution")
    stretch = resolution.options["distortion"] if resolution else inf
    size = placed.largest_box(picture.output.ppi, most_stretch=stretch)
    if size is None:
        ppi = f"{picture.output.ppi:g} ppi"
        raise SetupError([f"{place.picture}: its pixels fill no box of this shape at {ppi}"])
    return dict(zip(("width", "height"), size, strict=True))


def _task(issue: Issue, place: Place) -> Task:
    for one, entry in zip(issue.places(), issue.entries, strict=True):
        if one == place:
            return Task(entry.path, entry.request, assume=entry.assume)
    for path in issue.unlisted:
        if place == Place(seen_from(issue.folder, path)):
            return Task(path, PlacementRequest())
    raise SetupError([f"{place.picture}: there is no such picture"])


def _as_it_is(request: PlacementRequest, picture: Picture) -> PlacementRequest:
    """Return the request with a box of the shape of the picture, or of what shows of it."""
    across, down = picture.header.upright()
    if isinstance(request.crop, Crop):
        across, down = round(across * request.crop.width), round(down * request.crop.height)
    mm = MM_PER_INCH / picture.output.ppi
    return replace(request, size=(across * mm, down * mm))
