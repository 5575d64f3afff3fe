"""`prepare` onto disks without room."""

from __future__ import annotations

import subprocess
from pathlib import Path

from place import HOUSE, SMALL, hashes, place

from pressworthy.testing import CREDITED, draw, write_picture

FULL = "the disk is full; nothing was left half written"


def full_disk(seed: int) -> list[tuple[str, str, bool]]:
    """Prepare four copies on disks with room for none and for two; return what was seen."""
    facts: list[tuple[str, str, bool]] = []
    with place() as where:
        masters = where.folder / "in"
        for i in range(4):
            picture = draw(120, 90, seed=seed + i)
            write_picture(masters / f"plate {i}.jpg", picture, words=CREDITED)
        command = ("prepare", masters, *HOUSE, *SMALL, "--jobs", "1")
        whole = where.folder / "whole"
        where.run(*command, "--into", whole)
        wanted = hashes(whole)
        # half a copy more than fits
        two = round(2.5 * max(path.stat().st_size for path in whole.iterdir()) / 1024)
        for kb, room in ((300, 0), (two, 2)):
            disk = where.folder / "disk"
            disk.mkdir(exist_ok=True)
            if subprocess.run(_mount(disk, kb), capture_output=True, check=False).returncode:
                return [("disk full", "not tried: a small disk can be mounted by root only", False)]
            try:
                ran = where.run(*command, "--into", disk)
                there = hashes(disk)
                said = " ".join(ran.out.split())
                named = sum(f"{name}: {FULL}" in said for name in wanted)
                kind = f"tmpfs of {kb} kB, room for {room} of 4 copies"
                good = (
                    ran.status == 1
                    and there.items() <= wanted.items()
                    and named == 4 - len(there)
                    and not list(disk.glob(".*"))
                )
                said = (
                    f"exit {ran.status}; {len(there)} whole copies; {named} named as not made, with"
                    " the reason; nothing half written"
                )
                facts.append((kind, said if good else f"{said}: NOT SO: {ran.out} {ran.err}", good))
                subprocess.run(_mount(disk, 20_000, "remount,"), check=True)
                ran = where.run(*command, "--into", disk)
                good = ran.status == 0 and hashes(disk) == wanted and not list(disk.glob(".*"))
                said = "exit 0; all 4 copies, identical to those of a run left alone"
                facts.append(
                    ("the same, once there is room", said if good else f"{ran.out} {ran.err}", good)
                )
            finally:
                subprocess.run(["umount", str(disk)], check=True)
    return facts


def _mount(disk: Path, kb: int, how: str = "") -> list[str]:
    return ["mount", "-t", "tmpfs", "-o", f"{how}size={kb}k", "pressworthy", str(disk)]
