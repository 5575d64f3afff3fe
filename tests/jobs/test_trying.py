"""What if: what is tried equals what judging all anew gives, and pixels are opened for little."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.house import House, load_house
from pressworthy.jobs import Run, Task, checking
from pressworthy.jobs.neighbours import judge_set
from pressworthy.jobs.running import measured
from pressworthy.jobs.running.cache import Cache, output_as
from pressworthy.jobs.tasks import taken_in
from pressworthy.jobs.trying import recalled, tried
from pressworthy.judge import judge
from pressworthy.measure.press import sample
from pressworthy.measure.resolution import fit
from pressworthy.plugins import Registry
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.finding import Severity, Unmeasured, Verdict
from pressworthy.values.picture import measurement
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.watched import Watched, watched

Judged = list[tuple[Task, Verdict]]


@pytest.fixture(scope="module")
def house(registry: Registry) -> House:
    return load_house("coated-magazine", registry)


@pytest.fixture(scope="module")
def tasks(tmp_path_factory: pytest.TempPathFactory) -> list[Task]:
    folder = tmp_path_factory.mktemp("masters")
    dark = (draw(300, 225, seed=3) * 0.3).astype(np.uint8)
    drawn = {"a.jpg": draw(330, 250), "b.jpg": dark, "c.jpg": draw(250, 190, seed=5)}
    request = PlacementRequest((25, 18.75))
    return [
        Task(write_picture(folder / name, values, words=CREDITED, ppi=300, Q=92), request)
        for name, values in drawn.items()
    ]


@pytest.fixture(scope="module")
def run(registry: Registry, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Run]:
    cache = Cache(tmp_path_factory.mktemp("cache") / "v.sqlite")
    # in this process: nothing is started for three small pictures
    yield replace(Here(registry), cache=cache, measuring=True)
    cache.close()


class Here(Run):
    """A run whose work is done here and now."""

    def over(self, work: Callable[..., Any], tasks: Any, lost: Any, *given: Any) -> Iterator[Any]:
        for task in tasks:
            yield work(task, *given)


@pytest.fixture(scope="module")
def judged(tasks: list[Task], house: House, run: Run) -> Judged:
    return list(checking.verdicts_on(tasks, house, run))


def with_options(house: House, rule: str, **options: Any) -> House:
    setting = house.rules[rule]
    new = {**setting.options, **{name.replace("_", " "): v for name, v in options.items()}}
    rules = {**house.rules, rule: replace(setting, options=new)}
    return replace(house, rules=rules, document={**house.document, "tried": [rule, new]})


def with_output(house: House, **changed: Any) -> House:
    document = {**house.document, "tried": str(changed)}
    return replace(house, output=replace(house.output, **changed), document=document)


CHANGES: dict[str, tuple[Callable[[House], House], set[str]]] = {
    "a limit": (lambda h: with_options(h, "luminance", least_spread=80.0), {"luminance"}),
    "a limit of colour": (lambda h: with_options(h, "gamut", visible=0.01, area=0.5), {"gamut"}),
    "ppi": (lambda h: with_output(h, ppi=400.0), {"compression", "resolution"}),
    "the middle tones": (lambda h: with_output(h, median=(60.0, 70.0)), {"luminance"}),
    "distance": (lambda h: with_output(h, viewing_distance=500.0), {"compression"}),
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_is_tried_is_what_judging_all_anew_gives(
    change: str, judged: Judged, house: House, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    changed, rules = CHANGES[change]
    then = changed(house)
    seen: list[set[str]] = []

    def noted(picture: Any, house: House, *more: Any) -> Verdict:
        seen.append(set(house.rules))
        return judge(picture, house, *more)

    monkeypatch.setattr(checking, "judge", noted)
    found = list(tried(judged, house, then, run))
    # the value matters to these rules alone
    assert set().union(*seen) == rules
    alone = list(checking.verdicts_on([task for task, _ in judged], then, replace(run, cache=None)))
    wanted = judge_set([verdict for _, verdict in alone], then, run.registry.rules)
    for one, verdict in zip(found, wanted, strict=True):
        assert one.then.findings() == verdict.findings()
        assert [(o.rule, o.state, o.weight) for o in one.then.outcomes] == [
            (o.rule, o.state, o.weight) for o in verdict.outcomes
        ]
    differs = any(one.now.findings() != one.then.findings() for one in found)
    assert differs is (change != "distance")


def test_a_changed_limit_opens_no_pixels(
    judged: Judged, house: House, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_pixels(*_: Any, **__: Any) -> None:
        raise AssertionError("pixels were opened")

    for name in ("look_through", "decode", "stream"):
        monkeypatch.setattr(f"pressworthy.measure.pixels.{name}", no_pixels)
    for changed in (
        with_options(house, "gamut", area=0.6),
        with_options(house, "tone-range", area=0.1),
        with_options(house, "luminance", blown=0.1),
        with_options(house, "sharpening", **{"master halo": 1.0}),
        with_options(house, "compression", **{"least quality": 99}),
        with_options(house, "source-profile", imaginary=0.1),
        with_output(house, ppi=410.0),
    ):
        for one in tried(judged, house, changed, run):
            assert not [o for o in one.then.outcomes if "pixels were opened" in o.reason]


def test_another_weight_judges_nothing(
    judged: Judged, house: House, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delattr(checking, "judge")
    setting = house.rules["resolution"]
    heavier = replace(setting, severity={**setting.severity, "too-few-pixels": "note"})
    then = replace(house, rules={**house.rules, "resolution": heavier})
    worst = {one.task.path.name: (one.now.worst(), one.then.worst())
             for one in tried(judged, house, then, run)}  # fmt: skip
    assert worst["c.jpg"][0] is Severity.STOP and worst["c.jpg"][1] is not Severity.STOP


def test_a_rule_left_out_says_nothing_and_one_taken_in_is_judged(
    judged: Judged, house: House, run: Run
) -> None:
    fewer = replace(house, rules={n: s for n, s in house.rules.items() if n != "resolution"})
    for one in tried(judged, house, fewer, run):
        assert "resolution" not in {outcome.rule for outcome in one.then.outcomes}
    without = [(task, one.then) for (task, _), one in
               zip(judged, tried(judged, house, fewer, run), strict=True)]  # fmt: skip
    for (_, verdict), one in zip(judged, tried(without, fewer, house, run), strict=True):
        assert {o.rule: o.findings for o in one.then.outcomes} == {
            o.rule: o.findings for o in verdict.outcomes
        }


def test_verdicts_of_another_issue_are_recalled(
    judged: Judged, tasks: list[Task], house: House, run: Run
) -> None:
    assert len(judged) == len(recalled(tasks, house, run)) == 3
    assert recalled(tasks, with_options(house, "bleed", least=4.0), run) == []


def test_only_who_asks_for_it_keeps_measurements(
    tasks: list[Task], house: House, registry: Registry, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def kept(cache: Cache) -> tuple[int, int]:
        assert cache._base is not None
        found: tuple[int, int] = cache._base.execute(
            "SELECT count(*), coalesce(sum(length(pull)), 0) FROM measured"
        ).fetchone()
        return found

    monkeypatch.setattr("pressworthy.jobs.running.cache.MOST_MEASURED", 150_000)
    for measuring in (False, True):
        cache = Cache(tmp_path / f"{measuring}.sqlite")
        here = replace(Here(registry), cache=cache, measuring=measuring)
        list(checking.verdicts_on(tasks, house, here))
        count, size = kept(cache)
        # no more than may be, the oldest going first
        assert (0 < count <= 3 and size <= 150_000) if measuring else count == 0
        cache.close()


def test_what_is_kept_comes_back_as_it_was(tasks: list[Task], house: House) -> None:
    one = replace(taken_in(tasks[0], house), output=watched(house.output))
    raw, placed = sample(one), fit(one)
    with pytest.raises(Unmeasured):
        never(one)
    data = measured.packed(one, measured.Reading(output_as(house.output), {}))
    two = replace(taken_in(tasks[0], house), output=watched(house.output))
    measured.restored(data, two, output_as(house.output))
    assert isinstance(two.output, Watched)
    known = {name.__name__: value for name, (value, _) in two._memo.items()}
    assert np.array_equal(known["sample"], raw) and known["sample"].dtype == raw.dtype
    assert not known["sample"].flags.writeable
    assert known["fit"] == placed and known["never"] is None
    # what stands on another ppi is measured anew
    other = output_as(replace(house.output, ppi=1.0))
    three = replace(taken_in(tasks[0], house), output=watched(house.output))
    measured.restored(data, three, other)
    assert {name.__name__ for name in three._memo} >= {"sample"}
    assert "fit" not in {name.__name__ for name in three._memo}


@measurement
def never(picture: Any) -> None:
    raise Unmeasured(f"not at {picture.output.bleed} mm")


@pytest.mark.parametrize("data", [b"", b"x", b"x\x9c\x03\x00\x00\x00\x00\x01"])
def test_damaged_measurements_are_made_again(data: bytes, tasks: list[Task], house: House) -> None:
    with pytest.raises(ValueError):
        measured.restored(data, taken_in(tasks[0], house), {})


def test_what_a_measurement_read_counts_for_whoever_asks_later(
    tasks: list[Task], house: House
) -> None:
    picture = replace(taken_in(tasks[0], house), output=(watch := watched(house.output)))
    watch.seen.clear()
    fit(picture)
    first = set(watch.seen)
    watch.seen.clear()
    fit(picture)
    assert watch.seen == first == {"ppi"}
