"""Speed of the print look, and its measure on photographs, by hand:

    .venv/bin/python tests/benchmarks/printlook.py

Prints seconds and memory, on one core, of the print look of one A5 picture as the marked proof
shows it: its page view, and a close-up dot by dot; seconds of the acutance of a prepared copy; the
acutance of open photographs (scikit-image, scikit-learn) prepared for the shipped houses, sharpened
as derived and not at all; and how much the derived amount depends on the one figure of the model
that no data at hand settle, the blur of the press.
"""

from __future__ import annotations

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"

import resource
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import skimage.data
from numpy.typing import NDArray
from sklearn.datasets import load_sample_image

from pressworthy.colour.convert import as_vips
from pressworthy.house import House, load_house
from pressworthy.jobs.pull.close_ups import CLOSE_MM
from pressworthy.jobs.pull.views import factor_for
from pressworthy.measure.acutance import print_transfer
from pressworthy.plugins import load
from pressworthy.prepare import Order, make
from pressworthy.prepare.amount import derive
from pressworthy.prepare.charts import dead_leaves
from pressworthy.print import softproof
from pressworthy.print.printlook import Part, dots_light, press_of, tones_of
from pressworthy.testing import write_picture
from pressworthy.values.placement import PlacementRequest, pixels_for
from pressworthy.values.units import MM_PER_INCH

HOUSES = ("coated-magazine", "newsprint", "mono")
BLURS = (0.034, 0.05, 0.08, 0.12)


def main() -> None:
    """Print the figures."""
    registry = load()
    houses = [load_house(name, registry) for name in HOUSES]
    for house in houses:
        speed(house)
    print("\nacutance of prints of prepared photographs, least to greatest")
    for house in houses:
        assert house.prepare is not None
        for amount in (0, house.prepare["amount"]):
            seen, seconds = acutances(house, amount)
            print(
                f"  {house.name:<16} amount {amount:4.2f}: {min(seen):.3f} to {max(seen):.3f}"
                f"   {seconds:.2f} s a copy"
            )
    print("\nderived amount by the press blur, mm")
    for house in houses:
        amounts = (f"{blur:g}: {derive(house, blur).amount:.2f}" for blur in BLURS)
        print(f"  {house.name:<16} {'  '.join(amounts)}")


def speed(house: House) -> None:
    """Print seconds and memory for an A5 picture of this house."""
    output = house.output
    height, width = pixels_for(148, output.ppi), pixels_for(210, output.ppi)
    inks = 1 if output.colour == "gray" else 4
    drawn = dead_leaves(width // 4, height // 4, seed=2, noise=0)[..., :1]
    large = drawn.repeat(4, axis=0).repeat(4, axis=1).repeat(inks, axis=2)
    pixels = np.clip(large, 0, 255).astype(np.uint8)
    image, press = as_vips(pixels, output.mode), press_of(output.condition)
    factor = factor_for(image)

    def page() -> Any:
        light = softproof.copy_light(image, output, factor)
        return softproof.page_view(light, output.ppi / factor, press.blur, output.viewing_distance)

    first, again = timed(page), timed(page)
    part = Part(200, 200, *(pixels_for(mm, output.ppi) for mm in CLOSE_MM))
    tones = tones_of(pixels, output.mode)
    close = timed(lambda: dots_light(tones, output.ppi, press, part))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{house.name:<16} {tones.shape[1]} x {tones.shape[0]} px, {inks} inks: page view "
        f"{first:.2f} s, again {again:.2f} s (wanted: under 3); close-up {close:.2f} s; "
        f"peak {peak:.0f} MB"
    )


def acutances(house: House, amount: float) -> tuple[list[float], float]:
    """Return the acutance of every photograph's print, and the seconds that one takes."""
    assert house.prepare is not None
    house = replace(house, prepare={**house.prepare, "amount": amount})
    seen, seconds = [], 0.0
    with tempfile.TemporaryDirectory() as folder:
        for name, values in photographs():
            path = write_picture(Path(folder) / f"{name}.tif", values)
            size = tuple(n / house.output.ppi * MM_PER_INCH for n in values.shape[1::-1])
            request = PlacementRequest((size[0], size[1]))
            copy = make(Order(path, Path(folder) / f"{name}-copy.tif", request), house).copy
            start = time.perf_counter()
            seen.append(print_transfer(copy).acutance)
            seconds += time.perf_counter() - start
    return seen, seconds / len(seen)


def photographs() -> Iterator[tuple[str, NDArray[Any]]]:
    """Yield open photographs, RGB, 8 bits."""
    for name in ("astronaut", "coffee", "chelsea", "rocket", "camera"):
        values = getattr(skimage.data, name)()
        yield name, values if values.ndim == 3 else np.repeat(values[..., None], 3, axis=2)
    for name in ("china", "flower"):
        yield name, load_sample_image(f"{name}.jpg")


def timed(work: Callable[[], Any]) -> float:
    """Return the seconds of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


if __name__ == "__main__":
    main()
