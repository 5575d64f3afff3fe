"""What a browser may ask of the house standard: read it, try a value, write one, start one.

House profiles are named by ids given out here, values by their path in the profile's schema, a
dropped profile by the digest of its bytes.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from pressworthy.characterization.making import Press, refuse_name, stated
from pressworthy.house import load_house
from pressworthy.open_proof import book, day_book, printers_data, sheet, standards
from pressworthy.open_proof.asking import Asked, Refused, asked_for
from pressworthy.open_proof.building import Building, Wanted, read_chart
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.journal import Overtaken
from pressworthy.open_proof.standards import Draft
from pressworthy.open_proof.what_if import what_if
from pressworthy.values.faults import Fault, KeyPath, SetupError

CONDITION: KeyPath = ("output", "condition")
FOLDERS: KeyPath = ("rules", "prepared-copy", "masters")
_ABSOLUTE = re.compile(r"\s*([/\\~]|[A-Za-z]:)")


def _typed(asked: Asked) -> tuple[KeyPath, str]:
    """Return path and value as a person typed it; none leads elsewhere. Raises Refused."""
    path, value = book.keys(asked.text("path")), asked.text("value")
    if path == CONDITION and re.search(r"[/\\:]", value):
        raise Refused("a profile lies beside the house profiles and is named by its name alone")
    if path == FOLDERS and any(map(_ABSOLUTE.match, value.split(","))):
        raise Refused("folders are seen from the copy’s own, such as ../masters")
    return path, value


def _press(asked: Asked) -> Press:
    """Return what a person states of a press. Raises SetupError naming the field."""
    units = {"ruling": "lines/cm", "limit": "%"}
    values, faults = {}, []
    for name, unit in units.items():
        try:
            values[name] = stated(asked.text(name), unit)
        except ValueError as error:
            faults.append(Fault(None, (name,), str(error)))
    under = asked.text("under")
    if under not in ("", "M0", "M1", "M2", "M3"):
        faults.append(Fault(None, ("under",), "M0, M1, M2 or M3 (ISO 13655)"))
    if faults:
        raise SetupError(faults)
    return Press(
        values["ruling"], values["limit"], under=under, matte=bool(asked.text("matte")),
        draft=bool(asked.text("draft")),
    )  # fmt: skip


class Book:
    """The routes of the house standard, on one desk."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._dropped: dict[str, printers_data.Dropped] = {}
        self._one_at_a_time = threading.Lock()
        self._building: Building | None = None

    def routes(self) -> list[Route]:
        return [
            Route("/house", self.first),
            Route("/house/{id}", self.page),
            Route("/house/{id}/try", self.tried, methods=["POST"]),
            Route("/house/{id}/write", self.write, methods=["POST"]),
            Route("/house/{id}/start", self.start, methods=["POST"]),
            Route("/house/{id}/profile", self.profile, methods=["POST"]),
            Route("/house/{id}/build", self.build, methods=["POST"]),
            Route("/house/{id}/building", self.building),
            Route("/house/{id}/let-be", self.let_be, methods=["POST"]),
            Route("/house/{id}/agree", self.agree, methods=["POST"]),
        ]

    async def first(self, request: Request) -> Response:
        profile = await run_in_threadpool(book.first, self._desk)
        if profile is None:
            raise Refused("there is no house profile", 404)
        return RedirectResponse(f"/house/{profile.id}", 303)

    async def page(self, request: Request) -> Response:
        profile = await self._profile(request)
        return HTMLResponse(await run_in_threadpool(book.page, self._desk, profile))

    # ---- what if -------------------------------------------------------------------------------

    async def tried(self, request: Request) -> Response:
        """Answer what another value would change, or what is wrong with it. Nothing is written."""
        profile, asked = await self._profile(request), await asked_for(request)
        path, value = _typed(asked)
        html = await run_in_threadpool(self._tried, profile, path, value)
        return HTMLResponse(html)

    def _tried(self, profile: book.Profile, path: KeyPath, value: str) -> str:
        return self._answer(
            profile, path, partial(self._drafted, profile, path, value, ""), value=value
        )

    def _answer(
        self, profile: book.Profile, path: KeyPath, draft: Callable[[], Draft], **more: Any
    ) -> str:
        try:
            with self._one_at_a_time:
                worked = draft()
                tries = list(what_if(self._desk, worked))
        except SetupError as error:
            return sheet.fragment("mistakes", mistakes=book.mistakes(error, path))
        values = {"rows": [], "token": "", "value": "", "fit": "", **more}
        return sheet.fragment(
            "what_if", profile=profile, tries=tries, path=book.PATH.join(
                map(str, path)
            ), by=day_book.name_of(self._desk.issue), is_same=not worked.change(), **values,
        )  # fmt: skip

    def _drafted(self, profile: book.Profile, path: KeyPath, value: str, reason: str) -> Draft:
        home = self._desk.house_folder or profile.file.parent
        return standards.drafted(profile.file, path, value, reason, self._desk.registry, home)

    # ---- what is written -----------------------------------------------------------------------

    async def write(self, request: Request) -> Response:
        profile, asked = await self._profile(request), await asked_for(request)
        path, value = _typed(asked)
        write = partial(
            self._write, profile, path, value, asked.text("reason"), asked.text("by").strip(),
            asked.text("seen"),
        )  # fmt: skip
        return JSONResponse({"said": await run_in_threadpool(write)})

    def _write(
        self, profile: book.Profile, path: KeyPath, value: str, reason: str, by: str, seen: str
    ) -> str:
        if not profile.own:
            raise Refused("it came with the program: start a title of your own on it")
        reason = standards.reason_given(reason)
        by = by or day_book.name_of(self._desk.issue)
        drafted = partial(self._drafted, profile, path, value, reason)
        decision = standards.decided(drafted(), path, value, reason, by, self._desk.folder)

        def draft() -> Draft:
            if book.seen(profile.file) != seen:
                raise Overtaken([f"{profile.file.name}: changed since you read it; read it again"])
            return drafted()

        self._desk.decide_on_house(decision, draft)
        return sheet.in_words(decision)

    async def start(self, request: Request) -> Response:
        asked = await asked_for(request)
        words = {name: asked.text(name) for name in ("name", "kind", "stands on", "about", "by")}
        return JSONResponse(await run_in_threadpool(self._start, words))

    def _start(self, words: dict[str, str]) -> dict[str, str]:
        home = standards.place_of(self._desk.folder, self._desk.house_folder)
        drafted = partial(
            standards.started, words["name"], words["kind"], words["stands on"], words["about"],
            self._desk.registry, home,
        )  # fmt: skip
        draft = drafted()
        by = words["by"].strip() or day_book.name_of(self._desk.issue)
        decision = standards.started_as(draft, words["stands on"], by, self._desk.folder)
        self._desk.decide_on_house(decision, drafted)
        made = book.by_name(book.profiles(self._desk), draft.file.stem)
        return {"said": sheet.in_words(decision), "go": f"/house/{made.id}" if made else "/house"}

    # ---- the printer's own data ----------------------------------------------------------------

    async def profile(self, request: Request) -> Response:
        """Take in an ICC profile and answer what would follow, or a chart and ask what it lacks.

        No file of the house changes.
        """
        profile = await self._profile(request)
        if profile.kind == "standard":
            raise Refused("a profile is for one press and paper: lay it on an output type or title")
        length = request.headers.get("content-length", "")
        size = int(length) if length.isdecimal() else None
        given = request.query_params.get("name", "")
        try:
            dropped = await printers_data.laid_aside(
                given, size, request.stream(), self._desk.laid_aside.folder
            )
        except ClientDisconnect:
            raise Refused("broken off") from None
        token = dropped.digest[:32]
        if dropped.is_chart:
            try:
                chart = await run_in_threadpool(read_chart, dropped.path)
            except SetupError:
                rmtree(dropped.path.parent, ignore_errors=True)
                raise
            self._dropped[token] = dropped
            return HTMLResponse(sheet.fragment("chart", chart=chart, token=token))
        self._dropped[token] = dropped
        return HTMLResponse(await run_in_threadpool(self._followed, profile, dropped))

    async def build(self, request: Request) -> Response:
        """Begin to make a condition of a chart that was dropped."""
        profile, asked = await self._profile(request), await asked_for(request)
        dropped = self._dropped.get(asked.text("token"))
        if dropped is None or not dropped.is_chart:
            raise Refused("those measurements are no more at hand; drop them again", 404)
        name, press = asked.text("name").strip(), _press(asked)
        refuse_name(name)
        folders = self._desk.registry.condition_folders
        printers_data.refuse_taken(name, profile.file.parent, folders)
        with self._one_at_a_time:
            if self._building and self._building.is_under_way:
                raise Refused(
                    f"{self._building.wanted.name} is being made; let that end first", 409
                )
            into = Path(mkdtemp(prefix="condition-", dir=self._desk.laid_aside.folder))
            wanted = Wanted(dropped.path, name, press, into)
            tell = partial(self._desk.tell, "building")
            self._building = Building(wanted, profile.id, tell)
        return JSONResponse({"said": f"{name} is being made"})

    async def building(self, request: Request) -> Response:
        """Answer how far the condition is, or what would follow from it; nothing without one."""
        profile, building = await self._profile(request), self._building
        if building is None or building.house != profile.id:
            return HTMLResponse("")
        if building.built is None:
            return HTMLResponse(sheet.fragment("building", building=building))
        token = building.wanted.token
        dropped = printers_data.Dropped(building.wanted.name, building.built.path, token)
        self._dropped[token] = dropped
        fit = " ".join(building.built.fit.split("\n"))
        return HTMLResponse(await run_in_threadpool(self._followed, profile, dropped, fit))

    async def let_be(self, request: Request) -> Response:
        """Stop making a condition, and forget what was made."""
        profile, building = await self._profile(request), self._building
        await asked_for(request)
        if building and building.house == profile.id:
            self._building = None
            await run_in_threadpool(building.stop)
        return JSONResponse({"said": "let be"})

    def _followed(
        self, profile: book.Profile, dropped: printers_data.Dropped, fit: str = ""
    ) -> str:
        draft = partial(self._drafted, profile, CONDITION, str(dropped.path.resolve()), "")
        rows: list[printers_data.Row] = []
        try:
            then = draft().house
            if then is not None:
                now = load_house(str(profile.file), self._desk.registry, self._desk.house_folder)
                rows = list(printers_data.beside(now, then))
        except SetupError as error:
            return sheet.fragment("mistakes", mistakes=book.mistakes(error, CONDITION))
        return self._answer(
            profile, CONDITION, draft, rows=rows, token=dropped.digest[:32], value=dropped.name,
            fit=fit,
        )  # fmt: skip

    async def agree(self, request: Request) -> Response:
        """Copy a profile that was dropped, or a condition made of it, beside the house profiles.

        There it is named.
        """
        profile, asked = await self._profile(request), await asked_for(request)
        dropped = self._dropped.get(asked.text("token"))
        if dropped is None or dropped.is_chart:
            raise Refused("that profile is no more at hand; drop it again", 404)
        if not profile.own:
            raise Refused("it came with the program: start a title of your own on it")
        standards.reason_given(asked.text("reason"))
        # what would be refused anyway leaves no copy behind
        tried = partial(self._drafted, profile, CONDITION, str(dropped.path.resolve()), "")
        await run_in_threadpool(tried)
        name = await run_in_threadpool(printers_data.copied, dropped, profile.file.parent)
        write = partial(
            self._write, profile, CONDITION, name, asked.text("reason"), asked.text("by").strip(),
            asked.text("seen"),
        )  # fmt: skip
        said = await run_in_threadpool(write)
        if self._building and self._building.wanted.token == asked.text("token"):
            self._building = None
        return JSONResponse({"said": said})

    async def _profile(self, request: Request) -> book.Profile:
        there = await run_in_threadpool(book.profiles, self._desk)
        profile = there.get(request.path_params["id"])
        if profile is None:
            raise Refused("that house profile is no more there", 404)
        return profile
