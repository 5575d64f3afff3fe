"""Gives a command to the program, in this process: its libraries are loaded and its workers' server
runs, so it costs a tenth of one that a shell starts."""

from __future__ import annotations

import io
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path
from subprocess import CompletedProcess

from pressworthy.commands.main import main


def commanded(*words: str | Path, cwd: str | Path = ".") -> CompletedProcess[str]:
    """Return what a shell would see of `pressworthy WORDS`: exit status, output, error."""
    given = [str(word) for word in words]
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True) for _ in range(2))
    with chdir(cwd), redirect_stdout(out), redirect_stderr(err):
        try:
            status = main(given)
        except SystemExit as ended:  # the parser's own
            status = ended.code if isinstance(ended.code, int) else 1
    out_text, err_text = (one.buffer.getvalue().decode() for one in (out, err))
    return CompletedProcess(["pressworthy", *given], status, out_text, err_text)
