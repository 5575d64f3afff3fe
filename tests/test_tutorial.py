"""The pages for readers: their commands parse, what they link to is there, pictures are small."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from pressworthy.commands.main import parser

ROOT = Path(__file__).parents[1]
PAGES = (
    "README.md", "docs/tutorial.md", "docs/open-proof.md", "docs/print-look.md",
    "docs/rule-packs.md",
)  # fmt: skip
MARKDOWN = sorted(
    path for place in (".", "docs", "demo/rule-pack", "profiles/pressworthy_profiles/conditions")
    for path in (ROOT / place).glob("*.md")
)  # fmt: skip
FOLDERS = ("pictures", "masters", "issue/masters", "demo/houses", "our-house", "winter")
MOST_BYTES = 120_000


def commands() -> Iterator[tuple[str, str]]:
    """Yield page and command, of lines in blocks of code and of spans within text."""
    for page in PAGES:
        text = (ROOT / page).read_text("utf-8")
        for line in re.findall(r"^(?:\$ |    )(pressworthy .*)$", text, re.M):
            yield page, line
        for span in re.findall(r"(?<!`)`(pressworthy [^`]*)`", text):
            # a span may name a command without what it is given
            yield page, f"{span} --help"


@pytest.mark.parametrize(("page", "command"), sorted(set(commands())))
def test_a_command_parses(
    page: str, command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in FOLDERS:
        (tmp_path / folder).mkdir(parents=True)
    monkeypatch.chdir(tmp_path)
    words = shlex.split(command, comments=True)[1:]
    assert ">" not in words, f"{page}: the commands write files themselves"
    if words[-1] == "--help":
        with pytest.raises(SystemExit) as done:
            parser().parse_args(words)
        assert done.value.code == 0
    else:
        assert callable(parser().parse_args(words).run)


@pytest.mark.parametrize("path", MARKDOWN, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_is_linked_is_there(path: Path) -> None:
    links = re.findall(r"\]\(([^)\s#]+)[^)]*\)", path.read_text("utf-8"))
    files = [link for link in links if not re.match(r"[a-z]+:", link)]
    assert [link for link in files if not (path.parent / link).exists()] == []


def test_pictures_are_small_and_all_in_use() -> None:
    text = "".join((ROOT / page).read_text("utf-8") for page in PAGES)
    for path in (ROOT / "docs" / "pictures").iterdir():
        assert path.stat().st_size <= MOST_BYTES
        assert f"pictures/{path.name}" in text
