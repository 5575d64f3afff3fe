"""How well the pixel rules see: builds the labelled sets, fits the weights, prints the tables.

    python tests/benchmarks/photographs.py FOLDER            fetch the photographs
    python tests/benchmarks/detection.py FOLDER              measure and print docs/detection.md
    python tests/benchmarks/detection.py FOLDER --write      and write weights and document

A photograph never stands on both sides of a fit; for `source-profile` whole sources are held out.
Takes about a quarter of an hour on two cores.
"""

from __future__ import annotations

import argparse
import functools
import json
import sys
import time
import warnings
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
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
from photographs import Photograph, coloured, large, values  # noqa: E402

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
Values = NDArray[np.uint8]


@dataclass(frozen=True)
class Sample:
    """One measured picture: which scene it shows, how it was treated, what was measured."""

    group: str
    label: dict[str, Any]
    measured: dict[str, Any] = field(default_factory=dict)


def saved(picture: Values, format: str) -> Any:
    """Return the picture as a libvips image after a trip through the file format."""
    image = pyvips.Image.new_from_array(picture).copy(interpretation="srgb")
    if format == "lossless":
        return image
    data = image.jpegsave_buffer(Q=int(format[1:]))
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
    """Measure a photograph at both sizes, as it is and sharpened, in two formats."""
    samples = []
    for size in ("full", "halved"):
        part = middle(photo, size)
        for sigma, amount in STATES:
            treated = as_bytes(unsharp(part, sigma, amount)) if sigma else part
            for form in FORMATS[:2]:
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
    """Measure a photograph native, shrunk, soft, and enlarged by every factor."""
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
        for form in FORMATS:
            image = saved(picture, form)
            parts = luma_tiles(image, tile_places(image.width, image.height))
            try:
                numbers, lines = upscaling.features(parts)
            except Unmeasured:
                continue
            measured = {"numbers": numbers, "lines": lines.astype(np.float32)}
            samples.append(Sample(photo.name, {**label, "format": form}, measured))
    return samples


SUSPICION = 0.994
"""Probability from which the house tells that detail ends early."""
AFTER = (("as enlarged", 0.0), ("sharpened 1", 1.0), ("sharpened 1.5", 1.5))


def unseen_states(job: tuple[int, Photograph]) -> list[Sample]:
    """Measure a photograph of a source outside the fit: native, soft, shrunk, enlarged, repeated.

    Enlarged ones also sharpened after it, with a radius and an amount of 1 or 1.5.
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
        for form in FORMATS:
            image = saved(picture, form)
            parts = luma_tiles(image, tile_places(image.width, image.height))
            try:
                seen = upscaling.resolution_of(parts)
            except Unmeasured:
                continue
            label = {"state": state, "factor": factor, "format": form, "source": photo.source}
            samples.append(Sample(photo.name, label, {"seen": seen}))
    return samples


def unseen_table(samples: Sequence[Sample]) -> list[str]:
    """Count what the rule says of sources outside its fit, by state and format, and by source."""
    state, factor, form, source = (
        column(samples, name) for name in ("state", "factor", "format", "source")
    )
    seen = [s.measured["seen"] for s in samples]
    proven = np.array([one.proven for one in seen])
    near = np.array([one.sure for one in seen]) & proven
    near &= np.abs(np.array([one.factor for one in seen]) / factor - 1) < 0.05
    early = ~proven & (np.array([one.probability for one in seen]) > SUSPICION)
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
    lines = ["| state | format | pictures | proven | factor told, and right | ends early |"]
    lines.append("|---" * 6 + "|")
    for name, of in shown.items():
        for f in FORMATS:
            rows = of & (form == f)
            right = f"{near[rows].mean():.0%}" if factor[rows].max() > 1 else ""
            lines.append(f"| {name} | {f} | {rows.sum()} | {proven[rows].mean():.1%} | {right} | "
                         f"{early[rows].mean():.0%} |")  # fmt: skip
    lines += ["", "By source, all formats: share proven", ""]
    lines.append("| source | " + " | ".join(shown) + " |")
    lines.append("|---" * (1 + len(shown)) + "|")
    for held in sorted(set(source)):
        cells = [f"{proven[of & (source == held)].mean():.0%}" for of in shown.values()]
        lines.append(f"| {held} | " + " | ".join(cells) + " |")
    return lines


# ------------------------------------------------------------ source profile

BOOST = {"Display P3": 1.15, "opRGB": 1.22, "ROMM RGB": 1.30}
STYLES = ("as is", "warm", "cool", "vivid", "muted", "dark")


def to_srgb(photo: Photograph) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return a photograph as sRGB of 0..1, about 450 px long, and where it is opaque."""
    image = pyvips.Image.new_from_file(str(photo.path))
    mask = np.ones((image.height, image.width), bool)
    if image.hasalpha():
        mask = image[image.bands - 1].numpy().reshape(mask.shape) > 250
        profile = image.get("icc-profile-data") if "icc-profile-data" in image.get_fields() else b""
        image = image.extract_band(0, n=image.bands - 1)
        if profile and image.bands == 3:
            image = image.copy()
            image.set_type(pyvips.GValue.blob_type, "icc-profile-data", profile)
    if image.bands == 3 and "icc-profile-data" in image.get_fields():
        image = image.icc_transform("srgb", intent="relative", embedded=True)
    if image.bands == 1:
        image = image.bandjoin([image, image])
    scale = min(1.0, 450 / max(image.width, image.height))
    step = max(1, round(1 / scale))
    coded = image.shrink(step, step).numpy()[..., :3] / 255.0
    kept = mask[::step, ::step][: coded.shape[0], : coded.shape[1]]
    return coded, kept[: coded.shape[0], : coded.shape[1]]


def styled(coded: NDArray[np.float64], style: str) -> NDArray[np.float64]:
    """Return an sRGB picture as another eye would have graded it."""
    gains = {"warm": (1.08, 1.0, 0.88), "cool": (0.92, 1.0, 1.08), "dark": (0.7, 0.7, 0.7)}
    if style in gains:
        return np.asarray(np.clip(coded * np.array(gains[style]), 0, 1))
    factor = {"vivid": 1.3, "muted": 0.7}.get(style, 1.0)
    grey = coded @ np.array([0.299, 0.587, 0.114])
    return np.asarray(np.clip(grey[..., None] + factor * (coded - grey[..., None]), 0, 1))


def encoded(coded: NDArray[np.float64], space: str, boost: float) -> NDArray[np.float64]:
    """Return the colours of an sRGB picture as values 0..1 of another space.

    boost: the chroma of vivid colours is raised by this factor, as a wide-gamut original has it.
    """
    if space == "sRGB":
        return coded

    xyz = SPACES["sRGB"].decode(coded) @ SPACES["sRGB"].colorants
    if boost > 1:
        white = np.array([0.9642, 1.0, 0.8249])
        f = np.where(xyz / white > 216 / 24389, np.cbrt(xyz / white), xyz / white * 24389 / 3132
                     + 16 / 116)  # fmt: skip
        a, b = 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])
        chroma = np.hypot(a, b)
        more = 1 + (boost - 1) * np.clip((chroma - 15) / 35, 0, 1)
        g = np.stack([f[..., 1] + a * more / 500, f[..., 1], f[..., 1] - b * more / 200], -1)
        xyz = white * np.where(g > 6 / 29, g**3, (g - 16 / 116) * 3132 / 24389)
    linear = np.clip(xyz @ np.linalg.inv(SPACES[space].colorants), 0, 1)
    steps = np.linspace(0, 1, 4097)
    return np.asarray(np.interp(linear, SPACES[space].decode(steps), steps))


def space_states(job: tuple[int, Photograph]) -> list[Sample]:
    """Measure a photograph as a picture of every candidate space, in several styles."""
    number, photo = job
    coded, kept = to_srgb(photo)
    samples = []
    styles = ("as is", STYLES[1 + number % (len(STYLES) - 1)])
    for style in styles:
        graded = styled(coded, style)
        for space in source_model.CANDIDATES:
            for boost in (1.0, BOOST[space]) if space in BOOST else (1.0,):
                picture = as_bytes(encoded(graded, space, boost) * 255)
                data = pyvips.Image.new_from_array(picture).copy(interpretation="srgb")
                data = data.jpegsave_buffer(Q=90, subsample_mode="off")
                image = pyvips.Image.new_from_buffer(data, "")
                step = 1.3
                small = image.shrink(step, step).numpy()
                rows = np.minimum((np.arange(small.shape[0]) * step).astype(int), len(kept) - 1)
                columns = (np.arange(small.shape[1]) * step).astype(int)
                mask = kept[rows][:, np.minimum(columns, kept.shape[1] - 1)]
                pixels = small[mask]
                if len(pixels) < 3000:
                    continue
                pixels = pixels[:: max(1, -(-len(pixels) // source_model.MOST_PX))].astype(
                    np.float32
                )
                lab = {n: source_model.lab_of(pixels, n) for n in source_model.CANDIDATES}
                why = {name: source_model.uninformative(v) for name, v in lab.items()}
                chroma = {n: float(np.percentile(np.hypot(v[:, 1], v[:, 2]), 95))
                          for n, v in lab.items()}  # fmt: skip
                measured = {
                    "numbers": source_model.features(pixels),
                    "why": why,
                    "chroma": chroma,
                    "imaginary": float(source_model.imaginary(pixels).mean()),
                }
                label = {"source": photo.source, "space": space, "boost": boost > 1, "style": style}
                samples.append(Sample(photo.name, label, measured))
    return samples


# ------------------------------------------------------------------- fitting


def networks(
    numbers: Values, classes: Any, hidden: int, seeds: int, alpha: float, weight: Any = None
) -> tuple[Any, Any, list[Any]]:
    """Return mean, scale and small networks, in the shape `weights.votes` reads.

    hidden: units in the one tanh layer; weight: how much each row counts, alike unless given.
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
            (hidden,), activation="tanh", alpha=alpha, random_state=seed, max_iter=100,
            learning_rate_init=3e-3, batch_size=256,
        )  # fmt: skip
        with warnings.catch_warnings():
            # a hundred rounds are where it is stopped, not where it settles
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

    use = known & (edges >= FEWEST_EDGES // 2) & (strong | none | camera)
    chance = np.zeros(len(samples))
    for held in sorted(set(source)):
        of = source == held
        chance[of] = np.exp(votes(fitted(np.flatnonzero(use & ~of)), values[of])[:, 1])
    chance[~known] = 0
    found = usual & (height > STRONG_HALO)
    for held in sorted(set(source)):
        others = (source != held) & none & counted
        found |= (source == held) & (chance > np.percentile(chance[others], SHARP_LIMIT))
    today = usual & (height > 0.12)
    lines = [
        "| size | format | photographs | strong: found | by the halo over 12 % alone | unmeasured "
        "| flagged, none | by the halo alone | flagged, camera |",
        "|---" * 9 + "|",
    ]

    def row(name: str, rows: Any) -> str:
        shares = [found[rows & strong], today[rows & strong], ~(usual | found)[rows & strong],
                  found[rows & none], today[rows & none], found[rows & camera]]  # fmt: skip
        return f"| {name} | {(rows & none).sum()} | " + " | ".join(
            f"{share.mean():.1%}" for share in shares
        ) + " |"  # fmt: skip

    for z in ("full", "halved"):
        for f in ("lossless", "q90"):
            lines.append(row(f"{z} | {f}", counted & (size == z) & (form == f)))
    lines += [""] + [part.replace("size | format | photographs", "source held out | pictures")
                     for part in lines[:1]] + ["|---" * 8 + "|"]  # fmt: skip
    lines += [row(held, counted & (source == held)) for held in sorted(set(source))]
    limit = float(np.percentile(chance[none & counted], SHARP_LIMIT))
    return lines, {**plain(fitted(np.flatnonzero(use))), "limit": round(limit, 4)}


def resolution_table(samples: Sequence[Sample]) -> tuple[list[str], dict[str, Any]]:
    from sklearn.linear_model import Ridge
    from sklearn.model_selection import GroupKFold

    numbers = np.array([s.measured["numbers"] for s in samples])
    group = np.array([s.group for s in samples])
    state, form, grid = (column(samples, name) for name in ("state", "format", "grid"))
    factor = column(samples, "factor")
    classes = (factor >= 1.5).astype(int)
    # a soft picture is what the suspicion means too; it is scored, not fitted
    fit = ((factor == 1) & (state != "soft")) | (factor >= 1.5)
    cuts = [upscaling.FEATURES.index(f"share {c:.2f} p97") for c in upscaling.CUTS]

    before_cells = numbers[:, : upscaling.BEFORE_CELLS]

    def fitted(rows: Any) -> tuple[Any, Any, Any]:
        net = networks(numbers[rows], classes[rows], 8, 5, 1.0)
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
    for f in FORMATS:
        here = form == f
        positive = here & (state == "enlarged") & (factor >= 1.5) & (grid == "on")
        negative = [here & (state == name) for name in ("native", "soft", "shrunk")]
        aucs = " | ".join(f"{auc(score[positive], score[n]):.3f}" for n in negative)
        early = " | ".join(f"{(chance[n] > SUSPICION).mean():.1%}" for n in (positive, *negative))
        proof = " | ".join(f"{(named[n] > 0).sum()} of {n.sum()}" for n in negative)
        lines.append(f"| {f} | {aucs} | {early} | {proof} |")
    lines += [
        "", "Proof by factor: share proven / of those, factor within 5 %:", "",
        "| format | " + " | ".join(f"{v:g}" for v in sorted((*FACTORS, *OFF_GRID))) + " |",
        "|---" * (1 + len(FACTORS) + len(OFF_GRID)) + "|",
    ]  # fmt: skip
    for f in FORMATS:
        cells = []
        for value in sorted((*FACTORS, *OFF_GRID)):
            rows = (form == f) & (factor == value) & (state == "enlarged")
            proven = rows & (named > 0)
            near = np.abs(named[proven] / value - 1) < 0.05
            cells.append(f"{proven.sum() / rows.sum():.0%} / {near.mean() if len(near) else 0:.0%}")
        lines.append(f"| {f} | " + " | ".join(cells) + " |")
    unproven = (factor >= 1.5) & (named == 0) & (state == "enlarged")
    error = np.abs(reach[unproven] / factor[unproven] - 1)
    lines += ["", f"Without proof the estimate is off by {np.median(error):.0%} (median)."]
    net, sizes, doubled = fitted(np.flatnonzero(fit))
    reach_of = {"reach": sizes.coef_.tolist(), "reach bias": float(sizes.intercept_)}
    return lines, {
        "true-resolution": {**plain(net), **reach_of},
        "more than doubled": plain(doubled),
    }


NOTE, QUERY = 98.5, 99
"""Percentiles of right tags that set the thresholds of single pictures, every source alike."""
DELIVERY = 98
"""Percentile of right deliveries of the source and tag where it is highest."""


def space_table(samples: Sequence[Sample]) -> tuple[list[str], dict[str, Any]]:
    names = list(source_model.CANDIDATES)
    numbers = np.array([s.measured["numbers"] for s in samples])
    group = np.array([s.group for s in samples])
    source, style = column(samples, "source"), column(samples, "style")
    truth = np.array([names.index(s.label["space"]) for s in samples])
    dumb = np.array([[bool(s.measured["why"][name]) for name in names] for s in samples])
    photos = (
        "gcompris", "kit", "wallpapers", "desks", "portraits", "stock", "shop", "views", "studio",
    )  # fmt: skip

    def fitted(rows: Any) -> Any:
        # every source weighs alike, or the largest would set the style; sRGB has one version of
        # each picture, the others two: equal priors
        _, which, sizes = np.unique(source[rows], return_inverse=True, return_counts=True)
        weight = np.where(truth[rows] == 0, 2.0, 1.0) / sizes[which]
        return networks(numbers[rows], truth[rows], 24, 5, 1.5, weight)

    log_p = np.zeros((len(samples), 4))
    for held in sorted(set(source)):
        log_p[source == held] = votes(
            fitted(np.flatnonzero(source != held)), numbers[source == held]
        )

    base = style == "as is"

    def gain(tag: int) -> Any:
        others = log_p.copy()
        others[:, tag] = -np.inf
        return others.max(axis=1) - log_p[:, tag], others.argmax(axis=1)

    def right(tag: int, of: Sequence[str]) -> Any:
        return base & ~dumb[:, tag] & (truth == tag) & np.isin(source, of)

    def limit(tag: int, of: Sequence[str], q: float) -> float:
        """Return the q-th percentile of right tags, every source weighing alike."""
        rows = right(tag, of)
        _, which, sizes = np.unique(source[rows], return_inverse=True, return_counts=True)
        return float(
            np.percentile(gain(tag)[0][rows], q, weights=1 / sizes[which], method="inverted_cdf")
        )

    lines = ["| tag | threshold (others' 98.5 %) | false alarms | " + " | ".join(
        f"finds {name}" for name in names) + " | stamps, false |", "|---" * 8 + "|"]  # fmt: skip
    for tag, name in enumerate(names):
        best = gain(tag)[0]
        limits_of = {held: limit(tag, [p for p in photos if p != held], NOTE) for held in photos}

        def flagged(rows: Any, best: Any = best, limits_of: Any = limits_of) -> Any:
            """Return the share above the threshold of the others, source by source."""
            return [(best[rows & (source == p)] > limits_of[p]).mean() for p in photos]

        false = flagged(right(tag, photos))
        cells = []
        for true in range(4):
            rows = base & ~dumb[:, tag] & (truth == true)
            apart = [auc(best[rows & (source == p)], best[right(tag, [p])]) for p in photos]
            found_in = f"{np.mean(flagged(rows)):.0%} / {np.mean(apart):.2f}"
            cells.append("" if true == tag else found_in)
        stamps = (best[right(tag, ["stamps"])] > limit(tag, photos, NOTE)).mean()
        shown = ", ".join(f"{at:.1f}" for at in limits_of.values())
        each = ", ".join(f"{share:.1%}" for share in false)
        lines.append(f"| {name} | {shown} | {np.mean(false):.1%} ({each}) | "
                     + " | ".join(cells) + f" | {stamps:.1%} |")  # fmt: skip

    lines += [
        "",
        "Space suggested when a wrong tag is flagged (threshold of all photographs):",
        "",
        "| tag | truth | named right | right with P3 folded into sRGB |",
        "|---|---|---|---|",
    ]
    for tag, true in ((3, 0), (3, 1), (0, 3), (0, 1), (1, 3), (1, 0)):
        best, which = gain(tag)
        rows = base & ~dumb[:, tag] & (truth == true) & np.isin(source, photos)
        rows &= best > limit(tag, photos, NOTE)
        folded = (which[rows] == true) | ((true == 0) & (which[rows] == 2))
        lines.append(f"| {names[tag]} | {names[true]} | {(which[rows] == true).mean():.0%} | "
                     f"{folded.mean():.0%} |")  # fmt: skip

    def deliveries(tag: int, true: int, of: str, size: int, seed: int) -> Any:
        """Draw deliveries of one source: rows, one version of each picture."""
        rng = np.random.default_rng(seed)
        rows = np.flatnonzero(base & ~dumb[:, tag] & (truth == true) & (source == of))
        by = {name: rows[group[rows] == name] for name in np.unique(group[rows])}
        drawn = []
        for _ in range(400):
            chosen = rng.choice(list(by), min(size, len(by)), replace=False)
            drawn.append(np.array([rng.choice(by[name]) for name in chosen]))
        return drawn

    def mean_gain(tag: int, rows: Any) -> float:
        return max(float((log_p[rows, h] - log_p[rows, tag]).mean()) for h in range(4) if h != tag)

    @functools.cache
    def pooled(tag: int, true: int, of: str, size: int, seed: int) -> Any:
        """Return the mean gains of deliveries drawn of one source."""
        return np.array([mean_gain(tag, rows) for rows in deliveries(tag, true, of, size, seed)])

    lines += [
        "",
        "Deliveries wrong throughout, found (worst false alarms of any tag):",
        "",
        "| pictures | source held out | limit | false alarms | sRGB>ROMM | ROMM>sRGB | "
        "opRGB>ROMM | ROMM>opRGB | sRGB>opRGB | opRGB>sRGB | P3>sRGB |",
        "|---" * 11 + "|",
    ]
    pairs = ((0, 3), (3, 0), (1, 3), (3, 1), (0, 1), (1, 0), (2, 0))
    limits = []
    for size in (3, 4, 6, 8, 12):
        highest = {
            (of, tag): float(np.percentile(pooled(tag, tag, of, size, 1), DELIVERY))
            for of in photos
            for tag in range(4)
        }
        limits.append([size, round(max(highest.values()), 2)])
        shares = []
        for held in photos:
            at = max(v for (of, _), v in highest.items() if of != held)
            false = max((pooled(t, t, held, size, 2) > at).mean() for t in range(4))
            found = [(pooled(t, true, held, size, 3) > at).mean() for true, t in pairs]
            shares.append([false, *found])
            if size == 12:
                lines.append(delivery_row(size, held, f"{at:.2f}", shares[-1]))
        lines.append(delivery_row(size, "mean", f"{limits[-1][1]:.2f} by all", np.mean(shares, 0)))

    lines += [
        "",
        "Deliveries of 12 told apart within one source, without a limit from others (AUC):",
        "",
        "| source | sRGB>ROMM | ROMM>sRGB | opRGB>ROMM | ROMM>opRGB | sRGB>opRGB | opRGB>sRGB | "
        "P3>sRGB |",
        "|---" * 8 + "|",
    ]
    for of in photos:
        cells = [
            f"{auc(pooled(tag, true, of, 12, 3), pooled(tag, tag, of, 12, 3)):.3f}"
            for true, tag in pairs
        ]
        lines.append(f"| {of} | " + " | ".join(cells) + " |")

    lines += [
        "",
        "The odd one of 12 ranked first by gain:",
        "",
        "| source | sRGB>ROMM | ROMM>sRGB | sRGB>opRGB | opRGB>sRGB "
        "| named though none is odd: sRGB | opRGB | ROMM RGB |",
        "|---" * 8 + "|",
    ]
    for of in photos:
        cells = []
        for true, tag in ((0, 3), (3, 0), (0, 1), (1, 0)):
            best = gain(tag)[0]
            wrong = deliveries(tag, true, of, 1, 4)
            good = deliveries(tag, tag, of, 11, 5)
            first = [best[w[0]] > best[g].max() for w, g in zip(wrong, good, strict=True)]
            cells.append(f"{np.mean(first):.0%}")
        for tag in (0, 1, 3):
            best, least = gain(tag)[0], limit(tag, [p for p in photos if p != of], NOTE)
            named = [best[rows].max() > least for rows in deliveries(tag, tag, of, 12, 6)]
            cells.append(f"{np.mean(named):.0%}")
        lines.append(f"| {of} | " + " | ".join(cells) + " |")

    lines += [
        "",
        "Right tags flagged by style (threshold of all photographs, held-out sources):",
        "",
        "| style | " + " | ".join(names) + " |",
        "|---" * 5 + "|",
    ]
    for look in STYLES:
        cells = []
        for tag in range(4):
            rows = (style == look) & ~dumb[:, tag] & (truth == tag) & np.isin(source, photos)
            cells.append(f"{(gain(tag)[0][rows] > limit(tag, photos, NOTE)).mean():.1%}")
        lines.append(f"| {look} | " + " | ".join(cells) + " |")
    imaginary = np.array([s.measured["imaginary"] for s in samples])
    shares = [(imaginary[base & (truth == t)] > 0.01).mean() for t in (0, 3)]
    lines += ["", "Over 1 % imaginary colours when read as ROMM RGB: "]
    lines[-1] += f"{shares[0]:.1%} of sRGB pictures, {shares[1]:.1%} of ROMM RGB pictures."
    thresholds = {
        key: {name: round(limit(tag, photos, q), 2) for tag, name in enumerate(names)}
        for key, q in (("note", NOTE), ("query", QUERY))
    }
    every = fitted(np.arange(len(samples)))
    return lines, {**plain(every), **thresholds, "delivery": limits}


def delivery_row(size: int, source: str, limit: str, shares: Sequence[float]) -> str:
    """Return a row of the table of deliveries: false alarms, then the share found of each pair."""
    false, *found = shares
    cells = [f"{false:.1%}", *(f"{share:.0%}" for share in found)]
    return f"| {size} | {source} | {limit} | " + " | ".join(cells) + " |"


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
    """Time the three measurements on a drawn picture of 36 megapixels, rich in edges."""
    import tempfile

    from pressworthy.measure.halo import halo
    from pressworthy.measure.pixels import pixels, small_copy, tiles
    from pressworthy.measure.source_space import source_space
    from pressworthy.measure.upscaling import true_resolution
    from pressworthy.testing import a_picture, write_picture

    scene = as_bytes(dead_leaves(1536, 1152, seed=5))
    scene[..., 0] = np.clip(scene[..., 0] * 1.25, 0, 255)
    large_scene = np.tile(scene, (4, 5, 1))[:4500, :8000]
    lines = ["| step | seconds |", "|---|---|"]
    with tempfile.TemporaryDirectory() as folder:
        path = write_picture(Path(folder) / "36.jpg", large_scene, icc="sRGB", Q=92)
        picture = a_picture(path)
        for name, step in (
            ("decode", pixels), ("small copy", small_copy), ("tiles", tiles), ("halo", halo),
            ("true resolution", true_resolution), ("source space", source_space),
        ):  # fmt: skip
            start = time.perf_counter()
            step(picture)
            lines.append(f"| {name} | {time.perf_counter() - start:.3f} |")
    return lines


def scenes(job: tuple[str, Any]) -> list[Sample]:
    kind, what = job
    return leaf_states(what) if kind == "leaves" else photo_states(what)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="where photographs.py put the photographs")
    parser.add_argument("--write", action="store_true", help="write weights and docs/detection.md")
    parser.add_argument("--cache", type=Path, help="keep what was measured in this folder")
    options = parser.parse_args()
    big = list(enumerate(large(options.folder)))
    all_scenes = [("leaves", seed) for seed in range(18)] + [("photo", job) for job in big]
    colours = list(enumerate(coloured(options.folder)))
    start = time.perf_counter()
    sharp = sharpening_table(gathered(options.folder, options.cache, "A", scenes, all_scenes))
    strong, sharp_weights = strong_table(
        gathered(options.folder, options.cache, "S", strong_states, of_use(options.folder))
    )
    sizes, size_weights = resolution_table(
        gathered(options.folder, options.cache, "B", size_states, big)
    )
    others = [photo for photo in of_use(options.folder) if photo.source != "wallpapers"][::2]
    unseen = unseen_table(
        gathered(options.folder, options.cache, "U", unseen_states, enumerate(others))
    )
    spaces, space_weights = space_table(
        gathered(options.folder, options.cache, "C", space_states, colours)
    )
    if options.write:
        known = {
            "made by": "python tests/benchmarks/detection.py FOLDER --write",
            "sharpening": sharp_weights,
            **size_weights,
            "source-profile": space_weights,
            "real surfaces": surfaces(),
        }
        WEIGHTS.write_text(json.dumps(known, separators=(",", ":")) + "\n", "utf-8")
    tables = {
        "sharpening": sharp,
        "strong sharpening": strong,
        "true-resolution": sizes,
        "true-resolution unseen": unseen,
        "source-profile": spaces,
        "time": time_table(),
    }
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
