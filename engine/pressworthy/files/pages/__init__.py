"""Page PDFs: the pictures placed on them, and their pixels."""

from pressworthy.files.pages.document import UnreadPages
from pressworthy.files.pages.extracted import STENCIL, Extracted, extract
from pressworthy.files.pages.placed import (
    MOST_MEMORY,
    SECONDS,
    Placed,
    Trim,
    limit_process,
    survey,
)

__all__ = [
    "MOST_MEMORY",
    "SECONDS",
    "STENCIL",
    "Extracted",
    "Placed",
    "Trim",
    "UnreadPages",
    "extract",
    "limit_process",
    "survey",
]
