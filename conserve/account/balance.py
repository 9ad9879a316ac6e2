"""How much of one part's fabric is in place, in store and lost, at each point of what happened to it.

For each fabric and each measure, what was made or added is what is in place, in store and lost together, at every
date. The file tells the part as it is after its history: what it was before is that with all that went since.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple

from conserve.account.before import Step
from conserve.account.happening import ZERO, Added, Amounts, Happening
from conserve.account.held import UNITS, Column, Effect, Held, Where, held_after, where_now
from conserve.account.metal import NO_MASS, total
from conserve.account.why import Why
from conserve.casebook import Component
from conserve.casebook.agreeing import quantity_of, word_of
from conserve.quantity import EXACT, ONE, Quantity
from conserve.terms import Vocabulary

WHOLE = Quantity(Decimal(100), EXACT, "%")
UNTOUCHED = Effect(Where.PLACE, frozenset(), frozenset(), NO_MASS)


class Fabric(NamedTuple):
    """What is counted together: what the parts of a phase were made with, or what was added in it to parts."""

    phase: str  # "": none is written
    added: bool = False


@dataclass(frozen=True, slots=True)
class Balance:
    """One measure of one fabric at one time. `untouched`: all of it is in place, however much it may be."""

    column: Column
    lossless: bool  # none of it is lost, however much it may be
    untouched: bool

    @property
    def made(self) -> Quantity | None:
        return self.column.made

    @property
    def in_place(self) -> Quantity | None:
        return self.column.left

    @property
    def in_store(self) -> Quantity | None:
        return self.column.stored

    @property
    def lost(self) -> Quantity | None:
        return total((self.column.before, self.column.taken), UNITS[self.column.name])

    @property
    def told(self) -> bool:
        """Whether every amount of it is known."""
        return None not in (self.made, self.in_place, self.in_store, self.lost)

    @property
    def share(self) -> Quantity | None:
        """The share of what was made or added that is in place, in %; None also where there was nothing."""
        made = self.made
        if self.untouched:
            return None if made is not None and not made.amount else WHOLE
        return self.column.share


Balances = Mapping[Fabric, tuple[Balance, ...]]  # in the order of UNITS


@dataclass(slots=True)
class State:
    """A part at one point of its history."""

    part: Component
    steps: tuple[Step, ...] | None  # of its whole history, in their order
    where: Where | None = None  # None: it has not joined yet
    done: int = 0  # how many of the steps are done
    effect: Effect = UNTOUCHED
    added: tuple[Added, ...] = ()
    held: Held | None = None  # as the file and the effect leave it in place: worked out once for each effect

    def left(self, vocabulary: Vocabulary) -> Held:
        """The part as its file and the effect leave it, wherever it is."""
        self.held = self.held or held_after(self.part, vocabulary, self.effect)
        return self.held

    def after(self, one: Happening) -> None:
        """Go on to what stands after one more thing has happened."""
        if one.joined:
            self.where = Where.PLACE
        if one.step is not None:
            self.done += 1
        if one.effect is not None:
            self.effect, self.held = _both(self.effect, one.effect), None
        if one.to is not None:
            self.where = Where.MISSING if one.to is Where.GONE else one.to
        if one.to is Where.PLACE or any(added.beside for added in one.added):
            self.added = tuple(replace(each, made_room=each.beside) for each in self.added)
        self.added = (*self.added, *one.added)


def _both(one: Effect, other: Effect) -> Effect:
    cut = total((one.cut, other.cut), "kg")
    return Effect(Where.PLACE, one.lost | other.lost, one.unsure | other.unsure, cut)


def balances_of(state: State, vocabulary: Vocabulary) -> dict[Fabric, tuple[Balance, ...]]:
    """The balance of every fabric of a part, measure by measure."""
    if state.where is None:
        return {}
    held = state.left(vocabulary)
    taken = None if state.steps is None else amounts_taken(state.part, state.steps)
    own = tuple(_own(held, name, taken, state) for name in UNITS)
    found = {Fabric(state.part.phase): own}
    for phase in sorted({one.phase for one in state.added}):
        these = [one for one in state.added if one.phase == phase]
        found[Fabric(phase, added=True)] = tuple(_of_added(these, name, state.where) for name in UNITS)
    return found


def whole_of(state: State, vocabulary: Vocabulary) -> dict[Fabric, Amounts]:
    """How much there is of a part, and of what was added to it, wherever it is."""
    there = replace(state, where=Where.PLACE, added=tuple(one for one in state.added if not one.beside))
    return {f: {b.column.name: b.in_place for b in found} for f, found in balances_of(there, vocabulary).items()}


def amounts_taken(part: Component, steps: Iterable[Step]) -> list[Amounts]:
    """What each step took, measure by measure. A face or a mark that has gone before goes once."""
    found: list[Amounts] = []
    faces: set[str] = set()
    marks: set[str] = set()
    for step in steps:
        new_faces = None if step.surfaces is None else set(step.surfaces) - faces
        new_marks = None if step.marks is None else set(step.marks) - marks
        faces |= new_faces or set()
        marks |= new_marks or set()
        found.append(
            {
                "parts": ZERO["parts"],
                "marks": None if new_marks is None else Quantity(Decimal(len(new_marks)), EXACT, ONE),
                "surface": None if new_faces is None else _area(part, new_faces),
                "metal": step.metal,
            }
        )
    return found


def _area(part: Component, faces: set[str]) -> Quantity | None:
    found = (part.thing("surface", name) for name in sorted(faces))
    return total((quantity_of(face.facts, "surface.area") if face else None for face in found), "cm2")


def _own(held: Held, name: str, taken: list[Amounts] | None, state: State) -> Balance:
    """What a part was made with."""
    column = held.column(name)
    if state.where is Where.NOT_SAID or (taken is None and name != "parts"):
        return Balance(_nothing_told(name, state, column.why), lossless=False, untouched=False)
    done = [step[name] for step in (taken or ())[: state.done]]
    later = [step[name] for step in (taken or ())[state.done :]]
    before, to_go = total(done, UNITS[name]), total(later, UNITS[name])
    if name == "surface" and before is None:  # which faces are left, nobody can tell
        column = replace(column, stays=None)
    stays = _possible(total((column.stays, to_go), UNITS[name]))
    if name == "metal" and _loss_unwritten(state.part, taken or []):
        stays, done = None, [None]
    column = replace(column, stays=stays, stored=ZERO[name], before=before)
    if stays is not None and _possible(column.left) is None:  # more is cut than there is
        column = replace(column, cut=None)
    nothing = all(amount is not None and not amount.amount for amount in (*done, column.cut, column.gone))
    lossless = nothing and state.where is not Where.MISSING
    return Balance(_placed(column, state.where), lossless, untouched=lossless and state.where is Where.PLACE)


def _nothing_told(name: str, state: State, why: tuple[Why, ...]) -> Column:
    """A measure of which nothing can be told, and why."""
    if state.where is Where.NOT_SAID:
        why = (Why.PRESENCE if where_now(state.part) is Where.NOT_SAID else Why.WHEN,)
    return Column(name, None, None, None, None, None, why)


def _possible(amount: Quantity | None) -> Quantity | None:
    """An amount that can be: less than nothing is a slip in what is written, and so nobody can say how much it is."""
    return amount if amount is not None and amount.amount >= 0 else None


def _loss_unwritten(part: Component, taken: list[Amounts]) -> bool:
    """Whether metal is said to have gone before, and no event says how much."""
    if word_of(part.facts, "component.lost_before") != "yes":
        return False
    return all(step["metal"] is not None and not step["metal"].amount for step in taken)


def _placed(column: Column, where: Where | None) -> Column:
    """A column of what is in place, for a part that is somewhere else."""
    if where is Where.PLACE:
        return column
    none, unit = ZERO[column.name], UNITS[column.name]
    if where is Where.STORE:
        return replace(column, stays=none, cut=none, stored=column.left, gone=column.taken)
    before = total((column.before, column.gone, column.stays), unit)
    return replace(column, stays=none, cut=none, gone=none, before=before)


def _of_added(these: list[Added], name: str, where: Where | None) -> Balance:
    """What was added goes with the part, but for what stands in its place.

    Of what stood there and made room, and so of all that was added in its phase, nothing can be told any more.
    """
    with_part = total((one.amounts[name] for one in these if not one.beside), UNITS[name])
    beside = total((one.amounts[name] for one in these if one.beside), UNITS[name])
    none = ZERO[name]
    moves = where is not Where.PLACE and with_part is not None and with_part.amount != 0
    if any(one.made_room for one in these) or (where is Where.NOT_SAID and (with_part is None or moves)):
        return Balance(Column(name, None, None, None, None, None), lossless=False, untouched=False)
    goes = with_part if where is not Where.PLACE else none
    column = Column(
        name,
        stays=beside if where is not Where.PLACE else total((beside, with_part), UNITS[name]),
        cut=none,
        gone=none,
        stored=goes if where is Where.STORE else none,
        before=goes if where is Where.MISSING else none,
    )
    return Balance(column, where is not Where.MISSING, untouched=where is Where.PLACE or with_part == none)
