"""Read measurements.csv: one reading a row."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date

from conserve.casebook.model import Component, Stated
from conserve.files import FileRefused, Folder
from conserve.problem import Location, nearest
from conserve.quantity import Quantity, QuantityProblem, parse_quantity
from conserve.shape import Problems
from conserve.terms import Giver, Kind, Vocabulary

NAME = "measurements.csv"
COLUMNS = (
    "date",
    "by",
    "instrument",
    "component",
    "where",
    "plane",
    "angle",
    "quantity",
    "reading",
    "plus_minus",
    "unit",
)
Key = tuple[str, str, str]  # component, surface or "", term
_HIDDEN = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C)))


def read_measurements(
    folder: Folder, vocabulary: Vocabulary, components: Mapping[str, Component], into: Problems, shown: str
) -> dict[Key, tuple[Stated, ...]]:
    """Read every row, or note what is wrong with it. Readings of one fact stand together, in their order."""
    if NAME not in folder.names("", ".csv"):
        return {}
    file = f"{shown}/{NAME}"
    try:
        text = folder.read_bytes(NAME).decode("utf-8-sig")
    except FileRefused as refused:
        into.note(Location(file), 29, refused.reason)
        return {}
    except UnicodeDecodeError:
        into.note(Location(file), 25, "is not UTF-8 text", "save it as UTF-8")
        return {}
    found: dict[Key, tuple[Stated, ...]] = {}
    for line, row in enumerate(csv.reader(io.StringIO(text)), 1):
        if line == 1:
            if tuple(row) != COLUMNS:
                into.note(
                    Location(file, 1, 1, len(text.splitlines()[0]) if text else 1),
                    75,
                    "the first row must name the columns",
                    ",".join(COLUMNS),
                )
                return {}
        elif row and (read := _read_row(row, file, line, vocabulary, components, into)) is not None:
            key, stated = read
            found[key] = (*found.get(key, ()), stated)
    return found


def _read_row(
    row: list[str], file: str, line: int, vocabulary: Vocabulary, components: Mapping[str, Component], into: Problems
) -> tuple[Key, Stated] | None:
    """One row: its fact and its reading; None where something is wrong with it."""
    before = into.noted

    def wrong(column: str, number: int, message: str, hint: str = "") -> None:
        index = COLUMNS.index(column)
        start = sum(len(cell) + 1 for cell in row[:index]) + 1
        into.note(Location(file, line, start, max(1, len(row[index])), column), number, message, hint)

    if len(row) != len(COLUMNS):
        into.note(
            Location(file, line),
            75,
            f"has {len(row)} cells; the columns are {len(COLUMNS)}",
            "quote a cell that contains a comma",
        )
        return None
    cells = dict(zip(COLUMNS, (cell.strip() for cell in row), strict=True))
    for column, cell in cells.items():
        if _HIDDEN & set(cell):
            wrong(column, 10, "hides a character that turns the text round", "type it again")
    component = components.get(cells["component"])
    if component is None:
        wrong(
            "component",
            61,
            f"there is no component '{cells['component']}'",
            _like(cells["component"], components, into),
        )
    elif cells["where"] and component.thing("surface", cells["where"]) is None:
        wrong(
            "where",
            62,
            f"there is no surface '{cells['where']}' on {component.id}",
            _like(cells["where"], [s.id for s in component.surfaces or ()], into),
        )
    owner = "surface" if cells["where"] else "component"
    term = vocabulary.terms.get(f"{owner}.{cells['quantity']}")
    if term is None or term.kind is not Kind.QUANTITY or term.giver is not Giver.PERSON:
        known = [t.short for t in vocabulary.of(owner) if t.kind is Kind.QUANTITY]
        wrong(
            "quantity", 69, f"'{cells['quantity']}' is no quantity of a {owner}", _like(cells["quantity"], known, into)
        )
    if cells["instrument"] and cells["instrument"] not in vocabulary.instruments:
        wrong(
            "instrument",
            5,
            f"unknown instrument '{cells['instrument']}'",
            _like(cells["instrument"], vocabulary.instruments, into),
        )
    day = _day(cells["date"])
    if day is None:
        wrong("date", 6, f"'{cells['date']}' is not a date", "write it as 2026-03-02")
    if term is None or into.noted > before:
        return None
    try:
        quantity = _reading(cells, term.unit, vocabulary)
    except QuantityProblem as problem:
        number = {"no-unit": 14, "wrong-dimension": 13, "not-finite": 16}.get(problem.kind, 12)
        wrong(
            "unit" if problem.kind in ("no-unit", "wrong-dimension") else "reading",
            number,
            problem.message,
            problem.hint,
        )
        return None
    return (cells["component"], cells["where"], term.name), Stated(
        (quantity,),
        Location(file, line, 1, len(",".join(row)), cells["quantity"]),
        by=cells["by"],
        on=day,
        instrument=cells["instrument"],
        plane=cells["plane"],
        angle=cells["angle"],
    )


def _reading(cells: Mapping[str, str], unit: str, vocabulary: Vocabulary) -> Quantity:
    """The reading with its ±, or its instrument's where the row gives none."""
    if cells["plus_minus"]:
        return parse_quantity(f"{cells['reading']} ± {cells['plus_minus']} {cells['unit']}", unit, exact=False)
    reading = parse_quantity(f"{cells['reading']} {cells['unit']}", unit, exact=False)
    if not cells["instrument"]:
        return reading
    share = vocabulary.instruments[cells["instrument"]]
    if share.dimension != reading.dimension:
        raise QuantityProblem(
            "wrong-dimension", f"a {cells['instrument']} does not measure this", "name the instrument used"
        )
    return Quantity(reading.amount, share.in_unit(reading.unit).amount, reading.unit)


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _like(word: str, known: Iterable[str], into: Problems) -> str:
    like = None if into.crowded else nearest(word, known)
    return f"did you mean '{like}'?" if like else ""
