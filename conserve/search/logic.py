"""The rules of a rulebook as goals: when a premise, a word, a rule and its standing are so.

A word that rules establish has the values of its rules that apply or may apply, and its `otherwise` unless one
applies for certain: it is worked out, never told. A finding is *in* when its rule is certain and no rule that is in
or open overrides it; an override reaches the same kind of subject and what that owns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from conserve.quantity import Quantity
from conserve.rule import Bound, EffectKind, Premise, Rule, Status
from conserve.search.case import TECHNIQUE, UNKNOWN, All, Any, Goal, NoNumber, Number, One, Some
from conserve.search.order import Below, End
from conserve.terms import Giver, Term, Vocabulary
from conserve.truth import Truth

YES = frozenset({Truth.YES})
NO = frozenset({Truth.NO})
OPEN = frozenset({Truth.UNKNOWN})
NOT_NO = YES | OPEN
NOT_YES = NO | OPEN
NOTHING, ALWAYS = Any(()), All(())

OWNERS: Mapping[str, tuple[str, ...]] = {
    "object": (),
    "component": ("object",),
    "surface": ("component", "object"),
    "mark": ("surface", "component", "object"),
    "repair": ("component", "object"),
    "defect": ("component", "object"),
    "proposal": ("component", "object"),
    "option": ("proposal", "component", "object"),
    "act": ("option", "proposal", "component", "object"),
}


def reaches(one: str, other: str) -> bool:
    """Whether a rule about one kind of thing may override a rule about another."""
    return one == other or one in OWNERS[other]


class Logic:
    """The adopted rules of one rulebook, as goals."""

    def __init__(self, rules: Iterable[Rule], vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.rules = tuple(rule for rule in rules if rule.status is Status.ADOPTED)
        self._givers: dict[str, list[tuple[Rule, str]]] = {}
        self._above: dict[str, list[Rule]] = {}
        self._found: dict[tuple[str, object], Goal] = {}
        by_id = {rule.id: rule for rule in self.rules}
        for rule in self.rules:
            if rule.then.kind is EffectKind.ESTABLISH:
                self._givers.setdefault(rule.then.establishes[0], []).append((rule, rule.then.establishes[1]))
            for edge in rule.overrides:
                if edge.rule in by_id and reaches(rule.about, by_id[edge.rule].about):
                    self._above.setdefault(edge.rule, []).append(rule)

    # ---- what a rule comes to -------------------------------------------------------------------------

    def rule(self, rule: Rule, truths: frozenset[Truth]) -> Goal:
        """The rule comes to one of these."""
        return self._once(f"rule {rule.id}", truths, lambda: self.body(rule.when, truths))

    def body(self, when: tuple[Premise, ...], truths: frozenset[Truth]) -> Goal:
        """All these premises together come to one of these."""
        if truths == OPEN:
            return All((self.body(when, NOT_NO), self.body(when, NOT_YES)))
        of = tuple(self.premise(premise, truths) for premise in when)
        return All(of) if Truth.YES in truths else Any(of)

    def is_in(self, rule: Rule) -> Goal:
        """The rule is certain, and nothing that is in or open overrides it."""
        above = self._above.get(rule.id, ())
        return self._once(rule.id, "in", lambda: All((self.rule(rule, YES), *(self.is_out(other) for other in above))))

    def is_not_in(self, rule: Rule) -> Goal:
        above = self._above.get(rule.id, ())
        return self._once(
            rule.id, "not in", lambda: Any((self.rule(rule, NOT_YES), *(self.is_live(other) for other in above)))
        )

    def is_live(self, rule: Rule) -> Goal:
        """The rule is in or open."""
        above = self._above.get(rule.id, ())
        return self._once(
            rule.id, "live", lambda: All((self.rule(rule, NOT_NO), *(self.is_not_in(other) for other in above)))
        )

    def is_out(self, rule: Rule) -> Goal:
        """The rule is silent, or one that is in overrides it."""
        above = self._above.get(rule.id, ())
        return self._once(rule.id, "out", lambda: Any((self.rule(rule, NO), *(self.is_in(other) for other in above))))

    def _once(self, name: str, what: object, make: Callable[[], Goal]) -> Goal:
        if (name, what) not in self._found:
            self._found[name, what] = make()
        return self._found[name, what]

    def overriders(self, rule: Rule) -> tuple[Rule, ...]:
        return tuple(self._above.get(rule.id, ()))

    def givers(self, word: str) -> tuple[tuple[Rule, str], ...]:
        """The rules that establish a word, each with the value it gives."""
        return tuple(self._givers.get(word, ()))

    def asked(self, rule: Rule) -> frozenset[str]:
        """The words that bear on a rule: those it asks about, and those from which rules establish these."""
        limits = {b.limit for premise in rule.when for b in premise.test.bounds if isinstance(b.limit, str)}
        own = frozenset(premise.term for premise in rule.when) | limits
        return own.union(*(self.asked(giver) for name in own for giver, _ in self.givers(name)))

    # ---- what a premise comes to ----------------------------------------------------------------------

    def premise(self, premise: Premise, truths: frozenset[Truth]) -> Goal:
        """A premise comes to one of these."""
        term, accepts = self.vocabulary.terms[premise.term], frozenset(premise.test.accepts)
        if term.giver is Giver.RULE:
            return self._word(term, accepts, truths)
        if premise.test.bounds:
            return _number(term, premise.test.bounds, truths)
        if term.owner == "technique" or term.name == TECHNIQUE:
            return self._technique(term, accepts, truths)
        if term.many:
            return Any(tuple(Some(term.name, accepts, truth) for truth in sorted(truths)))
        passing = {value for value in term.values if value in accepts}
        states = passing if Truth.YES in truths else set()
        states |= set(term.values) - passing if Truth.NO in truths else set()
        return One(term.name, frozenset(states | ({UNKNOWN} if Truth.UNKNOWN in truths else set())))

    def _technique(self, term: Term, accepts: frozenset[str], truths: frozenset[Truth]) -> Goal:
        """What an act's technique is known to be: an act always has one."""
        named = {
            name: name if term.name == TECHNIQUE else technique.facts[term.name]
            for name, technique in self.vocabulary.techniques.items()
        }
        wanted = (name for name, value in named.items() if (Truth.YES if value in accepts else Truth.NO) in truths)
        return One(TECHNIQUE, frozenset(wanted))

    def _word(self, word: Term, accepts: frozenset[str], truths: frozenset[Truth]) -> Goal:
        """What is known of a word that rules establish: which values it may have."""
        good, bad = self._may_be(word, accepts, inside=True), self._may_be(word, accepts, inside=False)
        if truths == OPEN:
            return All((good, bad))
        if truths == NOT_NO:
            return good
        if truths == NOT_YES:
            return bad
        return self._cannot_be(word, accepts, inside=truths == NO)

    def _may_be(self, word: Term, accepts: frozenset[str], *, inside: bool) -> Goal:
        """The word may have a value that is accepted, or (not inside) one that is not."""
        givers = self.givers(word.name)
        ways = [self.rule(rule, NOT_NO) for rule, value in givers if (value in accepts) is inside]
        if (word.otherwise in accepts) is inside:
            ways.append(All(tuple(self.rule(rule, NOT_YES) for rule, _ in givers)))
        return Any(tuple(ways))

    def _cannot_be(self, word: Term, accepts: frozenset[str], *, inside: bool) -> Goal:
        givers = self.givers(word.name)
        musts = [self.rule(rule, NO) for rule, value in givers if (value in accepts) is inside]
        if (word.otherwise in accepts) is inside:
            musts.append(Any(tuple(self.rule(rule, YES) for rule, _ in givers)))
        return All(tuple(musts))


# ---- numbers ----------------------------------------------------------------------------------------


def _number(term: Term, bounds: tuple[Bound, ...], truths: frozenset[Truth]) -> Goal:
    """What a number against its limits comes to; unknown where it or a limit is."""
    ways: list[Goal] = []
    if Truth.YES in truths:
        ways.append(All(tuple(Number(_below(term.name, bound)) for bound in bounds)))
    if Truth.NO in truths:
        ways += (Number(_opposite(_below(term.name, bound))) for bound in bounds)
    if Truth.UNKNOWN in truths:
        limits = (bound.limit for bound in bounds if isinstance(bound.limit, str))
        ways += (NoNumber(name) for name in (term.name, *limits))
    return Any(tuple(ways))


def _below(name: str, bound: Bound) -> Below:
    limit: End = bound.limit.to_base().amount if isinstance(bound.limit, Quantity) else bound.limit
    strictly = bound.how in ("above", "below")
    return Below(name, limit, strictly) if bound.how in ("below", "at_most") else Below(limit, name, strictly)


def _opposite(below: Below) -> Below:
    return Below(below.high, below.low, not below.strictly)
