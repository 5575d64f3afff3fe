"""What a person decides on a house profile, as changes of its YAML, checked as `validate` does.

A house profile lies in the house's folder, beside whatever else the house has there; where the
sheet was opened without one, in the issue's own. The day-book calls it ``house/`` and its name.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pressworthy.house import House, in_effect, list_houses, locks, validate_house
from pressworthy.house.explain import inline
from pressworthy.house.sentences import meant, part_of
from pressworthy.open_proof import profile_text
from pressworthy.open_proof.issue import DAY_BOOK, LIST, OTHER_LISTS, WAIVERS, seen_from
from pressworthy.open_proof.journal import Change, Decision, Overtaken, Record, digest
from pressworthy.plugins import Registry
from pressworthy.values.faults import Fault, KeyPath, SetupError
from pressworthy.yamlfile import MOST_YAML_BYTES, Document, is_there, read

AMONG = "house/"
VALUE, NEW = "house value", "new house profile"
KINDS = (VALUE, NEW)
_FILE = re.compile(r"[A-Za-z0-9][^/\\:\x00-\x1f]{0,80}\.ya?ml")
_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_TAKEN = {Path(name).stem for name in (LIST, WAIVERS, DAY_BOOK, *OTHER_LISTS)}
_KEYS = " / "
MOST_REASON = 400


@dataclass(frozen=True)
class Draft:
    """A house profile's file as it would be, and the house that would be in effect by it.

    house: None for a house standard, which is no whole one.
    """

    file: Path
    before: bytes | None
    after: str
    house: House | None

    @property
    def instead(self) -> Mapping[Path, bytes]:
        return {self.file.resolve(): self.after.encode()}

    def change(self) -> tuple[Change, ...]:
        after = self.after.encode()
        return () if after == self.before else (
            Change(self.file, self.before, after, AMONG + self.file.name),
        )  # fmt: skip


def place_of(folder: Path, house_folder: Path | None) -> Path:
    """Return the folder in which this issue's house keeps its profiles."""
    return house_folder or folder


def file_of(name: str, folder: Path, house_folder: Path | None) -> Path:
    """Return the file that a day-book's line names. Raises SetupError for what leads elsewhere."""
    if not name.startswith(AMONG):
        return folder / name
    plain = name.removeprefix(AMONG)
    if not _FILE.fullmatch(plain):
        raise SetupError([f"{DAY_BOOK}: {name!r} is no house profile"])
    return place_of(folder, house_folder) / plain


def written_in(file: Path, folder: Path, house_folder: Path | None) -> bool:
    """Tell whether a house profile is the house's own, to be written in from the sheet."""
    home = place_of(folder, house_folder)
    return file.resolve().parent == home.resolve() and bool(_FILE.fullmatch(file.name))


def in_issue(folder: Path, house_folder: Path | None) -> Iterator[Document]:
    """Yield the house profiles in an issue's own folder, where it has no other for them."""
    if house_folder is not None:
        return
    for path in sorted(folder.glob("*.yaml")):
        with suppress(SetupError):
            document = read(path)
            if {"house", "kind"} <= document.value.keys():
                yield document


def drafted(
    file: Path, path: KeyPath, text: str, reason: str, registry: Registry, folder: Path
) -> Draft:
    """Return what a profile would be with a value as a person wrote it.

    file: of the house's own; path: of the value; folder: the house's. reason: "" while it is only
    tried. Raises SetupError with every fault, in the words of `house validate`; so also where the
    house above has locked it.
    """
    if (part := part_of(path, registry.rules)) is None:
        raise SetupError([f"{_KEYS.join(map(str, path))}: no house profile has such a value"])
    before = _read(file)
    keys = tuple(map(str, path))
    value: Any = meant(text, part)
    if keys[-1] == "left out":
        value = reason or "being tried" if text == "left out" else False
    after = _reworded(before.decode("utf-8"), keys, value, reason)
    return _checked(file, before, after, path, registry, folder)


def _checked(
    file: Path, before: bytes | None, after: str, path: KeyPath, registry: Registry, folder: Path
) -> Draft:
    if len(after.encode()) > MOST_YAML_BYTES:
        raise SetupError([f"{file.name}: would be larger than a house profile may be"])
    instead = {file.resolve(): after.encode()}
    _refuse_sealed(file, path, registry, folder)
    house = validate_house(str(file), registry, folder, instead)
    return Draft(file, before, after, house)


def _refuse_sealed(file: Path, path: KeyPath, registry: Registry, folder: Path) -> None:
    """Refuse what a profile above has locked, which a standard below may pass over unsaid."""
    if path[:1] != ("rules",) or not is_there(file):
        return
    _, chain = in_effect(str(file), registry, folder)
    origin = locks(chain[:-1]).get(str(path[1]))
    if origin:
        raise SetupError([Fault(None, tuple(path[:2]), f"locked by the house at {origin}")])


def _reworded(text: str, keys: Sequence[str], value: Any, reason: str) -> str:
    """Return the text with the value, and with its reason where one is due."""
    section = (*keys[: 2 if keys[0] == "rules" else 1], "reason")
    is_title = profile_text.value_at(text, ("kind",)) == "title"
    due = is_title and keys[-1] != "left out" and profile_text.value_at(text, section) is None
    ground = "" if due or (keys[-1] == "left out" and value) else reason
    done = profile_text.with_value(text, keys, value, ground)
    return profile_text.with_value(done, section, reason or "being tried") if due else done


def decided(draft: Draft, path: KeyPath, text: str, reason: str, by: str, folder: Path) -> Decision:
    """Return the decision to write a draft's value.

    Its fields tell what stood there before and what is written, each as the file has it, and where
    the house's folder lies, seen from the issue's.
    """
    keys = tuple(map(str, path))
    before = (draft.before or b"").decode("utf-8")
    fields = {
        "house": draft.file.name,
        "in": seen_from(folder, draft.file.parent),
        "value of": _KEYS.join(keys),
        "value": text,
        "was": profile_text.value_at(before, keys) or "",
        "written": profile_text.value_at(draft.after, keys) or "",
        "reason": reason,
    }
    return Decision(VALUE, (), fields, by=by)


def reason_given(reason: str) -> str:
    """Return a reason in one line. Raises SetupError where there is none."""
    reason = " ".join(reason.split())
    if not reason:
        raise SetupError([Fault(None, ("reason",), "say why: it is for whoever comes after")])
    if len(reason) > MOST_REASON:
        raise SetupError([Fault(None, ("reason",), f"longer than {MOST_REASON} characters")])
    return reason


def started(
    name: str, kind: str, parent: str, about: str, registry: Registry, folder: Path
) -> Draft:
    """Return a new house profile: a title on an output type or title, or a publisher's standard.

    kind: ``title`` or ``standard``; a standard is called house, so that all that stands on the
    built-in one stands on it. Raises SetupError naming the field.
    """
    name, about = name.strip(), " ".join(about.split())
    if kind not in ("title", "standard"):
        raise _wrong("kind", "a title or a house standard is started here")
    if kind == "standard":
        name, parent = "house", "house"
    if not _NAME.fullmatch(name) or len(name) > 60:
        raise _wrong("name", "small letters, digits and hyphens, such as slack-tide")
    file = folder / f"{name}.yaml"
    taken = {Path(one.file).stem for one in list_houses(registry, folder) if kind == "title"}
    if is_there(file) or name in taken | _TAKEN:
        raise _wrong("name", f"{name} is taken; give it another name")
    parents = {Path(one.file).stem: one for one in list_houses(registry, folder)}
    if parent not in parents:
        raise _wrong("stands on", f"there is no house profile called {parent!r}")
    if kind == "title" and parents[parent].value.get("kind") == "standard":
        raise _wrong("stands on", "a title stands on an output type or another title")
    if not about:
        raise _wrong("about", "one sentence: what it is")
    lines = [f"house: {name}", f"kind: {kind}", f"stands on: {parent}"]
    lines.append(f"{'publisher' if kind == 'standard' else 'about'}: {inline(about)}")
    return _checked(file, None, "\n".join(lines) + "\n", (), registry, folder)


def started_as(draft: Draft, parent: str, by: str, folder: Path) -> Decision:
    """Return the decision to start a new house profile."""
    fields = {"house": draft.file.name, "in": seen_from(folder, draft.file.parent)}
    return Decision(NEW, (), {**fields, "stands on": parent}, by=by)


def _wrong(name: str, message: str) -> SetupError:
    return SetupError([Fault(None, (name,), message)])


def undone(
    record: Record, later: Sequence[Record], folder: Path, house_folder: Path | None
) -> tuple[Change, ...]:
    """Return what becomes of a house profile when a decision on it is taken back.

    Raises Overtaken where the value, or a whole new profile, has changed since; SetupError.
    """
    fields = record.decision.fields
    (patch,) = record.patches
    file = file_of(patch.file, folder, house_folder)
    if fields["in"] != seen_from(folder, file.parent):
        raise SetupError([f"{file.name}: was decided in {fields['in']}; open the issue with that"])
    raw = _read(file) if is_there(file) else None
    if digest(raw) == patch.after:
        return (Change(file, raw, patch.back(raw), patch.file),)
    if raw is None:
        raise Overtaken([f"{file.name}: is not there any more"])
    if record.decision.kind == NEW:
        raise Overtaken([f"{file.name}: was changed since; it is for a person to delete it"], later)
    keys = fields["value of"].split(_KEYS)
    text = raw.decode("utf-8")
    now = profile_text.value_at(text, keys)
    if now != fields["written"]:
        raise Overtaken([f"{file.name}: {fields['value of']} is {now or 'not set'} now"], later)
    if fields["was"]:
        text = profile_text.with_raw(text, keys, fields["was"])
    else:
        text = profile_text.without_value(text, keys)
    # its ground goes with it
    text = re.sub(rf"(?m)^( *#\r?\n)? *# {re.escape(fields['reason'])}\r?\n", "", text, count=1)
    return (Change(file, raw, text.encode(), patch.file),)


def in_words(decision: Decision) -> str:
    """Return what was decided on a house profile, in a few words."""
    fields = decision.fields
    if decision.kind == NEW:
        return f"{fields.get('house', '')} started, on {fields.get('stands on', '')}"
    was = f", {fields['was']} before" if fields.get("was") else ""
    what = fields.get("value of", "").replace(_KEYS, ", ")
    told = f"{fields.get('house', '')}: {what} is {fields.get('value', '')}{was}"
    return f"{told}: {fields.get('reason', '')}"


def _read(file: Path) -> bytes:
    try:
        with file.open("rb") as stream:
            raw = stream.read(MOST_YAML_BYTES + 1)
        raw.decode("utf-8")
    except OSError as error:
        raise SetupError([f"{file.name}: cannot be read: {error.strerror}"]) from None
    except UnicodeDecodeError:
        raise SetupError([f"{file.name}: not UTF-8 text"]) from None
    return raw
