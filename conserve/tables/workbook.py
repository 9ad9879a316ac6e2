"""Workbooks, `.xlsx`: opened warily, and read as text with every cell's place.

A workbook is a zip of XML (ECMA-376). It is looked over before any library sees it: how large it unpacks, that it
declares no entities, that it carries no macros. Formulas are never worked out, and links to other files never followed.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from conserve.problem import Location
from conserve.shape import Problems
from conserve.tables.cells import Cell, Grid, letters
from conserve.tables.delimited import MOST_COLUMNS, MOST_ROWS, NOT_READ

LARGEST = 20_000_000  # bytes of a file
UNPACKED = 200_000_000  # bytes of all that is in it
LARGEST_ENTRY = 60_000_000
MOST_TIMES = 200  # how many times smaller an entry may be packed; spreadsheets come to about 20
MOST_CELLS = 1_000_000
_SMALL = 1_000_000  # bytes unpacked below which it does not matter how well they were packed
_MACROS = re.compile(r"(?i)vbaProject|macrosheets/")
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # begins an old .xls, and the wrapping of an encrypted file
_ENTITY = tuple("<!DOCTYPE".encode(code) for code in ("ascii", "utf-16-le", "utf-16-be"))
_ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")
_LEAP = date(1900, 3, 1)  # before it the 1900 calendar of spreadsheets is a day out, for a leap day that never was


def read_workbook(data: bytes, file: str, into: Problems) -> tuple[Grid, ...]:
    """Read every sheet, or note why the file is not read. Needs openpyxl."""
    fault = _fault(data)
    if fault:
        into.note(Location(file), NOT_READ, *fault)
        return ()
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and extensions that are of no use here
            book = openpyxl.load_workbook(io.BytesIO(data), keep_links=False)
    except Exception:  # whatever a damaged file makes the library say
        into.note(Location(file), NOT_READ, "this cannot be read as a workbook", "save it as .xlsx again")
        return ()
    old = book.epoch.year < 1904
    found = (_grid(sheet, file, old, into) for sheet in book.worksheets)
    return tuple(grid for grid in found if grid is not None)


# ---- before it is opened ---------------------------------------------------------------------------------


def _fault(data: bytes) -> tuple[str, str] | None:
    """Why a file is not opened, and one thing to try."""
    if data.startswith(_COMPOUND):
        return "is encrypted, or of an older kind than .xlsx", "take the password off, or save it as .xlsx"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            return _fault_inside(packed)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError, OSError):
        return "is no workbook, or a damaged one", "save it as .xlsx again"
    except Exception as error:  # the compression library has an error of its own
        if type(error).__module__ in ("zlib", "lzma"):
            return "is a damaged workbook", "save it as .xlsx again"
        raise


def _fault_inside(packed: zipfile.ZipFile) -> tuple[str, str] | None:
    entries = packed.infolist()
    if len({entry.filename for entry in entries}) < len(entries):
        return "holds two files of one name", "save it as .xlsx again"
    if "xl/workbook.xml" not in packed.namelist() and "[Content_Types].xml" not in packed.namelist():
        return "is no workbook", "save it as .xlsx"
    if any(_MACROS.search(entry.filename) for entry in entries):
        return "carries macros", "save it as .xlsx, without them"
    if sum(entry.file_size for entry in entries) > UNPACKED or any(_too_large(entry) for entry in entries):
        return "unpacks to far more than it should", "leave out pictures and empty rows, and save it again"
    for entry in entries:
        if entry.filename.endswith((".xml", ".rels")):
            content = packed.read(entry)  # never more than the size that was looked at above
            if any(mark in content for mark in _ENTITY):
                return "declares entities, which no workbook needs", "save it as .xlsx again"
    return None


def _too_large(entry: zipfile.ZipInfo) -> bool:
    packed = entry.file_size > _SMALL and entry.file_size > MOST_TIMES * max(1, entry.compress_size)
    return packed or entry.file_size > LARGEST_ENTRY


# ---- sheets ----------------------------------------------------------------------------------------------


def _grid(sheet: Any, file: str, old: bool, into: Problems) -> Grid | None:
    where = Location(file, 1, 1, 1, f"sheet '{sheet.title}'")
    across, down = sheet.max_column or 0, sheet.max_row or 0
    if across * down > MOST_CELLS or down > MOST_ROWS or across > MOST_COLUMNS:
        message = f"sheet '{sheet.title}' reaches to {letters(across)}{down}"
        into.note(where, NOT_READ, message, "delete the rows and columns after the last that is filled in")
        return None
    within = {cell for area in sheet.merged_cells.ranges for cell in area.cells}
    rows = tuple(
        (number, tuple(_cell(one, sheet.title, file, old, (one.row, one.column) in within) for one in row))
        for number, row in enumerate(sheet.iter_rows(), 1)
    )
    return Grid(sheet.title, where, rows, sheet.sheet_state != "visible", tuple(_hidden(sheet)))


def _hidden(sheet: Any) -> Iterator[str]:
    rows = sorted(number for number, look in sheet.row_dimensions.items() if look.hidden)
    if rows:
        few = ", ".join(map(str, rows[:8])) + (" and more" if len(rows) > 8 else "")
        yield f"Sheet '{sheet.title}' hides rows: {few}. They are read like the others."
    columns = sorted(name for name, look in sheet.column_dimensions.items() if look.hidden)
    if columns:
        yield f"Sheet '{sheet.title}' hides columns: {', '.join(columns)}. They are read like the others."


def _cell(cell: Any, sheet: str, file: str, old: bool, merged: bool) -> Cell:
    name = f"{letters(cell.column)}{cell.row}"
    where = Location(file, cell.row, cell.column, 1, f"sheet '{sheet}', cell {name}")
    if merged:
        text = _text(getattr(cell, "value", None))
        return Cell(text, where, "is one of several cells that are merged", "unmerge them, and fill in each")
    if cell.data_type == "f":
        hint = "copy it, and paste it as a value"
        return Cell("", where, "is a formula, and formulas are not worked out", hint)
    if cell.data_type == "e":
        return Cell(str(cell.value), where, f"is an error, {cell.value}", "mend it, or leave it empty")
    if old and isinstance(cell.value, datetime) and cell.value.date() < _LEAP:
        return Cell("", where, "is a day before March 1900, which spreadsheets count wrong", "write it as text")
    return Cell(_text(cell.value), where)


def _text(value: object) -> str:
    """What a cell holds, as text. A number has 15 digits: a spreadsheet keeps no more, and a float must show none."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ")
    if isinstance(value, int | float | Decimal):
        return f"{Decimal(f'{float(value):.15g}'):f}"
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), str(value)).strip().replace("\r\n", "\n")
