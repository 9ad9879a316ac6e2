"""What was taken from a part before today, and added to it, as its history tells. Silence is unknown."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from conserve.account.metal import density_of, total
from conserve.account.why import Why
from conserve.calculation import fabric
from conserve.casebook import Component
from conserve.casebook.model import Change, Event
from conserve.quantity import Quantity
from conserve.terms import Vocabulary

# Events that take or add something unless somebody has written that they did not. An event of no kind may have.
_TAKING = ("altered", "damaged", "repaired", "done-against-advice", "")
_ADDING = ("altered", "repaired", "done-against-advice", "")


@dataclass(frozen=True, slots=True)
class Before:
    """What a part has lost and gained up to today. None: it cannot be told, for the reasons beside it."""

    metal: Quantity | None
    added: Quantity | None
    surfaces: frozenset[str] | None
    marks: frozenset[str] | None
    why_metal: tuple[Why, ...]
    why_surfaces: tuple[Why, ...]
    why_marks: tuple[Why, ...]


def before_of(part: Component, vocabulary: Vocabulary) -> Before:
    """Read a part's history for what it took and added."""
    if part.history is None:
        return _untold(Why.HISTORY)
    if part.repairs and not any(e.took and e.added for e in part.history if e.kind in ("repaired", "altered", "")):
        return _untold(Why.REPAIR)
    took = tuple(_changes(part, "took"))
    metal = total((_mass(change, part, vocabulary) for change in took), "kg")
    added = total((_mass(change, part, vocabulary) for change in _changes(part, "added")), "kg")
    faces = [change.surfaces if change else None for change in took]
    marks = [change.marks if change else None for change in took]
    return Before(
        metal,
        added,
        _all(faces),
        _all(marks),
        why_metal=((Why.TOOK,) if metal is None else ()) + ((Why.ADDED,) if added is None else ()),
        why_surfaces=() if None not in faces else (Why.TOOK,),
        why_marks=() if None not in marks else (Why.TOOK,),
    )


def _untold(why: Why) -> Before:
    return Before(None, None, None, None, (why,), (why,), (why,))


def _changes(part: Component, kind: str) -> Iterator[Change | None]:
    """What each event took or added; None for one that must have, or may have, and does not say."""
    counting = _TAKING if kind == "took" else _ADDING
    for event in part.history or ():
        change = _of(event, kind)
        if change is not None or event.kind in counting:
            yield change


def _of(event: Event, kind: str) -> Change | None:
    return event.took if kind == "took" else event.added


def _mass(change: Change | None, part: Component, vocabulary: Vocabulary) -> Quantity | None:
    if change is None or change.mass is not None:
        return change.mass if change else None
    density = density_of(part, vocabulary)
    return fabric.mass(change.volume, density) if change.volume and density else None


def _all(lists: list[tuple[str, ...] | None]) -> frozenset[str] | None:
    names: set[str] = set()
    for one in lists:
        if one is None:
            return None
        names.update(one)
    return frozenset(names)
