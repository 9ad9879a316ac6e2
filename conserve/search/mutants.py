"""Small changes to a rule, each of which its examples ought to notice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from conserve.quantity import EXACT, Quantity
from conserve.rule import Bound, EffectKind, Premise, Rule, Test
from conserve.search.order import step_at
from conserve.terms import Vocabulary


class ChangeKind(StrEnum):
    """What is done to a rule."""

    DROPPED = "premise left out"
    TAKEN = "value left out"
    ADDED = "value added"
    FLIPPED = "limit turned round"
    EDGE = "limit itself let in or kept out"
    MOVED = "limit moved"
    UNBOUND = "one limit left out"
    EFFECT = "another effect"


@dataclass(frozen=True, slots=True)
class Change:
    """One change to one rule: what it leaves of the premises, or which effect it gives instead."""

    kind: ChangeKind
    rule: Rule
    when: tuple[Premise, ...]
    effect: EffectKind
    term: str = ""
    value: str | Quantity = ""  # the value that is left out or added, or the limit as it is then
    bound: Bound | None = None  # the limit as it is today


_TELLING = tuple(kind for kind in EffectKind if kind is not EffectKind.ESTABLISH)
_TURNED = {"above": "below", "below": "above", "at_least": "at_most", "at_most": "at_least"}
_EDGED = {"above": "at_least", "at_least": "above", "below": "at_most", "at_most": "below"}


def changes_of(rule: Rule, vocabulary: Vocabulary) -> Iterator[Change]:
    """Every small change to a rule.

    A lone accepted value is never left out, for then the rule could not apply; nor is the value that a rule
    establishes changed, for an example says only that the rule establishes one.
    """
    kind = rule.then.kind
    for at, premise in enumerate(rule.when):
        without = (*rule.when[:at], *rule.when[at + 1 :])
        yield Change(ChangeKind.DROPPED, rule, without, kind, premise.term)
        for how, test, value, bound in _tests(premise, vocabulary):
            when = (*rule.when[:at], replace(premise, test=test), *rule.when[at + 1 :])
            yield Change(how, rule, when, kind, premise.term, value, bound)
    for other in _TELLING if kind in _TELLING else ():
        if other is not kind:
            yield Change(ChangeKind.EFFECT, rule, rule.when, other)


_Changed = tuple[ChangeKind, Test, str | Quantity, Bound | None]


def _tests(premise: Premise, vocabulary: Vocabulary) -> Iterator[_Changed]:
    accepts = premise.test.accepts
    for value in accepts if len(accepts) > 1 else ():
        yield ChangeKind.TAKEN, Test(tuple(v for v in accepts if v != value)), value, None
    for value in vocabulary.terms[premise.term].values:
        if value not in accepts:
            yield ChangeKind.ADDED, Test((*accepts, value)), value, None
    for at, bound in enumerate(premise.test.bounds):
        yield from _limits(premise.test, at, bound)


def _limits(test: Test, at: int, bound: Bound) -> Iterator[_Changed]:
    """One limit turned round, moved by a step in its second figure, with its own value let in or kept out."""
    before, after = test.bounds[:at], test.bounds[at + 1 :]

    def changed(one: Bound) -> Test:
        return Test(bounds=(*before, one, *after))

    if before or after:
        yield ChangeKind.UNBOUND, Test(bounds=(*before, *after)), "", bound
    else:
        yield ChangeKind.FLIPPED, changed(replace(bound, how=_TURNED[bound.how])), "", bound
    yield ChangeKind.EDGE, changed(replace(bound, how=_EDGED[bound.how])), "", bound
    if isinstance(bound.limit, Quantity):
        step = step_at(bound.limit.amount)
        for amount in (bound.limit.amount - step, bound.limit.amount + step):
            limit = Quantity(amount, EXACT, bound.limit.unit)
            yield ChangeKind.MOVED, changed(replace(bound, limit=limit)), limit, bound
