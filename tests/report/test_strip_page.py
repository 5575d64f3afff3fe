"""The test strip's page, as other programs read it."""

from __future__ import annotations

import io
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from conftest import need
from PIL import Image

from pressworthy.commands.main import main
from pressworthy.house import House
from pressworthy.prepare.strip import Strip, strip
from pressworthy.report.strip_page import CAUTION, page


@pytest.fixture(scope="module", params=["newsprint", "mono"])
def house(request: pytest.FixtureRequest, houses: dict[str, House]) -> House:
    return houses[request.param]


@pytest.fixture(scope="module")
def shown(house: House) -> Strip:
    return strip(house)


@pytest.fixture(scope="module")
def pdf(house: House, shown: Strip, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("strip") / "strip.pdf"
    path.write_bytes(page(shown, house))
    return path


def told(*command: str | Path) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return done.stdout


def test_six_pictures_at_the_outputs_ppi_in_its_inks(house: House, shown: Strip, pdf: Path) -> None:
    rows = told(need("pdfimages"), "-list", pdf).splitlines()[2:]
    assert len(rows) == 6
    space = "gray" if house.output.colour == "gray" else "cmyk"
    for row, patch in zip(rows, shown.patches, strict=True):
        columns = row.split()
        assert columns[2] == "image"
        assert [int(side) for side in columns[3:5]] == [patch.image.width, patch.image.height]
        assert columns[5] == space and columns[7] == "8"
        assert [float(ppi) for ppi in columns[12:14]] == [house.output.ppi] * 2


def test_the_page_says_for_which_press_and_how_much(house: House, shown: Strip, pdf: Path) -> None:
    text = " ".join(told(need("pdftotext"), "-layout", pdf, "-").split())
    for patch in shown.patches[1:]:
        assert f"amount {patch.amount:.2f}" in text
    assert "not sharpened" in text and "derived" in text
    # a patch that is cut out still says whose it is
    assert text.count(f"radius {shown.radius:.2f} px, {house.output.ppi:.0f} ppi") == 6
    assert text.count(f"{house.name}, {house.output.condition.name}") == 6
    assert CAUTION in text and "from 32 cm" in text
    fonts = told(need("pdffonts"), pdf).splitlines()[2:]
    assert [row.split()[1:3] for row in fonts] == [["Type", "3"]]


def test_the_inks_are_those_of_the_copies_and_the_press_is_named(
    house: House, shown: Strip, pdf: Path
) -> None:
    output = house.output
    with pikepdf.open(pdf) as document:
        (intent,) = document.Root.OutputIntents
        profile = output.condition.profiles[output.colour].read_bytes()
        assert intent.DestOutputProfile.read_bytes() == profile
        assert str(intent.OutputConditionIdentifier) == output.condition.name
        pictures = document.pages[0].Resources.XObject
        for number, patch in enumerate(shown.patches):
            assert pictures[f"/P{number}"].read_bytes() == patch.image.numpy().tobytes()


def test_it_is_seen_as_it_is_written(shown: Strip, pdf: Path, tmp_path: Path) -> None:
    """Rendered at the output's ppi nothing is larger, smaller or elsewhere."""
    out = tmp_path / "page"
    ppi = f"{shown.ppi:.0f}"
    told(need("pdftoppm"), "-r", ppi, "-singlefile", pdf, out)
    seen = np.asarray(Image.open(out.with_suffix(".ppm")).convert("L"), float)
    assert seen.shape == pytest.approx((297 / 25.4 * shown.ppi, 210 / 25.4 * shown.ppi), abs=1)
    width, height = shown.patches[0].image.width, shown.patches[0].image.height
    left, top = (round(mm / 25.4 * shown.ppi) for mm in (15, 44))
    patch = seen[top : top + height, left : left + width]
    assert patch.mean() < 170
    # paper around it
    assert seen[top - 12 : top - 4, left : left + width].min() > 250
    assert seen[top : top + height, left - 12 : left - 4].min() > 250


def test_a_name_in_other_letters_stays_on_the_page(shown: Strip, house: House) -> None:
    data = page(shown, replace(house, name="Pfarrblättchen Св."))
    with pikepdf.open(io.BytesIO(data)) as document:
        written = document.pages[0].Contents.read_bytes()
    assert "Pfarrblattchen ??.".encode("latin-1").hex().encode() in written


def test_the_command_writes_over_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "strip.pdf"
    target.write_text("kept")
    asked = ["sharpening", "--house", "mono", "--strip", str(target)]
    assert main(asked) == 2
    assert "give --replace" in capsys.readouterr().err
    assert target.read_text() == "kept"
    picture = tmp_path / "none.jpg"
    assert main([*asked, "--picture", str(picture), "--replace"]) == 2
    assert "none.jpg" in capsys.readouterr().err
    assert target.read_text() == "kept"
    assert main(["sharpening", "--house", "mono", "--picture", str(picture)]) == 2
    assert "--strip FILE" in capsys.readouterr().err
    assert main([*asked, "--replace"]) == 0
    assert str(target) in capsys.readouterr().out
    assert target.read_bytes().startswith(b"%PDF")
    assert [path.name for path in tmp_path.iterdir()] == ["strip.pdf"]
