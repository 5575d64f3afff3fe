"""How well the pixel rules see: builds the labelled sets, fits the weights, prints the tables.

    python tests/benchmarks/photographs.py FOLDER            fetch the photographs
    python tests/benchmarks/detection.py FOLDER              measure and print docs/detection.md
    python tests/benchmarks/detection.py FOLDER --write      and write weights and document

A photograph never stands on both sides of a fit; for `source-profile` whole sources are held out.
Takes about a quarter of an hour on two cores; with --cache FOLDER, where all was measured before,
the tables alone take two minutes of a processor.
"""

from __future__ import annotations

import argparse
import functools
import json
import sys
import time
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np
import pyvips
from numpy.typing import NDArray
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(Path(__file__).parent)]

from dead_leaves import as_bytes, dead_leaves, unsharp  # noqa: E402
from photographs import FURTHER, Photograph, coloured, further, large, values  # noqa: E402

from pressworthy.colour.spaces import SPACES  # noqa: E402
from pressworthy.measure import source_space as source_model  # noqa: E402
from pressworthy.measure import upscaling  # noqa: E402
from pressworthy.measure.halo import (  # noqa: E402
    BARELY,
    FEWEST_EDGES,
    SOFTEST,
    edges_in,
    halo_of,
    numbers,
)
from pressworthy.measure.pixels import luma_tiles  # noqa: E402
from pressworthy.measure.survey import tile_places  # noqa: E402
from pressworthy.values.finding import Unmeasured  # noqa: E402

WEIGHTS = ROOT / "engine/pressworthy/measure/detection_weights.json"
DOCUMENT = ROOT / "docs/detection.md"
FORMATS = ("lossless", "q90", "q75")
CHROMA = {"4:4:4": "off", "4:2:0": "on"}
CODED = ("lossless", "q90 4:4:4", "q90 4:2:0", "q75 4:2:0")
Values = NDArray[np.uint8]


@dataclass(frozen=True)
class Sample:
    """One measured picture: which scene it shows, how it was treated, what was measured."""

    group: str
    label: dict[str, Any]
    measured: dict[str, Any] = field(default_factory=dict)


def saved(picture: Values, format: str) -> Any:
    """Return the picture as a libvips image after a trip through the file format.

    format: lossless, or JPEG's quality as q90, with its chroma sampling behind it; without it all
    of the chroma is kept from quality 90 on, a quarter below.
    """
    image = pyvips.Image.new_from_array(picture).copy(interpretation="srgb")
    if format == "lossless":
        return image
    quality, *chroma = format.split()
    mode = CHROMA[chroma[0]] if chroma else "auto"
    data = image.jpegsave_buffer(Q=int(quality[1:]), subsample_mode=mode)
    return pyvips.Image.new_from_buffer(data, "").copy_memory()


def shrunk(photo: Photograph, most: int) -> NDArray[np.float32]:
    """Return the middle of a photograph averaged n x n, n at least 2, so that it is sharp."""
    whole = pyvips.Image.new_from_array(values(photo))
    factor = min(4, max(2, whole.width // 1400))
    image = whole.shrink(factor, factor)
    width, height = min(image.width, most), min(image.height, most * 3 // 4)
    part = image.crop((image.width - width) // 2, (image.height - height) // 2, width, height)
    return np.asarray(part.numpy(), np.float32)


def auc(positive: Sequence[float], negative: Sequence[float]) -> float:
    from scipy.stats import rankdata

    ranks = rankdata([*positive, *negative])
    n, m = len(positive), len(negative)
    return float((ranks[:n].sum() - n * (n + 1) / 2) / (n * m))


# ---------------------------------------------------------------- sharpening

CAPTURE = ((0.5, 0.5), (0.5, 0.8), (0.8, 0.5), (0.8, 0.8))
OUTPUT = tuple((s, a) for s in (0.75, 1.0, 1.5, 2.0, 3.0) for a in (0.8, 1.5, 2.5))


def sharpened(scene: NDArray[np.float32], group: str, kind: str) -> list[Sample]:
    """Measure a scene in every state and format."""
    samples = []
    for sigma, amount in ((0.0, 0.0), *CAPTURE, *OUTPUT):
        state = "none" if not sigma else "capture" if (sigma, amount) in CAPTURE else "output"
        treated = as_bytes(unsharp(as_bytes(scene), sigma, amount) if sigma else scene)
        for form in FORMATS:
            label = {"kind": kind, "state": state, "sigma": sigma, "amount": amount, "format": form}
            samples.append(Sample(group, label, halo_numbers(saved(treated, form))))
    return samples


def halo_numbers(image: Any) -> dict[str, Any]:
    tiles = luma_tiles(image, tile_places(image.width, image.height))
    distance, level = edges_in(tiles)
    if len(distance) < FEWEST_EDGES:
        return {"edges": len(distance)}
    halo = halo_of(distance, level)
    return {"edges": halo.edges, "height": halo.height, "misfit": halo.misfit,
            "blur": halo.blur}  # fmt: skip


def leaf_states(seed: int) -> list[Sample]:
    blur, noise = (0.35, 0.6, 0.9)[seed % 3], (0.0, 1.0, 2.5)[seed // 3 % 3]
    scene = dead_leaves(seed=100 + seed, blur=blur, noise=noise)
    return sharpened(scene, f"leaves {seed}", "leaves")


def photo_states(job: tuple[int, Photograph]) -> list[Sample]:
    number, photo = job
    scene = shrunk(photo, 1400)
    if number % 2:
        scene = np.asarray(
            pyvips.Image.new_from_array(scene).gaussblur(0.5, precision="float").numpy()
        )
    noise = (0.0, 1.0, 2.5)[number % 3]
    noisy = scene + np.random.default_rng(number).normal(0, noise, scene.shape)
    return sharpened(noisy.astype(np.float32), photo.name, "photo")


STATES = ((0.0, 0.0), (0.5, 0.8), (1.0, 1.5), (1.5, 1.5), (2.0, 2.5), (3.0, 1.5))
LEAST_SIDE = 600


def of_use(folder: Path) -> list[Photograph]:
    """Return 14 photographs of every source, 42 wallpapers, evenly spaced: no small ones."""
    by_source: dict[str, list[Photograph]] = {}
    for photo in coloured(folder):
        if photo.source in ("wallpapers", "desks", "stock", "shop", "views", "studio"):
            image = pyvips.Image.new_from_file(str(photo.path))
            if min(image.width, image.height) >= LEAST_SIDE:
                by_source.setdefault(photo.source, []).append(photo)
    return [
        them[i]
        for source, them in by_source.items()
        for i in np.unique(
            np.linspace(0, len(them) - 1, min(len(them), 42 if source == "wallpapers" else 14))
            .round()
            .astype(int)
        )
    ]


def middle(photo: Photograph, size: str) -> Values:
    """Return the middle of a photograph as it is, or of its half, 1024 x 768 px at most."""
    whole, half = values(photo), size == "halved"
    height, width = whole.shape[:2]
    rows = min(height // 2 * 2, 1536) if half else min(height, 768)
    columns = min(width // 2 * 2, 2048) if half else min(width, 1024)
    top, left = (height - rows) // 16 * 8, (width - columns) // 16 * 8
    part = np.ascontiguousarray(whole[top : top + rows, left : left + columns])
    return as_bytes(pyvips.Image.new_from_array(part).shrink(2, 2).numpy()) if half else part


def strong_states(photo: Photograph) -> list[Sample]:
    """Measure a photograph at both sizes, as it is and sharpened, in three formats."""
    samples = []
    for size in ("full", "halved"):
        part = middle(photo, size)
        for sigma, amount in STATES:
            treated = as_bytes(unsharp(part, sigma, amount)) if sigma else part
            for form in CODED[:3]:
                image = saved(treated, form)
                tiles = luma_tiles(image, tile_places(image.width, image.height))
                distance, level = edges_in(tiles)
                measured: dict[str, Any] = {"edges": len(distance)}
                if len(distance) >= BARELY:
                    halo = halo_of(distance, level)
                    measured |= {"height": halo.height, "blur": halo.blur}
                    measured["numbers"] = numbers(tiles, distance, level, halo)
                label = {"source": photo.source, "size": size, "sigma": sigma, "amount": amount}
                samples.append(Sample(photo.name, {**label, "format": form}, measured))
    return samples


# ---------------------------------------------------------- true resolution

FACTORS = (1.25, 1.5, 2.0, 3.0, 4.0)
OFF_GRID = (1.37, 1.7, 2.37, 2.6, 3.3)
KERNELS = ("bilinear", "bicubic", "lanczos", "vips")


def enlarged(source: Values, factor: float, kernel: str, size: tuple[int, int]) -> Values:
    """Return the middle of `source`, enlarged by `factor` to fill size (width, height)."""
    width, height = size
    rows, columns = int(np.ceil(height / factor)) + 2, int(np.ceil(width / factor)) + 2
    top, left = max(0, len(source) - rows) // 2, max(0, source.shape[1] - columns) // 2
    part = np.ascontiguousarray(source[top : top + rows, left : left + columns])
    if kernel == "vips":
        big = pyvips.Image.new_from_array(part).resize(factor, kernel="cubic").numpy()
    else:
        filters = {name: Image.Resampling[name.upper()] for name in KERNELS[:3]}
        box = round(part.shape[1] * factor), round(part.shape[0] * factor)
        big = np.asarray(Image.fromarray(part).resize(box, filters[kernel]))
    return np.ascontiguousarray(big[:height, :width])


def size_states(job: tuple[int, Photograph]) -> list[Sample]:
    """Measure a photograph native, shrunk, soft, and enlarged by every factor.

    Each whole, at most 1024 x 768 px, and small, its middle of at most 512 x 384 px.
    """
    number, photo = job
    rng = np.random.default_rng(number)
    native = as_bytes(shrunk(photo, 1400))
    noisy = as_bytes(native + rng.normal(0, (0.0, 1.0, 2.5)[number % 3], native.shape))
    size = min(1024, native.shape[1]), min(768, native.shape[0])
    cut = (slice(0, size[1]), slice(0, size[0]))
    whole = values(photo)

    def source(factor: float) -> Values:
        """The photograph averaged n x n until it just fills the picture: the whole scene."""
        step = max(
            2, int(min(whole.shape[1] * factor / size[0], whole.shape[0] * factor / size[1]))
        )
        small = pyvips.Image.new_from_array(whole).shrink(step, step).numpy()
        return as_bytes(small + rng.normal(0, (0.0, 1.0, 2.5)[number % 3], small.shape))

    def blurred(picture: Values, sigma: float) -> Values:
        smooth = pyvips.Image.new_from_array(picture).gaussblur(sigma, precision="float").numpy()
        return as_bytes(smooth + rng.normal(0, 1, smooth.shape))

    def lessened(ratio: float) -> Values:
        box = round(whole.shape[1] * ratio), round(whole.shape[0] * ratio)
        small = np.asarray(Image.fromarray(whole).resize(box, Image.Resampling.LANCZOS))
        return np.ascontiguousarray(small[:768, :1024])

    pictures: list[tuple[dict[str, Any], Values]] = [
        ({"state": "native", "factor": 1.0}, noisy[cut]),
        ({"state": "native", "factor": 1.0}, as_bytes(unsharp(noisy[cut], 0.5, 0.5))),
        ({"state": "native", "factor": 1.0}, as_bytes(unsharp(noisy[cut], 0.8, 0.8))),
        ({"state": "soft", "factor": 1.0}, blurred(native[cut], 1.0)),
    ]
    for ratio in (0.77, 0.62, 0.5, 0.37):
        pictures.append(({"state": "shrunk", "factor": 1.0}, lessened(ratio)))
    kernels = iter(rng.permutation(KERNELS * 8))
    for factor in (*FACTORS, *OFF_GRID):
        grid = "on" if factor in FACTORS else "off"
        for sharp in (False, True):
            big = enlarged(source(factor), factor, str(next(kernels)), size)
            if sharp:
                big = as_bytes(unsharp(big, 1.0, 1.0))
            pictures.append(({"state": "enlarged", "factor": factor, "grid": grid}, big))
    for factor in (1.5, 2.0, 3.0):
        web = np.asarray(saved(source(factor), "q80").numpy())
        big = enlarged(web, factor, str(next(kernels)), size)
        pictures.append(({"state": "web", "factor": factor, "grid": "on"}, big))
    samples = []
    for label, picture in pictures:
        for extent, shown in (("whole", picture), ("small", inner(picture))):
            for form in FORMATS:
                image = saved(shown, form)
                parts = luma_tiles(image, tile_places(image.width, image.height))
                try:
                    numbers, lines = upscaling.features(parts)
                except Unmeasured:
                    continue
                measured = {"numbers": numbers, "lines": lines.astype(np.float32)}
                told = {**label, "format": form, "size": extent}
                samples.append(Sample(photo.name, told, measured))
    return samples


SUSPICION = 0.994
"""Probability from which the house tells that detail ends early."""
AFTER = (("as enlarged", 0.0), ("sharpened 1", 1.0), ("sharpened 1.5", 1.5))


def unseen_states(job: tuple[int, Photograph]) -> list[Sample]:
    """Measure a photograph of a source outside the fit: native, soft, shrunk, enlarged, repeated.

    Enlarged ones also sharpened after it, with a radius and an amount of 1 or 1.5. Each whole, at
    most 1024 x 768 px, and small, its middle of at most 512 x 384 px.
    """
    number, photo = job
    rng = np.random.default_rng(number)
    whole = values(photo)
    size = min(1024, whole.shape[1]), min(768, whole.shape[0])
    pictures: list[tuple[str, float, Values]] = []
    for part in (middle(photo, "full"), middle(photo, "halved")):
        smooth = pyvips.Image.new_from_array(part).gaussblur(1.0, precision="float").numpy()
        soft = as_bytes(smooth + rng.normal(0, 1, smooth.shape))
        pictures += [("native", 1, part), ("soft", 1, soft)]
        pictures.append(("native, sharpened", 1, as_bytes(unsharp(part, 1.5, 1.5))))
    for ratio in (0.77, 0.62, 0.5):
        box = round(whole.shape[1] * ratio), round(whole.shape[0] * ratio)
        small = np.asarray(Image.fromarray(whole).resize(box, Image.Resampling.LANCZOS))
        pictures.append(("shrunk", 1, np.ascontiguousarray(small[:768, :1024])))
    kernels = iter(rng.permutation(KERNELS * 4))
    for factor in (1.5, 2.0, 2.6, 3.0):
        fits = min(whole.shape[1] * factor / size[0], whole.shape[0] * factor / size[1])
        small = pyvips.Image.new_from_array(whole).shrink(*[max(2, int(fits))] * 2).numpy()
        noisy = as_bytes(small + rng.normal(0, (0.0, 1.0, 2.5)[number % 3], small.shape))
        big = enlarged(noisy, factor, str(next(kernels)), size)
        for state, sigma in AFTER:
            sharp = as_bytes(unsharp(big, sigma, sigma)) if sigma else big
            pictures.append((state, factor, sharp))
    native, cut = middle(photo, ("full", "halved")[number % 2]), number % 3 == 0
    for times in (2, 3, 4):
        part = native[: native.shape[0] // times + 1, : native.shape[1] // times + 1]
        big = np.repeat(np.repeat(part, times, 0), times, 1)
        big = np.ascontiguousarray(big[cut : cut + 768, cut : cut + 1024])
        pictures.append(("repeated", times, big))
    samples = []
    for state, factor, picture in pictures:
        for extent, shown in (("whole", picture), ("small", inner(picture))):
            for form in CODED:
                image = saved(shown, form)
                parts = luma_tiles(image, tile_places(image.width, image.height))
                label = {"state": state, "factor": factor, "format": form, "size": extent}
                try:
                    seen = {"seen": upscaling.resolution_of(parts)}
                except Unmeasured:
                    seen = {}
                samples.append(Sample(photo.name, {**label, "source": photo.source}, seen))
    return samples


def inner(picture: Values) -> Values:
    """Return the middle of a picture, at most 512 x 384 px."""
    height, width = picture.shape[:2]
    top, left = max(0, height - 384) // 2, max(0, width - 512) // 2
    return np.ascontiguousarray(picture[top : top + 384, left : left + 512])


def unseen_table(samples: Sequence[Sample]) -> list[str]:
    """Count what the rule says of sources outside its fit, by state, format, size and source.

    Of two shares the second counts what is unmeasured as not found.
    """
    state, factor, form, source, size = (
        column(samples, name) for name in ("state", "factor", "format", "source", "size")
    )
    seen = [s.measured.get("seen") for s in samples]
    known = np.array([one is not None for one in seen])
    proven = np.array([one is not None and one.proven for one in seen])
    near = proven & np.array([
        one is not None and one.sure and abs(one.factor / told - 1) < 0.05
        for one, told in zip(seen, factor, strict=True)
    ])  # fmt: skip
    early = np.array([one is not None and one.probability > SUSPICION for one in seen]) & ~proven
    shown = {
        "native": state == "native",
        "native, sharpened": state == "native, sharpened",
        "soft": state == "soft",
        "shrunk": state == "shrunk",
        **{name: state == name for name, _ in AFTER},
        **{
            f"repeated {times} times": (state == "repeated") & (factor == times)
            for times in (2, 3, 4)
        },
    }

    def share(of: Any, rows: Any, places: int = 0) -> str:
        measured = of[rows & known].mean()
        if known[rows].all():
            return f"{measured:.{places}%}"
        return f"{measured:.{places}%} / {of[rows].mean():.{places}%}"

    rows = []
    for name, of in shown.items():
        for f in CODED:
            its = of & (form == f)
            cells = []
            for z in ("whole", "small"):
                here = its & (size == z)
                right = share(near, here) if factor[here].max() > 1 else ""
                cells += [share(proven, here, 1), right, share(early, here)]
            rows.append([name, f, str((its & (size == "whole")).sum()), *cells])
    told = ["proven", "factor told, and right", "ends early"]
    head = ["state", "format", "pictures", *told, *(f"small: {one}" for one in told)]
    lines = table(head, rows)
    rows = [
        [held, z, *(share(proven, of & (source == held) & (size == z)) for of in shown.values())]
        for held in sorted(set(source))
        for z in ("whole", "small")
    ]
    lines += table(["source", "size", *shown], rows, "By source, all formats: share proven")
    rows = []
    for held in sorted(set(source)):
        enlarged = np.isin(state, [name for name, _ in AFTER]) & (source == held)
        of = [enlarged & (form == f) & (size == z) for z in ("whole", "small") for f in CODED]
        rows.append([held, *(share(proven, one) for one in of)])
    head = ["source", *(f"{z}, {f}" for z in ("whole", "small") for f in CODED)]
    return lines + table(head, rows, "Enlarged by interpolation, sharpened or not: share proven")


# ------------------------------------------------------------ source profile

BOOST = {"Display P3": 1.15, "opRGB": 1.22, "ROMM RGB": 1.30}
STYLES = ("as is", "warm", "cool", "vivid", "muted", "dark")
SMALL, LARGE = 450, 1024
"""Longest side, px, of pictures that are averaged 2 x 2 and 4 x 4 before they are judged."""
SAVINGS = ("small lossless", "small 4:4:4 q90", "small 4:2:0 q90", "small 4:2:0 q80",
           "large 4:2:0 q80")  # fmt: skip


def to_srgb(photo: Photograph, most: int) -> NDArray[np.float32]:
    """Return a photograph as sRGB of 0..1, at most so many px long."""
    image = pyvips.Image.new_from_file(str(photo.path))
    if image.hasalpha():
        image = image.flatten(background=255)
    if image.bands == 3 and "icc-profile-data" in image.get_fields():
        image = image.icc_transform("srgb", intent="relative", embedded=True)
    if image.bands == 1:
        image = image.bandjoin([image, image])
    step = -(-max(image.width, image.height) // most)
    coded = image.cast("float").shrink(step, step).numpy()
    return np.asarray(coded / np.float32(255))


def styled(coded: NDArray[np.float32], style: str) -> NDArray[np.float32]:
    """Return an sRGB picture as another eye would have graded it."""
    gains = {"warm": (1.08, 1.0, 0.88), "cool": (0.92, 1.0, 1.08), "dark": (0.7, 0.7, 0.7)}
    if style in gains:
        return np.asarray(np.clip(coded * np.array(gains[style], np.float32), 0, 1))
    factor = {"vivid": 1.3, "muted": 0.7}.get(style, 1.0)
    grey = coded @ np.array([0.299, 0.587, 0.114], np.float32)
    return np.asarray(np.clip(grey[..., None] + factor * (coded - grey[..., None]), 0, 1))


def versions(coded: NDArray[np.float32]) -> Iterator[tuple[str, bool, Values]]:
    """Yield an sRGB picture of 0..1 as values of each space: space, whether boosted, values.

    Boosted: the chroma of vivid colours is raised, as a wide-gamut original has it.
    """
    yield "sRGB", False, as_bytes(coded * 255)
    white = np.array([0.9642, 1.0, 0.8249], np.float32)
    xyz = (SPACES["sRGB"].decode(coded.astype(np.float64)) @ SPACES["sRGB"].colorants).astype(
        np.float32
    ) / white
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), xyz * np.float32(24389 / 3132) + 16 / 116)
    a, b = 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])
    vivid = np.clip((np.hypot(a, b) - 15) / 35, 0, 1)
    # by square roots, so that darks are told apart
    steps = np.linspace(0, 1, 16384)
    for space, boost in BOOST.items():
        into = np.linalg.inv(SPACES[space].colorants).astype(np.float32)
        coding = np.interp(steps**2, SPACES[space].decode(steps), steps).astype(np.float32) * 255
        for boosted in (False, True):
            there = xyz
            if boosted:
                more = 1 + (boost - 1) * vivid
                g = np.stack(
                    [f[..., 1] + a * more / 500, f[..., 1], f[..., 1] - b * more / 200], -1
                )
                there = np.where(g > 6 / 29, g**3, (g - 16 / 116) * (3132 / 24389))
            roots = np.sqrt(np.clip((there * white).astype(np.float32) @ into, 0, 1))
            yield space, boosted, as_bytes(coding[np.rint(roots * 16383).astype(np.int32)])


def delivered(picture: Values, saving: str) -> NDArray[np.float32]:
    """Return the cells that are judged of a picture saved in that way."""
    size, *how = saving.split()
    image = pyvips.Image.new_from_array(picture).copy(interpretation="srgb")
    if how != ["lossless"]:
        data = image.jpegsave_buffer(Q=int(how[1][1:]), subsample_mode=CHROMA[how[0]])
        image = pyvips.Image.new_from_buffer(data, "")
    factor = 4 if size == "large" else 1
    small = image.shrink(factor, factor).numpy()
    return source_model.cells(small, factor, subsampled=coding_of(saving).subsampled)


def coding_of(saving: str) -> source_model.Coding:
    size, *how = saving.split()
    if size == "large":
        return source_model.Coding(averaged=True)
    if how == ["lossless"]:
        return source_model.Coding()
    return source_model.Coding.of_jpeg(int(how[1][1:]), subsampled=how[0] == "4:2:0")


def space_states(job: tuple[int, Photograph]) -> list[Sample]:
    """Measure a photograph as a picture of every candidate space, in several styles and savings."""
    number, photo = job
    samples = []

    def measure(coded: NDArray[np.float32], style: str, savings: Sequence[str]) -> None:
        for space, boosted, picture in versions(coded):
            for saving in savings:
                try:
                    grid = delivered(picture, saving)
                except Unmeasured:
                    continue
                colours, steps = source_model.sample(grid), source_model.steps(grid)
                why = {
                    name: source_model.uninformative(source_model.lab_of(colours, name))
                    for name in source_model.CANDIDATES
                }
                measured = {
                    "numbers": source_model.features(colours, steps, coding_of(saving)),
                    "why": why,
                    "imaginary": float(source_model.imaginary(colours).mean()),
                }
                label = {"source": photo.source, "space": space, "boost": boosted, "style": style,
                         "saving": saving}  # fmt: skip
                samples.append(Sample(photo.name, label, measured))

    coded = to_srgb(photo, SMALL)
    measure(coded, "as is", [one for one in SAVINGS if one.startswith("small")])
    style = STYLES[1 + number % (len(STYLES) - 1)]
    measure(styled(coded, style), style, ["small 4:2:0 q90"])
    coded = to_srgb(photo, LARGE)
    if max(coded.shape) > LARGE / 2:
        measure(coded, "as is", [one for one in SAVINGS if one.startswith("large")])
    return samples


# ------------------------------------------------------------------- fitting


def networks(
    numbers: Any,
    classes: Any,
    hidden: int,
    seeds: int,
    alpha: float,
    weight: Any = None,
    batch: int = 256,
    rounds: int = 100,
) -> tuple[Any, Any, list[Any]]:
    """Return mean, scale and small networks, in the shape `weights.votes` reads.

    hidden: units in the one tanh layer; weight: how much each row counts, alike unless given;
    batch: rows a step; rounds: how often all rows are seen.
    """
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.neural_network import MLPClassifier

    mean, scale = numbers.mean(axis=0), numbers.std(axis=0) + 1e-6
    scaled = np.clip((numbers - mean) / scale, -4, 4)
    if weight is not None:
        weight = weight / weight.mean()
    members = []
    for seed in range(seeds):
        model = MLPClassifier(
            (hidden,), activation="tanh", alpha=alpha, random_state=seed, max_iter=rounds,
            learning_rate_init=3e-3, batch_size=batch,
        )  # fmt: skip
        with warnings.catch_warnings():
            # these rounds are where it is stopped, not where it settles
            warnings.simplefilter("ignore", ConvergenceWarning)
            model.fit(scaled, classes, sample_weight=weight)
        layers = list(zip(model.coefs_, model.intercepts_, strict=True))
        matrix, bias = layers[-1]
        if matrix.shape[1] == 1:
            layers[-1] = np.hstack([0 * matrix, matrix]), np.r_[0, bias]
        members.append(layers)
    return mean, scale, members


def votes(fitted: tuple[Any, Any, list[Any]], numbers: Any) -> NDArray[np.float64]:
    """Return what `weights.votes` would, for many pictures."""
    mean, scale, members = fitted
    scaled = np.clip((numbers - mean) / scale, -4, 4)
    total = np.zeros(1)
    for layers in members:
        out = scaled
        for i, (matrix, bias) in enumerate(layers):
            out = (np.tanh(out) if i else out) @ matrix + bias
        total = total + log_softmax(out)
    return log_softmax(total / len(members))


def log_softmax(out: Any) -> NDArray[np.float64]:
    least = out - out.max(axis=1, keepdims=True)
    return np.asarray(least - np.log(np.exp(least).sum(axis=1, keepdims=True)))


def plain(fitted: tuple[Any, Any, list[Any]]) -> dict[str, Any]:
    def short(array: Any) -> Any:
        return [short(row) for row in array] if np.ndim(array) else float(f"{array:.5g}")

    mean, scale, members = fitted
    return {
        "mean": short(mean),
        "scale": short(scale),
        "members": [[[short(m), short(b)] for m, b in layers] for layers in members],
    }


def column(samples: Sequence[Sample], name: str, missing: Any = "") -> NDArray[Any]:
    return np.array([s.label.get(name, missing) for s in samples])


# -------------------------------------------------------------------- tables


def sharpening_table(samples: Sequence[Sample]) -> list[str]:
    height, blur, misfit = (
        np.array([s.measured.get(name, np.nan) for s in samples], float)
        for name in ("height", "blur", "misfit")
    )
    kind, state, form, sigma, amount = (
        column(samples, name) for name in ("kind", "state", "format", "sigma", "amount")
    )
    group = np.array([s.group for s in samples])
    edges = np.array([s.measured["edges"] for s in samples])
    measured = np.isfinite(height) & ~((blur > SOFTEST) & (height < 0.05))
    strong = (sigma >= 1.5) & (amount >= 1.5)
    start = measured & (kind == "photo") & (state == "none") & (form == "lossless")
    focus = np.isin(group, group[start & (blur < 1) & (edges >= 60)])
    clean = focus & np.isin(group, group[start & (height < 0.10)])
    sets = {
        "dead leaves": kind == "leaves",
        "photographs, all measurable": kind == "photo",
        "photographs in focus": (kind == "photo") & focus,
        "photographs in focus and without halos": (kind == "photo") & clean,
    }
    lines = [
        "| set | groups | measurable | AUC height | AUC misfit | limit | found | flagged, none "
        "| flagged, capture | balanced, none | balanced, none and capture |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for name, of in sets.items():
        use = of & measured
        low = use & (state != "output")
        scores = [auc(v[use & strong], v[low]) for v in (height, misfit)]
        for limit in (0.12, 0.15, 0.20):
            hit = (height[use & strong] > limit).mean()
            none = (height[use & (state == "none")] > limit).mean()
            capture = (height[use & (state == "capture")] > limit).mean()
            both = (height[low] > limit).mean()
            lines.append(
                f"| {name} | {len(set(group[use]))} | {measured[of].mean():.0%} | "
                f"{scores[0]:.3f} | {scores[1]:.3f} | {limit:.0%} | {hit:.1%} | {none:.1%} | "
                f"{capture:.1%} | "
                f"{(1 + hit - none) / 2:.3f} | {(1 + hit - both) / 2:.3f} |"
            )
    return lines


STRONG_HALO = 0.25
"""Height that the house takes for sharpening by itself."""
SHARP_LIMIT = 99
"""Percentile of unsharpened photographs that sets the limit of the chance."""


def strong_table(samples: Sequence[Sample]) -> tuple[list[str], dict[str, Any]]:
    """Fit the chance of strong sharpening; count what a fit without the source finds of it."""
    from sklearn.linear_model import LogisticRegression

    source, size, form, sigma, amount = (
        column(samples, name) for name in ("source", "size", "format", "sigma", "amount")
    )
    edges = np.array([s.measured["edges"] for s in samples])
    height, blur = (
        np.array([s.measured.get(name, 0.0) for s in samples]) for name in ("height", "blur")
    )
    known = edges >= BARELY
    length = max(len(s.measured["numbers"]) for s in samples if "numbers" in s.measured)
    values = np.array([s.measured.get("numbers", np.zeros(length)) for s in samples])
    strong, none, camera = (sigma >= 1.5) & (amount >= 1.5), sigma == 0, sigma == 0.5
    usual = (edges >= FEWEST_EDGES) & ~((blur > SOFTEST) & (height < 0.05))
    place = [(s.group, s.label["size"], s.label["format"]) for s in samples]
    before = {place[i] for i in np.flatnonzero(usual & none)}
    counted = np.array([one in before for one in place])

    def fitted(rows: Any) -> tuple[Any, Any, list[Any]]:
        mean, scale = values[rows].mean(axis=0), values[rows].std(axis=0) + 1e-6
        scaled = np.clip((values[rows] - mean) / scale, -4, 4)
        # every source weighs alike, and so do the sharpened and the others
        _, which, sizes = np.unique(source[rows], return_inverse=True, return_counts=True)
        weight = 1 / sizes[which]
        for kind in (strong[rows], ~strong[rows]):
            weight[kind] *= len(rows) / 2 / weight[kind].sum()
        model = LogisticRegression(C=0.2, max_iter=1000)
        model.fit(scaled, strong[rows], sample_weight=weight)
        matrix = np.stack([0 * model.coef_[0], model.coef_[0]], axis=1)
        return mean, scale, [[(matrix, np.array([0.0, model.intercept_[0]]))]]

    # quartered chroma hardly touches luma: it is scored, not fitted
    scored = form == CODED[2]
    use = known & (edges >= FEWEST_EDGES // 2) & (strong | none | camera) & ~scored
    chance = np.zeros(len(samples))
    for held in sorted(set(source)):
        of = source == held
        chance[of] = np.exp(votes(fitted(np.flatnonzero(use & ~of)), values[of])[:, 1])
    chance[~known] = 0
    found = usual & (height > STRONG_HALO)
    for held in sorted(set(source)):
        others = (source != held) & none & counted & ~scored
        found |= (source == held) & (chance > np.percentile(chance[others], SHARP_LIMIT))
    today = usual & (height > 0.12)
    head = ["pictures", "measurable", "strong: found", "of all", "by the halo over 12 % alone",
            "unmeasured", "flagged, none", "by the halo alone", "flagged, camera"]  # fmt: skip

    def row(rows: Any) -> list[str]:
        its = rows & counted
        shares = [found[its & strong], found[rows & strong], today[its & strong],
                  ~(usual | found)[its & strong], found[its & none], today[its & none],
                  found[its & camera]]  # fmt: skip
        counts = [str((one & none).sum()) for one in (rows, its)]
        return counts + [f"{share.mean():.1%}" for share in shares]

    sizes = [(z, f) for z in ("full", "halved") for f in CODED[:3]]
    rows = [[z, f, *row((size == z) & (form == f))] for z, f in sizes]
    lines = table(["size", "format", *head], rows)
    rows = [[held, *row(source == held)] for held in sorted(set(source))]
    lines += ["", *table(["source held out", *head], rows)]
    rows = []
    for held in sorted(set(source)):
        cells = []
        for z, f in sizes:
            its = strong & (source == held) & (size == z) & (form == f)
            cells.append(f"{found[its & counted].mean():.0%} / {found[its].mean():.0%}")
        rows.append([held, *cells])
    head = ["source held out", *(f"{z}, {f}" for z, f in sizes)]
    lines += table(head, rows, "Strong sharpening found by source, size and chroma")
    limit = float(np.percentile(chance[none & counted & ~scored], SHARP_LIMIT))
    return lines, {**plain(fitted(np.flatnonzero(use))), "limit": round(limit, 4)}


def resolution_table(samples: Sequence[Sample]) -> tuple[list[str], dict[str, Any]]:
    from sklearn.linear_model import Ridge
    from sklearn.model_selection import GroupKFold

    numbers = np.array([s.measured["numbers"] for s in samples])
    group = np.array([s.group for s in samples])
    state, form, grid, size = (
        column(samples, name) for name in ("state", "format", "grid", "size")
    )
    factor, whole = column(samples, "factor"), size == "whole"
    classes = (factor >= 1.5).astype(int)
    # what a soft picture is, suspicion means too: it is scored, not fitted, as small ones are
    fit = whole & (((factor == 1) & (state != "soft")) | (factor >= 1.5))
    cuts = [upscaling.FEATURES.index(f"share {c:.2f} p97") for c in upscaling.CUTS]

    before_cells = numbers[:, : upscaling.BEFORE_CELLS]

    def fitted(rows: Any) -> tuple[Any, Any, Any]:
        # by 5 networks a fit differed from the next by 10 softened pictures in 100
        net = networks(numbers[rows], classes[rows], 8, 16, 1.0)
        sizes = Ridge(1.0).fit(numbers[rows][:, cuts], np.log(factor[rows]))
        larger = rows[factor[rows] > 1]
        above = (factor[larger] > 2).astype(int)
        doubled = networks(before_cells[larger], above, 8, 3, 1.0)
        return net, sizes, doubled

    score, reach, double = np.zeros((3, len(samples)))
    for train, test in GroupKFold(8).split(numbers, classes, group):
        net, sizes, doubled = fitted(train[fit[train]])
        score[test] = votes(net, numbers[test])[:, 1]
        double[test] = votes(doubled, before_cells[test])[:, 1]
        reach[test] = np.exp(np.clip(sizes.predict(numbers[test][:, cuts]), 0, 2))
    chance = np.exp(score)
    named = np.array([
        upscaling.factor_from(s.measured["lines"].astype(float), c, d > np.log(0.5)) or 0.0
        for s, c, d in zip(samples, chance, double, strict=True)
    ])  # fmt: skip
    lines = [
        "| format | AUC against native | soft | shrunk | ends early: enlarged | native "
        "| soft | shrunk | false proof: native | soft | shrunk |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    for z, f in product(("whole", "small"), FORMATS):
        here = (form == f) & (size == z)
        positive = here & (state == "enlarged") & (factor >= 1.5) & (grid == "on")
        negative = [here & (state == name) for name in ("native", "soft", "shrunk")]
        aucs = " | ".join(f"{auc(score[positive], score[n]):.3f}" for n in negative)
        early = " | ".join(f"{(chance[n] > SUSPICION).mean():.1%}" for n in (positive, *negative))
        proof = " | ".join(f"{(named[n] > 0).sum()} of {n.sum()}" for n in negative)
        named_so = f if z == "whole" else f"{z}, {f}"
        lines.append(f"| {named_so} | {aucs} | {early} | {proof} |")
    lines += [
        "", "Proof by factor: share proven / of those, factor within 5 %:", "",
        "| format | " + " | ".join(f"{v:g}" for v in sorted((*FACTORS, *OFF_GRID))) + " |",
        "|---" * (1 + len(FACTORS) + len(OFF_GRID)) + "|",
    ]  # fmt: skip
    for f in FORMATS:
        cells = []
        for value in sorted((*FACTORS, *OFF_GRID)):
            rows = whole & (form == f) & (factor == value) & (state == "enlarged")
            proven = rows & (named > 0)
            near = np.abs(named[proven] / value - 1) < 0.05
            cells.append(f"{proven.sum() / rows.sum():.0%} / {near.mean() if len(near) else 0:.0%}")
        lines.append(f"| {f} | " + " | ".join(cells) + " |")
    unproven = whole & (factor >= 1.5) & (named == 0) & (state == "enlarged")
    error = np.abs(reach[unproven] / factor[unproven] - 1)
    lines += ["", f"Without proof the estimate is off by {np.median(error):.0%} (median)."]
    net, sizes, doubled = fitted(np.flatnonzero(fit))
    reach_of = {"reach": sizes.coef_.tolist(), "reach bias": float(sizes.intercept_)}
    return lines, {
        "true-resolution": {**plain(net), **reach_of},
        "more than doubled": plain(doubled),
    }


ODD, NOTE, QUERY = 92.5, 98.7, 99.4
"""Percentiles of right tags that set the gains of single pictures, every source alike."""
DELIVERY, LEAST = 99.5, 0.4
"""Percentile of right deliveries that sets their limits by two spaces, every source alike; and the
least limit for twelve pictures, nats: a source like none of these needs some room."""
FIRST = (
    "gcompris", "kit", "wallpapers", "desks", "portraits", "stock", "shop", "views", "studio",
)  # fmt: skip
PHOTOS = FIRST + FURTHER
PAIRS = ((0, 3), (3, 0), (1, 3), (3, 1), (0, 1), (1, 0), (2, 0))
"""Truth and tag, by their place in CANDIDATES, of the wrong tags that are told of."""
SHORT = ("sRGB", "opRGB", "P3", "ROMM")


def wrong_tags(pairs: Iterable[tuple[int, int]] = PAIRS) -> list[str]:
    return [f"{SHORT[truth]}>{SHORT[tag]}" for truth, tag in pairs]


def of_spaces(rows: Any, numbers: Any, truth: Any, source: Any) -> Any:
    """Fit the source profile's members on these rows: a linear one and three small networks.

    They err differently. 20 units were chosen, of 12 to 20, by ln p on folds of whole sources.
    """
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.linear_model import LogisticRegression

    # every source weighs alike, or the largest would set the style; sRGB has one version of each
    # picture, the others two: equal priors
    _, which, sizes = np.unique(source[rows], return_inverse=True, return_counts=True)
    weight = np.where(truth[rows] == 0, 2.0, 1.0) / sizes[which]
    # scikit-learn divides alpha by the rows of a step
    mean, scale, members = networks(
        numbers[rows], truth[rows], 20, 3, 16.0, weight, batch=1024, rounds=40
    )
    scaled = np.clip((numbers[rows] - mean) / scale, -4, 4)
    linear = LogisticRegression(C=0.05, max_iter=80)
    with warnings.catch_warnings():
        # as above
        warnings.simplefilter("ignore", ConvergenceWarning)
        linear.fit(scaled, truth[rows], sample_weight=weight / weight.mean())
    return mean, scale, [[(linear.coef_.T, linear.intercept_)], *members]


def without_source(job: tuple[str, Any, Any, Any]) -> NDArray[np.float64]:
    """Return ln p of the pictures of one source by networks that never saw it."""
    held, numbers, truth, source = job
    fitted = of_spaces(np.flatnonzero(source != held), numbers, truth, source)
    return votes(fitted, numbers[source == held])


@dataclass(frozen=True, eq=False)
class Judged:
    """All versions of all photographs, and ln p of each space by networks that never saw them.

    mute: (pictures, tags), where a picture tells nothing under a tag: grey or toned.
    """

    log_p: NDArray[np.float64]
    truth: NDArray[Any]
    source: NDArray[Any]
    saving: NDArray[Any]
    style: NDArray[Any]
    photo: NDArray[Any]
    mute: NDArray[Any]

    @functools.cache  # noqa: B019 - there is one of it
    def gain(self, tag: int) -> tuple[NDArray[np.float64], NDArray[Any]]:
        """Return the gain of every picture under a tag, and the best other space."""
        others = self.log_p.copy()
        others[:, tag] = -np.inf
        return others.max(axis=1) - self.log_p[:, tag], others.argmax(axis=1)

    def rows(self, truth: int, saving: str, source: str | Sequence[str] = PHOTOS) -> Any:
        """Return which are photographs of a space, saved so, of these sources, mute ones too."""
        chosen = (self.style == "as is") & (self.truth == truth) & (self.saving == saving)
        return chosen & np.isin(self.source, source)

    def heard(self, truth: int, tag: int, saving: str, source: str | Sequence[str] = PHOTOS) -> Any:
        return self.rows(truth, saving, source) & ~self.mute[:, tag]

    @functools.cache  # noqa: B019
    def limit(self, tag: int, q: float, saving: str, without: str = "") -> float:
        """Return the q-th percentile of right tags where they are saved so that it is highest.

        Of savings that dull what pixels say as much as `saving` does. Every source weighs alike;
        one may be left out.
        """
        of = [name for name in PHOTOS if name != without]
        dulled = coding_of(saving).dulled
        limits = []
        for alike in (one for one in SAVINGS if coding_of(one).dulled == dulled):
            rows = self.heard(tag, tag, alike, of)
            _, which, sizes = np.unique(self.source[rows], return_inverse=True, return_counts=True)
            # of a few pictures each would weigh as much as a dozen of another source
            weight = 1 / np.maximum(sizes, 2 * FEWEST_OF_SOURCE)[which]
            gain = self.gain(tag)[0][rows]
            limits.append(np.percentile(gain, q, weights=weight, method="inverted_cdf"))
        return float(max(limits))

    def flagged(self, truth: int, tag: int, saving: str, q: float, mute: bool = False) -> Any:
        """Return by source the share above the limit set by the others. mute: counted as missed."""
        shares = []
        for source in PHOTOS:
            rows = self.heard(truth, tag, saving, source)
            hits = (self.gain(tag)[0][rows] > self.limit(tag, q, saving, source)).sum()
            of = (self.rows(truth, saving, source) if mute else rows).sum()
            shares.append(hits / of if of >= FEWEST_OF_SOURCE else np.nan)
        return np.array(shares)

    def deliveries(
        self, truth: int, tag: int, saving: str, source: str, size: int, seed: int
    ) -> Any:
        """Draw deliveries of one source: rows (DRAWN, size), one version of each photograph."""
        rng = np.random.default_rng(seed)
        rows = np.flatnonzero(self.heard(truth, tag, saving, source))
        names, which = np.unique(self.photo[rows], return_inverse=True)
        if len(names) < FEWEST_OF_SOURCE:
            return np.zeros((0, size), int)
        first = np.array([np.flatnonzero(which == i)[0] for i in range(len(names))])
        last = np.array([np.flatnonzero(which == i)[-1] for i in range(len(names))])
        chosen = rng.random((DRAWN, len(names))).argsort(axis=1)[:, :size]
        return rows[np.where(rng.random(chosen.shape) < 0.5, first[chosen], last[chosen])]

    @functools.cache  # noqa: B019
    def pooled(self, truth: int, tag: int, saving: str, source: str, size: int, seed: int) -> Any:
        """Return the mean gains of deliveries by space, (deliveries, 4)."""
        drawn = self.deliveries(truth, tag, saving, source, size, seed)
        mean = (self.log_p[drawn] - self.log_p[drawn][..., tag : tag + 1]).mean(axis=1)
        # never told, and yet a number
        mean[:, tag] = -1e9
        return mean

    @functools.cache  # noqa: B019
    def most_right(self, tag: int, size: int, without: str = "") -> NDArray[np.float64]:
        """Return by space what right deliveries of a tag hardly exceed, however saved.

        Of all sources but one. As many are drawn of each, so that every source weighs alike.
        """
        by_saving = []
        for saving in SAVINGS:
            drawn = [
                self.pooled(tag, tag, saving, source, size, 1)
                for source in PHOTOS
                if source != without
            ]
            by_saving.append(np.percentile(np.concatenate(drawn), DELIVERY, axis=0))
        return np.asarray(np.max(by_saving, axis=0))

    @functools.cache  # noqa: B019
    def delivery_limits(self, tag: int, size: int, without: str = "") -> NDArray[np.float64]:
        """Return the limits by space for deliveries of a tag, set by the sources but one.

        Two spaces have one limit, whichever of them is the tag: a source that looks narrow under
        the one tells how far another may look wide under the other.
        """
        towards = self.most_right(tag, size, without)
        back = [self.most_right(space, size, without)[tag] for space in range(4)]
        return np.asarray(np.maximum(np.maximum(towards, back), LEAST * np.sqrt(12 / size)))

    def delivered(self, truth: int, tag: int, saving: str, size: int, notes: bool = False) -> Any:
        """Return by source the share of deliveries above the limits set by the others.

        notes: of sRGB and Display P3 taken for each other, which is a note, in place of the rest.
        """
        alike = (0, 2) if tag in (0, 2) else ()
        stops = [space for space in range(4) if space != tag and space not in alike]
        spaces = [space for space in alike if space != tag] if notes else stops
        shares = []
        for source in PHOTOS:
            seen = self.pooled(truth, tag, saving, source, size, 2 if truth == tag else 3)
            above = seen - self.delivery_limits(tag, size, source)
            told = (above > 0)[:, spaces].any(axis=1)
            if notes:
                told &= np.isin(above.argmax(axis=1), spaces)
            else:
                told &= np.isin(above.argmax(axis=1), stops)
            shares.append(told.mean() if len(seen) else np.nan)
        return np.array(shares)


FEWEST_OF_SOURCE, DRAWN = 12, 2000
"""Photographs of a source and saving that make a share, and deliveries drawn of them."""


def space_table(samples: Sequence[Sample], cache: Path | None) -> tuple[list[str], dict[str, Any]]:
    names = list(source_model.CANDIDATES)
    numbers = np.array([s.measured["numbers"] for s in samples], np.float32)
    source = column(samples, "source")
    truth = np.array([names.index(s.label["space"]) for s in samples])
    kept = cache / "held-out.npy" if cache else None
    if kept and kept.exists():
        log_p = np.load(kept)
    else:
        log_p = np.zeros((len(samples), 4))
        held = sorted(set(source))
        with Pool(2) as pool:
            found = pool.imap(without_source, ((name, numbers, truth, source) for name in held))
            for name, chances in zip(held, found, strict=True):
                log_p[source == name] = chances
        if kept:
            np.save(kept, log_p)
    mute = np.array([[bool(s.measured["why"][name]) for name in names] for s in samples])
    photo = np.array([s.group for s in samples])
    seen = Judged(
        log_p, truth, source, column(samples, "saving"), column(samples, "style"), photo, mute
    )
    lines = [
        *single_lines(seen), *named_lines(seen), *delivery_lines(seen), *set_lines(seen),
        *style_lines(seen),
    ]  # fmt: skip
    imaginary = np.array([s.measured["imaginary"] for s in samples])
    shares = [(imaginary[seen.rows(t, SAVINGS[1])] > 0.01).mean() for t in (0, 3)]
    lines += ["", "Over 1 % imaginary colours when read as ROMM RGB: "]
    lines[-1] += f"{shares[0]:.1%} of sRGB pictures, {shares[1]:.1%} of ROMM RGB pictures."
    thresholds = {
        # fine chroma, and 4:2:0 at both qualities
        key: {
            name: [round(seen.limit(tag, q, SAVINGS[i]), 2) for i in (0, 2, 3)]
            for tag, name in enumerate(names)
        }
        for key, q in (("odd", ODD), ("note", NOTE), ("query", QUERY))
    }
    limits = {
        name: {
            other: [
                [size, round(float(seen.delivery_limits(tag, size)[space]), 2)]
                for size in (3, 4, 6, 8, 12)
            ]
            for space, other in enumerate(names)
            if space != tag
        }
        for tag, name in enumerate(names)
    }
    every = of_spaces(np.arange(len(samples)), numbers, truth, source)
    return lines, {**plain(every), **thresholds, "delivery": limits}


def table(head: Sequence[str], rows: Iterable[Sequence[str]], title: str = "") -> list[str]:
    told = ["", f"{title}:", ""] if title else []
    made = ["| " + " | ".join(row) + " |" for row in rows]
    return [*told, "| " + " | ".join(head) + " |", "|---" * len(head) + "|", *made]


def percent(share: Any, places: int = 0) -> str:
    return "" if np.isnan(share) else f"{share:.{places}%}"


def single_lines(seen: Judged) -> list[str]:
    """Single pictures by saving and by source, held out."""
    rows = []
    for tag, name in enumerate(SHORT):
        for saving in SAVINGS:
            false = seen.flagged(tag, tag, saving, NOTE)
            cells = [name, saving, f"{np.nanmean(false):.1%} ({np.nanmax(false):.1%})"]
            for truth in range(4):
                both = [
                    np.nanmean(seen.flagged(truth, tag, saving, NOTE, m)) for m in (False, True)
                ]
                cells.append("" if truth == tag else f"{both[0]:.0%} / {both[1]:.0%}")
            rows.append(cells)
    lines = table(
        ["tag", "saved", "false alarms (worst source)", *(f"finds {n}" for n in SHORT)], rows
    )
    rows = []
    for source in PHOTOS:
        at = PHOTOS.index(source)
        cells = [source]
        for tag in range(4):
            false = [seen.flagged(tag, tag, saving, NOTE)[at] for saving in SAVINGS]
            at_most = [f"{seen.limit(tag, NOTE, SAVINGS[i], source):.1f}" for i in (0, 2, 3)]
            cells.append(f"{', '.join(at_most)}: {np.nanmean(false):.1%}")
        for truth, tag in PAIRS[:4]:
            both = [
                np.nanmean([seen.flagged(truth, tag, saving, NOTE, m)[at] for saving in SAVINGS])
                for m in (False, True)
            ]
            cells.append(f"{both[0]:.0%} / {both[1]:.0%}")
        rows.append(cells)
    head = ["source held out", *(f"{n}: limit, false" for n in SHORT), *wrong_tags(PAIRS[:4])]
    return lines + table(head, rows, "By source, all savings alike")


def named_lines(seen: Judged) -> list[str]:
    """How often the space that is named is right, where a wrong tag is told."""
    rows = []
    for truth, tag in PAIRS[:6]:
        best = seen.gain(tag)[0]
        picked = np.zeros(len(best), bool)
        for saving in SAVINGS:
            above = best > seen.limit(tag, NOTE, saving)
            picked |= seen.heard(truth, tag, saving) & above
        told = [likely(seen.log_p[i], tag) for i in np.flatnonzero(picked)]
        true = source_model.CANDIDATES[truth]
        alone = [one for one in told if len(one) == 1]
        first = np.mean([one[0][0] == true for one in told])
        odds = np.mean([one[0][1] for one in told])
        either = np.mean([true in dict(one) for one in told])
        right = np.mean([one[0][0] == true for one in alone]) if alone else np.nan
        rows.append([wrong_tags([(truth, tag)])[0], f"{first:.0%}", f"{odds:.0%}",
                     f"{len(alone) / len(told):.0%}", percent(right), f"{either:.0%}"])  # fmt: skip
    head = ["truth>tag", "likeliest right", "its mean odds", "named alone", "of these right",
            "among those named"]  # fmt: skip
    return table(head, rows, "Spaces named where a wrong tag is told, P3 folded into sRGB")


def likely(log_p: Any, tag: int) -> list[tuple[str, float]]:
    names = source_model.CANDIDATES
    space = source_model.SourceSpace(names[tag], dict(zip(names, log_p.tolist(), strict=True)), {})
    return space.likely()


def delivery_lines(seen: Judged) -> list[str]:
    """Deliveries wrong throughout: by size, by saving and by source."""
    stops = PAIRS[:6]

    def found(truth: int, tag: int, saving: str, size: int) -> Any:
        return seen.delivered(truth, tag, saving, size)

    rows = []
    for size in (3, 4, 6, 8, 12):
        for saving in SAVINGS if size >= 6 else SAVINGS[2:3]:
            false = [np.nanmean(found(tag, tag, saving, size)) for tag in range(4)]
            share = [np.nanmean(found(truth, tag, saving, size)) for truth, tag in stops]
            noted = [
                np.nanmean(seen.delivered(truth, 0, saving, size, notes=True)) for truth in (0, 2)
            ]
            cells = [f"{one:.1%}" for one in false] + [f"{one:.0%}" for one in share]
            rows.append([str(size), saving, *cells, f"{noted[0]:.1%}", f"{noted[1]:.0%}"])
    head = ["pictures", "saved", *(f"false, {n}" for n in SHORT), *wrong_tags(stops),
            "noted as P3: sRGB", "P3"]  # fmt: skip
    lines = table(head, rows, "Deliveries wrong throughout, means over sources held out")
    rows = []
    for at, source in enumerate(PHOTOS):

        def mean(truth: int, tag: int, at: int = at) -> float:
            by_saving = [seen.delivered(truth, tag, saving, 12)[at] for saving in SAVINGS]
            return float(np.nanmean(by_saving))

        limit = seen.delivery_limits(0, 12, source)[1]
        false = [f"{mean(tag, tag):.1%}" for tag in range(4)]
        rows.append([source, f"{limit:.2f}", ", ".join(false),
                     *(percent(mean(*pair)) for pair in stops)])  # fmt: skip
    head = ["source held out", "limit sRGB, opRGB", "false by tag", *wrong_tags(stops)]
    return lines + table(head, rows, "Deliveries of 12 by source, all savings alike")


def set_lines(seen: Judged) -> list[str]:
    """One odd tag among others, and pictures told though their delivery is honest."""
    rows = []
    for tag, name in enumerate(SHORT):
        for saving in SAVINGS:
            cells = [name, saving]
            for truth in (tag, *(t for t in range(4) if t != tag)):
                share = np.nanmean(seen.flagged(truth, tag, saving, ODD, truth != tag))
                cells.append(f"{share:.0%}" if truth == tag else f"{SHORT[truth]} {share:.0%}")
            told = []
            for source in PHOTOS:
                drawn = seen.deliveries(tag, tag, saving, source, 12, 6)
                most = seen.gain(tag)[0][drawn].max(axis=1) if len(drawn) else np.zeros(0)
                limit = seen.limit(tag, NOTE, saving, source)
                told.append((most > limit).mean() if len(most) else np.nan)
            rows.append([*cells, f"{np.nanmean(told):.0%} ({np.nanmax(told):.0%})"])
    head = ["tag", "saved", "noted, honest", "noted, wrong", "", "",
            "a picture told in 12 honest ones (worst source)"]  # fmt: skip
    lines = table(head, rows, "One odd tag among six or more of another, unmeasured ones missed")
    rows = []
    groups = [np.isin(PHOTOS, of) for of in (PHOTOS, FIRST, FURTHER)]
    for saving in SAVINGS:
        honest = seen.flagged(3, 3, saving, ODD)
        found = [[seen.flagged(t, 3, saving, ODD, mute) for mute in (False, True)] for t in (0, 1)]
        cells = []
        for group in groups:
            both = [" / ".join(f"{np.nanmean(one[group]):.1%}" for one in of) for of in found]
            cells.append(f"{np.nanmean(honest[group]):.1%}: {', '.join(both)}")
        rows.append([saving, *cells])
    head = ["saved", *(f"{len(of)} sources" for of in (PHOTOS, FIRST, FURTHER))]
    lines += table(head, rows, "ROMM RGB, honest: sRGB, opRGB found / unmeasured ones missed")
    rows = []
    for q in (98.5, 96.0, 94.0, ODD, 90.0, 85.0, 80.0):
        cells = [f"{q:g}"]
        for saving in SAVINGS[0], SAVINGS[2], SAVINGS[3]:
            shares = [np.nanmean(seen.flagged(truth, 3, saving, q)) for truth in (3, 0, 1)]
            shares += [np.nanmean(seen.flagged(truth, 3, saving, q, mute=True)) for truth in (0, 1)]
            honest, srgb, oprgb, all_srgb, all_oprgb = (f"{share:.0%}" for share in shares)
            cells.append(f"{honest}: {srgb} / {all_srgb}, {oprgb} / {all_oprgb}")
        rows.append(cells)
    head = ["percentile", SAVINGS[0], SAVINGS[2], SAVINGS[3]]
    return lines + table(head, rows, "ROMM RGB at other limits, honest: sRGB, opRGB found")


def style_lines(seen: Judged) -> list[str]:
    rows = []
    for look in STYLES:
        cells = []
        for tag in range(4):
            chosen = (seen.style == look) & ~seen.mute[:, tag] & (seen.truth == tag)
            chosen &= np.isin(seen.source, PHOTOS) & (seen.saving == "small 4:2:0 q90")
            told = seen.gain(tag)[0][chosen] > seen.limit(tag, NOTE, SAVINGS[2])
            cells.append(f"{told.mean():.1%}")
        rows.append([look, *cells])
    return table(["style", *SHORT], rows, "Right tags told by style, saved 4:2:0 q90")


def surfaces() -> dict[str, Any]:
    """Return M. R. Pointer's gamut of real surfaces (1980) as colour-science has it.

    Highest chroma, rows L* 15 to 90 by 5, columns hue 0 to 350 by 10 degrees, illuminant C.
    """
    from colour.models import DATA_POINTER_GAMUT_VOLUME

    at = {(int(row[0]), int(row[2])): int(row[1]) for row in DATA_POINTER_GAMUT_VOLUME}
    rows = [[at[light, hue] for hue in range(0, 360, 10)] for light in range(15, 95, 5)]
    return {"chroma": rows}


# ---------------------------------------------------------------------- main


def gathered(
    folder: Path, cache: Path | None, name: str, work: Callable[..., Any], jobs: Iterable[Any]
) -> list[Sample]:
    """Return the samples of all jobs, from the cache where they were kept there."""
    import pickle

    kept = cache / f"{name}.pkl" if cache else None
    if kept and kept.exists():
        found: list[Sample] = pickle.loads(kept.read_bytes())
        return found
    with Pool(2) as pool:
        samples = [sample for part in pool.imap(work, jobs) for sample in part]
    if kept:
        kept.write_bytes(pickle.dumps(samples))
    return samples


def time_table() -> list[str]:
    """Time the three measurements on a drawn picture of 36 megapixels: medians of five.

    In processor seconds, so that what else the computer does hardly counts.
    """
    import tempfile

    from threadpoolctl import threadpool_limits

    from pressworthy.measure.halo import halo
    from pressworthy.measure.pixels import pixels, small_copy, tiles
    from pressworthy.measure.source_space import source_space
    from pressworthy.measure.upscaling import true_resolution
    from pressworthy.testing import a_picture, write_picture

    scene = as_bytes(dead_leaves(1536, 1152, seed=5))
    scene[..., 0] = np.clip(scene[..., 0] * 1.25, 0, 255)
    large_scene = np.tile(scene, (4, 5, 1))[:4500, :8000]
    spent: dict[str, list[float]] = {}
    # as the package itself has it; here numpy was imported first
    with tempfile.TemporaryDirectory() as folder, threadpool_limits(1):
        path = write_picture(Path(folder) / "36.jpg", large_scene, icc="sRGB", Q=92)
        for _ in range(5):
            picture = a_picture(path)
            for name, step in (
                ("decode", pixels), ("small copy", small_copy), ("tiles", tiles), ("halo", halo),
                ("true resolution", true_resolution), ("source space", source_space),
            ):  # fmt: skip
                start = time.process_time()
                step(picture)
                spent.setdefault(name, []).append(time.process_time() - start)
    took = {name: float(np.median(times)) for name, times in spent.items()}
    took["halo, true resolution and source space"] = sum(list(took.values())[-3:])
    return table(["step", "seconds"], [[name, f"{each:.3f}"] for name, each in took.items()])


def scenes(job: tuple[str, Any]) -> list[Sample]:
    kind, what = job
    return leaf_states(what) if kind == "leaves" else photo_states(what)


PARTS = ("sharpening", "true-resolution", "source-profile", "time")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="where photographs.py put the photographs")
    parser.add_argument("--write", action="store_true", help="write weights and docs/detection.md")
    parser.add_argument("--cache", type=Path, help="keep what was measured in this folder")
    parser.add_argument("--only", nargs="+", choices=PARTS, default=PARTS, help="these tables")
    options = parser.parse_args()
    start = time.perf_counter()
    known = json.loads(WEIGHTS.read_text("utf-8"))
    known["made by"] = "python tests/benchmarks/detection.py FOLDER --write"
    tables: dict[str, list[str]] = {}

    def gather(name: str, work: Callable[..., Any], jobs: Iterable[Any]) -> list[Sample]:
        return gathered(options.folder, options.cache, name, work, jobs)

    big = list(enumerate(large(options.folder)))
    if "sharpening" in options.only:
        leaves = [("leaves", seed) for seed in range(18)]
        scenes_of = [*leaves, *(("photo", job) for job in big)]
        tables["sharpening"] = sharpening_table(gather("A", scenes, scenes_of))
        tables["strong sharpening"], known["sharpening"] = strong_table(
            gather("S", strong_states, of_use(options.folder))
        )
    if "true-resolution" in options.only:
        tables["true-resolution"], fitted = resolution_table(gather("B", size_states, big))
        known |= fitted
        others = [photo for photo in of_use(options.folder) if photo.source != "wallpapers"][::2]
        tables["true-resolution unseen"] = unseen_table(
            gather("U", unseen_states, enumerate(others))
        )
    if "source-profile" in options.only:
        # objects cut out have no edges of their own
        whole = [photo for photo in coloured(options.folder) if photo.source in PHOTOS]
        colours = list(enumerate(whole + further(options.folder)))
        tables["source-profile"], fitted = space_table(
            gather("C", space_states, colours), options.cache
        )
        known |= {"source-profile": fitted, "real surfaces": surfaces()}
    if "time" in options.only:
        tables["time"] = time_table()
    if options.write:
        WEIGHTS.write_text(json.dumps(known, separators=(",", ":")) + "\n", "utf-8")
    for name, lines in tables.items():
        print(f"\n## {name}\n\n" + "\n".join(lines))
    print(f"\n{time.perf_counter() - start:.0f} s")
    if options.write:
        text = DOCUMENT.read_text("utf-8")
        for name, lines in tables.items():
            begin, end = f"<!-- {name} -->\n", f"<!-- end of {name} -->"
            before, _, rest = text.partition(begin)
            text = before + begin + "\n".join(lines) + "\n" + end + rest.partition(end)[2]
        DOCUMENT.write_text(text, "utf-8")


if __name__ == "__main__":
    main()
