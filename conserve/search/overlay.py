"""Whether an overlay only tightens a rulebook, and the smallest case in which it does not.

What is proved, over every case that `conserve.search.case` describes and with the words that rules establish worked
out anew under each rulebook: for each adopted rule of the rulebook that forbids, refers, objects or requires,

- wherever it is in, the overlaid rulebook has in, about the same kind of thing or its owner, that rule itself, or
  one that the overlay brings and that is at least as strict, or any that forbids;
- wherever it is in or open, the same of what is then in or open.

So nothing that a rule asks is lost to another rule that happens to be as strict: each can be met without the other.

From this follows that the strictest thing said about each subject never becomes milder, for certain or perhaps.
The order is: forbid; refer; object, or require before the decision; require later; require as routine; none.
Only this strictness is compared, never what the sentences ask for: whether a rule that an overlay brings asks for
enough is for a person to read. Notes are no strictness.

It is proved as well that no word that lets (`conserve.search.gap.LETS`) has a value, for certain or perhaps, in a case
where it had not: an act that may promise more meets a need that it did not meet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum

from conserve.problem import Location
from conserve.rule import EffectKind, Premise, Rule, Stage, Test
from conserve.rulebook import Rulebook
from conserve.search.case import All, Goal, Witness
from conserve.search.gap import LETS
from conserve.search.logic import NO, NOT_NO, NOT_YES, YES, Logic, reaches
from conserve.search.solver import smallest


class Strictness(IntEnum):
    """How much a rule asks, from the mildest."""

    NONE = 0
    ROUTINE = 1
    LATER = 2
    DECISION = 3
    REFER = 4
    FORBID = 5


@dataclass(frozen=True, slots=True)
class Loosened:
    """A rule whose strictness an overlay lets go in a case, and what is in place of it there."""

    rule: str
    certain: bool  # it is in there without the overlay; else it is at least open
    falls: bool  # nothing as strict is left there; else something is, but not what the rule asks
    witness: Witness
    word: str = ""  # in place of a rule: a word that lets more, and which value it gains
    value: str = ""


Through = Callable[[Sequence[Rule]], Iterable[Rule]]


def strictness(rule: Rule) -> Strictness:
    """How strict a rule is where it is in."""
    if rule.then.kind is EffectKind.FORBID:
        return Strictness.FORBID
    if rule.then.kind is EffectKind.REFER:
        return Strictness.REFER
    if rule.then.kind is EffectKind.AGAINST:
        return Strictness.DECISION
    if rule.then.kind is not EffectKind.REQUIRE:
        return Strictness.NONE
    if rule.then.routine:
        return Strictness.ROUTINE
    return Strictness.DECISION if rule.then.by is Stage.DECISION else Strictness.LATER


def loosened(base: Rulebook, laid: Rulebook, *, through: Through = iter) -> tuple[Loosened, ...]:
    """Everything that overlays loosen, each with its smallest case, the worst first. None: they only tighten."""
    before, after = Logic(base.rules, base.vocabulary), Logic(laid.rules, laid.vocabulary)
    brought = frozenset(rule.id for rule in after.rules) - {rule.id for rule in base.rules}
    found = list(_lets_more(before, after))
    for rule in through(before.rules):
        one = next(_loosened(rule, before, after, brought), None) if strictness(rule) else None
        if one is not None:
            found.append(one)
    return tuple(
        sorted(found, key=lambda one: (not one.falls, not one.certain, len(one.witness), one.rule, one.word, one.value))
    )


def _loosened(rule: Rule, before: Logic, after: Logic, brought: frozenset[str]) -> Iterator[Loosened]:
    """The cases in which a rule is loosened, the worst kind first."""
    for falls in (True, False):
        instead = [other for other in after.rules if _stands_in(other, rule, brought, falls=falls)]
        for certain in (True, False):
            had = before.is_in(rule) if certain else before.is_live(rule)
            lost = tuple(after.is_not_in(other) if certain else after.is_out(other) for other in instead)
            witness = _first(had, lost, instead, rule, before)
            if witness is not None:
                yield Loosened(rule.id, certain, falls, witness)


def _first(had: Goal, lost: tuple[Goal, ...], instead: list[Rule], rule: Rule, before: Logic) -> Witness | None:
    """The smallest case; soon given up where the rule itself still stands."""
    own = tuple(goal for goal, other in zip(lost, instead, strict=True) if other.id == rule.id)
    if own and smallest(All((had, *own)), before.vocabulary) is None:
        return None
    return smallest(All((had, *lost)), before.vocabulary)


def _stands_in(other: Rule, rule: Rule, brought: frozenset[str], *, falls: bool) -> bool:
    """Whether another rule, where it is in, is as strict as this one (falls), or may take its place."""
    if not reaches(other.about, rule.about):
        return False
    if falls or other.id == rule.id or other.id in brought:
        return strictness(other) >= strictness(rule)
    return strictness(other) is Strictness.FORBID


def _lets_more(before: Logic, after: Logic) -> Iterator[Loosened]:
    """The values of words that let which some case gains."""
    for word, nothing in LETS.items():
        term = after.vocabulary.terms.get(word)
        for value in term.values if term is not None else ():
            asked = Premise(word, Test((value,)), Location(word))
            for certain, has, had_not in ((True, YES, NOT_YES), (False, NOT_NO, NO)):
                gains = All((after.premise(asked, has), before.premise(asked, had_not)))
                witness = smallest(gains, after.vocabulary) if value != nothing else None
                if witness is not None:
                    yield Loosened("", certain, False, witness, word, value)
                    break
