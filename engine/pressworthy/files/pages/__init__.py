"""Page PDFs: how they look, the pictures placed on them, and their pixels."""

from pressworthy.files.pages.document import UnreadPages
from pressworthy.files.pages.drawn import PdfPage, drawn, pages_in
from pressworthy.files.pages.extracted import STENCIL, Extracted, extract
from pressworthy.files.pages.placed import (
    BY_DEFAULT,
    MOST_MEMORY,
    SECONDS,
    Placed,
    Trim,
    limit_process,
    survey,
)
from pressworthy.files.pages.printing import intended_profile

__all__ = [
    "BY_DEFAULT",
    "MOST_MEMORY",
    "SECONDS",
    "STENCIL",
    "Extracted",
    "PdfPage",
    "Placed",
    "Trim",
    "UnreadPages",
    "drawn",
    "extract",
    "intended_profile",
    "limit_process",
    "pages_in",
    "survey",
]
