"""Where a picture comes from: the master of a prepared copy, and what tells two pictures alike."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from glob import glob
from pathlib import Path

from pressworthy.files.metadata.ticket import Ticket
from pressworthy.files.opening import hash_file
from pressworthy.measure.press import separated_to
from pressworthy.measure.ticket import pixel_hash, ticket
from pressworthy.values.output import Output
from pressworthy.values.picture import Picture, measurement
from pressworthy.values.placement import Placement
from pressworthy.values.units import MM_PER_INCH
from pressworthy.values.words import file_name, folders_of


def masters_of(picture: Picture, record: Ticket, folders: Sequence[str]) -> list[Path]:
    """Return the files that bear the name of a copy's master, those the run knows of first.

    folders: seen from the copy's own; ``*`` stands for any name.
    """
    name = file_name(record.master)
    known = [path for path in picture.masters if path.name == name]
    if not picture.page_object:
        home = picture.path.parent
        for folder in folders:
            # not Path.glob, which takes neither "." nor a folder from the root
            known += [home / sub / name for sub in glob(folder, root_dir=home)]  # noqa: PTH207
    return [path for path in known if path.is_file() and not path.samefile(picture.path)]


def sought(picture: Picture, folders: Sequence[str]) -> str:
    """Return in words where `masters_of` looks."""
    if picture.page_object:
        return f"among the files given with the pages, in {folders_of(picture.masters)}"
    names = ", ".join(folders)
    return f"in the folders where the house looks for masters, seen from the copy's own: {names}"


@measurement(anywhere=True)
def file_hash(picture: Picture) -> str:
    """Return the SHA-256 of the file's bytes. Raises OSError."""
    return hash_file(picture.path)


@measurement(anywhere=True)
def made_from(picture: Picture) -> str:
    """Return the path of the master that was hashed as this copy was made just now, or ""."""
    return ""


def is_master(path: Path, copy: Picture, record: Ticket) -> bool:
    """Tell whether the file is, byte for byte, what a copy was made from. Raises OSError."""
    return str(path) == made_from(copy) or hash_file(path) == record.master_sha256


def is_of_output(picture: Picture, record: Ticket) -> bool:
    """Tell whether a copy was made for the condition, colours and ink limit of its output.

    Raises Unmeasured.
    """
    output = picture.output
    profile = output.condition.profiles.get(output.colour)
    return (
        profile is not None
        and (
            record.condition_sha256 == output.condition.fingerprint([output.colour])
            # all that tickets of old tell
            or record.condition_sha256 == hashlib.sha256(profile.read_bytes()).hexdigest()
        )
        and record.ink_limit == ink_limit_told(output)
    )


def outputs_told(picture: Picture, record: Ticket) -> tuple[str, str]:
    """Return in words what a copy was made for, and where it is used. Raises Unmeasured."""
    output = picture.output
    uses = (
        (record.condition, record.colour, record.ink_limit),
        (output.condition.name, output.colour, ink_limit_told(output)),
    )
    meant, used = (
        f"{condition} {colour}" + (f" within {limit} % of ink" if limit else "")
        for condition, colour, limit in uses
    )
    return meant, used


def ink_limit_told(output: Output) -> str:
    """Return as tickets tell it for which ink limit an output's separation is made anew."""
    limit = separated_to(output)
    return "" if limit is None else f"{limit:g}"


def is_of_size(placement: Placement, record: Ticket) -> bool:
    """Tell whether a copy stands at the size it was made for, to a pixel."""
    sides = {"left", "right"}, {"top", "bottom"}
    edges = set(record.edges.split())
    meant = [
        float(mm) + float(record.bleed) * len(edges & both)
        for mm, both in zip((record.width, record.height), sides, strict=True)
    ]
    pixel = MM_PER_INCH / float(record.ppi)
    # by covered size: a file that states its ppi does not tell the bleed from the box
    return all(abs(a - b) <= pixel for a, b in zip(placement.covered(), meant, strict=True))


@measurement(anywhere=True)
def marks(picture: Picture) -> tuple[str, ...]:
    """Return hashes of which two files of one picture share at least one. Raises Unmeasured.

    Its decoded pixels; and the file itself, or the master that a prepared copy was made from.
    """
    pixels = pixel_hash(picture)
    record = ticket(picture)
    if record:
        return pixels, record.master_sha256
    # what stands on a page was taken out of it, and is no file of its own
    return (pixels,) if picture.page_object else (pixels, file_hash(picture))
