"""For tests of rules, ours and yours: pictures drawn to order, and what a rule says of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from jsonschema import Draft202012Validator
from jsonschema.exceptions import SchemaError
from numpy.typing import NDArray

from pressworthy.colour.convert import as_vips
from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.files.intake import take_in
from pressworthy.files.metadata.words import properties
from pressworthy.files.metadata.xmp import write
from pressworthy.judge import evidence_of, judge_set
from pressworthy.values.condition import Condition
from pressworthy.values.finding import Finding, Unmeasured
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.rule import Member, Rule
from pressworthy.values.units import MM_PER_INCH
from pressworthy.yamlfile import Document, canonical, faults_against

CREDITED = {
    "creator": "A. Maker",
    "credit": "A. Maker / The House",
    "copyright": "© 2026 A. Maker",
    "caption": "What the picture shows.",
}


def draw(
    width: int = 640, height: int = 480, *, depth: int = 8, channels: int = 3, seed: int = 1
) -> NDArray[Any]:
    """Return a picture of soft tones and fine detail, (height, width, channels) uint8 or uint16.

    Its median is near L* 54, its tones reach from deep to light, nothing is clipped.
    """
    rng = np.random.default_rng(seed)
    across, down = np.arange(width) / width * 9.0, np.arange(height) / height * 7.0
    tone = 0.50 + 0.36 * np.sin(across) * np.cos(down)[:, None]
    tone += rng.normal(0, 0.03, (height, width))
    shift = np.linspace(-0.04, 0.04, channels) if channels > 1 else np.zeros(1)
    values = np.clip(tone[..., None] + shift, 0.02, 0.98)
    dtype = np.uint8 if depth == 8 else np.uint16
    drawn: NDArray[Any] = np.round(values * (2**depth - 1)).astype(dtype)
    return drawn


def xmp(fields: Mapping[str, str]) -> bytes:
    """Return an XMP packet with creator, credit, copyright, caption or source."""
    return write(properties(fields))


def write_picture(
    path: Path,
    values: NDArray[Any],
    *,
    mode: str = "RGB",
    icc: bytes | str | None = "sRGB",
    ppi: float | tuple[float, float] | None = 300,
    words: Mapping[str, str] | None = None,
    fields: Mapping[str, Any] | None = None,
    **save: Any,
) -> Path:
    """Write a picture file and return its path; the suffix says which format.

    icc: a profile's bytes, the name of a standard RGB space, or None.
    words: descriptive metadata for the XMP packet; fields: further libvips metadata.
    save: options of libvips' saver, such as ``Q=75`` or ``compression="lzw"``.
    """
    image = as_vips(values, mode)
    across, down = ppi if isinstance(ppi, tuple) else (ppi, ppi)
    # a resolution of 0 is what libvips writes for "not stated"
    image = image.copy(xres=(across or 0) / MM_PER_INCH, yres=(down or 0) / MM_PER_INCH)
    if path.suffix == ".jpg":
        save = {"Q": 92, **save}
    if isinstance(icc, str):
        icc = rgb_profile(icc) if mode == "RGB" else None
    if icc:
        image.set_type(pyvips.GValue.blob_type, "icc-profile-data", icc)
    if words:
        image.set_type(pyvips.GValue.blob_type, "xmp-data", xmp(words))
    for name, value in (fields or {}).items():
        kind = pyvips.GValue.gint_type if isinstance(value, int) else pyvips.GValue.gstr_type
        kind = pyvips.GValue.blob_type if isinstance(value, bytes) else kind
        image.set_type(kind, name, value)
    image.write_to_file(str(path), **save)
    return path


def an_output(**changes: Any) -> Output:
    """Return an output for tests: four-colour print at 300 ppi on a coated paper."""
    condition = Condition("test", "print", (95.0, 0.0, -2.0), (16.0, 0.0, 0.0), (9.0, 0.0, 0.0), {})
    facts: dict[str, Any] = {
        "medium": "print",
        "colour": "cmyk",
        "ppi": 300.0,
        "bleed": 3.0,
        "viewing_distance": 317.5,
        "median": (20.0, 80.0),
        "condition": condition,
    }
    return Output(**{**facts, **changes})


def a_picture(
    path: Path, request: PlacementRequest | None = None, output: Output | None = None
) -> Picture:
    """Return the picture at `path` as rules see it."""
    return take_in(path, output or an_output(), request or PlacementRequest())


def options_of(rule: Rule, written: Mapping[str, Any]) -> dict[str, Any]:
    """Return a rule's options as it gets them, from what a house profile would say.

    written: option -> value, quantities with their units, such as ``{"least": "60 mm"}``. Raises
    ValueError where an option's schema is ill-formed, or an option is missing, unknown or wrong.
    """
    for option, fragment in rule.options.items():
        try:
            Draft202012Validator.check_schema(fragment)
        except SchemaError as error:
            raise ValueError(f"{rule.name}, option {option!r}: {error.message}") from None
    schema = {
        "type": "object",
        "properties": dict(rule.options),
        "required": list(rule.options),
        "additionalProperties": False,
    }
    if faults := faults_against(schema, Document(rule.name, dict(written))):
        raise ValueError(f"{rule.name}: {'; '.join(map(str, faults))}")
    options: dict[str, Any] = canonical(schema, dict(written))
    return options


def found(rule: Rule, picture: Picture, options: Mapping[str, Any]) -> dict[str, Finding]:
    """Return what the rule finds, by code. Raises `Unmeasured` as the rule does."""
    return {finding.code: finding for finding in rule.check(picture, options)}


def found_in_set(
    rule: Rule, pictures: Sequence[Picture], options: Mapping[str, Any]
) -> list[dict[str, Finding]]:
    """Return what the rule finds in the pictures as a set, by code, for each in their order.

    As in a run, a picture that the rule cannot measure takes no part. What it finds in a picture
    alone is told by `found`. Raises what the rule raises, and `judge.ContractBroken`.
    """
    evidence: dict[Member, Any] = {}
    members: list[Member] = []
    for picture in pictures:
        member = _member(picture, members)
        members.append(member)
        try:
            tuple(rule.check(picture, options))
            kept = evidence_of(rule, picture)
        except Unmeasured:
            continue
        if kept is not None:
            evidence[member] = kept
    in_set = judge_set(rule, evidence, options) if evidence else {}
    return [{one.code: one for one in in_set.get(member, ())} for member in members]


def _member(picture: Picture, before: Sequence[Member]) -> Member:
    placement = picture.placement
    member = Member(
        str(picture.path),
        page=placement.page if placement else "",
        placement=placement.size_and_bleed() if placement else "",
    )
    alike = sum(replace(one, number=1) == member for one in before)
    return replace(member, number=alike + 1)
