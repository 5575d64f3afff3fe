"""What a page's content says of each picture that it paints (ISO 32000-1, 8.4, 8.10 and 11.6).

PDFium tells where a picture stands; its dictionary, the layers it lies on and the opacity it is
painted with are read here, from the same content and in the same order.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pikepdf

from pressworthy.files.pages.document import UnreadPages, objects_of
from pressworthy.files.pages.layers import DOUBTED, HIDDEN, Layers

MOST_DEPTH = 25
_READ = "q Q gs Do BDC BMC EMC BI ID EI"
_PLAIN_BLENDS = ("/Normal", "/Compatible")


class NotFollowed(Exception):  # noqa: N818 - said to a person as it is
    """The content of a page cannot be read, with the reason."""


@dataclass(frozen=True, eq=False)
class Painted:
    """A picture as the content paints it.

    image: its dictionary or stream; resources: in which its names are looked up.
    size: width and height in px, as stated. opacity: 0 to 1, of the picture and the groups around
    it. hidden: the layer that hides it; unlike: why what shows is not what its data tell, where
    that is not worked out; "" otherwise.
    """

    image: Any
    resources: Any
    opacity: float = 1.0
    hidden: str = ""
    unlike: str = ""
    size: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class _State:
    """What the graphics state does to a picture; `around`: what groups do to all they hold."""

    opacity: float = 1.0
    blend: str = ""
    masked: bool = False
    transfer: bool = False
    around: float = 1.0
    hidden: str = ""
    unlike: str = ""


def painted_on(pdf: Path, index: int, end: float) -> list[Painted]:
    """Return every picture that the content of a page paints, in painting order.

    end: by `time.monotonic`. Raises NotFollowed, and UnreadPages where it takes longer.
    """
    try:
        document = objects_of(pdf)
        page = document.pages[index].obj
        return list(_painted(page, inherited(page), _State(), Layers(document), end, 0))
    except (UnreadPages, NotFollowed):
        raise
    except Exception as error:
        # pikepdf raises many kinds on odd files
        raise NotFollowed(str(error) or type(error).__name__) from None


def inherited(page: Any) -> Any:
    """Return a page's resources, its own or those of the tree above it."""
    for _ in range(50):
        if "/Resources" in page:
            return page["/Resources"]
        page = page.get("/Parent")
        if not isinstance(page, pikepdf.Dictionary):
            break
    return None


def _painted(
    content: Any, resources: Any, state: _State, layers: Layers, end: float, depth: int
) -> Iterator[Painted]:
    if depth > MOST_DEPTH:
        raise NotFollowed("forms are nested too deep")
    saved: list[_State] = []
    marks: list[_State] = []
    source = content if isinstance(content, pikepdf.Stream) else pikepdf.Page(content)
    for instruction in pikepdf.parse_content_stream(source, operators=_READ):
        given: Any = instruction.operands
        name = str(instruction.operator)
        if name == "q":
            saved.append(state)
        elif name == "Q":
            # layers are opened and closed by marks alone
            kept = state
            state = saved.pop() if saved else state
            state = replace(state, hidden=kept.hidden, unlike=kept.unlike)
        elif name == "gs":
            state = _set(state, looked_up(resources, "/ExtGState", given[0]))
        elif name in ("BDC", "BMC"):
            marks.append(state)
            if name == "BDC" and given[0] == "/OC":
                state = _on_layer(state, looked_up(resources, "/Properties", given[1]), layers)
        elif name == "EMC":
            if marks:
                before = marks.pop()
                state = replace(state, hidden=before.hidden, unlike=before.unlike)
        elif name == "INLINE IMAGE":
            yield _as_painted(given[0].obj, resources, state)
        elif name == "Do":
            if time.monotonic() > end:
                raise UnreadPages("its pages hold more objects than can be looked through")
            part = looked_up(resources, "/XObject", given[0])
            if not isinstance(part, pikepdf.Stream):
                continue
            there = _on_layer(state, part.get("/OC"), layers)
            if part.get("/Subtype") == "/Image":
                yield _as_painted(part, resources, there)
            elif part.get("/Subtype") == "/Form":
                own = part.get("/Resources", resources)
                yield from _painted(part, own, _inside(part, there), layers, end, depth + 1)


def looked_up(resources: Any, kind: str, name: Any) -> Any:
    """Return what a name of that kind stands for in the resources, None where it is not there."""
    if not isinstance(name, pikepdf.Name):
        return name
    held = resources.get(kind) if isinstance(resources, pikepdf.Dictionary) else None
    return held.get(str(name)) if isinstance(held, pikepdf.Dictionary) else None


def _set(state: _State, given: Any) -> _State:
    """Return the state after the operator gs."""
    if not isinstance(given, pikepdf.Dictionary):
        return state
    if "/ca" in given:
        state = replace(state, opacity=min(1.0, max(0.0, float(given["/ca"]))))
    if "/BM" in given:
        mode = given["/BM"]
        blend = str(mode[0] if isinstance(mode, pikepdf.Array) else mode)
        state = replace(state, blend="" if blend in _PLAIN_BLENDS else blend[1:])
    if "/SMask" in given:
        state = replace(state, masked=isinstance(given["/SMask"], pikepdf.Dictionary))
    for key, plain in (("/TR", "/Identity"), ("/TR2", "/Default")):
        if key in given:
            state = replace(state, transfer=str(given[key]) not in (plain, "/Identity"))
    return state


def _on_layer(state: _State, layer: Any, layers: Layers) -> _State:
    stands, name = layers.standing(layer)
    if stands == HIDDEN:
        return replace(state, hidden=state.hidden or name)
    if stands == DOUBTED:
        told = f"nothing tells whether its layer {name} prints"
        return replace(state, unlike=state.unlike or told)
    return state


def _inside(form: Any, state: _State) -> _State:
    """Return the state in which a form's content begins."""
    group = form.get("/Group")
    if not isinstance(group, pikepdf.Dictionary) or group.get("/S") != "/Transparency":
        return state
    # a group starts afresh, and is then painted as a whole
    return _State(
        around=state.around * state.opacity,
        transfer=state.transfer,
        hidden=state.hidden,
        unlike=_unlike(state),
    )


def _unlike(state: _State) -> str:
    if state.unlike:
        return state.unlike
    if state.blend:
        return f"it is blended with what lies below it ({state.blend})"
    if state.masked:
        return "a soft mask of the graphics state lies over it"
    return "a transfer function changes its tones" if state.transfer else ""


def _as_painted(image: Any, resources: Any, state: _State) -> Painted:
    size = int(image.get("/Width", 0)), int(image.get("/Height", 0))
    opacity = state.opacity * state.around
    return Painted(image, resources, opacity, state.hidden, _unlike(state), size)
