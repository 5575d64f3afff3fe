"""Pulls: their views, bytes, close-ups and what they say where there is no copy."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from PIL import Image

from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import from_xyz
from pressworthy.colour.spaces import SPACES
from pressworthy.house import House, load_house
from pressworthy.jobs import Run, Task
from pressworthy.jobs.proofing import proof_picture
from pressworthy.jobs.pull import MOST_PULL_BYTES, Pull
from pressworthy.plugins import Registry
from pressworthy.prepare import Made, Order, make
from pressworthy.prepare.charts import dead_leaves
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Verdict
from pressworthy.values.placement import PlacementRequest

GOLDEN = Path(__file__).parent / "golden"


def decoded(data: bytes) -> np.ndarray:
    return np.asarray(pyvips.Image.new_from_buffer(data, "").numpy())


def test_a_mono_title_is_shown_on_the_press_of_a_profile_alone(
    registry: Registry, houses: dict[str, House], tmp_path: Path
) -> None:
    """Its copy is in the gray made of the CMYK profile, and looks as on the measured inks."""
    own = houses["newsprint"].output.condition.profiles["cmyk"]
    (tmp_path / "press.icc").write_bytes(own.read_bytes())
    path = write_picture(tmp_path / "pier.jpg", scene(), words=CREDITED, Q=95)
    shown = {}
    for name, condition in (("own", "press.icc"), ("known", "newsprint")):
        text = f"house: {name}\nkind: title\nstands on: mono\nprepare: {{amount: 1, reason: r}}\n"
        text += f"output: {{condition: {condition}, ruling: 40 lines/cm, reason: r}}\n"
        (tmp_path / f"{name}.yaml").write_text(text)
        house = load_house(str(tmp_path / f"{name}.yaml"), registry)
        copy = make(Order(path, tmp_path / f"{name}.tif", PlacementRequest((60, 45))), house).copy
        gray = house.output.condition.profiles["gray"]
        assert copy.header.mode == "gray" and copy.header.icc == gray.read_bytes()
        task = Task(copy.path, PlacementRequest((60, 45)))
        shown[name] = proof_picture(task, house, Run(registry))[1]
    own_views, known = shown["own"].views, shown["known"].views
    assert own_views.keys() == known.keys() and {"soft", "print"} <= own_views.keys()
    for view in ("soft", "print"):
        apart = delta_e_2000(lab_of(decoded(own_views[view])), lab_of(decoded(known[view])))
        assert apart.mean() < 1


def bytes_shown(pull: Pull) -> int:
    parts = (pull.views, pull.overlays, pull.close)
    drawn = [data for part in parts for data in part.values()]
    return sum(map(len, [*drawn, pull.small, pull.paper]))


def bytes_printed(pull: Pull) -> int:
    return sum(map(len, [*pull.close.values(), pull.small, pull.paper]))


def lab_of(view: np.ndarray) -> np.ndarray:
    linear = SPACES["sRGB"].decode(view / 255)
    return from_xyz(linear @ SPACES["sRGB"].colorants)


@cache
def scene(width: int = 900, height: int = 675) -> np.ndarray:
    return np.clip(dead_leaves(width, height, seed=2, noise=0), 0, 255).astype(np.uint8)


@pytest.fixture
def proofed(houses: dict[str, House], registry: Registry) -> Callable[..., tuple[Verdict, Pull]]:
    def proof(path: Path, house: str = "coated-magazine", **request: Any) -> tuple[Verdict, Pull]:
        asked = PlacementRequest(**{"size": (60, 45), **request})
        return proof_picture(Task(path, asked), houses[house], Run(registry))

    return proof


@pytest.fixture(scope="module")
def standard(
    houses: dict[str, House], registry: Registry, tmp_path_factory: pytest.TempPathFactory
) -> Callable[..., tuple[Verdict, Pull]]:
    """Return the proof of one scene on 60 x 45 mm for a house, pulled once."""
    path = write_picture(
        tmp_path_factory.mktemp("masters") / "pier.jpg", scene(), words=CREDITED, Q=95
    )

    @cache
    def proof(house: str = "coated-magazine") -> tuple[Verdict, Pull]:
        return proof_picture(Task(path, PlacementRequest((60, 45))), houses[house], Run(registry))

    return proof


class TestViews:
    def test_colour_has_six_of_one_size_within_the_budget(
        self, standard: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = standard()
        assert set(pull.views) == {
            "supplied", "soft", "soft-before", "print", "print-before", "mono",
        }  # fmt: skip
        sizes = {decoded(data).shape[:2] for data in pull.views.values()}
        assert sizes == {(pull.size[1], pull.size[0])}
        assert bytes_shown(pull) <= MOST_PULL_BYTES
        assert pull.mm == (60, 45)

    def test_views_are_of_one_size_where_half_of_the_copy_is_no_whole_number(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = proofed(master(values=scene(1241, 241)), size=(105.07, 20.4))
        sizes = {name: decoded(data).shape[:2] for name, data in pull.views.items()}
        assert set(sizes.values()) == {(121, 621)}
        assert len(sizes) == 6

    def test_what_is_printed_is_jpeg_of_the_print_look(
        self, standard: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = standard()
        assert pull.paper_view == "print"
        printed = [pull.small, pull.paper, *pull.close.values()]
        assert len(printed) == 8
        assert all(data.startswith(b"\xff\xd8") for data in printed)
        assert bytes_printed(pull) < 300_000
        assert max(decoded(pull.small).shape[:2]) == 240
        shown, paper = (decoded(data).astype(float) for data in (pull.views["print"], pull.paper))
        assert shown.shape == paper.shape
        assert np.abs(shown - paper).mean() < 6

    def test_a_busy_picture_keeps_within_the_budget_too(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        noise = np.random.default_rng(1).integers(0, 256, (1240, 1600, 3)).astype(np.uint8)
        _, pull = proofed(master(values=noise), size=(130, 100))
        assert pull.views
        assert bytes_shown(pull) <= MOST_PULL_BYTES
        assert bytes_printed(pull) < 300_000

    def test_all_views_show_the_same_part(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        from pressworthy.values.placement import Focus

        path = master(values=scene())
        _, pull = proofed(
            path, size=(40, 40), bleed=3.0, edges=frozenset({"top", "left"}), crop=Focus(0.2, 0.5)
        )
        supplied, soft = (
            decoded(pull.views[name]).astype(float).mean(axis=2) for name in ("supplied", "soft")
        )
        assert np.corrcoef(supplied.ravel(), soft.ravel())[0, 1] > 0.98
        assert pull.bleed == (3.0, 0.0, 0.0, 3.0)

    def test_sharpening_shows_after_and_not_before(
        self, standard: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = standard()

        def fine(name: str) -> float:
            view = decoded(pull.views[name]).astype(np.float32).mean(axis=2)
            image = pyvips.Image.new_from_array(view)
            return float((image - image.gaussblur(1.5)).abs().avg())

        assert fine("soft") > 1.15 * fine("soft-before")
        assert fine("print") < fine("soft")
        assert pull.sharp is not None
        assert pull.plain is not None
        assert pull.sharp.acutance > pull.plain.acutance + 0.1

    def test_gray_has_no_mono_and_no_gamut(
        self, standard: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = standard("mono")
        assert "mono" not in pull.views
        assert pull.marked == ()
        view = decoded(pull.views["soft"]).astype(int)
        chroma = np.hypot(*np.moveaxis(lab_of(view)[..., 1:], -1, 0))
        assert chroma.mean() < 4

    def test_a_screen_has_no_print_look(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = proofed(master(values=scene()), "screen", size=None)
        assert not any(name.startswith("print") for name in pull.views)
        assert set(pull.close) == {"read", "read-before"}


class TestFigures:
    def test_tones_are_those_of_the_print(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        flat = np.full((600, 800, 3), 119, np.uint8)
        flat[::40] = 0
        flat[20::40] = 255
        _, pull = proofed(master(values=flat))
        assert sum(pull.tones) == pytest.approx(1)
        # sRGB 119 is L* 50; what the curve lifts and the paper takes leave it about there
        assert pull.median == pytest.approx(50, abs=3)
        paper = max(i for i, share in enumerate(pull.tones) if share) * 2
        assert paper <= 96

    def test_the_close_up_is_where_the_detail_is(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        values = np.full((900, 1200, 3), 150, np.uint8)
        stripes = np.where(np.arange(200) % 6 < 3, 60, 230).astype(np.uint8)
        values[600:750, 900:1100] = stripes[None, :, None]
        _, pull = proofed(master(values=values), size=(100, 75))
        assert pull.close_mm == pytest.approx((24, 18), abs=0.1)
        close = decoded(pull.close["read"]).astype(float)
        assert close.mean(axis=2).std() > 25

    def test_the_close_up_is_where_sharpening_shows_most_not_where_it_is_busiest(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        values = np.full((900, 1200, 3), 150, np.uint8)
        # too fine for the eye at 300 ppi, and yet most of all detail
        values[100:400, 100:400] = np.where(np.indices((300, 300)).sum(0) % 2, 20, 250)[..., None]
        values[500:800, 700:1000] = np.where(np.arange(300) % 12 < 6, 110, 190)[None, :, None]
        _, pull = proofed(master("grid.png", values=values), size=(101.6, 76.2))
        before, after = (
            decoded(pull.close[name]).astype(float).mean(axis=2) for name in ("read-before", "read")
        )
        # stripes stand upright: all their contrast lies across
        assert after.mean(axis=0).std() > 20
        assert after.mean(axis=1).std() < 5
        assert after.mean(axis=0).std() > 1.1 * before.mean(axis=0).std()

    def test_the_dots_are_those_of_its_sharpest_part(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        values = np.full((900, 1200, 3), 150, np.uint8)
        values[:, 600:640] = np.where(np.arange(40) % 12 < 6, 60, 230)[None, :, None]
        _, pull = proofed(master("line.png", values=values), size=(101.6, 76.2))
        dots = decoded(pull.close["dots"]).astype(float).mean(axis=2)
        across = pyvips.Image.new_from_array(dots.astype(np.float32)).gaussblur(12).numpy()
        assert across.mean(axis=0).std() > 20

    def test_too_green_a_green_is_hatched(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        values = scene()
        values[:, 450:] = (0, 250, 30)
        _, pull = proofed(master(values=values))
        ((share, _),) = pull.marked
        assert share == pytest.approx(0.5, abs=0.1)
        overlay = np.asarray(Image.open(io.BytesIO(pull.overlays["gamut"])).convert("RGBA"))
        drawn = overlay[..., 3] > 0
        half = drawn.shape[1] // 2
        assert drawn[:, half + 4 :].mean() > 0.15
        assert drawn[:, : half - 4].mean() < 0.1


class TestWithoutACopy:
    def test_a_refused_master_is_shown_with_the_reason(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = proofed(master(values=scene(), icc=None))
        assert "no ICC profile" in pull.why
        assert {"supplied", "soft", "print"} <= set(pull.views)
        assert pull.copy is None
        assert not pull.close

    def test_a_prepared_copy_is_shown_as_it_is(
        self,
        master: Callable[..., Path],
        prepared: Callable[..., Made],
        proofed: Callable[..., tuple[Verdict, Pull]],
    ) -> None:
        made = prepared(master(values=scene()), size=(60, 45))
        _, pull = proofed(made.copy.path)
        assert "prepared copy" in pull.why
        assert "dots" in pull.close
        assert "soft-before" not in pull.views

    def test_a_damaged_file_loses_only_its_views(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        path = master(values=scene())
        path.write_bytes(path.read_bytes()[:6000])
        verdict, pull = proofed(path)
        assert not pull.views
        assert pull.why
        assert verdict.unmeasured()

    def test_a_pull_that_breaks_leaves_the_verdict(
        self, tmp_path: Path, proofed: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def broken(*_: Any) -> Pull:
            raise AssertionError("nobody foresaw it")

        monkeypatch.setattr("pressworthy.jobs.proofing.pull", broken)
        verdict, pull = proofed(write_picture(tmp_path / "mole.jpg", scene(), words=CREDITED))
        assert verdict.facts["width"] == 900 and verdict.outcomes
        assert "nobody foresaw it" in pull.why

    def test_a_master_without_a_size_is_shown(
        self, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
    ) -> None:
        _, pull = proofed(master(values=scene(), ppi=None), size=None)
        assert pull.mm is None
        assert "soft" in pull.views


@pytest.mark.parametrize("house", ["coated-magazine", "newsprint", "mono"])
def test_golden_pictures(
    house: str, master: Callable[..., Path], proofed: Callable[..., tuple[Verdict, Pull]]
) -> None:
    """By colour difference, not bytes: another encoder may differ, another look may not.

    PRESSWORTHY_GOLDEN=write draws them anew; look at them before they are kept.
    """
    values = draw(900, 675, seed=5)
    values[100:300, 100:400] = (210, 60, 40)
    values[350:550, 450:800] = (40, 90, 170)
    _, pull = proofed(master("scene.png", values=values), house)
    for name in sorted({"supplied", "soft", "print", "mono"} & set(pull.views)):
        small = pyvips.Image.new_from_buffer(pull.views[name], "").resize(96 / pull.size[0])
        file = GOLDEN / f"{house}-{name}.png"
        if os.environ.get("PRESSWORTHY_GOLDEN") == "write":
            small.write_to_file(str(file))
        difference = delta_e_2000(
            lab_of(small.numpy()), lab_of(pyvips.Image.new_from_file(str(file)).numpy())
        )
        assert difference.mean() < 1, name
        assert np.percentile(difference, 99) < 4, name
