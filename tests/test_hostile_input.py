"""Random and mangled input to every reader of ours: a clear refusal or a result, never a crash."""

from __future__ import annotations

import contextlib
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from pressworthy.colour.condition import find_condition
from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.spaces import identify
from pressworthy.files.intake import walk
from pressworthy.files.metadata.words import read_iim, read_xmp
from pressworthy.files.opening import decode, field_names, read_header
from pressworthy.files.picture_list import read_list
from pressworthy.files.waivers import read_waivers
from pressworthy.house import load_house
from pressworthy.plugins import load
from pressworthy.prepare.encode import dress
from pressworthy.testing import CREDITED, draw, write_picture, xmp
from pressworthy.values.faults import SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.placement import parse_bleed, parse_focus, parse_size
from pressworthy.values.units import UNITS
from pressworthy.values.units import parse as parse_quantity
from pressworthy.values.words import readable
from pressworthy.yamlfile import read

YAML_PARTS = st.sampled_from(
    ["a", "off", "010", ": ", "- ", "\n", "  ", "[", "]", "{", "}", "&x ", "*x", "!t ", "'", '"',
     "|\n", "---\n", "#", "<<: ", "? ", "%YAML 1.1\n", "\t", "é", "\x00", ",", "1e3", "~"]
)  # fmt: skip
WHOLE_ICC = rgb_profile("opRGB")
WHOLE_XMP = xmp(CREDITED)


@given(st.lists(YAML_PARTS, max_size=30).map("".join) | st.text(max_size=60))
@settings(max_examples=300, deadline=None)
def test_set_up_files(text: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "h.yaml"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            document = read(path)
        except SetupError as error:
            assert error.faults
            assert all(str(path) in str(fault) for fault in error.faults)
        else:
            assert isinstance(document.value, dict)


@given(st.text(max_size=20), st.sampled_from(sorted(UNITS)))
def test_quantities_and_placements(text: str, unit: str) -> None:
    for read_it in (lambda t: parse_quantity(t, unit), parse_size, parse_bleed, parse_focus):
        with contextlib.suppress(ValueError):
            read_it(text)


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_metadata_and_icc_profiles(data: st.DataObject) -> None:
    for whole in (WHOLE_ICC, WHOLE_XMP, b"\x1c\x02\x50\x00\x05Maker" * 3):
        at = data.draw(st.integers(0, len(whole) - 1))
        mangled = whole[:at] + data.draw(st.binary(max_size=8)) + whole[at + 4 :]
        read_xmp(mangled)
        read_iim(mangled)
        with contextlib.suppress(DamagedProfile):
            profile = parse(mangled)
            identify(profile)
            profile.description()


@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=4), st.sampled_from(["jpg", "tif"]))
@settings(max_examples=60, deadline=None)
def test_picture_files(at: int, noise: bytes, suffix: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = write_picture(Path(folder) / f"p.{suffix}", draw(64, 64), words=CREDITED)
        whole = path.read_bytes()
        at %= len(whole)
        path.write_bytes(whole[:at] + noise + whole[at + len(noise) :])
        with contextlib.suppress(Unmeasured):
            read_header(path)
            decode(path)


@given(st.text())
def test_shown_text_holds_no_control_characters(text: str) -> None:
    assert all(c == " " or c.isprintable() for c in readable(text))


def test_metadata_under_a_name_that_is_no_text(tmp_path: Path) -> None:
    exif = Image.Exif().tobytes()
    path = write_picture(tmp_path / "p.avif", draw(64, 48), fields={"exif-data": exif})
    whole = path.read_bytes()
    assert b"Exif" in whole
    # the type of an item becomes part of libvips' name for it
    path.write_bytes(whole.replace(b"Exif", b"\xfexif", 1))
    assert read_header(path).format == "AVIF"
    dressed = dress(decode(path), ppi=300, xmp=WHOLE_XMP, iptc=None)
    assert not any(b"xif" in name for name in field_names(dressed))


@pytest.mark.parametrize("name", ["a" * 5000, "a" * 5000 + ".yaml"])
def test_names_that_no_system_holds_are_not_found(name: str, tmp_path: Path) -> None:
    house = tmp_path / "h.yaml"
    house.write_text(f"house: h\nkind: output\nstands on: {name}\n")
    for asked in (str(house), name):
        with pytest.raises(SetupError):
            load_house(asked, load())
    with pytest.raises(ValueError, match="no condition is called"):
        find_condition(name, load().condition_folders, tmp_path)
    (path,) = walk([Path(name)])
    with pytest.raises(Unmeasured, match="cannot be read"):
        read_header(path)
    waivers = tmp_path / "w.yaml"
    told = "finding: a/b, reason: r, by: b, until: 2099-01-01"
    waivers.write_text(f"waivers: [{{picture: {name}, {told}}}]\n")
    assert read_waivers(waivers)[0].picture == name


def test_a_nul_character_is_refused_where_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "list.yaml"
    path.write_text('pictures:\n- picture: "a\\0.jpg"\n')
    with pytest.raises(SetupError, match="yaml:2: .*NUL"):
        read_list(path)
