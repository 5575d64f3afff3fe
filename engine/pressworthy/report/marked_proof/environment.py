"""The page's templates, and how a value becomes text in them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from functools import cache

from jinja2 import (
    ChoiceLoader,
    Environment,
    FileSystemBytecodeCache,
    PackageLoader,
    StrictUndefined,
)
from jinja2.bccache import Bucket
from markupsafe import Markup

from pressworthy.jobs.running.cache import default_path
from pressworthy.report.marked_proof.remarks import WORDS
from pressworthy.values import cautions
from pressworthy.values.words import readable

LINE_BREAKS = str.maketrans({"\n": " ", "\t": " "})


class Encoded(Markup):
    """Letters and figures that are written here, megabytes perhaps; none hides or moves."""


OWN = "pressworthy.report.marked_proof"


def rendered(template: str, *, among: str = OWN, **values: object) -> str:
    """Return the HTML that a file of `templates` gives with the values.

    among: a package whose own templates are sought first.
    """
    return "".join(parts(template, among=among, **values))


def parts(template: str, *, among: str = OWN, **values: object) -> Iterator[str]:
    """Yield it as it comes, for what is too large to stand in memory once more."""
    return _environment(among).get_template(template).generate(values)


@cache
def _environment(among: str) -> Environment:
    environment = Environment(
        loader=ChoiceLoader([PackageLoader(name) for name in dict.fromkeys([among, OWN])]),
        autoescape=True,
        finalize=shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        bytecode_cache=_compiled(),
    )
    environment.globals["caution"] = cautions.PROOF
    environment.filters |= {"counted": counted, "kind_word": WORDS.__getitem__}
    return environment


class _Compiled(FileSystemBytecodeCache):
    """Templates as they were compiled once, which takes a tenth of a second; the disk may fail."""

    def load_bytecode(self, bucket: Bucket) -> None:
        with suppress(OSError):
            super().load_bytecode(bucket)

    def dump_bytecode(self, bucket: Bucket) -> None:
        with suppress(OSError):
            super().dump_bytecode(bucket)


def _compiled() -> _Compiled | None:
    folder = default_path().parent / "templates"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError:
        return None
    return _Compiled(str(folder))


def shown(value: object) -> str:
    """Return what an expression of a template shows: one line, no character that hides or moves.

    It is called for every expression, before escaping; HTML keeps its lines.
    """
    if isinstance(value, Encoded):
        return value
    if isinstance(value, Markup):
        # text joined to HTML was escaped on the way, but nothing more
        return value if value.isprintable() else Markup("\n".join(map(readable, value.split("\n"))))
    text = str(value)
    if text.isprintable():
        return text
    return readable(text.replace("\r\n", " ").translate(LINE_BREAKS))


def counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
