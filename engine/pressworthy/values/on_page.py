"""What a page says of the printing of a picture that stands on it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class OnPage:
    """A page's word on its own printing, and on one picture's (ISO 32000-2, 14.11).

    trim: whether its TrimBox is ``stated``, ``given`` by a person or ``assumed``; astray: which
    boxes reach beyond others, in words. pdfx: the version of PDF/X that it claims. intent: what its
    output intent calls the printing condition, None where it has no intent; icc: that intent's
    profile. inks: the spot inks the picture is made of. overprint, transparency: what overprints,
    or lets see through, over the picture, in words.
    """

    trim: str = "stated"
    astray: str = ""
    pdfx: str = ""
    intent: str | None = None
    icc: bytes | None = field(default=None, repr=False)
    inks: tuple[str, ...] = ()
    overprint: str = ""
    transparency: str = ""

    def facts(self) -> dict[str, Any]:
        """Return what there is of it, for the report."""
        told = {
            "output intent": self.intent,
            "PDF/X": self.pdfx,
            "spot inks": list(self.inks),
            "overprint": self.overprint,
            "transparency": self.transparency,
        }
        return {name: value for name, value in told.items() if value}
