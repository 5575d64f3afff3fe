"""Pages that show a picture otherwise than its data are stored, and what is to be read of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pdf_writer import form, stream, write_pages
from PIL import Image

from pressworthy.colour.rgb_profile import rgb_profile
from pressworthy.testing import draw

WIDTH, HEIGHT = 24, 16
WHOLE = f"{WIDTH} 0 0 {HEIGHT} 0 0 cm"
PAINT = f"q {WHOLE} /A Do Q"
GRAY, RGB, INKS = (draw(WIDTH, HEIGHT, channels=n) for n in (1, 3, 4))
DEEP = draw(WIDTH, HEIGHT, channels=1, depth=16)
STEPS = (np.arange(WIDTH * HEIGHT).reshape(HEIGHT, WIDTH, 1) % 16).astype(np.uint8)
BITS = (GRAY[..., 0] > 128).astype(np.uint8)
SOFT = np.tile(np.linspace(0, 255, WIDTH).astype(np.uint8), (HEIGHT, 1))
HALVES = np.repeat([[0, 1]], WIDTH // 2, axis=1).repeat(HEIGHT, axis=0).astype(np.uint8)
TABLE = np.random.default_rng(2).integers(0, 256, (16, 4)).astype(np.uint8)
OFF = "/OCProperties << /OCGs [5 0 R] /D << /OFF [5 0 R] >> >>"
LAYER = b"<< /Type /OCG /Name (Proof marks) >>"
MARKED = f"/OC /L BDC {PAINT} EMC"
GROUP = "/BBox [0 0 99 99] /Group << /S /Transparency >>"


@dataclass(frozen=True)
class Case:
    """wanted: values (height, width, channels), an alpha last, where it can be measured, else None.

    words: of why it is not measured or not shown.
    """

    name: str
    objects: Mapping[str, bytes]
    wanted: NDArray[Any] | None = None
    words: str = ""
    content: str = PAINT
    catalog: str = ""
    resources: str = ""
    space: str = ""
    near: int = 0

    def write(self, path: Path) -> Path:
        """Write the page: the picture fills it, a point a pixel."""
        box = f"/MediaBox [0 0 {WIDTH} {HEIGHT}] /TrimBox [0 0 {WIDTH} {HEIGHT}]"
        return write_pages(
            path, self.content, self.objects, page=box,
            catalog=self.catalog, resources=self.resources,
        )  # fmt: skip


def of(values: NDArray[Any], space: str, more: str = "", depth: int = 8) -> dict[str, bytes]:
    return {"A": packed(values, space, more, depth)}


def packed(values: NDArray[Any], space: str, more: str = "", depth: int = 8) -> bytes:
    """Return an image object of samples at a depth of 1 to 16 bits."""
    height, width = values.shape[:2]
    if depth == 16:
        values = values.astype(">u2")
    elif depth < 8:
        bits = np.unpackbits(values.reshape(height, -1, 1), axis=2)[..., -depth:]
        values = np.packbits(bits.reshape(height, -1), axis=1)
    entries = f"/Type /XObject /Subtype /Image /Width {width} /Height {height} {more}"
    told = f"/ColorSpace {space}" if space else "/ImageMask true"
    return stream(f"{entries} {told} /BitsPerComponent {depth}", values.tobytes())


def jpeg(values: NDArray[Any], more: str, *, adobe: bool = True) -> bytes:
    """Return an image object that is a JPEG, of inks with or without Adobe's marker."""
    file = BytesIO()
    mode = {1: "L", 3: "RGB", 4: "CMYK"}[values.shape[2]]
    Image.fromarray(values.squeeze(), mode).save(file, "JPEG", quality=100, subsampling=0)
    data = file.getvalue()
    if mode == "CMYK" and not adobe:
        start = data.index(b"\xff\xee")
        data = data[:start] + data[start + 2 + int.from_bytes(data[start + 2 : start + 4], "big") :]
    entries = f"/Type /XObject /Subtype /Image /Width {values.shape[1]} /Height {values.shape[0]}"
    return stream(f"{entries} /BitsPerComponent 8 {more} /Filter /DCTDecode", data, flate=False)


def fax(more: str) -> bytes:
    """Return the bits as an image object in CCITT group 4."""
    file = BytesIO()
    Image.fromarray(BITS * 255).convert("1").save(file, "TIFF", compression="group4")
    picture: Any
    with Image.open(file) as picture:
        start, length = picture.tag_v2[273][0], picture.tag_v2[279][0]
        # white is 0 in such a TIFF, or 1
        black = "true" if picture.tag_v2[262] else "false"
    entries = f"/Type /XObject /Subtype /Image /Width {WIDTH} /Height {HEIGHT}"
    how = f"/K -1 /Columns {WIDTH} /Rows {HEIGHT} /BlackIs1 {black}"
    entries += f" /BitsPerComponent 1 /Filter /CCITTFaxDecode /DecodeParms << {how} >>"
    data = file.getvalue()[start : start + length]
    return stream(f"{entries} /ColorSpace /DeviceGray {more}", data, flate=False)


def jpeg_2000(more: str) -> bytes:
    file = BytesIO()
    Image.fromarray(RGB).save(file, "JPEG2000", irreversible=False)
    entries = f"/Type /XObject /Subtype /Image /Width {WIDTH} /Height {HEIGHT} /Filter /JPXDecode"
    return stream(f"{entries} /ColorSpace /DeviceRGB {more}", file.getvalue(), flate=False)


def through(*masks: NDArray[Any], values: NDArray[Any] = RGB) -> NDArray[Any]:
    """Return values with an alpha of these, 0 to 255, times each other."""
    shown = np.full((HEIGHT, WIDTH), 255.0)
    for mask in masks:
        shown = shown * mask / 255
    return np.dstack([values, np.round(shown).astype(np.uint8)])


def decoded(values: NDArray[Any], *pairs: tuple[float, float], top: float = 255) -> NDArray[Any]:
    """Return values mapped as a Decode array of these pairs maps them."""
    mapped = [
        np.round(255 * np.clip(low + values[..., i] / top * (high - low), 0, 1))
        for i, (low, high) in enumerate(pairs)
    ]
    return np.stack(mapped, axis=-1).astype(np.uint8)


def indexed(base: str, channels: int, most: int = 15) -> str:
    return f"[/Indexed {base} {most} <{TABLE[:, :channels].tobytes().hex()}>]"


def layered(setting: str, layer: bytes = LAYER) -> dict[str, Any]:
    return {
        "objects": {**of(RGB, "/DeviceRGB"), "L": layer}, "content": MARKED,
        "catalog": setting, "resources": "/Properties << /L 5 0 R >>",
    }  # fmt: skip


def with_state(state: str, content: str = f"/S gs {PAINT}", **more: Any) -> dict[str, Any]:
    objects = {**of(RGB, "/DeviceRGB"), **more}
    return {"objects": objects, "content": content, "resources": f"/ExtGState << {state} >>"}


def _ones(share: float) -> NDArray[Any]:
    return np.full((HEIGHT, WIDTH), 255 * share)


def _cases() -> list[Case]:
    soft = packed(SOFT[..., None], "/DeviceGray")
    matte = packed(SOFT[..., None], "/DeviceGray", "/Matte [0 0 0]")
    hard = packed(HALVES[..., None], "", depth=1)
    larger = packed(HALVES.repeat(2, axis=0).repeat(2, axis=1)[..., None], "", depth=1)
    turned = packed(HALVES[..., None], "", "/Decode [1 0]", depth=1)
    half = packed(np.full((1, 1, 1), 102, np.uint8), "/DeviceGray")
    key = (RGB >= [0, 90, 0]).all(axis=2) & (RGB <= [255, 160, 200]).all(axis=2)
    both = "/OCProperties << /OCGs [5 0 R] /D << {} >> >>"
    prints = LAYER.replace(b" >>", b" /Usage << /Print << /PrintState /OFF >> >> >>")
    member = b"<< /Type /OCMD /OCGs [6 0 R] "
    inks = "/ColorSpace /DeviceCMYK"
    ink = "/FunctionType 2 /Domain [0 1] /C0 [0 0 0 0] /C1 [0 1 0 0] /N 1"
    hexed = f"{GRAY.tobytes().hex()}>"
    inline = f"q {WHOLE} BI /W {WIDTH} /H {HEIGHT} /BPC 8 /F /AHx"
    seen = np.where(key, 0, 255)
    return [
        Case("gray upside down", of(GRAY, "/DeviceGray", "/Decode [1 0]"), 255 - GRAY),
        Case("gray between two tones", of(GRAY, "/DeviceGray", "/Decode [0.2 0.8]"),
             decoded(GRAY, (0.2, 0.8))),
        Case("gray beyond black and white", of(GRAY, "/DeviceGray", "/Decode [-0.5 1.5]"),
             decoded(GRAY, (-0.5, 1.5))),
        Case("each channel its own", of(RGB, "/DeviceRGB", "/Decode [0 1 1 0 0.25 0.75]"),
             decoded(RGB, (0, 1), (1, 0), (0.25, 0.75))),
        Case("two tones of one bit", of(BITS[..., None], "/DeviceGray", "/Decode [0.9 0.3]", 1),
             decoded(BITS[..., None], (0.9, 0.3), top=1)),
        Case("four bits", of(STEPS, "/DeviceGray", "/Decode [0.1 1]", 4),
             decoded(STEPS, (0.1, 1), top=15)),
        Case("sixteen bits", of(DEEP, "/DeviceGray", "/Decode [1 0.25]", 16),
             np.round(65535 - DEEP * 0.75).astype(np.uint16), near=1),
        Case("inks upside down", of(INKS, "/DeviceCMYK", "/Decode [1 0 1 0 1 0 1 0]"), 255 - INKS),
        Case("inks in part", of(INKS, "/DeviceCMYK", "/Decode [0 1 0 .5 0 1 .2 .4]"),
             decoded(INKS, (0, 1), (0, 0.5), (0, 1), (0.2, 0.4))),
        Case("a JPEG upside down",
             {"A": jpeg(RGB, "/ColorSpace /DeviceRGB /Decode [1 0 1 0 1 0]")}, 255 - RGB, near=9),
        # Pillow stores the inks of Adobe's marker upside down, as they mostly are
        Case("a JPEG of inks, as stored", {"A": jpeg(INKS, inks)}, 255 - INKS, near=9),
        Case("a JPEG of inks with the array that it wants",
             {"A": jpeg(INKS, f"{inks} /Decode [1 0 1 0 1 0 1 0]")}, INKS, near=9),
        Case("a JPEG of inks in part", {"A": jpeg(INKS, f"{inks} /Decode [1 0 1 0 1 0 1 .5]")},
             decoded(255 - INKS, (1, 0), (1, 0), (1, 0), (1, 0.5)), near=9),
        Case("a JPEG of inks without a marker", {"A": jpeg(INKS, inks, adobe=False)},
             255 - INKS, near=9),
        Case("a JPEG without a marker, upside down",
             {"A": jpeg(INKS, f"{inks} /Decode [1 0 1 0 1 0 1 0]", adobe=False)}, INKS, near=9),
        Case("a key of gray", of(GRAY, "/DeviceGray", "/Mask [100 180]"),
             through(np.where((GRAY >= 100) & (GRAY <= 180), 0, 255)[..., 0], values=GRAY)),
        Case("a key of colours", of(RGB, "/DeviceRGB", "/Mask [0 255 90 160 0 200]"),
             through(seen)),
        Case("a key before Decode",
             of(RGB, "/DeviceRGB", "/Mask [0 255 90 160 0 200] /Decode [1 0 1 0 1 0]"),
             through(seen, values=255 - RGB)),
        Case("a soft mask", {**of(RGB, "/DeviceRGB", "/SMask 5 0 R"), "S": soft}, through(SOFT)),
        Case("a soft mask upside down",
             {**of(RGB, "/DeviceRGB", "/SMask 5 0 R"),
              "S": packed(SOFT[..., None], "/DeviceGray", "/Decode [1 0]")}, through(255 - SOFT)),
        Case("a soft mask of one pixel",
             {**of(RGB, "/DeviceRGB", "/SMask 5 0 R"), "S": half}, through(_ones(0.4))),
        Case("a soft mask on a JPEG",
             {"A": jpeg(RGB, "/ColorSpace /DeviceRGB /SMask 5 0 R"), "S": soft},
             through(SOFT), near=9),
        Case("a soft mask that is a JPEG",
             {**of(RGB, "/DeviceRGB", "/SMask 5 0 R"),
              "S": jpeg(SOFT[..., None], "/ColorSpace /DeviceGray")}, through(SOFT), near=3),
        # of whole and of nothing, as poppler mixes half tones in RGB, and ink does not
        Case("a soft mask on inks",
             {**of(INKS, "/DeviceCMYK", "/SMask 5 0 R"),
              "S": packed(255 * HALVES[..., None], "/DeviceGray")},
             through(255 * HALVES, values=INKS)),
        Case("a soft mask with a matte", {**of(RGB, "/DeviceRGB", "/SMask 5 0 R"), "S": matte},
             words="matte"),
        Case("a stencil over it", {**of(RGB, "/DeviceRGB", "/Mask 5 0 R"), "S": hard},
             through(255 * (1 - HALVES))),
        Case("a stencil upside down", {**of(RGB, "/DeviceRGB", "/Mask 5 0 R"), "S": turned},
             through(255 * HALVES)),
        Case("a larger stencil", {**of(RGB, "/DeviceRGB", "/Mask 5 0 R"), "S": larger},
             through(255 * (1 - HALVES))),
        Case("ca", wanted=through(_ones(0.4)), **with_state("/S << /ca 0.4 >>")),
        Case("ca and a soft mask", wanted=through(_ones(0.6), SOFT),
             **with_state("/S << /ca 0.6 >>", A=packed(RGB, "/DeviceRGB", "/SMask 5 0 R"), M=soft)),
        Case("ca that ended", wanted=RGB,
             **with_state("/S << /ca 0.4 >>", f"q /S gs Q {PAINT}")),
        Case("ca of a group and of what it holds", wanted=through(_ones(0.4)),
             **with_state("/S << /ca 0.8 >>", "/S gs /F Do", F=_held(GROUP, 0.5))),
        Case("ca in a form that is no group", wanted=through(_ones(0.5)),
             **with_state("/S << /ca 0.8 >>", "/S gs /F Do", F=_held("/BBox [0 0 99 99]", 0.5))),
        Case("ca of nothing", words="wholly transparent", **with_state("/S << /ca 0 >>")),
        Case("a blend mode", words="Multiply", **with_state("/S << /BM /Multiply >>")),
        Case("a blend mode set back", wanted=RGB,
             **with_state("/S << /BM /Multiply >> /T << /BM /Normal >>", f"/S gs /T gs {PAINT}")),
        Case("a group in a blend mode", words="Darken",
             **with_state("/S << /BM /Darken >>", "/S gs /F Do", F=_held(GROUP, 1))),
        Case("a soft mask of the state", words="soft mask",
             **with_state("/S << /SMask << /S /Luminosity /G 5 0 R >> >>",
                          G=form("1 g 0 0 9 9 re f", {}, GROUP))),
        Case("a transfer function", words="transfer",
             **with_state("/S << /TR << /FunctionType 2 /Domain [0 1] /N 2 >> >>")),
        Case("a hidden layer", words="'Proof marks'", **layered(OFF)),
        Case("a layer that is shown", wanted=RGB, **layered(both.format(""))),
        Case("all hidden but this", wanted=RGB,
             **layered(both.format("/BaseState /OFF /ON [5 0 R]"))),
        Case("all hidden", words="hidden", **layered(both.format("/BaseState /OFF"))),
        Case("hidden where it prints", words="nothing tells whether",
             **layered(both.format("/AS [<< /Event /Print /Category [/Print] /OCGs [5 0 R] >>]"),
                       prints)),
        Case("a picture of a hidden layer", {**of(RGB, "/DeviceRGB", "/OC 5 0 R"), "L": LAYER},
             words="hidden", catalog=OFF),
        Case("a form of a hidden layer",
             {"F": form(PAINT, {"A": 6}, "/BBox [0 0 99 99] /OC 5 0 R"), "L": LAYER,
              **of(RGB, "/DeviceRGB")}, words="hidden", content="/F Do", catalog=OFF),
        Case("shown where a layer is hidden", wanted=RGB, **_member(member + b"/P /AllOff >>")),
        Case("hidden where any is", words="hidden", **_member(member + b"/P /AllOn >>")),
        Case("by an expression", words="nothing tells", **_member(member + b"/VE [/Not 6 0 R] >>")),
        Case("colours of a table", of(STEPS, indexed("/DeviceRGB", 3)), TABLE[STEPS[..., 0], :3]),
        Case("inks of a table", of(STEPS, indexed("/DeviceCMYK", 4)), TABLE[STEPS[..., 0]],
             space="Indexed"),
        Case("inks of a table, four bits", of(STEPS, indexed("/DeviceCMYK", 4), depth=4),
             TABLE[STEPS[..., 0]]),
        Case("grays of a table", of(STEPS, indexed("/DeviceGray", 1)), TABLE[STEPS[..., 0], :1]),
        Case("a table from its end", of(STEPS, indexed("/DeviceRGB", 3), "/Decode [15 0]", 4),
             TABLE[15 - STEPS[..., 0], :3]),
        Case("a key of a table", of(STEPS, indexed("/DeviceRGB", 3), "/Mask [3 7]"),
             through(np.where((STEPS >= 3) & (STEPS <= 7), 0, 255)[..., 0],
                     values=TABLE[STEPS[..., 0], :3])),
        Case("a table of a profile's colours",
             {**of(STEPS, indexed("[/ICCBased 5 0 R]", 3)),
              "P": stream("/N 3", rgb_profile("sRGB"))}, TABLE[STEPS[..., 0], :3], near=1),
        Case("a picture in the content", {"B": packed(GRAY, "/DeviceGray")},
             decoded(GRAY, (0.75, 0)),
             content=f"{inline} /CS /G /D [0.75 0] ID {hexed} EI Q"),
        Case("a table in the content", {"B": packed(GRAY, "/DeviceGray")},
             TABLE[STEPS[..., 0], :3],
             content=f"{inline} /CS [/I /RGB 15 <{TABLE[:, :3].tobytes().hex()}>] "
                     f"ID {STEPS.tobytes().hex()}> EI Q"),
        Case("a fax", {"A": fax("")}, BITS[..., None] * 255),
        Case("a fax upside down", {"A": fax("/Decode [1 0]")}, 255 - BITS[..., None] * 255),
        Case("a fax with a key", {"A": fax("/Mask [0 0]")}, words="colour-key"),
        Case("JPEG 2000 with a soft mask", {"A": jpeg_2000("/SMask 5 0 R"), "S": soft},
             through(SOFT)),
        Case("JPEG 2000 with a mask inside", {"A": jpeg_2000("/SMaskInData 1")}, words="inside"),
        Case("a JPEG of a spot colour",
             {"A": jpeg(GRAY, f"/ColorSpace [/Separation /Spot /DeviceCMYK << {ink} >>]")},
             words="Separation"),
    ]  # fmt: skip


def _held(entries: str, opacity: float) -> bytes:
    """Return a form that paints the picture, object 4, with an opacity of its own."""
    held = f"/XObject << /A 4 0 R >> /ExtGState << /O << /ca {opacity} >> >>"
    more = f"/Type /XObject /Subtype /Form {entries} /Resources << {held} >>"
    return stream(more, f"/O gs {PAINT}".encode())


def _member(layer: bytes) -> dict[str, Any]:
    given = layered(OFF.replace("5 0", "6 0"), layer)
    return {**given, "objects": {**given["objects"], "M": LAYER}}


CASES = _cases()
