"""Which parts of an output a rule or a measurement asks for: only these can change what it finds.

A watched output is equal in every value to the plain one; `measurement` notes for each measurement
what was read under it, also where it was read by another measurement that stood ready.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from pressworthy.values.output import Output

FIELDS = frozenset(field.name for field in fields(Output))


class Watched(Output):
    """An output that notes which of its fields are read, in `seen`."""

    seen: set[str]

    def __getattribute__(self, name: str) -> Any:
        if name in FIELDS:
            object.__getattribute__(self, "seen").add(name)
        return object.__getattribute__(self, name)

    __hash__ = Output.__hash__


def watched(output: Output) -> Watched:
    """Return the output, to be watched; nothing of it is read yet."""
    values = {name: getattr(output, name) for name in FIELDS}
    one = object.__new__(Watched)
    object.__setattr__(one, "seen", set())
    for name, value in values.items():
        object.__setattr__(one, name, value)
    return one
