"""The house standard's routes: ids and paths of values, what is dropped, what is refused."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from asked import HOME, KEYS, OURS, asked, sent
from conftest import need
from measured_charts import cgats
from one_picture import ICC, an_issue
from sheets import HOUSES, TITLE, until

from pressworthy.colour.chart import chart
from pressworthy.house import validate_house
from pressworthy.jobs import Run
from pressworthy.open_proof import book, building, printers_data, recent
from pressworthy.open_proof.desk import Desk
from pressworthy.open_proof.server import application
from pressworthy.plugins import Registry

SPREAD = "rules / luminance / least spread"
POSTS = ("try", "write", "start", "agree", "build", "let-be")
WHY = {"reason": "fog is out", "by": "Ada Quillon"}


@pytest.fixture
def houses(tmp_path: Path) -> Path:
    return Path(shutil.copytree(HOUSES, tmp_path / "houses"))


@pytest.fixture
def desk(tmp_path: Path, houses: Path, registry: Registry) -> Desk:
    """A desk whose lanes do not run."""
    (tmp_path / "aside").mkdir()
    folder = an_issue(tmp_path / "issue")
    return Desk(
        folder, Run(registry, processes=1), tmp_path / "aside", houses, tmp_path / "v.sqlite"
    )


@pytest.fixture
def app(desk: Desk) -> Any:
    return application(desk, KEYS)


def id_of(desk: Desk, name: str, *, own: bool = True) -> str:
    (one,) = (p for p in book.profiles(desk).values() if (p.name, p.own) == (name, own))
    return one.id


def posted(app: Any, where: str, **fields: Any) -> tuple[int, str]:
    status, _, text = asked(app, where, "POST", OURS, sent(fields))
    return status, text


def dropped(
    app: Any, house: str, name: str, data: bytes, size: int | None = None
) -> tuple[int, str]:
    heads = {**OURS, "content-length": str(len(data) if size is None else size)}
    path = f"/house/{house}/profile?name={quote(name)}"
    status, _, text = asked(app, path, "POST", heads, data)
    return status, text


def test_the_page_tells_the_standard_and_its_first_is_the_issues(app: Any, desk: Desk) -> None:
    status, heads, _ = asked(app, "/house", headers=OURS)
    assert (status, heads["location"]) == (303, f"/house/{id_of(desk, TITLE)}")
    status, _, text = asked(app, heads["location"], headers=OURS)
    assert status == 200 and "A picture prints at" in text and 'value="300 ppi"' in text
    assert "the built-in coated-magazine.yaml, line 11" in text
    assert "Sealed by house.yaml, line 9" in text
    # nothing of this computer's folders is told
    assert str(desk.folder.parent) not in text


def test_a_value_is_tried_without_a_trace_and_written_with_a_reason(
    app: Any, desk: Desk, houses: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with desk.remembering() as run:
        monkeypatch.setattr(Run, "over", lambda self, work, tasks, lost, *more:
                            (work(task, *more) for task in tasks))  # fmt: skip
        assert run.cache
        desk._judge(urgent=False)
        house, file = id_of(desk, TITLE), houses / f"{TITLE}.yaml"
        before = file.read_bytes()
        few = "rules / resolution / severity / too-few-pixels"
        status, text = posted(app, f"/house/{house}/try", path=few, value="note")
        assert status == 200 and file.read_bytes() == before
        told = " ".join(re.sub(r"<[^>]+>", "", text).split())
        assert "1 picture of 1 would be judged otherwise." in told
        assert "would be noted in pier.jpg (page 4) (now it stops it)" in told
        status, text = posted(app, f"/house/{house}/try", path="output / ppi", value="150 ppi")
        assert "would no longer stop" in text
        status, text = posted(app, f"/house/{house}/try", path=SPREAD, value="26 L*")
        assert "No verdict of 1 picture would change" in text
        seen = book.seen(file)
        fields = {"path": few, "value": "note", "seen": seen, **WHY}
        status, text = posted(app, f"/house/{house}/write", **{**fields, "reason": " "})
        assert status == 400 and "say why" in text and file.read_bytes() == before
        status, text = posted(app, f"/house/{house}/write", **fields)
        assert status == 200, text
        assert "too-few-pixels: note" in file.read_text("utf-8")
        assert desk.is_stale(next(iter(desk.lines.values())))
        # the page it was decided by is an old one now
        status, text = posted(app, f"/house/{house}/write", **{**fields, "value": "query"})
        assert status == 409 and "changed since you read it" in text


def test_another_issue_opened_lately_is_tried_too(
    app: Any, desk: Desk, tmp_path: Path, registry: Registry, houses: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr(Run, "over", lambda self, work, tasks, lost, *more:
                        (work(task, *more) for task in tasks))  # fmt: skip
    folder = an_issue(tmp_path / "summer", "quay.jpg")
    (tmp_path / "aside 2").mkdir()
    cache = tmp_path / "v.sqlite"
    other = Desk(folder, Run(registry), tmp_path / "aside 2", houses, cache)
    other._judge(urgent=False)
    monkeypatch.setattr(recent, "_file", lambda: tmp_path / "recent.json")
    recent.remember(folder, None)
    recent.remember(desk.folder, None)
    assert desk.others() == [folder.resolve()]
    few = "rules / resolution / severity / too-few-pixels"
    _, text = posted(app, f"/house/{id_of(desk, TITLE)}/try", path=few, value="query")
    assert "In summer, opened lately: 1 picture of 1" in text and "quay.jpg" in text
    assert "1 picture is yet to be judged" in text


def test_mistakes_and_locks_are_told_beside_the_field(app: Any, desk: Desk) -> None:
    house = id_of(desk, TITLE)
    status, text = posted(app, f"/house/{house}/try", path=SPREAD, value="lots")
    assert status == 200 and "write a number, a space and L*" in text and "<form" not in text
    path = "rules / credit / severity / no-credit"
    for ask in ("try", "write"):
        _, text = posted(app, f"/house/{house}/{ask}", path=path, value="note", seen="", **WHY)
        assert "locked by the house at" in text


def test_what_came_with_the_program_is_tried_and_not_written(app: Any, desk: Desk) -> None:
    house = id_of(desk, "coated-magazine", own=False)
    status, text = posted(app, f"/house/{house}/try", path="output / ppi", value="250 ppi")
    assert status == 200 and "start a title of your own" in text and "write it into" not in text
    fields = {"path": "output / ppi", "value": "250 ppi", "seen": "", **WHY}
    status, text = posted(app, f"/house/{house}/write", **fields)
    assert status == 400 and "came with the program" in text


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("output / condition", str(ICC)),
        ("output / condition", "../conditions/press.icc"),
        ("output / condition", "C:\\\\press.icc"),
        ("rules / prepared-copy / masters", "., /etc"),
        ("rules / prepared-copy / masters", "D:\\\\x"),
    ],
)
def test_no_path_of_this_computer_is_taken(
    app: Any, desk: Desk, houses: Path, path: str, value: str
) -> None:
    before = (houses / f"{TITLE}.yaml").read_bytes()
    for ask in ("try", "write"):
        fields = {"path": path, "value": value, "seen": book.seen(houses / f"{TITLE}.yaml")}
        status, text = posted(app, f"/house/{id_of(desk, TITLE)}/{ask}", **fields, **WHY)
        assert status == 400 and ("beside the house profiles" in text or "seen from" in text)
    assert (houses / f"{TITLE}.yaml").read_bytes() == before


@pytest.mark.parametrize("id", ["0" * 12, "..%2Fhouse", "slack-tide", "%00"])
def test_only_ids_that_were_given_out_lead_anywhere(app: Any, id: str) -> None:
    for what in ("try", "write", "start", "agree", "build", "let-be"):
        status, _ = posted(app, f"/house/{id}/{what}", path=SPREAD, value="1 L*", **WHY)
        assert status in (400, 404)
    assert asked(app, f"/house/{id}", headers=OURS)[0] == 404


def test_nobody_without_the_key_is_told_anything(app: Any, desk: Desk) -> None:
    house = id_of(desk, TITLE)
    asks = [("GET", ""), *(("POST", f"/{what}") for what in POSTS)]
    for method, what in [*asks, ("GET", "/building"), ("POST", "/profile?name=press.icc")]:
        for heads in ({"origin": f"http://{HOME}"}, {**OURS, "origin": "http://else.where"}):
            status, _, text = asked(app, f"/house/{house}{what}", method, heads, b"{}")
            assert status == 403 and "ppi" not in text


def test_hostile_values_are_only_words(app: Any, desk: Desk, houses: Path) -> None:
    house, file = id_of(desk, TITLE), houses / f"{TITLE}.yaml"
    evil = "</p><script>alert(1)</script>\nrules: {}\n# x"
    for path in (SPREAD, "output / condition", "prepare / name", "rules / x", "", "lock / 0"):
        status, text = posted(app, f"/house/{house}/try", path=path, value=evil)
        assert status in (200, 400) and "<script>" not in text
    before = file.read_bytes()
    fields = {"path": SPREAD, "value": "26 L*", "seen": book.seen(file), "by": evil}
    status, text = posted(app, f"/house/{house}/write", **fields, reason=f"fog\n{evil}")
    assert status == 200, text
    # a reason is one line of a comment, whatever it holds
    added = set(file.read_text("utf-8").splitlines()) - set(before.decode().splitlines())
    assert len(added) == 3 and all(line.strip().startswith(("#", "least spread")) for line in added)
    _, _, page = asked(app, f"/house/{house}", headers=OURS)
    assert "<script>alert" not in page


def test_a_title_is_started_and_stands_among_the_titles(app: Any, desk: Desk, houses: Path) -> None:
    fields = {"kind": "title", "name": "low-water", "stands on": TITLE, "about": "A yearly.", **WHY}
    status, text = posted(app, f"/house/{id_of(desk, TITLE)}/start", **fields)
    assert status == 200 and json.loads(text)["go"] == f"/house/{id_of(desk, 'low-water')}"
    assert validate_house(str(houses / "low-water.yaml"), desk.registry, houses)
    assert "low-water" in asked(app, "/part/glances", headers=OURS)[2]
    status, text = posted(app, f"/house/{id_of(desk, TITLE)}/start", **fields)
    assert status == 400 and "is taken" in text


def test_without_a_folder_of_the_house_it_lies_in_the_issue(
    tmp_path: Path, registry: Registry
) -> None:
    (tmp_path / "aside").mkdir()
    folder = an_issue(tmp_path / "issue")
    rows = (folder / "issue.csv").read_text("utf-8").replace(TITLE, "coated-magazine")
    (folder / "issue.csv").write_text(rows, "utf-8")
    desk = Desk(folder, Run(registry), tmp_path / "aside")
    app = application(desk, KEYS)
    fields = {"kind": "title", "name": "ours", "stands on": "coated-magazine", "about": "x", **WHY}
    first = id_of(desk, "coated-magazine", own=False)
    assert posted(app, f"/house/{first}/start", **fields)[0] == 200
    assert "ours.yaml" in asked(app, "/part/glances", headers=OURS)[2]
    given = {"kind": "title", "fields": {"house": "ours.yaml"}, "seen": desk.issue.stamp}
    assert posted(app, "/decide", **given)[0] == 200
    assert [house.name for house in desk.houses()] == ["ours"]
    fields = {"path": "output / ppi", "value": "250 ppi", "seen": book.seen(folder / "ours.yaml")}
    status, text = posted(app, f"/house/{id_of(desk, 'ours')}/write", **fields, **WHY)
    assert status == 200, text
    assert desk.houses()[0].output.ppi == 250


def test_the_printers_profile_is_laid_beside_and_named_once_agreed(
    app: Any, desk: Desk, houses: Path
) -> None:
    house, file = id_of(desk, TITLE), houses / f"{TITLE}.yaml"
    before, there = file.read_bytes(), set(houses.iterdir())
    status, text = dropped(app, house, "../Press hall 2.icc", ICC.read_bytes())
    told = " ".join(re.sub(r"<[^>]+>", " ", text).split())
    assert status == 200 and "bare paper, L* a* b* 95.0 0.0 -2.0 95.8 0.6 -2.3" in told
    assert "ink limit of the house 300 % 300 %" in told
    assert "dots 60 lines/cm; 2400 dpi 60 lines/cm, assumed as of coated; 2400 dpi" in told
    assert re.search(r"amount of sharpening 0\.91, as stated 0\.9\d, derived", told), told
    assert file.read_bytes() == before and set(houses.iterdir()) == there
    token = re.search(r'data-token="([0-9a-f]{32})"', text)
    assert token
    fields = {"token": token[1], "seen": book.seen(file), **WHY}
    # without a reason no copy is left behind either
    status, text = posted(app, f"/house/{house}/agree", **{**fields, "reason": ""})
    assert status == 400 and set(houses.iterdir()) == there
    status, text = posted(app, f"/house/{house}/agree", **fields)
    assert status == 200, text
    assert (houses / "Press-hall-2.icc").read_bytes() == ICC.read_bytes()
    assert "condition: Press-hall-2.icc" in file.read_text("utf-8")
    assert desk.houses()[0].output.condition.paper[0] == pytest.approx(95.8, abs=0.1)
    # the same name and other bytes: beside it, never over it
    other = printers_data.Dropped("Press-hall-2.icc", HOUSES / "house.yaml", "")
    assert printers_data.copied(other, houses) == "Press-hall-2-2.icc"
    assert (houses / "Press-hall-2.icc").read_bytes() == ICC.read_bytes()


@pytest.mark.parametrize(
    ("name", "data", "size", "words"),
    [
        ("press.icc", b"", None, "no usable ICC profile"),
        ("press.icc", b"x" * 500, None, "no usable ICC profile"),
        ("press.icc", b"x" * 500, 400, "longer than was announced"),
        ("press.icc", b"x" * 500, 600, "broken off"),
        ("press.icc", b"x", 10**9, "larger than 30 MB"),
        ("press.exe", b"x", None, "no ICC profile (.icc, .icm) and no file of measurements"),
        ("..", b"x", None, "no ICC profile"),
        ("chart.cxf", b"x", None, "read as CGATS.17 text or .ti3"),
        ("chart.ti3", b"x" * 500, 400, "longer than was announced"),
        ("chart.txt", b"x" * 500, 600, "broken off"),
        ("chart.txt", b"x", 10**9, "larger than 30 MB"),
    ],
)
def test_what_is_no_profile_is_refused_and_leaves_nothing(
    app: Any, desk: Desk, houses: Path, name: str, data: bytes, size: int | None, words: str
) -> None:
    there = set(houses.iterdir())
    status, text = dropped(app, id_of(desk, TITLE), name, data, size)
    assert status == 400 and words in text, text
    assert set(houses.iterdir()) == there and not any(desk.laid_aside.folder.iterdir())


HOSTILE = {
    "nothing": (b"", "no table of CMYK patches"),
    "no table": (b"\xff\x00<script>" * 50, "no table of CMYK patches"),
    "no end": (cgats(chart()).partition("END_DATA\n")[0].encode(), "END_DATA is missing"),
    "a word for a number": (cgats(chart()).replace("100.0000", "1e9999", 1).encode(), "chart.txt:"),
    "paper alone": (cgats(chart()[:3]).encode(), "chart.txt: "),
    "quotes without end": (
        cgats(chart()[:1]).replace("\n0 ", "\n" + '"' * 200_000 + " ").encode(),
        "chart.txt:",
    ),
}


@pytest.mark.parametrize("how", HOSTILE)
def test_hostile_measurements_are_told_and_leave_nothing(
    app: Any, desk: Desk, houses: Path, how: str
) -> None:
    need("colprof")
    there = set(houses.iterdir())
    data, words = HOSTILE[how]
    status, text = dropped(app, id_of(desk, TITLE), "../chart.txt", data)
    assert status == 400 and words in json.loads(text)["why"], text
    assert str(desk.laid_aside.folder) not in text and set(houses.iterdir()) == there
    assert not any(desk.laid_aside.folder.iterdir())


def test_without_argyll_measurements_name_it(
    app: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", "")
    status, text = dropped(app, id_of(desk, TITLE), "chart.txt", cgats(chart()).encode())
    assert status == 400 and "install ArgyllCMS (Debian: argyll)" in text


def test_measurements_that_take_too_long_to_read_are_let_go(
    app: Any, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    need("colprof")
    monkeypatch.setattr(building, "READ_SECONDS", 0.0)
    status, text = dropped(app, id_of(desk, TITLE), "chart.txt", cgats(chart()).encode())
    assert status == 400 and "chart.txt: not read: it took longer than" in text


@pytest.fixture
def token(app: Any, desk: Desk) -> str:
    """Measurements that lie on the page; return their name towards the browser."""
    need("colprof")
    status, text = dropped(app, id_of(desk, TITLE), "Hall 2.txt", cgats(chart()).encode())
    assert status == 200 and "Hall-2.txt:" in text and "of web press" in text, text
    found = re.search(r'data-token="([0-9a-f]{32})"', text)
    assert found
    return found[1]


NO_PRESS: list[tuple[dict[str, Any], str]] = [
    ({"name": "../hall"}, "letters, digits"),
    ({"name": ""}, "letters, digits"),
    ({"name": "press.icc"}, "what an ICC profile is called"),
    ({"name": "new"}, "letters, digits"),
    ({"name": "coated"}, "coated is taken"),
    ({"name": "slack-tide.yaml"}, "is taken"),
    ({"ruling": "sixty"}, "ruling: 'sixty' is not a quantity in"),
    ({"ruling": "1000"}, "10 to 200 lines/cm can be"),
    ({"limit": "-l4000"}, "limit: "),
    ({"limit": "90 %"}, "100 to 400 % can be"),
    ({"under": "M9"}, "M0, M1, M2 or M3"),
    ({"token": "0" * 32}, "no more at hand"),
    ({"token": "../../etc/passwd"}, "no more at hand"),
    ({"draft": ["yes"]}, "draft is no text"),
]


def test_what_no_press_can_be_is_refused_and_nothing_is_made(
    app: Any, desk: Desk, token: str
) -> None:
    house = id_of(desk, TITLE)
    asked_of = {"token": token, "name": "hall-2", "ruling": "60 lines/cm", "limit": "300 %"}
    for fields, words in NO_PRESS:
        status, text = posted(app, f"/house/{house}/build", **{**asked_of, **fields})
        assert status in (400, 404) and words in json.loads(text)["why"], text
    assert asked(app, f"/house/{house}/building", headers=OURS)[2] == ""
    assert not list(desk.laid_aside.folder.glob("condition-*"))


def test_a_condition_under_way_is_told_stopped_and_leaves_nothing(
    app: Any, desk: Desk, houses: Path, token: str
) -> None:
    house, there = id_of(desk, TITLE), set(houses.iterdir())
    told: list[str] = []
    desk.listen(lambda what, _: told.append(what))
    fields = {"token": token, "name": "hall-2", "ruling": "60", "limit": "300"}
    assert posted(app, f"/house/{house}/build", **fields)[0] == 200
    for _ in until(60):
        if "the CMYK profile" in asked(app, f"/house/{house}/building", headers=OURS)[2]:
            break
    text = asked(app, f"/house/{house}/building", headers=OURS)[2]
    assert "hall-2 is being made: the CMYK profile" in text and ">stop<" in text
    # one at a time, and told only where it was dropped
    assert posted(app, f"/house/{house}/build", **{**fields, "name": "hall-3"})[0] == 409
    other = id_of(desk, "coated-magazine", own=False)
    assert asked(app, f"/house/{other}/building", headers=OURS)[2] == ""
    assert posted(app, f"/house/{other}/let-be")[0] == 200
    assert ">stop<" in asked(app, f"/house/{house}/building", headers=OURS)[2]
    assert posted(app, f"/house/{house}/let-be")[0] == 200
    assert asked(app, f"/house/{house}/building", headers=OURS)[2] == ""
    assert "building" in told
    (into,) = desk.laid_aside.folder.glob("condition-*")
    assert not list(into.iterdir()) and set(houses.iterdir()) == there
    children = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True).stdout
    assert f"-D hall-2 (from {'Hall-2.txt'}" not in children
    # a chart itself is nothing that could be printed by
    agree = {"token": token, "seen": book.seen(houses / f"{TITLE}.yaml"), **WHY}
    assert posted(app, f"/house/{house}/agree", **agree)[0] == 404


def test_a_standard_of_all_presses_takes_no_presss_profile(app: Any, desk: Desk) -> None:
    status, text = dropped(app, id_of(desk, "house"), "press.icc", ICC.read_bytes())
    assert status == 400 and "one press and paper" in text


def test_a_profile_that_was_never_dropped_is_not_agreed_to(app: Any, desk: Desk) -> None:
    for token in ("", "0" * 32, "../../etc/passwd"):
        status, _ = posted(app, f"/house/{id_of(desk, TITLE)}/agree", token=token, seen="", **WHY)
        assert status == 404


@pytest.mark.parametrize("name", ["../../x.icc", "C:\\press.icc", "a/b/c.icm", "é 漢.ICC"])
def test_a_profiles_name_is_made_safe(name: str) -> None:
    made = printers_data.profile_name(name)
    assert re.fullmatch(r"[A-Za-z0-9._-]+\.ic[cm]", made) and ".." not in made
