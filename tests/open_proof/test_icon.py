"""The start icon, read back by others than its writer, and started as a menu starts it."""

from __future__ import annotations

import json
import os
import plistlib
import stat
import struct
import subprocess
import sys
from pathlib import Path
from urllib.request import HTTPCookieProcessor, build_opener

import LnkParse3
import pytest
from conftest import need
from PIL import Image
from sheets import HOUSES, until

from pressworthy.open_proof import icon

ODD = ["our house", 'said "so"', "$HOME", "`id`", "100%", "%f", "back\\slash", "it's", "é", ""]
"""Words that some reader of a start icon could take for more than words."""

posix = pytest.mark.skipif(os.name == "nt", reason="started by a shell")


@pytest.fixture
def recorder(tmp_path: Path) -> tuple[Path, Path]:
    """A program that writes down the words it is started with, and where it writes them."""
    told, program = tmp_path / "told.json", tmp_path / "the recorder"
    program.write_text(
        f"#!{sys.executable}\nimport json, os, sys\n"
        f"open({str(told)!r} + '~', 'w').write(json.dumps(sys.argv[1:]))\n"
        f"os.replace({str(told)!r} + '~', {str(told)!r})\n",
        "utf-8",
    )
    program.chmod(0o755)
    return program, told


def waited(path: Path) -> str:
    for _ in until(30):
        if path.exists():
            return path.read_text("utf-8")
    raise AssertionError(f"{path.name} was not written")


@posix
def test_a_menu_gives_the_command_its_words_as_they_are(
    recorder: tuple[Path, Path], tmp_path: Path
) -> None:
    program, told = recorder
    entry = tmp_path / "one.desktop"
    entry.write_text(icon.desktop_entry([str(program), *ODD]), "utf-8")
    subprocess.run([need("gio"), "launch", entry], check=True)
    assert json.loads(waited(told)) == ODD


def test_the_entry_is_one_by_the_specification(tmp_path: Path) -> None:
    validate = need("desktop-file-validate")
    written = icon.make_icon(HOUSES, "linux", tmp_path)
    (entry,) = (path for path in written if path.suffix == ".desktop")
    assert entry == tmp_path / ".local/share/applications/pressworthy.desktop"
    found = subprocess.run([validate, entry], capture_output=True, text=True, check=False)
    assert (found.returncode, found.stdout) == (0, "")
    (picture,) = (path for path in written if path.suffix == ".png")
    assert Image.open(picture).size == (256, 256) and "256x256/apps" in picture.as_posix()


@posix
def test_started_from_the_menu_it_asks_which_issue(tmp_path: Path) -> None:
    icon.make_icon(HOUSES, "linux", tmp_path)
    browser, told = tmp_path / "browser", tmp_path / "address"
    browser.write_text(f'#!/bin/sh\necho "$1" > "{told}~" && mv "{told}~" "{told}"\n', "utf-8")
    browser.chmod(0o755)
    environment = {
        **os.environ,
        "HOME": str(tmp_path),
        "XDG_DATA_HOME": str(tmp_path / ".local/share"),
        "BROWSER": f"{browser} %s",
    }
    entry = tmp_path / ".local/share/applications/pressworthy.desktop"
    subprocess.run([need("gio"), "launch", entry], check=True, env=environment, cwd="/")
    address = waited(told).strip()
    page = build_opener(HTTPCookieProcessor()).open(address, timeout=30).read().decode()
    assert "Which issue?" in page and str(tmp_path) in page
    # whom nobody sees is ended by the number of its port
    port = int(address.split(":")[2].partition("/")[0])
    for process in listening_at(port):
        os.kill(process, 15)


def listening_at(port: int) -> list[int]:
    """Return the processes that answer at a port of this computer."""
    import psutil

    return [
        one.pid
        for one in psutil.net_connections("tcp4")
        if one.laddr and one.laddr.port == port and one.status == "LISTEN" and one.pid
    ]


@posix
def test_the_bundle_runs_the_command_and_says_what_it_is(
    recorder: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program, told = recorder
    monkeypatch.setattr(icon, "_command", lambda _: [str(program), *ODD])
    written = icon.make_icon(None, "darwin", tmp_path)
    bundle = tmp_path / "Applications" / "pressworthy.app"
    assert all(path.is_relative_to(bundle / "Contents") for path in written)
    about = plistlib.loads((bundle / "Contents" / "Info.plist").read_bytes())
    assert (about["CFBundlePackageType"], about["CFBundleName"]) == ("APPL", "pressworthy")
    executable = bundle / "Contents" / "MacOS" / about["CFBundleExecutable"]
    assert executable.stat().st_mode & stat.S_IXUSR
    subprocess.run([executable], check=True)
    assert json.loads(waited(told)) == ODD
    picture = bundle / "Contents" / "Resources" / f"{about['CFBundleIconFile']}.icns"
    assert Image.open(picture).format == "ICNS"


def test_the_shortcut_is_read_as_it_was_meant(tmp_path: Path) -> None:
    program = "C:\\Users\\Zoë\\our tools\\python.exe"
    command = [program, "-P", "-m", "pressworthy", "open", "--house-folder", 'C:\\our "house"']
    raw = icon.shortcut(command, "C:\\icons\\pressworthy.ico", "C:\\Users\\Zoë")
    (tmp_path / "one.lnk").write_bytes(raw)
    with (tmp_path / "one.lnk").open("rb") as stream:
        found = LnkParse3.lnk_file(stream).get_json()
    assert found["header"]["guid"] == "00021401-0000-0000-C000-000000000046"
    assert found["link_info"]["local_base_path"] == program
    assert found["link_info"]["location_info"]["drive_type"] == "DRIVE_FIXED"
    said = found["data"]
    assert said["command_line_arguments"] == subprocess.list2cmdline(command[1:])
    assert said["working_directory"] == "C:\\Users\\Zoë"
    assert said["icon_location"] == "C:\\icons\\pressworthy.ico"
    assert found["extra"]["ENVIRONMENTAL_VARIABLES_LOCATION_BLOCK"]["target_unicode"] == program
    assert raw[-4:] == struct.pack("<I", 0)


def test_the_files_of_windows_lie_in_its_start_menu(tmp_path: Path) -> None:
    written = icon.make_icon(None, "win32", tmp_path)
    names = {path.relative_to(tmp_path).as_posix() for path in written}
    assert "AppData/Roaming/Microsoft/Windows/Start Menu/Programs/pressworthy.lnk" in names
    (picture,) = (path for path in written if path.suffix == ".ico")
    assert {(16, 16), (256, 256)} <= Image.open(picture).info["sizes"]


def test_made_again_it_is_the_same(tmp_path: Path) -> None:
    for system in ("linux", "darwin", "win32"):
        first = {path: path.read_bytes() for path in icon.make_icon(None, system, tmp_path)}
        again = {path: path.read_bytes() for path in icon.make_icon(None, system, tmp_path)}
        assert first == again
