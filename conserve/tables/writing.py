"""What a table says, as text for a casebook: a new component's file, and a survey sheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from conserve.casebook.surveys import COLUMNS
from conserve.problem import Location
from conserve.quantity import parse_quantity
from conserve.shape import Problems
from conserve.tables.layout import PLAIN
from conserve.tables.numbers import plain_number
from conserve.tables.saying import Saying
from conserve.tables.scalar import scalar
from conserve.terms import Giver, Kind, Vocabulary

NO_DAY = 6
_DUTIES = {"duty_now": "now", "duty_wanted": "wanted"}


@dataclass(frozen=True, slots=True)
class Text:
    """A file as it would be written. `lines` says where what stands on a line comes from."""

    name: str
    text: str
    lines: Mapping[int, Location] = field(default_factory=dict)


@dataclass(slots=True)
class Branch:
    """A mapping on its way into a file: keys, and what stands below each."""

    below: dict[str, Branch | tuple[str, Location]] = field(default_factory=dict)

    def at(self, *keys: str) -> Branch:
        """The mapping below some keys, made if it is not there."""
        found = self
        for key in keys:
            next_one = found.below.get(key)
            if not isinstance(next_one, Branch):
                next_one = found.below[key] = Branch()
            found = next_one
        return found


# ---- a component's file ----------------------------------------------------------------------------------


def component_file(name: str, said: Iterable[Saying], source: str, vocabulary: Vocabulary) -> Text:
    """The file of a new component."""
    shown = "".join(char if char.isprintable() else "?" for char in source)  # a file's name may hold a line end
    written: list[tuple[str, Location | None]] = [(f"# Brought in from {shown}.", None)]
    written += lines_of(tree_of(said, vocabulary))
    lines = {number: where for number, (_, where) in enumerate(written, 1) if where is not None}
    return Text(f"components/{name}.yaml", "".join(f"{line}\n" for line, _ in written), lines)


def tree_of(said: Iterable[Saying], vocabulary: Vocabulary) -> Branch:
    """What is said of one component, as its file nests it."""
    tree = Branch()
    for one in sorted(said, key=lambda one: _turn(one, vocabulary)):
        _put(tree, one)
    return tree


def lines_of(tree: Branch, indent: str = "") -> list[tuple[str, Location | None]]:
    """A mapping in lines of YAML, each with where it comes from."""
    found: list[tuple[str, Location | None]] = []
    for key, below in tree.below.items():
        if not isinstance(below, Branch):
            found.append((f"{indent}{key}: {below[0]}", below[1]))
        elif below.below:
            found += [(f"{indent}{key}:", None), *lines_of(below, f"{indent}  ")]
        else:
            found.append((f"{indent}{key}: {{}}", None))
    return found


def path_of(one: Saying) -> tuple[str, ...]:
    """The keys above the one that says it."""
    target = one.target
    if target.kind == "component":
        return ("duty",) if target.key in _DUTIES else ()
    if target.kind == "mark":
        return ("surfaces", target.face, "marks", target.thing)
    return (f"{target.kind}s", target.thing)


def _turn(one: Saying, vocabulary: Vocabulary) -> tuple[object, ...]:
    """Plain keys first, then facts in the order of the vocabulary, then things; notes last."""
    kinds = ("component", "surface", "mark", "repair", "defect")
    target = one.target
    terms = [term.short for term in vocabulary.of(target.kind, Giver.PERSON)]
    plain = [key for key in PLAIN[target.kind] if key not in ("note", "says", "mate")]
    order = [*plain, *terms, "mate", "surfaces", "marks", "repairs", "defects", "says", "note"]
    return kinds.index(target.kind), target.face, target.thing, order.index(target.key)


def _put(tree: Branch, one: Saying) -> None:
    branch, key = tree.at(*path_of(one)), one.target.key
    if one.target.lists and one.values:
        for name in one.values:
            branch.at(key, str(name))
    elif one.target.lists:
        branch.below.setdefault(key, ("none", one.where))
    else:
        branch.below[_DUTIES.get(key, key)] = (value_text(one), one.where)


def value_text(one: Saying) -> str:
    """What stands after a key: short, or long where it is known who found it out, when or with what."""
    term = one.target.term
    if term is None:
        return scalar(one.text)
    said = scalar(one.text)
    if term.many:
        said = f"[{', '.join(map(str, one.values))}]" if one.values else "none"
    more = {"instrument": one.instrument, "by": one.by, "date": one.on.isoformat() if one.on else ""}
    known = [f"{name}: {scalar(text)}" for name, text in more.items() if text]
    if not known or one.target.key in _DUTIES:
        return said
    return f"{{{', '.join([f'value: {said}', *known])}}}"


# ---- a survey sheet --------------------------------------------------------------------------------------


def survey_sheet(name: str, said: Iterable[Saying], into: Problems) -> Text:
    """A sheet with a row for each fact; note a fact without a day, which no sheet may hold."""
    written = io.StringIO()
    sheet = csv.DictWriter(written, COLUMNS, restval="", lineterminator="\n")
    sheet.writeheader()
    lines: dict[int, Location] = {}
    for number, one in enumerate(said, 2):
        if one.on is None:
            hint = "say 'date:' or 'date_column:' in the mapping, or --on DATE"
            into.note(one.where, NO_DAY, "it is not said on which day this was found", hint)
            continue
        sheet.writerow({**_cells(one), "date": one.on.isoformat(), "by": one.by, "note": f"from {_source(one.where)}"})
        lines[number] = one.where
    return Text(f"surveys/{name}.csv", written.getvalue(), lines)


def _source(where: Location) -> str:
    place = where.at if where.at.startswith("sheet") else f"line {where.line}"
    return f"{where.file.rpartition('/')[2]}, {place}"


def _cells(one: Saying) -> dict[str, str]:
    target = one.target
    where = {"component": "", "surface": target.thing}.get(target.kind, f"{target.kind}s/{target.thing}")
    term = target.term.name if target.term else target.key
    cells = {"component": one.component, "where": where, "term": term, "instrument": one.instrument}
    if target.term is None or target.term.kind is not Kind.QUANTITY:
        return {**cells, "answer": "; ".join(map(str, one.values)) or "none"}
    number = parse_quantity(one.text, target.term.unit, target.term.exact)
    amount, spread = plain_number(number)
    stated = number.uncertainty is not None and not (target.term.exact and number.uncertainty == 0)
    return {**cells, "answer": amount, "plus_minus": spread if stated else "", "unit": number.unit}
