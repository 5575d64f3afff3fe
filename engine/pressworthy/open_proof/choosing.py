"""The page of a start without a folder: issues opened lately, or a new one by its name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from pressworthy import __version__
from pressworthy.open_proof.asking import Refused, asked_for
from pressworthy.open_proof.entry import Entry, Keys
from pressworthy.open_proof.names import master_name
from pressworthy.open_proof.recent import Recent
from pressworthy.open_proof.server import own_file, refused, set_up
from pressworthy.report.marked_proof.environment import rendered
from pressworthy.values.faults import SetupError


def choice(
    recents: Sequence[Recent],
    begun_in: Path,
    house_folder: Path | None,
    keys: Keys,
    chosen: Callable[[Recent], None],
) -> Entry:
    """Return the server of the page, behind its door.

    begun_in: the folder of new issues; house_folder: their house profiles. chosen: is told, once.
    """

    async def page(request: Request) -> Response:
        shown = [(number, one.folder.name, str(one.folder)) for number, one in enumerate(recents)]
        html = rendered(
            "choosing.html", among="pressworthy.open_proof", version=__version__, recents=shown,
            begun_in=str(begun_in),
        )  # fmt: skip
        return HTMLResponse(html)

    async def choose(request: Request) -> Response:
        asked = await asked_for(request)
        chosen(await run_in_threadpool(_found, asked.fields))
        return JSONResponse({"said": "one moment"})

    def _found(fields: Any) -> Recent:
        number, name = fields.get("number"), fields.get("name")
        if isinstance(number, int) and 0 <= number < len(recents):
            return recents[number]
        if not isinstance(name, str) or not name.strip():
            raise Refused("say what the new issue is to be called")
        # a name alone, safe on every system: no path is taken from a browser
        folder = (
            begun_in / master_name(begun_in, name.replace("/", " ").replace("\\", " ")).path.name
        )
        try:
            folder.mkdir(parents=True)
        except FileExistsError:
            raise Refused(f"there is an issue called {folder.name} already", 409) from None
        except OSError as error:
            raise SetupError([f"{folder}: {error.strerror}"]) from None
        return Recent(folder, house_folder)

    routes = [
        Route("/", page),
        Route("/choose", choose, methods=["POST"]),
        Route("/{name}", own_file),
    ]
    return Entry(
        Starlette(routes=routes, exception_handlers={Refused: refused, SetupError: set_up}), keys
    )
