"""CSV: read with every cell's place, and given so that no spreadsheet runs what stands in it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from conserve.problem import Location
from conserve.shape import Problems
from conserve.tables.cells import Cell, Grid, Sheet, guarded, letters, unguarded, would_run

NOT_READ = 96  # the problem's number: the file cannot be read as a table
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}
FORMULA = "a spreadsheet would run this cell as a formula"
MOST_ROWS, MOST_COLUMNS = 20_000, 1_000


def read_csv(data: bytes, file: str, delimiter: str, into: Problems) -> Grid | None:
    """Read a CSV file, or note what is wrong with it. `delimiter` is a name of `DELIMITERS`; "" to find it out."""
    text = _decoded(data, file, into)
    if text is None:
        return None
    sign = DELIMITERS.get(delimiter) or _delimiter(text, file, into)
    rows: list[tuple[int, tuple[Cell, ...]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=sign or ",", strict=True)
    before = 0
    try:
        for cells in reader:
            rows.append((before + 1, tuple(_cell(one, file, before + 1, at) for at, one in enumerate(cells, 1))))
            before = reader.line_num
            if len(rows) > MOST_ROWS or len(cells) > MOST_COLUMNS:
                message = f"has more than {MOST_ROWS:,} rows or {MOST_COLUMNS:,} columns"
                into.note(Location(file, before), NOT_READ, message, "split it")
                return None
    except csv.Error:
        hint = "save it as CSV again; a quote that is opened must be closed"
        into.note(Location(file, before + 1), NOT_READ, "this cannot be read as CSV", hint)
        return None
    return Grid("", Location(file), tuple(rows)) if sign else None


def csv_text(sheet: Sheet) -> str:
    """A sheet as CSV: commas, and `\\n` at the end of a row."""
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(map(guarded, sheet.head))
    writer.writerows(_alone(map(guarded, row)) for row in sheet.rows)
    return written.getvalue()


def _alone(cells: Iterable[str]) -> list[str]:
    """Cells without a line end that CSV readers take in different ways."""
    return [cell.replace("\r\n", "\n").replace("\r", "\n") for cell in cells]


def _decoded(data: bytes, file: str, into: Problems) -> str | None:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        into.note(Location(file, line), NOT_READ, "this is not UTF-8 text", "save it as 'CSV UTF-8'")
        return None
    if not text.strip() or "\0" in text:
        into.note(Location(file), NOT_READ, "there is no table here", "save it as 'CSV UTF-8'")
        return None
    return text


def _delimiter(text: str, file: str, into: Problems) -> str:
    """The sign between cells, from the first row; "" where it cannot be told."""
    seen = []
    for sign in DELIMITERS.values():
        first = next(csv.reader(io.StringIO(text, newline=""), delimiter=sign), [])
        seen += [sign] if len(first) > 1 else []
    if len(seen) < 2:
        return seen[0] if seen else ","
    into.note(
        Location(file, 1), NOT_READ, "it cannot be told what stands between two cells",
        f"say 'delimiter:' in the mapping, one of {', '.join(DELIMITERS)}",
    )  # fmt: skip
    return ""


def _cell(text: str, file: str, line: int, column: int) -> Cell:
    where = Location(file, line, column, 1, f"column {letters(column)}")
    if would_run(text.strip()):
        return Cell(text.strip(), where, FORMULA, "write what it comes to")
    return Cell(unguarded(text.strip()).replace("\r\n", "\n"), where)
