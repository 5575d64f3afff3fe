"""What is hatched: the share that the rule has, where the view shows it, and ink sums."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from pressworthy.colour.convert import as_vips
from pressworthy.house import House, RuleSetting
from pressworthy.jobs import Run, Task
from pressworthy.jobs.proofing import proof_picture
from pressworthy.jobs.pull import Pull
from pressworthy.jobs.pull.overlays import HouseMarks, hatched, house_marks, ink_sum, shown_of
from pressworthy.measure.press import colour_shift
from pressworthy.plugins import Registry
from pressworthy.prepare.geometry import Cut
from pressworthy.testing import a_picture, found
from pressworthy.values.finding import Unmeasured, Verdict
from pressworthy.values.picture import Picture
from pressworthy.values.placement import Focus, PlacementRequest
from pressworthy.values.rule import Marks, Options, Rule

GREEN = (0, 250, 30)
Proof = Callable[..., tuple[Verdict, Pull]]


@pytest.fixture
def proof(houses: dict[str, House], registry: Registry) -> Proof:
    def proof(path: Path, house: House | str = "coated-magazine", **request: Any) -> Any:
        asked = PlacementRequest(**{"size": (40, 30), **request})
        house = houses[house] if isinstance(house, str) else house
        return proof_picture(Task(path, asked), house, Run(registry))

    return proof


def half_green(width: int = 600, height: int = 450) -> np.ndarray:
    """Return grey with a third of its width, at the right, beyond any press."""
    values = np.full((height, width, 3), 128, np.uint8)
    values[:, width * 2 // 3 :] = GREEN
    return values


def gamut_finding(verdict: Verdict) -> float:
    (finding,) = (one for _, one in verdict.findings() if one.code == "out-of-gamut")
    return float(finding.measured)


def hatch(pull: Pull) -> np.ndarray:
    overlay = Image.open(io.BytesIO(pull.overlays["gamut"])).convert("RGBA")
    assert overlay.size == pull.size
    return np.asarray(overlay)[..., 3] > 0


def with_gamut(house: House, **options: float) -> House:
    setting = house.rules["gamut"]
    changed = replace(setting, options={**setting.options, **options})
    return replace(house, rules={**house.rules, "gamut": changed})


class TestMarks:
    def test_the_page_tells_the_share_that_the_rule_finds(
        self, master: Callable[..., Path], proof: Proof
    ) -> None:
        # cut to a part without green, and to one that holds little else
        path = master(values=half_green())
        for crop, drawn in ((Focus(0.0, 0.5), False), (Focus(1.0, 0.5), True)):
            verdict, pull = proof(path, size=(20, 45), crop=crop)
            ((share, _),) = pull.marked
            assert share == pytest.approx(gamut_finding(verdict) / 100)
            assert share == pytest.approx(1 / 3, abs=0.01)
            assert ("gamut" in pull.overlays) is drawn

    @pytest.mark.parametrize("name", ["coated-magazine", "newsprint", "screen"])
    def test_hatched_is_what_the_rule_counts(
        self, name: str, houses: dict[str, House], registry: Registry, master: Callable[..., Path]
    ) -> None:
        """Every pixel that moved too far and no other: 400 ever more vivid tones, in disorder."""
        rng = np.random.default_rng(6)
        vivid = np.linspace(0, 255, 400).round()[rng.permutation(400)].reshape(20, 20, 1)
        tones = np.concatenate([255 - vivid, np.full_like(vivid, 220), 255 - vivid], axis=2)
        values = tones.astype(np.uint8).repeat(30, axis=0).repeat(30, axis=1)
        house = with_gamut(houses[name], area=0.0)
        path = master(values=values, icc="Rec.2020")
        picture = a_picture(path, output=house.output)
        options = house.rules["gamut"].options
        finding = found(registry.rules["gamut"], picture, options)["out-of-gamut"]
        marks = house_marks(picture, house, registry.rules)
        (mask,), ((share, _),) = marks.masks, marks.shares
        judged = float(finding.measured)
        assert 5 < judged < 95
        assert share == pytest.approx(judged / 100)
        assert mask.mean() == pytest.approx(judged / 100)
        assert np.array_equal(mask, colour_shift(picture) > options["visible"])

    def test_the_hatch_has_the_share_that_the_rule_finds(
        self, master: Callable[..., Path], proof: Proof
    ) -> None:
        verdict, pull = proof(master(values=half_green()))
        lines = hatch(pull)
        everywhere = hatched(np.ones(lines.shape, bool), 9, 1, 2)
        share = lines.mean() / everywhere.mean()
        assert share == pytest.approx(gamut_finding(verdict) / 100, abs=0.01)

    def test_the_bound_is_the_houses(
        self, master: Callable[..., Path], proof: Proof, coated: House
    ) -> None:
        path = master(values=half_green())
        ((_, sentence),) = proof(path)[1].marked
        bound = coated.rules["gamut"].options["visible"]
        wanted = f"of the picture is beyond the output's colours, by more than {bound:g} dE00"
        assert sentence == wanted
        _, pull = proof(path, with_gamut(coated, visible=99.0))
        assert pull.marked == ((0.0, wanted.replace(f"{bound:g} dE00", "99 dE00")),)
        assert "gamut" not in pull.overlays

    def test_a_house_that_leaves_it_out_has_neither_figure_nor_hatch(
        self, master: Callable[..., Path], proof: Proof, coated: House
    ) -> None:
        rules = {name: setting for name, setting in coated.rules.items() if name != "gamut"}
        _, pull = proof(master(values=half_green()), replace(coated, rules=rules))
        assert pull.marked == ()
        assert "gamut" not in pull.overlays
        assert "soft" in pull.views

    def test_inks_that_print_as_they_stand_move_nowhere(
        self, master: Callable[..., Path], coated: House, registry: Registry
    ) -> None:
        profile = coated.output.condition.profiles["cmyk"].read_bytes()
        inks = np.full((300, 400, 4), 60, np.uint8)
        picture = a_picture(
            master("inks.tif", inks, mode="CMYK", icc=profile), output=coated.output
        )
        assert picture.header.mode == "CMYK"
        assert house_marks(picture, coated, registry.rules) == HouseMarks()

    def test_the_hatch_lies_where_the_view_shows_it(
        self, master: Callable[..., Path], proof: Proof
    ) -> None:
        drawn = hatch(proof(master(values=half_green()))[1])
        edge = drawn.shape[1] * 2 // 3
        assert not drawn[:, : edge - 6].any()
        assert drawn[:, edge + 6 :].mean() > 0.15

    def test_the_hatch_turns_with_the_picture(
        self, master: Callable[..., Path], proof: Proof
    ) -> None:
        # orientation 6: what is stored at the right is shown below
        path = master("turned.jpg", half_green(), fields={"orientation": 6})
        drawn = hatch(proof(path, size=(30, 40))[1])
        edge = drawn.shape[0] * 2 // 3
        assert not drawn[: edge - 6].any()
        assert drawn[edge + 6 :].mean() > 0.15


class TestMarksOfAnotherRule:
    """A rule that the engine has never met marks as the house's own does."""

    @pytest.fixture
    def marking(
        self, master: Callable[..., Path], coated: House, registry: Registry
    ) -> Callable[..., Pull]:
        path = master(values=half_green())

        def marking(marks: Callable[[Picture, Options], Any], **kind: Any) -> Pull:
            rule = Rule("corner", lambda *_: (), {}, {"x": "an x"}, "It.", marks=marks, **kind)
            rules = {**registry.rules, "corner": rule}
            setting = RuleSetting({}, {"x": "note"})
            house = replace(coated, rules={**coated.rules, "corner": setting})
            run = Run(replace(registry, rules=rules))
            return proof_picture(Task(path, PlacementRequest((40, 30))), house, run)[1]

        return marking

    def test_it_is_hatched_beside_the_others_and_has_its_own_sentence(
        self, marking: Callable[..., Pull]
    ) -> None:
        # two cells by three: any scale will do
        corner = np.array([[True, False, False], [False, False, False]])
        pull = marking(lambda *_: Marks(corner, 1 / 6, "of it is a corner"))
        assert (1 / 6, "of it is a corner") in pull.marked
        assert len(pull.marked) == 2
        drawn = hatch(pull)
        height, width = drawn.shape
        assert drawn[: height // 2 - 6, : width // 3 - 6].mean() > 0.15
        assert drawn[:, width * 2 // 3 + 6 :].mean() > 0.15
        assert not drawn[height // 2 + 6 :, : width * 2 // 3 - 6].any()

    @pytest.mark.parametrize(
        ("marks", "why"),
        [
            (lambda *_: 1 / 0, "ZeroDivisionError"),
            (lambda *_: "here", "a value of type str"),
            (lambda *_: Marks(np.ones((2, 2), bool), 33.0, "of it"), "the share is 0 to 1"),
            (lambda *_: Marks(np.ones(4, bool), 1.0, "of it"), "boolean, (height, width)"),
        ],
    )
    def test_one_that_breaks_is_told_and_takes_nothing_with_it(
        self, marking: Callable[..., Pull], marks: Callable[..., Any], why: str
    ) -> None:
        pull = marking(marks)
        (sentence,) = (sentence for share, sentence in pull.marked if share is None)
        assert sentence.startswith("is the share that corner marks; it broke: ")
        assert why in sentence
        assert len(pull.marked) == 2
        assert "soft" in pull.views
        assert hatch(pull).any()

    def test_what_is_not_judged_or_not_measured_is_not_marked(
        self, marking: Callable[..., Pull]
    ) -> None:
        def unmeasured(*_: Any) -> Marks:
            raise Unmeasured("no")

        everywhere = Marks(np.ones((2, 2), bool), 1.0, "of it")
        assert len(marking(unmeasured).marked) == 1
        assert len(marking(lambda *_: None).marked) == 1
        assert len(marking(lambda *_: everywhere, copies_only=True).marked) == 1
        assert len(marking(lambda *_: everywhere, masters_only=True).marked) == 2


def test_a_mask_is_cut_as_its_view_and_mirrored_into_the_bleed() -> None:
    mask = np.zeros((50, 100), bool)
    mask[:, 60:] = True
    # the view shows px 400 to 800 of 1000, and mirrors 10 px of its own at the right
    shown = shown_of(mask, Cut(400, 0, 400, 500), (1000, 500), (0, 0, 10, 0), (90, 100))
    assert shown.shape == (100, 90)
    assert not shown[:, :40].any()
    assert shown[:, 40:].all()
    left = shown_of(~mask, Cut(400, 0, 400, 500), (1000, 500), (50, 0, 0, 0), (130, 100))
    assert left[0].tolist() == [False] * 10 + [True] * 80 + [False] * 40


def test_ink_sums_add_up() -> None:
    inks = np.zeros((6, 6, 4), np.uint8)
    inks[:, 3:] = (255, 255, 255, 51)
    total = ink_sum(as_vips(inks, "CMYK"), 3)
    assert total == pytest.approx(np.array([[0, 320], [0, 320]]), abs=0.1)


def test_hatching_stays_within_the_mask_and_differs_by_slope() -> None:
    mask = np.zeros((40, 40), bool)
    mask[10:30, 10:30] = True
    rising, falling = (hatched(mask, 8, slope, 2) for slope in (1, -1))
    assert not (rising & ~mask).any()
    assert 0.15 < rising.sum() / mask.sum() < 0.35
    assert (rising != falling).any()
