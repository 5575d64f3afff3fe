"""Images laid aside on the disk, each by a name made of its bytes, so that memory stays small."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from pressworthy.jobs.pull import Pull

_KINDS = {b"\xff\xd8": "image/jpeg", b"\x89P": "image/png"}


class LaidAside:
    """Images in a folder. A name is all that a browser ever gives for one, and only names given
    out here are known."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._known: dict[str, str] = {}

    def put(self, data: bytes) -> str:
        """Keep an image and return its name."""
        name = hashlib.sha256(data).hexdigest()[:32]
        if name not in self._known:
            (self.folder / name).write_bytes(data)
            self._known[name] = _KINDS.get(data[:2], "image/avif")
        return name

    def get(self, name: str) -> tuple[Path, str] | None:
        """Return file and media type of what goes by that name, None where nothing does."""
        kind = self._known.get(name)
        return (self.folder / name, kind) if kind else None

    def pull(self, pull: Pull) -> Pull:
        """Return the pull with names in place of its images, see `address`."""
        return replace(
            pull,
            views=self._names(pull.views),
            overlays=self._names(pull.overlays),
            close=self._names(pull.close),
            small=self.put(pull.small).encode() if pull.small else b"",
            paper=self.put(pull.paper).encode() if pull.paper else b"",
        )

    def _names(self, images: Mapping[str, bytes]) -> dict[str, bytes]:
        return {view: self.put(data).encode() for view, data in images.items()}


def restored(name: bytes, folder: Path) -> bytes:
    """Return the image that a laid-aside pull names, of those in the folder."""
    return (folder / name.decode()).read_bytes()


def address(name: bytes) -> str:
    """Return where a page finds the image that a laid-aside pull names."""
    return f"/seen/{name.decode()}"
