"""Pictures and lists whose names and words are made to harm whoever shows them."""

from __future__ import annotations

import csv
import os
import struct
from pathlib import Path

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.metadata import iim
from pressworthy.testing import CREDITED, draw, write_picture

WORDS = (
    "<zq onzq=zq()>", '"><zq src=x onerror=zq()>', "' onzq='zq()", "]]><zq>", "--><zq>", "<!--zq",
    "</title></script></style><zq>", "&lt;zq&gt;&#60;zq&#62;&zq;", "javascript:zq()", "<?zq?>",
    "zq\x1b[2J\x1b]0;zq\x07", "zq\x1b]8;;http://zq.invalid\x1b\\zq", "zq\nzq\r\nzq\tzq\x0b\x0c",
    "\u202ezq\u2066zq\u200f", "zq\u2028zq\u2029zq\x85", "zq\x7fzq\x9b31mzq", "\ufeffzq\ufffe",
    "=cmd|' /C zq'!A0", "+zq", "-zq", "@zq", "{{zq}} ${zq} %s%n `zq` $(zq)", "--output=zq",
    "zq[1].jpg", "zq*?", "zq\\..\\zq", "CON", "zq" * 110, "\U0001f98a e\u0301 \u0647 zq",
    "zq'\"`\\zq",
)  # fmt: skip
"""Words for names, captions and makers. 'zq' stands for what must nowhere become markup."""


def write_pictures(folder: Path, *, evil: bool) -> int:
    """Write pictures with hostile names and words, or plain ones of the same make; count them.

    Each says another thing in IPTC-IIM than in XMP, so that a report has both to show.
    """
    for i, word in enumerate(WORDS):
        word = word if evil else f"plain {i}"
        name = os.fsencode(f"{_in_a_name(word)}.jpg")
        values = draw(120, 90, seed=i)
        said = {key: _in_xml(word) for key in CREDITED}
        block = b"".join(
            struct.pack(">BBBH", 0x1C, 2, number, len(text)) + text
            for number, text in ((80, f"A {word}".encode()[:32]), (120, f"B {word}".encode()[:99]))
        )
        path = folder / f"{i}.jpg"
        write_picture(
            path,
            values,
            icc=_icc(word),
            words=said,
            fields={"iptc-data": iim.for_copy(block, "JPEG")},
        )
        os.rename(path, os.fsencode(folder) + b"/" + name)  # noqa: PTH104 - bytes
    # no text at all, and none in UTF-8
    for i, name in enumerate((b"zq\xff\xfe\x80.jpg", b" zq .jpg", b"zq\x80<zq>.jpg")):
        path = write_picture(folder / f"{i}.jpg", draw(120, 90, seed=90 + i), words=CREDITED)
        name = name if evil else f"plain x{i}.jpg".encode()
        os.rename(path, os.fsencode(folder) + b"/" + name)  # noqa: PTH104 - bytes
    return len(WORDS) + 3


def write_list(folder: Path, *, evil: bool) -> tuple[Path, Path]:
    """Write a picture list with hostile pages, and waivers with hostile persons and reasons."""
    folder.mkdir()
    rows, waivers = [], ["waivers:"]
    for i, word in enumerate(WORDS):
        word = " ".join((word if evil else f"plain {i}").split())
        write_picture(folder / f"{i}.jpg", draw(120, 90, seed=i))
        rows.append({"picture": f"{i}.jpg", "page": word, "width": "10", "height": "7.5"})
        text = _quoted(word)
        waivers += [
            "  - finding: credit/no-creator", f"    picture: {i}.jpg", f"    reason: {text}",
            f"    by: {text}", "    until: 2099-12-31",
        ]  # fmt: skip
    with (folder / "list.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    (folder / "waivers.yaml").write_text("\n".join(waivers) + "\n", "utf-8")
    return folder / "list.csv", folder / "waivers.yaml"


def _in_a_name(word: str) -> str:
    """No name holds a slash; the longest a file system takes has 255 bytes."""
    return word.replace("/", "_").encode()[:250].decode("utf-8", "ignore")


def _in_xml(word: str) -> str:
    return "".join(c if c.isprintable() or c in "\u202e\u2028" else " " for c in word)


def _quoted(word: str) -> str:
    """Return the word for YAML, whatever is in it written out."""
    return '"' + "".join(c if c.isalnum() else f"\\U{ord(c):08x}" for c in word) + '"'


def _icc(word: str) -> bytes:
    """Return sRGB with `word` for its description, added at its end."""
    whole = bytearray(rgb_profile("sRGB"))
    text = word.encode("latin-1", "replace") + b"\0"
    tag = b"desc" + bytes(4) + struct.pack(">I", len(text)) + text + bytes(79)
    for i in range(struct.unpack(">I", whole[128:132])[0]):
        at = 132 + 12 * i
        if whole[at : at + 4] == b"desc":
            whole[at + 4 : at + 12] = struct.pack(">II", len(whole), len(tag))
    whole += tag
    whole[:4] = struct.pack(">I", len(whole))
    return bytes(whole)
