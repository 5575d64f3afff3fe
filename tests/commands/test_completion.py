"""The scripts that let a shell complete choices."""

from __future__ import annotations

import subprocess

import pytest

from pressworthy.commands.main import main


def test_bash_completes_commands_and_house_profiles(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "bash"]) == 0
    script = capsys.readouterr().out
    for words, wanted in (("che", "check"), ("check --house coated-m", "coated-magazine")):
        asked = f"COMP_WORDS=(pressworthy {words}); COMP_CWORD={len(words.split())}; "
        ask = f"{asked}_shtab_pressworthy; echo ${{COMPREPLY[@]}}"
        done = subprocess.run(["bash", "-c", script + ask], capture_output=True, text=True)
        assert done.stdout.split() == [wanted], done.stderr


def test_zsh_has_a_script_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "zsh"]) == 0
    script = capsys.readouterr().out
    assert script.startswith("#compdef pressworthy") and "(coated-magazine coated-no1" in script
