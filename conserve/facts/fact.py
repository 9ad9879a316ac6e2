"""A fact in three values, and how a test on it is judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from conserve import quantity
from conserve.casebook import Stated
from conserve.casebook.model import Values
from conserve.quantity import Quantity
from conserve.rule import Bound, Test
from conserve.terms import Term
from conserve.truth import Truth, all_of, any_of


class How(StrEnum):
    """How a fact is known, or why it is not."""

    WRITTEN = "written"  # a person wrote it
    REPORTED = "reported"  # a registered report states it
    READ_OFF = "read off"  # from the shape of the casebook
    TECHNIQUE = "technique"  # from techniques.yaml
    ROLL_UP = "roll-up"  # from the things below
    COMPUTED = "computed"  # from today's value and the acts
    CLAIMED = "claimed"  # the option says so
    ESTABLISHED = "established"  # rules give it
    SILENT = "silent"  # nobody has said
    DISPUTED = "disputed"  # statements disagree
    ABSENT = "absent"  # the thing it would be about is not there


@dataclass(frozen=True, slots=True)
class Working:
    """How a number was reckoned, or was to be: from what, by which formula, and why it was refused."""

    title: str
    formula: str
    given: tuple[tuple[str, Fact], ...]  # what an input means, and the fact it came from
    valid: str
    source: str
    cautions: tuple[str, ...] = ()
    refused: str = ""  # a sentence, where a number lies outside the formula's validity

    @property
    def missing(self) -> tuple[Fact, ...]:
        """The facts that are not known, down to those that somebody could tell."""
        unknown = [fact for _, fact in self.given if not fact.known]
        return tuple(below for fact in unknown for below in (fact.working.missing if fact.working else ()) or (fact,))


@dataclass(frozen=True, slots=True)
class Fact:
    """What is known of one term of one subject. `values` is None where nothing is."""

    term: str
    subject: str
    values: Values | None
    how: How
    statements: tuple[Stated, ...] = ()
    working: Working | None = None  # of what is computed, or would be if its inputs were known

    @property
    def known(self) -> bool:
        return self.values is not None


@dataclass(frozen=True, slots=True)
class Judgement:
    """One premise or check, judged on one fact."""

    term: str
    test: Test
    fact: Fact
    truth: Truth
    limits: tuple[Fact, ...] = ()  # facts that stand as limits
    chance: float | None = None  # of a number: how likely the worst reading passes


def judge(test: Test, term: Term, fact: Fact, look: Callable[[str], Fact]) -> Judgement:
    """Judge a test on a fact; `look` finds the facts that stand as limits.

    About a thing that is not there, every premise is *no*. Of a word with several values, one that passes is
    enough. Of several readings the worst counts where the term says which is worst; else all must pass. Any of them
    may be the worst, as far as its ± goes.
    """
    limits = tuple([look(bound.limit) for bound in test.bounds if isinstance(bound.limit, str)])
    if fact.how is How.ABSENT or any(limit.how is How.ABSENT for limit in limits):
        return Judgement(term.name, test, fact, Truth.NO, limits)
    if fact.values is None:
        return Judgement(term.name, test, fact, Truth.UNKNOWN, limits)
    if not test.bounds:
        return Judgement(term.name, test, fact, _judge_words(test, fact.values, fact.how), limits)
    numbers = [v for v in fact.values if isinstance(v, Quantity)]
    readings = _counting(numbers, term.worst)
    found = {limit.term: limit.values for limit in limits}
    truth = all_of(_judge_number(test, reading, found) for reading in readings) if readings else Truth.UNKNOWN
    truth = _with_others(truth, test, [v for v in numbers if v not in readings], term.worst, found)
    chances = [chance for reading in readings if (chance := _chance(test, reading, found)) is not None]
    return Judgement(term.name, test, fact, truth, limits, min(chances, default=None))


def _judge_words(test: Test, values: Values, how: How) -> Truth:
    passing = [value in test.accepts for value in values]
    if how is How.ESTABLISHED and len(values) > 1:  # one of these, nobody knows which
        return Truth.YES if all(passing) else Truth.UNKNOWN if any(passing) else Truth.NO
    return Truth.YES if any(passing) else Truth.NO


def _counting(readings: list[Quantity], worst: str) -> list[Quantity]:
    if not worst or len(readings) < 2:
        return readings
    return [(max if worst == "highest" else min)(readings, key=lambda q: q.to_base().amount)]


def _with_others(
    truth: Truth, test: Test, others: list[Quantity], worst: str, found: dict[str, Values | None]
) -> Truth:
    """What the worst reading shows, held against the rest: the highest is below a limit if all are, above if one is."""
    for bound in test.bounds:
        limit = _limit(bound, found)
        if others and limit is not None:
            judged = [getattr(quantity, bound.how)(reading, limit) for reading in others]
            if (worst == "highest") == (bound.how in ("at_most", "below")):
                truth = all_of((truth, *judged))
            elif len(test.bounds) == 1:
                truth = any_of((truth, *judged))
    return truth


def _judge_number(test: Test, reading: Quantity, found: dict[str, Values | None]) -> Truth:
    limits = [_limit(bound, found) for bound in test.bounds]
    if any(limit is None for limit in limits):
        return Truth.UNKNOWN
    if [bound.how for bound in test.bounds] == ["at_least", "at_most"]:
        low, high = limits
        assert low is not None and high is not None
        return quantity.between(reading, low, high)
    return all_of(
        getattr(quantity, bound.how)(reading, limit) for bound, limit in zip(test.bounds, limits, strict=True)
    )


def _chance(test: Test, reading: Quantity, found: dict[str, Values | None]) -> float | None:
    """How likely a reading passes (JCGM 106); None where an uncertainty or a limit is not known."""
    limits = [limit for bound in test.bounds if (limit := _limit(bound, found)) is not None]
    if len(limits) < len(test.bounds):
        return None
    if len(limits) == 2:
        return quantity.probability_between(reading, limits[0], limits[1])
    at_most = reading.probability_at_most(limits[0])
    if at_most is None or test.bounds[0].how in ("at_most", "below"):
        return at_most
    return round(1 - at_most, 12)


def _limit(bound: Bound, found: dict[str, Values | None]) -> Quantity | None:
    if isinstance(bound.limit, Quantity):
        return bound.limit
    values = [v for v in found[bound.limit] or () if isinstance(v, Quantity)]
    strictest = min if bound.how in ("at_most", "below") else max
    return strictest(values, key=lambda q: q.to_base().amount) if values else None
