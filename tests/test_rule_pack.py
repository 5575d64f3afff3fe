"""`rules new` writes a pack that installs, passes its own test and works in a house."""

import subprocess
import sys
import venv
from pathlib import Path

import pytest

from pressworthy.cli import main
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
        "pyproject.toml", "README.md", "house.yaml", "src/page_grid_pack/__init__.py",
        "src/page_grid_pack/page_grid.py", "tests/test_page_grid.py",
    }  # fmt: skip
    assert main(call) == 2
    assert main(["rules", "new", "Page Grid", "--into", str(tmp_path)]) == 2


def test_a_new_pack_installs_tests_and_judges(tmp_path: Path) -> None:
    """In an environment of its own, laid over this one, as a stranger would install it."""
    assert main(["rules", "new", "page-grid", "--into", str(tmp_path)]) == 0
    pack = tmp_path / "page-grid-pack"
    venv.create(tmp_path / "env", with_pip=False)
    site = next((tmp_path / "env").glob("lib/*/site-packages"))
    # sees the packages that are installed here
    here = next(p for p in sys.path if p.endswith("site-packages"))
    (site / "here.pth").write_text(f"import site; site.addsitedir({here!r})\n")
    python = tmp_path / "env" / "bin" / "python"
    install = [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", str(site)]
    subprocess.run([*install, str(pack)], check=True, capture_output=True)
    subprocess.run([python, "-m", "pytest", "-q", str(pack / "tests")], check=True)
    picture = write_picture(tmp_path / "p.jpg", draw(), words=CREDITED, ppi=400)
    done = subprocess.run(
        [python, "-m", "pressworthy", "check", picture, "--house", pack / "house.yaml"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert "page-grid too-narrow: 40.6 mm; the house wants at least 60 mm" in done.stdout
