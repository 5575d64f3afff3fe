"""Writes gray.icc of the duplicator: a monochrome output profile (ICC.1:2010, version 2).

Assumed, not measured: paper L* 92, black L* 28, tone value increase 28 % at 50 % (a parabola).
"""

import struct
from pathlib import Path

PAPER, BLACK, INCREASE = 92.0, 28.0, 0.28
D50 = (0.9642, 1.0, 0.8249)
DATE = (2026, 1, 1, 0, 0, 0)


def luminance(lightness: float) -> float:
    """CIE 1976: Y of L* above 8."""
    return ((lightness + 16) / 116) ** 3


def tag_xyz(values: tuple[float, ...]) -> bytes:
    """An XYZ tag."""
    return b"XYZ \0\0\0\0" + b"".join(struct.pack(">i", round(v * 65536)) for v in values)


def main() -> None:
    """Write gray.icc beside this file."""
    paper, black = luminance(PAPER), luminance(BLACK)
    curve = []
    for value in range(256):
        dot = 1 - value / 255
        printed = dot + 4 * INCREASE * dot * (1 - dot)  # Murray-Davies area
        curve.append(round(65535 * (1 - printed * (1 - black / paper))))
    text = b"duplicator, assumed\0"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78),
        b"cprt": b"text\0\0\0\0no copyright\0",
        b"wtpt": tag_xyz(tuple(paper * v for v in D50)),
        b"kTRC": b"curv\0\0\0\0" + struct.pack(">I", 256) + struct.pack(">256H", *curve),
    }
    body, table = b"", b""
    for name, data in tags.items():
        table += name + struct.pack(">II", 132 + 12 * len(tags) + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    size = 132 + len(table) + len(body)
    head = struct.pack(
        ">I4xI4s4s4s6H4s28xI12s", size, 0x02400000, b"prtr", b"GRAY", b"XYZ ", *DATE, b"acsp", 1,
        b"".join(struct.pack(">i", round(v * 65536)) for v in D50),
    )  # fmt: skip
    profile = head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body
    Path(__file__).with_name("gray.icc").write_bytes(profile)


if __name__ == "__main__":
    main()
