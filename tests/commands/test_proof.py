"""The proof command: what its page tells to do next can be done."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest

from pressworthy.commands.main import main
from pressworthy.commands.proof import _preparing


def test_the_command_on_the_page_prepares_the_same_pictures(
    master: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = master("two piers.jpg")
    asked = [str(path), "--house", "coated-magazine", "--size", "30x22.5mm", "--jobs", "1"]
    assert main(["proof", *asked, "--into", str(tmp_path / "proof")]) in (0, 1)
    page = (tmp_path / "proof" / "marked-proof.html").read_text("utf-8")
    (shown,) = re.findall(r"<code>(.*?)</code>", page)
    words = shlex.split(unescape(re.sub("<.*?>", "", shown)))
    assert words[:2] == ["pressworthy", "prepare"]
    capsys.readouterr()
    main(words[1:])
    copies = list((tmp_path / "proof" / "copies").rglob("*.tif"))
    assert [copy.name for copy in copies] == ["two piers-coated-magazine.tif"]


@pytest.mark.parametrize(
    "own", [["--into", "proof", "--format", "pdf", "--replace"], ["--into=proof", "--format=html"]]
)
def test_what_only_a_proof_takes_is_left_out(own: list[str]) -> None:
    given = ["proof", "--list", "issue.csv", *own, "--skip", "*.txt", "--", "-odd.jpg"]
    assert _preparing(given, Path("proof/copies")) == [
        "pressworthy", "prepare", "--into", "proof/copies",
        "--list", "issue.csv", "--skip", "*.txt", "--", "-odd.jpg",
    ]  # fmt: skip
