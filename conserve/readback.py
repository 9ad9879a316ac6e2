"""Read a rule's logic back as one sentence, so that its author can hear what it says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from conserve.explanation.words import capital, listed, plain, quantity_in_words, term_in_words, test_in_words
from conserve.quantity import Quantity
from conserve.rule import Effect, EffectKind, Premise, Rule, Stage, Test
from conserve.terms import Kind, Term, Vocabulary

_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
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
        return f"{named(term)} is {accepts[0]}"
    if accepts and not lacking and len(accepts) > 2:
        return f"{named(term)} is known, whatever it is"
    if 2 * len(lacking) < len(accepts) and len(lacking) < 3:
        return f"{named(term)} is anything but {listed(lacking, 'or')}"
    return f"{named(term)} {'includes' if term.many else 'is'} {test_as_written(premise.test)}"


def case_in_words(facts: Mapping[str, Sequence[str | Quantity]], vocabulary: Vocabulary) -> str:
    """A case that has been made up: "where the act's ‘technique’ is milling". What a technique brings is left out."""
    brought = "act.technique" in facts
    told = [
        _fact(vocabulary.terms[name], values)
        for name, values in facts.items()
        if not (brought and name.startswith("technique."))
    ]
    return f"where {listed(told)}" if told else "in every case"


def _fact(term: Term, values: Sequence[str | Quantity]) -> str:
    said = listed(quantity_in_words(value) if isinstance(value, Quantity) else value for value in values)
    return f"{named(term)} {'includes' if term.many and values else 'is'} {said or 'none'}"


def test_as_written(test: Test) -> str:
    """A test with its values as rules write them: "non-functional or datum"."""
    return listed(test.accepts, "or") if test.accepts else test_in_words(test)


def generally(sentence: str) -> str:
    """A rule's sentence, about nothing in particular yet: `{surface}` is "the surface", a value is in brackets."""

    def word(found: re.Match[str]) -> str:
        owner, dot, term = found[1].partition(".")
        return f"[{plain(term)}]" if dot else f"the {owner}"

    return capital(_PLACEHOLDER.sub(word, " ".join(sentence.split())))


def named(term: Term) -> str:
    return f"the {term.owner}'s ‘{term_in_words(term.name)}’"


def _effect(effect: Effect, vocabulary: Vocabulary) -> str:
    says = f"‘{generally(effect.says).removesuffix('.')}’"
    if effect.kind is EffectKind.FORBID:
        gate = ", and only another rule of law or safety may set that aside" if effect.gate else ""
        return f"it cannot be justified: {says}{gate}"
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
    return f"{named(vocabulary.terms[term])} is {value}"


def _met_by(effect: Effect, vocabulary: Vocabulary) -> str:
    if effect.evidence:
        return f" (met by a registered {plain(effect.evidence)})"
    if effect.answer:
        return " (met by a person's answer)"
    return f" (met once {named(vocabulary.terms[effect.known])} is known)" if effect.known else ""
