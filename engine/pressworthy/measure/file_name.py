"""What the name of a picture's file promises."""

from __future__ import annotations

from pathlib import Path

PROMISED: dict[str, frozenset[str]] = {
    ".jpg": frozenset({"JPEG"}), ".jpeg": frozenset({"JPEG"}), ".jpe": frozenset({"JPEG"}),
    ".jfif": frozenset({"JPEG"}), ".tif": frozenset({"TIFF"}), ".tiff": frozenset({"TIFF"}),
    ".png": frozenset({"PNG"}), ".webp": frozenset({"WebP"}), ".heic": frozenset({"HEIC"}),
    ".heif": frozenset({"HEIC", "AVIF"}), ".avif": frozenset({"AVIF"}),
    ".jp2": frozenset({"JPEG 2000"}), ".jxl": frozenset({"JPEG XL"}),
}  # fmt: skip
"""Suffix -> formats, as IANA registers them with the media types (JPEG's others: common practice);
HEIF is the container of both HEVC and AV1 pictures (ISO/IEC 23008-12)."""


def suffix_of(name: str) -> str:
    """Return the suffix that stands for a format and nothing else."""
    return next(suffix for suffix, formats in PROMISED.items() if formats == {name})


def promised_formats(path: Path) -> frozenset[str]:
    """Return the formats that a file's suffix stands for, none where it is not known."""
    return PROMISED.get(path.suffix.lower(), frozenset())
