"""What a condition says of itself to a reader."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from pressworthy.values.condition import Condition

PRESS = Condition(
    "hall", "print", (93.0, 0.5, -4.0), (16, 0, 0), (9, 0, 0), {"cmyk": Path("x.icc")}
)


def test_the_papers_light_is_told_or_said_to_be_untold() -> None:
    assert "Its paper is L* a* b* 93.0 0.5 -4.0, its measuring condition" in PRESS.sentence()
    told = replace(PRESS, values={"title": "Web press", "measured under": "M1"})
    assert told.sentence() == (
        "Shown as printed by: Web press (hall). Its paper is L* a* b* 93.0 0.5 -4.0, "
        "measured under M1."
    )
    assert replace(PRESS, medium="screen").sentence() == "Shown for: hall."


def test_what_is_assumed_is_told_with_its_source() -> None:
    assert PRESS.assumption() == ""
    values = {"assumed": {"ruling": "as of coated", "screen angles": "as common practice has them"}}
    assumed = replace(PRESS, values=values)
    assert "Assumed: ruling as of coated; screen angles as common practice has them." in (
        assumed.sentence()
    )


def test_what_only_people_read_is_no_other_condition() -> None:
    told = replace(PRESS, values={"measured under": "M1", "assumed": {"ruling": "as of coated"}})
    assert told.fingerprint([]) == PRESS.fingerprint([])
    assert replace(PRESS, values={"ruling": 60.0}).fingerprint([]) != PRESS.fingerprint([])
