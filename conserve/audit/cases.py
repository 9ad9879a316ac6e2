"""Decided options as cases: small, and without their casebooks, so that those of many casebooks can be put together."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from conserve.audit.case_steps import steps_of
from conserve.audit.factors import Factors, Group, Premised, badness
from conserve.explanation.words import fact_in_words
from conserve.facts import ABSENT, Fact, How, Subject, act_alone, judge
from conserve.inference import Findings
from conserve.rulebook import Rulebook
from conserve.terms import Giver, Vocabulary
from conserve.weighing.model import OptionWeighing, PartWeighing, Verdict, Weighing

_OF_OPTIONS = ("option", "act")


@dataclass(frozen=True, slots=True, order=True)
class Outcome:
    """What became of one option of a decided proposal."""

    casebook: str
    proposal: str
    option: str
    accepted: bool

    @property
    def decision(self) -> tuple[str, str]:
        """The decision that it came of: its casebook and proposal."""
        return self.casebook, self.proposal


@dataclass(frozen=True, slots=True)
class Case:
    """One option that was chosen, or that was put forward and a gentler one chosen; for one part of its proposal."""

    outcome: Outcome
    part: str
    rules: str  # the digest of the rulebook that its factors are of
    techniques: tuple[str, ...]
    verdict: Verdict
    fares: tuple[int, ...] = field(repr=False)  # its steps, then its subjects; of subjects only those worse than others
    worst: int = field(repr=False)  # everything that speaks against any of these
    packed: bytes = field(repr=False, compare=False)  # `told`, a quarter of its size

    @property
    def told(self) -> Mapping[str, str]:
        """What a factor is told by, and the facts behind it, in words."""
        told: dict[str, str] = json.loads(zlib.decompress(self.packed))
        return told


def any_of(fares: Iterable[int]) -> int:
    """Everything that speaks against any of some subjects."""
    worst = 0
    for one in fares:
        worst |= one
    return worst


def no_worse(one: Iterable[int], other: Iterable[int]) -> bool:
    """Whether each subject of one option is no worse than some subject of the other of the same kind."""
    others = tuple(other)
    return all(any(not mine & ~theirs for theirs in others) for mine in one)


def cases_of(
    weighings: Iterable[Weighing], rulebook: Rulebook, factors: Factors, casebook: str = ""
) -> tuple[Case, ...]:
    """The cases of every decided proposal. `casebook` is what it is called, where not by its own name."""
    return tuple(
        case
        for weighing in weighings
        if weighing.proposal.decision is not None
        for case in _cases(weighing, rulebook.vocabulary, factors, casebook or weighing.casebook.id)
    )


def _cases(weighing: Weighing, vocabulary: Vocabulary, factors: Factors, casebook: str) -> Iterator[Case]:
    refused = _for_a_gentler(weighing)
    for part in weighing.parts:
        reading = Reading(part.findings, factors, vocabulary)
        for one in part.options:
            accepted = one.option.id == weighing.chosen
            if one.option.acts and (accepted or one.option.id in refused):
                fares = reading.fares(one, part)
                yield Case(
                    Outcome(casebook, weighing.proposal.id, one.option.id, accepted),
                    part.component.id,
                    factors.rules,
                    tuple(sorted({act.technique for act in one.option.acts})),
                    one.verdict,
                    fares,
                    any_of(fares),
                    zlib.compress(json.dumps(reading.told(one, part)).encode()),
                )


def _for_a_gentler(weighing: Weighing) -> set[str]:
    """The options instead of which something was chosen that, for every part, loses less or does nothing."""

    def gentler(one: OptionWeighing, part: PartWeighing) -> bool:
        return weighing.chosen in one.gentler or not part.option(weighing.chosen).option.acts

    every = ({one.option.id for one in part.options if gentler(one, part)} for part in weighing.parts)
    return set.intersection(*every)


def fares_of(part: PartWeighing, factors: Factors, vocabulary: Vocabulary) -> dict[str, tuple[int, ...]]:
    """How each option of a part fares, decided or not."""
    reading = Reading(part.findings, factors, vocabulary)
    return {one.option.id: reading.fares(one, part) for one in part.options}


class Reading:
    """Reads how options fare from the facts of one part. What several subjects see is judged, and told, once."""

    def __init__(self, findings: Findings, factors: Factors, vocabulary: Vocabulary) -> None:
        self.facts, self.factors, self.terms = findings.facts, factors, vocabulary.terms
        self.today = findings.facts.today
        self.by_id = {subject.id: subject for subject in self.today.subjects}
        self.judged: dict[tuple[int, str], int] = {}  # (a group, what is seen) -> how that fares
        self.words: dict[tuple[str, str], str] = {}

    def fares(self, one: OptionWeighing, part: PartWeighing) -> tuple[int, ...]:
        """Its steps, then each subject that bears on it, without those that another is as bad as."""
        factors = self.factors
        steps = any_of(factors.bits(factors.steps[came.told_by], came.bad) for came in steps_of(one, part))
        return (steps | factors.there(""), *self.subjects(one.option.id))

    def subjects(self, option: str) -> tuple[int, ...]:
        """How each subject that bears on an option fares, without those that another is as bad as."""
        every = {fares for subject in self._bearing(option) if (fares := self._of(subject)) is not None}
        return tuple(sorted(a for a in every if not any(a != b and not a & ~b for b in every)))

    def _bearing(self, option: str) -> Iterator[Subject]:
        """The subjects whose findings bear on an option, as a weighing has it, and about which some rule counts."""
        for subject in self.today.subjects:
            counts = self.factors.groups[subject.kind] or subject.kind in self.factors.always
            if counts and (subject.kind not in _OF_OPTIONS or subject.owned_by(f"option:{option}")):
                yield subject

    def _of(self, subject: Subject) -> int | None:
        """How a subject fares. None: no finding about it can speak against an option."""
        whole = self.by_id[act_alone(subject.id)] if subject.kind == "act" else subject
        groups = self.factors.groups[subject.kind]
        found = any_of(self._of_group(group, whole if group.whole else subject) for group in groups)
        if not found & self.factors.may_be_against and subject.kind not in self.factors.always:
            return None
        return found | self.factors.there(subject.kind)

    def _of_group(self, group: Group, subject: Subject) -> int:
        key = (group.number, subject.id if group.alone else subject.sees.get(group.owner, ABSENT))
        if key not in self.judged:
            self.judged[key] = any_of(self._of_factor(number, subject) for number in group.factors)
        return self.judged[key]

    def _of_factor(self, number: int, subject: Subject) -> int:
        factor = self.factors.all[number]
        assert isinstance(factor, Premised)
        found = judge(
            factor.test,
            self.terms[factor.term],
            self._look(subject, factor.term),
            lambda name: self._look(subject, name),
        )
        return self.factors.bits(number, badness(factor.counts, found.truth))

    def _look(self, subject: Subject, name: str) -> Fact:
        """A fact as a subject sees it; a word that rules establish is that of the subject itself."""
        term = self.terms[name]
        if term.giver is Giver.RULE and term.owner == subject.kind:
            return self.today.facts[subject.id, name]
        return self.today.look(subject, term)

    # ---- in words --------------------------------------------------------------------------------------------------

    def told(self, one: OptionWeighing, part: PartWeighing) -> dict[str, str]:
        """Every fact that a factor asks for, as the option's subjects see it; and what its steps came to."""
        facts: dict[str, dict[str, Fact]] = {}
        for subject in self._bearing(one.option.id):
            for name in self.factors.asked[subject.kind]:
                fact = self._look(subject, name)
                facts.setdefault(name, {})[fact.subject] = fact
        told = {name: "; ".join(dict.fromkeys(map(self._in_words, _there(some)))) for name, some in facts.items()}
        for came in steps_of(one, part):
            known = told.get(came.told_by)
            told[came.told_by] = f"{known}; {came.about}" if known else came.about
        return told

    def _in_words(self, fact: Fact) -> str:
        key = (fact.subject, fact.term)
        if key not in self.words:
            self.words[key] = fact_in_words(fact, self.facts)
        return self.words[key]


def _there(facts: Mapping[str, Fact]) -> Iterable[Fact]:
    """Facts of things that are there; where none is, that there is none."""
    return [fact for fact in facts.values() if fact.how is not How.ABSENT] or list(facts.values())[:1]
