"""Writes the start of a rule pack: an installable package with one rule, its test, its README."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path
from string import Template

from pressworthy import __version__

STANDARD = "house"
"""The name under which every output type looks for the publisher's house standard."""

_FILES = {
    "pyproject.toml": "pyproject.toml",
    "README.md": "README.md",
    "profile.yaml": "with-{name}.yaml",
    "rule.py": "src/{package}/{module}.py",
    "plugin.py": "src/{package}/__init__.py",
    "test_rule.py": "tests/test_{module}.py",
}


def write_rule_pack(name: str, folder: Path) -> Path:
    """Write a rule pack for the rule called `name` below `folder`, and return its folder.

    Raises ValueError where the name is no rule name, or is kept for something else, or the pack's
    folder is there already.
    """
    if not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", name):
        raise ValueError(f"{name!r}: a rule's name is lower case with hyphens, such as page-grid")
    if name == STANDARD:
        raise ValueError(f"{name!r} is kept for a publisher's house standard; choose another name")
    pack = folder / f"{name}-pack"
    if pack.exists():
        raise ValueError(f"{pack} is there already; choose another name or folder")
    module = name.replace("-", "_")
    words = {
        "name": name,
        "module": module,
        "package": f"{module}_pack",
        "version": ".".join(__version__.split(".")[:2]),
    }
    for template, target in _FILES.items():
        path = pack / target.format(**words)
        path.parent.mkdir(parents=True, exist_ok=True)
        source = files(__name__).joinpath("template", f"{template}.tmpl").read_text("utf-8")
        path.write_text(Template(source).substitute(words), "utf-8")
    return pack
