"""Read survey sheets, `surveys/*.csv` and `surveys/*.md`: one answer a row.

`component` is a component's id, or `object`. `where` is empty for the component itself; else it is the id of one of
its faces, or `repairs/ID`, `defects/ID` or `marks/ID`. `term` is a term's full name, such as `surface.wear`; or the
name of a list that nobody has written, `surfaces`, `repairs` or `defects` of the component or `marks` of a face, and
its answer is `none`. A row without an answer, or with `unknown`, says nothing yet. The columns `question`, `cost` and
`note` are for people.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from conserve.casebook.model import Component, Stated, Values
from conserve.casebook.rows import (
    Row,
    check_cells,
    check_instrument,
    csv_rows,
    day_of,
    like,
    markdown_rows,
    part_of,
    quantity_of,
)
from conserve.casebook.shapes import values_of
from conserve.files import Folder
from conserve.shape import Problems
from conserve.terms import PLACES, Giver, Kind, Term, Vocabulary, value_shape
from conserve.yamlfile import Items, Node

FOLDER = "surveys"
COLUMNS = (
    "component",
    "where",
    "term",
    "question",
    "cost",
    "answer",
    "plus_minus",
    "unit",
    "instrument",
    "date",
    "by",
    "note",
)
OBJECT = "object"
_SAYS_NOTHING = ("", "unknown")
# A spreadsheet takes a cell that begins so for a formula, the wide forms too (OWASP, "CSV Injection").
_RUNS = frozenset("=+-@\uff1d\uff0b\uff0d\uff20")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")


@dataclass(frozen=True, slots=True)
class Answer:
    """What one row says: of the object, of a component or of a thing on one."""

    component: str  # its id, or `object`
    kind: str  # object | component | surface | mark | repair | defect
    name: str  # of a thing: its id
    term: str  # a term's name, or the list that is closed empty
    stated: Stated


def read_surveys(
    folder: Folder, vocabulary: Vocabulary, components: Mapping[str, Component], into: Problems, shown: str
) -> tuple[Answer, ...]:
    """Read the answers of every sheet, or note what is wrong with them. The order of files and rows does not matter."""
    found = []
    for row in _rows(folder, into, shown):
        check_cells(row, into, words=("question", "note"))
        for column, cell in row.cells.items():
            if runs(cell):
                hint = "begin it with a letter, or leave it empty"
                into.note(row.place(column), 83, "a spreadsheet would run this cell as a formula", hint)
        if row.cells["answer"] not in _SAYS_NOTHING:
            found.append(_answer(row, vocabulary, components, into))
    return tuple(sorted((answer for answer in found if answer is not None), key=_by_what_it_says))


def runs(cell: str) -> bool:
    """Whether a spreadsheet would take a cell for a formula."""
    return cell[:1] in _RUNS and not _NUMBER.fullmatch(cell)


def _rows(folder: Folder, into: Problems, shown: str) -> Iterator[Row]:
    for suffix, rows in ((".csv", csv_rows), (".md", markdown_rows)):
        for name in folder.names(FOLDER, suffix):
            yield from rows(folder, name, COLUMNS, f"{shown}/{name}", into)


def _by_what_it_says(answer: Answer) -> tuple[str, ...]:
    """Where a row stands comes last: it only settles between rows that say the same."""
    said = answer.stated
    what = (answer.component, answer.kind, answer.name, answer.term, str(said.on), said.by, said.instrument)
    return (*what, repr(said.values), said.where.file, f"{said.where.line:09}")


def _answer(row: Row, vocabulary: Vocabulary, components: Mapping[str, Component], into: Problems) -> Answer | None:
    """What one row says; None where something is wrong with it."""
    before = into.noted
    cells = row.cells
    kind, name = _thing(cells)
    part = None if kind == OBJECT else part_of(row, components, into)
    _check_where(row, kind, name, part, into)
    day = day_of(row, into)
    check_instrument(row, vocabulary, into)
    values = _none(row, kind, part, into) if cells["term"] in PLACES else _values(row, kind, vocabulary, into)
    if values is None or into.noted > before:
        return None
    where = row.where._replace(at=cells["term"])
    stated = Stated(values, where, by=cells["by"], on=day, instrument=cells["instrument"])
    return Answer(cells["component"], kind, name, cells["term"], stated)


# ---- what a row is about -----------------------------------------------------------------------------


def _thing(cells: Mapping[str, str]) -> tuple[str, str]:
    """The kind and the id of what a row is about, as it is written; "" for a kind that there is not."""
    if cells["component"] == OBJECT:
        return OBJECT, ""
    head, slash, tail = cells["where"].partition("/")
    if slash:
        return PLACES[head] if head in ("repairs", "defects", "marks") and tail else "", tail
    return ("surface", head) if head else ("component", "")


def _check_where(row: Row, kind: str, name: str, part: Component | None, into: Problems) -> None:
    """Note a thing that is not there; a surface goes by its id alone."""
    where = row.cells["where"]
    if where and kind == OBJECT:
        into.note(row.place("where"), 62, "the object itself has no such place", "name the component it is on")
    elif not kind:
        hint = "write the id of a face, or repairs/ID, defects/ID or marks/ID"
        into.note(row.place("where"), 62, f"'{where}' is no place on a component", hint)
    elif part is not None and name and part.thing(kind, name) is None:
        hint = like(name, [t.id for t in part.known_things() if t.kind == kind], into)
        into.note(row.place("where"), 62, f"there is no {kind} '{name}' on {part.id}", hint)


def _term(row: Row, kind: str, vocabulary: Vocabulary, into: Problems) -> Term | None:
    """The term that a row answers: one of its kind that a person gives, and needs no report."""
    name = row.cells["term"]
    term = vocabulary.terms.get(name)
    if term is None or term.owner != kind or term.giver is not Giver.PERSON:
        known = [t.name for t in vocabulary.of(kind, Giver.PERSON)]
        message = f"'{name}' is nothing that a person tells of a {kind}"
        other = f"it is told of a {term.owner}; look at 'where'" if term and term.owner != kind else ""
        into.note(row.place("term"), 69, message, other or like(name, known, into))
        return None
    if term.stated_by:
        hint = "put it under 'states:' of the report in evidence/register.yaml"
        into.note(row.place("term"), 60, f"only a registered report by a {term.stated_by} may state this", hint)
        return None
    return term


# ---- what it says of it ------------------------------------------------------------------------------


def _values(row: Row, kind: str, vocabulary: Vocabulary, into: Problems) -> Values | None:
    """The answer to a term's question, in the shape in which a component's file would have it."""
    term = _term(row, kind, vocabulary, into) if kind else None
    if term is None:
        return None
    if term.kind is Kind.QUANTITY:
        number = quantity_of(row, "answer", term.unit, vocabulary, into, term.exact)
        return None if number is None else (number,)
    _check_words_alone(row, into)
    value = value_shape(term).read(_node(row, term), into)
    return None if value is None else values_of(value.content)


def _node(row: Row, term: Term) -> Node:
    """An answer as a shape reads it; several stand with `;` between them, and `none` by itself closes a list."""
    node = row.node("answer")
    if not term.many:
        return node
    if node.value == "none":
        return node._replace(quoted=False)
    return Items(tuple(node._replace(value=one.strip()) for one in node.value.split(";")), node.where)


def _check_words_alone(row: Row, into: Problems) -> None:
    for column in ("plus_minus", "unit"):
        if row.cells[column]:
            into.note(row.place(column), 86, "this answer is no measured number", "leave the cell empty")


def _none(row: Row, kind: str, part: Component | None, into: Problems) -> Values | None:
    """A list that is closed: nobody has written it, and there is none."""
    name = row.cells["term"]
    owner = "surface" if name == "marks" else "component"
    if kind != owner:
        hint = "write the id of the face under 'where'" if name == "marks" else "leave 'where' empty"
        into.note(row.place("term"), 69, f"'{name}' is a list of a {owner}", hint)
        return None
    _check_words_alone(row, into)
    face = part.thing("surface", row.cells["where"]) if part and name == "marks" else None
    written = face.marks if face else part.things(PLACES[name]) if part and name != "marks" else None
    if written is not None and part:
        hint = f"take this row out, or change {part.where.file}"
        into.note(row.place("term"), 84, f"the {name} of {part.id} are written already", hint)
    elif row.cells["answer"] != "none":
        hint = f"write them under '{name}:' in {part.where.file if part else 'the file of the component'}"
        into.note(row.place("answer"), 85, "a sheet can only say that there is none", hint)
    return ()
