"""House profiles: found by name or path, put together along `stands on`, validated, explained."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pressworthy.colour.condition import find_condition, is_profile
from pressworthy.colour.own_profile import USUAL_DOTS
from pressworthy.house.explain import explain
from pressworthy.house.schema import house_schema
from pressworthy.plugins import Registry
from pressworthy.print.printlook import press_of
from pressworthy.values.condition import Condition
from pressworthy.values.faults import Fault, KeyPath, Origin, SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.output import GrayMix, Output
from pressworthy.yamlfile import Document, canonical, faults_against, is_there, read

MOST_GENERATIONS = 10

_AMOUNT = ("prepare", "amount")
_AMOUNT_HANGS_ON: tuple[KeyPath, ...] = (
    ("output", "medium"),
    ("output", "colour"),
    ("output", "ppi"),
    ("output", "viewing distance"),
    ("output", "condition"),
    ("output", "ruling"),
    ("output", "device resolution"),
    ("prepare", "radius"),
)


@dataclass(frozen=True)
class RuleSetting:
    """A house's values for one rule: options in canonical units, severity by finding code."""

    options: dict[str, Any]
    severity: dict[str, str]


@dataclass(frozen=True)
class House:
    """A house profile in effect.

    chain: the files it was put together from, the house standard first.
    rules: those that run, in order; left_out: those that do not, with the reason.
    prepare: how copies are made, quantities in canonical units, or None where it does not say;
    without an amount of sharpening where that is to be derived, see `prepare.amount`.
    document: the values as written, with `origins` telling file and line of each.
    """

    name: str
    kind: str
    about: str
    publisher: str
    output: Output
    rules: dict[str, RuleSetting]
    left_out: dict[str, str]
    chain: tuple[str, ...]
    document: dict[str, Any] = field(repr=False)
    origins: dict[KeyPath, Origin] = field(repr=False)
    prepare: dict[str, Any] | None = None

    def fingerprint(self) -> str:
        """Return the SHA-256 of the values in effect, wherever they were written."""
        text = json.dumps(self.document, sort_keys=True, ensure_ascii=True)
        return hashlib.sha256(text.encode()).hexdigest()


Instead = Mapping[Path, bytes]
"""Resolved file -> bytes that are read in place of those in it: what a change would give."""


def load_house(
    asked: str, registry: Registry, folder: Path | None = None, instead: Instead | None = None
) -> House:
    """Return the house profile `asked`: a path to a file, or a name.

    folder: the publisher's own house profiles; its names come before the registered ones, also
    for the parents of registered profiles, so that a publisher's `house.yaml` stands under every
    output type. A path brings its own folder. Raises SetupError with every fault.
    """
    merged, chain = _in_effect(asked, registry, folder, instead)
    if merged.value.get("kind") == "standard":
        message = "a house standard has no output of its own: name an output type or a title"
        raise SetupError([Fault(merged.origins.get(("kind",)), ("kind",), message)])
    return _house(merged, chain, registry)


def validate_house(
    asked: str, registry: Registry, folder: Path | None = None, instead: Instead | None = None
) -> House | None:
    """Return a house profile without fault; None for a house standard, which is no whole one.

    Raises SetupError with every fault.
    """
    merged, chain = _in_effect(asked, registry, folder, instead)
    if merged.value.get("kind") == "standard":
        return None
    return _house(merged, chain, registry)


def amount_from_elsewhere(house: House) -> bool:
    """Tell whether the amount of sharpening in effect was stated for another viewing distance.

    That is so where a profile further down states that anew, and no amount can be derived.
    """
    return _outlived(house.origins, house.chain, [("output", "viewing distance")])


def show(asked: str, registry: Registry, folder: Path | None = None, *, origin: bool) -> str:
    """Return a house profile of any kind in effect as YAML, with origins of its values if asked.

    Raises SetupError with every fault.
    """
    merged, chain = _in_effect(asked, registry, folder)
    files = "".join(f"# {document.file}\n" for document in chain)
    return f"# in effect, from\n{files}" + explain(merged.value, merged.origins, origin=origin)


def in_effect(
    asked: str, registry: Registry, folder: Path | None = None
) -> tuple[Document, list[Document]]:
    """Return a house profile of any kind in effect, and the files it was put together from.

    The house standard's file comes first. Raises SetupError with every fault.
    """
    return _in_effect(asked, registry, folder, None)


def locks(chain: Sequence[Document]) -> dict[str, Origin | None]:
    """Return rule -> where the house locked it first."""
    locked: dict[str, Origin | None] = {}
    for document in chain:
        lock = document.value.get("lock")
        for index, name in enumerate(lock if isinstance(lock, list) else []):
            locked.setdefault(str(name), document.origins.get(("lock", index)))
    return locked


def _in_effect(
    asked: str, registry: Registry, folder: Path | None, instead: Instead | None = None
) -> tuple[Document, list[Document]]:
    """Return the profile put together without fault, and the files it is from.

    A house standard need not be complete.
    """
    path = Path(asked)
    if path.suffix in (".yaml", ".yml"):
        folder = folder or path.parent
    else:
        path = _found(asked, registry, folder, instead or {})
    chain = _chain(path, registry, folder, instead or {})
    merged, faults = _merge(chain, registry)
    for document in chain:
        faults += faults_against(house_schema(registry.rules, complete=False), document)
        faults += _misnamed(document)
    if merged.value.get("kind") != "standard":
        faults += faults_against(house_schema(registry.rules, complete=True), merged)
    if faults:
        raise SetupError([*_unique(faults), *_failed(registry)])
    if _outlived(merged.origins, [document.file for document in chain], _AMOUNT_HANGS_ON):
        _without_amount(merged, chain, registry)
    return merged, chain


def _outlived(
    origins: Mapping[KeyPath, Origin], chain: Sequence[str], by: Sequence[KeyPath]
) -> bool:
    """An amount belongs to the output that it was stated for, not to one stated further down."""
    if _AMOUNT not in origins:
        return False
    stated = chain.index(origins[_AMOUNT].file)
    return any(chain.index(origins[path].file) > stated for path in by if path in origins)


def _without_amount(merged: Document, chain: Sequence[Document], registry: Registry) -> None:
    """Take the amount out of a document where another can be derived."""
    output = canonical(house_schema(registry.rules, complete=True), merged.value)["output"]
    if output["medium"] != "print":
        return
    try:
        press_of(_condition(output, merged, chain, registry))
    except (SetupError, Unmeasured, OSError):
        return
    del merged.value["prepare"]["amount"], merged.origins[_AMOUNT]


def _misnamed(document: Document) -> list[Fault]:
    """A profile is asked for by its file's name, so reports must call it by no other."""
    name, stem = document.value.get("house"), Path(document.file).stem
    if not isinstance(name, str) or name == stem:
        return []
    message = f"{name!r} is not the file's name, by which it is asked for: write {stem!r}"
    return [Fault(document.origins.get(("house",)), ("house",), message)]


def list_houses(registry: Registry, folder: Path | None = None) -> Iterator[Document]:
    """Yield the house profiles that can be named, each file as it is, without its parents."""
    for searched in _folders(registry, folder):
        for path in sorted(searched.glob("*.yaml")):
            yield read(path)


def _folders(registry: Registry, folder: Path | None) -> list[Path]:
    return [*([folder] if folder else []), *registry.house_folders]


def _find(name: str, folders: Iterable[Path], taken: Sequence[Path]) -> Path | None:
    for folder in folders:
        path = folder / f"{name}.yaml"
        if is_there(path) and path.resolve() not in taken:
            return path
    return None


def _found(asked: str, registry: Registry, folder: Path | None, instead: Instead) -> Path:
    if folder and (path := folder / f"{asked}.yaml").resolve() in instead:
        return path
    return _find(asked, _folders(registry, folder), ()) or _unknown(asked, registry, folder)


def _unknown(asked: str, registry: Registry, folder: Path | None) -> Path:
    names = sorted({p.stem for f in _folders(registry, folder) for p in f.glob("*.yaml")})
    raise SetupError(
        [
            f"no house profile is called {asked!r}; there are {', '.join(names)}; "
            "give --house-folder for your own, or the path of a .yaml file"
        ]
    )


def _chain(path: Path, registry: Registry, folder: Path | None, instead: Instead) -> list[Document]:
    """Return the documents from the house standard down to `path`."""
    documents: list[Document] = []
    taken: list[Path] = []
    while True:
        document = read(path, instead.get(path.resolve()))
        documents.insert(0, document)
        taken.append(path.resolve())
        parent = document.value.get("stands on")
        if not isinstance(parent, str):
            return documents
        folders = _folders(registry, folder)
        if parent.endswith((".yaml", ".yml")):
            base: Path | None = path.parent / parent
        else:
            # a publisher's house.yaml may stand on the built-in one of its name
            base = _find(parent, folders, taken) or _find(parent, folders, ())
        if base and base.resolve() in taken:
            message = f"in a circle: {_circle(documents, taken.index(base.resolve()))}"
        elif not (base and is_there(base)):
            message = f"stands on {parent!r}, which is not found"
        elif len(documents) >= MOST_GENERATIONS:
            message = f"more than {MOST_GENERATIONS} house profiles, each standing on the next"
        else:
            path = base
            continue
        raise SetupError([Fault(document.origins.get(("stands on",)), ("stands on",), message)])


def _circle(documents: Sequence[Document], start: int) -> str:
    """Return who stands on whom until one comes again, each with file and line.

    documents: the one that closes the circle first; start: which comes again, counted from the
    last.
    """
    circle = documents[::-1][start:]
    names = [Path(document.file).stem for document in circle]
    places = [document.origins.get(("stands on",)) for document in circle]
    chain = [f"{name} ({place})" for name, place in zip(names, places, strict=True)]
    return " stands on ".join([*chain, names[0]])


def _merge(chain: Sequence[Document], registry: Registry) -> tuple[Document, list[Fault]]:
    """Return the document in effect: mappings merge by key, everything else replaces.

    An output type that comes with the program or a plug-in may stand below a publisher's lock and
    adds to the rule what its output needs; what the lock's own file says of the rule stays.
    """
    merged = Document(chain[-1].file)
    faults: list[Fault] = []
    locked: dict[str, tuple[Origin | None, Document]] = {}
    given = [folder.resolve() for folder in registry.house_folders]
    for document in chain:
        rules = _rules(document)
        below = [name for name in rules if name in locked]
        _lay_over(merged, document.value, document, ())
        if Path(document.file).resolve().parent in given:
            for name in below:
                kept = {k: v for k, v in _rules(locked[name][1]).items() if k == name}
                _lay_over(merged, {"rules": kept}, locked[name][1], ())
        else:
            for name in below:
                message = f"locked by the house at {locked[name][0]}"
                origin = document.origins.get(("rules", name))
                faults.append(Fault(origin, ("rules", name), message))
        if document.value.get("kind") == "title":
            faults += _reasons(document, rules)
        lock = document.value.get("lock")
        for index, name in enumerate(lock if isinstance(lock, list) else []):
            locked.setdefault(str(name), (document.origins.get(("lock", index)), document))
    return merged, faults


def _rules(document: Document) -> Mapping[str, Any]:
    rules = document.value.get("rules")
    return rules if isinstance(rules, dict) else {}


def _reasons(document: Document, rules: Mapping[str, Any]) -> list[Fault]:
    """A title's difference from its output type must say why."""
    parts: list[tuple[KeyPath, Any]] = [(("rules", name), rules[name]) for name in rules]
    parts += [((name,), document.value.get(name)) for name in ("output", "prepare")]
    return [
        Fault(document.origins.get(path), path, "a title's difference needs a 'reason'")
        for path, value in parts
        if isinstance(value, dict) and not {"reason", "left out"} & value.keys()
    ]


def _lay_over(merged: Document, value: Any, document: Document, path: KeyPath) -> None:
    target: Any = merged.value
    for key in path:
        target = target[key]
    for key, part in value.items():
        below = (*path, key)
        if isinstance(part, dict) and isinstance(target.get(key), dict):
            _lay_over(merged, part, document, below)
            continue
        stale = [p for p in merged.origins if p[: len(below)] == below]
        for old in stale:
            del merged.origins[old]
        target[key] = deepcopy(part)
        for p, origin in document.origins.items():
            if p[: len(below)] == below:
                merged.origins[p] = origin
    merged.origins.setdefault((), Origin(merged.file, 1))


def _unique(faults: Iterable[Fault]) -> list[Fault]:
    kept = {(f.origin, f.path, f.message): f for f in faults}
    return list(kept.values())


def _failed(registry: Registry) -> list[str]:
    return [f"plug-in {name} did not load: {why}" for name, why in registry.failed.items()]


def _house(merged: Document, chain: Sequence[Document], registry: Registry) -> House:
    value = merged.value
    schema = house_schema(registry.rules, complete=True)
    figures = canonical(schema, value)
    output = figures["output"]
    section = figures.get("prepare", {})
    darkest, lightest = output["median"]
    faults = []
    if darkest > lightest:
        path = ("output", "median")
        message = f"the darkest, {darkest:g} L*, lies above the lightest, {lightest:g} L*"
        faults.append(Fault(merged.origins.get(path), path, message))
    try:
        condition = _condition(output, merged, chain, registry)
    except SetupError as error:
        raise SetupError([*faults, *error.faults]) from None
    if section and "amount" not in section:
        faults += _no_amount(condition, merged)
    if faults:
        raise SetupError(faults)
    rules, left_out = {}, {}
    for name, setting in figures["rules"].items():
        if isinstance(setting.get("left out"), str):
            left_out[name] = setting["left out"]
            continue
        options = {key: setting[key] for key in registry.rules[name].options}
        rules[name] = RuleSetting(options, setting["severity"])
    return House(
        name=value["house"],
        kind=value["kind"],
        about=value.get("about", ""),
        publisher=value.get("publisher", ""),
        output=Output(
            medium=output["medium"],
            colour=output["colour"],
            ppi=output["ppi"],
            bleed=output["bleed"],
            viewing_distance=output["viewing distance"],
            median=(darkest, lightest),
            condition=condition,
            steepest=section.get("steepest tone", 1.0),
            gray_mix=_gray_mix(merged, section),
            gray_pictures=section.get("gray pictures", "four inks"),
            ink_limit=rules["ink"].options["limit"] if "ink" in rules else None,
        ),
        rules=rules,
        left_out=left_out,
        chain=tuple(document.file for document in chain),
        document=value,
        origins=merged.origins,
        prepare=figures.get("prepare"),
    )


def _no_amount(condition: Condition, merged: Document) -> list[Fault]:
    """An amount that the profile does not state must be one that can be derived."""
    try:
        if condition.medium == "print":
            press_of(condition)
            return []
        why = "a screen has no ink to derive it from"
    except (Unmeasured, OSError) as reason:
        why = f"none can be derived: {reason}"
    message = f"'amount' is missing (share of sharpening); {why}"
    return [Fault(merged.origins.get(("prepare",)), ("prepare",), message)]


def _gray_mix(merged: Document, section: Mapping[str, Any]) -> GrayMix:
    asked = section.get("gray mix", "")
    if isinstance(asked, str):
        return asked
    if not any(asked[name] for name in ("red", "green", "blue")):
        path = ("prepare", "gray mix")
        message = "of no colour at all nothing but black can be mixed"
        raise SetupError([Fault(merged.origins.get(path), path, message)])
    return asked["red"], asked["green"], asked["blue"]


def _condition(
    output: Mapping[str, Any], merged: Document, chain: Sequence[Document], registry: Registry
) -> Condition:
    path = ("output", "condition")
    origin = merged.origins.get(path)
    try:
        near = Path(origin.file).parent if origin else Path()
        condition = find_condition(str(output["condition"]), registry.condition_folders, near)
    except ValueError as error:
        raise SetupError([Fault(origin, path, str(error))]) from None
    if condition.medium != output["medium"] or output["colour"] not in condition.profiles:
        colours = ", ".join(condition.profiles)
        raise SetupError(
            [
                Fault(
                    origin,
                    path,
                    f"{condition.name} is for {condition.medium} in {colours}; this output is "
                    f"{output['medium']} in {output['colour']}: name a condition for that, or the "
                    "printer's ICC profile for those colours",
                )
            ]
        )
    return _with_dots(condition, output, chain, registry)


def _with_dots(
    condition: Condition,
    output: Mapping[str, Any],
    chain: Sequence[Document],
    registry: Registry,
) -> Condition:
    """Return a condition with the dots that the house states.

    An ICC profile alone, which says nothing of dots, has the rest of them from the condition that
    it takes the place of, or else by common practice; without a ruling it has none.
    """
    if condition.medium != "print":
        return condition
    stated = {name: output[name] for name in ("ruling", "device resolution") if name in output}
    values = {**condition.values, **stated}
    if not is_profile(str(output["condition"])):
        return replace(condition, values=values)
    former = _former(chain, registry)
    known = former.values if former else {}
    assumed = {}
    for name, usual in USUAL_DOTS.items():
        if name in values:
            continue
        if former and name in known:
            values[name], assumed[name] = known[name], f"as of {former.name}"
        elif usual is not None and "ruling" in values:
            values[name], assumed[name] = usual, "as common practice has them"
    return replace(condition, values={**values, "assumed": assumed} if assumed else values)


def _former(chain: Sequence[Document], registry: Registry) -> Condition | None:
    """Return the print's condition, of more than a profile, that was named last."""
    for document in reversed(chain):
        asked = (document.value.get("output") or {}).get("condition")
        if not isinstance(asked, str) or is_profile(asked):
            continue
        try:
            former = find_condition(asked, registry.condition_folders, Path(document.file).parent)
        except (ValueError, SetupError):
            continue
        if former.medium == "print":
            return former
    return None


__all__ = [
    "House",
    "RuleSetting",
    "amount_from_elsewhere",
    "in_effect",
    "list_houses",
    "load_house",
    "locks",
    "show",
    "validate_house",
]
