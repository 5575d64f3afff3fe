"""`rules new` writes a pack that installs, passes its own test and works in a house."""

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from pressworthy.commands.main import main
from pressworthy.testing import CREDITED, draw, write_picture


def test_a_new_pack_is_complete_and_never_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call = ["rules", "new", "page-grid", "--into", str(tmp_path)]
    assert main(call) == 0
    pack = tmp_path / "page-grid-pack"
    assert "page-grid-pack" in capsys.readouterr().out
    written = {str(p.relative_to(pack)) for p in pack.rglob("*") if p.is_file()}
    assert written == {
        "pyproject.toml", "README.md", "with-page-grid.yaml", "src/page_grid_pack/__init__.py",
        "src/page_grid_pack/page_grid.py", "tests/test_page_grid.py",
    }  # fmt: skip
    assert main(call) == 2
    assert main(["rules", "new", "Page Grid", "--into", str(tmp_path)]) == 2


def test_a_pack_goes_into_a_new_folder_and_takes_no_rules_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["rules", "new", "page-grid", "--into", str(tmp_path / "our" / "rules")]) == 0
    assert (tmp_path / "our" / "rules" / "page-grid-pack" / "README.md").is_file()
    assert main(["rules", "new", "resolution", "--into", str(tmp_path)]) == 2
    assert "'resolution' is a rule already" in capsys.readouterr().err
    (tmp_path / "taken").touch()
    assert main(["rules", "new", "page-grid", "--into", str(tmp_path / "taken")]) == 2
    assert "taken" in capsys.readouterr().err


def test_a_pack_never_writes_a_house_standard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a publisher's folder a house.yaml stands under every output type."""
    assert main(["rules", "new", "house", "--into", str(tmp_path)]) == 2
    assert "'house' is kept for a publisher's house standard" in capsys.readouterr().err
    assert main(["rules", "new", "page-grid", "--into", str(tmp_path)]) == 0
    packs = (tmp_path, Path(__file__).parents[1] / "demo" / "rule-pack")
    profiles = {path.name for pack in packs for path in pack.rglob("*.yaml")}
    assert {"with-page-grid.yaml", "parish-office.yaml"} <= profiles
    assert "house.yaml" not in profiles


@pytest.fixture
def stranger(tmp_path: Path, another_python: Path) -> Callable[[Path], Path]:
    """Return an installer: a pack into an environment of its own, whose Python it returns."""

    def install(pack: Path) -> Path:
        pip = ["-m", "pip", "install", "-q", "--no-deps", "--no-build-isolation"]
        # built from a copy: building leaves its folders beside the sources
        source = shutil.copytree(pack, tmp_path / "source")
        subprocess.run([another_python, *pip, source], check=True, capture_output=True)
        return another_python

    return install


def check(python: Path, picture: Path, house: Path) -> str:
    call: list[str | Path] = [python, "-m", "pressworthy", "check", picture, "--house", house]
    return subprocess.run(call, capture_output=True, text=True, check=False).stdout


def test_a_new_pack_installs_tests_and_judges(
    tmp_path: Path, stranger: Callable[[Path], Path]
) -> None:
    assert main(["rules", "new", "page-grid", "--into", str(tmp_path)]) == 0
    pack = tmp_path / "page-grid-pack"
    python = stranger(pack)
    subprocess.run([python, "-m", "pytest", "-q", "-n", "0", str(pack / "tests")], check=True)
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED, ppi=400)
    told = check(python, picture, pack / "with-page-grid.yaml")
    assert "page-grid too-narrow: 40.6 mm; the house wants at least 60 mm" in told


def test_the_demos_pack_by_strangers(tmp_path: Path, stranger: Callable[[Path], Path]) -> None:
    """Two rules, a measurement and a printing condition, installed from demo/rule-pack."""
    pack = Path(__file__).parents[1] / "demo" / "rule-pack"
    python = stranger(pack)
    subprocess.run([python, "-m", "pytest", "-q", "-n", "0", str(pack / "tests")], check=True)
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED, ppi=200)
    told = check(python, picture, pack / "parish-office.yaml")
    assert "condition duplicator" in told
    assert "page-grid off-grid: 81.3 mm; the house wants exactly 80 mm" in told
    assert "level-horizon: unmeasured: no straight line across the picture stands out" in told
