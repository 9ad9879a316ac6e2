"""How a table is laid out: which column says what. Written by a person as a mapping file, or read off its headings.

A target is the path of a fact, with the id of a thing written out or taken from a column: `component.material`,
`surfaces.working-face.wear`, `defects.{Defect}.extent`, `surfaces.{Face}.marks.{Mark}.kind`. `component.defects` and
its like declare the things of a part by their ids, or `none`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from conserve.problem import Location
from conserve.quantity import unit_named
from conserve.shape import Choice, Count, Day, Either, Field, Flag, Line, ListOf, MapOf, Problems, Record, Value
from conserve.tables.delimited import DELIMITERS
from conserve.terms import PLACES, Giver, Term, Vocabulary
from conserve.yamlfile import Node

NO_FIT = 98  # the problem's number: table and mapping do not fit
LISTS = ("surfaces", "repairs", "defects")
ID = "component"  # the heading under which our own tables have the component's id
FOR_PEOPLE = ("condition", "kept at", "remarks")  # our own headings of what is not read back
PLAIN = {
    "component": ("name", "phase", "part_of", "significance_reason", "note"),
    "surface": ("name", "says", "mate"),
    "mark": ("name", "says"),
    "repair": ("name", "says"),
    "defect": ("name", "says"),
}
_KEBAB = "[a-z0-9]+(?:-[a-z0-9]+)*"
_NAMED = rf"(?:\{{[^{{}}]+\}}|{_KEBAB})"
_OF_PART = re.compile("component\\.([a-z_]+)")
_OF_THING = re.compile(rf"({'|'.join(LISTS)})\.({_NAMED})(?:\.marks\.({_NAMED}))?\.([a-z_]+)")


@dataclass(frozen=True, slots=True)
class Target:
    """What a column tells. `thing` and `face` are ids, or `{heading}`; `face` is where a mark is."""

    kind: str  # component | surface | mark | repair | defect
    key: str  # a term's short name, a plain key, or a list: surfaces, repairs, defects, marks
    term: Term | None = None
    thing: str = ""
    face: str = ""

    def __str__(self) -> str:
        """Its path."""
        if self.kind == "component":
            return f"component.{self.key}"
        if self.kind == "mark":
            return f"surfaces.{self.face}.marks.{self.thing}.{self.key}"
        return f"{self.kind}s.{self.thing}.{self.key}"

    @property
    def lists(self) -> bool:
        """Whether it declares things by their ids."""
        return self.term is None and self.key in PLACES

    @property
    def headings(self) -> tuple[str, ...]:
        """The columns that give it ids."""
        return tuple(name[1:-1] for name in (self.face, self.thing) if name.startswith("{"))


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is read. Where it has bare numbers, their unit; where from they have their ±."""

    heading: str
    target: Target
    where: Location
    unit: str = ""
    plus_minus: str = ""
    plus_minus_column: str = ""
    instrument: str = ""
    instrument_column: str = ""
    means: Mapping[str, str] = field(default_factory=dict)  # what stands there -> what it means


@dataclass(frozen=True, slots=True)
class Layout:
    """How to read one table."""

    columns: tuple[Column, ...]
    where: Location
    sheet: str = ""
    header: int = 1
    id: str = ID
    ids: Mapping[str, Mapping[str, str]] = field(default_factory=dict)  # heading -> what stands there -> an id
    unknown: tuple[str, ...] = ()
    none: tuple[str, ...] = ()
    by: str = ""
    by_column: str = ""
    date: date | None = None
    date_column: str = ""
    delimiter: str = ""
    decimal_comma: bool = False
    own: bool = False  # whether the table is one of ours, whose ids are ids already

    @property
    def needs(self) -> dict[str, Location]:
        """Every heading it names, and where it names it."""
        found = {self.id: self.where}
        for name in (self.by_column, self.date_column, *self.ids):
            found.setdefault(name, self.where)
        for one in self.columns:
            for name in (one.heading, one.plus_minus_column, one.instrument_column, *one.target.headings):
                found.setdefault(name, one.where)
        return {name: where for name, where in found.items() if name}


def target_of(path: str, vocabulary: Vocabulary) -> Target | None:
    """The target that a path names; None where there is none."""
    if match := _OF_PART.fullmatch(path):
        key = match[1]
        return Target("component", key) if key in LISTS else _target("component", key, vocabulary, "", "")
    if match := _OF_THING.fullmatch(path):
        place, thing, mark, key = match.groups()
        if mark:
            return _target("mark", key, vocabulary, mark, thing) if place == "surfaces" else None
        if place == "surfaces" and key == "marks":
            return Target("surface", key, None, thing)
        return _target(PLACES[place], key, vocabulary, thing, "")
    return None


def _target(kind: str, key: str, vocabulary: Vocabulary, thing: str, face: str) -> Target | None:
    term = vocabulary.terms.get(f"{kind}.{key}")
    if term is not None and term.giver is Giver.PERSON:
        return Target(kind, key, term, thing, face)
    return Target(kind, key, None, thing, face) if key in PLAIN[kind] else None


# ---- our own tables --------------------------------------------------------------------------------------


def own_layout(headings: tuple[str, ...], where: Location, vocabulary: Vocabulary) -> Layout | None:
    """The layout of a table that names paths in its first row; None where it is no such table."""
    targets = {name: target_of(name, vocabulary) for name in headings}
    columns = tuple(Column(name, target, where) for name, target in targets.items() if target)
    helpers = {ID, "by", "date", *FOR_PEOPLE, *(name for one in columns for name in one.target.headings)}
    strange = [name for name in headings if name and targets[name] is None and name not in helpers]
    if ID not in headings or strange or not columns:
        return None
    said: dict[str, Any] = {f"{name}_column": name for name in ("by", "date") if name in headings}
    return Layout(columns, where, own=True, **said)


# ---- mapping files ---------------------------------------------------------------------------------------


def layout_shape(vocabulary: Vocabulary) -> Record:
    """What may stand in a mapping file."""
    means = MapOf(Line(), Line())
    column = _column_shape(vocabulary, means)
    return Record(
        (
            Field("columns", MapOf(Line(), Either(text=Line(), entries=column)), required=True),
            Field("id", Line(), required=True, means="The column whose cells name the component."),
            Field("ids", MapOf(Line(), means), means="What stands in a column of ids, and which id is meant."),
            Field("sheet", Line()),
            Field("header", Count(), means="The row that names the columns; 1 if not said."),
            Field("unknown", ListOf(Line(), lone=True), means="What stands for 'not known', as an empty cell does."),
            Field("none", ListOf(Line(), lone=True), means="What stands for 'looked, and there is none'."),
            Field("by", Line()),
            Field("by_column", Line()),
            Field("date", Day()),
            Field("date_column", Line()),
            Field("delimiter", Choice(tuple(DELIMITERS), "delimiter"), means="Of a CSV file."),
            Field("decimal_comma", Flag(), means="Whether numbers are written as 0,12."),
        )
    )  # fmt: skip


def _column_shape(vocabulary: Vocabulary, means: MapOf) -> Record:
    instrument = Choice(tuple(vocabulary.instruments), "instrument")
    return Record(
        (
            Field("to", Line(), required=True, means="The path of the fact, such as surfaces.{Face}.wear."),
            Field("unit", Line(), means="Of bare numbers."),
            Field("plus_minus", Line(), means="The ± of every number, in the same unit."),
            Field("plus_minus_column", Line()),
            Field("instrument", instrument),
            Field("instrument_column", Line()),
            Field("means", means, means="What stands in the column, and what it means: CI: grey-cast-iron."),
        )
    )


def layout_from(node: Node, vocabulary: Vocabulary, into: Problems) -> Layout | None:
    """Read a mapping file, or note what is wrong with it."""
    before = into.noted
    value = layout_shape(vocabulary).read(node, into)
    if value is None:
        return None
    said: Mapping[str, Value] = value.content
    columns = [_column(name, one, vocabulary, into) for name, one in said["columns"].content.items()]
    if into.noted > before:
        return None
    header = said["header"].content if "header" in said else 1
    return Layout(
        tuple(column for column in columns if column),
        value.where,
        header=max(1, header),
        ids={name: _words(one) for name, one in said["ids"].content.items()} if "ids" in said else {},
        unknown=_many(said, "unknown"),
        none=_many(said, "none"),
        date=said["date"].content if "date" in said else None,
        decimal_comma=_one(said, "decimal_comma") == "yes",
        **{name: _one(said, name) for name in ("sheet", "id", "by", "by_column", "date_column", "delimiter")},
    )


def _column(name: str, value: Value, vocabulary: Vocabulary, into: Problems) -> Column | None:
    said: dict[str, Value] = {"to": value} if isinstance(value.content, str) else value.content
    path = said["to"]
    target = target_of(path.content, vocabulary)
    if target is None:
        hint = "write component.TERM, or surfaces.ID.TERM with an id or with {a column} in its place"
        into.note(path.where, NO_FIT, f"'{path.content}' is no path of a fact that a person tells", hint)
        return None
    column = Column(name, target, path.where, means=_words(said["means"]) if "means" in said else {})
    texts = ("unit", "plus_minus", "plus_minus_column", "instrument", "instrument_column")
    if "unit" in said:
        try:
            unit_named(said["unit"].content)
        except ValueError as wrong:
            hint = f"write {target.term.unit}" if target.term else ""
            into.note(said["unit"].where, 12, str(wrong).rstrip("."), hint)
    return replace(column, **{text: _one(said, text) for text in texts})


def _one(said: Mapping[str, Value], name: str) -> Any:
    return str(said[name].content) if name in said else ""


def _many(said: Mapping[str, Value], name: str) -> tuple[str, ...]:
    return tuple(one.content for one in said[name].content) if name in said else ()


def _words(value: Value) -> dict[str, str]:
    return {name: one.content for name, one in value.content.items()}
