"""What a table says: one fact a cell, read in the shape that a component's file would have it in."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from conserve.casebook.model import Values
from conserve.casebook.rows import with_share
from conserve.casebook.shapes import FACE_NAME, values_of
from conserve.problem import Location
from conserve.quantity import QuantityProblem, parse_quantity
from conserve.shape import Choice, Day, Identifier, Line, Problems, Shape, Words
from conserve.tables.cells import Cell, Grid, letters
from conserve.tables.layout import NO_FIT, Column, Layout, Target
from conserve.tables.naming import id_for
from conserve.terms import Kind, Term, Vocabulary, value_shape
from conserve.yamlfile import Items, Node, Text

NOT_TAKEN = 97  # the problem's number: a cell is not taken
_BARE = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")
_TIME = re.compile(r"(?<=[0-9]-[0-9]{2})[ T][0-9]{2}:[0-9]{2}(?::[0-9.]+)?$")  # of day, after a date
_QUANTITY_NUMBERS = {"not-a-quantity": 12, "wrong-dimension": 13, "no-unit": 14, "not-finite": 16}
_PLAIN_SHAPES: Mapping[str, Shape] = {
    "name": Line(),
    "phase": Identifier(),
    "part_of": Identifier(),
    "mate": FACE_NAME,
    "significance_reason": Words(),
    "note": Words(),
    "says": Words(),
}


@dataclass(frozen=True, slots=True)
class Saying:
    """One thing that a table says. `values` is what it comes to; of a list, the ids; of a plain key, its text."""

    component: str
    target: Target  # with its ids filled in
    values: Values
    text: str  # as a file has it, before an instrument gives its ±
    where: Location
    instrument: str = ""
    by: str = ""
    on: date | None = None

    @property
    def about(self) -> tuple[str, str, str, str, str]:
        """What it is about: two sayings about the same must say the same."""
        return self.component, self.target.kind, self.target.face, self.target.thing, self.target.key


@dataclass(slots=True)
class _Reader:
    layout: Layout
    vocabulary: Vocabulary
    into: Problems
    at: Mapping[str, int]  # heading -> its place in a row
    made: dict[tuple[str, str], str] = field(default_factory=dict)  # an id made from a cell -> what stood there
    row: tuple[Cell, ...] = ()  # the one that is being read, which is never empty

    def cell(self, heading: str) -> Cell:
        """The cell under a heading; an empty one where the row is shorter."""
        place = self.at.get(heading, len(self.row))
        return self.row[place] if place < len(self.row) else Cell("", self.row[0].where)

    def taken(self, heading: str) -> str:
        """What stands under a heading; "" for nothing, or for what is not taken and has been noted."""
        cell = self.cell(heading)
        if cell.fault:
            self.into.note(cell.where, NOT_TAKEN, f"'{heading}' {cell.fault}" if cell.text else cell.fault, cell.hint)
            return ""
        return "" if cell.text in ("", "unknown", *self.layout.unknown) else cell.text


def sayings(
    grid: Grid, layout: Layout, vocabulary: Vocabulary, into: Problems, by: str = "", on: date | None = None
) -> tuple[Saying, ...]:
    """Read a table, or note what is wrong in it. `by` and `on` hold where the table itself does not say."""
    head = next((cells for number, cells in grid.rows if number == layout.header), ())
    at = _placed(head, layout, grid, into)
    if at is None:
        return ()
    reader = _Reader(layout, vocabulary, into, at)
    found: list[Saying] = []
    for number, cells in grid.rows:
        if number > layout.header and any(cell.text or cell.fault for cell in cells):
            reader.row = cells
            found += _of_row(reader, by, on)
    return tuple(found)


def _placed(head: tuple[Cell, ...], layout: Layout, grid: Grid, into: Problems) -> dict[str, int] | None:
    """Where each column that is wanted stands, or note those that are not there, or are there twice."""
    at: dict[str, int] = {}
    before = into.noted
    for place, cell in enumerate(head):
        if cell.text in layout.needs and cell.text in at:
            message = f"'{cell.text}' heads two columns, {letters(at[cell.text] + 1)} and {letters(place + 1)}"
            into.note(cell.where, NO_FIT, message, "give one of them another heading")
        at.setdefault(cell.text, place)
    there = ", ".join(f"'{name}'" for name in list(filter(None, at))[:12])
    for name, where in layout.needs.items():
        if name not in at:
            hint = f"row {layout.header} has {there}" if there else f"row {layout.header} is empty; say 'header:'"
            into.note(where, NO_FIT, f"no column of {grid.where.at or grid.where.file} is headed '{name}'", hint)
    return at if into.noted == before else None


def _of_row(reader: _Reader, by: str, on: date | None) -> Iterator[Saying]:
    layout = reader.layout
    part = _id(reader, layout.id)
    if not part:
        if not reader.cell(layout.id).fault and not reader.cell(layout.id).text:
            message = "this row does not say which component it is about"
            reader.into.note(reader.cell(layout.id).where, NO_FIT, message, f"fill in '{layout.id}', or delete the row")
        return
    who = (reader.taken(layout.by_column) if layout.by_column else "") or layout.by or by
    when = _day(reader) or layout.date or on
    for column in layout.columns:
        said = reader.taken(column.heading)
        if said:
            yield from _saying(reader, column, part, said, who, when)


def _day(reader: _Reader) -> date | None:
    name = reader.layout.date_column
    said = _TIME.sub("", reader.taken(name)) if name else ""
    if said.isdigit():  # a spreadsheet counts days, and shows the count where it is not told that it is a date
        reader.into.note(reader.cell(name).where, 6, f"'{said}' is not a date", "give the column a date's format")
        return None
    value = Day().read(Text(said, reader.cell(name).where, True), reader.into) if said else None
    return None if value is None else value.content


def _id(reader: _Reader, heading: str) -> str:
    """The id that a cell names, or is made into; "" where there is none."""
    said = reader.taken(heading)
    given = reader.layout.ids.get(heading, {}).get(said)
    where = reader.cell(heading).where
    made = id_for(reader.layout, heading, said)
    if not said or Identifier().read(Text(made or said, where, True), reader.into) is None:
        return ""
    before = reader.made.setdefault((heading, made), said)
    if before != said and not given:
        message = f"'{before}' and '{said}' would both become '{made}'"
        reader.into.note(where, NO_FIT, message, f"say under 'ids:' of the mapping which is meant by '{said}'")
        return ""
    return made


def _saying(reader: _Reader, column: Column, part: str, said: str, who: str, when: date | None) -> Iterator[Saying]:
    target = _filled(reader, column.target, column.heading)
    if target is None:
        return
    said = column.means.get(said, "none" if said in reader.layout.none else said)
    where = reader.cell(column.heading).where
    found = _read(reader, column, target, said, where) if said != "unknown" else None
    if found is not None:
        yield Saying(part, target, found[0], found[1], where, found[2], who, when)


def _filled(reader: _Reader, target: Target, heading: str) -> Target | None:
    """A target with the ids that its row gives; None where one is not there."""
    named = {}
    for name in ("thing", "face"):
        given = getattr(target, name)
        named[name] = _id(reader, given[1:-1]) if given.startswith("{") else given
        if given and not named[name]:
            if not reader.cell(given[1:-1]).text:
                message = f"'{heading}' is filled in, and '{given[1:-1]}' is not"
                reader.into.note(reader.cell(given[1:-1]).where, NO_FIT, message, "say which thing it is about")
            return None
    return Target(target.kind, target.key, target.term, named["thing"], named["face"])


# ---- one cell --------------------------------------------------------------------------------------------


def _read(
    reader: _Reader, column: Column, target: Target, said: str, where: Location
) -> tuple[Values, str, str] | None:
    """What a cell comes to, its text, and the instrument; None where something is wrong."""
    into = reader.into
    if target.lists:
        return _ids(said, where, into)
    if target.term is None:
        value = _PLAIN_SHAPES[target.key].read(Text(said, where, True), into)
        return None if value is None else ((str(value.content),), str(value.content), "")
    if target.term.stated_by:
        message = f"only a registered report by a {target.term.stated_by} may state this"
        into.note(where, 60, message, "register the report, and leave the column out")
        return None
    if target.term.kind is Kind.QUANTITY:
        return _quantity(reader, column, target.term, said, where)
    value = value_shape(target.term).read(_node(target.term, said, where), into)
    return None if value is None else (values_of(value.content), said, "")


def _ids(said: str, where: Location, into: Problems) -> tuple[Values, str, str] | None:
    if said == "none":
        return (), "none", ""
    names = tuple(one.strip() for one in said.split(";"))
    found = [Identifier().read(Text(name, where, True), into) for name in names]
    return (names, said, "") if all(found) else None


def _node(term: Term, said: str, where: Location) -> Node:
    """A cell as a shape reads it; several values stand with `;` between them, and `none` closes a list."""
    if term.many and said != "none":
        return Items(tuple(Text(one.strip(), where, True) for one in said.split(";")), where)
    return Text(said, where, not term.many)


def _quantity(
    reader: _Reader, column: Column, term: Term, said: str, where: Location
) -> tuple[Values, str, str] | None:
    instrument = (reader.taken(column.instrument_column) if column.instrument_column else "") or column.instrument
    place = reader.cell(column.instrument_column).where if column.instrument_column else where
    known = Choice(tuple(reader.vocabulary.instruments), "instrument")
    if instrument and known.read(Text(instrument, place, True), reader.into) is None:
        return None
    text = _with_unit(reader, column, said)
    try:
        number = parse_quantity(text, term.unit, term.exact)
        if instrument and number.uncertainty is None:
            number = with_share(number, instrument, reader.vocabulary)
    except QuantityProblem as wrong:
        more = "; or say 'unit:' of the column in the mapping" if wrong.kind == "no-unit" else ""
        more = "; or say 'decimal_comma: yes' in the mapping" if re.search("[0-9],[0-9]", text) else more
        reader.into.note(where, _QUANTITY_NUMBERS[wrong.kind], wrong.message, f"{wrong.hint}{more}")
        return None
    return (number,), text, instrument


def _with_unit(reader: _Reader, column: Column, said: str) -> str:
    """A cell of bare numbers with the unit of its column and its ±; any other as it is."""
    comma = reader.layout.decimal_comma
    said = re.sub("(?<=[0-9]),(?=[0-9])", ".", said) if comma else said
    if not column.unit or not _BARE.fullmatch(said.replace("\N{MINUS SIGN}", "-")):
        return said
    spread = (reader.taken(column.plus_minus_column) if column.plus_minus_column else "") or column.plus_minus
    spread = (spread.replace(",", ".") if comma else spread).lstrip("± ")
    if spread and not _BARE.fullmatch(spread):
        return f"{said} {column.unit} ± {spread}"
    return f"{said} ± {spread} {column.unit}" if spread else f"{said} {column.unit}"
