"""What commands write: the progress bar."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import termios
from pathlib import Path

from pressworthy.testing import CREDITED, draw, write_picture


def test_a_progress_bar_on_a_terminal_and_none_in_a_pipe(tmp_path: Path) -> None:
    for name in "abc":
        write_picture(tmp_path / f"{name}.jpg", draw(), words=CREDITED)
    call = [sys.executable, "-m", "pressworthy", "check", str(tmp_path), "--house", "mono"]
    piped = subprocess.run(call, capture_output=True, text=True, check=False)
    assert piped.stderr == ""
    leader, terminal = pty.openpty()
    termios.tcsetwinsize(terminal, (25, 80))
    done = subprocess.run(call, stdout=subprocess.PIPE, stderr=terminal, check=False)
    os.set_blocking(leader, False)
    shown = os.read(leader, 100_000).decode()
    os.close(terminal)
    os.close(leader)
    assert "3/3" in shown or "0/3" in shown
    assert done.stdout.decode() == piped.stdout
