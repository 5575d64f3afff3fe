"""Picture lists: which picture stands where, at what size, for which title.

All have the same fields, see `FIELDS`: a CSV file and the first sheet of a spreadsheet workbook as
columns in any order, a YAML file as keys of each entry of `pictures`. Lengths are mm unless a unit
is written. CSV is UTF-8 with or without a byte order mark, with commas or semicolons between the
cells; numbers may have a decimal comma. Further columns are a person's own and are not read; one
whose name is near a field's is taken for a slip of the pen, unless it stands in brackets.
"""

from __future__ import annotations

import csv
import difflib
import io
import os
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml

from pressworthy.colour.spaces import SPACES
from pressworthy.files import workbook
from pressworthy.files.intake import walk
from pressworthy.files.opening import read_header
from pressworthy.files.waivers import faults_of, waiver_of
from pressworthy.values.faults import Fault, KeyPath, Origin, SetupError
from pressworthy.values.finding import Unmeasured
from pressworthy.values.placement import (
    EDGES,
    FILL,
    FITS,
    LEAST_MM,
    MOST_MM,
    OF_PICTURE,
    Crop,
    Focus,
    GrayMix,
    Placement,
    PlacementRequest,
    parse_tone,
)
from pressworthy.values.units import MM_PER_INCH, PLACED, parse
from pressworthy.values.waiver import Waiver
from pressworthy.values.words import readable
from pressworthy.yamlfile import Document, faults_against, read

MOST_LIST_BYTES = 20_000_000
NEAR = 0.7
"""Of difflib's ratio, from which a column's name is a field's misspelt: widht, but not rights."""
_FORMULA = r"[=+\-@\uff1d\uff0b\uff0d\uff20]"
"""What a spreadsheet takes for the beginning of a formula, wide forms too."""
_TO_DEFUSE = re.compile(rf"((?:^|[;\t])[\s\x22]*)('*{_FORMULA})")
"""Also within a cell: where a spreadsheet parts cells at these, a formula would begin there."""
_DEFUSED = re.compile(rf"((?:^|[;\t])[\s\x22]*)'('*{_FORMULA})")
_FRACTION = r"(?:\d(?:[.,]\d+)?|[.,]\d+)"
FIELDS: Mapping[str, str] = {
    "picture": "the file, seen from the list's own folder",
    "page": "the page it stands on",
    "house": "the house profile it is for, such as a title; may be called 'title'",
    "width": "placed width, in mm unless a unit is written",
    "height": "placed height",
    "bleed": "how far it reaches beyond the trim",
    "edges": "the edges that bleed: top, right, bottom, left, or all; without it all",
    "crop": "the part that shows: left, top, width, height, as fractions with spaces between",
    "focus": "the point to crop around: across and down, as fractions with a space between",
    "fit": "fill: cropped to the box's shape, as without it; or stretch: pulled to it",
    "assume": f"the RGB space a person vouches for: {', '.join(SPACES)}",
    "sharpen": "no: its copy is not sharpened; yes: as the house sets it, as without it",
    "gray mix": "gray outputs: shares of linear red, green and blue (sRGB) with spaces between, or "
    "picture for the mix that keeps most of its contrast",
    "tone": "what becomes of its mid-tones: house, as supplied, or a lift in L* such as +6",
    "waive": "findings a person accepts, such as resolution/too-few-pixels",
    "reason": "why they are accepted",
    "by": "who accepts them",
    "until": "the last day that counts, such as 2026-12-31",
}
SCHEMA: Mapping[str, Any] = {
    "type": "object",
    "properties": {
        "house": {"type": "string", "description": "for pictures that name none"},
        "pictures": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    name: {
                        "type": ["string", "number"]
                        + (
                            ["array"]
                            if name in ("edges", "crop", "focus", "gray mix", "waive")
                            else []
                        ),
                        "items": {"type": ["string", "number"]},
                        "description": about,
                    }
                    for name, about in {**FIELDS, "title": FIELDS["house"]}.items()
                },
                "required": ["picture"],
                "additionalProperties": False,
            },
        },
    },
    "required": ["pictures"],
    "additionalProperties": False,
}


@dataclass(frozen=True)
class Entry:
    """One line of a picture list.

    path: the file, whether or not it is there; name: as the list writes it.
    house: "" where the list names none; assume: an RGB space, or "".
    twin: the line that lists the same picture for the same place, or "".
    """

    path: Path
    name: str
    request: PlacementRequest
    origin: Origin
    house: str = ""
    assume: str = ""
    waivers: tuple[Waiver, ...] = ()
    twin: str = ""


@dataclass
class _Line:
    """The cells of one line as text, and where a fault in one of them is."""

    origin: Origin
    cells: dict[str, str]
    place: Callable[[str], tuple[Origin | None, KeyPath]]
    faults: list[Fault] = field(default_factory=list)
    of_table: bool = True

    def fault(self, name: str, message: str) -> None:
        self.faults.append(Fault(*self.place(name), message))

    def get(self, name: str) -> str:
        text = self.cells.get(name, "").strip()
        return _as_meant(name, text) if self.of_table else text


def read_list(
    path: Path,
    *,
    allow_outside: bool = False,
    housed: bool = False,
    raw: bytes | None = None,
    may_be_empty: bool = False,
    notes: list[str] | None = None,
) -> tuple[Entry, ...]:
    """Return the entries of the list at `path`, in its order.

    allow_outside: let the list name pictures that do not lie below its own folder.
    housed: every line must say which house profile it is for. raw: what stands in a CSV file, where
    it is known already. may_be_empty: whether there need be no line. notes: takes what a person
    should be told that is no fault. Raises SetupError with every fault, each with its line and
    column.
    """
    faults: list[Fault] = []
    if is_yaml(path):
        lines = _yaml_lines(path, faults)
    else:
        lines = _table_lines(path, faults, raw, [] if notes is None else notes)
    entries = [_entry(line, path.parent, allow_outside) for line in lines]
    for line in lines:
        if housed and not line.get("house"):
            line.fault("house", "no house profile; give --house")
        faults += line.faults
    if not faults and not entries and not may_be_empty:
        faults.append(Fault(Origin(str(path), 1), (), "it lists no picture"))
    if faults:
        faults.sort(key=_line_of)
        raise SetupError(faults)
    return _with_twins(entry for entry in entries if entry)


def faults_of_line(cells: Mapping[str, str], root: Path) -> list[Fault]:
    """Return what is wrong in the cells (field -> text) of one line of a list in `root`.

    Each fault's path is the field.
    """
    line = _Line(Origin("", 0), dict(cells), lambda name: (None, (name,)))
    _entry(line, root, allow_outside=False)
    return line.faults


def write_list(rows: Sequence[Mapping[str, str]], *, as_yaml: bool = False) -> str:
    """Return a picture list as CSV or YAML, with every field, so that a person sees what there is.

    rows: field -> cell.
    """
    if as_yaml:
        entries = (
            "\n    ".join(f"{name}: {_quoted(row.get(name, ''))}" for name in FIELDS)
            for row in rows
        )
        return "pictures:\n" + "".join(f"  - {entry}\n" for entry in entries)
    text = io.StringIO()
    writer = csv.DictWriter(text, FIELDS, lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: as_text(name, cell) for name, cell in row.items()} for row in rows)
    return text.getvalue()


def is_yaml(path: Path) -> bool:
    """Tell whether a list of this name is YAML; any other is CSV."""
    return path.suffix.lower() in (".yaml", ".yml")


def _quoted(cell: str) -> str:
    return yaml.safe_dump(
        cell, default_style='"', allow_unicode=True, width=MOST_LIST_BYTES
    ).strip()


def as_text(name: str, cell: str) -> str:
    """Return the cell so that a spreadsheet takes it for text, no formula; it reads back the same.

    Spaces around it are no part of it.
    """
    cell = cell.strip()
    if name == "picture" and _TO_DEFUSE.match(cell):
        cell = f"./{cell}"
    return _TO_DEFUSE.sub(r"\1'\2", cell)


def _as_meant(name: str, cell: str) -> str:
    """Return what `as_text` made the cell of. A picture's own name may begin with a quote."""
    begin = "./" if name == "picture" else ""
    return _DEFUSED.sub(r"\1\2", begin + cell).removeprefix(begin)


def starting_list(folder: Path, root: Path) -> tuple[list[dict[str, str]], list[str]]:
    """Return rows of a list in `root`, of the pictures below `folder`, and what was left out.

    Width and height are those the files state, rounded to 0.1 mm; a person sets what is meant.
    """
    rows: list[dict[str, str]] = []
    left_out = []
    base = root.resolve()
    for path in walk([folder]):
        try:
            header = read_header(path)
        except Unmeasured as reason:
            left_out.append(f"{path}: left out: {reason}")
            continue
        name = Path(os.path.relpath(path.resolve(), base)).as_posix()
        if not _listable(name):
            left_out.append(f"{path}: left out: a list cannot hold its name; rename the file")
            continue
        row = {"picture": name}
        if header.ppi:
            ppi = header.ppi if header.orientation < 5 else header.ppi[::-1]
            mm = (px / p * MM_PER_INCH for px, p in zip(header.upright(), ppi, strict=True))
            row["width"], row["height"] = (f"{part:.1f}" for part in mm)
        rows.append(row)
    return rows, left_out


def _listable(name: str) -> bool:
    """Tell whether the name reads back as it is: text without control characters, or spaces around.

    A file name that is no UTF-8 comes as lone surrogates.
    """
    return name == name.strip() and not any(unicodedata.category(c) in ("Cc", "Cs") for c in name)


def row_of(placement: Placement, name: str, root: Path) -> dict[str, str]:
    """Return the row of a list in `root` for a placement that is known; `name` may be a path.

    What no list holds, such as control characters, stands in it as escapes.
    """
    given = Path(os.path.relpath(name, root.resolve())).as_posix()
    given = given if Path(name).is_absolute() else name
    row = {
        "picture": given if _listable(given) else readable(given).strip(),
        "page": readable(placement.page).strip(),
        "width": f"{placement.width:.2f}",
        "height": f"{placement.height:.2f}",
    }
    if placement.edges:
        row["bleed"] = f"{placement.bleed:.2f}"
        row["edges"] = " ".join(edge for edge in EDGES if edge in placement.edges)
    crop = placement.crop
    if isinstance(crop, Crop) and (crop.width, crop.height) != (1, 1):
        parts = (crop.left, crop.top, crop.width, crop.height)
        # a matrix chained in single precision may lie beyond by its last digits
        row["crop"] = " ".join(f"{min(1.0, max(0.0, part)):.6f}" for part in parts)
    return row


def _csv_rows(
    path: Path, faults: list[Fault], raw: bytes | None
) -> Iterator[tuple[int, list[str]]]:
    """Yield the line it begins on and the cells of each row."""
    text = _text(path, raw)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter(text), strict=True)
    start = 1
    try:
        for row in reader:
            yield start, row
            start = reader.line_num + 1
    except csv.Error as error:
        faults.append(Fault(Origin(str(path), start), (), f"not CSV: {error}"))


def _sheet_rows(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield number and cells of each row, the columns without a name at its end left out."""
    width = 0
    for number, row in workbook.rows(path):
        filled = max((i for i, cell in enumerate(row, 1) if cell), default=0)
        # the first row that holds anything names the columns
        width = width or filled
        yield number, [*row, *[""] * width][: max(width, filled)]


def _table_lines(
    path: Path, faults: list[Fault], raw: bytes | None, notes: list[str]
) -> list[_Line]:
    rows = _sheet_rows(path) if workbook.is_workbook(path) else _csv_rows(path, faults, raw)
    lines: list[_Line] = []
    names: list[str] = []

    def at(line: int, message: str, where: KeyPath = ()) -> None:
        faults.append(Fault(Origin(str(path), line), where, message))

    for start, row in rows:
        origin = Origin(str(path), start)
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        if not names:
            for where, message in _wrong_names(cells):
                at(origin.line, message, where)
            names = [field_of(cell) for cell in cells]
            if own := [cell for cell, name in zip(cells, names, strict=True) if _is_own(name)]:
                notes.append(f"{path}: columns that are not read: {', '.join(own)}")
            columns = {name: number for number, name in enumerate(names, 1)}
            continue
        if len(row) != len(names):
            hint = "; a comma inside a cell needs quotes" if len(row) > len(names) else ""
            at(origin.line, f"{len(row)} cells under {len(names)} columns{hint}")
            continue
        place = _column_place(origin, columns)
        lines.append(_Line(origin, dict(zip(names, cells, strict=True)), place))
    if not names and not faults:
        at(1, "empty; a first line with the names of the columns was expected")
    return lines


def _column_place(
    origin: Origin, columns: Mapping[str, int]
) -> Callable[[str], tuple[Origin, KeyPath]]:
    def place(name: str) -> tuple[Origin, KeyPath]:
        return origin, (f"column {columns[name]} ({name})" if name in columns else name,)

    return place


def _text(path: Path, raw: bytes | None) -> str:
    try:
        if raw is None:
            with path.open("rb") as stream:
                raw = stream.read(MOST_LIST_BYTES + 1)
    except OSError as error:
        raise SetupError([f"{path}: cannot be read: {error.strerror}"]) from None
    if len(raw) > MOST_LIST_BYTES:
        raise SetupError([f"{path}: larger than {MOST_LIST_BYTES // 1_000_000} MB, no list is"])
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line, byte = before.count(b"\n") + 1, len(before) - before.rfind(b"\n")
        message = f"not UTF-8 text, at byte {byte} of the line: save the list as CSV UTF-8"
        raise SetupError([Fault(Origin(str(path), line), (), message)]) from None
    # one kind of line end, so that the csv module counts the lines an editor shows
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise SetupError([Fault(Origin(str(path), line), (), "a NUL character: not a text file")])
    return text


def delimiter(text: str) -> str:
    """Return what stands between the cells of a CSV list: a comma or a semicolon."""
    head = next((line for line in text.splitlines() if line.strip()), "")
    return ";" if head.count(";") >= max(head.count(","), 1) else ","


def _line_of(fault: Fault) -> int:
    return fault.origin.line if fault.origin else 0


def field_of(head: str) -> str:
    """Return the field whose column is headed so, or the head itself where it is a person's own."""
    return "house" if head.lower() == "title" else head.lower()


def _meant(name: str) -> str:
    """Return the field that a column's name is near, "" where there is none."""
    if name.startswith("(") and name.endswith(")"):
        return ""
    return "".join(difflib.get_close_matches(name, [*FIELDS, "title"], n=1, cutoff=NEAR))


def _is_own(name: str) -> bool:
    return bool(name) and name not in FIELDS and not _meant(name)


def _wrong_names(heads: Sequence[str]) -> Iterator[tuple[KeyPath, str]]:
    names = [field_of(head) for head in heads]
    for number, (name, head) in enumerate(zip(names, heads, strict=True), 1):
        where = (f"column {number}",)
        if not name:
            yield where, "a column without a name"
        elif name not in FIELDS:
            if meant := _meant(name):
                hint = f"did you mean {meant!r}? A column of your own may be called ({head})"
                yield where, f"no column is called {head!r}; {hint}"
        elif name in names[: number - 1]:
            yield where, f"{head!r} heads a column twice"
    if "picture" not in names:
        yield (), f"the column 'picture' is missing ({FIELDS['picture']})"


def _yaml_lines(path: Path, faults: list[Fault]) -> list[_Line]:
    document = read(path)
    faults += faults_against(SCHEMA, document)
    entries, house = document.value.get("pictures"), document.value.get("house")
    lines = []
    for index, entry in enumerate(entries if isinstance(entries, list) else []):
        if not isinstance(entry, dict) or not isinstance(entry.get("picture"), (str, int, float)):
            continue
        if "title" in entry and "house" in entry:
            entry_path = ("pictures", index, "title")
            faults.append(
                Fault(document.origins.get(entry_path), entry_path, "names the house twice")
            )
        cells = {"house": house} if isinstance(house, str) else {}
        cells |= {"house" if name == "title" else name: _cell(v) for name, v in entry.items()}
        lines.append(_yaml_line(document, index, cells))
    return lines


def _yaml_line(document: Document, index: int, cells: dict[str, str]) -> _Line:
    base = ("pictures", index)
    origin = document.origins.get(base) or Origin(document.file, 1)

    def place(name: str) -> tuple[Origin, KeyPath]:
        return document.origins.get((*base, name), origin), (*base, name)

    return _Line(origin, cells, place, of_table=False)


def _cell(value: Any) -> str:
    return " ".join(map(str, value)) if isinstance(value, list) else str(value)


def _entry(line: _Line, root: Path, allow_outside: bool) -> Entry | None:
    name = line.get("picture")
    if not name:
        line.fault("picture", "no picture is named")
    path = root / name
    if not allow_outside and not path.resolve().is_relative_to(root.resolve()):
        line.fault("picture", f"{name!r} lies outside the list's folder; give --allow-outside")
    request = _request(line)
    waivers = _waivers(line, name, root)
    assume = line.get("assume")
    if assume and assume not in SPACES:
        line.fault("assume", f"{assume!r} is not one of {', '.join(SPACES)}")
    if line.faults:
        return None
    house = line.get("house")
    house = str(root / house) if Path(house).suffix in (".yaml", ".yml") else house
    return Entry(path, name, request, line.origin, house, assume, waivers)


def _request(line: _Line) -> PlacementRequest:
    width, height = (_length(line, name) for name in ("width", "height"))
    if (width is None) != (height is None):
        given, missing = ("width", "height") if height is None else ("height", "width")
        if not line.get(missing):
            line.fault(missing, f"a picture with a {given} needs a {missing} too")
    for name, mm in (("width", width), ("height", height)):
        if mm is not None and not LEAST_MM <= mm <= MOST_MM:
            line.fault(name, f"{line.get(name)!r}: lies not between 0.01 mm and 100 m")
    size = (width, height) if width is not None and height is not None else None
    bleed = _length(line, "bleed")
    edges = _edges(line)
    if bleed is not None and not 0 <= bleed < MOST_MM:
        line.fault("bleed", f"{line.get('bleed')!r}: lies not between 0 and 100 m")
    if edges and bleed is None and not line.get("bleed"):
        line.fault("bleed", "edges that bleed need a bleed")
    if bleed and not line.get("edges"):
        edges = frozenset(EDGES)
    crop, focus = _crop(line), _focus(line)
    if crop and focus:
        line.fault("focus", "crop and focus cannot both be given")
    return PlacementRequest(
        size,
        bleed or 0.0,
        edges if bleed else frozenset(),
        crop or focus,
        line.get("page"),
        fit=_word(line, "fit", FITS) or FILL,
        sharpen=_word(line, "sharpen", ("yes", "no")) != "no",
        gray_mix=_gray_mix(line),
        tone=_tone(line),
    )


def _word(line: _Line, name: str, known: Sequence[str]) -> str:
    word = line.get(name).lower()
    if word and word not in known:
        line.fault(name, f"{line.get(name)!r} is not one of {', '.join(known)}")
    return word


def _gray_mix(line: _Line) -> GrayMix:
    if (word := line.get("gray mix").lower()) in ("", OF_PICTURE):
        return word
    shares = _fractions(line, "gray mix", 3, f", or {OF_PICTURE}")
    if shares is None:
        return ""
    if not any(shares):
        line.fault("gray mix", "of no colour at all nothing but black can be mixed")
    red, green, blue = shares
    return red, green, blue


def _tone(line: _Line) -> str:
    text = line.get("tone")
    try:
        return parse_tone(text) if text else ""
    except ValueError as error:
        line.fault("tone", str(error))
        return ""


def _length(line: _Line, name: str) -> float | None:
    text = line.get(name)
    if not text:
        return None
    try:
        return parse(text, PLACED, bare="mm")
    except ValueError as error:
        line.fault(name, f"{error}; without a unit it is mm")
        return None


def _edges(line: _Line) -> frozenset[str]:
    named = [part for part in re.split(r"[\s,;+]+", line.get("edges").lower()) if part]
    if named == ["all"]:
        return frozenset(EDGES)
    for edge in named:
        if edge not in EDGES:
            line.fault("edges", f"{edge!r} is no edge; edges are {', '.join(EDGES)}, or all")
    return frozenset(named)


def _fractions(line: _Line, name: str, count: int, other: str = "") -> list[float] | None:
    text = line.get(name)
    if not text:
        return None
    parts = text.split()
    wanted = rf"{_FRACTION}(\s+{_FRACTION}){{{count - 1}}}"
    if re.fullmatch(wanted, text) and all(float(part.replace(",", ".")) <= 1 for part in parts):
        return [float(part.replace(",", ".")) for part in parts]
    line.fault(name, f"{text!r} is not {count} numbers from 0 to 1 with spaces between{other}")
    return None


def _crop(line: _Line) -> Crop | None:
    numbers = _fractions(line, "crop", 4)
    if numbers is None:
        return None
    left, top, width, height = numbers
    # a rounding in the last place of three is no part outside the picture
    outside = left + width > 1.001 or top + height > 1.001
    width, height = min(width, 1 - left), min(height, 1 - top)
    if outside or not width or not height:
        line.fault("crop", "shows a part outside the picture, or nothing of it")
        return None
    return Crop(left, top, width, height)


def _focus(line: _Line) -> Focus | None:
    numbers = _fractions(line, "focus", 2)
    return Focus(*numbers) if numbers else None


def _waivers(line: _Line, name: str, root: Path) -> tuple[Waiver, ...]:
    codes = [part for part in re.split(r"[\s,;]+", line.get("waive")) if part]
    if not codes:
        for field_name in ("reason", "by", "until"):
            if line.get(field_name):
                line.fault(field_name, "stands without a finding under 'waive'")
        return ()
    entry = {key: line.get(key) for key in ("reason", "by", "until", "page")}
    waivers = []
    for code in codes:
        wrong = faults_of({**entry, "finding": code})
        for key, message in wrong.items():
            line.fault("waive" if key == "finding" else key, message)
        if not wrong:
            waivers.append(waiver_of({**entry, "finding": code}, name, root, line.origin))
    return tuple(waivers)


def _with_twins(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    first: dict[tuple[Any, ...], Entry] = {}
    kept = []
    for entry in entries:
        key = (entry.path.resolve(), entry.house, entry.request)
        twin = first.setdefault(key, entry)
        if twin is not entry:
            entry = replace(entry, twin=str(twin.origin))
        kept.append(entry)
    return tuple(kept)
