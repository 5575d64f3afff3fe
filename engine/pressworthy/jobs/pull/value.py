"""What a pull holds: nothing but bytes and numbers, made by a worker, written on a page later."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pressworthy.print.transfer import Transfer
from pressworthy.values.finding import Verdict


@dataclass(frozen=True)
class Pull:
    """One picture's proof.

    views: AVIF by name: ``supplied``, ``mono``, and ``soft``, ``print`` of the prepared copy, each
    with ``-before`` for the copy without its sharpening; overlays: PNG by ``gamut``, of
    all that is marked as beyond the output's colours, and ``ink``.
    small: JPEG for the plan; paper: JPEG of what the page prints, of the view ``paper_view``.
    size: px of the views; mm: that the copy covers, bleed included, or None; bleed: mm at top,
    right, bottom, left. close: JPEG by ``read``, ``true``, the light of the page on a screen, and
    ``dots``, each with ``-before``; close_mm: of the first two, None where there are none.
    tones: shares (0..1) of the picture by printed L*, in `BINS` steps from 0 to 100;
    supplied_tones: the same as a screen shows the master; median: printed L*.
    sharp, plain: contrast transfer of the copy as prepared and before its sharpening.
    marked: (share, 0..1, what it is the share of) of each of the house's rules that marks the
    picture as supplied; None in place of the share where the rule broke.
    most_ink: %, or None.
    steps: what preparing did; copy: the verdict on what it made; why: the reason there is no copy.
    """

    views: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    overlays: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    small: bytes = field(default=b"", repr=False)
    paper: bytes = field(default=b"", repr=False)
    paper_view: str = ""
    size: tuple[int, int] = (0, 0)
    mm: tuple[float, float] | None = None
    bleed: tuple[float, float, float, float] = (0, 0, 0, 0)
    close: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    close_mm: tuple[float, float] | None = None
    tones: tuple[float, ...] = ()
    supplied_tones: tuple[float, ...] = ()
    median: float = 0.0
    sharp: Transfer | None = None
    plain: Transfer | None = None
    marked: tuple[tuple[float | None, str], ...] = ()
    most_ink: float | None = None
    steps: tuple[str, ...] = ()
    copy: Verdict | None = None
    why: str = ""
    caption: str = ""
    credit: str = ""
