"""Random and mangled input to every reader of ours: a clear refusal or a result, never a crash."""

from __future__ import annotations

import contextlib
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from pressworthy.colour.icc import DamagedProfile, parse
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.colour.spaces import identify
from pressworthy.finding import Unmeasured
from pressworthy.intake.opening import decode, read_header
from pressworthy.measure.metadata import read_iim, read_xmp
from pressworthy.placement import parse_bleed, parse_focus, parse_size
from pressworthy.report import readable
from pressworthy.testing import CREDITED, draw, write_picture, xmp
from pressworthy.units import UNITS
from pressworthy.units import parse as parse_quantity
from pressworthy.yamlfile import SetupError, read

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
