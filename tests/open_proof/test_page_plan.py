"""The issue by its pages, as a value: what stands where, without a PDF, a server or a browser."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pressworthy.files.pages import PdfPage, Placed
from pressworthy.open_proof.issue import Issue, read_issue
from pressworthy.open_proof.journal import Place
from pressworthy.open_proof.page_plan import MARGIN_MM, Page, ReadPdf, page_plan, spreads
from pressworthy.open_proof.page_plan import _packed as packed
from pressworthy.plugins import Registry
from pressworthy.values.placement import Placement

ROWS = {
    "pier.jpg": "12,50,40", "fog.jpg": "12,50,40", "crew.jpg": "13,60,45", "cover.jpg": ",,",
    "far.jpg": "20,120,90",
}  # fmt: skip


@pytest.fixture
def issue(tmp_path: Path, registry: Registry) -> Issue:
    lines = ["picture,page,width,height", *(f"masters/{n},{row}" for n, row in ROWS.items())]
    (tmp_path / "masters").mkdir()
    for name in ROWS:
        (tmp_path / "masters" / name).write_bytes(b"x")
    (tmp_path / "issue.csv").write_text("\n".join(lines) + "\n", "utf-8")
    return read_issue(tmp_path, registry)


def placed(index: int, number: int, size: tuple[float, float], at: tuple[float, float]) -> Placed:
    """Return a picture of so many mm whose top left corner lies at so many of an A4 page."""
    trim = {
        "left": at[0], "top": at[1], "right": 210 - at[0] - size[0],
        "bottom": 297 - at[1] - size[1],
    }  # fmt: skip
    place = Placement(*size, page=str(12 + index))
    return Placed(
        Path("pages.pdf"), index, str(12 + index), number, (number,), 600, 450, (), place,
        facts={"trim": trim},
    )  # fmt: skip


def read(folder: Path, *pictures: Placed, **more: object) -> ReadPdf:
    pages = tuple(PdfPage(n, str(12 + n), 210, 297, True) for n in range(2))
    pdf = ReadPdf(folder / "pages.pdf", 5.0, pages, pictures)
    return replace(pdf, **more)  # type: ignore[arg-type]


def place(name: str) -> Place:
    return Place(f"masters/{name}", ROWS[name].partition(",")[0])


def test_without_a_pdf_each_page_of_the_list_is_a_plain_sheet(issue: Issue) -> None:
    plan = page_plan(issue)
    assert [page.page for page in plan.pages] == ["12", "13", "20"]
    assert plan.pageless == 1 and not plan.shown
    first = plan.pages[0]
    assert first.pdf is None and (first.width, first.height) == (210, 297) and first.scale == 1
    assert [box.place for box in first.boxes] == [place("pier.jpg"), place("fog.jpg")]
    one, other = first.boxes
    assert (one.width * 210, one.height * 297) == pytest.approx((50, 40))
    assert one.left * 210 == MARGIN_MM and other.left > one.left + one.width
    # a picture wider than A4 gets a larger sheet
    assert plan.pages[2].width == 210


def test_pictures_stand_where_the_pdf_has_them(issue: Issue) -> None:
    pier, fog = placed(0, 1, (50, 40), (20, 30)), placed(0, 2, (50, 40), (100, 200))
    masters = issue.folder / "masters"
    sources = {(0, 1): masters / "fog.jpg", (0, 2): masters / "pier.jpg"}
    plan = page_plan(issue, [read(issue.folder, pier, fog, sources=sources)])
    assert [page.page for page in plan.pages] == ["12", "13", "20"]
    boxes = plan.pages[0].boxes
    # alike in size: the file tells which is which
    assert [box.place for box in boxes] == [place("fog.jpg"), place("pier.jpg")]
    at = [(box.left * 210, box.top * 297, box.width * 210, box.height * 297) for box in boxes]
    assert at == [pytest.approx((20, 30, 50, 40)), pytest.approx((100, 200, 50, 40))]
    assert not any(box.otherwise for box in boxes)
    assert plan.pages[1].missing == (place("crew.jpg"),) and plan.pages[1].sought
    assert plan.pages[2].pdf is None


def test_until_files_are_sought_a_size_tells_only_what_it_can(issue: Issue) -> None:
    twins = placed(0, 1, (50, 40), (0, 0)), placed(0, 2, (50, 40), (0, 100))
    crew = placed(1, 1, (60, 45.05), (0, 0))
    plan = page_plan(issue, [read(issue.folder, *twins, crew)])
    assert [box.place for box in plan.pages[0].boxes] == [None, None]
    assert not any(box.sought for box in plan.pages[0].boxes)
    assert plan.pages[1].boxes[0].place == place("crew.jpg")
    assert set(plan.pages[0].missing) == {place("pier.jpg"), place("fog.jpg")}
    assert not plan.pages[0].sought


def test_what_stands_otherwise_than_listed_is_told(issue: Issue) -> None:
    masters = issue.folder / "masters"
    larger, astray = placed(0, 1, (80, 64), (0, 0)), placed(0, 2, (60, 45), (0, 100))
    stranger, unlisted = placed(1, 1, (30, 30), (0, 0)), placed(1, 2, (30, 30), (50, 0))
    sources = {
        (0, 1): masters / "pier.jpg", (0, 2): masters / "crew.jpg", (1, 2): masters / "new.jpg",
    }  # fmt: skip
    plan = page_plan(
        issue, [read(issue.folder, larger, astray, stranger, unlisted, sources=sources)]
    )
    one, other = plan.pages[0].boxes
    assert one.otherwise and (one.on_page, one.listed) == ((80, 64), (50, 40))
    assert other.place == place("crew.jpg") and other.listed is None
    assert plan.pages[0].missing == (place("fog.jpg"),)
    assert [(box.place, box.name, box.sought) for box in plan.pages[1].boxes] == [
        (None, "", True), (None, "new.jpg", True),
    ]  # fmt: skip


def test_a_picture_that_reaches_beyond_the_trim_ends_there(issue: Issue) -> None:
    whole = placed(0, 1, (216, 303), (-3, -3))
    box = page_plan(issue, [read(issue.folder, whole)]).pages[0].boxes[0]
    assert (box.left, box.top, box.width, box.height) == (0, 0, 1, 1)


def test_what_no_reader_sees_or_nobody_can_measure_has_no_box(issue: Issue) -> None:
    hidden = replace(placed(0, 1, (50, 40), (0, 0)), placement=None, unseen="clipped away")
    pattern = replace(placed(0, 2, (50, 40), (0, 0)), placement=None, beyond="in a pattern")
    page = page_plan(issue, [read(issue.folder, hidden, pattern)]).pages[0]
    assert page.boxes == () and page.beyond == ("in a pattern",)


def test_of_two_pdfs_with_one_page_the_newer_counts_and_the_other_is_told(issue: Issue) -> None:
    old = read(issue.folder)
    new = replace(old, path=issue.folder / "pages 2.pdf", changed=9.0)
    cover = ReadPdf(issue.folder / "cover.pdf", 1.0, (PdfPage(0, "U1", 210, 297, True),))
    locked = ReadPdf(issue.folder / "x.pdf", 99.0, why="encrypted: it needs a password")
    plan = page_plan(issue, [old, locked, new, cover])
    assert [pdf.path.name for pdf in plan.shown] == ["cover.pdf", "pages 2.pdf"]
    assert [page.page for page in plan.pages] == ["U1", "12", "13", "20"]
    assert plan.told == (
        "x.pdf cannot be drawn: encrypted: it needs a password",
        "pages.pdf is not shown: pages 2.pdf is newer and has these pages too",
    )


def test_every_line_with_a_page_is_found_on_it_exactly_once(issue: Issue) -> None:
    masters = issue.folder / "masters"
    one = placed(0, 1, (50, 40), (0, 0))
    for sources in (None, {}, {(0, 1): masters / "pier.jpg"}, {(0, 1): masters / "far.jpg"}):
        pdf = read(issue.folder, one, sources=sources)
        for page in page_plan(issue, [pdf]).pages:
            here = [p for p in issue.places() if p.page == page.page]
            there = [box.place for box in page.boxes if box.place and box.place.page == page.page]
            assert sorted([*there, *page.missing], key=str) == sorted(here, key=str)


def test_pages_lie_open_as_a_reader_has_them() -> None:
    def page(label: str, height: float = 297) -> Page:
        return Page(label, None, 0, 210, height)

    def told(*labels: str) -> list[tuple[str, str]]:
        opened = spreads([page(label) for label in labels])
        return [(a.page if a else "", b.page if b else "") for a, b in opened]

    assert told("1", "2", "3", "4") == [("", "1"), ("2", "3"), ("4", "")]
    assert told("U1", "2", "4", "5", "7") == [("U1", ""), ("2", ""), ("4", "5"), ("", "7")]
    assert len(spreads([page("2"), page("3", 200)])) == 2


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(1, 900), st.floats(1, 900)), min_size=1, max_size=30))
def test_boxes_of_any_sizes_find_room_without_touching(sizes: list[tuple[float, float]]) -> None:
    scale, spots = packed(sizes, (210, 297))
    assert 0 < scale <= 1
    boxes = [
        (left, top, left + size[0] * scale, top + size[1] * scale)
        for (left, top), size in zip(spots, sizes, strict=True)
    ]
    assert max(box[2] for box in boxes) <= 210 and max(box[3] for box in boxes) <= 297
    for n, one in enumerate(boxes):
        for other in boxes[n + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1]
            assert apart or other[3] <= one[1]
