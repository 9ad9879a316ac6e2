"""Rules as propositions, one program a kind of subject."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from conserve.engine import Clause, Program, Word
from conserve.engine import Premise as Awaited
from conserve.rule import EffectKind, Rule, Status
from conserve.rulebook.model import KindProgram
from conserve.terms import Giver, Vocabulary


def program_of(rules: tuple[Rule, ...], kind: str, vocabulary: Vocabulary) -> KindProgram:
    """The adopted rules about a kind of subject; premises on words they establish themselves are awaited."""
    own = tuple(rule for rule in rules if rule.about == kind and rule.status is Status.ADOPTED)
    words = vocabulary.of(kind, Giver.RULE)
    number = {term.name: index for index, term in enumerate(words)}
    awaited = sorted({(number[p.term], tuple(sorted(p.test.accepts))) for r in own for p in r.when if p.term in number})
    place = {premise: index for index, premise in enumerate(awaited)}
    ordinary = {(p.term, p.test): p for rule in own for p in rule.when if p.term not in number}
    which = {asked: index for index, asked in enumerate(ordinary)}
    return KindProgram(
        rules=own,
        premises=tuple(ordinary.values()),
        ordinary=tuple(tuple(which[p.term, p.test] for p in r.when if p.term not in number) for r in own),
        program=Program(
            clauses=tuple(_clause(rule, number, place) for rule in own),
            words=tuple(Word(term.name, term.values, term.otherwise) for term in words),
            premises=tuple(Awaited(word, frozenset(accepts)) for word, accepts in awaited),
        ),
        asks=frozenset(_asked_by(own)),
    )


def _asked_by(rules: tuple[Rule, ...]) -> Iterator[str]:
    for premise in (one for rule in rules for one in rule.when):
        yield premise.term
        yield from premise.test.limit_terms


_Awaited = tuple[int, tuple[str, ...]]  # a word's number, and the values that a premise on it accepts


def _clause(rule: Rule, number: Mapping[str, int], place: Mapping[_Awaited, int]) -> Clause:
    """A rule as a clause: which awaited premises it waits for, and what it gives to which word."""
    word, value = rule.then.establishes
    return Clause(
        rule=rule.id,
        waits_for=tuple(place[number[p.term], tuple(sorted(p.test.accepts))] for p in rule.when if p.term in number),
        establishes=(number[word], value) if rule.then.kind is EffectKind.ESTABLISH else None,
    )
