"""How much of a part is left: as made = in place + in store + taken, by this option and before it.

Never one score. Metal, surface, marks and the part itself are told apart, and an amount that nobody can tell
says why. What was added stands by itself and makes nothing more of what is left. Wear in use counts where
somebody has written how much it took.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from conserve.account.before import Before, before_of
from conserve.account.metal import NO_MASS, mass_of, total
from conserve.account.why import Why
from conserve.calculation.propagation import through
from conserve.casebook import Component, Thing
from conserve.casebook.agreeing import quantity_of, word_of
from conserve.quantity import EXACT, ONE, Quantity, below
from conserve.terms import Vocabulary
from conserve.truth import Truth

UNITS = {"parts": ONE, "marks": ONE, "surface": "cm2", "metal": "kg"}  # column -> unit, the gravest loss first


class Where(StrEnum):
    """Where a part is."""

    PLACE = "in place"
    STORE = "in store"
    GONE = "gone"  # by the option
    MISSING = "missing"  # before it
    NOT_SAID = "not said"


class Effect(NamedTuple):
    """What an option does to the part that is there today."""

    where: Where  # afterwards
    lost: frozenset[str]  # named things that go, but for what goes with the whole part
    unsure: frozenset[str]  # kinds of things of which more may go
    cut: Quantity | None  # the metal cut from it


@dataclass(frozen=True, slots=True)
class Column:
    """One measure of what is left. None: it cannot be told.

    Its five amounts are independent of one another, so that a sum or a share of them has the right ±.
    """

    name: str
    stays: Quantity | None  # in place, before anything is cut from it
    cut: Quantity | None  # cut from what stays
    gone: Quantity | None  # taken by the option as a whole
    stored: Quantity | None
    before: Quantity | None  # taken before
    why: tuple[Why, ...] = ()  # it cannot be told

    @property
    def made(self) -> Quantity | None:
        return total((self.stays, self.gone, self.stored, self.before), UNITS[self.name])

    @property
    def taken(self) -> Quantity | None:
        return total((self.gone, self.cut), UNITS[self.name])

    @property
    def left(self) -> Quantity | None:
        cut = None if self.cut is None else self.cut.times(Decimal(-1))
        return total((self.stays, cut), UNITS[self.name])

    @property
    def share(self) -> Quantity | None:
        """The share of what was made that is left in place, in %; None also where there was nothing."""
        amounts = (self.stays, self.cut, self.gone, self.stored, self.before)
        known = [amount.in_unit(UNITS[self.name]) for amount in amounts if amount is not None]
        made = self.made
        if len(known) < len(amounts) or made is None or made.amount <= 0:
            return None
        try:
            return through(_share, "%", *known)
        except ValueError:  # so uncertain that nothing may have been there
            return None


def _share(stays: Decimal, cut: Decimal, gone: Decimal, stored: Decimal, before: Decimal) -> Decimal:
    made = stays + gone + stored + before
    if made <= 0:
        raise ValueError("Nothing was there.")
    return 100 * (stays - cut) / made


@dataclass(frozen=True, slots=True)
class Held:
    """How much is left of a part, or of several together. `added` is what was added before, as far as is known."""

    columns: tuple[Column, ...]
    added: Quantity | None

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    @property
    def worst(self) -> Column | None:
        """The column of which least is left, among those that can be told."""
        told = [(share.amount, column) for column in self.columns if (share := column.share) is not None]
        return min(told, key=lambda each: each[0])[1] if told else None


def where_now(part: Component) -> Where:
    """Where a part is today."""
    if part.stored is not None:
        return Where.STORE
    return {"yes": Where.PLACE, "no": Where.MISSING, "": Where.NOT_SAID}[word_of(part.facts, "component.present")]


def held_now(part: Component, vocabulary: Vocabulary) -> Held:
    """How much of a part is left today."""
    return held_after(part, vocabulary, Effect(where_now(part), frozenset(), frozenset(), NO_MASS))


def held_after(part: Component, vocabulary: Vocabulary, effect: Effect) -> Held:
    """How much of a part an option leaves."""
    before = before_of(part, vocabulary)
    if effect.where is Where.NOT_SAID:
        untold = (Column(name, None, None, None, None, None, (Why.PRESENCE,)) for name in UNITS)
        return Held(tuple(untold), before.added)
    if effect.where is Where.MISSING:  # nothing more can go from it
        effect = Effect(Where.MISSING, frozenset(), frozenset(), NO_MASS)
    columns = (
        _placed("parts", _count(1), _count(0), _count(0), effect.where, ()),
        _marks(part, before, effect),
        _surface(part, before, effect),
        _metal(part, vocabulary, before, effect),
    )
    return Held(columns, before.added)


def _placed(
    name: str, rest: Quantity | None, goes: Quantity | None, before: Quantity | None, where: Where, why: tuple[Why, ...]
) -> Column:
    """A column of things: what goes by itself, and the rest with the part to where that is."""
    none = Quantity(EXACT, EXACT, UNITS[name])
    by = {place: rest if place is where else none for place in Where}
    return Column(
        name,
        stays=by[Where.PLACE],
        cut=none,
        gone=total((by[Where.GONE], goes), UNITS[name]),
        stored=by[Where.STORE],
        before=total((by[Where.MISSING], before), UNITS[name]),
        why=why,
    )


def _marks(part: Component, before: Before, effect: Effect) -> Column:
    there = part.things("mark")
    gone = _count(None if before.marks is None else len(before.marks))
    why = (*((Why.MARKS,) if there is None else ()), *before.why_marks)
    if "mark" in effect.unsure and there is not None:
        return _placed("marks", None, None, gone, effect.where, (*why, Why.MARKS_GOING))
    ids = {mark.id for mark in there or ()}
    going = len({f"mark:{name}" for name in ids} & effect.lost)
    rest, goes = (None, None) if there is None else (len(ids) - going, going)
    return _placed("marks", _count(rest), _count(goes), gone, effect.where, why)


def _surface(part: Component, before: Before, effect: Effect) -> Column:
    """The area of the faces whose surface is the original one."""
    faces = part.surfaces
    areas = _area(faces or ())
    why = (*_why_area(part), *before.why_surfaces)
    if faces is None or areas is None:
        return Column("surface", None, None, None, None, None, why)
    lost = before.surfaces
    still = [face for face in faces if face.id not in (lost or ())]
    going = [face for face in still if f"surface:{face.id}" in effect.lost]
    rest = [face for face in still if face not in going]
    gone = None if lost is None else _area(face for face in faces if face.id in lost)
    return _placed("surface", _area(rest), _area(going), gone, effect.where, why)


def _why_area(part: Component) -> tuple[Why, ...]:
    if part.surfaces is None:
        return (Why.FACES,)
    return (Why.AREA,) if _area(part.surfaces) is None else ()


def _area(faces: Iterable[Thing]) -> Quantity | None:
    return total((quantity_of(face.facts, "surface.area") for face in faces), "cm2")


def _metal(part: Component, vocabulary: Vocabulary, before: Before, effect: Effect) -> Column:
    """The original metal: what the part weighs today, less what was added to it."""
    weight, cut = mass_of(part, vocabulary), effect.cut
    why = ((Why.MASS,) if weight is None else ()) + before.why_metal + ((Why.CUT,) if cut is None else ())
    if effect.where is Where.MISSING:
        gone = weight or (before.metal if before.metal and before.metal.amount else None)
        return _placed("metal", NO_MASS, NO_MASS, gone, effect.where, () if gone else (Why.MASS,))
    rest = None if weight is None or before.added is None else weight.minus(before.added)
    if rest is not None and cut is not None and below(rest, cut) is Truth.YES:
        cut, why = None, (*why, Why.CUT)
    if effect.where is Where.PLACE:
        return Column("metal", rest, cut, NO_MASS, NO_MASS, before.metal, why)
    less = None if rest is None or cut is None else rest.minus(cut)
    return _placed("metal", less, cut, before.metal, effect.where, why)


def _count(number: int | None) -> Quantity | None:
    return None if number is None else Quantity(Decimal(number), EXACT, ONE)
