"""A condition of one's own from measured patches, and what becomes of it in a house."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from conftest import TR002, need
from measured_charts import cgats

from pressworthy.characterization import making
from pressworthy.characterization.patches import INKS, Patches, read_measurements
from pressworthy.colour.chart import chart
from pressworthy.colour.condition import read_condition
from pressworthy.commands.main import main
from pressworthy.house import load_house
from pressworthy.plugins import Registry
from pressworthy.print.halftone import Screen
from pressworthy.print.printlook import press_of

pytestmark = pytest.mark.xdist_group("a condition made")


def test_a_condition_is_made_whole_and_told(
    hall_2: tuple[Path, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    target, call = hall_2
    assert {file.name for file in target.iterdir()} == set(making.FILES)
    assert [path.name for path in target.parent.iterdir()] == ["hall-2"]
    condition = read_condition(target)
    # as in REFERENCES of the data: read out directly
    assert condition.paper == pytest.approx((80.11, 0.02, 3.54), abs=0.02)
    assert condition.values["solids"]["cyan"] == pytest.approx((56.92, -23.31, -25.98), abs=0.02)
    assert condition.values["tone value increase"]["black"]["50 %"] == pytest.approx(26.4, abs=0.1)
    assert condition.values["ruling"] == pytest.approx(39.37, abs=0.01)
    assert main(["conditions", str(target)]) == 0
    assert "hall-2" in capsys.readouterr().out
    # and never over one that is there
    assert main(call) == 2
    assert "is there already" in capsys.readouterr().err


def test_the_fit_is_what_profcheck_finds(hall_2: tuple[Path, list[str]], tmp_path: Path) -> None:
    """ArgyllCMS's own check of the same profile against the same data, in dE00."""
    profile = hall_2[0] / "cmyk.icc"
    data = making.fit_of(profile, read_measurements(Path(need(TR002))).patches)
    plain = tmp_path / "data.ti3"
    plain.write_bytes(bytes(b if b < 128 else 45 for b in Path(need(TR002)).read_bytes()))
    call = [need("profcheck"), "-k", str(plain), str(profile)]
    told = subprocess.run(call, capture_output=True, text=True, check=True).stdout
    found = re.search(r"max\. = ([0-9.]+), avg\. = ([0-9.]+)", told)
    assert found, told
    assert data.mean == pytest.approx(float(found[2]), abs=0.03)
    assert data.most == pytest.approx(float(found[1]), abs=0.15)
    assert data.mean < 0.5 and data.repeats and data.most_ink <= 240


def test_a_house_prints_on_it(
    hall_2: tuple[Path, list[str]], registry: Registry, tmp_path: Path
) -> None:
    shutil.copytree(hall_2[0], tmp_path / "conditions" / "hall-2")
    house = tmp_path / "x.yaml"
    house.write_text(
        "house: x\nkind: title\nstands on: newsprint\n"
        "output: {condition: conditions/hall-2, reason: our own press}\n"
    )
    loaded = load_house(str(house), registry)
    assert loaded.output.most_ink == 220 and loaded.output.condition.values["ink limit"] == 240
    press = press_of(loaded.output.condition)
    assert press.device == 2400 and press.screens[3] == Screen(3.93701, 45)
    assert loaded.prepare is not None and "amount" not in loaded.prepare


def test_without_argyll_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PATH", "")
    (tmp_path / "chart.txt").write_text(cgats(chart()))
    call = ["conditions", "new", "x", str(tmp_path / "chart.txt"), "--ruling", "60"]
    assert main([*call, "--limit", "300", "--into", str(tmp_path / "new")]) == 2
    assert "install ArgyllCMS" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("name", ["new", "../x", "a b", "press.icc"])
def test_a_name_that_no_house_could_name_is_refused(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call = ["conditions", "new", name, str(tmp_path / "chart.txt"), "--ruling", "60"]
    assert main([*call, "--limit", "300", "--into", str(tmp_path / "made")]) == 2
    assert f"{name!r}: " in capsys.readouterr().err
    assert not (tmp_path / "made").exists()


def test_an_uneven_ramp_is_told() -> None:
    tones = np.linspace(0, 100, 11)
    ink = np.concatenate([np.outer(tones, row) for row in np.eye(4)])
    xyz = 80 * 10 ** -(ink.sum(axis=1)[:, None] / 100 * [0.5, 0.6, 0.9])
    xyz[3] += 20
    patches = Patches(ink, xyz, xyz).mean()
    uneven = [name for name in INKS if making._uneven(patches.ramp(name)[1])]
    assert uneven == ["C"]
