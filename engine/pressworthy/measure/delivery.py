"""Pictures that came together, one folder with one ICC profile, weighed as a whole."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressworthy.measure.metadata import stated_space
from pressworthy.measure.source_space import SURE, pooled, source_space
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Member


def testimony(picture: Picture) -> dict[str, Any] | None:
    """Return tag, ln p by space, gain and whether it is undecided: what a picture tells of its tag.

    None where it has no tag, or no RGB space to be taken for another. Raises Unmeasured.
    """
    if picture.header.mode != "RGB" or picture.assumed:
        return None
    space = source_space(picture)
    if not space.tag:
        return None
    return {
        "tag": space.tag,
        "log_p": space.log_p,
        "gain": space.gain(),
        "undecided": space.undecided(stated_space(picture)),
    }


@dataclass(frozen=True)
class Delivery:
    """One folder's pictures that carry the profile `tag`.

    places: file -> where it stands in the set; gains: file -> its own gain, see `SourceSpace`.
    best, gain, limit: as `source_space.pooled` gives them.
    """

    tag: str
    places: Mapping[str, list[Member]]
    gains: Mapping[str, float]
    best: str
    gain: float
    limit: float

    def members(self) -> list[Member]:
        """Return every place of every file."""
        return [member for path in self.places for member in self.places[path]]

    def most(self) -> float:
        """Return the largest gain of a single file.

        Judged by the limit for one picture: a lower one would name a picture in most honest
        deliveries.
        """
        return max(self.gains.values())

    def first(self) -> list[Member]:
        """Return the places of the file whose profile is most in doubt."""
        return self.places[self._by_doubt()[0]]

    def in_words(self) -> str:
        """Return what the pictures say together, and what to ask."""
        return (
            f"{len(self.places)} pictures of this folder are tagged {self.tag}; together they look "
            f"most like {self.best}. Ask the supplier before any of them is converted, and name "
            "their space in the list's column assume."
        )

    def first_in_words(self) -> str:
        """Return among how many a file is most in doubt, and which comes next."""
        second = self._by_doubt()[1]
        return (
            f"Of {len(self.places)} pictures tagged {self.tag} here look at this one first; the "
            f"next in doubt is {Path(second).name} with {self.gains[second]:.1f} nats. Ask the "
            "supplier, and name its space in the list's column assume."
        )

    def _by_doubt(self) -> list[str]:
        return sorted(self.gains, key=lambda path: -self.gains[path])


def undecided(testimonies: Mapping[Member, Any], options: Mapping[str, Any]) -> Iterator[str]:
    """Tell how many files of which wide tag there are that nothing tells right or wrong.

    Neither their pixels nor metadata, nor their delivery. options: of the rule source-profile.
    """
    settled = {
        member.path
        for one in deliveries(testimonies, options["smallest delivery"])
        if one.gain <= -SURE or one.gain > one.limit
        for member in one.members()
    }
    files = {
        member.path: testimony["tag"]
        for member, testimony in testimonies.items()
        if testimony["undecided"] and member.path not in settled
    }
    counts = Counter(files.values()).most_common()
    counted = ", ".join(f"{n} picture{'s' if n > 1 else ''} tagged {tag}" for tag, n in counts)
    if counted:
        yield f"cannot be told from pixels: {counted}; compare them in the proof."


def deliveries(testimonies: Mapping[Member, Any], fewest: int) -> Iterator[Delivery]:
    """Yield the deliveries of `fewest` files or more; a file on two pages counts once.

    testimonies: see `testimony`.
    """
    grouped: dict[tuple[str, str], dict[str, list[Member]]] = {}
    for member, testimony in testimonies.items():
        group = grouped.setdefault((str(Path(member.path).parent), testimony["tag"]), {})
        group.setdefault(member.path, []).append(member)
    for (_, tag), places in grouped.items():
        if len(places) >= fewest:
            heard = {path: testimonies[members[0]] for path, members in places.items()}
            gains = {path: one["gain"] for path, one in heard.items()}
            together = pooled(tag, [one["log_p"] for one in heard.values()])
            yield Delivery(tag, places, gains, *together)
