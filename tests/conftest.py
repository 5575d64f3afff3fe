"""Shared fixtures. A test that needs a tool or data set from outside says so with `need`."""

from __future__ import annotations

import os
import shutil
import sys
import venv
from collections.abc import Callable, Iterator
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from pressworthy.commands.main import main
from pressworthy.house import House, load_house
from pressworthy.jobs.running.workers import cores
from pressworthy.plugins import Registry, load
from pressworthy.prepare import Made, Order, make
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.placement import PlacementRequest

# commands that tests start need not compile the whole program each time
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# how long an example takes is the machine's affair
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

TR002 = "/usr/share/color/icc/TR002.ti3"

ALONE = {
    "test_check.py", "test_nothing_lost.py", "test_cache.py", "test_rule_pack.py",
    "test_rule_packs_guide.py", "test_gamut.py", "test_streams.py",
    "test_long_runs.py", "test_icc_damage.py", "test_main.py",
    "test_house_command.py", "test_conditions_command.py", "test_help.py", "test_output.py",
    "test_completion.py", "test_workers.py", "test_check_pages.py", "test_picture_list.py",
    "test_decisions.py", "test_nothing_half_made.py", "test_any_order.py",
}  # fmt: skip
"""Files whose tests share nothing and mostly wait: they fill the gaps between the others."""

LONG = {
    "test_rule_pack.py", "test_rule_packs_guide.py", "test_gamut.py", "test_nothing_lost.py",
    "test_workers.py", "test_streams.py",
}  # fmt: skip
"""Those of them that begin first, so that no process waits for another's last test."""

QUICK = (
    "test_limits.py", "test_prepared_copy.py",
    "test_names.py", "test_sharpen.py", "test_put.py", "test_tone.py", "test_encode.py",
    "test_geometry.py", "test_charts.py", "test_steps.py", "test_settings.py",
)  # fmt: skip
"""Files that notice tests/mutation's alterations soonest, those that read no picture first."""


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors: many tests wait for a command to start."""
    return cores() + 1


@pytest.hookimpl(tryfirst=True)  # before xdist reads the groups
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep a file's tests in one process, as they share what is drawn once, but for a few files."""
    for item in items:
        if item.path.name not in ALONE and not item.get_closest_marker("xdist_group"):
            item.add_marker(pytest.mark.xdist_group(str(item.path)))
    items.sort(key=lambda item: item.path.name not in LONG)
    if "MUTANT_UNDER_TEST" in os.environ:
        soon = {name: place for place, name in enumerate(QUICK)}
        items.sort(key=lambda item: soon.get(item.path.name, len(QUICK)))


@pytest.fixture(scope="session")
def users(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Return the folders of one user after another, none of them made yet."""
    folder = tmp_path_factory.mktemp("users")
    # pytest's own numbered folders are all listed before each new one
    return (folder / str(number) for number in count())


@pytest.fixture(autouse=True)
def no_folders_of_a_user(users: Iterator[Path], monkeypatch: Any) -> None:
    """Give every test, and the commands it runs, folders of its own for cache and data."""
    user = next(users)
    for name in ("CACHE", "DATA"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(user / name.lower()))


@pytest.fixture(scope="session")
def registry() -> Registry:
    return load()


@pytest.fixture(scope="session")
def coated(registry: Registry) -> House:
    return load_house("coated-magazine", registry)


@pytest.fixture(scope="session")
def houses(registry: Registry) -> dict[str, House]:
    names = ("coated-magazine", "newsprint", "mono", "screen")
    return {name: load_house(name, registry) for name in names}


@cache
def soft_tones() -> Any:
    """Return 600 x 450 px of them."""
    return draw(600, 450)


@pytest.fixture
def master(tmp_path: Path) -> Callable[..., Path]:
    """Return a writer of masters: 600 x 450 px of soft tones, credited, sRGB."""

    def write(name: str = "pier.jpg", values: Any = None, **written: Any) -> Path:
        folder = tmp_path / "masters"
        folder.mkdir(exist_ok=True)
        quality = {"Q": 95} if name.endswith(".jpg") else {}
        values = soft_tones() if values is None else values
        return write_picture(folder / name, values, **{"words": CREDITED, **quality, **written})

    return write


@pytest.fixture
def prepared(tmp_path: Path, houses: dict[str, House]) -> Callable[..., Made]:
    """Return a maker of one copy: of a master, for a house, at a size."""

    def prepare(
        path: Path,
        house: str | House = "coated-magazine",
        size: tuple[float, float] | None = (40, 30),
        name: str = "copy.tif",
        request: PlacementRequest | None = None,
        **order: Any,
    ) -> Made:
        into = tmp_path / "copies"
        into.mkdir(exist_ok=True)
        chosen = houses[house] if isinstance(house, str) else house
        asked = request or PlacementRequest(size)
        return make(Order(path, into / name, asked, **order), chosen)

    return prepare


@pytest.fixture(scope="session")
def hall_2(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """Return a draft condition of TR 002's newsprint, and the command that made it."""
    need("colprof")
    folder = tmp_path_factory.mktemp("conditions")
    call = ["conditions", "new", "hall-2", need(TR002), "--ruling", "100lpi", "--limit", "240"]
    call += ["--matte", "--draft", "--into", str(folder)]
    assert main(call) == 0
    return folder / "hall-2", call


@pytest.fixture
def another_python(tmp_path: Path) -> Path:
    """Return the Python of an environment of its own, laid over this one."""
    where = tmp_path / "env"
    venv.create(where, with_pip=False)
    (site,) = {path.resolve() for path in where.rglob("site-packages")}
    here = next(path for path in sys.path if path.endswith("site-packages"))
    (site / "here.pth").write_text(f"import site; site.addsitedir({here!r})\n")
    return where / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def need(thing: str | Path) -> str:
    """Return the path of a program or file, or skip the test; in CI it must be there.

    OUTSIDE=skip in the environment says that this run of CI does without.
    """
    found = shutil.which(str(thing)) or (str(thing) if Path(thing).exists() else None)
    if found is None:
        if os.environ.get("CI") and os.environ.get("OUTSIDE") != "skip":
            pytest.fail(f"{thing} is missing, and CI must have it")
        pytest.skip(f"{thing} is not installed")
    return found
