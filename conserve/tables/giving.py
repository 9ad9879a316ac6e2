"""A workbook, `.xlsx`: the same sheets give the same bytes, and no cell of it is a formula."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from typing import Any

from conserve.tables.cells import RUNS, Sheet, letters

LONGEST = 32_767  # characters that a cell of a workbook holds
_THEN = (1980, 1, 1, 0, 0, 0)  # the first day a zip can tell
_WIDEST, _NARROWEST = 60, 8  # of a column, in characters
# What XML 1.0 cannot hold, and what a reader would take for such an escape (ECMA-376, 22.9.2.19).
_ESCAPE = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
_SAVED_AT = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


def workbook_of(sheets: Sequence[Sheet]) -> bytes:
    """Sheets as a workbook: headings in bold that stay in view, every cell text. Needs openpyxl.

    `ValueError` for a text that no cell can hold.
    """
    import openpyxl
    from openpyxl.styles import Alignment, Font

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        made = book.create_sheet(sheet.name)
        made.freeze_panes = "B2"
        for number, row in enumerate((sheet.head, *sheet.rows), 1):
            for column, text in enumerate(row, 1):
                if text:
                    cell = _fill(made.cell(number, column), text)
                    cell.alignment = Alignment(vertical="top", wrap_text=True)
                    if number == 1:
                        cell.font = Font(bold=True)
        for column in range(1, len(sheet.head) + 1):
            made.column_dimensions[letters(column)].width = _width(sheet, column - 1)
    packed = io.BytesIO()
    book.save(packed)
    return _same_every_time(packed.getvalue())


def _fill(cell: Any, text: str) -> Any:
    """Put a text into a cell, as a text and nothing else."""
    if len(text) > LONGEST:
        raise ValueError(f"A text of {len(text):,} characters is longer than a cell of a workbook holds.")
    cell.value = _ESCAPE.sub(lambda found: f"_x{ord(found[0]):04X}_", text)
    cell.data_type = "s"
    if RUNS.match(text):
        cell.quotePrefix = True  # so that it stays a text when somebody edits it
    return cell


def _width(sheet: Sheet, column: int) -> int:
    longest = max((len(line) for row in (sheet.head, *sheet.rows) for line in row[column].split("\n")), default=0)
    return max(_NARROWEST, min(_WIDEST, longest + 2))


def _same_every_time(data: bytes) -> bytes:
    """A workbook without the times at which it was made. Stored, for compression differs from machine to machine."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as given, zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as made:
        for name in sorted(given.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            content = given.read(name)
            if name == "docProps/core.xml":
                content = _SAVED_AT.sub(rb"\g<1>1980-01-01T00:00:00Z", content)
            entry = zipfile.ZipInfo(name, _THEN)
            entry.create_system, entry.external_attr = 3, 0o644 << 16
            made.writestr(entry, content)
    return packed.getvalue()
