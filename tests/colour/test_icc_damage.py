"""ICC profiles that are damaged, of the wrong kind or hostile: clear words, never a crash."""

from __future__ import annotations

import struct
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import need
from PIL import Image

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.own_profile import condition_of_profile
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.house import House, load_house
from pressworthy.jobs import Run, Task, check_picture
from pressworthy.plugins import Registry
from pressworthy.testing import a_picture, draw, found, write_picture
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import State
from pressworthy.values.placement import PlacementRequest

FUZZ = """
import random, sys
from pathlib import Path
import numpy as np
from pressworthy.colour.convert import convert, to_lab
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.own_profile import condition_of_profile
from pressworthy.colour.spaces import identify
from pressworthy.values.finding import Unmeasured

source, target = map(Path, sys.argv[1:3])
seed, count = map(int, sys.argv[3:5])
whole, rng, read = source.read_bytes(), random.Random(seed), 0
pixels = {"RGB": 3, "CMYK": 4, "gray": 1}
for _ in range(count):
    data = bytearray(whole)
    for _ in range(rng.choice([1, 2, 8, 64])):
        # header and tag table twice as often as the rest
        end = rng.choice([400, len(data)])
        value = rng.choice([0, 1, 127, 128, 255, rng.randrange(256)])
        data[rng.randrange(min(end, len(data)))] = value
    if rng.random() < 0.2:
        del data[rng.randrange(len(data)):]
    mutant = bytes(data)
    try:
        profile = parse(mutant)
        identify(profile)
        profile.description()
        channels = pixels.get(profile.space, 3)
        values = np.linspace(0, 255, 64 * channels).astype(np.uint8).reshape(8, 8, channels)
        if profile.space in pixels:
            to_lab(values, profile.space, mutant, black_point=True)
        read += 1
    except (DamagedProfile, Unmeasured):
        pass
    target.write_bytes(mutant)
    try:
        condition_of_profile(target)
        convert(np.zeros((4, 4, 3), np.uint8), "RGB", "srgb", target)
    except (ValueError, Unmeasured):
        pass
print(count, read)
"""


@pytest.mark.parametrize("kind", ["cmyk", "gray", "rgb"])
def test_mutated_profiles_never_crash(kind: str, registry: Registry, tmp_path: Path) -> None:
    """Mutants in a process of their own: it must live, and read some of them.

    tests/endurance/endure.py tries thousands.
    """
    source = tmp_path / "whole.icc"
    if kind == "rgb":
        source.write_bytes(rgb_profile("opRGB"))
    else:
        profiles = load_house("newsprint", registry).output.condition.profiles
        source.write_bytes(profiles[kind].read_bytes())
    count = 30 if kind == "cmyk" else 120
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            FUZZ,
            str(source),
            str(tmp_path / "mutant.icc"),
            "1",
            str(count),
        ],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    tried, read = map(int, done.stdout.split())
    assert tried == count
    assert 0 < read < count


@pytest.mark.parametrize(
    ("damage", "word"),
    [
        (lambda d: d[:100], "too few"),
        (lambda d: d[:-50], "states"),
        (lambda d: d[:36] + b"xxxx" + d[40:], "acsp"),
        (lambda d: d[:12] + b"zzzz" + d[16:], "class"),
        (lambda d: d[:128] + struct.pack(">I", 1 << 30) + d[132:], "tags"),
        (lambda d: d[:136] + struct.pack(">I", 1 << 31) + d[140:], "outside"),
    ],
)
def test_damage_is_named(damage: object, word: str) -> None:
    with pytest.raises(DamagedProfile, match=word):
        parse(damage(rgb_profile("sRGB")))  # type: ignore[operator]


def without_tag(data: bytes, *names: bytes) -> bytes:
    for name in names:
        data = data.replace(name, b"zzzz", 1)
    return data


def test_a_house_is_told_what_is_wrong_with_its_icc_profile(
    registry: Registry, tmp_path: Path
) -> None:
    profiles = load_house("newsprint", registry).output.condition.profiles
    cmyk, gray = profiles["cmyk"].read_bytes(), profiles["gray"].read_bytes()
    cases = {
        "cut.icc": (cmyk[:5000], "states"),
        "words.icc": (b"not a profile" * 20, "acsp"),
        "link.icc": (cmyk[:12] + b"link" + cmyk[16:], "device link"),
        "one-way.icc": (without_tag(cmyk, b"B2A0", b"B2A1", b"B2A2"), "B2A"),
        "screen.icc": (rgb_profile("sRGB"), "is for screen in rgb; this output is print in cmyk"),
        "gray.icc": (gray, "is for print in gray; this output is print in cmyk: name a condition"),
    }
    for name, (data, word) in cases.items():
        (tmp_path / name).write_bytes(data)
        house = tmp_path / "h.yaml"
        house.write_text(
            f"house: h\nkind: output\nstands on: newsprint\noutput:\n  condition: {name}\n"
        )
        with pytest.raises(SetupError) as caught:
            load_house(str(house), registry)
        assert word in str(caught.value), name
        assert f"{house}:5" in str(caught.value)


def test_a_printers_own_profile_takes_the_place_of_a_condition(
    registry: Registry, tmp_path: Path
) -> None:
    house = tmp_path / "h.yaml"
    source = load_house("newsprint", registry).output.condition.profiles["cmyk"]
    (tmp_path / "press.icc").write_bytes(source.read_bytes())
    house.write_text(
        "house: h\nkind: output\nstands on: newsprint\noutput:\n  condition: press.icc\n"
    )
    own = load_house(str(house), registry).output.condition
    assert own.paper == pytest.approx((80.1, 0, 3.5), abs=0.6)
    with pytest.raises(ValueError, match="cannot be read"):
        condition_of_profile(tmp_path / "none.icc")


def test_version_4_profiles_are_read(registry: Registry, tmp_path: Path) -> None:
    """Debian's colord-data has a version 4.4 sRGB profile with parametric curves."""
    data = Path(need("/usr/share/color/icc/colord/sRGB.icc")).read_bytes()
    assert parse(data).version.startswith("4")
    path = tmp_path / "p.jpg"
    Image.fromarray(draw()).save(path, icc_profile=data, quality=92)
    options = {"spaces": ["sRGB"]}
    assert found(registry.rules["icc-profile"], a_picture(path), options) == {}


@pytest.mark.parametrize("house", ["coated-magazine", "mono", "screen"])
@pytest.mark.parametrize("mode", ["RGB", "CMYK", "gray"])
def test_no_rule_breaks_on_a_damaged_profile(
    mode: str, house: str, houses: dict[str, House], registry: Registry, tmp_path: Path
) -> None:
    cut = rgb_profile("sRGB")[:300]
    bands = {"CMYK": 4, "gray": 1}.get(mode, 3)
    fields = {"icc-profile-data": cut}
    path = tmp_path / "a.tif"
    write_picture(path, draw(200, 150, channels=bands), mode=mode, icc=None, fields=fields)
    task = Task(path, PlacementRequest((20, 15)))
    verdict = check_picture(task, houses[house], Run(registry, processes=1))
    assert verdict.outcomes
    assert not [one for one in verdict.outcomes if one.state is State.BROKEN]
