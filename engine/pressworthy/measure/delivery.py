"""Pictures that came together, one folder with one ICC profile, weighed as a whole."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressworthy.measure.metadata import stated_space
from pressworthy.measure.source_space import SURE, SourceSpace, pooled, source_space
from pressworthy.values.picture import Picture
from pressworthy.values.rule import Member


def testimony(picture: Picture) -> dict[str, Any] | None:
    """Return what a picture tells of its tag: tag, ln p by space, gain, how far it is dulled.

    And whether a finding tells of it already, and whether nothing tells it right or wrong. None
    where it has no tag, or no RGB space to be taken for another. Raises Unmeasured.
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
        "dulled": space.dulled,
        "told": space.told(stated_space(picture)),
        "undecided": space.undecided(stated_space(picture)),
    }


@dataclass(frozen=True)
class Delivery:
    """One folder's pictures that carry the profile `tag`.

    places: file -> where it stands in the set.
    best, gain, limit: as `source_space.pooled` gives them.
    """

    tag: str
    places: Mapping[str, list[Member]]
    best: str
    gain: float
    limit: float

    def members(self) -> list[Member]:
        """Return every place of every file."""
        return [member for path in self.places for member in self.places[path]]

    def in_words(self) -> str:
        """Return what the pictures say together, and what to ask."""
        return (
            f"{len(self.places)} pictures of this folder are tagged {self.tag}; together they look "
            f"most like {self.best}. Ask the supplier before any of them is converted, and name "
            "their space in the list's column assume."
        )


@dataclass(frozen=True)
class OddOne:
    """A picture that carries another profile than its folder.

    places: where it stands in the set; space: what its pixels say; neighbours: how many files carry
    the profile `theirs`.
    """

    places: list[Member]
    space: SourceSpace
    theirs: str
    neighbours: int

    def in_words(self) -> str:
        """Return what sets it apart, and what to ask."""
        return (
            f"Tagged {self.space.tag} among {self.neighbours} pictures tagged {self.theirs}, it "
            f"looks more like {self.space.looks_like()}. {self.space.compare()}"
        )


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
    for by_tag in _folders(testimonies):
        for tag, places in by_tag.items():
            if len(places) >= fewest:
                heard = [testimonies[members[0]]["log_p"] for members in places.values()]
                yield Delivery(tag, places, *pooled(tag, heard))


def odd_ones(testimonies: Mapping[Member, Any], fewest: int) -> Iterator[OddOne]:
    """Yield the pictures of a tag beside `fewest` times as many of another; told ones are left out.

    testimonies, fewest: as for `deliveries`.
    """
    for by_tag in _folders(testimonies):
        theirs = max(by_tag, key=lambda tag: len(by_tag[tag]))
        for tag, places in by_tag.items():
            if len(by_tag[theirs]) < fewest * len(places):
                continue
            for members in places.values():
                heard = testimonies[members[0]]
                if not heard["told"]:
                    space = SourceSpace(tag, heard["log_p"], {}, heard["dulled"])
                    yield OddOne(members, space, theirs, len(by_tag[theirs]))


def _folders(testimonies: Mapping[Member, Any]) -> Iterable[dict[str, dict[str, list[Member]]]]:
    """Return by folder: tag -> file -> its places."""
    folders: dict[str, dict[str, dict[str, list[Member]]]] = {}
    for member, testimony in testimonies.items():
        by_tag = folders.setdefault(str(Path(member.path).parent), {})
        by_tag.setdefault(testimony["tag"], {}).setdefault(member.path, []).append(member)
    return folders.values()
