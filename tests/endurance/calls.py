"""Runs many commands in one process, for run.py: it reads calls and writes what came of each.

    calls.py CALLS RESULTS SECONDS

CALLS holds one list of arguments a line, as JSON; RESULTS gets a line for each. A command that
takes longer than SECONDS ends the process, so that the next line of RESULTS stays missing.
"""

from __future__ import annotations

import faulthandler
import io
import json
import sys
import time
import traceback
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from pressworthy.commands.main import main


def call(arguments: list[str]) -> dict[str, object]:
    """Return what one command gave: its exit status, None where it raised, and what it wrote."""
    out, err = io.StringIO(), io.StringIO()
    start = time.perf_counter()
    status: int | None = None
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status = main(arguments)
        except SystemExit as end:
            status = end.code if isinstance(end.code, int) else 1
        except BaseException:
            traceback.print_exc()
    seconds = time.perf_counter() - start
    return {"status": status, "out": out.getvalue(), "err": err.getvalue(), "seconds": seconds}


if __name__ == "__main__":
    calls, results, limit = sys.argv[1:]
    with Path(results).open("w") as file:
        for line in Path(calls).read_text().splitlines():
            faulthandler.dump_traceback_later(float(limit), exit=True)
            print(json.dumps(call(json.loads(line))), file=file, flush=True)
            faulthandler.cancel_dump_traceback_later()
