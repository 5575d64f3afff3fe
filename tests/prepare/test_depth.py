"""Copies at 16 bits a channel, for houses that retouch them: as true as those at 8, and finer."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from conftest import need

from pressworthy.colour.convert import as_vips
from pressworthy.files.metadata.ticket import read_ticket
from pressworthy.files.opening import read_header
from pressworthy.house import House, load_house
from pressworthy.jobs import Run, Task
from pressworthy.jobs.proofing import proof_picture
from pressworthy.jobs.pull.overlays import ink_sum
from pressworthy.judge import judge
from pressworthy.measure.press import ink_coverage
from pressworthy.measure.ticket import pixel_hash
from pressworthy.plugins import Registry
from pressworthy.prepare import Made
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.faults import SetupError
from pressworthy.values.placement import PlacementRequest


def deep(parent: str, folder: Path, registry: Registry, more: str = "") -> House:
    path = folder / f"deep-{parent}.yaml"
    path.write_text(
        f"house: deep-{parent}\nkind: title\nstands on: {parent}\n"
        f"prepare:\n  depth: 16\n  reason: they are retouched\n{more}"
    )
    return load_house(str(path), registry)


def values(made: Made) -> Any:
    return pyvips.Image.new_from_file(str(made.copy.path)).numpy().astype(int)


@pytest.mark.parametrize(
    ("parent", "channels", "mode"),
    [
        ("coated-magazine", 3, "RGB"), ("newsprint", 3, "RGB"), ("mono", 3, "RGB"),
        # in black ink alone
        ("coated-magazine", 1, "gray"),
    ],
)  # fmt: skip
def test_a_copy_has_the_pixels_of_one_at_8_bits_and_those_between(
    parent: str, channels: int, mode: str, tmp_path: Path, registry: Registry,
    houses: dict[str, House], prepared: Callable[..., Made],
) -> None:  # fmt: skip
    path = tmp_path / "a.tif"
    icc = houses["mono"].output.condition.profiles["gray"].read_bytes()
    more: dict[str, Any] = {"icc": icc} if mode == "gray" else {}
    write_picture(path, draw(600, 450, channels=channels), mode=mode, words=CREDITED, **more)
    house = deep(parent, tmp_path, registry)
    fine = prepared(path, house, name="fine.tif")
    plain = prepared(path, parent, name="plain.tif")
    exactly, coarsely = values(fine), values(plain)
    assert np.abs(exactly / 257 - coarsely).max() <= 0.51
    assert len(np.unique(exactly)) > 1000 > len(np.unique(coarsely))
    assert fine.copy.header.depth == 16 and any("at 16 bits a channel" in s for s in fine.steps)
    read = subprocess.run(
        [need("exiftool"), "-s3", "-BitsPerSample", str(fine.copy.path)],
        capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    assert read == ["16"] * exactly.shape[-1] if exactly.ndim == 3 else ["16"]
    # judged alike
    told = [
        {(rule, one.code) for rule, one in judge(made.copy, h, registry.rules).findings()}
        for made, h in ((fine, house), (plain, houses[parent]))
    ]
    assert told[0] == told[1]
    if exactly.ndim == 3 and exactly.shape[-1] == 4:
        inks = [ink_coverage(made.copy) for made in (fine, plain)]
        assert inks[0].most == pytest.approx(inks[1].most, abs=1.6)
        assert house.output.most_ink and inks[0].most <= house.output.most_ink


def test_a_ticket_is_read_back_and_a_standing_copy_stays(
    tmp_path: Path, registry: Registry, prepared: Callable[..., Made]
) -> None:
    path = write_picture(tmp_path / "a.tif", draw(600, 450), words=CREDITED)
    house = deep("newsprint", tmp_path, registry)
    made = prepared(path, house)
    assert made.fresh
    ticket = read_ticket(read_header(made.copy.path).xmp)
    assert ticket is not None and ticket.pixels == pixel_hash(made.copy)
    before = made.copy.path.read_bytes()
    assert not prepared(path, house).fresh
    assert prepared(path, house, force=True).copy.path.read_bytes() == before
    # another depth is another order
    assert prepared(path, "newsprint").fresh
    assert read_header(made.copy.path).depth == 8


def test_the_proof_shows_the_same(
    tmp_path: Path, registry: Registry, houses: dict[str, House]
) -> None:
    path = write_picture(tmp_path / "a.tif", draw(450, 338), words=CREDITED)
    task = Task(path, PlacementRequest((30, 22.5)))
    run = Run(registry, processes=1)
    pulls = [
        proof_picture(task, house, run)[1]
        for house in (deep("newsprint", tmp_path, registry), houses["newsprint"])
    ]
    fine, plain = pulls
    assert fine.most_ink == pytest.approx(plain.most_ink, abs=1.6)
    assert fine.overlays.keys() == plain.overlays.keys()
    for view in plain.views:
        shown = [
            pyvips.Image.new_from_buffer(pull.views[view], "").numpy().astype(int) for pull in pulls
        ]
        assert np.abs(shown[0] - shown[1]).mean() < 1


def test_inks_at_16_bits_add_up_alike() -> None:
    inks = draw(64, 48, channels=4)
    fine = inks.astype(np.uint16) * 257
    sums = [ink_sum(as_vips(one, "CMYK"), 2) for one in (inks, fine)]
    assert np.abs(sums[0] - sums[1]).max() < 0.5


def test_only_a_tiff_holds_them(tmp_path: Path, registry: Registry) -> None:
    with pytest.raises(SetupError) as caught:
        deep("screen", tmp_path, registry)
    assert "deep-screen.yaml:5: prepare / depth: 8 was expected" in str(caught.value)
