"""Files of measurements, as measuring programs write them and as they should not be."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import need
from measured_charts import cgats, xyz_of

from pressworthy.characterization.patches import read_measurements
from pressworthy.colour.chart import chart
from pressworthy.colour.difference import delta_e_2000
from pressworthy.colour.lab import from_xyz
from pressworthy.colour.own_profile import printed_lab
from pressworthy.plugins import Registry
from pressworthy.values.faults import SetupError


@pytest.mark.parametrize("how", [{}, {"kinds": "LAB"}, {"kinds": "XYZ LAB", "names": True}])
@pytest.mark.parametrize("comma", [False, True])
def test_what_measuring_programs_write_is_read(
    tmp_path: Path, how: dict[str, Any], comma: bool
) -> None:
    file = tmp_path / "chart.txt"
    file.write_text(cgats(chart(), comma=comma, **how), newline="\r\n")
    read = read_measurements(file)
    assert (read.descriptor, read.originator, read.under) == ("web press", "Hall 2", "")
    assert read.patches.ink == pytest.approx(chart())
    assert read.patches.xyz == pytest.approx(xyz_of(chart()), abs=0.01)
    assert read.patches.lab == pytest.approx(from_xyz(xyz_of(chart()) / 100), abs=0.01)
    xyz, _ = read.patches.mean().solid("CM")
    assert xyz == pytest.approx(xyz_of(np.array([[100, 100, 0, 0]]))[0], abs=0.01)


def test_argyllcms_reads_the_same_in_a_cgats_file(tmp_path: Path) -> None:
    (tmp_path / "chart.txt").write_text(cgats(chart(), kinds="XYZ LAB"))
    by("txt2ti3", "chart.txt", "chart", folder=tmp_path)
    ours, theirs = (read_measurements(tmp_path / f"chart.{end}") for end in ("txt", "ti3"))
    assert theirs.patches.ink == pytest.approx(ours.patches.ink, abs=0.001)
    assert theirs.patches.xyz == pytest.approx(ours.patches.xyz, abs=0.001)


def test_what_argyllcms_measures_is_read(tmp_path: Path, registry: Registry) -> None:
    """Its own program prints the chart by a profile, and writes what comes of it."""
    press = (registry.condition_folders[0] / "newsprint" / "cmyk.icc").read_bytes()
    (tmp_path / "press.icc").write_bytes(press)
    rows = [f"{n} {' '.join(map(str, ink))} 1 1 1" for n, ink in enumerate(chart().tolist())]
    head = ["CTI1", "", 'DESCRIPTOR "chart"', 'ORIGINATOR "Hall 2"', 'COLOR_REP "CMYK"', "",
            "NUMBER_OF_FIELDS 8", "BEGIN_DATA_FORMAT",
            "SAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K XYZ_X XYZ_Y XYZ_Z", "END_DATA_FORMAT", "",
            f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA"]  # fmt: skip
    (tmp_path / "chart.ti1").write_text("\n".join([*head, *rows, "END_DATA", ""]))
    by("fakeread", "press.icc", "chart", folder=tmp_path)
    read = read_measurements(tmp_path / "chart.ti3").patches
    assert read.ink == pytest.approx(chart())
    # they interpolate in the profile's table otherwise than LittleCMS
    apart = delta_e_2000(read.lab, printed_lab(chart(), press))
    assert apart.mean() < 0.3 and apart.max() < 1.5


def by(program: str, *arguments: str, folder: Path) -> None:
    subprocess.run([need(program), *arguments], cwd=folder, check=True, capture_output=True)


def test_the_instruments_light_is_read(tmp_path: Path) -> None:
    file = tmp_path / "chart.txt"
    for head, under in (('MEASUREMENT_SOURCE "Illumination=M1"\n', "M1"), ("# M0, M1\n", "")):
        file.write_text(cgats(chart(), head=head))
        assert read_measurements(file).under == under
        assert read_measurements(file).descriptor == "chart"


def test_equal_patches_are_averaged(tmp_path: Path) -> None:
    file = tmp_path / "chart.txt"
    ink = np.concatenate([chart(), chart()[:40]])
    file.write_text(cgats(ink))
    read = read_measurements(file).patches
    assert len(read.ink) == len(ink) and len(read.mean().ink) == len(chart())


WHOLE = chart()
FEW = WHOLE[(WHOLE > 0).sum(axis=1) != 1]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no table of CMYK patches"),
        ("BEGIN_DATA_FORMAT\nRGB_R\nEND_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA\n", "no table"),
        (cgats(WHOLE).replace("CMYK_K", "K"), "no field CMYK_K"),
        (cgats(WHOLE).replace("XYZ_Z", "nm400"), "neither XYZ_X"),
        (cgats(WHOLE).replace("\nEND_DATA\n", "\n"), "END_DATA is missing"),
        (cgats(WHOLE).replace("\n7 ", "\n7 x "), "chart.txt:17: not 8 values"),
        (cgats(WHOLE * 2.55), "in %, 0 to 100"),
        (cgats(WHOLE / 100), "in %, 0 to 100"),
        (cgats(WHOLE[WHOLE[:, 3] < 100]), "no patch of K, CK, MK"),
        (cgats(WHOLE[1:]), "no patch of bare paper"),
        (
            cgats(np.concatenate([FEW, np.eye(4) * 100])),
            "fewer than 5 tints of cyan, magenta, yellow, black alone",
        ),
        (
            cgats(WHOLE, kinds="XYZ LAB").replace("XYZ_X\tXYZ_Y\tXYZ_Z", "XYZ_Z\tXYZ_Y\tXYZ_X"),
            "one of them is not for D50",
        ),
    ],
    ids=range(12),
)
def test_what_is_lacking_is_told(tmp_path: Path, text: str, words: str) -> None:
    file = tmp_path / "chart.txt"
    file.write_text(text)
    with pytest.raises(SetupError) as caught:
        read_measurements(file)
    assert words in str(caught.value)
