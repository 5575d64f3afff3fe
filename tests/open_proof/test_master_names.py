"""Dropped masters get names that every system takes, below masters/, over nothing that is there."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pressworthy.files.picture_list import read_list, write_list
from pressworthy.open_proof.names import master_name
from pressworthy.prepare.names import MOST_NAME_BYTES
from pressworthy.values.faults import SetupError


@pytest.mark.parametrize(
    ("given_name", "safe"),
    [
        ("pier.jpg", "pier.jpg"),
        ("day 2/pier.jpg", "day 2/pier.jpg"),
        ("../../etc/passwd", "etc/passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("/etc/shadow", "etc/shadow"),
        ("C:\\pictures\\pier.jpg", "C_/pictures/pier.jpg"),
        ("CON.jpg", "CON_.jpg"),
        ("nul", "nul_"),
        ("com1.tar.tif", "com1_.tar.tif"),
        ("console.jpg", "console.jpg"),
        (".hidden.jpg", "hidden.jpg"),
        ("pier.jpg. . ", "pier.jpg"),
        ('a<b>:"c|d?*.jpg', "a_b___c_d__.jpg"),
        ("a\x00b\n\u202egpj.exe.jpg", "a_b__gpj.exe.jpg"),
        ("Ka\u0308se.jpg", "K\u00e4se.jpg"),
        ("  two   spaces .jpg", "two spaces.jpg"),
    ],
)
def test_hostile_names(tmp_path: Path, given_name: str, safe: str) -> None:
    name = master_name(tmp_path, given_name)
    assert name.path == name.free == tmp_path / "masters" / safe
    assert name.taken is None and not (tmp_path / "masters").exists()


@pytest.mark.parametrize("nothing", ["", ".", "..", "///", "...", " ", "\u200b", "a/.."])
def test_what_leaves_no_name(tmp_path: Path, nothing: str) -> None:
    with pytest.raises(SetupError, match="leaves no name"):
        master_name(tmp_path, nothing)


def test_over_long_names_keep_their_suffix(tmp_path: Path) -> None:
    name = master_name(tmp_path, "ä" * 300 + ".jpg").path.name
    assert name.endswith("ä.jpg") and MOST_NAME_BYTES - 1 <= len(name.encode()) <= MOST_NAME_BYTES
    name = master_name(tmp_path, "a." + "b" * 300).path.name
    assert len(name.encode()) == MOST_NAME_BYTES
    assert len(master_name(tmp_path, "/".join("abcdefghijkl")).path.parts) < 8 + 3 + len(
        tmp_path.parts
    )


def test_a_name_that_is_taken_is_told_with_one_that_is_free(tmp_path: Path) -> None:
    folder = tmp_path / "masters"
    folder.mkdir()
    for there in ("Pier.JPG", "pier 2.jpg", "K\u00e4se.tif", "day"):
        (folder / there).write_bytes(b"x")
    name = master_name(tmp_path, "pier.jpg")
    assert (name.taken, name.free) == (folder / "Pier.JPG", folder / "pier 3.jpg")
    name = master_name(tmp_path, "KA\u0308SE.tif")
    assert (name.taken, name.free) == (folder / "K\u00e4se.tif", folder / "K\u00c4SE 2.tif")
    # a file stands where a folder was to be
    assert master_name(tmp_path, "day/pier.jpg").path == folder / "day 2" / "pier.jpg"
    (folder / "Sub").mkdir()
    assert master_name(tmp_path, "sub/pier.jpg").path == folder / "Sub" / "pier.jpg"


@pytest.mark.skipif(os.name == "nt", reason="links need a right there")
def test_no_link_leads_out_of_the_masters(tmp_path: Path) -> None:
    (tmp_path / "issue" / "masters").mkdir(parents=True)
    (tmp_path / "issue" / "masters" / "out").symlink_to(tmp_path)
    with pytest.raises(SetupError, match="leads out of masters/"):
        master_name(tmp_path / "issue", "out/pier.jpg")


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.text(max_size=40))
def test_any_name_lies_below_the_masters_and_can_be_listed(tmp_path: Path, text: str) -> None:
    try:
        name = master_name(
            tmp_path, text
        ).free  # an earlier one may have made a folder of that name
    except SetupError:
        return
    assert name.is_relative_to(tmp_path / "masters") and ".." not in name.parts
    row = name.relative_to(tmp_path).as_posix()
    # a system that has such a name can make the file
    name.parent.mkdir(parents=True, exist_ok=True)
    name.write_bytes(b"x")
    name.unlink()
    path = tmp_path / "issue.csv"
    path.write_text(write_list([{"picture": row}]), "utf-8")
    (entry,) = read_list(path)
    assert entry.path == name
