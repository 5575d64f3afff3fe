"""What is handed out: the source archive holds the whole tree, the wheel what runs and no more."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from importlib.metadata import files, metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
FOLDERS = (".ci", ".github", "demo", "docs", "engine", "profiles", "rules", "tests")
PACKAGES = {
    "engine": "pressworthy",
    "rules": "pressworthy_rules",
    "profiles": "pressworthy_profiles",
}
LEFT_BEHIND = shutil.ignore_patterns("__pycache__", "*.egg-info", "build", "out", ".*_cache")
BUILD = "from setuptools import build_meta as b; import sys; b.build_{}(sys.argv[1])"


def below(folder: Path) -> set[str]:
    """Return every file below the folder, by its path from there."""
    return {str(p.relative_to(folder).as_posix()) for p in folder.rglob("*") if p.is_file()}


def built(kind: str, tree: Path, into: Path) -> Path:
    call = [sys.executable, "-c", BUILD.format(kind), str(into)]
    done = subprocess.run(call, cwd=tree, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (made,) = into.iterdir()
    return made


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the tree without what runs and builds leave in it."""
    copy = tmp_path_factory.mktemp("tree")
    for path in ROOT.iterdir():
        if path.name in FOLDERS:
            shutil.copytree(path, copy / path.name, ignore=LEFT_BEHIND)
        elif path.is_file() and not path.name.startswith("."):
            shutil.copy2(path, copy / path.name)
    return copy


@pytest.fixture(scope="module")
def unpacked(tree: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the source archive's only folder."""
    whole = shutil.copytree(tree, tmp_path_factory.mktemp("built") / "tree")
    archive = built("sdist", whole, tmp_path_factory.mktemp("sdist"))
    place = tmp_path_factory.mktemp("unpacked")
    with tarfile.open(archive) as packed:
        packed.extractall(place, filter="data")
    (folder,) = place.iterdir()
    return folder


@pytest.fixture(scope="module")
def wheel(unpacked: Path, tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """Return the wheel, built from the source archive as an installer builds it."""
    copy = shutil.copytree(unpacked, tmp_path_factory.mktemp("from") / "source")
    return zipfile.ZipFile(built("wheel", copy, tmp_path_factory.mktemp("wheel")))


def test_the_source_archive_is_the_tree(tree: Path, unpacked: Path) -> None:
    added = {"PKG-INFO", "setup.cfg"}
    found = {name for name in below(unpacked) if not name.startswith("pressworthy.egg-info/")}
    assert found - added == below(tree) - added
    assert {".ci/run", "demo/run.py", "profiles/build_conditions.py"} <= found


def test_the_wheel_is_the_three_packages(tree: Path, wheel: zipfile.ZipFile) -> None:
    names = {name for name in wheel.namelist() if ".dist-info/" not in name}
    wanted = {
        f"{package}/{name}"
        for root, package in PACKAGES.items()
        for name in below(tree / root / package)
    }
    assert names == wanted
    assert {f"{package}/py.typed" for package in PACKAGES.values()} <= names


def test_the_wheel_tells_its_licences(wheel: zipfile.ZipFile) -> None:
    (about,) = (name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
    assert "\nLicense-Expression: MIT AND Zlib AND 0BSD\n" in wheel.read(about).decode()
    licences = about.replace("METADATA", "licenses/")
    notice = "profiles/pressworthy_profiles/conditions/NOTICE.md"
    morphing = "engine/pressworthy/open_proof/idiomorph.LICENSE"
    for file in ("LICENSE", "NOTICE.md", notice, morphing):
        assert wheel.read(licences + file) == (ROOT / file).read_bytes()


def test_the_notice_names_every_package_that_is_brought_with_its_licence() -> None:
    """As the installed packages' metadata have it, by families: old ones say no more."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    needed = [*project["dependencies"], *extras["cluster"], *extras["formats"], "pyvips-binary"]
    row = re.compile(r"^\| ([\w-]+)(?: \(extra `\w+`\))? \| ([^|]+) \|", re.M)
    text = (ROOT / "NOTICE.md").read_text("utf-8")
    told = dict(row.findall(text.partition("| package |")[2]))
    assert told.keys() == {Requirement(line).name for line in needed}
    for name, licence in told.items():
        about = metadata(name)
        fields = ("License-Expression", "License", "Classifier")
        words = " ".join(said for field in fields for said in about.get_all(field) or ())
        for one in licence.split(" AND "):
            assert re.search(rf"\b{one.partition('-')[0]}", words), (name, one, words)


def test_the_notice_says_of_heic_what_its_wheel_does() -> None:
    (bundled,) = (one for one in files("pillow-heif") or () if one.name == "LICENSES_bundled.txt")
    parts = dict(re.findall(r"^Name: (\S+).*\nLicense: (\S+)", bundled.read_text(), re.M))
    assert (parts["libheif"], parts["libde265"], parts["x265"]) == ("LGPLv3", "LGPLv3", "GPLv2")


def test_the_floors_that_are_tested_are_those_that_are_stated() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    lists = [project["dependencies"], *project["optional-dependencies"].values()]
    stated = [Requirement(line) for one in lists for line in one]
    lines = (ROOT / "tests" / "floors.txt").read_text("utf-8").splitlines()
    tested = {one.name: one.specifier for one in map(Requirement, lines[1:])}
    floors = {one.name: one.specifier for one in stated if one.specifier}
    assert tested.keys() == floors.keys()
    for name, floor in floors.items():
        (lowest,), (used,) = (one for one in floor if one.operator != "<"), tested[name]
        assert (lowest.operator, used.operator) == (">=", "==")
        # 3 and 3.0.0 are one version
        assert used.contains(lowest.version), name
