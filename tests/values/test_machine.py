"""The machine's trouble is told apart from the picture's, in the words of each library."""

from __future__ import annotations

import errno
import os

import pytest
import pyvips

from pressworthy.values.finding import Unmeasured
from pressworthy.values.machine import (
    DISK,
    FILES,
    MEMORY,
    SYSTEM,
    MachineTrouble,
    machine_trouble,
    unmeasured,
    what_failed,
)


def of_libvips(detail: str) -> pyvips.Error:
    error = pyvips.Error("unable to call something")
    error.detail = detail
    return error


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (MemoryError(), MEMORY),
        (OSError(errno.ENOMEM, "no"), MEMORY),
        (of_libvips("vips_tracked: out of memory -- size == 102MB"), MEMORY),
        (of_libvips("VipsJpeg: Insufficient memory (case 4)"), MEMORY),
        (of_libvips("heif: Invalid input: Unspecified: Memory allocation error (2.0)"), MEMORY),
        (OSError(errno.ENOSPC, "no"), DISK),
        (of_libvips("wbuffer_write: write failed\nsystem error: File too large"), DISK),
        (of_libvips(f"wbuffer_write: write failed\n{os.strerror(errno.ENOSPC)}"), DISK),
        (of_libvips('VipsImage: unable to write to "/none/vips-0-1.v"'), DISK),
        (OSError(errno.EIO, "no"), SYSTEM),
        (OSError(errno.EMFILE, "no"), FILES),
    ],
)
def test_the_machine_is_named(error: Exception, told: str) -> None:
    assert machine_trouble(error).startswith(told)
    assert isinstance(unmeasured(error, "the file is damaged"), MachineTrouble)
    assert what_failed(error).startswith(told)


@pytest.mark.parametrize(
    "error",
    [
        of_libvips("VipsJpeg: Premature end of JPEG file"),
        of_libvips("Memory allocation error: Security limit exceeded: too many tiles"),
        OSError(errno.EACCES, "no"),
        FileNotFoundError(errno.ENOENT, "no"),
        ValueError("the picture is cut short"),
    ],
)
def test_the_picture_is_blamed_for_its_own(error: Exception) -> None:
    assert machine_trouble(error) == ""
    blamed = unmeasured(error, "the file is damaged")
    assert isinstance(blamed, Unmeasured) and str(blamed) == "the file is damaged"
