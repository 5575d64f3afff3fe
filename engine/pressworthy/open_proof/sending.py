"""What goes to others: the copies that are up to date as one ZIP, and a sheet of contacts."""

from __future__ import annotations

import csv
import hashlib
import io
import math
import os
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pressworthy.files.metadata.ticket import Ticket, read_ticket
from pressworthy.files.opening import read_header
from pressworthy.house import House
from pressworthy.jobs import Run
from pressworthy.open_proof import looks
from pressworthy.open_proof.desk import Desk, Line
from pressworthy.open_proof.issue import COPIES, PROOF
from pressworthy.open_proof.laid_aside import restored
from pressworthy.prepare import Order
from pressworthy.prepare.store import part_of, why
from pressworthy.report import pdf
from pressworthy.report.marked_proof.environment import counted, rendered
from pressworthy.report.marked_proof.pictures import data_uri
from pressworthy.values.faults import SetupError

ZIP, CONTACTS = "copies.zip", "contact-sheet.pdf"
TICKETS = "tickets.csv"
COLUMNS = (
    "copy", "sha256", "picture", "page", "house", "condition", "colour", "width mm", "height mm",
    "ppi", "bleed mm", "edges", "ink limit", "sharpened", "master sha256",
)  # fmt: skip
"""Of the tickets' list, a line for each place of a copy."""

LONG_AGO = (1980, 1, 1, 0, 0, 0)
"""The earliest time that a ZIP can tell: the same copies give the same bytes."""

MOST_CONTACTS = 240
"""On one page; smaller ones could not be told apart."""


@dataclass(frozen=True)
class Contact:
    """One picture of the contact sheet; source: its small image, "" where there is none yet."""

    number: int
    name: str
    facts: str
    source: str


def zip_copies(desk: Desk) -> str:
    """Pack the copies that stand and are up to date, with the list of their tickets.

    Returns where it lies, in words. Raises SetupError where there is none, or it cannot be written.
    """
    with desk.busy_with("the copies are being packed"):
        return _zipped(desk)


def _zipped(desk: Desk) -> str:
    lines = [line for line in desk.lines.values() if not line.task.twin]
    ordered: dict[str, Order] = {}
    for house in desk.houses():
        ordered |= desk.ordered(house)
    standing: dict[str, Path] = {}
    for house in desk.houses():
        asked = [(id, order) for id, order in ordered.items() if desk.lines[id].house == house]
        for id, stands in desk.run.over(_standing, asked, _lost, house, desk.run):
            if stands:
                standing[id] = ordered[id].target
    if not standing:
        raise SetupError(["no copy stands that is up to date; prepare the copies first"])
    target = _target(desk, ZIP)
    there = [(line, standing[line.id]) for line in lines if line.id in standing]
    try:
        _pack(there, desk.folder / COPIES, target)
    except OSError as error:
        raise SetupError([f"{target}: {why(error)}"]) from None
    packed = len(set(standing.values()))
    lacking = len(lines) - len(there)
    without = (
        f"; {counted(lacking, 'picture')} without a copy that is up to date" if lacking else ""
    )
    copies = "one copy" if packed == 1 else f"{packed} copies"
    return f"{copies} and the list of their tickets lie in {PROOF}/{ZIP}{without}"


def _standing(asked: tuple[str, Order], house: House, run: Run) -> tuple[str, bool]:
    id, order = asked
    return id, looks.stands(order, house)


def _lost(asked: tuple[str, Order], *_: object) -> tuple[str, bool]:
    return asked[0], False


def _target(desk: Desk, name: str) -> Path:
    target = desk.folder / PROOF / name
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SetupError([f"{target.parent}: {error.strerror}"]) from None
    return target


def _pack(there: Sequence[tuple[Line, Path]], root: Path, target: Path) -> None:
    """Write the ZIP whole or not at all; a copy on several pages goes in once. Raises OSError."""
    part = part_of(target)
    rows: list[Mapping[str, str]] = []
    try:
        part.unlink(missing_ok=True)
        with part.open("xb") as stream:  # through no link that somebody laid there
            with zipfile.ZipFile(stream, "w") as packed:
                for path in dict.fromkeys(path for _, path in there):
                    # what is hashed is what is packed
                    data = path.read_bytes()
                    name = path.relative_to(root).as_posix()
                    packed.writestr(zipfile.ZipInfo(name, LONG_AGO), data)
                    digest = hashlib.sha256(data).hexdigest()
                    ticket = read_ticket(read_header(path).xmp)
                    lines = [line for line, one in there if one == path]
                    rows += [_row(name, digest, line, ticket) for line in lines if ticket]
                packed.writestr(zipfile.ZipInfo(TICKETS, LONG_AGO), _listed(rows))
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def _row(name: str, digest: str, line: Line, ticket: Ticket) -> dict[str, str]:
    is_sharpened = ticket.amount not in ("", "0")
    sharpened = f"radius {ticket.radius} px, amount {ticket.amount}" if is_sharpened else "no"
    values = (
        name, digest, ticket.master, line.task.request.page, ticket.house, ticket.condition,
        ticket.colour, ticket.width, ticket.height, ticket.ppi, ticket.bleed, ticket.edges,
        ticket.ink_limit, sharpened, ticket.master_sha256,
    )  # fmt: skip
    return dict(zip(COLUMNS, values, strict=True))


def _listed(rows: Sequence[Mapping[str, str]]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for row in rows:
        # a spreadsheet must not take a name for a formula
        writer.writerow(
            {key: f"'{said}" if said[:1] in "=+-@" else said for key, said in row.items()}
        )
    return text.getvalue()


def contact_sheet(desk: Desk) -> str:
    """Print all pictures small on one page, by page and number, and return where it lies, in words.

    Raises SetupError.
    """
    browser = pdf.find_browser()
    page = contacts_page(desk)
    with desk.busy_with("the contact sheet is being printed"):
        pdf.print_page(browser, page, _target(desk, CONTACTS))
    return f"the contact sheet lies in {PROOF}/{CONTACTS}"


def contacts_page(desk: Desk) -> str:
    """Return the page of the contact sheet, as HTML. Raises SetupError where one is not enough."""
    with desk.still():
        lines = list(desk.lines.values())
        if not lines:
            raise SetupError(["there is no picture yet"])
        if len(lines) > MOST_CONTACTS:
            told = (
                f"{len(lines)} pictures are more than one page can show, which is {MOST_CONTACTS}"
            )
            raise SetupError([f"{told}; save the marked proof instead"])
        contacts = [_contact(desk, line) for line in lines]
    # cells a little higher than wide on A4, two lines of words in each
    columns = max(3, math.ceil(math.sqrt(len(contacts) * 0.72)))
    return rendered(
        "contacts.html", among="pressworthy.open_proof", contacts=contacts, columns=columns,
        rows=math.ceil(len(contacts) / columns), folder=desk.folder.resolve().name,
        houses=[house.name for house in desk.houses()],
    )  # fmt: skip


def _contact(desk: Desk, line: Line) -> Contact:
    pull, verdict = desk.pull(line), desk.verdict(line)
    size = f"{pull.mm[0]:.4g} × {pull.mm[1]:.4g} mm" if pull.mm else ""
    page = f"page {line.task.request.page}" if line.task.request.page else ""
    worst = verdict.worst() if verdict else None
    state = "not judged" if verdict is None else str(worst.value) if worst else ""
    if (copy := desk.copy(line)) and copy.path:
        state = "copy stands" if not state else f"copy stands, {state} on its master"
    source = data_uri(restored(pull.small, desk.laid_aside.folder)) if pull.small else ""
    facts = " · ".join(filter(None, (page, size, state)))
    return Contact(line.number, line.task.path.name, facts, source)
