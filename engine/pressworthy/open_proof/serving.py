"""Serving one issue until it is closed: the port, the lanes, and the eye on the folder."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from tempfile import TemporaryDirectory

import uvicorn
import watchfiles

from pressworthy.jobs import Run
from pressworthy.open_proof import dropped, recently
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.entry import LOOPBACK, Keys
from pressworthy.open_proof.issue import COPIES, PROOF
from pressworthy.open_proof.page_desk import PageDesk
from pressworthy.open_proof.server import application
from pressworthy.values.faults import SetupError, Stopped

DEBOUNCE_MS = 300


def serve(
    folder: Path,
    run: Run,
    opened: Callable[[str], None],
    *,
    house_folder: Path | None = None,
    port: int = 0,
    cache: Path | None = None,
) -> None:
    """Serve the issue in the folder to this computer's browser until it is interrupted.

    opened: is told the address, key and all, once it answers. Raises SetupError.
    """
    # what worker processes are forked from loads meanwhile
    threading.Thread(target=_warm, args=(run,), daemon=True).start()
    try:
        listening = socket.create_server((LOOPBACK, port))
    except OSError as error:
        raise SetupError([f"port {port}: {error.strerror}; give another --port"]) from None
    with listening, TemporaryDirectory(prefix="pressworthy-", ignore_cleanup_errors=True) as aside:
        dropped.clear(folder)
        keys = Keys(listening.getsockname()[1])
        desk = Desk(folder, run, Path(aside), house_folder, cache)
        page_desk = PageDesk(desk)
        closing = threading.Event()
        watching = threading.Thread(target=_watch, args=(desk, closing), daemon=True)
        watching.start()
        desk.start()
        page_desk.start()
        config = uvicorn.Config(
            application(desk, keys, page_desk),
            log_level="warning",
            access_log=False,
            lifespan="off",
            server_header=False,
            timeout_graceful_shutdown=1,
            http="h11",
            ws="none",
        )
        if cache:
            recently.note(folder, cache)
        opened(keys.address)
        try:
            uvicorn.Server(config).run(sockets=[listening])
        except (KeyboardInterrupt, Stopped):
            # it hands the interruption on once it has closed, which is how a person closes it
            pass
        finally:
            closing.set()
            desk.end()
            page_desk.end()


def _warm(run: Run) -> None:
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
