"""The source profile on scenes made in one space and tagged as another, and on mute ones."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dead_leaves import as_bytes
from landscapes import R03, as_space, landscape

from pressworthy import jobs
from pressworthy.house import House
from pressworthy.measure import delivery
from pressworthy.measure import source_space as source_space_module
from pressworthy.measure.source_space import (
    CANDIDATES,
    Coding,
    Reading,
    SourceSpace,
    cells,
    features,
    imaginary,
    lab_of,
    pooled,
    sample,
    source_space,
    steps,
    surface_chroma,
    thresholds,
)
from pressworthy.measure.weights import weights
from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, draw, found, write_picture
from pressworthy.values.finding import Bound, Unmeasured
from pressworthy.values.picture import preset
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.rule import Member
from pressworthy_rules import source_profile
from pressworthy_rules.source_profile import check_set, rule

OPTIONS = {"imaginary": 1.0, "smallest delivery": 3}


def ask(folder: Path, values: Any, icc: Any, name: str = "p.png", **more: Any) -> Any:
    path = write_picture(folder / name, values, icc=icc, **more)
    return found(rule, a_picture(path), OPTIONS)


def test_an_honest_picture_passes(tmp_path: Path) -> None:
    assert not ask(tmp_path, as_space(landscape(), "sRGB"), "sRGB")


def test_srgb_values_tagged_romm_are_found_and_the_remedy_passes(tmp_path: Path) -> None:
    values = as_space(landscape(vivid=1.3), "sRGB")
    findings = ask(tmp_path, values, "ROMM RGB")
    (finding,) = findings.values()
    assert finding.code in ("unlikely", "wrong", "doubtful")
    assert "sRGB" in finding.remedy
    assert "chroma" in finding.remedy
    assert not ask(tmp_path, values, "sRGB")


def test_the_gain_rests_on_the_pixels_and_not_on_the_tag(tmp_path: Path) -> None:
    values = as_space(landscape(), "ROMM RGB")
    seen = [
        source_space(a_picture(write_picture(tmp_path / f"{i}.png", values, icc=name)))
        for i, name in enumerate(CANDIDATES)
    ]
    assert all(one.log_p == pytest.approx(seen[0].log_p) for one in seen)
    assert sum(np.exp(v) for v in seen[0].log_p.values()) == pytest.approx(1)
    assert seen[0].gain() > seen[3].gain()


def test_metadata_is_a_second_witness(tmp_path: Path) -> None:
    values = as_space(landscape(), "opRGB")
    assert set(ask(tmp_path, values, "sRGB", "p.jpg", fields=R03, Q=95)) == {"wrong"}
    assert "wrong" not in ask(tmp_path, values, "sRGB", "q.jpg", Q=95)


def test_metadata_is_no_witness_against_the_pixels(tmp_path: Path) -> None:
    for space in ("ROMM RGB", "sRGB"):
        values = as_space(landscape(), space)
        assert "wrong" not in ask(tmp_path, values, "sRGB", f"{space}.jpg", fields=R03, Q=95)


def test_one_picture_alone_is_a_query_or_a_note(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = a_picture(write_picture(tmp_path / "p.png", as_space(landscape(), "sRGB")))
    seen, limits = source_space(picture), thresholds("sRGB")
    for best, gain, codes in (
        ("ROMM RGB", limits.note - 0.1, set()),
        ("ROMM RGB", limits.note + 0.01, {"doubtful"}),
        ("ROMM RGB", limits.query + 0.1, {"unlikely"}),
        # between these two no single picture is evidence enough
        ("opRGB", limits.query + 3, {"doubtful"}),
    ):
        told = replace(seen, log_p=_evidence("sRGB", best, gain)["log_p"])
        monkeypatch.setattr(source_profile, "source_space", lambda _, told=told: told)
        assert set(found(rule, picture, OPTIONS)) == codes


SRGB = {"exif-ifd2-ColorSpace": "1 (sRGB, Short, 1 components, 2 bytes)"}


@pytest.mark.parametrize(
    "tag, best, stated, least",
    [
        # opRGB's entries are no camera's default, so they need no more than a likelihood
        ("sRGB", "opRGB", R03, 0.0),
        ("opRGB", "sRGB", SRGB, 0.5),
        ("ROMM RGB", "sRGB", SRGB, 0.5),
    ],
)
def test_half_a_note_is_enough_where_the_metadata_agrees(
    tag: str, best: str, stated: dict[str, str], least: float, tmp_path: Path
) -> None:
    path = write_picture(tmp_path / "p.jpg", draw(), icc=tag, fields=stated)
    limit = thresholds(tag).note
    assert weighed(path, tag, best, limit * least - 0.01) == {}
    (finding,) = weighed(path, tag, best, limit * least + 0.01).values()
    assert (finding.code, finding.unit) == ("wrong", "nats")
    assert finding.measured == pytest.approx(limit * least + 0.01)
    # the gain from which the witness counts
    assert finding.limit == limit * least and finding.bound is Bound.MOST
    assert f"the metadata says {best}" in finding.remedy
    # it says another than the likeliest: no witness
    other = next(name for name in CANDIDATES if name not in (tag, best))
    assert "wrong" not in weighed(path, tag, other, limit + 0.01)


def weighed(path: Path, tag: str, best: str, gain: float, **reading: float) -> Any:
    """Return what is found where the pixels speak for `best` by `gain` nats.

    reading: of the tagged space.
    """
    plain = {"chroma": 40, "skin_hue": np.nan, "skin_chroma": np.nan, "beyond": 0, "imaginary": 0}
    readings = {name: Reading(**plain) for name in CANDIDATES}
    readings[tag] = replace(readings[tag], **reading)
    told = SourceSpace(tag, _evidence(tag, best, gain)["log_p"], readings)
    picture = a_picture(path)
    preset(picture, source_space, told)
    return found(rule, picture, OPTIONS)


def test_imaginary_colours_are_none_at_the_limit_or_without_doubt(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.png", draw(), icc="ROMM RGB")
    note = thresholds("ROMM RGB").note
    codes = {
        (gain, share): set(weighed(path, "ROMM RGB", "sRGB", gain, imaginary=share))
        for gain in (note - 0.01, note + 0.01)
        for share in (0.01, 0.011)
    }
    assert codes == {
        (note - 0.01, 0.01): set(),
        (note - 0.01, 0.011): set(),
        (note + 0.01, 0.01): {"doubtful"},
        (note + 0.01, 0.011): {"wrong"},
    }
    (finding,) = weighed(path, "ROMM RGB", "sRGB", note + 1, imaginary=0.023).values()
    assert "2.3 % of its pixels would be no real colours" in finding.remedy


def test_a_finding_tells_how_both_spaces_show_the_colours(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.png", draw())
    gain = thresholds("sRGB").note + 1
    seen = {"chroma": 61.0, "beyond": 0.004, "skin_hue": 70.0, "skin_chroma": 30.0}
    (finding,) = weighed(path, "sRGB", "opRGB", gain, **seen).values()
    assert (finding.measured, finding.unit) == (pytest.approx(gain), "nats")
    assert re.search(r"Tagged sRGB, it looks more like opRGB \((9\d|100)%\)", finding.remedy)
    assert "Read as opRGB, vivid colours have chroma 40 instead of 61" in finding.remedy
    assert "0.0% lie beyond what real surfaces show instead of 0.4%" in finding.remedy
    assert "--assume 'NAME=opRGB'" in finding.remedy
    assert "skin" not in finding.remedy  # there are none in the other space
    (finding,) = weighed(path, "sRGB", "opRGB", gain, beyond=0.002).values()
    assert "beyond" not in finding.remedy
    # which of these two it was no pixels tell, but to one of them
    (finding,) = weighed(path, "sRGB", "Display P3", gain).values()
    assert "more like Display P3 (" in finding.remedy
    opened = write_picture(tmp_path / "o.png", draw(), icc="opRGB")
    (finding,) = weighed(opened, "opRGB", "Display P3", gain + 3).values()
    assert "more like sRGB or Display P3 (" in finding.remedy
    assert "NAME=sRGB'" in finding.remedy


def test_a_second_space_is_named_where_the_first_is_not_sure() -> None:
    def told(srgb: float, p3: float, oprgb: float) -> SourceSpace:
        log_p = {"sRGB": srgb, "Display P3": p3, "opRGB": oprgb, "ROMM RGB": -9.0}
        return SourceSpace("ROMM RGB", log_p, {})

    sure = told(-0.5, -1.0, -5.0)
    assert [name for name, _ in sure.likely()] == ["sRGB"]
    assert sure.likely()[0][1] == pytest.approx(1 / (1 + np.exp(-5) / (np.exp(-0.5) + np.exp(-1))))
    # neither of two spaces that look alike is the likeliest, both together are
    unsure = told(-1.2, -1.6, -1.0)
    assert unsure.best() == "opRGB"
    assert [name for name, _ in unsure.likely()] == ["sRGB", "opRGB"]
    assert unsure.looks_like() == "sRGB or Display P3 (58%), else opRGB (42%)"
    assert "'NAME=sRGB' and with --assume 'NAME=opRGB'" in unsure.compare()
    # under a tag that is one of the two, they are told apart
    assert [name for name, _ in replace(unsure, tag="sRGB").likely()] == ["opRGB", "Display P3"]


def test_skin_is_told_in_both_spaces(tmp_path: Path) -> None:
    (finding,) = ask(
        tmp_path, as_space(with_face(landscape(vivid=1.3)), "sRGB"), "ROMM RGB"
    ).values()
    told = re.search(
        r"may be skin has hue (\d+) and chroma (\d+) instead of (\d+) and (\d+)", finding.remedy
    )
    assert told
    hue, chroma, wrong_hue, wrong_chroma = map(int, told.groups())
    assert 40 < hue < 60 and 15 < chroma < 35
    # the same pixels, as a ROMM RGB tag turns and stretches them
    assert hue - wrong_hue > 5 and wrong_chroma > chroma + 5


def test_without_a_face_no_skin_is_told(tmp_path: Path) -> None:
    (finding,) = ask(tmp_path, as_space(landscape(vivid=1.3), "sRGB"), "ROMM RGB").values()
    assert "skin" not in finding.remedy


@pytest.mark.parametrize(
    "quality, subsampled, coding",
    [
        (100, False, Coding(0.0)),
        (90, False, Coding(0.5)),
        (90, True, Coding(0.5, subsampled=True)),
        (80, True, Coding(1.0, subsampled=True)),
        # worse than what was fitted on is told as the worst of it
        (60, False, Coding(1.0)),
    ],
)
def test_the_model_is_told_what_jpeg_left(
    quality: int, subsampled: bool, coding: Coding, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chroma = "on" if subsampled else "off"
    path = write_picture(
        tmp_path / "p.jpg", as_space(landscape(), "sRGB"), Q=quality, subsample_mode=chroma
    )
    assert told_of_coding(path, monkeypatch) == coding


def test_averages_of_many_pixels_show_no_coding(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    values = as_space(landscape(), "sRGB")
    lossless = write_picture(tmp_path / "p.png", values)
    assert told_of_coding(lossless, monkeypatch) == Coding()
    for times, coding in ((3, Coding(1.0)), (4, Coding(averaged=True))):
        large = values.repeat(times, 0).repeat(times, 1)
        path = write_picture(tmp_path / f"{times}.jpg", large, Q=80, subsample_mode="off")
        assert told_of_coding(path, monkeypatch) == coding


def told_of_coding(path: Path, monkeypatch: pytest.MonkeyPatch) -> Coding:
    told: list[Coding] = []

    def noted(values: Any, steps: Any, coding: Coding) -> Any:
        told.append(coding)
        return features(values, steps, coding)

    monkeypatch.setattr(source_space_module, "features", noted)
    source_space(a_picture(path))
    return told[0]


def with_face(scene: Any) -> Any:
    """Return a scene of 0..1 with a shaded oval of skin in its middle."""
    y, x = np.mgrid[: scene.shape[0], : scene.shape[1]]
    down, across = (y / scene.shape[0] - 0.5) / 0.3, (x / scene.shape[1] - 0.5) / 0.18
    shade = 1.0 - 0.35 * (across + 1) / 2
    face = shade[..., None] * np.array([0.85, 0.64, 0.54])
    return np.where((down**2 + across**2 < 1)[..., None], face, scene)


def blocks(small: Any, side: int) -> Any:
    height, width = (length // side * side for length in small.shape[:2])
    parts = small[:height, :width].reshape(height // side, side, width // side, side, 3)
    return parts.mean(axis=(1, 3))


def test_small_pictures_are_averaged_as_jpeg_averages_chroma() -> None:
    rng = np.random.default_rng(1)
    small = rng.integers(0, 256, (142, 161, 3), dtype=np.uint8)
    for factor, subsampled, side in (
        (1, False, 2),
        (1, True, 4),
        (2, False, 1),
        (2, True, 2),
        # a small copy that shrank holds averages already
        (4, True, 1),
    ):
        grid = cells(small, factor, subsampled=subsampled)
        assert np.allclose(grid, blocks(small, side))
        deep = cells(small.astype(np.uint16) * 257, factor, subsampled=subsampled)
        assert np.allclose(sample(deep), sample(grid)) and np.allclose(steps(deep), steps(grid))
    # too few would remain
    few = small[:100, :150]
    assert np.allclose(cells(few, 1, subsampled=True), blocks(few, 2))
    assert cells(np.zeros((5001, 1, 3), np.uint8), 1, subsampled=False).shape == (2500, 1, 3)


def test_colours_and_steps_are_picked_evenly() -> None:
    rng = np.random.default_rng(1)
    grid = rng.random((101, 120, 3)).astype(np.float32)
    colours = sample(grid)
    assert len(colours) == -(-101 * 120 // 3)
    # every column is asked, though two divides the width
    assert np.allclose(colours[:41], grid[0, ::3].tolist() + [grid[1, 0].tolist()])
    seen = steps(grid[:, :, :] * 0 + np.arange(120, dtype=np.float32)[:, None])
    # beside: one; below: none
    assert np.allclose(seen[: 51 * 119], 1) and np.allclose(seen[51 * 119 :], 0)
    assert len(seen) == 51 * 119 + 100 * 60


def test_walls_are_told_by_channel_and_dark_pixels_nowhere() -> None:
    on_red = np.tile(np.array([0.0, 0.5, 0.3], np.float32), (100, 1))
    beyond = np.tile(np.array([-0.05, 0.5, 0.015], np.float32), (100, 1))
    dark = np.full((200, 3), 0.01, np.float32)
    numbers = source_space_module._floor_numbers(np.concatenate([on_red, beyond, dark]))
    shares = (np.exp(numbers) - 3e-4).reshape(3, 13)
    # -0.1 and 0 of the largest channel; all of it; 0.03 and 0.6
    assert np.allclose(shares[0, [2, 6]], 0.25) and np.isclose(shares[0].sum(), 0.5)
    assert np.isclose(shares[1, 12], 0.5) and np.isclose(shares[1].sum(), 0.5)
    assert np.allclose(shares[2, [8, 12]], 0.25) and np.isclose(shares[2].sum(), 0.5)


def test_edges_tell_how_channels_move_together() -> None:
    rng = np.random.default_rng(1)
    light = rng.normal(0, 20, (4000, 1)).astype(np.float32)

    def numbers(*colour: float) -> Any:
        told: Any = source_space_module._edge_numbers(light * np.array(colour, np.float32))
        return np.reshape(told, (4, 5))

    grey, warm = numbers(1, 1, 1), numbers(1.2, 1.0, 0.7)
    assert (grey[:, :2] < -2).all() and np.abs(grey[:, 2:]).max() < 0.01
    # where there is more light there is more red and less blue
    assert (warm[:, 2] < -0.95).all() and (warm[:, 3] > 0.95).all() and (warm[:, 4] < -0.95).all()


def test_the_model_was_fitted_on_as_many_numbers_as_it_is_given() -> None:
    grid = cells(as_bytes(landscape() * 255), 1, subsampled=False)
    numbers = features(sample(grid), steps(grid), Coding())
    assert len(numbers) == len(weights("source-profile")["mean"])
    assert np.isfinite(numbers).all()
    flat = np.full((100, 100, 3), 90, np.float32)
    assert np.isfinite(features(sample(flat), steps(flat), Coding())).all()


def test_the_file_tells_how_it_is_averaged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def noted(small: Any, factor: int, *, subsampled: bool) -> Any:
        asked.append((small.shape[:2], factor, subsampled))
        return cells(small, factor, subsampled=subsampled)

    monkeypatch.setattr(source_space_module, "cells", noted)
    for size, name in (((480, 360), "a.jpg"), ((1280, 960), "b.png")):
        values = as_space(landscape(), "sRGB").repeat(size[0] // 480 + 1, 0)
        values = values.repeat(size[0] // 480 + 1, 1)[: size[1], : size[0]]
        how: dict[str, Any] = {"subsample_mode": "on"} if name == "a.jpg" else {}
        source_space(a_picture(write_picture(tmp_path / name, values, **how)))
    assert asked == [((360, 480), 1, True), ((480, 640), 2, False)]


def test_romm_tags_have_a_lower_limit_where_the_chroma_is_fine() -> None:
    clear, dulled = thresholds("ROMM RGB"), thresholds("ROMM RGB", 1.0)
    assert clear.odd < dulled.odd and clear.note < dulled.note < dulled.query
    gain = (clear.note + dulled.note) / 2
    log_p = _evidence("ROMM RGB", "sRGB", gain)["log_p"]
    plain = Reading(chroma=40, skin_hue=np.nan, skin_chroma=np.nan, beyond=0, imaginary=0)
    for by in (0.0, 1.0):
        space = SourceSpace("ROMM RGB", log_p, {"ROMM RGB": plain}, by)
        assert space.told("") is not bool(by)
        assert space.undecided("") is bool(by)


def test_limits_of_coarse_chroma_go_by_quality() -> None:
    of = {
        quality: thresholds("ROMM RGB", Coding.of_jpeg(quality, subsampled=True).dulled).odd
        for quality in (75, 80, 85, 90, 100)
    }
    assert of[75] == of[80] > of[85] > of[90] == of[100] > thresholds("ROMM RGB").odd
    assert of[85] == pytest.approx((of[80] + of[90]) / 2)
    assert Coding.of_jpeg(60, subsampled=False).dulled == 0


def test_a_pictures_coding_sets_its_limits(tmp_path: Path) -> None:
    values = as_space(landscape(), "sRGB")
    for chroma in ("on", "off"):
        path = write_picture(tmp_path / f"{chroma}.jpg", values, subsample_mode=chroma)
        assert bool(source_space(a_picture(path)).dulled) is (chroma == "on")


def test_evidence_is_what_the_pixels_say_and_no_more(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.png", as_space(landscape(), "opRGB"))
    picture = a_picture(path)
    seen = source_space(picture)
    assert rule.evidence is delivery.testimony
    assert rule.tell_once is delivery.undecided
    told = {"tag": "sRGB", "log_p": seen.log_p, "gain": seen.gain(), "dulled": 0.0}
    assert delivery.testimony(picture) == {**told, "told": True, "undecided": False}
    assert delivery.testimony(replace(picture, assumed=b"a profile")) is None
    gray = write_picture(tmp_path / "g.tif", draw(channels=1), mode="gray", icc=None)
    assert delivery.testimony(a_picture(gray)) is None
    bare = write_picture(tmp_path / "b.png", as_space(landscape(), "opRGB"), icc=None)
    assert delivery.testimony(a_picture(bare)) is None


def test_romm_values_tagged_srgb_are_unlikely(tmp_path: Path) -> None:
    assert set(ask(tmp_path, as_space(landscape(), "ROMM RGB"), "sRGB")) == {"unlikely"}


def test_imaginary_colours_are_a_second_witness(tmp_path: Path) -> None:
    # a stage lit in sRGB's own blue, read as ROMM RGB: no eye can see such a blue
    scene = landscape(vivid=1.5)
    scene[:, :160] = np.array([0.25, 0.25, 1.0])
    scene[:, 160:240] = np.array([1.0, 0.02, 0.02])
    values = as_space(scene, "sRGB")
    path = write_picture(tmp_path / "p.png", values, icc="ROMM RGB")
    seen = source_space(a_picture(path))
    assert seen.readings["ROMM RGB"].imaginary > 0.01
    assert seen.readings["sRGB"].imaginary == 0
    assert seen.gain() > thresholds("ROMM RGB").note
    assert "wrong" in found(rule, a_picture(path), OPTIONS)


def test_untagged_shows_a_ranking_and_never_a_verdict(tmp_path: Path) -> None:
    (finding,) = ask(tmp_path, as_space(landscape(), "sRGB"), None).values()
    assert finding.code == "untagged"
    assert all(name in str(finding.measured) for name in CANDIDATES)
    assert str(finding.measured).startswith("sRGB")


def test_sixteen_bits_read_as_eight(tmp_path: Path) -> None:
    eight = as_space(landscape(), "opRGB")
    paths = [
        write_picture(tmp_path / "8.tif", eight, icc="opRGB"),
        write_picture(tmp_path / "16.tif", eight.astype(np.uint16) * 257, icc="opRGB"),
    ]
    first, second = (source_space(a_picture(path)).log_p for path in paths)
    assert first == pytest.approx(second, abs=0.05)


def test_what_holds_no_evidence_is_unmeasured(tmp_path: Path) -> None:
    scene = landscape()
    grey = np.repeat(scene.mean(axis=2, keepdims=True), 3, axis=2)
    toned = grey * np.array([1.0, 0.93, 0.82])
    for values, why in (
        (as_space(grey, "sRGB"), "grey"),
        (as_space(toned, "sRGB"), "toned|grey"),
        (as_space(scene, "sRGB")[:50, :60], "too few"),
    ):
        with pytest.raises(Unmeasured, match=why):
            ask(tmp_path, values, "sRGB")
    with pytest.raises(Unmeasured, match="none of"):
        ask(tmp_path, as_space(scene, "sRGB"), "eciRGB v2")


def test_cmyk_and_gray_have_no_rgb_space_to_be_wrong(tmp_path: Path) -> None:
    for channels, mode in ((4, "CMYK"), (1, "gray")):
        assert not ask(tmp_path, draw(channels=channels), None, name="p.tif", mode=mode)


def _evidence(tag: str, truth: str, gain: float) -> dict[str, Any]:
    log_p = dict.fromkeys(CANDIDATES, -3.0) | {tag: -1.0}
    log_p[truth] = -1.0 + gain if truth != tag else -1.0
    best = max(v for k, v in log_p.items() if k != tag)
    gain = best - log_p[tag]
    return {"tag": tag, "log_p": log_p, "gain": gain, "told": False, "dulled": 0.0}


def test_a_delivery_wrong_throughout_is_found_where_no_picture_is() -> None:
    limit = pooled("sRGB", [_evidence("sRGB", "opRGB", 0)["log_p"]] * 12)[2]
    gain = limit + 0.1
    assert gain < thresholds("sRGB").note
    seen = {Member(f"/a/{i}.jpg"): _evidence("sRGB", "opRGB", gain) for i in range(12)}
    findings = check_set(seen, OPTIONS)
    assert {f.code for them in findings.values() for f in them} == {"delivery-wrong"}
    assert len(findings) == 12
    # the same pictures from twelve folders are no delivery
    assert not check_set(
        {Member(f"/{i}/{i}.jpg"): one for i, one in enumerate(seen.values())}, OPTIONS
    )


def test_other_tags_are_another_delivery() -> None:
    wrong = {Member(f"/a/{i}.jpg"): _evidence("sRGB", "opRGB", 2.0) for i in range(12)}
    right = {Member(f"/a/right {i}.jpg"): _evidence("opRGB", "opRGB", 0) for i in range(12)}
    assert set(check_set(wrong | right, OPTIONS)) == set(wrong)


def test_the_house_says_how_many_are_a_delivery() -> None:
    seen = {Member(f"/a/{i}.jpg"): _evidence("sRGB", "opRGB", 9.0) for i in range(3)}
    codes = {f.code for them in check_set(seen, OPTIONS).values() for f in them}
    assert codes == {"delivery-wrong"}
    alone = check_set(seen, {**OPTIONS, "smallest delivery": 4})
    assert "delivery-wrong" not in {f.code for them in alone.values() for f in them}


def test_srgb_and_p3_confused_throughout_is_only_doubtful() -> None:
    seen = {Member(f"/a/{i}.jpg"): _evidence("sRGB", "Display P3", 2.0) for i in range(12)}
    codes = {f.code for them in check_set(seen, OPTIONS).values() for f in them}
    assert codes == {"delivery-doubtful"}


def beside(tag: str, count: int, folder: str = "a") -> dict[Member, Any]:
    """Return the evidence of as many honest pictures of one folder."""
    honest = {**dict.fromkeys(CANDIDATES, -30.0), tag: 0.0}
    told = {"tag": tag, "log_p": honest, "gain": -30.0, "told": False, "dulled": 0.0}
    return {Member(f"/{folder}/{tag} {i}.jpg"): told for i in range(count)}


def test_one_odd_tag_among_others_is_noted_at_a_lower_gain() -> None:
    odd, limits = Member("/a/odd.jpg"), thresholds("ROMM RGB")
    assert limits.odd < limits.note
    for gain, count, told in (
        (limits.odd + 0.1, 3, True),
        (limits.odd - 0.1, 3, False),
        # too few neighbours
        (limits.odd + 0.1, 2, False),
        (limits.note + 0.1, 3, True),
    ):
        seen = {odd: _evidence("ROMM RGB", "sRGB", gain), **beside("sRGB", count)}
        found = check_set(seen, OPTIONS)
        assert set(found) == ({odd} if told else set())
    (finding,) = check_set(seen, OPTIONS)[odd]
    assert (finding.code, finding.unit) == ("odd-one-out", "nats")
    assert finding.measured == pytest.approx(limits.note + 0.1)
    assert finding.limit == limits.odd and finding.bound is Bound.MOST
    assert "Tagged ROMM RGB among 3 pictures tagged sRGB, it looks more like sRGB" in finding.remedy
    assert "before it is converted; to compare, prepare with --assume 'NAME=sRGB'" in finding.remedy
    # the neighbours stand in another folder
    assert not check_set({odd: seen[odd], **beside("sRGB", 3, "b")}, OPTIONS)


def test_what_is_told_of_a_picture_alone_is_not_told_again() -> None:
    odd = Member("/a/odd.jpg")
    seen = {odd: _evidence("ROMM RGB", "sRGB", 9.0), **beside("sRGB", 6)}
    assert set(check_set(seen, OPTIONS)) == {odd}
    seen[odd]["told"] = True
    assert not check_set(seen, OPTIONS)


def test_two_odd_ones_need_twice_the_neighbours() -> None:
    two = {Member(f"/a/odd {i}.jpg"): _evidence("ROMM RGB", "sRGB", 9.0) for i in range(2)}
    assert not check_set({**two, **beside("sRGB", 5)}, OPTIONS)
    assert set(check_set({**two, **beside("sRGB", 6)}, OPTIONS)) == set(two)


def test_a_delivery_is_not_told_again_as_odd_ones() -> None:
    three = {Member(f"/a/odd {i}.jpg"): _evidence("ROMM RGB", "sRGB", 9.0) for i in range(3)}
    found = check_set({**three, **beside("sRGB", 9)}, OPTIONS)
    assert {f.code for them in found.values() for f in them} == {"delivery-wrong"}


def test_evidence_tells_whether_a_finding_does(tmp_path: Path) -> None:
    path = write_picture(tmp_path / "p.png", draw(), icc="ROMM RGB")
    stated = write_picture(tmp_path / "e.jpg", draw(), icc="ROMM RGB", fields=SRGB)
    note = thresholds("ROMM RGB").note
    for file, gain in (
        (path, note),
        (path, note * 0.75),
        (stated, note * 0.75),
        (stated, note / 3),
    ):
        for more in (-0.01, 0.01):
            picture = a_picture(file)
            log_p = _evidence("ROMM RGB", "sRGB", gain + more)["log_p"]
            reading = Reading(40, np.nan, np.nan, 0, 0)
            told = SourceSpace("ROMM RGB", log_p, dict.fromkeys(CANDIDATES, reading))
            preset(picture, source_space, told)
            heard = delivery.testimony(picture)
            assert heard and heard["told"] == bool(found(rule, picture, OPTIONS))


def test_a_file_on_two_pages_is_one_of_its_delivery() -> None:
    seen = {
        Member("/a/0.jpg", page=str(page)): _evidence("sRGB", "opRGB", 9.0) for page in (1, 2, 3)
    }
    assert not check_set(seen, OPTIONS)
    seen |= {Member(f"/a/{i}.jpg"): _evidence("sRGB", "opRGB", 9.0) for i in (1, 2)}
    assert set(check_set(seen, OPTIONS)) == set(seen)


def test_every_delivery_is_judged_and_told(tmp_path: Path) -> None:
    few = {Member(f"/few/{i}.jpg"): _evidence("sRGB", "opRGB", 9.0) for i in range(2)}
    wrong = {Member(f"/a/{i}.jpg"): _evidence("sRGB", "opRGB", 9.0) for i in range(3)}
    second = {Member(f"/b/{i}.jpg"): _evidence("opRGB", "sRGB", 9.0) for i in range(4)}
    findings = check_set(few | wrong | second, OPTIONS)
    assert set(findings) == {*wrong, *second}
    for them, tag, best in ((wrong, "sRGB", "opRGB"), (second, "opRGB", "sRGB")):
        _, gain, limit = pooled(tag, [one["log_p"] for one in them.values()])
        for member in them:
            (finding,) = findings[member]
            assert (finding.measured, finding.limit, finding.unit) == (gain, limit, "nats")
            told = f"{len(them)} pictures of this folder are tagged {tag}.* most like {best}"
            assert re.search(told, finding.remedy)


def test_two_spaces_have_one_limit_whichever_is_the_tag() -> None:
    limits = weights("source-profile")["delivery"]
    for tag, other in permutations(CANDIDATES, 2):
        assert limits[tag][other] == limits[other][tag]
        # a source like none of the fit's needs some room
        assert dict(limits[tag][other])[12] >= 0.4


def test_limits_fall_with_the_number_of_pictures() -> None:
    log_p = _evidence("sRGB", "opRGB", 1)["log_p"]
    limits = [pooled("sRGB", [log_p] * count)[2] for count in (3, 6, 12, 50)]
    assert limits == sorted(limits, reverse=True)
    assert limits[2] == limits[3] < limits[0]


def test_each_space_has_its_limit_under_a_tag() -> None:
    def limit(tag: str, best: str) -> float:
        return pooled(tag, [_evidence(tag, best, 2.0)["log_p"]] * 12)[2]

    # the fit says under which tag the others' limits lie furthest apart
    limits = {tag: {s: limit(tag, s) for s in CANDIDATES if s != tag} for tag in CANDIDATES}
    tag = max(limits, key=lambda one: max(limits[one].values()) - min(limits[one].values()))
    low, high = (pick(limits[tag], key=limits[tag].__getitem__) for pick in (min, max))
    assert limits[tag][high] - limits[tag][low] > 0.05
    # a space above its limit is told before one that gains more and stays below its own
    between = dict.fromkeys(CANDIDATES, -9.0) | {
        tag: -1.0, low: -1.0 + limits[tag][low] + 0.02, high: -1.0 + limits[tag][high] - 0.02,
    }  # fmt: skip
    best, gain, at = pooled(tag, [between] * 12)
    assert (best, at) == (low, limits[tag][low]) and gain > at


def test_real_surfaces_and_the_locus() -> None:
    white = np.full((1, 3), 255, np.float32)
    assert lab_of(white, "sRGB")[0] == pytest.approx([100, 0, 0], abs=0.1)
    assert not imaginary(white).any()
    # sRGB's numbers for a bright blue, and ROMM RGB's own green primary
    assert imaginary(np.array([[60, 60, 255], [0, 255, 0]], np.float32)).all()
    assert surface_chroma(np.array([15.0], np.float32), np.array([0.0], np.float32))[
        0
    ] == pytest.approx(10)
    assert surface_chroma(np.array([15.0], np.float32), np.array([359.99], np.float32))[
        0
    ] == pytest.approx(10, abs=0.1)


def weighing(tag: str, gain: float) -> dict[str, float]:
    """Return ln p by space where the best other one gains `gain` nats on the tag."""
    other = "sRGB" if tag != "sRGB" else "opRGB"
    return {**dict.fromkeys(CANDIDATES, -30.0), tag: -1.0, other: -1.0 + gain}


def undecided(path: Path, tag: str, gain: float, **written: Any) -> bool:
    """Return whether a picture whose pixels speak against its tag by `gain` nats is undecided."""
    picture = a_picture(write_picture(path, draw(), icc=tag, **written))
    readings = dict.fromkeys(CANDIDATES, Reading(40, np.nan, np.nan, 0, 0))
    preset(picture, source_space, SourceSpace(tag, weighing(tag, gain), readings))
    told = delivery.testimony(picture)
    assert told is not None
    return bool(told["undecided"])


@pytest.mark.parametrize("tag", ["opRGB", "Display P3", "ROMM RGB"])
def test_a_wide_tag_for_which_nothing_speaks_is_undecided(tag: str, tmp_path: Path) -> None:
    path, note = tmp_path / "p.png", thresholds(tag).note
    assert undecided(path, tag, 0.0)
    assert undecided(path, tag, note - 0.01)
    # a finding tells of it
    assert not undecided(path, tag, note + 0.01)
    # the pixels vouch for it, at twenty to one
    assert undecided(path, tag, -2.9)
    assert not undecided(path, tag, -3.1)
    # metadata speaks
    assert not undecided(tmp_path / "e.jpg", tag, 0.0, fields=R03)
    assert not undecided(path, "sRGB", 0.0)


def told_of(*pictures: tuple[str, str, bool, float]) -> list[str]:
    """Return the lines on pictures of file, tag, whether undecided, and gain."""
    evidence = {
        Member(name, page=str(page)): {
            "tag": tag, "log_p": weighing(tag, gain), "gain": gain, "told": False,
            "dulled": 0.0,
            "undecided": open_,
        }
        for page, (name, tag, open_, gain) in enumerate(pictures)
    }  # fmt: skip
    return list(delivery.undecided(evidence, OPTIONS))


def test_one_line_tells_of_all_undecided_pictures() -> None:
    assert told_of(("a/1", "opRGB", False, -5.0), ("a/2", "sRGB", False, 0.0)) == []
    several = [
        ("a/1", "opRGB", True, 0.0), ("b/2", "opRGB", True, 0.0), ("b/2", "opRGB", True, 0.0),
        ("c/3", "Display P3", True, 0.0), ("c/4", "sRGB", False, 0.0),
    ]  # fmt: skip
    (line,) = told_of(*several)
    assert line == (
        "cannot be told from pixels: 2 pictures tagged opRGB, 1 picture tagged Display P3; "
        "compare them in the proof."
    )


def test_a_delivery_that_vouches_for_its_tag_settles_it() -> None:
    silent = [(f"a/{i}", "opRGB", True, -2.5) for i in range(2)]
    clear = [(f"a/{i}", "opRGB", False, -6.0) for i in range(2, 8)]
    assert pooled("opRGB", [weighing("opRGB", gain) for *_, gain in silent + clear])[1] < -3
    assert told_of(*silent, *clear) == []
    # of a delivery that says no more than its pictures, or of another folder, nothing is learnt
    assert "8 pictures" in told_of(*[(f"a/{i}", "opRGB", True, -2.5) for i in range(8)])[0]
    elsewhere = [(f"b/{i}", "opRGB", False, -6.0) for i in range(6)]
    assert "2 pictures" in told_of(*silent, *elsewhere)[0]


def test_a_run_tells_it_once_for_all(coated: House, registry: Registry, tmp_path: Path) -> None:
    tasks = [
        jobs.Task(write_picture(tmp_path / f"{i}.png", as_space(landscape(i, 0.6), "opRGB"),
                                icc="opRGB"), PlacementRequest())
        for i in range(2)
    ]  # fmt: skip
    report = jobs.check(tasks, coated, jobs.Run(registry, processes=1))
    told = "source-profile: cannot be told from pixels: 2 pictures tagged opRGB; "
    assert report.told_once == (told + "compare them in the proof.",)
    named = jobs.joined([report, replace(report, house="another")]).told_once
    assert [line.partition(": ")[0] for line in named] == [coated.name, "another"]
