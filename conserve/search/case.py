"""What may be asked of a case, and a case as far as it is settled: for each word, what it may still be.

A case gives each word a value or leaves it unknown. What an act's technique takes, adds and heats follows from
the technique, and an act always has one. A number is known exactly or not at all. Everything else is free: what
rolls up, what is computed and what stands in a file are taken as answers that could come out any way.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations

from conserve.quantity import EXACT, Quantity, dimension_of
from conserve.search.order import Below, in_order, numbers_in
from conserve.terms import Term, Vocabulary
from conserve.truth import Truth

TECHNIQUE = "act.technique"
UNKNOWN = ""  # the state of a word that nobody has told
Values = tuple[str | Quantity, ...]
Witness = Mapping[str, Values]  # term -> what it is; a term that is left out is not known


@dataclass(frozen=True, slots=True)
class One:
    """A word with one value is in one of these states."""

    term: str
    states: frozenset[str]


@dataclass(frozen=True, slots=True)
class Some:
    """Of a word with several values, one passes (yes), none does (no), or nobody knows them (unknown)."""

    term: str
    accepts: frozenset[str]
    truth: Truth


@dataclass(frozen=True, slots=True)
class Number:
    """Numbers are known and stand in this order."""

    below: Below


@dataclass(frozen=True, slots=True)
class NoNumber:
    """A number is not known."""

    term: str


Literal = One | Some | Number | NoNumber


@dataclass(frozen=True, slots=True)
class All:
    """All of these."""

    goals: tuple[Goal, ...]


@dataclass(frozen=True, slots=True)
class Any:
    """Any of these."""

    goals: tuple[Goal, ...]


Goal = Literal | All | Any


@dataclass(frozen=True, slots=True)
class Case:
    """What is settled so far."""

    vocabulary: Vocabulary
    one: Mapping[str, frozenset[str]] = field(default_factory=dict)
    some: Mapping[str, tuple[Some, ...]] = field(default_factory=dict)
    order: tuple[Below, ...] = ()
    no_number: frozenset[str] = frozenset()

    @property
    def facts(self) -> int:
        """How many facts must be told, at least."""
        words = sum(UNKNOWN not in states for states in self.one.values())
        several = sum(asked[0].truth is not Truth.UNKNOWN for asked in self.some.values())
        return words + several + len(_named(self.order))

    def states(self, term: str) -> frozenset[str]:
        """What a word with one value may still be."""
        known = self.one.get(term)
        return known if known is not None else frozenset((UNKNOWN, *self.vocabulary.terms[term].values))

    def holds(self, asked: Literal) -> bool:
        """Whether something is settled already. An act's technique counts only once somebody has asked for it."""
        if isinstance(asked, One):
            return (asked.term != TECHNIQUE or TECHNIQUE in self.one) and self.states(asked.term) <= asked.states
        if isinstance(asked, Number):
            return asked.below in self.order
        if isinstance(asked, NoNumber):
            return asked.term in self.no_number
        return asked in self.some.get(asked.term, ())

    def settling(self, asked: Literal) -> Case | None:
        """The case with this settled too; none where it cannot be."""
        if isinstance(asked, One):
            left = self.states(asked.term) & asked.states
            return replace(self, one={**self.one, asked.term: left}) if left else None
        if isinstance(asked, Some):
            asks = (*self.some.get(asked.term, ()), asked)
            fits = _several(asks, self.vocabulary.terms[asked.term]) is not None
            return replace(self, some={**self.some, asked.term: asks}) if fits else None
        if isinstance(asked, NoNumber):
            named = asked.term in _named(self.order)
            return None if named else replace(self, no_number=self.no_number | {asked.term})
        order = (*self.order, asked.below)
        fits = not _named((asked.below,)) & self.no_number and in_order(order)
        return replace(self, order=order) if fits else None

    def witness(self) -> Witness:
        """The plainest facts of which all this is so."""
        return dict(sorted(self._facts(), key=lambda told: list(self.vocabulary.terms).index(told[0])))

    def _facts(self) -> Iterator[tuple[str, Values]]:
        for name, states in self.one.items():
            if UNKNOWN not in states:
                yield name, (next(value for value in self.vocabulary.terms[name].values if value in states),)
        for name, asks in self.some.items():
            if asks[0].truth is not Truth.UNKNOWN:
                yield name, _several(asks, self.vocabulary.terms[name]) or ()
        for name, number in numbers_in(self.order).items():
            yield name, (_in_its_unit(Quantity(number, EXACT, base_unit(self.vocabulary.terms[name])), name, self),)


def base_unit(term: Term) -> str:
    """The unit in which numbers of a term are compared."""
    return Quantity(EXACT, EXACT, term.unit).to_base().unit


def _in_its_unit(number: Quantity, name: str, case: Case) -> Quantity:
    """A number in the unit its term is told in, where that is exact."""
    unit = case.vocabulary.terms[name].unit
    assert dimension_of(unit) == number.dimension
    told = number.in_unit(unit)
    return told if told.to_base().amount == number.amount else number


def _named(order: tuple[Below, ...]) -> frozenset[str]:
    return frozenset(end for one in order for end in one[:2] if isinstance(end, str))


def _several(asks: tuple[Some, ...], term: Term) -> tuple[str, ...] | None:
    """The fewest values of which all this is so; none where there are no such. Of what is unknown: no values."""
    if any(asked.truth is Truth.UNKNOWN for asked in asks):
        return () if all(asked.truth is Truth.UNKNOWN for asked in asks) else None
    barred = frozenset[str]().union(*(asked.accepts for asked in asks if asked.truth is Truth.NO))
    wanted = [asked.accepts for asked in asks if asked.truth is Truth.YES]
    free = [value for value in term.values if value not in barred]
    for number in range(len(wanted) + 1):
        for chosen in combinations(free, number):
            if all(accepts.intersection(chosen) for accepts in wanted):
                return chosen
    return None


def as_given(witness: Witness, vocabulary: Vocabulary) -> dict[str, Values]:
    """A witness as it is tried: with what its technique takes, adds and heats."""
    given = dict(witness)
    for name in witness.get(TECHNIQUE, ()):
        given |= {term: (value,) for term, value in vocabulary.techniques[str(name)].facts.items()}
    return given
