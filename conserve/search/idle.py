"""Words, values and edges of a rulebook that lead nowhere.

- *no answer*: a premise asks about a word that nobody gives: one that rules should establish and none does, or one
  that is worked out from such a word;
- *no such value*: a value that no technique has, or that no rule gives to a word that rules establish;
- *waits in vain*: a premise accepts a value of such a word that no rule gives and that is not its `otherwise`;
- *nobody asks*: rules establish a word, and neither a rule nor the weighing asks about it;
- *reaches nothing*: a rule overrides one about a kind of thing that it does not reach.

A value that a person may give and that no rule accepts is no gap: most answers raise no question.
"""

from __future__ import annotations

from collections.abc import Iterator

from conserve.calculation import READ_OFF, calculation_named
from conserve.rule import Rule
from conserve.search.gap import Gap, GapKind
from conserve.search.logic import Logic, reaches
from conserve.terms import Giver, Term, Vocabulary

ASKED_BY_WEIGHING = ("act.promises",)  # words that `conserve.weighing` looks up


def idle_in(logic: Logic) -> Iterator[Gap]:
    """Everything in a rulebook that leads nowhere."""
    terms = logic.vocabulary.terms
    for rule in logic.rules:
        yield from _premises_in_vain(rule, logic)
        yield from _edges_in_vain(rule, logic)
    asked = {premise.term for rule in logic.rules for premise in rule.when} | _limits(logic)
    for term in terms.values():
        if values := _values_nobody_gives(term, logic):
            yield Gap(GapKind.NO_SUCH_VALUE, (), term.name, values)
        givers = tuple(rule.id for rule, _ in logic.givers(term.name))
        if givers and term.name not in asked and term.name not in ASKED_BY_WEIGHING:
            yield Gap(GapKind.NOBODY_ASKS, givers, term.name)


def _premises_in_vain(rule: Rule, logic: Logic) -> Iterator[Gap]:
    for premise in rule.when:
        limits = premise.test.limit_terms
        for name in (premise.term, *limits):
            if not _is_given(name, logic, frozenset()):
                yield Gap(GapKind.NO_ANSWER, (rule.id,), name)
        term = logic.vocabulary.terms[premise.term]
        lacking = set(premise.test.accepts) & set(_values_nobody_gives(term, logic))
        if lacking and term.giver is Giver.RULE:
            waits = tuple(value for value in term.values if value in lacking)
            yield Gap(GapKind.WAITS_IN_VAIN, (rule.id,), term.name, waits)


def _edges_in_vain(rule: Rule, logic: Logic) -> Iterator[Gap]:
    kinds = {other.id: other.about for other in logic.rules}
    for edge in rule.overrides:
        if edge.rule in kinds and not reaches(rule.about, kinds[edge.rule]):
            yield Gap(GapKind.REACHES_NOTHING, (rule.id, edge.rule))


def _limits(logic: Logic) -> set[str]:
    """The words that stand as limits, and those from which others are worked out."""
    bounds = (bound for rule in logic.rules for premise in rule.when for bound in premise.test.bounds)
    inputs = {name for term in logic.vocabulary.terms.values() for name in term.inputs.values()}
    return {bound.limit for bound in bounds if isinstance(bound.limit, str)} | inputs


def _values_nobody_gives(term: Term, logic: Logic) -> tuple[str, ...]:
    """Values of a technique's or a rule's word that no technique has and no rule gives."""
    if term.giver is Giver.RULE:
        given = {value for _, value in logic.givers(term.name)} | {term.otherwise}
    elif term.owner == "technique":
        given = {technique.facts[term.name] for technique in logic.vocabulary.techniques.values()}
    else:
        return ()
    return tuple(value for value in term.values if value not in given)


def _is_given(name: str, logic: Logic, seen: frozenset[str]) -> bool:
    """Whether anybody can give a word."""
    term = logic.vocabulary.terms.get(name.replace("mate.", "surface.", 1))
    if term is None or name in seen:
        return False
    if term.giver is Giver.RULE:
        return bool(logic.givers(name))
    if term.giver is Giver.TECHNIQUE:
        return term.owner == "technique"
    needed = _needed(term, logic.vocabulary)
    return all(_is_given(one, logic, seen | {name}) for one in needed)


def _needed(term: Term, vocabulary: Vocabulary) -> tuple[str, ...]:
    """The words without which a word cannot be worked out."""
    if term.giver is Giver.ROLL_UP:
        return (term.of,) if term.of in vocabulary.terms else ()
    if term.giver is not Giver.CALCULATION or term.calculation in READ_OFF:
        return ()
    calculation = calculation_named(term.calculation)
    optional = {one.name for one in calculation.inputs if one.optional} if calculation else set()
    return tuple(name for key, name in term.inputs.items() if key not in optional)
