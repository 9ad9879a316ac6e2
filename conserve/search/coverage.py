"""What of each rule has been tried: by its own examples, and by the casebooks it has weighed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from conserve.facts import Judgement
from conserve.inference import tried
from conserve.quantity import Quantity
from conserve.rule import Premise, Rule, Status, Test
from conserve.rulebook import Rulebook
from conserve.terms import Term
from conserve.truth import Truth
from conserve.weighing import Weighing


@dataclass(frozen=True, slots=True)
class Untried:
    """Something about one rule that nothing has tried."""

    rule: Rule
    premise: Premise | None  # None: the rule as a whole
    what: str  # "yes", "no", "unknown": never judged so; else a value that never occurred


Decision = tuple[str, str]  # the object and the proposal


@dataclass(frozen=True, slots=True)
class Tries:
    """How often each rule applied for certain, and what none has tried."""

    examples: dict[str, int]  # rule -> its examples
    decisions: dict[str, frozenset[Decision]]  # rule -> the proposals in which it applied for certain
    untried: tuple[Untried, ...]


def coverage(rulebook: Rulebook, weighings: Iterable[Weighing]) -> Tries:
    """Hold every premise, value and limit of every adopted rule against what examples and casebooks touch.

    A rule is tried when it has applied for certain; a premise, and so its limits together, when it has been judged
    yes, no and unknown; each value that it names when it has occurred.
    """
    rules = [rule for rule in rulebook.rules if rule.status is Status.ADOPTED]
    judged: dict[str, list[Judgement]] = {rule.id: [] for rule in rules}
    certain: dict[str, int] = dict.fromkeys(judged, 0)
    for rule in rules:
        for example in rule.examples:
            grounds = tried(rule, example.given, rulebook).grounds
            judged[rule.id] += grounds
            certain[rule.id] += all(ground.truth is Truth.YES for ground in grounds)
    decisions: dict[str, set[Decision]] = {name: set() for name in judged}
    for weighing in weighings:
        decision = (weighing.casebook.object.name, weighing.proposal.id)
        for finding in (finding for part in weighing.parts for finding in part.findings.all):
            if finding.rule.id in judged:  # not of an overlay that is not asked about
                judged[finding.rule.id] += finding.grounds
                decisions[finding.rule.id] |= {decision} if finding.certain else set()
    return Tries(
        examples={rule.id: len(rule.examples) for rule in rules},
        decisions={name: frozenset(found) for name, found in decisions.items()},
        untried=tuple(
            one
            for rule in rules
            for one in _untried(rule, judged[rule.id], certain[rule.id] + len(decisions[rule.id]), rulebook)
        ),
    )


def _untried(rule: Rule, judged: list[Judgement], applied: int, rulebook: Rulebook) -> Iterator[Untried]:
    if not applied:
        yield Untried(rule, None, "yes")
    for premise in rule.when:
        mine = [j for j in judged if j.term == premise.term and j.test == premise.test]
        truths = {j.truth for j in mine}
        term = rulebook.vocabulary.terms[premise.term]
        always = bool(term.values) and set(term.values) <= set(premise.test.accepts)  # known, whatever it is
        possible = [truth for truth in reversed(Truth) if truth is not Truth.NO or not always]
        yield from (Untried(rule, premise, str(truth)) for truth in possible if truth not in truths)
        occurred = {value for j in mine for value in j.fact.values or () if not isinstance(value, Quantity)}
        for value in _values(premise.test, term):
            if value not in occurred:
                yield Untried(rule, premise, value)


def _values(test: Test, term: Term) -> tuple[str, ...]:
    """The values that a premise names: those that it accepts, or, where that is most of them, those it does not."""
    others = tuple(value for value in term.values if value not in test.accepts)
    return others if len(others) < len(test.accepts) else test.accepts


@dataclass(frozen=True, slots=True)
class ClauseUse:
    """What stands on one clause of a source."""

    source: str
    clause: str
    rules: tuple[str, ...]
    examples: int
    decisions: int  # proposals, each once however many of the rules applied in it


def clause_uses(rulebook: Rulebook, tries: Tries) -> tuple[ClauseUse, ...]:
    """For each clause of each source: the rules that cite it, their examples, and the decisions they bore on."""
    found = []
    for source in rulebook.sources.values():
        for clause in source.gists or ("",):
            rules = tuple(
                rule.id
                for rule in rulebook.rules
                if rule.id in tries.examples and any((c.source, c.clause) == (source.id, clause) for c in rule.sources)
            )
            found.append(
                ClauseUse(
                    source.id,
                    clause,
                    rules,
                    sum(tries.examples[name] for name in rules),
                    len(frozenset[Decision]().union(*(tries.decisions[name] for name in rules))),
                )
            )
    return tuple(found)
