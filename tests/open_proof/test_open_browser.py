"""The open proof in Chromium: the whole job without a terminal, then the commands agree."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import socket
import subprocess
from base64 import b64encode
from collections.abc import Iterable, Iterator, Sequence
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from conftest import need
from sheets import (
    HOUSES,
    TITLE,
    Opened,
    an_issue,
    command,
    copied,
    draw_masters,
    opened,
    until,
)
from tutorial import PICTURES, Tutorial

from pressworthy.files.picture_list import read_list
from pressworthy.testing import draw, write_picture
from pressworthy.values.placement import Crop

if os.environ.get("CI"):
    import playwright.sync_api as playwright
else:
    playwright = pytest.importorskip("playwright.sync_api")

walk = Tutorial()
AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
MS = 60_000
OF_WIDTH = ["target-size", "scrollable-region-focusable", "meta-viewport", "aria-hidden-focus"]
"""What axe may find at one width and not at another; colours are the same at all."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    path = need("chromium")
    with playwright.sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=path, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache-of-open")


class Sheet:
    """The sheet as a person has it before them; what its page complains of is kept."""

    def __init__(self, browser: Any, server: Opened, **how: Any) -> None:
        self.context = browser.new_context(viewport={"width": 1440, "height": 900}, **how)
        self.page = self.context.new_page()
        self.page.set_default_timeout(MS)
        self.complaints: list[str] = []
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on(
            "console",
            lambda said: self.complaints.append(said.text) if said.type == "error" else None,
        )
        self.page.goto(server.address)

    def picture(self, name: str) -> Any:
        """Return the picture of that name, come into view."""
        article = self.page.locator("article.picture", has=self.page.get_by_text(name, exact=True))
        article.wait_for()
        # in one step: its place is taken by the picture itself as soon as it is in view
        article.evaluate("at => at.scrollIntoView({ block: 'center', behavior: 'instant' })")
        article.locator(".beside").wait_for()
        return article

    def found_by_axe(self, within: str = "html", only: Sequence[str] = ()) -> list[str]:
        """Return what hinders anybody there; only: the rules to go by, all where none is named."""
        self.page.evaluate(AXE.read_text("utf-8"))
        found = self.page.evaluate(
            """async ([within, only]) => (await axe.run(within, {resultTypes: ['violations'],
                rules: {'target-size': {enabled: true}},
                ...(only.length ? {runOnly: only} : {})})).violations
            .map(one => one.id + ': ' + one.nodes.map(node => node.html).slice(0, 2).join())""",
            [within, list(only)],
        )
        return list(found)

    def close(self) -> None:
        self.context.close()


@pytest.fixture(scope="module")
def finished(
    browser: Any, tmp_path_factory: pytest.TempPathFactory, cache: Path
) -> Iterator[tuple[Path, Opened, Sheet]]:
    """The tutorial's job done on the sheet, from an empty folder to copies and marked proof."""
    supplied = draw_masters(tmp_path_factory.mktemp("supplied"))
    folder = tmp_path_factory.mktemp("winter")
    with opened(folder, cache) as server:
        sheet = Sheet(browser, server)
        page = sheet.page
        assert "Drop" in page.inner_text("#next")

        # seven masters are dropped, and the title is chosen
        dropping(page, supplied)
        page.get_by_text("7 pictures stand in").wait_for()
        assert walk(TITLE).match(page.locator(f"#title option[value={TITLE}]").inner_text())
        page.select_option("#title", TITLE)
        page.get_by_role("button", name=walk("put all pictures in it")).click()
        way = page.locator("#way summary")
        assert way.inner_text().startswith(f"{walk.walk('The way through')}, ")
        way.click()

        # two are placed on their pages there, one in another shape than its own; the others in a
        # spreadsheet, and the sheet follows
        harbour = walk.picture("harbour at low water.jpg")
        for name, number, size in ((harbour, 1, ("36", "27")), ("fog.jpg", 3, ("26", "26"))):
            picture = sheet.picture(name)
            picture.get_by_text(walk("place it")).click()
            picture.get_by_label(walk("page")).fill(str(number))
            picture.get_by_label(walk.field("width", "mm")).fill(size[0])
            picture.get_by_label(walk.field("height", "mm")).fill(size[1])
            if name == harbour:
                picture.get_by_label(walk.field("bleed", "mm")).fill("3")
                for edge in ("top", "left", "right"):
                    picture.get_by_label(walk(edge)).check()
            picture.get_by_role("button", name=walk("place it so")).click()
            picture.locator("[id^=place-]:not([open])").wait_for()
        placed(folder / "issue.csv", supplied)
        sheet.picture("crew.tif").get_by_text("page 7 ·").wait_for()
        page.get_by_text("All 7 pictures judged").wait_for()

        # too few pixels: the largest size that they allow, with one click
        cloth = sheet.picture(walk.picture("dyed cloth.jpg"))
        largest = walk("place it at … the largest its pixels allow")
        cloth.get_by_role("button", name=largest).click()
        cloth.get_by_text(re.compile(r"30\.\d+ x 22\.\d+ mm")).first.wait_for()

        # the frame is dragged
        fog = sheet.picture("fog.jpg")
        fog.get_by_text("crop it", exact=True).click()
        frame = fog.locator(".window")
        fog.locator(".live-ppi", has_text="ppi").wait_for()
        frame.scroll_into_view_if_needed()
        box = frame.bounding_box()
        page.mouse.move(box["x"] + 60, box["y"] + 60)
        page.mouse.down()
        page.mouse.move(box["x"] - 400, box["y"] + 60, steps=4)
        page.mouse.up()
        fog.get_by_role("button", name="crop it so").click()

        # which space it was made in is seen, and vouched for
        oranges = sheet.picture(walk.picture("oranges.jpg"))
        oranges.get_by_text(walk("see it read as each space, and vouch for one")).first.click()
        oranges.get_by_role("button", name=walk("vouch for opRGB")).first.click()
        oranges.get_by_text("vouched for", exact=False).first.wait_for()

        # accepted with reason, taken back, and accepted again
        for turn in (1, 2):
            marsh = sheet.picture(walk.picture("marsh at noon.jpg"))
            blown = marsh.locator("[id^=a-luminance-blown]")
            blown.get_by_text(walk("accept it")).click()
            blown.get_by_label(walk("why")).fill("the only frame of the heron")
            if turn == 1:
                blown.get_by_label(walk("who")).fill("Ada Quillon")
            assert blown.get_by_label("who").input_value() == "Ada Quillon"
            blown.get_by_label(walk("until")).fill("2099-06-30")
            blown.get_by_role("button", name=walk("let it stand")).click()
            marsh.get_by_text("accepted by Ada Quillon").wait_for()
            if turn == 1:
                foot = page.get_by_role("region", name=walk("What was decided"))
                told = foot.locator("li", has_text="heron").first
                told.get_by_role("button", name=walk("take it back")).click()
                marsh.get_by_text("accepted by Ada Quillon").wait_for(state="detached")

        # a lift, among three that are drawn
        chapel = sheet.picture(walk.picture("chapel of the drowned.jpg"))
        chapel.get_by_text(walk("see its mid-tones three ways")).first.click()
        chapel.get_by_role("button", name=walk("take it lifted by … L*")).first.click()
        chapel.get_by_text("mended on copy").wait_for()

        # prepared, seen before and after, and the proof saved
        page.get_by_role("button", name=walk("prepare all copies")).click()
        page.get_by_text("the copies are made").wait_for()
        shown = sheet.picture(harbour)
        shown.get_by_text(walk("before and after")).click()
        shown.locator(".splitting input").press("ArrowLeft")
        shown.get_by_text("before and after", exact=True).click()
        page.get_by_role("button", name=walk("save the marked proof")).click()
        page.get_by_text("lies in proof/marked-proof.html").wait_for()
        page.get_by_role("button", name=walk("pack the copies")).click()
        page.get_by_text("7 copies and the list of their tickets").wait_for()
        page.get_by_role("button", name=walk("contact sheet")).click()
        page.get_by_text("the contact sheet lies in proof/").wait_for()
        assert sheet.complaints == []
        yield folder, server, sheet
        sheet.close()


def test_the_tutorial_was_walked_to_its_last_word(finished: tuple[Path, Opened, Sheet]) -> None:
    _, _, sheet = finished
    assert walk.words - walk.walked == set()
    assert len(walk.steps) == 9 and [step[0] for step in walk.steps] == list("123456789")
    # ticked off on the way, all but the stops that only copies mend
    left = sheet.page.locator("#way li:not(.done) b").all_inner_texts()
    assert set(left) <= {"Leave no stop"}
    demo = (Path(__file__).parents[2] / "demo" / "issue.py").read_text("utf-8")
    assert all(f'Plate("{name}"' in demo for name in PICTURES)


def placed(path: Path, names: Iterable[str]) -> None:
    """Write page and size of those that have none into the list, as a spreadsheet does."""
    with path.open(newline="", encoding="utf-8") as stream:
        lines = list(csv.DictReader(stream))
    numbers = {name: str(number) for number, name in enumerate(names, 1)}
    for line in lines:
        if not line["width"]:
            page = numbers[Path(line["picture"]).name]
            line |= {"page": page, "width": "36", "height": "27"}
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(lines[0]))
        writer.writeheader()
        writer.writerows(lines)


def dropping(page: Any, files: dict[str, Path]) -> None:
    """Drop files on the sheet, as a file manager does."""
    page.set_input_files("#files", [str(files["harbour.jpg"])])
    rest = {
        name: b64encode(path.read_bytes()).decode()
        for name, path in files.items()
        if name != "harbour.jpg"
    }
    page.evaluate(
        """files => {
            const data = new DataTransfer();
            for (const [name, bytes] of Object.entries(files))
                data.items.add(new File([Uint8Array.from(atob(bytes), c => c.charCodeAt())], name));
            const how = { dataTransfer: data, bubbles: true, cancelable: true };
            document.body.dispatchEvent(new DragEvent("dragover", how));
            document.body.dispatchEvent(new DragEvent("drop", how));
        }""",
        rest,
    )


def checked(folder: Path, *more: str) -> list[tuple[str, ...]]:
    """Return what the command `check` finds in an issue: picture, rule, code, state."""
    words: list[str | Path] = [
        "check",
        "--list",
        "issue.csv",
        "--house-folder",
        HOUSES,
        "--no-cache",
    ]
    words += ["--format", "json", *more]
    if (folder / "waivers.yaml").exists():
        words += ["--waivers", "waivers.yaml"]
    done = subprocess.run(command(*words), cwd=folder, capture_output=True, check=False)
    assert done.returncode in (0, 1), done.stderr.decode()
    return sorted(
        (picture.get("name") or picture["path"], outcome["rule"], finding["code"], outcome["state"])
        for picture in json.loads(done.stdout)["pictures"]
        for outcome in picture["outcomes"]
        for finding in outcome["findings"]
    )


def test_the_commands_give_the_same_verdicts_on_the_same_folder(
    finished: tuple[Path, Opened, Sheet], tmp_path: Path
) -> None:
    folder, _, sheet = finished
    found = checked(copied(folder, tmp_path / "again"))
    shown = set()
    for name in sorted({row[0] for row in found}):
        picture = sheet.picture(Path(name).name)
        for remark in picture.locator(".mark").all():
            fate = remark.locator(".fate")
            if fate.count() and "On the prepared copy" in fate.text_content():
                continue
            # what is out of sight has no inner text
            word = remark.locator(".word").text_content()
            what = remark.locator(".what").text_content().strip().removeprefix(word).strip()
            kind = remark.get_attribute("class").split()[2]
            if "unmeasured" in remark.locator(".measured").text_content():
                continue
            shown.add((name, what, "waived" if kind == "waived" else "found"))
    told = {
        (name, f"{rule.replace('-', ' ')}: {code.replace('-', ' ')}", state)
        for name, rule, code, state in found
    }
    assert told <= shown and len(told) >= 3
    assert {state for _, _, state in told} == {"found", "waived"}


def test_the_copies_are_byte_for_byte_those_of_the_command(
    finished: tuple[Path, Opened, Sheet], tmp_path: Path
) -> None:
    folder, _, _ = finished
    again = copied(folder, tmp_path / "again")
    words = ["prepare", "--list", "issue.csv", "--waivers", "waivers.yaml", "--into", "copies"]
    done = subprocess.run(
        command(*words, "--house-folder", HOUSES), cwd=again, capture_output=True, check=False
    )
    assert done.returncode in (0, 1), done.stderr.decode()
    here, there = (
        {path.name: path.read_bytes() for path in (one / "copies").glob("*.tif")}
        for one in (folder, again)
    )
    assert len(here) == 7
    assert here.keys() == there.keys()
    assert [name for name in here if here[name] != there[name]] == []


STRANGERS: dict[str, tuple[str, str, dict[str, str]]] = {
    "without the key": ("GET", "/", {}),
    "with a key of its own": ("GET", "/?key=guessed", {}),
    "by a name pointed at this computer": ("GET", "/", {"Host": "stranger.example"}),
    "from a page of its own": ("POST", "/decide", {"Origin": "http://stranger.example"}),
    "to what was decided": ("GET", "/part/record", {}),
    "to the events": ("GET", "/news", {}),
    "to a picture": ("GET", "/seen/0", {}),
}


@pytest.mark.parametrize("how", STRANGERS)
def test_a_stranger_learns_and_changes_nothing(
    finished: tuple[Path, Opened, Sheet], how: str
) -> None:
    folder, server, _ = finished
    before = (folder / "issue.csv").read_bytes()
    method, path, headers = STRANGERS[how]
    asking = HTTPConnection("127.0.0.1", server.port, timeout=20)
    asking.request(method, path, body="{}" if method == "POST" else None, headers=headers)
    answer = asking.getresponse()
    text = answer.read().decode()
    assert answer.status in (403, 421)
    assert "harbour" not in text and answer.getheader("set-cookie") is None
    assert (folder / "issue.csv").read_bytes() == before


def test_nobody_is_answered_but_this_computer(finished: tuple[Path, Opened, Sheet]) -> None:
    _, server, _ = finished
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None)}
    for other in others - {"127.0.0.1", "::1"}:
        if str(other).startswith("127."):
            continue
        with pytest.raises(OSError), socket.create_connection((str(other), server.port), 5):
            pass


def test_what_was_decided_stands_in_the_list(finished: tuple[Path, Opened, Sheet]) -> None:
    folder, _, _ = finished
    lines = {entry.path.name: entry for entry in read_list(folder / "issue.csv")}
    assert len(lines) == 7 and {entry.house for entry in lines.values()} == {TITLE}
    assert lines["oranges.jpg"].assume == "opRGB"
    assert lines["chapel.jpg"].request.tone
    size, crop = lines["cloth.jpg"].request.size, lines["fog.jpg"].request.crop
    assert size and size[0] < 36
    assert isinstance(crop, Crop) and crop.left < 0.01 and crop.width < 0.8
    assert lines["harbour.jpg"].request.edges == {"top", "left", "right"}
    assert "heron" in (folder / "waivers.yaml").read_text("utf-8")
    assert (folder / "proof" / "marked-proof.html").stat().st_size > 10_000


def test_nothing_is_found_by_axe_in_any_state_or_width(
    finished: tuple[Path, Opened, Sheet],
) -> None:
    _, _, sheet = finished
    page = sheet.page
    crew = sheet.picture("crew.tif")
    crew.get_by_text("before and after").click()
    # in the sheet another picture's may stand before it, closed
    crew.locator(".split .stage img").first.wait_for()
    fog = sheet.picture("fog.jpg")
    for words in ("place it", "crop it", "otherwise"):
        fog.get_by_text(words, exact=True).click()
    fog.get_by_text("read it as another space").click()
    fog.locator(".ways img").first.wait_for()
    fog.locator("[id^=crop-]").get_by_text("ppi").first.wait_for()
    page.locator(".letters summary").first.click() if page.locator(".letters").count() else None
    page.locator("#way summary").click()
    for width in (390, 1024, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        # the others see no difference between widths
        assert sheet.found_by_axe(only=[] if width == 1440 else OF_WIDTH) == [], width
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.set_viewport_size({"width": 1440, "height": 900})


def test_a_line_is_dragged_between_before_and_after(finished: tuple[Path, Opened, Sheet]) -> None:
    _, _, sheet = finished
    crew = sheet.picture("crew.tif")
    compare = crew.locator("[id^=compare-]")
    if compare.get_attribute("open") is None:
        compare.locator("> summary").click()
    stage = compare.locator(".stage")
    stage.wait_for()
    stage.scroll_into_view_if_needed()
    box = stage.bounding_box()
    middle = box["y"] + box["height"] / 2
    sheet.page.mouse.move(box["x"] + box["width"] / 2, middle)
    sheet.page.mouse.down()
    sheet.page.mouse.move(box["x"] + box["width"] / 4, middle, steps=3)
    sheet.page.mouse.up()
    assert 24 < float(compare.locator(".splitting input").input_value()) < 26
    compare.get_by_label("at its true size").check()
    true = stage.bounding_box()["width"]
    compare.get_by_label("three times").check()
    assert abs(stage.bounding_box()["width"] - 3 * true) < 2
    compare.get_by_label("pixel by pixel").check()
    crew.locator(".split.pixels").wait_for()
    assert abs(stage.bounding_box()["width"] - 425) < 1
    # on a small screen it is moved within its own edges
    sheet.page.set_viewport_size({"width": 390, "height": 900})
    pane = compare.locator(".pane").bounding_box()
    assert pane["x"] + pane["width"] <= 390 and stage.bounding_box()["width"] > pane["width"]
    sheet.page.set_viewport_size({"width": 1440, "height": 900})


def test_the_sheet_follows_a_hand_in_the_folder(finished: tuple[Path, Opened, Sheet]) -> None:
    folder, _, sheet = finished
    kept = (folder / "issue.csv").read_text("utf-8")
    crew = sheet.picture("crew.tif")
    (folder / "issue.csv").write_text(kept.replace("crew.tif,7", "crew.tif,17"), "utf-8")
    crew.get_by_text("page 17 ·").wait_for()
    # a fault in it is told, with its place, and the sheet stays as it was
    (folder / "issue.csv").write_text(kept.replace("crew.tif,7", "crew.tif,7,7,7"), "utf-8")
    sheet.page.locator(".faults", has_text="issue.csv:").wait_for()
    assert sheet.page.locator("article.picture").count() == 7
    (folder / "issue.csv").write_text(kept, "utf-8")
    crew.get_by_text("page 7 ·").wait_for()
    assert sheet.page.locator(".faults").count() == 0


def test_a_picture_that_is_replaced_is_judged_anew(finished: tuple[Path, Opened, Sheet]) -> None:
    folder, _, sheet = finished
    master = folder / "masters" / "crew.tif"
    kept = master.with_suffix(".kept")
    shutil.copy2(master, kept.with_name(".kept"))
    write_picture(master, draw(300, 225, seed=9), ppi=300)
    crew = sheet.picture("crew.tif")
    crew.get_by_text("too few pixels").wait_for()
    kept.with_name(".kept").replace(master)
    crew.get_by_text("too few pixels").wait_for(state="detached")


def test_two_tabs_show_the_same_and_the_later_is_told(
    finished: tuple[Path, Opened, Sheet],
) -> None:
    _, server, sheet = finished
    first = sheet.picture("crew.tif")
    other = sheet.context.new_page()
    other.set_default_timeout(MS)
    other.goto(server.address)
    second = other.locator("article.picture", has=other.get_by_text("crew.tif", exact=True))
    second.scroll_into_view_if_needed()
    second.get_by_text("place it", exact=True).click()
    second.get_by_label("page", exact=True).fill("8")
    second.get_by_role("button", name="place it so").click()
    first.get_by_text("page 8 ·").wait_for()
    # what one decides by an older sheet than the other's is not written over it
    told = sheet.page.evaluate(
        """async id => {
            const put = (seen, page) => fetch("/decide", {method: "POST",
                headers: {"content-type": "application/json"},
                body: JSON.stringify({kind: "place", picture: id, fields: {page}, seen})});
            const seen = document.querySelector("#top").dataset.stamp;
            await put(seen, "9");
            const late = await put(seen, "10");
            return [late.status, (await late.json()).why];
        }""",
        first.get_attribute("data-id"),
    )
    assert told[0] == 409 and "page" in told[1]
    first.get_by_text("page 9 ·").wait_for()
    for page in ("page 9", "page 8"):
        made = sheet.page.locator(".decisions li:not(.back)", has_text=f"{page}: crew.tif")
        made.get_by_role("button", name="take it back").click()
        made.wait_for(state="detached")
    first.get_by_text("page 7 ·").wait_for()
    other.close()


def test_a_killed_server_loses_no_decision_that_was_shown(
    browser: Any, tmp_path: Path, cache: Path
) -> None:
    folder = an_issue(tmp_path / "killed", ("crew.tif", "marsh.jpg"))
    with opened(folder, cache) as server:
        sheet = Sheet(browser, server)
        picture = sheet.picture("crew.tif")
        picture.get_by_text("place it", exact=True).click()
        picture.get_by_label("page", exact=True).fill("70")
        picture.get_by_role("button", name="place it so").click()
        sheet.page.locator(".decisions li").wait_for()
        server.kill()
        sheet.page.get_by_text("nothing decided is lost").wait_for()
        sheet.close()
    assert "crew.tif,70" in (folder / "issue.csv").read_text("utf-8")
    with opened(folder, cache) as server:
        sheet = Sheet(browser, server, reduced_motion="reduce")
        sheet.picture("crew.tif").get_by_text("page 70 ·").wait_for()
        assert sheet.page.locator(".decisions li").count() == 1
        keyboard_alone(sheet.page)
        # closed with a sheet open, it has nothing to complain of
        assert server.close() == 0
        assert server.process.stdout and "ERROR" not in server.process.stdout.read()
        sheet.close()


def keyboard_alone(page: Any) -> None:
    """Accept a remark without the mouse: to the picture, to the words, in and out."""
    page.locator("#next a").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement.matches('article.picture')")
    page.wait_for_selector("article:focus .answers")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('[id^=a-] > summary')"):
            break
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.type("seen, and well")
    page.keyboard.press("Tab")
    page.keyboard.type("Ada Quillon")
    page.keyboard.press("Tab")
    page.keyboard.type("06302099")
    page.keyboard.press("Enter")
    page.get_by_text("accepted by Ada Quillon").first.wait_for()


def test_started_without_a_folder_an_issue_is_begun_and_found_again(
    browser: Any, tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(tmp_path / "documents"))
    monkeypatch.setenv("HOME", str(tmp_path))
    with opened(None, tmp_path / "cache") as server:
        sheet = Sheet(browser, server)
        assert sheet.found_by_axe() == []
        sheet.page.get_by_label("called").fill("../Winter 7")
        sheet.page.keyboard.press("Enter")
        sheet.page.get_by_text("Drop the issue").wait_for()
        assert sheet.page.inner_text("h1") == "Winter 7"
        assert "0 of 10 steps done" in sheet.page.inner_text("#way")
        sheet.close()
    (folder,) = tmp_path.rglob("Winter 7")
    an_issue(folder, ("crew.tif",))
    with opened(None, tmp_path / "cache") as server:
        sheet = Sheet(browser, server)
        sheet.page.get_by_role("button", name="Winter 7").click()
        sheet.page.get_by_text("1 picture judged").wait_for()
        sheet.close()


def test_hostile_names_and_captions_are_only_words(
    browser: Any, tmp_path: Path, cache: Path
) -> None:
    evil = '"><img src=x onerror=window.hit=1>'
    folder = tmp_path / "hostile"
    (folder / "masters").mkdir(parents=True)
    name = "a\u202egnp.<b>'&{{7*7}}.jpg" if os.name != "nt" else "a'&{{7}}.jpg"
    words = {"caption": evil, "credit": evil, "creator": evil, "copyright": evil}
    write_picture(folder / "masters" / "plain.jpg", draw(600, 450), words=words, Q=95)
    with opened(folder, cache) as server:
        sheet = Sheet(browser, server)
        page = sheet.page
        for given in (name, f"../../../{name}", "/etc/passwd", "CON.jpg", ".hidden", "a/../b.jpg"):
            page.evaluate(
                """async name => (await fetch("/drop?name=" + encodeURIComponent(name),
                    {method: "POST", body: new Uint8Array([1, 2, 3])})).status""",
                given,
            )
        page.select_option("#title", TITLE)
        page.get_by_role("button", name="put all pictures in it").click()
        sheet.picture("plain.jpg").get_by_text(evil).first.wait_for()
        assert page.evaluate("window.hit") is None
        assert "49" not in page.inner_text("#glances")
        for _ in until():
            if page.locator("article.picture").count() >= 3:
                break
        assert page.evaluate("window.hit") is None
        assert all(path.is_relative_to(folder) for path in folder.rglob("*"))
        sheet.close()
    assert not (tmp_path / name).exists()
    inside = {path.name for path in (folder / "masters").rglob("*")}
    assert "passwd" in inside or not Path("/etc/passwd").exists()
    assert ".hidden" not in inside and "CON.jpg" not in inside
