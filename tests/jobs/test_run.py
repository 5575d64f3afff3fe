"""The run that is handed down: what of it reaches a worker, and how often."""

from __future__ import annotations

import os
import pickle
from pathlib import Path

from pressworthy.jobs import Run
from pressworthy.jobs.running.cache import Cache
from pressworthy.plugins import load

PLUGIN = """
import os
from pathlib import Path
from pressworthy.hookspecs import hookimpl
from pressworthy.values.rule import Rule

with Path(__file__).with_suffix(".log").open("a") as log:
    log.write(f"{os.getpid()}\\n")

@hookimpl
def pressworthy_rules():
    return [Rule("own", lambda picture, options: [], {}, {"code": "never"}, "A rule of one's own.")]
"""


def own_rule(task: str, run: Run) -> tuple[str, str, int]:
    return task, run.registry.rules["own"].doc, os.getpid()


def test_a_worker_loads_the_plug_ins_once(tmp_path: Path) -> None:
    plugin = tmp_path / "plug.py"
    plugin.write_text(PLUGIN)
    # neither the rule's function nor what shows progress can be sent to a process
    run = Run(load([str(plugin)]), processes=1, progress=lambda done, total: done)
    done = sorted(run.over(own_rule, "abc", lambda task, why, _: (task, why, 0), run))
    assert [(task, doc) for task, doc, _ in done] == [(t, "A rule of one's own.") for t in "abc"]
    there = {process for _, _, process in done}
    loaded = [int(line) for line in plugin.with_suffix(".log").read_text().split()]
    assert loaded == [os.getpid(), *there]


def test_a_cache_is_opened_again_by_its_path(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c")
    again = pickle.loads(pickle.dumps(cache))
    assert again.path == cache.path and again._base is not cache._base
    again.close()
    cache.close()
