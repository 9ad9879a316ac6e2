"""One decision weighed by rules that stand between two editions: some as they were, the others as they are now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from conserve.audit.edition_rules import Pair
from conserve.engine import circles
from conserve.facts import Facts, facts_about
from conserve.inference import infer
from conserve.rule import EffectKind, Rule, Status
from conserve.rulebook import Rulebook
from conserve.rulebook.checking import check_clashes, check_overrides
from conserve.rulebook.programs import program_of
from conserve.shape import Problems
from conserve.terms import SEES, Kind, Vocabulary
from conserve.weighing import Verdict, Weighing, weigh_part
from conserve.weighing.model import ORDER

Back = frozenset[str]  # rules that are put back as they were
_NO_RULEBOOK = ("R050", "R051")  # rules set one another aside in a circle, or give a word two values


@dataclass(slots=True)
class Between:
    """Rulebooks between two editions; each is made once, and is None where it would be no sound rulebook."""

    old: Rulebook
    new: Rulebook
    pairs: Mapping[str, Pair]  # every rule on whose change a verdict can rest
    same_words: bool
    made: dict[tuple[Back, bool], Rulebook | None] = field(default_factory=dict)

    def rulebook(self, back: Back, words: bool) -> Rulebook | None:
        """The later edition with some rules as they were, and with its words as they were if `words`."""
        key = (back, words and not self.same_words)
        if key not in self.made:
            self.made[key] = self._make(back, self.old.vocabulary if key[1] else self.new.vocabulary)
        return self.made[key]

    def _make(self, back: Back, vocabulary: Vocabulary) -> Rulebook | None:
        rules = {rule.id: rule for rule in self.new.rules if rule.status is Status.ADOPTED}
        for name in back:
            was = self.pairs[name].was
            if was is None:
                del rules[name]
            else:
                rules[name] = was
        every = tuple(rules[name] for name in sorted(rules))
        if not self.same_words and not all(fits(rule, vocabulary) for rule in every):
            return None
        kinds = (
            {kind for name in back for kind in self.pairs[name].kinds} if vocabulary is self.new.vocabulary else SEES
        )
        programs = {**self.new.programs, **{kind: program_of(every, kind, vocabulary) for kind in kinds}}
        if any(circles(programs[kind].program) for kind in kinds) or not _sound(every, vocabulary):
            return None
        return Rulebook(vocabulary, self.new.sources, every, self.new.overlays, programs, "")


def _sound(rules: tuple[Rule, ...], vocabulary: Vocabulary) -> bool:
    """Whether rules neither set one another aside in a circle nor give a word two values for the same thing."""
    into = Problems("R")
    check_overrides(rules, into)
    check_clashes(rules, vocabulary, into)
    return not any(problem.code in _NO_RULEBOOK for problem in into.all)


def fits(rule: Rule, vocabulary: Vocabulary) -> bool:
    """Whether a rule can be written in these words."""
    terms = vocabulary.terms
    if rule.then.known and rule.then.known not in terms:
        return False
    word, value = rule.then.establishes
    if rule.then.kind is EffectKind.ESTABLISH and (word not in terms or value not in terms[word].values):
        return False
    for premise in rule.when:
        term = terms.get(premise.term)
        if term is None or bool(premise.test.bounds) != (term.kind is Kind.QUANTITY):
            return False
        if not {*premise.test.accepts} <= {*term.values} or not terms.keys() >= {*premise.test.limit_terms}:
            return False
    return True


@dataclass(slots=True)
class Trial:
    """The chosen option of one decision, tried by rules between two editions."""

    between: Between
    before: Weighing
    now: Weighing
    tried: dict[tuple[Back, bool], Verdict | None] = field(default_factory=dict)
    facts: dict[bool, tuple[Facts, ...]] = field(default_factory=dict)  # by the words as they were, or as they are

    def verdict(self, back: Iterable[str], words: bool = False) -> Verdict | None:
        """Its verdict with some rules, and its words if asked, put back as they were. None: no sound rulebook."""
        key = (frozenset(back), words and not self.between.same_words)
        if key not in self.tried:
            rulebook = self.between.rulebook(*key)
            self.tried[key] = None if rulebook is None else self._weigh(rulebook, key[1])
        return self.tried[key]

    def restores(self, back: Iterable[str], words: bool = False) -> bool:
        """Whether that gives the verdict as it was."""
        return self.verdict(back, words) is chosen_verdict(self.before)

    def brings(self, only: str) -> bool:
        """Whether the earlier edition with this one rule as it is now gives the verdict as it is now."""
        return self.verdict(self.between.pairs.keys() - {only}, words=True) is chosen_verdict(self.now)

    def _weigh(self, rulebook: Rulebook, words: bool) -> Verdict:
        if words not in self.facts:
            self.facts[words] = _facts(self.before if words else self.now, rulebook.vocabulary)
        parts = (weigh_part(infer(facts, rulebook), rulebook) for facts in self.facts[words])
        return min((part.option(self.now.chosen).verdict for part in parts), key=ORDER.index)


def chosen_verdict(weighing: Weighing) -> Verdict:
    """The verdict of the option that was decided on: the worst over the parts."""
    return weighing.verdicts[weighing.chosen]


def _facts(weighing: Weighing, vocabulary: Vocabulary) -> tuple[Facts, ...]:
    parts = (weighing.casebook.components[name] for name in weighing.proposal.components)
    return tuple(facts_about(weighing.proposal, part, weighing.casebook, vocabulary, weighing.on) for part in parts)
