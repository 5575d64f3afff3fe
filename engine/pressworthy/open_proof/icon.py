"""A start icon in the system's menu, by each system's open convention: no terminal is needed then.

Linux and others: an entry by the Desktop Entry Specification 1.4 of freedesktop.org, with an icon
in the theme that all others fall back on. macOS: an application bundle. Windows: a shortcut by the
open specification [MS-SHLLINK]. What is written is a function of the command, tried on any system.
"""

from __future__ import annotations

import io
import plistlib
import re
import shlex
import struct
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from PIL import Image, ImageDraw

from pressworthy import __version__
from pressworthy.prepare.store import put
from pressworthy.values.faults import SetupError

NAME = "pressworthy"
TOLD = "Checks and prepares pictures for the press, on one sheet in your browser"
EXECUTABLE = (f"Contents/MacOS/{NAME}",)
"""Of what is written, the files that a system runs."""


def make_icon(
    house_folder: Path | None, system: str = sys.platform, home: Path | None = None
) -> list[Path]:
    """Write the start icon of this person's menu and return its files. Raises SetupError."""
    home = home or Path.home()
    if system == "win32":
        written = _of_windows(_command(house_folder), home)
    elif system == "darwin":
        written = _of_macos(_command(house_folder), home)
    else:
        written = _of_freedesktop(_command(house_folder), home)
    for path, data in written.items():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            put(data, path)
            if path.as_posix().endswith(EXECUTABLE):
                path.chmod(0o755)
        except OSError as error:
            raise SetupError([f"{path}: {error.strerror}"]) from None
    return list(written)


def _command(house_folder: Path | None) -> list[str]:
    """Return the words that start the program without a folder, whatever folder they start in."""
    # -P: what lies in the folder where it is started is no part of the program
    words = [sys.executable, "-P", "-m", NAME, "open", "--until-closed"]
    if house_folder:
        words += ["--house-folder", str(house_folder.resolve())]
    if faulty := next((word for word in words if not word.isprintable()), ""):
        raise SetupError([f"{faulty!r}: no icon can be made of a path with such characters"])
    return words


def _of_freedesktop(command: Sequence[str], home: Path) -> dict[Path, bytes]:
    share = home / ".local" / "share"
    return {
        share / "icons" / "hicolor" / "256x256" / "apps" / f"{NAME}.png": drawn("PNG"),
        share / "applications" / f"{NAME}.desktop": desktop_entry(command).encode(),
    }


def desktop_entry(command: Sequence[str]) -> str:
    """Return the desktop entry that starts a command."""
    # first as an argument is quoted, then as any string of the entry is escaped
    quoted = (re.sub(r'(["`$\\])', r"\\\1", word).replace("%", "%%") for word in command)
    line = " ".join(f'"{word}"' for word in quoted).replace("\\", "\\\\")
    return "\n".join(
        (
            "[Desktop Entry]",
            "Type=Application",
            "Version=1.4",
            f"Name={NAME}",
            "GenericName=Pictures for the press",
            f"Comment={TOLD}",
            f"Exec={line}",
            f"Icon={NAME}",
            "Terminal=false",
            "Categories=Graphics;Publishing;",
            "Keywords=print;press;magazine;newspaper;proof;",
            "",
        )
    )


def _of_macos(command: Sequence[str], home: Path) -> dict[Path, bytes]:
    bundle = home / "Applications" / f"{NAME}.app"
    about = {
        "CFBundleName": NAME,
        "CFBundleDisplayName": NAME,
        "CFBundleIdentifier": f"org.{NAME}.open",
        "CFBundleExecutable": NAME,
        "CFBundleIconFile": NAME,
        "CFBundlePackageType": "APPL",
        "CFBundleShortVersionString": __version__,
        "CFBundleVersion": __version__,
        "CFBundleInfoDictionaryVersion": "6.0",
    }
    return {
        bundle / "Contents" / "Info.plist": plistlib.dumps(about),
        bundle / "Contents" / "Resources" / f"{NAME}.icns": drawn("ICNS"),
        bundle / "Contents" / "MacOS" / NAME: f"#!/bin/sh\nexec {shlex.join(command)}\n".encode(),
    }


def _of_windows(command: Sequence[str], home: Path) -> dict[Path, bytes]:
    roaming = home / "AppData" / "Roaming"
    icon = home / "AppData" / "Local" / NAME / f"{NAME}.ico"
    menu = roaming / "Microsoft" / "Windows" / "Start Menu" / "Programs" / f"{NAME}.lnk"
    return {icon: drawn("ICO"), menu: shortcut(command, str(icon), str(home))}


def shortcut(command: Sequence[str], icon: str, folder: str) -> bytes:
    """Return a Windows shortcut, by [MS-SHLLINK] 7.0, sections 2.1, 2.3, 2.4 and 2.5.4.

    icon: path of its .ico; folder: that the command is started in.
    """
    program, arguments = command[0], subprocess.list2cmdline(command[1:])
    has_info, has_name, has_folder, has_arguments, has_icon, is_unicode, has_path = (
        0x2, 0x4, 0x10, 0x20, 0x40, 0x80, 0x200,
    )  # fmt: skip
    flags = has_info | has_name | has_folder | has_arguments | has_icon | is_unicode | has_path
    identity = bytes.fromhex("0114020000000000c000000000000046")
    shown_minimised = 7
    header = struct.pack(
        "<I16sIIQQQIiIHHII", 0x4C, identity, flags, 0, 0, 0, 0, 0, 0, shown_minimised, 0, 0, 0, 0
    )
    texts = (TOLD, folder, arguments, icon)
    strings = b"".join(struct.pack("<H", len(_wide(t)) // 2) + _wide(t) for t in texts)
    # the path once more, which counts where the other cannot be told in this system's letters
    block = struct.pack("<II260s520s", 0x314, 0xA0000001, _narrow(program)[:259], _wide(program))
    return header + _where(program) + strings + block + struct.pack("<I", 0)


def _where(program: str) -> bytes:
    """Return the LinkInfo of a program on a fixed disk of this computer."""
    # VolumeID: its size, a fixed drive, no serial number, an empty label
    volume = struct.pack("<IIII", 0x11, 3, 0, 0x10) + b"\0"
    head = 0x24
    narrow, wide = _narrow(program) + b"\0", _wide(program) + b"\0\0"
    at_path = head + len(volume)
    at_suffix = at_path + len(narrow)
    at_wide = at_suffix + 1
    at_wide_suffix = at_wide + len(wide)
    size = at_wide_suffix + 2
    places = (size, head, 1, head, at_path, 0, at_suffix, at_wide, at_wide_suffix)
    return struct.pack("<9I", *places) + volume + narrow + b"\0" + wide + b"\0\0"


def _wide(text: str) -> bytes:
    return text.encode("utf-16-le")


def _narrow(text: str) -> bytes:
    return text.encode("cp1252", "replace")


def drawn(kind: str) -> bytes:
    """Return the icon, a sheet with a plate, its margin and a mark in pencil, in a file format."""
    side = 1024
    image = Image.new("RGBA", (side, side))
    draw = ImageDraw.Draw(image)
    ink, soft, blue = (29, 27, 24, 255), (205, 199, 185, 255), (31, 79, 153, 255)
    draw.rounded_rectangle((120, 40, 904, 984), 24, (252, 251, 247, 255), soft, 12)
    draw.rectangle((208, 150, 620, 560), (98, 93, 85, 255))
    hills = [(208, 470), (350, 330), (460, 440), (540, 370), (620, 450)]
    draw.polygon([(208, 560), *hills, (620, 560)], ink)
    draw.line([(700, 120), (690, 500), (702, 900)], (98, 93, 85, 255), 10)
    draw.line([(735, 300), (775, 350), (850, 210)], blue, 34, "curve")
    for height in (660, 730, 800):
        draw.line([(208, height), (620, height)], soft, 18)
    sizes = {"ICO": [(n, n) for n in (16, 32, 48, 256)]}
    more: Mapping[str, object] = {"sizes": sizes[kind]} if kind in sizes else {}
    made = io.BytesIO()
    small = image.resize((256, 256), Image.Resampling.LANCZOS)
    (image if kind == "ICNS" else small).save(made, kind, **more)
    return made.getvalue()
