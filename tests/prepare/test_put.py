"""A copy's bytes are put in place whole, and what stood in the way is told."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from pressworthy.prepare import store
from pressworthy.values.faults import SetupError, Stopped


def test_the_new_file_is_whole_and_alone(tmp_path: Path) -> None:
    target = tmp_path / "copy.tif"
    for data in (b"old", b"the new one"):
        store.put(data, target)
        assert target.read_bytes() == data
        assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("how", [OSError(errno.ENOSPC, "full"), Stopped(15)])
def test_what_breaks_off_leaves_nothing(
    how: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fsync(_: int) -> None:
        raise how

    monkeypatch.setattr(os, "fsync", fsync)
    with pytest.raises(type(how)):
        store.put(b"bytes", tmp_path / "copy.tif")
    assert list(tmp_path.iterdir()) == []


def test_it_is_on_the_disk_before_it_takes_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target, seen = tmp_path / "copy.tif", []
    synced = os.fsync

    def fsync(handle: int) -> None:
        seen.append((os.fstat(handle).st_size, target.exists()))
        synced(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    store.put(b"bytes", target)
    file, folder = seen
    assert file == (5, False)
    assert folder[1]  # the folder's own entry, once the name stands


def test_one_that_goes_again_does_not_wait_for_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fsync(_: int) -> None:
        raise AssertionError("waited for")

    monkeypatch.setattr(os, "fsync", fsync)
    target = tmp_path / "copy.tif"
    store.put(b"bytes", target, flushed=False)
    assert [(one, one.read_bytes()) for one in tmp_path.iterdir()] == [(target, b"bytes")]


def test_what_fails_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "copy.tif"
    target.write_bytes(b"old")

    def full(_: int) -> Any:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        store.put(b"new", target)
    assert target.read_bytes() == b"old" and list(tmp_path.iterdir()) == [target]


def test_an_unfinished_copy_is_hidden_beside_its_target(tmp_path: Path) -> None:
    part = store.part_of(tmp_path / "copy.tif")
    assert part.parent == tmp_path and part.name == ".copy.tif.pressworthy-part"


def test_a_folder_is_made_and_what_a_killed_run_left_is_cleared(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    with store.folder_for_copies(folder):
        assert folder.is_dir() and list(folder.iterdir()) == []
    left, kept = store.part_of(folder / "x.tif"), folder / "x.tif"
    for path in (left, kept, folder / ".hidden"):
        path.write_bytes(b"")
    with store.folder_for_copies(folder):
        assert sorted(path.name for path in folder.iterdir()) == [".hidden", "x.tif"]
        with pytest.raises(SetupError, match="another run is making copies"):
            store.folder_for_copies(folder).__enter__()
    with store.folder_for_copies(folder):  # and then it is free again
        pass


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    for path in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(SetupError, match=r"file.*: cannot be written to: \w"):
            store.folder_for_copies(path).__enter__()


@pytest.mark.parametrize(
    "error, told",
    [
        (OSError(errno.ENOSPC, "No space"), "the disk is full; nothing was left half written"),
        (OSError(errno.EDQUOT, "Quota"), "the disk is full; nothing was left half written"),
        (OSError(errno.EACCES, "Permission denied"), "Permission denied"),
        (OSError("what a library says"), "what a library says"),
    ],
)
def test_why_it_failed(error: OSError, told: str) -> None:
    assert store.why(error) == told
