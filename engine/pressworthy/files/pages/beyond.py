"""What PDFium does not hand out: pictures in patterns, annotations and Type 3 fonts.

Such pictures cannot be measured, but a page that holds any must not pass as if it held none. Looked
for in the resources a page can reach (ISO 32000-1, 7.8.3), so one that is reachable and never
painted is told too.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pikepdf

from pressworthy.files.pages.document import objects_of
from pressworthy.files.pages.painted import inherited

PRINTS = 1 << 2
"""The annotation flag of one that is printed (ISO 32000-1, 12.5.3)."""

MOST_VISITS = 100_000
Visit = tuple[tuple[int, int], str]
"""An object, by its number and generation, and what holds it in words."""


def beyond(pdf: Path) -> Iterator[tuple[int, str]]:
    """Yield page index, and where on it a picture stands that cannot be measured."""
    try:
        for index, page in enumerate(objects_of(pdf).pages):
            for holder in sorted(set(_on_page(page.obj))):
                yield index, holder
    except (pikepdf.PdfError, RecursionError) as error:
        damage = str(error).removeprefix(f"{pdf}: ")
        yield 0, f"a place that could not be looked into, as the file is damaged ({damage})"


def user_unit(pdf: Path) -> bool:
    """Tell whether a page counts in units of its own. What cannot be read says nothing here."""
    try:
        return any(page.obj.get("/UserUnit", 1) != 1 for page in objects_of(pdf).pages)
    except pikepdf.PdfError:
        return False


def _on_page(page: Any) -> Iterator[str]:
    visited: set[Visit] = set()
    yield from _in(inherited(page), "", visited)
    annotations = page.get("/Annots")
    for one in annotations if isinstance(annotations, pikepdf.Array) else ():
        if isinstance(one, pikepdf.Dictionary) and _whole(one.get("/F", 0)) & PRINTS:
            for look in _appearances(one):
                yield from _in(look.get("/Resources"), "an annotation that prints", visited)


def _in(resources: Any, holder: str, visited: set[Visit]) -> Iterator[str]:
    """Yield what holds each picture of the resources; "" stands for what PDFium hands out."""
    todo = [(resources, holder)]
    while todo:
        resources, holder = todo.pop()
        if not isinstance(resources, pikepdf.Dictionary):
            continue
        for kind, name in (("/XObject", ""), ("/Pattern", "a tiling pattern")):
            for _, part in _items(resources.get(kind)):
                if not isinstance(part, pikepdf.Stream):
                    continue
                if kind == "/XObject" and part.get("/Subtype") == "/Image":
                    if holder:
                        yield holder
                elif _new(part, holder or name, visited):
                    todo.append((part.get("/Resources"), holder or name))
        for _, font in _items(resources.get("/Font")):
            if isinstance(font, pikepdf.Dictionary) and font.get("/Subtype") == "/Type3":
                inside = holder or "a Type 3 font"
                glyphs = [glyph for _, glyph in _items(font.get("/CharProcs"))]
                for part in (font, *glyphs):
                    if isinstance(part, pikepdf.Dictionary | pikepdf.Stream) and _new(
                        part, inside, visited
                    ):
                        todo.append((part.get("/Resources"), inside))


def _appearances(annotation: Any) -> Iterator[Any]:
    look = annotation.get("/AP")
    normal = look.get("/N") if isinstance(look, pikepdf.Dictionary) else None
    if isinstance(normal, pikepdf.Stream):
        yield normal
    else:
        yield from (part for _, part in _items(normal) if isinstance(part, pikepdf.Stream))


def _items(value: Any) -> list[tuple[str, Any]]:
    return list(value.items()) if isinstance(value, pikepdf.Dictionary) else []


def _new(part: Any, holder: str, visited: set[Visit]) -> bool:
    """Tell whether an object is reached in that holder for the first time: one may hold itself."""
    visit = (part.objgen, holder)
    if visit in visited or len(visited) > MOST_VISITS:
        return False
    if part.objgen != (0, 0):
        visited.add(visit)
    return True


def _whole(value: Any) -> int:
    return int(value) if isinstance(value, int) else 0
