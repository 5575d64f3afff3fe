"""A picture list in CSV, changed cell by cell: whatever is not changed keeps its bytes.

Line ends, quotes, byte order mark, columns and lines of a person's own stay as they are.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pressworthy.files.picture_list import FIELDS, as_text, delimiter, field_of
from pressworthy.values.faults import SetupError

LENGTHS = ("width", "height", "bleed")
_BOM = "\ufeff"
_END = re.compile(r"\r\n|\r|\n")


@dataclass(frozen=True)
class Cell:
    """One cell: where it stands in the text, quotes and all, and what it says."""

    start: int
    end: int
    says: str


@dataclass(frozen=True)
class Table:
    """A list as text; head: the cells of its first row; lines: those of each line of a picture."""

    text: str
    between: str
    head: tuple[Cell, ...]
    lines: tuple[tuple[Cell, ...], ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The field of each column, or its head where it is a person's own."""
        return tuple(field_of(cell.says) for cell in self.head)

    def cell(self, line: int, name: str) -> Cell | None:
        """Return a cell, None where the list has no such column."""
        names = self.names
        return self.lines[line][names.index(name)] if name in names else None

    def raw(self, line: int, name: str) -> str:
        """Return a cell as it is written, "" where the list has no such column."""
        cell = self.cell(line, name)
        return self.text[cell.start : cell.end] if cell else ""

    def says(self, line: int, name: str) -> str:
        """Return what a cell says, "" where the list has no such column."""
        cell = self.cell(line, name)
        return cell.says if cell else ""

    def cells(self, line: int) -> dict[str, str]:
        """Return field -> what its cell says."""
        pairs = zip(self.names, self.lines[line], strict=True)
        return {name: cell.says for name, cell in pairs if name in FIELDS}

    def column(self, name: str) -> list[str]:
        """Return what the cells of a column say."""
        return [self.says(line, name) for line in range(len(self.lines))]

    def is_bare(self, line: int) -> bool:
        """Tell whether a line says nothing but which picture it is."""
        pairs = zip(self.names, self.lines[line], strict=True)
        return not any(cell.says for name, cell in pairs if name != "picture")

    def fits(self, raw: str) -> bool:
        """Tell whether a cell written so is one cell here."""
        return raw.startswith('"') or not re.search(rf'[{self.between}"\r\n]', raw)

    def spelled(self, line: int, name: str, value: str) -> str:
        """Return how a value is written in a cell, in the manner of the list and of that cell."""
        return _spelled(self.between, name, value, self.raw(line, name).startswith('"'))


def new_table() -> Table:
    """Return a list without a line, of all fields, as `list new` begins one."""
    return table(",".join(FIELDS) + "\n")


def table(text: str) -> Table:
    """Return the table of a list's text, which `read_list` has found no fault in.

    Raises SetupError where its cells are told apart otherwise than the csv module does.
    """
    flat = _END.sub("\n", text.removeprefix(_BOM))
    between = delimiter(flat)
    rows = _rows(text, len(text) - len(text.removeprefix(_BOM)), between)
    read = list(csv.reader(io.StringIO(flat), delimiter=between, strict=True))
    filled = [row for row in rows if any(cell.says.strip() for cell in row)]
    if [[_END.sub("\n", cell.says) for cell in row] for row in filled] != [
        row for row in read if any(cell.strip() for cell in row)
    ]:
        raise _unlike()
    stripped = [tuple(Cell(c.start, c.end, c.says.strip()) for c in row) for row in filled]
    return Table(text, between, stripped[0], tuple(stripped[1:]))


def _unlike() -> SetupError:
    return SetupError(["the list's cells cannot be told apart: save it as CSV UTF-8 anew"])


def says(raw: str) -> str:
    """Return what a cell says that is written so."""
    return (raw[1:-1].replace('""', '"') if raw.startswith('"') else raw).strip()


def _rows(text: str, at: int, between: str) -> list[list[Cell]]:
    quoted = re.compile(r'"(?:[^"]|"")*"')
    plain = re.compile(rf"[^{between}\r\n]*")
    rows: list[list[Cell]] = []
    while at < len(text):
        row: list[Cell] = []
        while True:
            match = quoted.match(text, at) or plain.match(text, at)
            assert match is not None
            raw = match[0]
            quoted_says = raw[1:-1].replace('""', '"') if raw.startswith('"') else raw
            row.append(Cell(at, match.end(), quoted_says))
            at = match.end()
            if not text.startswith(between, at):
                break
            at += 1
        rows.append(row)
        end = _END.match(text, at)
        if end is None and at < len(text):
            raise _unlike()
        at = end.end() if end else at
    return rows


def with_columns(old: Table, names: Sequence[str]) -> Table:
    """Return the table with further columns at its right, empty ones."""
    if not names:
        return old
    ends = [(old.head[-1].end, "".join(f"{old.between}{name}" for name in names))]
    ends += [(line[-1].end, old.between * len(names)) for line in old.lines]
    return _spliced(old, [(end, end, more) for end, more in ends])


def with_lines(old: Table, pictures: Sequence[str]) -> Table:
    """Return the table with further lines at its foot, of which only the picture is filled in."""
    if not pictures:
        return old
    match = _END.search(old.text)
    end = match[0] if match else "\n"
    at = old.names.index("picture")
    # a list without a line end at its foot stays so
    before, behind = ("", end) if old.text.endswith(("\n", "\r")) else (end, "")
    text = ""
    for picture in pictures:
        cells = [""] * len(old.head)
        cells[at] = _spelled(old.between, "picture", picture)
        text += before + old.between.join(cells) + behind
    return _spliced(old, [(len(old.text), len(old.text), text)])


def _spelled(between: str, name: str, value: str, quoted: bool = False) -> str:
    value = as_text(name, value)
    if between == ";" and name in LENGTHS:
        # a spreadsheet that parts cells so would take 12.5 for a day in May
        value = value.replace(".", ",")
    if quoted or re.search(rf'[{between}"\r\n]', value):
        return '"' + value.replace('"', '""') + '"'
    return value


def with_cells(old: Table, written: Mapping[tuple[int, str], str]) -> Table:
    """Return the table with cells written anew; written: line and column -> the cell as spelled."""
    splices = []
    for (line, name), raw in written.items():
        cell = old.cell(line, name)
        assert cell is not None
        splices.append((cell.start, cell.end, raw))
    return _spliced(old, splices)


def without_line(old: Table, line: int) -> Table:
    """Return the table without one of its lines."""
    start, end = old.lines[line][0].start, old.lines[line][-1].end
    if behind := _END.match(old.text, end):
        return _spliced(old, [(start, behind.end(), "")])
    before = re.search(r"(\r\n|\r|\n)$", old.text[:start])
    return _spliced(old, [(before.start() if before else start, end, "")])


def without_last_column(old: Table) -> Table:
    """Return the table without its column at the right."""
    rows = [old.head, *old.lines]
    return _spliced(old, [(row[-2].end, row[-1].end, "") for row in rows])


def _spliced(old: Table, splices: Sequence[tuple[int, int, str]]) -> Table:
    if not splices:
        return old
    parts, at = [], 0
    for start, end, more in sorted(splices):
        parts += [old.text[at:start], more]
        at = end
    return table("".join([*parts, old.text[at:]]))
