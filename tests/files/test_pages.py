"""Pictures on page PDFs: where they stand, what shows, what their pixels are; bad PDFs."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path
from types import MappingProxyType, SimpleNamespace
from typing import Any

import numpy as np
import pytest
import pyvips
from pdf_writer import form, image, stream, write_pages
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.pages import Placed, UnreadPages, extract, limit_process, survey
from pressworthy.jobs.pages import placed_on
from pressworthy.testing import draw
from pressworthy.values.faults import SetupError
from pressworthy.values.placement import Crop

MM = 72 / 25.4
GRAY = image(draw(40, 30, channels=1), "/DeviceGray")
TRIM = "/MediaBox [0 0 500 700] /TrimBox [50 50 450 650] /BleedBox [41 41 459 659]"


def placed(
    path: Path,
    content: str,
    objects: Mapping[str, bytes] = MappingProxyType({}),
    *,
    page: str = TRIM,
    **named: bytes,
) -> list[Placed]:
    held = {**objects, **named} or {"A": GRAY}
    return list(survey(write_pages(path / "p.pdf", content, held, page=page)))


def values(one: Placed, folder: Path) -> Any:
    found = extract(one, folder)
    assert not found.unread
    return pyvips.Image.new_from_file(str(found.path)).numpy(), found


def test_upright_turned_mirrored_sheared(tmp_path: Path) -> None:
    half = np.sqrt(0.5)
    content = (
        "q 144 0 0 72 100 100 cm /A Do Q "
        f"q {144 * half} {144 * half} {-72 * half} {72 * half} 300 300 cm /A Do Q "
        "q -144 0 0 72 300 100 cm /A Do Q "
        "q 144 0 72 72 100 400 cm /A Do Q"
    )
    upright, turned, mirrored, sheared = placed(tmp_path, content)
    for one in (upright, turned, mirrored):
        assert one.facts["ppi"] == pytest.approx([20, 30], abs=0.01)
        assert one.facts["placed"] == pytest.approx([50.8, 25.4], abs=0.001)
    assert (upright.facts["turn"], turned.facts["turn"]) == (0, 45)
    assert [one.facts["mirrored"] for one in (upright, turned, mirrored)] == [False, False, True]
    # the second axis is the diagonal of a square inch
    assert sheared.facts["ppi"] == pytest.approx([20, 30 * half], abs=0.01)
    assert sheared.facts["shear"] == pytest.approx(-45)
    assert upright.placement and upright.placement.page == "1"
    assert "20 x 30 ppi" in upright.placement.size_and_bleed()


def test_nested_forms_multiply(tmp_path: Path) -> None:
    objects = {
        "A": GRAY,
        "F": form("q 2 0 0 2 0 0 cm /A Do Q q 10 0 0 10 50 0 cm /G Do Q", {"A": 4, "G": 6},
                  "/BBox [-999 -999 999 999] /Matrix [0 1 -1 0 0 0]"),
        "G": form("q 3 0 0 3 0 0 cm /A Do Q", {"A": 4}),
    }  # fmt: skip
    first, second, last = placed(
        tmp_path, "q 36 0 0 36 200 200 cm /F Do Q q 72 0 0 72 60 60 cm /A Do Q", objects
    )
    assert [one.trail for one in (first, second, last)] == [(0, 0), (0, 1, 0), (1,)]
    assert first.facts["ppi"] == pytest.approx([40, 30], abs=0.01)
    assert second.facts["ppi"] == pytest.approx([40 / 15, 2], abs=0.01)
    assert first.facts["turn"] == second.facts["turn"] == 90
    assert last.facts["ppi"] == pytest.approx([40, 30], abs=0.01)


def test_clip_paths_and_form_boundaries_tell_what_shows(tmp_path: Path) -> None:
    objects = {"A": GRAY, "F": form("q 100 0 0 100 0 0 cm /A Do Q", {"A": 4}, "/BBox [0 0 50 80]")}
    content = (
        "q 100 100 50 100 re W n 100 0 0 100 100 100 cm /A Do Q "
        "q 1 0 0 1 200 300 cm /F Do Q "
        "q 0 0 10 10 re W n 100 0 0 100 300 300 cm /A Do Q"
    )
    half, boxed, hidden = placed(tmp_path, content, objects)
    assert half.placement and half.placement.crop == Crop(0, 0, 0.5, 1)
    assert half.placement.width == pytest.approx(50 / MM)
    assert boxed.placement and isinstance(boxed.placement.crop, Crop)
    assert boxed.facts["shown"] == pytest.approx([0, 0.2, 0.5, 0.8])
    assert hidden.placement is None
    assert "clipped away" in hidden.unseen


@pytest.mark.parametrize("clip", ["0 0 0 0", "150 150 0 0", "120 120 50 0", "120 120 0 50"])
def test_through_a_clip_without_an_inside_nothing_shows(tmp_path: Path, clip: str) -> None:
    (one,) = placed(tmp_path, f"q {clip} re W n 100 0 0 100 100 100 cm /A Do Q")
    assert one.placement is None
    assert "clipped away" in one.unseen


def test_a_turned_picture_under_a_square_clip(tmp_path: Path) -> None:
    half = np.sqrt(0.5) * 100
    content = f"q 200 200 {half} {half} re W n {half} {half} {-half} {half} 200 200 cm /A Do Q"
    (one,) = placed(tmp_path, content)
    # right of its lowest corner half the diamond is left, cut below its topmost by the clip
    assert one.facts["shown"] == pytest.approx([0, 0.5, 1, 0.5], abs=1e-4)


def test_bleed_and_the_edges_that_lack_it(tmp_path: Path) -> None:
    content = (
        "q 100 0 0 100 41 300 cm /A Do Q "  # 9 pt over the left trim
        "q 100 0 0 100 350 300 cm /A Do Q "  # at the right trim, and no further
        "q 0 100 -100 0 200 41 cm /A Do Q "  # turned by 90 degrees, 9 pt over the bottom
        "q 9 0 0 9 10 10 cm /A Do Q"  # in the margin of the sheet
    )
    left, right, bottom, outside = placed(tmp_path, content)
    for one, edges, bleed in ((left, {"left"}, 9), (right, {"right"}, 0), (bottom, {"left"}, 9)):
        assert one.placement is not None
        assert one.placement.edges == edges
        assert one.placement.bleed == pytest.approx(bleed / MM, abs=1e-3)
        assert one.placement.covered() == pytest.approx((100 / MM, 100 / MM))
    assert left.facts["trim"]["left"] == pytest.approx(-3.175)
    assert left.facts["bleed box"]["left"] == pytest.approx(0)
    assert right.facts["trim"]["right"] == pytest.approx(0)
    assert outside.placement is None
    assert "outside the trim" in outside.unseen


@pytest.mark.parametrize(
    ("turn", "edge"), [(0, "left"), (90, "top"), (180, "right"), (270, "bottom")]
)
def test_edges_of_a_turned_page_are_as_its_reader_sees_them(
    tmp_path: Path, turn: int, edge: str
) -> None:
    (one,) = placed(tmp_path, "q 90 0 0 99 41 300 cm /A Do Q", page=f"{TRIM} /Rotate {turn}")
    beyond = [name for name, mm in one.facts["trim"].items() if mm < 0]
    assert beyond == [edge]
    # the picture turns with the page: its own left edge is the one that bleeds
    assert one.placement and one.placement.edges == {"left"}


def test_pixels_come_out_as_they_are_stored(tmp_path: Path) -> None:
    gray, rgb = draw(41, 30, channels=1), draw(41, 30)
    deep = draw(41, 30, depth=16)
    inks = np.dstack([draw(41, 30, channels=4, seed=3)])
    bits = (draw(41, 30, channels=1)[..., 0] > 128).astype(np.uint8)
    profile = stream("/N 3", rgb_profile("opRGB"))
    objects = {
        "P": profile,
        "A": image(gray, "/DeviceGray"),
        "B": image(gray, "/DeviceGray", more="/Decode [1 0]"),
        "C": image(rgb, "[/ICCBased 4 0 R]"),
        "D": image(deep.astype(">u2"), "[/ICCBased 4 0 R]", depth=16),
        "E": image(inks, "/DeviceCMYK"),
        "F": image(np.packbits(bits, axis=1), "/DeviceGray", depth=1, more="/Width 41"),
    }
    objects["F"] = objects["F"].replace(b"/Width 6 ", b"")
    content = "".join(f"q 9 0 0 9 {60 + 30 * i} 60 cm /{n} Do Q " for i, n in enumerate("ABCDEF"))
    found = placed(tmp_path, content, objects)
    wanted = [gray, 255 - gray, rgb, deep, inks, bits[..., None] * 255]
    spaces = ["DeviceGray", "DeviceGray", "ICCBased", "ICCBased", "DeviceCMYK", "DeviceGray"]
    for one, values_wanted, space in zip(found, wanted, spaces, strict=True):
        got, extracted = values(one, tmp_path)
        assert extracted.colours == space
        np.testing.assert_array_equal(got.reshape(values_wanted.shape), values_wanted)
    _, extracted = values(found[3], tmp_path)
    assert (extracted.header.mode, extracted.header.depth) == ("RGB", 16)
    assert extracted.header.icc == rgb_profile("opRGB")


def test_jpeg_2000_is_opened_where_painting_leaves_it_as_it_is(tmp_path: Path) -> None:
    packed, rgb = BytesIO(), draw(41, 30)
    Image.fromarray(rgb).save(packed, "JPEG2000", irreversible=False)
    entries = "/Type /XObject /Subtype /Image /Width 41 /Height 30 /Filter /JPXDecode /ColorSpace"
    ours, wide, same = placed(
        tmp_path,
        "q 9 0 0 9 60 60 cm /A Do Q q 9 0 0 9 90 60 cm /B Do Q q 9 0 0 9 120 60 cm /C Do Q",
        A=stream(f"{entries} [/ICCBased 7 0 R]", packed.getvalue(), flate=False),
        B=stream(f"{entries} [/ICCBased 8 0 R]", packed.getvalue(), flate=False),
        C=image(rgb, "[/ICCBased 8 0 R]"),
        P=stream("/N 3", rgb_profile("sRGB")),
        Q=stream("/N 3", rgb_profile("opRGB")),
    )
    got, extracted = values(ours, tmp_path)
    np.testing.assert_array_equal(got, rgb)
    assert extracted.header.icc == rgb_profile("sRGB")
    told = extract(wide, tmp_path)
    assert "sRGB" in told.unread
    assert told.header.icc == rgb_profile("opRGB")
    assert not extract(same, tmp_path).unread


def test_a_jpeg_comes_out_as_its_own_bytes(tmp_path: Path) -> None:
    file = tmp_path / "a.jpg"
    Image.fromarray(draw(64, 48)).save(file, quality=90)
    entries = (
        "/Type /XObject /Subtype /Image /Width 64 /Height 48 /BitsPerComponent 8 "
        "/ColorSpace /DeviceRGB /Filter /DCTDecode"
    )
    (one,) = placed(
        tmp_path, "q 90 0 0 90 60 60 cm /A Do Q", A=stream(entries, file.read_bytes(), flate=False)
    )
    assert one.facts["compression"] == "DCTDecode"
    assert extract(one, tmp_path).path.read_bytes() == file.read_bytes()


def test_what_holds_no_colours_of_its_own_is_told(tmp_path: Path) -> None:
    spot = (
        "[/Separation /Spot /DeviceCMYK << /FunctionType 2 /Domain [0 1] "
        "/C0 [0 0 0 0] /C1 [0 1 0 0] /N 1 >>]"
    )
    mask = np.packbits(draw(40, 30, channels=1)[..., 0] > 128, axis=1)
    stencil = image(mask, "/DeviceGray", depth=1, more="/ImageMask true")
    stencil = stencil.replace(b"/Width 5 ", b"/Width 40 ").replace(b"/ColorSpace /DeviceGray", b"")
    content = "q 9 0 0 9 60 60 cm /A Do Q q 9 0 0 9 90 60 cm /B Do Q q 9 0 0 9 99 60 cm /C Do Q"
    short = image(draw(40, 20, channels=1), "/DeviceGray").replace(b"/Height 20", b"/Height 30")
    named, masked, cut = placed(
        tmp_path, content, A=image(draw(40, 30, channels=1), spot), B=stencil, C=short
    )
    assert "Separation" in extract(named, tmp_path).unread
    assert extract(masked, tmp_path).colours == "stencil"
    assert "cut short" in extract(cut, tmp_path).unread


def test_a_picture_of_no_size(tmp_path: Path) -> None:
    (one,) = placed(tmp_path, "q 100 0 100 0 60 60 cm /A Do Q")
    assert one.placement is None
    assert "no size" in one.unseen


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", "not a PDF"),
        (b"hello", "not a PDF"),
        (b"%PDF-1.7\nnothing more", "damaged"),
        (
            b"%PDF-1.7\n1 0 obj\n<< /Type /Catalog >>\nendobj\ntrailer << /Root 1 0 R >>",
            "damaged|no pages",
        ),
    ],
)
def test_what_is_no_whole_pdf(tmp_path: Path, text: bytes, words: str) -> None:
    path = tmp_path / "p.pdf"
    path.write_bytes(text)
    with pytest.raises(UnreadPages, match=words):
        survey(path)
    with pytest.raises(UnreadPages, match="No such file"):
        survey(tmp_path / "none.pdf")


def test_a_cut_and_a_garbled_pdf_end_in_words(tmp_path: Path) -> None:
    path = write_pages(tmp_path / "p.pdf", "q 90 0 0 90 60 60 cm /A Do Q", {"A": GRAY})
    whole = path.read_bytes()
    rng = np.random.default_rng(5)
    for _ in range(60):
        data = bytearray(whole[: rng.integers(len(whole) // 4, len(whole))])
        for place in rng.integers(0, len(data), 6):
            data[place] = rng.integers(0, 256)
        path.write_bytes(data)
        try:
            for one in survey(path, "media"):
                if one.placement:
                    extract(one, tmp_path)
        except UnreadPages as reason:
            assert str(reason)
        except Exception as error:
            assert type(error).__name__ == "Unmeasured", repr(error)


def test_units_of_the_page_other_than_points_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UnreadPages, match="UserUnit"):
        placed(tmp_path, "q 9 0 0 9 60 60 cm /A Do Q", page=f"{TRIM} /UserUnit 2.5")
    assert placed(tmp_path, "q 9 0 0 9 60 60 cm /A Do Q", page=f"{TRIM} /UserUnit 1.0")


def test_an_encrypted_pdf(tmp_path: Path) -> None:
    from reportlab.lib.pdfencrypt import StandardEncryption
    from reportlab.pdfgen import canvas

    path = tmp_path / "p.pdf"
    page = canvas.Canvas(str(path), encrypt=StandardEncryption("secret", strength=128))
    page.drawString(100, 100, "secret")
    page.showPage()
    page.save()
    with pytest.raises(UnreadPages, match="encrypted: it needs a password"):
        survey(path)


def test_forms_that_hold_themselves_end(tmp_path: Path) -> None:
    objects = {"A": GRAY, "F": form("q 9 0 0 9 60 60 cm /A Do Q /F Do", {"A": 4, "F": 5})}
    with pytest.raises(UnreadPages, match="nested deeper than 25 levels"):
        placed(tmp_path, "/F Do", objects)


def test_many_pages_are_refused_before_they_are_read(tmp_path: Path) -> None:
    path = write_pages(tmp_path / "p.pdf", "", {"A": GRAY}, pages=2001)
    with pytest.raises(UnreadPages, match="2001 pages"):
        survey(path)


def test_a_form_bomb_is_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("resource")
    # 12 levels of 12 each: 9e12 pictures
    bomb = {"A": GRAY}
    for level in range(12):
        inner = "A" if level == 0 else f"F{level - 1}"
        bomb[f"F{level}"] = form(f"/{inner} Do " * 12, {inner: 4 + level})
    path = write_pages(tmp_path / "p.pdf", "q 9 0 0 9 60 60 cm /F11 Do Q", bomb)
    monkeypatch.setattr("pressworthy.jobs.pages.limit_process", short_limit)
    with pytest.raises(SetupError, match="made to harm|more objects|more than"):
        placed_on(path)


class TestBounds:
    """Of the process that reads a PDF; `resource` is told what each system does."""

    def test_macos_bounds_time_and_no_memory(self, monkeypatch: pytest.MonkeyPatch) -> None:
        asked = []

        def setrlimit(what: int, most: tuple[int, int]) -> None:
            asked.append(what)
            if what == 9:
                raise ValueError("current limit exceeds maximum limit")

        system = SimpleNamespace(RLIMIT_CPU=0, RLIMIT_AS=9, setrlimit=setrlimit)
        monkeypatch.setitem(sys.modules, "resource", system)
        limit_process()
        assert asked == [0, 9]

    def test_windows_has_none(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(sys.modules, "resource", None)
        limit_process()


def short_limit() -> None:
    """Bound the process as ever, but for a second in place of a minute."""
    limit_process()
    import resource

    resource.setrlimit(resource.RLIMIT_CPU, (1, 2))


def test_a_clip_cuts_width_and_height(tmp_path: Path) -> None:
    (one,) = placed(tmp_path, "q 100 100 100 40 re W n 100 0 0 100 100 100 cm /A Do Q")
    assert one.placement is not None
    assert one.placement.width == pytest.approx(100 / MM)
    assert one.placement.height == pytest.approx(40 / MM)


def test_what_comes_within_a_third_of_a_millimetre_of_the_trim_bleeds(tmp_path: Path) -> None:
    # the trim lies at 50 pt; 0.9 and 1.1 pt are 0.32 and 0.39 mm
    (touching,) = placed(tmp_path, "q 100 0 0 100 50.9 300 cm /A Do Q")
    (apart,) = placed(tmp_path, "q 100 0 0 100 51.1 300 cm /A Do Q")
    assert touching.placement is not None and apart.placement is not None
    assert touching.placement.edges == {"left"}
    assert not apart.placement.edges


def test_a_picture_that_states_no_pixels_is_not_judged(tmp_path: Path) -> None:
    whole = image(draw(120, 90), "/DeviceRGB")
    objects = {"A": whole.replace(b"/Height 90", b"/Height 0")}
    assert objects["A"] != whole
    page = "/MediaBox [0 0 500 700] /TrimBox [20 20 480 680]"
    pdf = write_pages(tmp_path / "p.pdf", "q 99 0 0 99 60 60 cm /A Do Q", objects, page=page)
    (placed,) = survey(pdf)
    assert placed.placement is None and "120 x 0 px" in placed.beyond
