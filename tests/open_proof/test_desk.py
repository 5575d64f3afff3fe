"""The desk: what it judges, in which order, what a decision touches, what is to be done next."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from sheets import HOUSES, TITLE, an_issue, until

from pressworthy import jobs
from pressworthy.house import load_house
from pressworthy.jobs import Run
from pressworthy.open_proof import saving, sheet
from pressworthy.open_proof.desk import Desk, Line
from pressworthy.open_proof.journal import Decision
from pressworthy.open_proof.lanes import Lane
from pressworthy.plugins import Registry
from pressworthy.report import pdf
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Severity
from pressworthy.values.report import weight


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Desk]:
    """A desk on seven pictures, all judged."""
    folder = an_issue(tmp_path_factory.mktemp("issue"))
    run = Run(registry, processes=2)
    one = Desk(folder, run, tmp_path_factory.mktemp("aside"), HOUSES)
    one.start()
    wait(one)
    # what is looked at beside it is told of too
    for _ in until(120):
        if all(one.whole(line) for line in one.lines.values()):
            break
    yield one
    one.end()


def wait(desk: Desk) -> None:
    for _ in until(120):
        done = desk.progress()
        if done.done == done.total and not desk._under_way:
            return
    raise AssertionError(f"not judged in time: {desk.progress()}, {desk.faults}")


def named(desk: Desk, name: str) -> Line:
    (line,) = (line for line in desk.lines.values() if line.task.path.name == name)
    return line


def codes(desk: Desk, line: Line) -> set[str]:
    """Return the codes of what is found in a picture."""
    verdict = desk.verdict(line)
    assert verdict is not None
    return {finding.code for _, finding in verdict.findings()}


def test_its_verdicts_are_those_of_check(desk: Desk, registry: Registry) -> None:
    house = load_house(TITLE, registry, HOUSES)
    tasks = [line.task for line in desk.lines.values()]
    report = jobs.check(tasks, house, Run(registry, processes=2))
    wanted = {verdict.path: verdict for verdict in report.verdicts}
    for line in desk.lines.values():
        verdict, same = desk.verdict(line), wanted[str(line.task.path)]
        assert verdict is not None
        assert verdict.findings() == same.findings()
        assert [one.state for one in verdict.outcomes] == [one.state for one in same.outcomes]


def test_the_worst_come_first_and_the_first_thing_to_do_is_theirs(desk: Desk) -> None:
    verdicts = [desk.verdict(desk.lines[id]) for id in desk.order]
    weights = [weight(verdict)[0] for verdict in verdicts if verdict]
    assert weights == sorted(weights) and len(weights) == 7
    assert verdicts[0] and verdicts[0].worst() is Severity.STOP
    told = sheet.next_thing(desk)
    assert (told.kind, told.to) == ("picture", f"p{desk.lines[desk.order[0]].number}")


def test_a_decision_makes_only_its_picture_be_judged_again(desk: Desk) -> None:
    cloth = named(desk, "cloth.jpg")
    before = dict(desk._alone)
    assert "too-few-pixels" in codes(desk, cloth)
    told: list[tuple[str, object]] = []
    stop = desk.listen(lambda what, more: told.append((what, more.get("id"))))
    fields = {"width": "28", "height": "21"}
    desk.decide(Decision("place", (cloth.place,), fields), desk.issue.stamp)
    assert desk.is_stale(named(desk, "cloth.jpg"))
    assert desk.verdict(cloth), "the verdict that is being renewed is shown until then"
    wait(desk)
    stop()
    again = [id for id, known in desk._alone.items() if known is not before[id]]
    assert again == [cloth.id]
    assert "too-few-pixels" not in codes(desk, cloth)
    assert {id for what, id in told if what == "picture"} == {cloth.id}
    desk.take_back(desk.issue.decisions[-1].identity, "")
    wait(desk)


def test_a_master_that_is_replaced_is_judged_again_and_no_other(desk: Desk) -> None:
    crew = named(desk, "crew.tif")
    kept = crew.task.path.read_bytes()
    before = dict(desk._alone)
    write_picture(crew.task.path, draw(300, 225, seed=9), ppi=300)
    desk.follow()
    wait(desk)
    assert [id for id, known in desk._alone.items() if known is not before[id]] == [crew.id]
    assert "too-few-pixels" in codes(desk, crew)
    crew.task.path.write_bytes(kept)
    desk.follow()
    wait(desk)


def test_accepting_is_laid_over_at_once_and_judges_nothing(desk: Desk) -> None:
    marsh = named(desk, "marsh.jpg")
    before = dict(desk._alone)
    fields = {
        "finding": "luminance/blown-highlights", "reason": "the heron", "by": "Ada Quillon",
        "until": "2099-01-01",
    }  # fmt: skip
    desk.decide(Decision("accept", (marsh.place,), fields, by="Ada Quillon"), desk.issue.stamp)
    verdict = desk.verdict(named(desk, "marsh.jpg"))
    assert verdict and "the heron" in verdict.accepted()[0].waiver
    assert desk._alone.keys() == before.keys()
    desk.take_back(desk.issue.decisions[-1].identity, "Ada Quillon")
    wait(desk)
    verdict = desk.verdict(named(desk, "marsh.jpg"))
    assert verdict and not verdict.accepted()


def test_what_is_accepted_is_let_stand_on_the_copy_too_and_a_copy_that_stands_is_known(
    desk: Desk,
) -> None:
    marsh = named(desk, "marsh.jpg")
    fields = {"finding": "luminance/blown-highlights", "reason": "the heron", "until": "2099-01-01"}
    desk.decide(Decision("accept", (marsh.place,), fields, by="Ada Quillon"), desk.issue.stamp)
    wait(desk)
    desk.pull_all()
    html = sheet.picture(desk, named(desk, "marsh.jpg"))
    assert "accepted by Ada Quillon" in html and 'class="mark kind stop' not in html
    assert desk.copy(marsh) is None
    desk.prepare([marsh.id])
    assert "Prepared: " in sheet.picture(desk, named(desk, "marsh.jpg"))
    # another desk on the same folder knows it by its ticket
    other = Desk(desk.folder, desk.run, desk.laid_aside.folder, HOUSES)
    other.show([marsh.id])
    assert other._look()
    copy = other.copy(other.lines[marsh.id])
    assert copy and Path(copy.path).exists()
    assert other.copy(named(other, "fog.jpg")) is None


def test_a_master_with_a_stop_that_preparing_does_not_mend_is_left_for_a_person(
    tmp_path: Path, registry: Registry
) -> None:
    folder, aside = tmp_path / "issue", tmp_path / "aside"
    aside.mkdir()
    lines = ["picture,house,width,height"]
    for name, words in (("named.jpg", CREDITED), ("nameless.jpg", {**CREDITED, "creator": ""})):
        (folder / "masters").mkdir(parents=True, exist_ok=True)
        write_picture(folder / "masters" / name, draw(300, 225), words=words, ppi=300, Q=95)
        lines.append(f"masters/{name},{TITLE},25,18.75")
    (folder / "issue.csv").write_text("\n".join(lines) + "\n", "utf-8")
    desk = Desk(folder, Run(registry), aside, HOUSES)
    assert desk.prepare() == (1, 1)
    copies = folder / "copies"
    assert list(copies.glob("named*.tif")) and not list(copies.glob("nameless*"))
    nameless = named(desk, "nameless.jpg")
    left = desk.copy(nameless)
    assert left and not left.path and "left for a person" in left.words
    # accepted by a person, it is made
    desk.decide(
        Decision(
            "accept",
            (nameless.place,),
            {"finding": "credit/no-creator", "reason": "an old postcard", "until": "2099-01-01"},
            by="Ada Quillon",
        ),
        desk.issue.stamp,
    )
    assert desk.prepare([nameless.id]) == (1, 0)
    assert list(copies.glob("nameless*.tif"))


def test_the_saved_proof_holds_its_images_and_can_be_printed(desk: Desk) -> None:
    try:
        pdf.find_browser()
    except SetupError:
        pytest.skip("no browser is here to print")
    told = saving.save(desk, printed=True)
    page = (desk.folder / "proof" / "marked-proof.html").read_text("utf-8")
    assert "marked-proof.pdf" in told
    assert "/seen/" not in page and page.count("data:image/avif") >= 7
    assert "Marked proof" in page and "Open proof" not in page
    assert (desk.folder / "proof" / "marked-proof.pdf").read_bytes().startswith(b"%PDF")


def test_a_waiver_that_accepts_nothing_is_told(desk: Desk) -> None:
    fog = named(desk, "fog.jpg")
    fields = {"finding": "bleed/short-bleed", "reason": "in case", "until": "2099-01-01"}
    desk.decide(Decision("accept", (fog.place,), fields, by="Ada Quillon"), desk.issue.stamp)
    wait(desk)
    assert "A waiver was not needed: bleed/short-bleed" in sheet.page(desk)
    desk.take_back(desk.issue.decisions[-1].identity, "Ada Quillon")
    wait(desk)
    assert "was not needed: bleed" not in sheet.page(desk)


def test_a_delivery_is_the_pictures_of_one_icc_profile_with_the_same_remark(desk: Desk) -> None:
    fog = named(desk, "fog.jpg")
    finding = "source-profile/unmeasured"
    alike = {line.task.path.name for line in sheet.alike(desk, fog, finding)}
    mine = {
        line.task.path.name
        for line in desk.lines.values()
        if (verdict := desk.verdict(line))
        and any(outcome.rule == "source-profile" for outcome in verdict.unmeasured())
    }
    assert alike == mine and len(alike) > 2
    assert sheet.alike(desk, fog, "bleed/short-bleed") == []


def test_one_letter_for_each_supplier_asks_what_is_in_doubt(desk: Desk) -> None:
    desk.show(list(desk.lines))
    for _ in until(120):
        if all(desk.whole(line) for line in desk.lines.values()):
            break
    page = sheet.page(desk)
    assert page.count('aria-label="Letter to ') == 1
    letter = page.partition("<textarea")[2].partition("</textarea>")[0]
    assert "To A. Maker / The House:" in letter
    assert "oranges.jpg" in letter and "In which RGB space was it made?" in letter
    assert "cloth.jpg" in letter and "crew.tif" not in letter
    assert letter.count("\n") > 8


def test_stopped_it_judges_nothing_until_it_goes_on(desk: Desk) -> None:
    desk.stop()
    path = named(desk, "fog.jpg").task.path
    os.utime(path)
    desk.follow()
    fog = named(desk, "fog.jpg")
    for _ in until(0.5):
        assert desk.is_stale(fog)
    assert "go on" in sheet.top(desk)
    desk.go_on()
    wait(desk)


def test_a_list_that_cannot_be_read_leaves_the_sheet_as_it_was(desk: Desk) -> None:
    path = desk.folder / "issue.csv"
    kept = path.read_bytes()
    path.write_bytes(kept + b'masters/"x.jpg\n')
    desk.follow()
    assert len(desk.lines) == 7 and "issue.csv" in desk.faults[0]
    assert "issue.csv" in sheet.top(desk)
    path.write_bytes(kept)
    desk.follow()
    assert desk.faults == () and len(desk.lines) == 7


def test_a_house_profile_is_followed_and_one_that_is_broken_leaves_the_sheet_as_it_was(
    tmp_path: Path, registry: Registry
) -> None:
    houses = tmp_path / "houses"
    shutil.copytree(HOUSES, houses)
    desk = Desk(an_issue(tmp_path / "issue"), Run(registry), tmp_path, houses)
    before = {line.id: line.key for line in desk.lines.values()}
    title = houses / f"{TITLE}.yaml"
    kept = title.read_text("utf-8")
    title.write_text(f"{kept}\nno such key: 1\n", "utf-8")
    desk.follow()
    assert {line.id: line.key for line in desk.lines.values()} == before
    assert any("no such key" in fault for fault in desk.faults)
    title.write_text(kept.replace("about:", "about: Changed."), "utf-8")
    desk.follow()
    assert desk.faults == () and len(desk.lines) == 7
    title.write_text(f"{kept}\noutput:\n  bleed: 5 mm\n  reason: the binder asks for it\n", "utf-8")
    desk.follow()
    assert all(line.key != before[line.id] for line in desk.lines.values()), desk.faults


def test_a_lane_that_breaks_is_told(desk: Desk, tmp_path: Path) -> None:
    told: list[str] = []

    def broken() -> bool:
        raise RuntimeError("no room")

    lane = Lane("broken", broken, told.append)
    lane.start()
    lane.wake()
    for _ in until(5):
        if told:
            break
    lane.end()
    assert "no room" in told[0]
