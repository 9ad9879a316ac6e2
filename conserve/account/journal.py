"""The journal of a part's fabric: every amount that moved between its source, its place, a store and the lost.

Nothing is ever taken out of it: each entry goes from one account to another, so that what was made or added is at
every date what is in place, in store and lost. Where what is written cannot be so, that is told, and not mended.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from conserve.account.balance import Balances, Fabric, State, amounts_taken, balances_of, whole_of
from conserve.account.before import steps_of
from conserve.account.happening import ZERO, Amounts, Happening, Sure, happenings_of
from conserve.account.held import Where, where_now
from conserve.account.remarks import Remark, remarks_on
from conserve.casebook import Casebook, Component
from conserve.problem import Location
from conserve.quantity import EXACT, Quantity
from conserve.terms import Vocabulary


class Book(StrEnum):
    """The accounts that an amount moves between."""

    SOURCE = "made or added"
    PLACE = "in place"
    STORE = "in store"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Entry:
    """One amount of one fabric that moved. An amount of None moved too; nobody can say how much it was."""

    on: date
    dated: bool  # whether anybody has written the date
    year_only: bool
    part: str
    fabric: Fabric
    source: Book
    to: Book
    amounts: Amounts
    sure: Sure
    under: str  # the proposal that it carried out
    says: str
    where: Location


@dataclass(frozen=True, slots=True)
class Standing:
    """How a part stood from one day on."""

    on: date
    dated: bool  # whether anybody has written the date
    year_only: bool
    balances: Balances


@dataclass(frozen=True, slots=True)
class Journal:
    """One part's entries, and how it stood after each. What is planned has not happened, and stands apart."""

    part: Component
    entries: tuple[Entry, ...]
    standings: tuple[Standing, ...]
    then: Balances  # when all that is planned is done
    remarks: tuple[Remark, ...]

    def at(self, day: date) -> Balances:
        """How the part stood at the end of a day."""
        found = [one for one in self.standings if one.on <= day]
        return found[-1].balances if found else {}

    @property
    def now(self) -> Balances:
        return self.standings[-1].balances


def journal_of(part: Component, casebook: Casebook, vocabulary: Vocabulary, but: str = "") -> Journal:
    """Keep the books of one part. `but` names a proposal whose own reckoning is left out."""
    found = _counted(part, casebook, vocabulary, but)
    happened = [one for one in found if one.sure is not Sure.PLANNED]
    planned = [one for one in found if one.sure is Sure.PLANNED]
    steps = tuple(one.step for one in happened if one.step)
    writer = _Writer(_at_first(part, happened, vocabulary), vocabulary, iter(amounts_taken(part, steps)))
    standings = [Standing(one.on, one.dated, one.year_only, writer.write(one)) for one in happened]
    then = [writer.write(one) for one in planned]
    return Journal(
        part,
        tuple(writer.entries),
        tuple(standings),
        then[-1] if then else standings[-1].balances,
        tuple(remarks_on(part, casebook, vocabulary, happened)),
    )


def balances_now(part: Component, casebook: Casebook, vocabulary: Vocabulary, but: str = "") -> Balances:
    """How a part stands after all that has happened to it: the end of its journal, without the entries."""
    happened = [one for one in _counted(part, casebook, vocabulary, but) if one.sure is not Sure.PLANNED]
    state = _at_first(part, happened, vocabulary)
    for one in happened:
        _after(state, one)
    return balances_of(state, vocabulary)


def _counted(part: Component, casebook: Casebook, vocabulary: Vocabulary, but: str) -> list[Happening]:
    return [one for one in happenings_of(part, casebook, vocabulary) if not _left_out(one, but)]


def _at_first(part: Component, happened: Iterable[Happening], vocabulary: Vocabulary) -> State:
    told = steps_of(part, vocabulary) is not None
    return State(part, tuple(one.step for one in happened if one.step) if told else None)


def _after(state: State, one: Happening) -> None:
    """What one thing made of a part; where nobody has said where it is, nobody can tell."""
    state.after(one)
    if where_now(state.part) is Where.NOT_SAID:
        state.where = Where.NOT_SAID


def _left_out(one: Happening, but: str) -> bool:
    return bool(but) and one.under == but and one.sure is not Sure.WRITTEN


# ---- entries ------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Writer:
    """Writes the entries of what happens to one part, one thing after another."""

    state: State
    vocabulary: Vocabulary
    taken: Iterator[Amounts]  # by each step
    entries: list[Entry] = field(default_factory=list)
    book: Book = Book.PLACE  # where the part was when that was last known

    def write(self, one: Happening) -> Balances:
        """Enter what one thing moved: first what it took and added, then the part as a whole."""
        state, own = self.state, Fabric(self.state.part.phase)
        cut_before = {} if state.where is None else self._cut(own)
        _after(state, one)
        now = balances_of(state, self.vocabulary)
        if one.joined:
            self._enter(one, own, Book.SOURCE, Book.PLACE, {b.column.name: b.made for b in now[own]}, always=True)
        took = next(self.taken) if one.step else ZERO
        if self.book is not Book.LOST:
            self._enter(one, own, self.book, Book.LOST, took)
            if one.effect is not None:
                self._enter(one, own, self.book, Book.LOST, _less(self._cut(own), cut_before))
        for added in one.added:
            to = Book.PLACE if added.beside else self.book
            self._enter(one, Fabric(added.phase, added=True), Book.SOURCE, to, added.amounts)
        goes = self.book if one.to is None else _BOOKS.get(one.to, self.book)
        if goes is not self.book:
            for fabric, amounts in whole_of(state, self.vocabulary).items():
                self._enter(one, fabric, self.book, goes, amounts)
            self.book = goes
        return now

    def _cut(self, own: Fabric) -> Amounts:
        """What reckoned work has cut from the part so far."""
        there = replace(self.state, where=Where.PLACE)
        return {b.column.name: b.column.taken for b in balances_of(there, self.vocabulary)[own]}

    def _enter(
        self, one: Happening, fabric: Fabric, source: Book, to: Book, amounts: Amounts, always: bool = False
    ) -> None:
        if always or any(amount is None or amount.amount for amount in amounts.values()):
            part = self.state.part.id
            entry = (one.on, one.dated, one.year_only, part, fabric, source, to, amounts, one.sure, one.under)
            self.entries.append(Entry(*entry, one.says, one.where))


_BOOKS = {Where.PLACE: Book.PLACE, Where.STORE: Book.STORE, Where.MISSING: Book.LOST, Where.GONE: Book.LOST}


def _less(after: Amounts, before: Amounts) -> Amounts:
    """What was cut since, with its own ±."""
    return {name: _since(amount, before[name]) for name, amount in after.items()}


def _since(after: Quantity | None, before: Quantity | None) -> Quantity | None:
    if after is None or before is None:
        return None
    if not before.amount:
        return after
    spread = None
    if after.uncertainty is not None and before.uncertainty is not None:  # what was cut first is in both sums
        spread = max(after.uncertainty**2 - before.uncertainty**2, EXACT).sqrt()
    return replace(after, amount=after.amount - before.amount, uncertainty=spread)
