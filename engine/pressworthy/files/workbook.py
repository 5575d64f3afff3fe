"""Spreadsheet workbooks as tables of text: Office Open XML (ISO/IEC 29500) by openpyxl."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from pressworthy.values.faults import SetupError

MOST_ROWS = 200_000
MOST_COLUMNS = 200
MOST_UNPACKED = 500_000_000
SUFFIXES = (".xlsx", ".xlsm", ".ods", ".xls", ".numbers")
_OTHER = "a spreadsheet workbook that is not read here; save it as .xlsx or as CSV (UTF-8)"


def is_workbook(path: Path) -> bool:
    """Tell by its first bytes whether a file is a workbook of any make, or cannot be a text."""
    try:
        with path.open("rb") as stream:
            return stream.read(4) in (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
    except OSError:
        return False


def rows(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield number, counted from 1, and cells as text of each row of the first sheet.

    A formula counts as what the spreadsheet last made of it. Raises SetupError.
    """
    try:
        with zipfile.ZipFile(path) as parts:
            names = {part.filename: part.file_size for part in parts.infolist()}
    except (OSError, zipfile.BadZipFile):
        raise SetupError([f"{path}: {_OTHER}"]) from None
    if "xl/workbook.xml" not in names:
        raise SetupError([f"{path}: {_OTHER}"])
    if sum(names.values()) > MOST_UNPACKED:
        raise SetupError(
            [f"{path}: unpacks to more than {MOST_UNPACKED // 10**6} MB, no list does"]
        )
    # 0.2 s, and few lists are workbooks
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
        sheet = book.worksheets[0]
        for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True), 1):
            if number > MOST_ROWS:
                raise SetupError([f"{path}: more than {MOST_ROWS} rows, no list has"])
            yield number, [_text(cell) for cell in row]
        book.close()
    except SetupError:
        raise
    except Exception as error:
        # openpyxl raises many kinds on a damaged file
        told = f"{path}: damaged, or no whole workbook ({error}); save it as CSV (UTF-8)"
        raise SetupError([told]) from None


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return str(cell).strip()
