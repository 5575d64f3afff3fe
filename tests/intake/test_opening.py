"""Opening files of odd makes: channels beyond the colours, gain maps, few bits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pressworthy.intake.opening import decode, opaque, read_header
from pressworthy.testing import write_picture


def laid(path: Path, values: Any, mode: str) -> Any:
    write_picture(path, values, mode=mode, icc=None)
    header = read_header(path)
    assert (header.mode, header.alpha) == (mode, True)
    return opaque(decode(path), header.mode).numpy()


@pytest.mark.parametrize("step", [1, 257])
@pytest.mark.parametrize(
    "mode, inks, paper", [("RGB", (66, 23, 22), 255), ("CMYK", (66, 23, 22, 11), 0)]
)
def test_alpha_lays_on_paper_and_further_channels_go(
    mode: str, inks: tuple[int, ...], paper: int, step: int, tmp_path: Path
) -> None:
    values = np.zeros((8, 8, len(inks) + 2), np.uint8 if step == 1 else np.uint16)
    values[..., :-2] = np.array(inks) * step
    values[:4, :, -2] = 255 * step
    values[..., -1] = 77
    result = laid(tmp_path / "p.tif", values, mode)
    assert result.dtype == values.dtype
    assert np.array_equal(result[:4], values[:4, :, :-2])
    assert (result[4:] == paper * step).all()
