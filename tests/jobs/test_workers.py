"""Worker processes: results, deaths, hangs."""

import os
import pickle
import time

import pytest

from pressworthy.jobs.running import workers


def work(task: str) -> str:
    if task == "dies":
        os._exit(3)
    if task == "raises":
        raise KeyError("none foresaw it")
    if task == "hangs":
        time.sleep(60)
    return task.upper()


@pytest.mark.parametrize("processes", [1, 3])
def test_every_task_has_its_result_whatever_the_others_do(processes: int) -> None:
    tasks = ["a", "dies", "b", "hangs", "c", "d", "dies", "e"]
    results = workers.run(
        work, tasks, lambda task, why: f"lost {task}", processes=processes, seconds=1.0
    )
    assert sorted(results) == ["A", "B", "C", "D", "E", "lost dies", "lost dies", "lost hangs"]


def test_more_workers_than_windows_can_wait_for(monkeypatch: pytest.MonkeyPatch) -> None:
    # the check of concurrent.futures itself, which raises ValueError there
    monkeypatch.setattr("concurrent.futures.process.sys.platform", "win32")
    with workers._pool(100, pickle.dumps(())) as pool:
        assert pool._max_workers == workers.MOST_ON_WINDOWS  # type: ignore[attr-defined]


def test_an_error_that_none_foresaw_costs_one_task() -> None:
    done = workers.run(work, ["a", "raises", "b"], lambda task, why: why, processes=1)
    one, two, why = sorted(done, key=len)
    assert {one, two} == {"A", "B"}
    assert why.startswith("KeyError: 'none foresaw it' (test_workers.py:")


def test_no_tasks_are_no_work() -> None:
    done = workers.run(work, [], lambda task, why: why, processes=2)
    assert list(done) == []
