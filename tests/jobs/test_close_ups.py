"""Close-ups: what the page shows at its true size, and what reaches the eye enlarged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.house import House
from pressworthy.jobs import Run, Task
from pressworthy.jobs.proofing import proof_picture
from pressworthy.jobs.pull import SCREEN_PPI, close_ups
from pressworthy.jobs.pull.close_ups import as_read, on_screen, page_at_pixels
from pressworthy.plugins import Registry
from pressworthy.prepare.charts import dead_leaves
from pressworthy.print.eye import as_seen, low_pass, mm_per_degree
from pressworthy.print.optics import coarser
from pressworthy.print.printlook import Part, dots_light, press_of, printed_light
from pressworthy.testing import CREDITED, draw, write_picture
from pressworthy.values.placement import PlacementRequest
from pressworthy.values.units import MM_PER_INCH

PPI, DISTANCE = 300, 317.5


@pytest.fixture(scope="module")
def page(houses: dict[str, House]) -> np.ndarray:
    """Return the light of a square inch of a printed scene, as close-ups are made of it."""
    press = press_of(houses["mono"].output.condition)
    return printed_light(scene(), PPI, press, fine=2)


def scene() -> np.ndarray:
    """Return the tones of a square inch."""
    gray = dead_leaves(PPI, PPI, seed=4, noise=0, smallest=2).mean(axis=2, keepdims=True)
    return np.asarray(255 - np.rint(gray), np.uint8)


def arrived(page: np.ndarray, shown: np.ndarray) -> Callable[[float], float]:
    """Return the coherent transfer from a page's luminance to a view's, by cycles/degree."""
    of_page, of_view = spectrum(page), spectrum(shown)
    size = min(len(of_page), len(of_view)) // 2
    k = np.fft.fftfreq(2 * size, 1 / (2 * size)).astype(int)
    given, got = (one[np.ix_(k, k)] for one in (of_page, of_view))
    degree = mm_per_degree(DISTANCE) / MM_PER_INCH
    frequency = np.hypot(k[:, None], k[None, :]) * degree

    def at(cycles: float) -> float:
        ring = np.abs(frequency - cycles) < 0.5
        return float((given.conj() * got).real[ring].sum() / (np.abs(given[ring]) ** 2).sum())

    return at


def spectrum(light: np.ndarray) -> np.ndarray:
    """Return the DFT of windowed contrast, in cycles of the whole, wherever its samples lie."""
    size = len(light)
    window = np.hanning(size + 2)[1:-1]
    both = np.outer(window, window)
    contrast = (light / np.average(light, weights=both) - 1) * both / size**2
    turn = np.exp(-1j * np.pi * np.fft.fftfreq(size))
    return np.asarray(np.fft.fft2(contrast) * np.outer(turn, turn))


def seen(light: np.ndarray, ppi: float) -> np.ndarray:
    """Return luminance as the eye gets it."""
    return as_seen(np.asarray(light, np.float32), MM_PER_INCH / ppi, DISTANCE)


@pytest.mark.parametrize(
    ("ppi", "cycles"), [(SCREEN_PPI, 4.0), (SCREEN_PPI, 7.0), (220, 7.0), (220, 12.0), (220, 15.8)]
)
def test_at_its_true_size_the_eye_comes_once(page: np.ndarray, ppi: float, cycles: float) -> None:
    shown = on_screen(coarser(page, 2), 1, 1, ppi)[..., 1]
    assert shown.shape == (ppi, ppi)
    meant = float(low_pass(np.array([cycles / mm_per_degree(DISTANCE)]), DISTANCE)[0])
    assert arrived(page[1], seen(shown, ppi))(cycles) == pytest.approx(meant, abs=0.03)


def test_the_enlarged_one_has_passed_the_eye(page: np.ndarray) -> None:
    """At 15.8 cycles/degree .70 of the contrast reaches the eye, and .49 would if it came twice."""
    read = as_read(coarser(page, 2), PPI, DISTANCE)[..., 1]
    assert arrived(page[1], read)(15.8) == pytest.approx(0.70, abs=0.03)
    assert arrived(page[1], seen(read, PPI))(15.8) == pytest.approx(0.49, abs=0.03)


def test_a_screen_shows_nothing_finer_than_its_pixels(page: np.ndarray) -> None:
    """No beat of dots and pixels: a flat tint stays flat."""
    dots = 0.5 + 0.4 * np.cos(2 * np.pi * 152.4 / 600 * np.arange(600))
    tint = np.broadcast_to(dots, (3, 600, 600)).astype(np.float32)
    shown = on_screen(coarser(tint, 2), 1, 1)[8:-8, 8:-8]
    assert shown.mean() == pytest.approx(0.5, abs=0.005)
    assert np.ptp(shown) < 0.02


@pytest.mark.parametrize("part", [Part(100, 120, 90, 80), Part(0, 220, 90, 80)])
def test_its_light_is_that_of_every_dot(houses: dict[str, House], part: Part) -> None:
    """Within the copy and in its corner, seen too broadly to tell where the dots stand."""
    press = press_of(houses["mono"].output.condition)
    found = page_at_pixels(scene(), part, PPI, press)[1]
    # nine dots of a device to a pixel each way
    dots = dots_light(scene(), PPI, replace(press, device=PPI * 9), part)[1]
    wanted = dots.reshape(part.height, 9, part.width, 9).mean(axis=(1, 3))
    assert found.shape == wanted.shape
    broad = (one.reshape(10, 8, 15, 6).mean(axis=(1, 3)) for one in (found, wanted))
    assert np.abs(np.subtract(*broad)).max() < 0.03


def test_the_houses_distance_reaches_print_look_and_close_ups(
    houses: dict[str, House], registry: Registry, tmp_path: Path
) -> None:
    path = write_picture(tmp_path / "pier.png", draw(600, 450, seed=3), words=CREDITED)
    coated = houses["coated-magazine"]

    @cache
    def pulled(inches: float) -> dict[str, bytes]:
        output = replace(coated.output, viewing_distance=inches * MM_PER_INCH)
        asked = Task(path, PlacementRequest((50.8, 38.1)))
        _, pull = proof_picture(asked, replace(coated, output=output), Run(registry))
        return {**pull.views, **{f"close {name}": data for name, data in pull.close.items()}}

    near, far = pulled(12.5), pulled(40)
    # the same ink on the same paper ...
    assert near["soft-before"] == far["soft-before"]
    # ... at the eye another picture
    assert near["print-before"] != far["print-before"]
    assert near["close read-before"] != far["close read-before"]


@pytest.mark.parametrize("width", [59.0, 200.0])
def test_the_place_holds_about_the_most_at_any_resolution(
    width: float,
    houses: dict[str, House],
    registry: Registry,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    values = np.clip(dead_leaves(700, 500, seed=5, noise=0, smallest=1), 0, 255).astype(np.uint8)
    path = write_picture(tmp_path / "pier.jpg", values, words=CREDITED, Q=95)
    moved, places = [], []
    sharpening, most = close_ups._sharpening, close_ups._most

    def finest(stages: Any, output: Any, press: Any, ppi: float, step: int) -> Any:
        moved.append(sharpening(stages, output, press, ppi, 1))
        return sharpening(stages, output, press, ppi, step)

    def placed(*given: Any) -> Part:
        places.append(most(*given))
        return places[-1]

    monkeypatch.setattr(close_ups, "_sharpening", finest)
    monkeypatch.setattr(close_ups, "_most", placed)
    task = Task(path, PlacementRequest((width, width * 5 / 7)))
    _, pull = proof_picture(task, houses["coated-magazine"], Run(registry))
    assert pull.close_mm is not None
    (amounts,) = moved
    held = [
        float(amounts[at.top : at.top + at.height, at.left : at.left + at.width].sum())
        for at in (places[0], _best(amounts, places[0]))
    ]
    assert held[0] >= 0.99 * held[1] > 0


def _best(amounts: np.ndarray, like: Part) -> Part:
    """Return the part of that size which holds most, by trying each."""
    ends = np.pad(amounts.astype(float).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    tops, lefts = len(amounts) - like.height + 1, amounts.shape[1] - like.width + 1
    sums = (
        ends[like.height :, like.width :]
        - ends[:tops, like.width :]
        - ends[like.height :, :lefts]
        + ends[:tops, :lefts]
    )
    top, left = np.unravel_index(int(sums.argmax()), sums.shape)
    return replace(like, top=int(top), left=int(left))
