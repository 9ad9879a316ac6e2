"""Whether a decision was made, and sealed, before its work began."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from conserve.audit.given import Given
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.casebook import Proposal
from conserve.casebook.model import Event
from conserve.truth import Truth

_WORKS = ("altered", "damaged", "repaired", "taken-off", "done-against-advice")  # kinds of event that are work


def before_work(asked: Proposal, given: Given) -> tuple[Answer, tuple[Point, ...]]:
    """The answer about the order of decision, seal and work, and each point of it."""
    began = began_on(asked, given)
    if began is None and (known := _year_of(asked, given)):
        year, where = known
        says = (
            f"Work under it is told of {year} alone, so that nobody can tell whether it was decided and sealed first."
        )
        return Answer(Asked.BEFORE_WORK, Truth.UNKNOWN, says), (Point(Kind.CANNOT_TELL, says, asked.id, where),)
    if began is None:
        return Answer(Asked.BEFORE_WORK, None, "The work has not begun."), ()
    if asked.kind != "intervention" and asked.decision is None:
        return Answer(Asked.BEFORE_WORK, None, "It is care under the policy, which nobody decides case by case."), ()
    day, where = began
    points = tuple(_late(asked, day, where, given))
    if points:
        return Answer(Asked.BEFORE_WORK, Truth.NO, " ".join(point.says for point in points)), points
    entries = given.of(asked.id)
    if not entries:
        says = f"It was decided before the work began on {day}; it was never sealed, so that nobody can show when."
        return Answer(Asked.BEFORE_WORK, Truth.UNKNOWN, says), ()
    says = f"It was decided and sealed (entry {entries[0].entry.sequence}) by the day on which the work began, {day}."
    return Answer(Asked.BEFORE_WORK, Truth.YES, says), ()


def began_on(asked: Proposal, given: Given) -> tuple[date, str] | None:
    """The first day of its work and where that is written: as the proposal says, or as a part's history does."""
    days = [(event.on, given.where(event.where)) for event in _works(asked, given) if not event.year_only]
    if asked.work and (began := asked.work.began or asked.work.finished):
        days.append((began, given.where(asked.where)))
    return min(days, default=None)


def _year_of(asked: Proposal, given: Given) -> tuple[int, str] | None:
    """The first year of which work under it is told without a day, and where that is written."""
    years = ((event.on.year, given.where(event.where)) for event in _works(asked, given) if event.year_only)
    return min(years, default=None)


def _works(asked: Proposal, given: Given) -> Iterator[Event]:
    """The events that are work under a proposal."""
    for name in asked.components:
        for event in given.casebook.components[name].history or ():
            if event.under == asked.id and event.kind in _WORKS:
                yield event


def _late(asked: Proposal, began: date, where: str, given: Given) -> Iterator[Point]:
    decision, entries = asked.decision, given.of(asked.id)
    if decision is None:
        says = f"The work began on {began}, and nobody has decided it yet."
        yield Point(Kind.DECIDED_LATE, says, asked.id, where)
    elif decision.on > began:
        says = f"The work began on {began}, and it was decided only on {decision.on}."
        yield Point(Kind.DECIDED_LATE, says, asked.id, where)
    if entries and (sealed := entries[0].day) > began:
        number = entries[0].entry.sequence
        says = f"The work began on {began}, and its decision was sealed only on {sealed} (entry {number})."
        yield Point(Kind.SEALED_LATE, says, asked.id, where)
