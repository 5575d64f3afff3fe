"""Serving one issue until it is closed: the port, the lanes, and the eye on the folder."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

import uvicorn
import watchfiles

from pressworthy.jobs import Run
from pressworthy.open_proof import dropped
from pressworthy.open_proof.choosing import choice
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.entry import LOOPBACK, Entry, Keys
from pressworthy.open_proof.issue import COPIES, PROOF
from pressworthy.open_proof.page_desk import PageDesk
from pressworthy.open_proof.recent import Recent, new_issues, recents, remember
from pressworthy.open_proof.server import application
from pressworthy.values.faults import SetupError, Stopped

DEBOUNCE_MS = 300
CLOSED_S = 15
"""After a sheet was closed it may be opened again: a page that is loaded anew is closed too."""
NEVER_OPENED_S = 300
LONGEST_CHOICE_S = 1_800


def serve(
    folder: Path | None,
    run: Run,
    opened: Callable[[str, str], None],
    *,
    house_folder: Path | None = None,
    port: int = 0,
    cache: Path | None = None,
    until_closed: bool = False,
) -> None:
    """Serve the issue in the folder to this computer's browser until it is interrupted.

    folder: None to have one chosen on the page first. opened: is told the issue's name, "" before
    one is chosen, and the address, key and all, once it answers. until_closed: end by itself, too,
    when no sheet of it is open any more. Raises SetupError.
    """
    # what worker processes are forked from loads meanwhile
    threading.Thread(target=_warm, args=(run,), daemon=True).start()
    try:
        listening = socket.create_server((LOOPBACK, port))
    except OSError as error:
        raise SetupError([f"port {port}: {error.strerror}; give another --port"]) from None
    with listening:
        keys = Keys(listening.getsockname()[1])
        if folder is None:
            chosen = _chosen(house_folder, keys, listening, opened, until_closed=until_closed)
            if chosen is None:
                return
            folder, house_folder = chosen.folder, chosen.house_folder
        else:
            opened(folder.resolve().name, keys.address)
        remember(folder, house_folder)
        with TemporaryDirectory(prefix="pressworthy-", ignore_cleanup_errors=True) as aside:
            dropped.clear(folder)
            desk = Desk(folder, run, Path(aside), house_folder, cache)
            page_desk = PageDesk(desk)
            closing = threading.Event()
            watching = threading.Thread(target=_watch, args=(desk, closing), daemon=True)
            watching.start()
            desk.start()
            page_desk.start()
            server = _server(application(desk, keys, page_desk), desk.close_sheets)
            if until_closed:
                left = threading.Thread(target=_end_when_left, args=(desk, server, closing))
                left.daemon = True
                left.start()
            try:
                server.run(sockets=[listening])
            except (KeyboardInterrupt, Stopped):
                # it hands the interruption on once it has closed, which is how a person closes it
                pass
            finally:
                closing.set()
                desk.end()
                page_desk.end()


def _chosen(
    house_folder: Path | None,
    keys: Keys,
    listening: socket.socket,
    opened: Callable[[str, str], None],
    *,
    until_closed: bool,
) -> Recent | None:
    """Have an issue chosen; None where it was interrupted, or nobody chose any.

    Whoever asks in the moment between this server and the issue's waits at the same port.
    """
    found: list[Recent] = []

    def tell(recent: Recent) -> None:
        found.append(recent)
        server.should_exit = True

    server = _server(choice(recents(), new_issues(), house_folder, keys, tell))
    opened("", keys.address)
    if until_closed:
        timer = threading.Timer(LONGEST_CHOICE_S, lambda: setattr(server, "should_exit", True))
        timer.daemon = True
        timer.start()
    with suppress(KeyboardInterrupt, Stopped):
        server.run(sockets=[listening.dup()])
    return found[0] if found else None


class _Server(uvicorn.Server):
    """Tells that it closes before it waits for what is still being answered."""

    def __init__(self, config: uvicorn.Config, closes: Callable[[], None]) -> None:
        super().__init__(config)
        self._closes = closes

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._closes()
        await super().shutdown(sockets)


def _server(app: Entry, closes: Callable[[], None] = lambda: None) -> uvicorn.Server:
    return _Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            lifespan="off",
            server_header=False,
            timeout_graceful_shutdown=5,
            http="h11",
            ws="none",
        ),
        closes,
    )


def _end_when_left(desk: Desk, server: uvicorn.Server, closing: threading.Event) -> None:
    """End the server when its last sheet has been closed for a while, or none was ever opened."""
    left, patience = time.monotonic(), NEVER_OPENED_S
    while not closing.wait(1):
        if desk.is_watched():
            left, patience = time.monotonic(), CLOSED_S
        elif time.monotonic() - left > patience:
            server.should_exit = True
            return


def _warm(run: Run) -> None:
    # where it ends before that, nothing was to be ready
    with suppress(SetupError):
        list(run.over(_nothing, [None], lambda *_: None))


def _nothing(_: None) -> None:
    """Be done."""


def _watch(desk: Desk, closing: threading.Event) -> None:
    """Let the desk follow whatever changes in the issue's folder and the house's."""
    made = {desk.folder.resolve() / COPIES, desk.folder.resolve() / PROOF}

    def matters(_: watchfiles.Change, path: str) -> bool:
        place = Path(path)
        return not place.name.startswith(".") and not made & {place, *place.parents}

    watched = [desk.folder, *([desk.house_folder] if desk.house_folder else [])]
    changes: Iterable[object] = watchfiles.watch(
        *watched,
        watch_filter=matters,
        debounce=DEBOUNCE_MS,
        step=50,
        stop_event=closing,
        raise_interrupt=False,
    )
    for _ in changes:
        try:
            desk.follow()
        except (SetupError, OSError) as error:
            desk.trouble(str(error))
