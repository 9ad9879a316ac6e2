"""Read measurements.csv: one reading a row."""

from __future__ import annotations

from collections.abc import Mapping

from conserve.casebook.model import Component, Stated
from conserve.casebook.rows import (
    Row,
    check_cells,
    check_instrument,
    csv_rows,
    day_of,
    like,
    part_of,
    quantity_of,
)
from conserve.files import Folder
from conserve.shape import Problems
from conserve.terms import Giver, Kind, Term, Vocabulary

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


def read_measurements(
    folder: Folder, vocabulary: Vocabulary, components: Mapping[str, Component], into: Problems, shown: str
) -> dict[Key, tuple[Stated, ...]]:
    """Read every row, or note what is wrong with it. Readings of one fact stand together, in their order."""
    found: dict[Key, tuple[Stated, ...]] = {}
    if NAME in folder.names("", ".csv"):
        for row in csv_rows(folder, NAME, COLUMNS, f"{shown}/{NAME}", into):
            if (read := _read_row(row, vocabulary, components, into)) is not None:
                key, stated = read
                found[key] = (*found.get(key, ()), stated)
    return found


def _read_row(
    row: Row, vocabulary: Vocabulary, components: Mapping[str, Component], into: Problems
) -> tuple[Key, Stated] | None:
    """One row: its fact and its reading; None where something is wrong with it."""
    before = into.noted
    cells = row.cells
    check_cells(row, into)
    component = part_of(row, components, into)
    if component is not None and cells["where"] and component.thing("surface", cells["where"]) is None:
        hint = like(cells["where"], [s.id for s in component.surfaces or ()], into)
        into.note(row.place("where"), 62, f"there is no surface '{cells['where']}' on {component.id}", hint)
    term = _term(row, vocabulary, into)
    check_instrument(row, vocabulary, into)
    day = day_of(row, into)
    if term is None or into.noted > before:
        return None
    quantity = quantity_of(row, "reading", term.unit, vocabulary, into)
    if quantity is None:
        return None
    return (cells["component"], cells["where"], term.name), Stated(
        (quantity,),
        row.where._replace(at=cells["quantity"]),
        by=cells["by"],
        on=day,
        instrument=cells["instrument"],
        plane=cells["plane"],
        angle=cells["angle"],
    )


def _term(row: Row, vocabulary: Vocabulary, into: Problems) -> Term | None:
    """The quantity that a row measures."""
    owner, name = "surface" if row.cells["where"] else "component", row.cells["quantity"]
    term = vocabulary.terms.get(f"{owner}.{name}")
    if term is not None and term.kind is Kind.QUANTITY and term.giver is Giver.PERSON:
        return term
    known = [t.short for t in vocabulary.of(owner) if t.kind is Kind.QUANTITY]
    into.note(row.place("quantity"), 69, f"'{name}' is no quantity of a {owner}", like(name, known, into))
    return None
