"""README.md: its house profiles are valid, its exit statuses are those that help tells."""

import re
from pathlib import Path

from pressworthy.commands.options import EXIT
from pressworthy.house import load_house, validate_house
from pressworthy.plugins import Registry

README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")


def test_its_house_profiles_do_what_it_says(registry: Registry, tmp_path: Path) -> None:
    blocks = re.findall(r"^```yaml\n# our-house/(\S+)\n(.*?)^```$", README, re.M | re.S)
    for name, body in blocks:
        (tmp_path / name).write_text(body, "utf-8")
    standard, title = (str(tmp_path / name) for name, _ in blocks)
    validate_house(standard, registry)
    house = load_house(title, registry)
    assert (house.publisher, house.output.bleed) == ("Brackwater Press", 6.0)
    assert house.left_out == {"compression": "pictures come from our own archive"}
    assert house.document["lock"] == ["credit"]


def test_its_exit_statuses_are_those_of_help() -> None:
    rows = re.findall(r"^\| (\d) \| (.+) \|$", README, re.M)
    told = re.findall(r"^  (\d)  (.+)$", EXIT.format(done="checked"), re.M)
    assert [(status, text.replace(",", ";")) for status, text in rows] == [
        (status, text.replace(",", ";")) for status, text in told
    ]
