"""Rows of a table, in CSV or in Markdown: their cells, and where each cell stands."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import islice

from conserve.casebook.model import Component
from conserve.files import FileRefused, Folder
from conserve.problem import Location, nearest
from conserve.quantity import Quantity, QuantityProblem, parse_quantity
from conserve.shape import LONGEST_LINE, Choice, Day, Line, Problems, Words
from conserve.terms import Vocabulary
from conserve.yamlfile import Text

_CSV_CELL = re.compile(r'"(?:[^"]|"")*"[^,]*|[^,]*')
_MARKDOWN_CELL = re.compile(r"(?:\\\||[^|])*")
_RULE = re.compile(":?-+:?")  # a cell of the line that Markdown draws below the names of the columns
_NO_TABLE = 75
_QUANTITY_NUMBERS = {"not-a-quantity": 12, "wrong-dimension": 13, "no-unit": 14, "not-finite": 16}


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: what stands in its cells, without the space around it."""

    cells: Mapping[str, str]  # column -> what stands there
    where: Location  # of the whole row
    text: str  # the row as it is written
    first: int  # where its first cell begins in the text
    cell: re.Pattern[str]  # what one cell reaches over

    def place(self, column: str) -> Location:
        """Where a cell stands."""
        spans = _spans(self.text, self.first, self.cell)
        start, end = next(islice(spans, list(self.cells).index(column), None), (self.first, self.first))
        written = self.text[start:end]
        start += len(written) - len(written.lstrip()) if written.strip() else 0
        above = self.text.count("\n", 0, start)
        at = start - self.text.rfind("\n", 0, start)
        return Location(self.where.file, self.where.line + above, at, _width(written), column)

    def node(self, column: str) -> Text:
        """A cell as a shape reads it. It counts as quoted: so an empty one is told, and not passed over."""
        return Text(self.cells[column], self.place(column), True)


def _width(text: str) -> int:
    return max(1, len(text.strip().partition("\n")[0]))


def _spans(text: str, first: int, cell: re.Pattern[str]) -> Iterator[tuple[int, int]]:
    """From where to where each cell of a row reaches; one character stands between two."""
    start = first
    while start <= len(text) and (match := cell.match(text, start)):
        yield match.span()
        start = match.end() + 1


# ---- tables -----------------------------------------------------------------------------------------


def csv_rows(folder: Folder, name: str, columns: tuple[str, ...], shown: str, into: Problems) -> Iterator[Row]:
    """Read the rows of a CSV file whose first row names the columns, or note what is wrong with it."""
    lines = list(io.StringIO(_text(folder, name, shown, into), newline=""))
    reader = csv.reader(lines)
    before = 0
    try:
        for cells in reader:
            text = "".join(lines[before : reader.line_num]).rstrip("\r\n")
            here = Location(shown, before + 1, 1, _width(text))
            if not before and not _named(cells, columns, here, into):
                return
            if before and cells and _fits(cells, columns, here, "quote a cell that contains a comma", into):
                yield Row(_stripped(cells, columns), here, text, 0, _CSV_CELL)
            before = reader.line_num
    except csv.Error:
        into.note(Location(shown, before + 1), _NO_TABLE, "this cannot be read as CSV", "save it as CSV again")


def markdown_rows(folder: Folder, name: str, columns: tuple[str, ...], shown: str, into: Problems) -> Iterator[Row]:
    """Read the rows of every table of a Markdown file; the first row of each names the columns.

    A row begins with `|`, and a table ends at an empty line. A `|` in a cell is written with a backslash before it.
    What stands outside tables is for people.
    """
    text = _text(folder, name, shown, into)
    tables = list(_tables(text))
    if text.strip() and not tables:
        into.note(Location(shown), _NO_TABLE, "there is no table here", f"| {' | '.join(columns)} |")
    for table in tables:
        yield from _table_rows(table, columns, shown, into)


def _tables(text: str) -> Iterator[list[tuple[int, str]]]:
    """The numbered lines of each table."""
    table: list[tuple[int, str]] = []
    for number, line in enumerate(io.StringIO(text), 1):
        if line.strip() and (table or line.lstrip().startswith("|")):
            table.append((number, line.rstrip()))
        elif table:
            yield table
            table = []
    if table:
        yield table


def _table_rows(table: list[tuple[int, str]], columns: tuple[str, ...], shown: str, into: Problems) -> Iterator[Row]:
    for row, (number, line) in enumerate(table):
        start = len(line) - len(line.lstrip())
        here = Location(shown, number, start + 1, _width(line))
        if line[start] != "|":
            into.note(here, _NO_TABLE, "a row of a table begins with |", "leave a line empty below the table")
            continue
        text = line[:-1] if line.endswith("|") and not line.endswith("\\|") else line
        cells = [text[a:b].replace("\\|", "|") for a, b in _spans(text, start + 1, _MARKDOWN_CELL)]
        if row == 0 and not _named(cells, columns, here, into):
            return
        ruled = row == 1 and all(_RULE.fullmatch(cell.strip()) for cell in cells)
        if row and not ruled and _fits(cells, columns, here, "write a | in a cell as \\|", into):
            yield Row(_stripped(cells, columns), here, text, start + 1, _MARKDOWN_CELL)


def _text(folder: Folder, name: str, shown: str, into: Problems) -> str:
    try:
        return folder.read_bytes(name).decode("utf-8-sig")
    except FileRefused as refused:
        into.note(Location(shown), 29, refused.reason)
    except UnicodeDecodeError:
        into.note(Location(shown), 25, "is not UTF-8 text", "save it as UTF-8")
    return ""


def _named(cells: list[str], columns: tuple[str, ...], here: Location, into: Problems) -> bool:
    named = tuple(cell.strip() for cell in cells) == columns
    if not named:
        into.note(here, _NO_TABLE, "the first row must name the columns", ",".join(columns))
    return named


def _fits(cells: list[str], columns: tuple[str, ...], here: Location, hint: str, into: Problems) -> bool:
    if len(cells) != len(columns):
        into.note(here, _NO_TABLE, f"has {len(cells)} cells; the columns are {len(columns)}", hint)
    return len(cells) == len(columns)


def _stripped(cells: list[str], columns: tuple[str, ...]) -> dict[str, str]:
    return {column: cell.strip().replace("\r\n", "\n") for column, cell in zip(columns, cells, strict=True)}


# ---- cells ------------------------------------------------------------------------------------------


def check_cells(row: Row, into: Problems, words: tuple[str, ...] = ()) -> None:
    """Note each cell that hides something or is no line; those of the columns in `words` may be several lines."""
    for column, cell in row.cells.items():
        if cell and not (cell.isprintable() and len(cell) <= LONGEST_LINE):
            (Words() if column in words else Line()).read(row.node(column), into)


def part_of(row: Row, components: Mapping[str, Component], into: Problems) -> Component | None:
    """The component that a row is about."""
    name = row.cells["component"]
    if name not in components:
        into.note(row.place("component"), 61, f"there is no component '{name}'", like(name, components, into))
    return components.get(name)


def day_of(row: Row, into: Problems) -> date | None:
    """The day of a row."""
    value = Day().read(row.node("date"), into)
    return None if value is None else value.content


def check_instrument(row: Row, vocabulary: Vocabulary, into: Problems) -> None:
    """Note an instrument that is not known; none at all is no fault."""
    if row.cells["instrument"]:
        Choice(tuple(vocabulary.instruments), "instrument").read(row.node("instrument"), into)


def quantity_of(
    row: Row, column: str, unit: str, vocabulary: Vocabulary, into: Problems, exact: bool = False
) -> Quantity | None:
    """The number in a column with its ±, or its instrument's where the row gives none, or note what is wrong."""
    try:
        return _reading(row.cells, row.cells[column], unit, vocabulary, exact)
    except QuantityProblem as problem:
        at = "unit" if problem.kind in ("no-unit", "wrong-dimension") else column
        into.note(row.place(at), _QUANTITY_NUMBERS[problem.kind], problem.message, problem.hint)
        return None


def _reading(cells: Mapping[str, str], said: str, unit: str, vocabulary: Vocabulary, exact: bool) -> Quantity:
    if cells["plus_minus"]:
        return parse_quantity(f"{said} ± {cells['plus_minus']} {cells['unit']}", unit, exact)
    reading = parse_quantity(f"{said} {cells['unit']}", unit, exact)
    if cells["instrument"] not in vocabulary.instruments or reading.uncertainty is not None:
        return reading
    return with_share(reading, cells["instrument"], vocabulary)


def with_share(reading: Quantity, instrument: str, vocabulary: Vocabulary) -> Quantity:
    """A reading with the ± of the instrument it was taken with; `QuantityProblem` where that measures another kind."""
    share = vocabulary.instruments[instrument]
    if share.dimension != reading.dimension:
        raise QuantityProblem("wrong-dimension", f"a {instrument} does not measure this", "name the instrument used")
    return Quantity(reading.amount, share.in_unit(reading.unit).amount, reading.unit)


def like(word: str, known: Iterable[str], into: Problems) -> str:
    """What may be meant, as a hint; "" where nothing is like it."""
    near = None if into.crowded else nearest(word, known)
    return f"did you mean '{near}'?" if near else ""
