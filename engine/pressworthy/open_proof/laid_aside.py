"""Images laid aside on the disk, each by a name made of its bytes, so that memory stays small."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from pressworthy.jobs.pull import Pull
from pressworthy.report.marked_proof.pictures import data_uri

_PRINTED = re.compile('(<img class="(?:printed|on-paper enlarged)" src=")/seen/([0-9a-f]{32})')

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

    def on_paper(self, html: str) -> str:
        """Return a part of the sheet with the images in it that paper shows.

        A browser that prints waits for none that it must ask for.
        """
        return _PRINTED.sub(lambda found: f"{found[1]}{self._in_place(found[2])}", html)

    def _in_place(self, name: str) -> str:
        found = self.get(name)
        return data_uri(found[0].read_bytes()) if found else ""

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
