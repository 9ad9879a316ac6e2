"""Read a rule's logic back as one sentence, so that its author can hear what it says."""

from __future__ import annotations

from collections.abc import Mapping

from conserve.explanation.words import listed, plain, term_in_words, test_in_words
from conserve.rule import Effect, EffectKind, Premise, Rule, Stage
from conserve.terms import Kind, Term, Vocabulary

_BY: Mapping[Stage, str] = {
    Stage.DECISION: "before anyone decides",
    Stage.BEFORE_WORK: "before work starts",
    Stage.DURING_WORK: "while the work goes on",
    Stage.AFTER_WORK: "once the work is done",
    Stage.BEFORE_USE: "before the part is used",
}


def read_back(rule: Rule, vocabulary: Vocabulary) -> str:
    """One sentence: when the rule applies, and what it then does."""
    whens = [premise_in_words(premise, vocabulary.terms[premise.term]) for premise in rule.when]
    opening = f"Where {listed(whens)}" if whens else f"For every {rule.about}"
    return f"{opening}, {_effect(rule.then, vocabulary)}."


def premise_in_words(premise: Premise, term: Term) -> str:
    """One thing that must hold: "the surface's function is sliding or bearing"."""
    accepts = premise.test.accepts
    lacking = [value for value in term.values if value not in accepts]
    if term.kind is Kind.FLAG and len(accepts) == 1:
        return f"{_named(term)} is {accepts[0]}"
    if accepts and len(lacking) == 1 and len(accepts) > 2:
        return f"{_named(term)} is anything but {plain(lacking[0])}"
    return f"{_named(term)} {'is one of several, such as' if term.many and accepts else 'is'} {test_in_words(premise.test)}"


def _named(term: Term) -> str:
    return f"the {term.owner}'s ‘{term_in_words(term.name)}’"


def _effect(effect: Effect, vocabulary: Vocabulary) -> str:
    says = f"‘{' '.join(effect.says.split()).removesuffix('.')}’"
    if effect.kind is EffectKind.FORBID:
        return f"it cannot be justified: {says}{', and only another gate sets that aside' if effect.gate else ''}"
    if effect.kind is EffectKind.REFER:
        return f"the {plain(effect.to)} must answer first: {says}"
    if effect.kind is EffectKind.REQUIRE:
        assert effect.by is not None
        routine = ", as of every such job" if effect.routine else ""
        return f"this is required {_BY[effect.by]}{_met_by(effect, vocabulary)}{routine}: {says}"
    if effect.kind is EffectKind.AGAINST:
        return f"a person must answer this objection: {says}"
    if effect.kind is EffectKind.NOTE:
        return f"the reader is told: {says}"
    term, value = effect.establishes
    return f"{_named(vocabulary.terms[term])} is {plain(value)}"


def _met_by(effect: Effect, vocabulary: Vocabulary) -> str:
    if effect.evidence:
        return f" (met by a registered {plain(effect.evidence)})"
    if effect.answer:
        return " (met by a person's answer)"
    return f" (met once {_named(vocabulary.terms[effect.known])} is known)" if effect.known else ""
