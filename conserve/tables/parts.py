"""The components of a casebook as sheets: what is known of each part, and of every thing on it.

The headings are paths, so that a sheet is read back as it is. An empty cell is what nobody has written. A fact that is
told in several ways has an empty cell too, and stands among the remarks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from conserve.casebook import Casebook, Component, Facts, Thing
from conserve.casebook.agreeing import agreed
from conserve.casebook.model import Stated, Values
from conserve.quantity import Quantity
from conserve.tables.cells import Sheet
from conserve.tables.layout import ID, LISTS, PLAIN
from conserve.tables.numbers import written
from conserve.terms import Giver, Term, Vocabulary

_SHEETS = ("surfaces", "marks", "repairs", "defects")


def component_sheets(casebook: Casebook, vocabulary: Vocabulary) -> tuple[Sheet, ...]:
    """The components, one a row; then their surfaces, marks, repairs and defects. Columns that all leave empty go."""
    return (_components(casebook, vocabulary), *(_things(name, casebook, vocabulary) for name in _SHEETS))


# ---- components ------------------------------------------------------------------------------------------


def _components(casebook: Casebook, vocabulary: Vocabulary) -> Sheet:
    terms = _terms("component", vocabulary)
    plain = PLAIN["component"]
    head = (
        ID, *(f"component.{key}" for key in plain[:-2]), "condition", "kept at",
        *(f"component.{term.short}" for term in terms), *(f"component.{name}" for name in LISTS),
        *(f"component.{key}" for key in plain[-2:]), "remarks",
    )  # fmt: skip
    rows = (
        (
            part.id, *(getattr(part, key) for key in plain[:-2]), _condition(part), _kept(part),
            *(_cell(part.facts, term) for term in terms),
            *(_listed(things) for things in (part.surfaces, part.repairs, part.defects)),
            *(getattr(part, key) for key in plain[-2:]), _remarks(part.facts, terms),
        )
        for part in casebook.components.values()
    )  # fmt: skip
    return _without_empty(Sheet("Components", head, tuple(rows)), (ID, "component.name"))


def _condition(part: Component) -> str:
    """What is wrong with a part, in a line; "none found" where somebody has looked."""
    if part.defects is None:
        return ""
    told = []
    for defect in part.defects:
        active = agreed(defect.facts.get("defect.active", ())).values
        more = {"yes": " (active)", "no": " (not active)"}.get(str(active[0]) if active else "", "")
        told.append(f"{defect.name}{more}")
    return "; ".join(told) or "none found"


def _kept(part: Component) -> str:
    """Where a part is while it is off the object."""
    return f"{part.stored.place}{f', tag {part.stored.tag}' if part.stored.tag else ''}" if part.stored else ""


# ---- things on them --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Place:
    """How the things of one sort are headed."""

    kind: str
    path: str
    ids: tuple[str, ...]
    things: Callable[[Component], Iterable[tuple[tuple[str, ...], Thing]]]


def _faces(part: Component) -> Iterator[tuple[tuple[str, ...], Thing]]:
    return (((face.id,), face) for face in part.surfaces or ())


def _marks(part: Component) -> Iterator[tuple[tuple[str, ...], Thing]]:
    return (((face.id, mark.id), mark) for face in part.surfaces or () for mark in face.marks or ())


_PLACES: Mapping[str, _Place] = {
    "surfaces": _Place("surface", "surfaces.{surface}", ("surface",), _faces),
    "marks": _Place("mark", "surfaces.{surface}.marks.{mark}", ("surface", "mark"), _marks),
    "repairs": _Place("repair", "repairs.{repair}", ("repair",), lambda p: (((t.id,), t) for t in p.repairs or ())),
    "defects": _Place("defect", "defects.{defect}", ("defect",), lambda p: (((t.id,), t) for t in p.defects or ())),
}


def _things(name: str, casebook: Casebook, vocabulary: Vocabulary) -> Sheet:
    place = _PLACES[name]
    terms = _terms(place.kind, vocabulary)
    plain = PLAIN[place.kind]
    of_face = place.kind == "surface"
    keys = ("name", *(term.short for term in terms), *(("marks",) if of_face else ()), *plain[1:])
    head = (ID, *place.ids, *(f"{place.path}.{key}" for key in keys), "remarks")
    rows = (
        (
            part.id, *ids, thing.name, *(_cell(thing.facts, term) for term in terms),
            *((_listed(thing.marks),) if of_face else ()), *(getattr(thing, key) for key in plain[1:]),
            _remarks(thing.facts, terms),
        )
        for part in casebook.components.values()
        for ids, thing in place.things(part)
    )  # fmt: skip
    return _without_empty(Sheet(name.capitalize(), head, tuple(rows)), (ID, *place.ids, f"{place.path}.name"))


# ---- cells -----------------------------------------------------------------------------------------------


def _terms(kind: str, vocabulary: Vocabulary) -> tuple[Term, ...]:
    return tuple(term for term in vocabulary.of(kind, Giver.PERSON) if not term.stated_by)


def _cell(facts: Facts, term: Term) -> str:
    """What is known of a fact; "" where it is not, or is told in several ways."""
    stated = facts.get(term.name, ())
    return _told(stated[0].values) if stated and len(_ways(stated)) == 1 else ""


def _ways(stated: tuple[Stated, ...]) -> tuple[str, ...]:
    """The different things that statements say; the last of those that only differ in where they were taken."""
    return tuple(dict.fromkeys(_told(one.values) for one in stated))


def _told(values: Values) -> str:
    return "; ".join(written(one) if isinstance(one, Quantity) else str(one) for one in values) or "none"


def _listed(things: tuple[Thing, ...] | None) -> str:
    return "" if things is None else "; ".join(thing.id for thing in things) or "none"


def _remarks(facts: Facts, terms: tuple[Term, ...]) -> str:
    """The facts that are told in several ways, with each."""
    several = ((term, _ways(facts.get(term.name, ()))) for term in terms)
    said = (f"{term.short.replace('_', ' ')} is told as {', '.join(ways)}" for term, ways in several if len(ways) > 1)
    return "; ".join(said)


def _without_empty(sheet: Sheet, kept: tuple[str, ...]) -> Sheet:
    """A sheet without the columns in which nothing stands."""
    full = [at for at, name in enumerate(sheet.head) if name in kept or any(row[at] for row in sheet.rows)]
    return Sheet(
        sheet.name, tuple(sheet.head[at] for at in full), tuple(tuple(row[at] for at in full) for row in sheet.rows)
    )
