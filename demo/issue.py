"""The invented issue: which picture goes where, and the faults planted in it.

Everything is drawn by `scenes`; no picture, person, place or publication exists.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.colour.convert import convert
from pressworthy.house import load_house
from pressworthy.plugins import load
from pressworthy.testing import write_picture
from scenes import SCENES

CREDIT = {
    "creator": "Maren Tollgate",
    "credit": "Maren Tollgate / Brackwater Press",
    "copyright": "© 2026 Maren Tollgate",
}


@dataclass(frozen=True)
class Plate:
    """One picture of the issue.

    name: its file; scene: what is drawn; size: px; ppi: what the file states, so that it stands
    at size / ppi inches; fault: what is planted at severity stop, as rule/code: one finding, or
    several that come together, with spaces between.
    """

    name: str
    scene: str
    size: tuple[int, int]
    ppi: float | tuple[float, float]
    caption: str
    fault: str = ""
    credit: dict[str, str] = field(default_factory=lambda: dict(CREDIT))
    save: dict[str, Any] = field(default_factory=dict)


Q92 = {"Q": 92}
UNDEREXPOSED = 0.55
"""Of the coded values: nearly two stops too little light."""
ISSUE: dict[str, list[Plate]] = {
    "slack-tide": [
        Plate("harbour at low water.jpg", "harbour", (2232, 1561), 300,
              "Low water at Ebbworth Quay, an hour after sunset.", save=Q92),
        Plate("three of the crew.tif", "portrait", (1772, 1240), 300,
              "Ines Farrow, Tobe Adeyinka and Colm Reddaway of the Patience.",
              save={"compression": "lzw"}),
        Plate("dyed cloth.jpg", "market", (1476, 1032), 205,
              "Cloth from the Saltcote dye-works.", "resolution/too-few-pixels", save=Q92),
        Plate("oranges.jpg", "oranges", (1772, 1240), 300,
              "The Thursday stall on Fish Street.", "icc-profile/contradicts-exif", save=Q92),
        Plate("chapel of the drowned.jpg", "chapel", (1772, 1240), 300,
              "The chapel at Low Sarn, lit by one window.", "luminance/too-dark", save=Q92),
        Plate("marsh at noon.jpg", "reeds", (1772, 1240), 300,
              "A heron in the reeds below the sluice.", "luminance/blown-highlights", save=Q92),
        Plate("fog over the flats.jpg", "fog", (1772, 1240), 300,
              "Withies mark the channel in November.", save=Q92),
    ],
    "ebbworth-courier": [
        Plate("lighthouse.jpg", "lighthouse", (1181, 827), 200,
              "Sarn Light has been repainted.", save=Q92),
        Plate("bench.jpg", "workshop", (1181, 827), 200,
              "The bench of Ada Quillon, boatbuilder.", "credit/no-creator",
              {key: CREDIT[key] for key in ("credit", "copyright")}, Q92),
        Plate("crew.tif", "portrait", (1181, 827), 200,
              "The crew of the Patience.",
              "foreign-condition/foreign-condition ink/too-much-ink",
              save={"compression": "lzw"}),
    ],
    "parish-leaf": [
        Plate("quilt for the fair.png", "quilt", (1417, 992), 300,
              "The quilt, made by eleven hands, to be raffled at the fair."),
    ],
    "slack-tide-online": [
        Plate("harbour.jpg", "harbour", (1600, 1120), 192,
              "Low water at Ebbworth Quay.", save={"Q": 80}),
    ],
}  # fmt: skip


def draw_issue(folder: Path) -> None:
    """Draw every plate into `folder`/title/name, unless it is there already."""
    for title, plates in ISSUE.items():
        (folder / title).mkdir(parents=True, exist_ok=True)
        for plate in plates:
            path = folder / title / plate.name
            if not path.exists():
                _draw(plate, path)


def _draw(plate: Plate, path: Path) -> None:
    width, height = plate.size
    values = SCENES[plate.scene](width, height)
    fields: dict[str, Any] = {}
    if plate.fault == "luminance/blown-highlights":
        values = _overexposed(values)
    if plate.fault == "luminance/too-dark":
        values = values * UNDEREXPOSED
    if plate.fault == "icc-profile/contradicts-exif":
        # made in opRGB by the camera, tagged sRGB by a careless hand on the way
        fields = {
            "exif-ifd2-ColorSpace": "65535 (Uncalibrated, Short, 1 components, 2 bytes)",
            "exif-ifd4-InteroperabilityIndex": "R03 (R03, ASCII, 4 components, 4 bytes)",
        }
    deep = path.suffix == ".tif"
    top, dtype = (65535, np.uint16) if deep else (255, np.uint8)
    colours: dict[str, Any] = {"values": np.round(values * top).astype(dtype)}
    if plate.fault.startswith("foreign-condition"):
        colours = _for_the_magazine(colours["values"])
    write_picture(
        path,
        ppi=plate.ppi,
        words={**plate.credit, "caption": plate.caption},
        fields=fields,
        **colours,
        **plate.save,
    )


def _for_the_magazine(values: NDArray[Any]) -> dict[str, Any]:
    """Inks mixed for coated paper by someone who thought of the magazine."""
    profile = load_house("coated-magazine", load()).output.condition.profiles["cmyk"]
    inks = convert(values, "RGB", "srgb", profile)
    return {"values": (inks >> 8).astype(np.uint8), "mode": "CMYK", "icc": profile.read_bytes()}


def _overexposed(values: NDArray[Any]) -> NDArray[Any]:
    """Two thirds of a stop too much light, cut off at white as a sensor does."""
    return np.clip(values * 1.45, 0, 1)
