"""The server of the open sheet: what a browser may ask, by which ids, and what it is told.

A browser names pictures, images and decisions by ids given out here, never a path. What changes is
told by Server-Sent Events: a line a thing, upon which the page asks for the part that it shows.
"""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import AsyncIterator, Callable, Mapping
from functools import cache, partial
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    JSONResponse,
    Response,
    StreamingResponse,
)
from starlette.routing import Route

from pressworthy.open_proof import (
    day_book,
    dropped,
    looks,
    page_sheet,
    pages,
    saving,
    sending,
    sheet,
    sizes,
)
from pressworthy.open_proof.asking import Refused, asked_for
from pressworthy.open_proof.book_routes import Book
from pressworthy.open_proof.decisions import KINDS, OF_PAGES
from pressworthy.open_proof.desk import Desk, Line
from pressworthy.open_proof.entry import Entry, Keys
from pressworthy.open_proof.issue import MASTERS
from pressworthy.open_proof.journal import Decision, Place
from pressworthy.open_proof.page_desk import PageDesk
from pressworthy.prepare.store import why
from pressworthy.values.faults import SetupError

MOST_UNTOLD = 2_000
"""Events that a browser may lag behind; beyond it is to ask for all anew."""

_ID = re.compile("[0-9a-f]{12}")
"""What a picture or a page goes by towards the browser."""

_OURS = {
    "page.css": ("pressworthy.report.marked_proof", "text/css"),
    "page.js": ("pressworthy.report.marked_proof", "text/javascript"),
    "common.js": ("pressworthy.open_proof", "text/javascript"),
    "open.css": ("pressworthy.open_proof", "text/css"),
    "pages.css": ("pressworthy.open_proof", "text/css"),
    "pages.js": ("pressworthy.open_proof", "text/javascript"),
    "open.js": ("pressworthy.open_proof", "text/javascript"),
    "choosing.js": ("pressworthy.open_proof", "text/javascript"),
    "idiomorph.js": ("pressworthy.open_proof", "text/javascript"),
    "book.css": ("pressworthy.open_proof", "text/css"),
    "book.js": ("pressworthy.open_proof", "text/javascript"),
}
"""The files that the page is made of."""


def application(desk: Desk, keys: Keys, page_desk: PageDesk | None = None) -> Entry:
    """Return the whole server of one issue, behind its door."""
    open_sheet = OpenSheet(desk, page_desk or PageDesk(desk))
    routes = [
        Route("/", open_sheet.page),
        Route("/news", open_sheet.news),
        Route("/part/{name}", open_sheet.part),
        Route("/pages", open_sheet.pages),
        Route("/pages/changed", open_sheet.pages_changed, methods=["POST"]),
        Route("/pages/in-view", open_sheet.pages_in_view, methods=["POST"]),
        Route("/pages/place", open_sheet.place_as_on_pages, methods=["POST"]),
        Route("/pages/{id}", open_sheet.spread),
        Route("/picture/{id}", open_sheet.picture),
        Route("/seen/{name}", open_sheet.seen),
        Route("/spaces/{id}", open_sheet.spaces),
        Route("/tones/{id}", open_sheet.tones),
        Route("/mixes/{id}", open_sheet.mixes),
        Route("/compare/{id}", open_sheet.compare),
        Route("/pixels/{id}", open_sheet.pixels),
        Route("/decide", open_sheet.decide, methods=["POST"]),
        Route("/take-back", open_sheet.take_back, methods=["POST"]),
        Route("/in-view", open_sheet.in_view, methods=["POST"]),
        Route("/do/{what}", open_sheet.do, methods=["POST"]),
        Route("/drop", open_sheet.drop, methods=["POST"]),
        Route("/taken-in", open_sheet.taken_in, methods=["POST"]),
        *Book(desk).routes(),
        Route("/{name}", own_file),
    ]
    return Entry(
        Starlette(
            routes=routes,
            exception_handlers={
                Refused: refused,
                SetupError: set_up,
                OSError: _disk,
                Exception: _broken,
            },
        ),
        keys,
    )


class OpenSheet:
    """The routes, on one desk."""

    def __init__(self, desk: Desk, page_desk: PageDesk) -> None:
        self._desk = desk
        self._pages = page_desk
        self._tasks: set[asyncio.Task[Any]] = set()

    # ---- the page and its parts ----------------------------------------------------------------

    async def page(self, request: Request) -> Response:
        return HTMLResponse(await run_in_threadpool(sheet.page, self._desk, self._pages.asked()))

    async def part(self, request: Request) -> Response:
        name = request.path_params["name"]
        if name == "top":
            return HTMLResponse(sheet.top(self._desk, self._pages.asked()))
        if name not in ("glances", "record"):
            raise Refused("there is no such part", 404)
        return HTMLResponse(await run_in_threadpool(sheet.part, self._desk, name))

    async def picture(self, request: Request) -> Response:
        line = self._desk.lines.get(request.path_params["id"])
        if line is None:
            return _gone("picture", request)
        return self._part(request, await run_in_threadpool(sheet.picture, self._desk, line))

    def _part(self, request: Request, html: str) -> Response:
        on_paper = "paper" in request.query_params
        return HTMLResponse(self._desk.laid_aside.on_paper(html) if on_paper else html)

    async def seen(self, request: Request) -> Response:
        found = self._desk.laid_aside.get(request.path_params["name"])
        if found is None:
            raise Refused("there is no such image", 404)
        path, kind = found
        # its name is made of its bytes, so it never changes
        kept = {"cache-control": "private, max-age=31536000, immutable"}
        return FileResponse(path, media_type=kind, headers=kept)

    async def news(self, request: Request) -> Response:
        return StreamingResponse(
            self._told(), media_type="text/event-stream", headers={"cache-control": "no-store"}
        )

    async def _told(self) -> AsyncIterator[str]:
        loop = asyncio.get_running_loop()
        queue: asyncio.Queue[tuple[str, Mapping[str, Any]]] = asyncio.Queue(MOST_UNTOLD)

        def put(what: str, particulars: Mapping[str, Any]) -> None:
            if queue.full():
                while not queue.empty():
                    queue.get_nowait()
                queue.put_nowait(("sheet", {}))
                return
            queue.put_nowait((what, particulars))

        def tell(what: str, particulars: Mapping[str, Any]) -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(put, what, particulars)

        stop = self._desk.listen(tell)
        try:
            yield "retry: 1000\n\n"
            # whoever comes, or comes back, may have missed something
            yield _event("hello", {"turn": self._desk.turn})
            while True:
                try:
                    batch = [await asyncio.wait_for(queue.get(), 15)]
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                # many things happen at once; each is told once
                await asyncio.sleep(0.1)
                turn = self._desk.turn
                while not queue.empty():
                    batch.append(queue.get_nowait())
                if any(what == "closing" for what, _ in batch):
                    return
                told = dict.fromkeys((what, more.get("id", "")) for what, more in batch)
                # each picture after the one it stands behind
                place = {id: number for number, id in enumerate(self._desk.order)}
                for what, id in sorted(told, key=lambda one: place.get(one[1], -1)):
                    yield _event(what, self._particulars(what, id))
                yield _event("turn", {"turn": turn})
        finally:
            stop()

    def _particulars(self, what: str, id: str) -> Mapping[str, Any]:
        """Return what goes along with an event, as things are now."""
        if what == "leaf":
            return {"id": id}
        if what == "top":
            return {"html": sheet.top(self._desk, self._pages.asked())}
        if what == "picture":
            line = self._desk.lines.get(id)
            order = self._desk.order
            if line is None or line.id not in order:
                return {"id": id, "gone": line is None}
            at = order.index(line.id)
            house = line.house.name
            after = next(
                (one for one in reversed(order[:at]) if self._desk.lines[one].house.name == house),
                "",
            )
            return {"id": line.id, "after": after, "stub": sheet.stub(self._desk, line)}
        return {}

    # ---- its pages -----------------------------------------------------------------------------

    async def pages(self, request: Request) -> Response:
        return HTMLResponse(await run_in_threadpool(page_sheet.pages, self._pages))

    async def pages_changed(self, request: Request) -> Response:
        stamps = (await asked_for(request)).fields.get("stamps")
        if not isinstance(stamps, dict) or not all(isinstance(one, str) for one in stamps.values()):
            raise Refused("stamps are words")
        return HTMLResponse(await run_in_threadpool(page_sheet.changed, self._pages, stamps))

    async def spread(self, request: Request) -> Response:
        html = await run_in_threadpool(page_sheet.spread, self._pages, request.path_params["id"])
        return _gone("page", request) if html is None else self._part(request, html)

    async def pages_in_view(self, request: Request) -> Response:
        self._pages.show(await _ids(request))
        return JSONResponse({})

    async def place_as_on_pages(self, request: Request) -> Response:
        await asked_for(request)
        said = await run_in_threadpool(pages.take_all, self._desk, self._pages)
        return JSONResponse({"said": said})

    # ---- one picture in several ways -----------------------------------------------------------

    async def spaces(self, request: Request) -> Response:
        line = self._line(request)
        ways = await self._ways(looks.spaces, line)
        finding = request.query_params.get("finding", "")
        many = len(sheet.alike(self._desk, line, finding)) if finding else 0
        return self._shown(
            line, ways, "assume", "assume", "vouch for", line.task.assume, finding, many
        )

    async def tones(self, request: Request) -> Response:
        line = self._line(request)
        lift = sheet.lift_of(self._desk, line)
        ways = await self._ways(partial(looks.tones, lift=lift) if lift else looks.tones, line)
        chosen = line.task.request.tone
        return self._shown(line, ways, "tone", "tone", "take it", chosen)

    async def mixes(self, request: Request) -> Response:
        line = self._line(request)
        ways = await self._ways(looks.mixes, line)
        mix = line.task.request.gray_mix
        chosen = mix if isinstance(mix, str) else " ".join(f"{part:g}" for part in mix)
        return self._shown(line, ways, "gray mix", "gray mix", "mix it", chosen)

    async def _ways(self, work: Callable[..., Any], line: Line) -> list[dict[str, str]]:
        ways = await run_in_threadpool(self._desk.ask, work, line)
        return [
            {
                "value": way.value,
                "label": way.label,
                "why": way.why,
                "source": f"/seen/{self._desk.laid_aside.put(way.image)}" if way.image else "",
            }
            for way in ways
        ]

    @staticmethod
    def _shown(
        line: Line, ways: list[dict[str, str]], kind: str, field: str, verb: str, chosen: str,
        finding: str = "", alike: int = 0,
    ) -> Response:  # fmt: skip
        html = sheet.fragment(
            "ways", id=line.id, name=line.task.path.name, ways=ways, kind=kind, field=field,
            verb=verb, chosen=chosen, finding=finding, alike=alike,
        )  # fmt: skip
        return HTMLResponse(html)

    async def compare(self, request: Request) -> Response:
        line = self._line(request)
        pull = self._desk.pull(line)
        view = "print" if "print-before" in pull.views else "soft"
        if f"{view}-before" not in pull.views or pull.mm is None:
            raise Refused("there is no copy to compare yet", 404)
        caption = {
            "print": "In print look, from the reader’s distance.",
            "soft": "In soft proof.",
        }[view]
        html = sheet.fragment(
            "compare", id=line.id, name=line.task.path.name, mm=f"{pull.mm[0]:g}",
            width=pull.size[0], height=pull.size[1], caption=caption,
            before=f"/seen/{pull.views[f'{view}-before'].decode()}",
            after=f"/seen/{pull.views[view].decode()}",
        )  # fmt: skip
        return HTMLResponse(html)

    async def pixels(self, request: Request) -> Response:
        line = self._line(request)
        drawn = await run_in_threadpool(self._desk.ask, looks.copy_pixels, line)
        if drawn.why:
            raise Refused(drawn.why)
        put = self._desk.laid_aside.put
        return JSONResponse(
            {
                "before": f"/seen/{put(drawn.before)}",
                "after": f"/seen/{put(drawn.after)}",
                "width": drawn.size[0],
                "height": drawn.size[1],
            }
        )

    # ---- what is decided -----------------------------------------------------------------------

    async def decide(self, request: Request) -> Response:
        asked = await asked_for(request)
        kind, given = asked.text("kind"), asked.fields.get("fields")
        if kind not in KINDS or not isinstance(given, dict):
            raise Refused("there is no such decision")
        if not all(isinstance(part, str) for pair in given.items() for part in pair):
            raise Refused("a decision is of words")
        fields = {name: text for name, text in given.items() if name in KINDS[kind]}
        page = self._pages.page_of(asked.text("picture")) if kind in OF_PAGES else None
        line = self._of_id(asked.text("picture")) if kind != "title" and page is None else None
        places = (Place("", page.page),) if page else self._places(line, asked.text("alike"))
        if kind == "add" and line:
            # the same picture once more, on another page
            places, fields = (Place(line.place.picture, asked_page(given)),), {}
        if kind == "largest size" and line:
            fields = dict(await run_in_threadpool(self._largest, line))
        by = asked.text("by").strip() or day_book.name_of(self._desk.issue)
        decision = Decision(kind, places, fields, by=by)
        await run_in_threadpool(self._desk.decide, decision, asked.text("seen"))
        return JSONResponse({"said": f"{sheet.in_words(decision)}"})

    def _largest(self, line: Line) -> Mapping[str, str]:
        return sizes.largest(self._desk.issue, line.place, line.house)

    def _places(self, line: Line | None, alike: str) -> tuple[Place, ...]:
        if line is None:
            return ()
        if not alike:
            return (line.place,)
        with self._desk.still():
            return tuple(one.place for one in sheet.alike(self._desk, line, alike))

    async def take_back(self, request: Request) -> Response:
        asked = await asked_for(request)
        by = asked.text("by").strip() or day_book.name_of(self._desk.issue)
        await run_in_threadpool(self._desk.take_back, asked.text("decision"), by)
        return JSONResponse({"said": "taken back"})

    async def in_view(self, request: Request) -> Response:
        self._desk.show(await _ids(request))
        return JSONResponse({})

    async def do(self, request: Request) -> Response:
        what, asked = request.path_params["what"], await asked_for(request)
        if what == "stop":
            self._desk.stop()
            return JSONResponse({"said": "stopped"})
        if what == "go-on":
            self._desk.go_on()
            return JSONResponse({"said": "going on"})
        if what == "prepare":
            ids = [self._of_id(asked.text("picture")).id] if asked.text("picture") else None
            made, left = await run_in_threadpool(self._desk.prepare, ids)
            return JSONResponse({"said": _prepared(made, left)})
        if what == "save":
            printed = asked.fields.get("printed") is True
            saved = partial(saving.save, self._desk, printed=printed)
            return JSONResponse({"said": await run_in_threadpool(saved)})
        if what in ("zip", "contacts"):
            work = sending.zip_copies if what == "zip" else sending.contact_sheet
            return JSONResponse({"said": await run_in_threadpool(work, self._desk)})
        raise Refused("there is no such thing to do", 404)

    # ---- what is dropped -----------------------------------------------------------------------

    async def drop(self, request: Request) -> Response:
        length = request.headers.get("content-length", "")
        size = int(length) if length.isdecimal() else None
        given, beside = request.query_params.get("name", ""), "beside" in request.query_params
        try:
            path = await dropped.drop(
                self._desk.folder, given, size, request.stream(), beside=beside
            )
        except dropped.NameTaken as taken:
            raise Refused(str(taken), 409, free=taken.free) from None
        except ClientDisconnect:
            raise Refused("broken off") from None
        if dropped.is_pages(given):
            return JSONResponse(
                {"said": await run_in_threadpool(pages.take_sizes, self._desk, path, self._pages)}
            )
        masters = self._desk.folder / MASTERS
        return JSONResponse({"master": path.relative_to(masters).as_posix()})

    async def taken_in(self, request: Request) -> Response:
        """Give lines to what was dropped, all of it at once."""
        asked = await asked_for(request)
        names = asked.fields.get("masters")
        if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
            raise Refused("masters are named by words")
        there = await run_in_threadpool(self._without_lines, names)
        if there:
            by = asked.text("by").strip() or day_book.name_of(self._desk.issue)
            decision = Decision("add", tuple(map(Place, there)), by=by)
            await run_in_threadpool(self._desk.decide, decision, self._desk.issue.stamp)
        return JSONResponse({"said": f"{len(there)} taken in"})

    def _without_lines(self, names: list[str]) -> list[str]:
        """Return those of the names that are masters without a line, as the list names them."""
        self._desk.follow()
        root = self._desk.folder.resolve()
        unlisted = {
            path.resolve().relative_to(root).as_posix() for path in self._desk.issue.unlisted
        }
        return [f"{MASTERS}/{name}" for name in names if f"{MASTERS}/{name}" in unlisted]

    # ---- ids -----------------------------------------------------------------------------------

    def _line(self, request: Request) -> Line:
        return self._of_id(request.path_params["id"])

    def _of_id(self, id: str) -> Line:
        line = self._desk.lines.get(id)
        if line is None:
            raise Refused("that picture is no more on the sheet", 404)
        return line


def _gone(what: str, request: Request) -> Response:
    """Return nothing: a sheet may ask for what has just gone before it hears so, and is not wrong.

    Raises Refused where the id is none that is ever given out.
    """
    if not _ID.fullmatch(request.path_params["id"]):
        raise Refused(f"that {what} is no more on the sheet", 404)
    return Response(status_code=204)


def _prepared(made: int, left: int) -> str:
    """Return what became of preparing, in words."""
    if not left:
        return "the copies are made" if made != 1 else "the copy is made"
    copies = (
        f"{made} {'copy is' if made == 1 else 'copies are'} made" if made else "no copy is made"
    )
    pictures = "one picture is" if left == 1 else f"{left} pictures are"
    return f"{copies}; {pictures} left for you to decide on, as told beside it"


def asked_page(given: Mapping[str, str]) -> str:
    """Return the page that a picture is to stand on too. Raises Refused."""
    page = given.get("page", "").strip()
    if not page:
        raise Refused("say which page it is to stand on too")
    return page


async def _ids(request: Request) -> list[str]:
    """Return the ids that a page sent, no more of them than it can have in view."""
    ids = (await asked_for(request)).fields.get("ids")
    if not isinstance(ids, list) or not all(isinstance(id, str) for id in ids):
        raise Refused("ids are words")
    return ids[:200]


async def own_file(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in _OURS:
        raise Refused("there is nothing here", 404)
    return Response(_file(name), media_type=_OURS[name][1], headers={"cache-control": "no-cache"})


@cache
def _file(name: str) -> bytes:
    package, _ = _OURS[name]
    return files(package).joinpath(name.replace("morph.js", "morph.min.js")).read_bytes()


def _event(what: str, particulars: Mapping[str, Any]) -> str:
    return f"event: {what}\ndata: {json.dumps(particulars)}\n\n"


async def refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    return JSONResponse({"why": str(error), **error.more}, error.status)


async def set_up(request: Request, error: Exception) -> Response:
    status = 409 if isinstance(error, day_book.Overtaken) else 400
    return JSONResponse({"why": str(error)}, status)


async def _disk(request: Request, error: Exception) -> Response:
    assert isinstance(error, OSError)
    return JSONResponse({"why": f"not written: {why(error)}"}, 507)


async def _broken(request: Request, error: Exception) -> Response:
    return JSONResponse({"why": f"pressworthy itself failed: {type(error).__name__}"}, 500)
