"""Lettering for a PDF page that needs no font of the system: drawn once, embedded, still text.

A Type 3 font (ISO 32000-1, 9.6.5) whose glyphs are pictures of one bit, of the face that comes with
Pillow. It holds ASCII and little more, so that an accent goes and what is left over becomes "?".
"""

from __future__ import annotations

import unicodedata
import zlib

import pikepdf
from PIL import Image, ImageDraw, ImageFont

EM_PX = 240
"""Of a glyph: over 1500 dpi at 11 pt, more than a page is read by."""

SPACE_PX = 66
"""Of a word space: a quarter more than the face's own, which closes up at small sizes."""


class Lettering:
    """A font on its way into a PDF: it holds the characters that were measured or written."""

    def __init__(self) -> None:
        self._face = ImageFont.load_default(EM_PX)
        self._missing = bytes(self._face.getmask("\ufffe"))
        self._shown: dict[str, str] = {}
        self._used: set[str] = set()

    def written(self, text: str) -> str:
        """Return the text in the characters that there are."""
        shown = "".join(self._known(c) for c in unicodedata.normalize("NFKD", text))
        self._used |= set(shown)
        return shown

    def width(self, text: str, size: float) -> float:
        """Return how wide a text is, in points, at a size in points."""
        return sum(map(self._advance, self.written(text))) / EM_PX * size

    def line(self, x: float, y: float, size: float, text: str) -> str:
        """Return the operators that write a line from (x, y), in points, by the font /L."""
        code = self.written(text).encode("latin-1").hex()
        return f"BT /L {size:g} Tf {x:.3f} {y:.3f} Td <{code}> Tj ET"

    def font(self, pdf: pikepdf.Pdf) -> pikepdf.Object:
        """Return the font of all that was written, to stand under /L among a page's fonts."""
        glyphs = {char: self._glyph(char) for char in sorted(self._used)}
        first, last = (ord(end(glyphs)) for end in (min, max))
        widths = [glyphs[chr(at)][0] if chr(at) in glyphs else 0 for at in range(first, last + 1)]
        names = {char: f"/uni{ord(char):04X}" for char in glyphs}
        differences: list[int | pikepdf.Name] = []
        for char, name in names.items():
            differences += [ord(char), pikepdf.Name(name)]
        return pdf.make_indirect(
            pikepdf.Dictionary(
                Type=pikepdf.Name.Font,
                Subtype=pikepdf.Name.Type3,
                FontBBox=[0, -EM_PX // 3, EM_PX * 2, EM_PX],
                FontMatrix=[1 / EM_PX, 0, 0, 1 / EM_PX, 0, 0],
                FirstChar=first,
                LastChar=last,
                Widths=widths,
                Encoding=pikepdf.Dictionary(
                    Type=pikepdf.Name.Encoding, Differences=pikepdf.Array(differences)
                ),
                CharProcs=pikepdf.Dictionary(
                    {names[char]: pdf.make_stream(drawn) for char, (_, drawn) in glyphs.items()}
                ),
                Resources=pikepdf.Dictionary(),
            )
        )

    def _known(self, char: str) -> str:
        if char not in self._shown:
            there = ord(char) < 256 and bytes(self._face.getmask(char)) != self._missing
            left_over = "" if unicodedata.combining(char) else "?"
            self._shown[char] = char if there else left_over
        return self._shown[char]

    def _advance(self, char: str) -> int:
        return SPACE_PX if char == " " else round(self._face.getlength(char))

    def _glyph(self, char: str) -> tuple[int, bytes]:
        """Return a glyph's width and its drawing, in pixels of the em."""
        advance = self._advance(char)
        left, top, right, bottom = map(round, self._face.getbbox(char, anchor="ls"))
        if right <= left or bottom <= top:
            return advance, f"{advance} 0 d0".encode()
        picture = Image.new("1", (right - left, bottom - top), 1)
        ImageDraw.Draw(picture).text((-left, -top), char, fill=0, font=self._face, anchor="ls")
        data = zlib.compress(picture.tobytes(), 9).hex()
        box = f"{left} {-bottom} {right} {-top}"
        return advance, (
            f"{advance} 0 {box} d1 q {right - left} 0 0 {bottom - top} {left} {-bottom} cm "
            f"BI /W {right - left} /H {bottom - top} /IM true /BPC 1 /F [/AHx /Fl] ID {data}> EI Q"
        ).encode()
