"""The shape of a rule: what it is called, what it can find, what a house sets, how it looks."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pressworthy.values.finding import Finding
from pressworthy.values.picture import Picture
from pressworthy.values.report import RuleNotes

Options = Mapping[str, Any]
"""A house profile's values for one rule: quantities as floats in their canonical unit."""


OF_MASTER = "a prepared copy: its master is judged"
"""Why a rule of masters judges no copy."""


@dataclass(frozen=True)
class Member:
    """One picture of a set, as it stands on its page: one file on two pages is two members.

    path, name, page, placement: as in the `Verdict`; placement is the size in words, for a reader.
    number: which it is among members that are alike in all of these, from 1.
    """

    path: str
    name: str = ""
    page: str = ""
    placement: str = ""
    number: int = 1

    def __str__(self) -> str:
        page = f", page {self.page}" if self.page else ""
        return f"{self.name or self.path}{page}"


@dataclass(frozen=True, eq=False)
class Marks:
    """Where the output cannot print a picture's colours, as the page of proofs hatches it.

    mask: (height, width) at any scale, of the picture as stored, before its orientation.
    share: of the picture as supplied (0..1), as the rule's findings have it.
    sentence: what that is the share of, with the house's bound; the page writes it after the share.
    """

    mask: NDArray[np.bool_]
    share: float
    sentence: str


Check = Callable[[Picture, Options], Iterable[Finding]]
Evidence = Callable[[Picture], Any]
MarksOf = Callable[[Picture, Options], Marks | None]
CheckSet = Callable[[Mapping[Member, Any], Options], Mapping[Member, Iterable[Finding]]]
TellOnce = Callable[[Mapping[Member, Any], Options], Iterable[str]]
_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
RESERVED = frozenset({"left out", "reason", "severity"})


@dataclass(frozen=True)
class Rule:
    """A rule module's one export.

    name: lower case with hyphens, unique among all rules.
    check: yields findings, or raises `Unmeasured` where the picture cannot be judged.
    options: option name -> JSON Schema fragment with a description (see `units.quantity`).
    codes: finding code -> what it means, in one line.
    doc: the module's docstring; version: raised when the same picture may be judged otherwise.
    masters_only: what it finds was done to the picture before it came in; a prepared copy is not
        judged by it, its master was. copies_only: the other way round.
    files_only: what it judges, such as words and bytes, is lost where a page takes a picture in;
        it judges files, and no pictures taken from the pages of a PDF. pages_only: the other way
        round, for what a page says of its printing.
    evidence, check_set: for a rule that also judges pictures by their neighbours. Where `check`
        measured a picture, `evidence` returns a small value that JSON can hold; when all are in,
        `check_set` gets `Member` -> evidence and the options and returns, by the same members,
        further findings.
    tell_once: gets what `check_set` gets and returns sentences for the foot of the report: what is
        told of many pictures together and is no finding in any of them.
    says: option -> the sentence in which a house standard tells its value, which stands at ``{}``.
    mended: codes that preparing may put right, as the house has it: a copy is made, and
        judged anew. A master with a stop of any other code is left for a person.
    marks: for a rule that knows where the output cannot print a picture's colours. The page of
        proofs hatches its mask and tells its share; None where there is nothing to tell.

    Raises ValueError when a name or code is ill-formed, a description is missing, `mended` names no
    code, `says` no option, or only one of `evidence` and `check_set` is given, or `tell_once`
    without them.
    """

    name: str
    check: Check
    options: Mapping[str, Mapping[str, Any]]
    codes: Mapping[str, str]
    doc: str
    version: str = "1"
    masters_only: bool = False
    copies_only: bool = False
    files_only: bool = False
    pages_only: bool = False
    evidence: Evidence | None = None
    check_set: CheckSet | None = None
    tell_once: TellOnce | None = None
    marks: MarksOf | None = None
    mended: tuple[str, ...] = ()
    says: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in (self.name, *self.codes):
            if not _NAME.fullmatch(name):
                raise ValueError(f"{name!r}: rule and code names are lower case with hyphens")
        if "unmeasured" in self.codes:
            raise ValueError(f"rule {self.name}: 'unmeasured' is a state and cannot be a code")
        for option, sentence in self.says.items():
            if option not in self.options or sentence.count("{}") != 1:
                raise ValueError(
                    f"rule {self.name}: says of {option!r}: a sentence is of an option, and has "
                    "{} once, where its value stands"
                )
        if not self.codes:
            raise ValueError(f"rule {self.name}: a rule needs at least one code")
        if unknown := set(self.mended) - self.codes.keys():
            raise ValueError(f"rule {self.name}: mended names no codes of it: {sorted(unknown)}")
        if not (self.doc or "").strip():
            raise ValueError(f"rule {self.name}: a rule needs a docstring")
        if (self.evidence is None) != (self.check_set is None):
            raise ValueError(f"rule {self.name}: evidence and check_set go together")
        if self.tell_once and self.evidence is None:
            raise ValueError(f"rule {self.name}: tell_once needs evidence")
        for option, fragment in self.options.items():
            if option in RESERVED:
                raise ValueError(f"rule {self.name}: option {option!r} is a reserved word")
            if not fragment.get("description"):
                raise ValueError(f"rule {self.name}: option {option!r} has no description")


def some_of(values: Iterable[Any], description: str, *, fewest: int = 1) -> dict[str, Any]:
    """Return the JSON Schema fragment of an option that names `fewest` or more of `values`."""
    fragment: dict[str, Any] = {"type": "array", "items": {"enum": list(values)}}
    if fewest:
        fragment["minItems"] = fewest
    return {**fragment, "description": description}


def documentation(rule: Rule) -> str:
    """Return a rule's documentation in Markdown: its docstring, options and codes."""
    lines = [f"# {rule.name}", "", rule.doc.strip(), "", "## What the house sets", ""]
    for name, part in rule.options.items():
        lines.append(f"- `{name}`: {part['description']}{_unit(part)}")
    if not rule.options:
        lines.append("Nothing but how much each finding weighs.")
    lines += ["", "## What it can find", ""]
    lines += [f"- `{code}`: {meaning}" for code, meaning in rule.codes.items()]
    return "\n".join(lines) + "\n"


def notes_on(rule: Rule) -> RuleNotes:
    """Return what a report says of the rule itself."""
    about, _, rest = rule.doc.strip().partition("\n")
    return RuleNotes(rule.name, rule.version, about.strip(), rest.strip(), dict(rule.codes))


def _unit(fragment: Mapping[str, Any]) -> str:
    return f" ({fragment['unit']})" if "unit" in fragment else ""
