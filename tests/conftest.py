"""Shared fixtures. A test that needs a tool or data set from outside says so with `need`."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from pressworthy.house import House, load_house
from pressworthy.plugins import Registry, load


@pytest.fixture(scope="session")
def registry() -> Registry:
    return load()


@pytest.fixture(scope="session")
def coated(registry: Registry) -> House:
    return load_house("coated-magazine", registry)


def need(thing: str | Path) -> str:
    """Return the path of a program or file, or skip the test; in CI it must be there."""
    found = shutil.which(str(thing)) or (str(thing) if Path(thing).exists() else None)
    if found is None:
        if os.environ.get("CI"):
            pytest.fail(f"{thing} is missing, and CI must have it")
        pytest.skip(f"{thing} is not installed")
    return found
