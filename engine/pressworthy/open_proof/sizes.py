"""The largest size that a picture's pixels allow, as the remedy for too few of them has it."""

from __future__ import annotations

from collections.abc import Mapping

from pressworthy.house import House
from pressworthy.open_proof.issue import Issue
from pressworthy.open_proof.journal import Place


def largest(issue: Issue, place: Place, house: House) -> Mapping[str, str]:
    """Return the fields `width` and `height` of the decision "largest size" for the place.

    Raises SetupError where there is no such size.
    """
    raise NotImplementedError
