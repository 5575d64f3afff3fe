"""What is painted over pictures in overprint, or so that one sees through it.

Overprint: ISO 32000-2, 8.6.7; transparency: 11.3 and 11.6. Where an object lies is its bounds, of
text the point where each piece begins: told is what may be, to be looked at, and never measured.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pikepdf

from pressworthy.files.pages.document import UnreadPages, objects_of
from pressworthy.files.pages.painted import MOST_DEPTH, NotFollowed, inherited, looked_up
from pressworthy.files.pages.plane import Matrix, Polygon, bounds_of, mapped, times

Bounds = tuple[float, float, float, float]
_READ = (
    "q Q cm gs Do BI ID EI re m l c v y h n f F f* B B* b b* S s W W* sh "
    "BT ET Tm Td TD T* Tj TJ ' \""
)
_IDENTITY: Matrix = (1, 0, 0, 1, 0, 0)
_SQUARE: Polygon = ((0, 0), (1, 0), (1, 1), (0, 1))
_FILLS = {"f", "F", "f*", "B", "B*", "b", "b*"}
_STROKES = {"B", "B*", "b", "b*", "S", "s"}
_WORDS = {"Tj", "TJ", "'", '"'}


@dataclass(frozen=True)
class Over:
    """What overprints a picture, or lets see through to it, in words, "" for nothing."""

    overprint: str = ""
    transparency: str = ""


@dataclass(frozen=True)
class _State:
    matrix: Matrix = _IDENTITY
    fill_over: bool = False
    line_over: bool = False
    fill_clear: bool = False
    line_clear: bool = False
    blended: bool = False
    around: bool = False
    """Whether a group around it is painted so that one sees through it."""


@dataclass
class _Mark:
    """One object as it is painted: what it is, where, and how."""

    kind: str
    bounds: Bounds
    overprints: bool
    clear: bool


def over_on(pdf: Path, index: int, end: float) -> list[Over]:
    """Return what lies over every picture of a page, in the order of `painted_on`.

    Nothing is returned of a page without overprint and transparency, whose marks are not followed.
    end: by `time.monotonic`. Raises NotFollowed, and UnreadPages where it takes longer.
    """
    try:
        document = objects_of(pdf)
        page = document.pages[index].obj
        resources = inherited(page)
        if _nothing_special(resources, set()):
            return []
        marks = list(_marks(page, resources, _State(), end, 0))
    except (UnreadPages, NotFollowed):
        raise
    except Exception as error:
        # pikepdf raises many kinds on odd files
        raise NotFollowed(str(error) or type(error).__name__) from None
    found, special = [], [i for i, mark in enumerate(marks) if mark.overprints or mark.clear]
    for number, mark in enumerate(marks):
        if mark.kind != "a picture":
            continue
        above = [marks[i] for i in special if i > number and _meet(mark.bounds, marks[i].bounds)]
        over = [one.kind for one in above if one.overprints]
        own = ["the picture itself"] if mark.overprints else []
        through = [one.kind for one in above if one.clear]
        found.append(Over(_counted(own + over), _counted(through)))
    return found


def _counted(kinds: list[str]) -> str:
    counts = {kind: kinds.count(kind) for kind in dict.fromkeys(kinds)}
    return ", ".join(f"{n} x {kind}" if n > 1 else kind for kind, n in counts.items())


def _meet(one: Bounds, other: Bounds) -> bool:
    """Tell whether two bounds share more than an edge; a point lies inside or does not."""
    a, b, c, d = one
    p, q, r, s = other
    return a < r and p < c and b < s and q < d


def _marks(content: Any, resources: Any, state: _State, end: float, depth: int) -> Iterator[_Mark]:
    if depth > MOST_DEPTH:
        raise NotFollowed("forms are nested too deep")
    saved: list[_State] = []
    path: list[tuple[float, float]] = []
    line = text = _IDENTITY
    source = content if isinstance(content, pikepdf.Stream) else pikepdf.Page(content)
    for number, instruction in enumerate(pikepdf.parse_content_stream(source, operators=_READ)):
        if number % 1000 == 0 and time.monotonic() > end:
            raise UnreadPages("its pages hold more objects than can be looked through")
        given: Any = instruction.operands
        name = str(instruction.operator)
        if name == "q":
            saved.append(state)
        elif name == "Q":
            state = saved.pop() if saved else state
        elif name == "cm":
            state = replace(state, matrix=times(_six(given), state.matrix))
        elif name == "gs":
            state = _set(state, looked_up(resources, "/ExtGState", given[0]))
        elif name == "re":
            x, y, w, h = (float(one) for one in given)
            path += [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        elif name in ("m", "l", "c", "v", "y"):
            flat = [float(one) for one in given]
            path += zip(flat[::2], flat[1::2], strict=True)
        elif name in _FILLS | _STROKES:
            if path:
                yield _painted("a shape", path, state, name in _FILLS, name in _STROKES)
            path = []
        elif name == "n":
            path = []
        elif name == "sh":
            clear = state.fill_clear or state.blended or state.around
            yield _Mark("a shading", (-1e9, -1e9, 1e9, 1e9), state.fill_over, clear)
        elif name == "BT":
            line = text = _IDENTITY
        elif name == "Tm":
            line = text = _six(given)
        elif name in ("Td", "TD"):
            x, y = (float(one) for one in given)
            line = text = times((1, 0, 0, 1, x, y), line)
        elif name in _WORDS:
            # a hair wide, so that it meets what it stands on
            x, y = mapped(text, 0, 0)
            yield _painted("text", [(x, y), (x + 0.01, y + 0.01)], state, True, False)
        elif name == "INLINE IMAGE":
            yield _picture(given[0].obj, state)
        elif name == "Do":
            part = looked_up(resources, "/XObject", given[0])
            if not isinstance(part, pikepdf.Stream):
                continue
            if part.get("/Subtype") == "/Image":
                yield _picture(part, state)
            elif part.get("/Subtype") == "/Form":
                own = part.get("/Resources", resources)
                yield from _marks(part, own, _inside(part, state), end, depth + 1)


def _picture(image: Any, state: _State) -> _Mark:
    mark = _painted("a picture", list(_SQUARE), state, True, False)
    mark.clear |= "/SMask" in image
    return mark


def _painted(
    kind: str, points: list[tuple[float, float]], state: _State, fills: bool, strokes: bool
) -> _Mark:
    return _Mark(
        kind,
        bounds_of([mapped(state.matrix, *point) for point in points]),
        (fills and state.fill_over) or (strokes and state.line_over),
        state.blended
        or state.around
        or (fills and state.fill_clear)
        or (strokes and state.line_clear),
    )


def _set(state: _State, given: Any) -> _State:
    """Return the state after the operator gs."""
    if not isinstance(given, pikepdf.Dictionary):
        return state
    if "/OP" in given:
        # it sets both, unless op says otherwise (table 57)
        state = replace(state, line_over=bool(given["/OP"]), fill_over=bool(given["/OP"]))
    if "/op" in given:
        state = replace(state, fill_over=bool(given["/op"]))
    if "/ca" in given:
        state = replace(state, fill_clear=float(given["/ca"]) < 1)
    if "/CA" in given:
        state = replace(state, line_clear=float(given["/CA"]) < 1)
    blended = [
        key
        for key in ("/BM", "/SMask")
        if key in given and str(given[key]) not in ("/Normal", "/Compatible", "/None")
    ]
    if {"/BM", "/SMask"} & set(given.keys()):
        state = replace(state, blended=bool(blended))
    return state


def _inside(form: Any, state: _State) -> _State:
    """Return the state in which a form's content begins."""
    matrix = form.get("/Matrix")
    own = _six(list(matrix)) if isinstance(matrix, pikepdf.Array) else _IDENTITY
    inside = times(own, state.matrix)
    group = form.get("/Group")
    if not isinstance(group, pikepdf.Dictionary) or group.get("/S") != "/Transparency":
        return replace(state, matrix=inside)
    # a group starts afresh, and is then painted as a whole
    around = state.around or state.blended or state.fill_clear
    return replace(
        state, matrix=inside, fill_clear=False, line_clear=False, blended=False, around=around
    )


def _nothing_special(resources: Any, seen: set[tuple[int, int]]) -> bool:
    """Tell whether no state of these resources overprints or is transparent, and no picture."""
    if not isinstance(resources, pikepdf.Dictionary):
        return True
    for state in _values(resources.get("/ExtGState")):
        if _set(_State(), state) != _State():
            return False
    for part in _values(resources.get("/XObject")):
        if not isinstance(part, pikepdf.Stream) or part.objgen in seen:
            continue
        seen.add(part.objgen)
        if "/SMask" in part or not _nothing_special(part.get("/Resources"), seen):
            return False
    return True


def _values(held: Any) -> list[Any]:
    return [one for _, one in held.items()] if isinstance(held, pikepdf.Dictionary) else []


def _six(given: Any) -> Matrix:
    a, b, c, d, e, f = (float(one) for one in given)
    return a, b, c, d, e, f
