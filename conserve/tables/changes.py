"""What a table would change in a casebook: what is new, what it tells otherwise than is written, what stays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from conserve.casebook import Casebook, Component, Stated, Thing
from conserve.casebook.model import Values
from conserve.problem import Location
from conserve.quantity import Quantity
from conserve.shape import Problems
from conserve.tables.layout import NO_FIT
from conserve.tables.numbers import written
from conserve.tables.saying import Saying

TWICE, OTHERWISE = 99, 100  # the problems' numbers: told twice; told otherwise than is written


@dataclass(frozen=True, slots=True)
class Changed:
    """Something that is written already, and told otherwise."""

    saying: Saying
    was: str
    at: Location
    beside: bool = False  # whether it may stand beside what is written, as one statement more


@dataclass(frozen=True, slots=True)
class Changes:
    """What taking a table in comes to."""

    parts: Mapping[str, tuple[Saying, ...]]  # new components, and all that is said of them
    facts: tuple[Saying, ...]  # new facts about what is there: a survey sheet holds them
    lines: tuple[Saying, ...]  # new things, and what no sheet can hold: new lines in a component's file
    changed: tuple[Changed, ...]
    unchanged: int


def changes_of(found: Iterable[Saying], casebook: Casebook, into: Problems) -> Changes:
    """Hold what a table says against a casebook, or note what cannot go together. The order of rows does not matter."""
    said = _once(found, into)
    new: dict[str, list[Saying]] = {}
    facts: list[Saying] = []
    lines: list[Saying] = []
    changed: list[Changed] = []
    same = 0
    for one in said:
        part = casebook.components.get(one.component)
        if part is None:
            new.setdefault(one.component, []).append(one)
            continue
        thing = _thing(one, part)
        clash = _closed(one, part) or _written(one, part, thing)
        if clash:
            changed.append(clash)
        elif _is_there(one, part, thing):
            same += 1
        else:
            (facts if _fits_a_sheet(one, thing) else lines).append(one)
    _check_closed(said, into)
    for name, about in new.items():
        _check_new(name, about, casebook, into)
    parts = {name: tuple(about) for name, about in sorted(new.items())}
    return Changes(parts, tuple(facts), tuple(lines), tuple(changed), same)


def with_added(found: Changes) -> Changes:
    """The same, with each fact that is told otherwise put beside what is written, where a survey sheet can hold it."""
    beside = tuple(one.saying for one in found.changed if one.beside)
    left = tuple(one for one in found.changed if not one.beside)
    return replace(found, facts=(*found.facts, *beside), changed=left)


def note_changed(found: Changes, into: Problems) -> None:
    """Note each thing that is told otherwise than is written, with both places."""
    for one in found.changed:
        message = f"says '{one.saying.text}'; {one.at} says '{one.was}'"
        hint = "correct one of the two; or say --changed keep, or --changed add"
        into.note(one.saying.where, OTHERWISE, message, hint)


def _once(found: Iterable[Saying], into: Problems) -> list[Saying]:
    """Each thing that is said, once and in order; note what is said in two ways."""
    kept: dict[tuple[str, ...], Saying] = {}
    for one in sorted(found, key=lambda one: (one.about, one.where)):
        first = kept.setdefault(one.about, one)
        if not _same(first.values, one.values) and not one.target.lists:
            message = f"says '{one.text}'; {_place(first.where)} says '{first.text}' of the same"
            into.note(one.where, TWICE, message, "keep one of them")
        elif one.target.lists and first is not one:
            if bool(first.values) != bool(one.values):
                message = f"says '{one.text}'; {_place(first.where)} says '{first.text}'"
                into.note(one.where, TWICE, message, "keep one of them")
            kept[one.about] = replace(first, values=tuple(dict.fromkeys((*first.values, *one.values))))
    return list(kept.values())


def _place(where: Location) -> str:
    return where.at if where.at.startswith("sheet") else f"line {where.line}"


def _same(one: Values, other: Values) -> bool:
    """Whether two answers are the same: words in any order, numbers in any unit."""
    if [v for v in (*one, *other) if isinstance(v, Quantity)]:
        return list(map(_told, one)) == list(map(_told, other)) or list(map(_base, one)) == list(map(_base, other))
    return set(one) == set(other)


def _told(value: object) -> str:
    return written(value) if isinstance(value, Quantity) else str(value)


def _base(value: object) -> object:
    if not isinstance(value, Quantity):
        return value
    base = value.to_base()
    return base.amount, base.uncertainty, base.unit


# ---- what is written -------------------------------------------------------------------------------------


def _thing(one: Saying, part: Component) -> Thing | None:
    """The thing on a component that a saying is about; None where there is none, or it is about the component."""
    target = one.target
    if target.kind == "component":
        return None
    if target.kind != "mark":
        return part.thing(target.kind, target.thing)
    face = part.thing("surface", target.face)
    return next((mark for mark in (face.marks or () if face else ()) if mark.id == target.thing), None)


def _list_of(one: Saying, part: Component) -> tuple[tuple[Thing, ...] | None, Location]:
    """The list that a saying is of, or that its thing stands in, and where that is written."""
    target = one.target
    if target.key == "marks" or target.kind == "mark":
        face = part.thing("surface", target.face or target.thing)
        return (face.marks, face.places.get("marks", face.where)) if face else (None, part.where)
    name = target.key if target.lists else f"{target.kind}s"
    things = {"surfaces": part.surfaces, "repairs": part.repairs, "defects": part.defects}.get(name)
    return things, part.places.get(name, part.where)


def _closed(one: Saying, part: Component) -> Changed | None:
    """What a closed list says against a thing on it, or a list with things in it against its being closed."""
    if one.target.kind == "component" and not one.target.lists:
        return None
    things, where = _list_of(one, part)
    if things is None:
        return None
    if one.target.lists:
        if bool(things) == bool(one.values):
            return None
        return Changed(one, "; ".join(thing.id for thing in things) or "none", where)
    return None if things else Changed(one, "none", where)


def _written(one: Saying, part: Component, thing: Thing | None) -> Changed | None:
    """What is written of the same, where it is otherwise."""
    if one.target.lists:
        return None
    if one.target.term is None:
        was, where = _plain(one, part, thing)
        return Changed(one, was, where) if was and was != one.values[0] else None
    stated = _stated(one, part, thing)
    if not stated or any(_same(other.values, one.values) for other in stated):
        return None
    told = dict.fromkeys("; ".join(map(_told, other.values)) or "none" for other in stated)
    return Changed(one, " and ".join(told), stated[0].where, beside=True)


def _is_there(one: Saying, part: Component, thing: Thing | None) -> bool:
    """Whether what is said is written already; what is written otherwise has been told before."""
    if one.target.lists:
        things, _ = _list_of(one, part)
        return things is not None and {str(name) for name in one.values} <= {each.id for each in things}
    if one.target.term is None:
        return bool(_plain(one, part, thing)[0])
    return bool(_stated(one, part, thing))


def _plain(one: Saying, part: Component, thing: Thing | None) -> tuple[str, Location]:
    key = one.target.key
    if one.target.kind == "component":
        return str(getattr(part, key)), part.places.get(key, part.where)
    return (str(getattr(thing, key)), thing.places.get(key, thing.where)) if thing else ("", part.where)


def _stated(one: Saying, part: Component, thing: Thing | None) -> tuple[Stated, ...]:
    assert one.target.term is not None
    facts = part.facts if one.target.kind == "component" else thing.facts if thing else {}
    return facts.get(one.target.term.name, ())


def _fits_a_sheet(one: Saying, thing: Thing | None) -> bool:
    """Whether a row of a survey sheet can say it: a fact of what is there, or that a list is closed."""
    if one.target.lists:
        return not one.values and (one.target.kind == "component" or thing is not None)
    return one.target.term is not None and (one.target.kind == "component" or thing is not None)


def _check_new(name: str, about: list[Saying], casebook: Casebook, into: Problems) -> None:
    """A new component needs a name: so that a slip in an id makes no component."""
    from conserve.problem import nearest

    if not any(one.target.kind == "component" and one.target.key == "name" for one in about):
        like = nearest(name, casebook.components)
        hint = f"did you mean '{like}'? A new one needs a column for component.name" if like else (
            "a new one needs a column for component.name; a row about no component, such as a total, is to be deleted"
        )  # fmt: skip
        into.note(about[0].where, NO_FIT, f"there is no component '{name}', and this gives it no name", hint)


def _check_closed(said: Iterable[Saying], into: Problems) -> None:
    """Note a thing that a table tells of where it says too that there is none."""
    said = tuple(said)
    closed = {
        (one.component, one.target.thing, one.target.key): one for one in said if one.target.lists and not one.values
    }
    for one in said:
        for face, name in _lists_around(one):
            other = closed.get((one.component, face, name))
            if other is not None:
                message = f"tells of a {one.target.kind}; {_place(other.where)} says that there is none"
                into.note(one.where, TWICE, message, "keep one of them")


def _lists_around(one: Saying) -> tuple[tuple[str, str], ...]:
    """The lists in which the thing that a saying is about would stand."""
    if one.target.kind == "mark":
        return ((one.target.face, "marks"), ("", "surfaces"))
    return () if one.target.kind == "component" else (("", f"{one.target.kind}s"),)
