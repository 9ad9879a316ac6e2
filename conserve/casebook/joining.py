"""What stands in tables, joined to what the casebook's other files say of the same thing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from conserve.casebook.model import Component, Facts, Stated, Thing
from conserve.problem import Location

Things = tuple[Thing, ...] | None


def joined(facts: Facts, term: str, statements: tuple[Stated, ...]) -> Facts:
    """Facts with statements of one term after those that they have of it."""
    return {**facts, term: (*facts.get(term, ()), *statements)}


def with_statements(part: Component, kind: str, name: str, term: str, statements: tuple[Stated, ...]) -> Component:
    """Add statements to those that a component has of one term; of itself, or of a thing on it by its kind and id."""
    if kind == "component":
        return replace(part, facts=joined(part.facts, term, statements))
    return _changed(part, kind, name, lambda thing: replace(thing, facts=joined(thing.facts, term, statements)))


def with_none(part: Component, face: str, name: str, where: Location) -> Component:
    """Close a list that nobody has written of a component, or the marks of one of its faces: there is none."""
    if face:
        return _changed(part, "surface", face, lambda s: replace(s, marks=(), places=_placed(s.places, name, where)))
    closed = replace(part, places=_placed(part.places, name, where))
    if name == "surfaces":
        return replace(closed, surfaces=())
    return replace(closed, repairs=()) if name == "repairs" else replace(closed, defects=())


def _placed(places: Mapping[str, Location], name: str, where: Location) -> dict[str, Location]:
    return {**places, name: where}


def _changed(part: Component, kind: str, name: str, change: Callable[[Thing], Thing]) -> Component:
    def among(things: Things) -> Things:
        return things and tuple(change(thing) if thing.id == name else thing for thing in things)

    if kind == "surface":
        return replace(part, surfaces=among(part.surfaces))
    if kind == "mark":
        return replace(part, surfaces=tuple(replace(s, marks=among(s.marks)) for s in part.surfaces or ()))
    if kind == "repair":
        return replace(part, repairs=among(part.repairs))
    return replace(part, defects=among(part.defects))
