"""What was taken from a part before today, and added to it, as its history tells. Silence is unknown."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from conserve.account.metal import density_of, total
from conserve.account.why import Why
from conserve.calculation import fabric
from conserve.casebook import Component
from conserve.casebook.model import Change, Event
from conserve.problem import Location
from conserve.quantity import EXACT, Quantity
from conserve.terms import Vocabulary

# Events that take or add something unless somebody has written that they did not. An event of no kind may have.
TAKING = ("altered", "damaged", "repaired", "done-against-advice", "")
ADDING = ("altered", "repaired", "done-against-advice", "")
TAKEN_OFF = "taken-off"  # what such an event adds stands in the part's place, and is not on it
NO_CHANGE = Change(Quantity(EXACT, EXACT, "kg"), None, (), (), Location(""))


@dataclass(frozen=True, slots=True)
class Before:
    """What a part has lost and gained up to today. None: it cannot be told, for the reasons beside it."""

    metal: Quantity | None
    added: Quantity | None  # to the part itself
    surfaces: frozenset[str] | None
    marks: frozenset[str] | None
    why_metal: tuple[Why, ...]
    why_surfaces: tuple[Why, ...]
    why_marks: tuple[Why, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """What one event took and added. None: it must have, or may have, and nobody has written how much."""

    event: Event
    metal: Quantity | None
    surfaces: tuple[str, ...] | None
    marks: tuple[str, ...] | None
    added: Quantity | None


def before_of(part: Component, vocabulary: Vocabulary) -> Before:
    """Read a part's history for what it took and added."""
    untold = _silent(part)
    if untold is not None:
        return Before(None, None, None, None, (untold,), (untold,), (untold,))
    steps = steps_of(part, vocabulary) or ()
    metal = total((step.metal for step in steps), "kg")
    added = total((step.added for step in steps if step.event.kind != TAKEN_OFF), "kg")
    faces, marks = [step.surfaces for step in steps], [step.marks for step in steps]
    return Before(
        metal,
        added,
        _all(faces),
        _all(marks),
        why_metal=((Why.TOOK,) if metal is None else ()) + ((Why.ADDED,) if added is None else ()),
        why_surfaces=() if None not in faces else (Why.TOOK,),
        why_marks=() if None not in marks else (Why.TOOK,),
    )


def steps_of(part: Component, vocabulary: Vocabulary) -> tuple[Step, ...] | None:
    """What each event that took or added something, took and added; None where the history does not tell that."""
    if _silent(part) is not None:
        return None
    return tuple(step for step in map(partial(_step, part, vocabulary), part.history or ()) if step)


def _silent(part: Component) -> Why | None:
    """Why a part's history says nothing of what was taken from it and added to it."""
    if part.history is None:
        return Why.HISTORY
    told = any(e.took and e.added for e in part.history if e.kind in ("repaired", "altered", ""))
    return Why.REPAIR if part.repairs and not told else None


def _step(part: Component, vocabulary: Vocabulary, event: Event) -> Step | None:
    """What an event took and added; None where it took and added nothing."""
    takes = event.took is not None or event.kind in TAKING
    adds = event.added is not None or event.kind in ADDING
    if not takes and not adds:
        return None
    took = event.took if takes else NO_CHANGE
    return Step(
        event,
        _mass(took, part, vocabulary),
        took.surfaces if took else None,
        took.marks if took else None,
        _mass(event.added if adds else NO_CHANGE, part, vocabulary),
    )


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
