"""Find which rules apply to which subjects: for certain, or only if something unknown turns out so."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from conserve.engine import Outcome, fire
from conserve.facts import ABSENT, Fact, Facts, How, Judgement, Subject, Today, judge
from conserve.quantity import Quantity
from conserve.rule import EffectKind, Premise, Rule, Test
from conserve.rulebook import KindProgram, Rulebook
from conserve.terms import SEES, Giver, Vocabulary
from conserve.truth import Truth, all_of


@dataclass(frozen=True, slots=True)
class Finding:
    """The state of one rule for one subject, and its grounds.

    `truth` is yes where the rule applies, unknown where it is open, no where it is silent. The grounds of a
    silent rule end at the premise that failed.
    """

    rule: Rule
    subject: Subject
    truth: Truth
    grounds: tuple[Judgement, ...]

    @property
    def certain(self) -> bool:
        return self.truth is Truth.YES


@dataclass(frozen=True, slots=True)
class Findings:
    """The state of every rule for every subject of one proposal and component."""

    facts: Facts
    all: tuple[Finding, ...]
    telling: tuple[Finding, ...] = field(init=False, repr=False, compare=False)
    """Those that apply or are open, other than those that only establish a word."""

    def __post_init__(self) -> None:
        telling = [f for f in self.all if f.truth is not Truth.NO and f.rule.then.kind is not EffectKind.ESTABLISH]
        object.__setattr__(self, "telling", tuple(telling))

    def established(self, subject: str, term: str) -> Fact | None:
        return self.facts.today.facts.get((subject, term))


_Judged = dict[tuple[int, str], Judgement]  # (a kind's premise, what is seen) -> what it comes to


def infer(facts: Facts, rulebook: Rulebook, near: Findings | None = None) -> Findings:
    """Fire the rules about each subject, owners first, so that what they establish flows down.

    `near` are findings of the same rules on much the same facts: where no fact that a subject's rules ask about has
    changed since, what they came to there is kept. It saves time and changes nothing.
    """
    known = dict(facts.today.facts)
    today = Today(facts.today.subjects, known)
    judged: dict[str, _Judged] = {}  # kind -> its premises
    since = _Since(near, today) if near is not None else None
    found: list[Finding] = []
    for subject in today.subjects:
        program = rulebook.programs[subject.kind]
        if not program.rules:
            continue
        kept = since.kept(subject, program, known) if since is not None else None
        if kept is None:
            kept = tuple(
                _fire(subject, program, today, known, judged.setdefault(subject.kind, {}), rulebook.vocabulary)
            )
            if since is not None:
                since.note(subject, program, known)
        found += kept
    return Findings(replace(facts, today=today), tuple(found))


class _Since:
    """What has changed since findings on much the same facts."""

    def __init__(self, near: Findings, today: Today) -> None:
        self.subjects = {subject.id: subject for subject in near.facts.today.subjects}
        self.facts = near.facts.today.facts
        self.found: dict[str, list[Finding]] = {}
        for finding in near.all:
            self.found.setdefault(finding.subject.id, []).append(finding)
        self.changed: dict[str, set[str]] = {}  # term -> the subjects for which it is another
        written = {key for key, fact in self.facts.items() if fact.how is not How.ESTABLISHED}
        for subject, term in written | today.facts.keys():
            if today.facts.get((subject, term)) != self.facts.get((subject, term)):
                self.changed.setdefault(term, set()).add(subject)

    def kept(
        self, subject: Subject, program: KindProgram, known: dict[tuple[str, str], Fact]
    ) -> tuple[Finding, ...] | None:
        """The findings about a subject, if they are as they were; what its rules establish goes into `known`."""
        if self.subjects.get(subject.id) != subject:
            return None
        for term in program.asks & self.changed.keys():
            if subject.sees.get(term.partition(".")[0], ABSENT) in self.changed[term]:
                return None
        for word in program.program.words:
            known[subject.id, word.name] = self.facts[subject.id, word.name]
        return tuple(self.found[subject.id])

    def note(self, subject: Subject, program: KindProgram, known: Mapping[tuple[str, str], Fact]) -> None:
        """Note which words the rules about a subject establish otherwise than before."""
        for word in program.program.words:
            if known[subject.id, word.name] != self.facts.get((subject.id, word.name)):
                self.changed.setdefault(word.name, set()).add(subject.id)


def _fire(
    subject: Subject,
    program: KindProgram,
    today: Today,
    known: dict[tuple[str, str], Fact],
    judged: _Judged,
    vocabulary: Vocabulary,
) -> Iterator[Finding]:
    """Fire one kind's rules for one subject; note in `known` what they establish."""

    def judgement(number: int) -> Judgement:
        premise = program.premises[number]
        term, test = vocabulary.terms[premise.term], premise.test
        # Subjects that see the same thing share its judgement; a limit may be another thing to each of them.
        seen = subject.id if test.bounds and test.names_limit else subject.sees.get(term.owner, ABSENT)
        found = judged.get((number, seen))
        if found is None:
            fact = today.look(subject, term)
            found = judge(test, term, fact, lambda name: today.look(subject, vocabulary.terms[name]))
            judged[number, seen] = found
        return found

    asked: list[Judgement | None] = [None] * len(program.premises)  # of this subject, each at most once
    grounds = [_grounds(premises, asked, judgement) for premises in program.ordinary]
    bodies = tuple([min([j.truth for j in one], default=Truth.YES) for one in grounds])
    outcome = fire(program.program, bodies)
    for number, word in enumerate(program.program.words):
        fact = Fact(word.name, subject.id, outcome.words[number], How.ESTABLISHED)
        known[subject.id, word.name] = fact
    for number, rule in enumerate(program.rules):
        awaited = () if bodies[number] is Truth.NO else _awaited(number, program, outcome, subject)
        yield Finding(rule, subject, outcome.clauses[number], (*grounds[number], *awaited))


def _grounds(
    premises: tuple[int, ...], asked: list[Judgement | None], judgement: Callable[[int], Judgement]
) -> tuple[Judgement, ...]:
    """Judge premises in turn; stop at one that is no, for then the rule is silent."""
    found: list[Judgement] = []
    for premise in premises:
        one = asked[premise]
        if one is None:
            one = asked[premise] = judgement(premise)
        found.append(one)
        if one.truth is Truth.NO:
            break
    return tuple(found)


def _awaited(number: int, program: KindProgram, outcome: Outcome, subject: Subject) -> tuple[Judgement, ...]:
    """The premises on words that rules about the same kind of subject establish."""
    found = []
    for index in program.program.clauses[number].waits_for:
        premise = program.program.premises[index]
        word = program.program.words[premise.word].name
        fact = Fact(word, subject.id, outcome.words[premise.word], How.ESTABLISHED)
        found.append(Judgement(word, Test(tuple(sorted(premise.accepts))), fact, outcome.premises[index]))
    return tuple(found)


def states(findings: Findings) -> Mapping[str, Truth]:
    """The strongest state of every rule over all its subjects."""
    strongest: dict[str, Truth] = {}
    for finding in findings.all:
        strongest[finding.rule.id] = max(finding.truth, strongest.get(finding.rule.id, Truth.NO))
    return strongest


# ---- trying one rule ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Tried:
    """What became of one rule on given facts: its effect's kind, `silent` or `open`, and every premise judged."""

    outcome: str
    grounds: tuple[Judgement, ...]

    @property
    def decisive(self) -> tuple[Judgement, ...]:
        """The premises that keep the rule from applying for certain. None where it applies."""
        worst = min((ground.truth for ground in self.grounds), default=Truth.YES)
        return () if worst is Truth.YES else tuple(ground for ground in self.grounds if ground.truth is worst)


def tried(rule: Rule, given: Mapping[str, tuple[str | Quantity, ...]], rulebook: Rulebook) -> Tried:
    """Try a rule, adopted or not, on facts by term. What is not given is unknown; words are established from it.

    No values, `()`, is the answer `none`. A word that rules establish may also be given, and is then as given.
    """
    known = {term: Fact(term, "", values, How.WRITTEN) for term, values in given.items()}
    terms = rulebook.vocabulary.terms

    def look(name: str) -> Fact:
        return known.get(name) or Fact(name, "", None, How.SILENT)

    def judged(premise: Premise) -> Judgement:
        return judge(premise.test, terms[premise.term], look(premise.term), look)

    asked = any(terms[premise.term].giver is Giver.RULE for premise in rule.when)
    for kind in reversed(SEES[rule.about]) if asked else ():  # owners first
        program = rulebook.programs.get(kind)  # none where nothing is established: of a technique
        if program is not None and program.program.words:
            truths = [judged(premise).truth for premise in program.premises]
            bodies = tuple(all_of(truths[number] for number in one) for one in program.ordinary)
            words = fire(program.program, bodies).words
            for word, values in zip(program.program.words, words, strict=True):
                known.setdefault(word.name, Fact(word.name, "", values, How.ESTABLISHED))
    grounds = tuple(judged(premise) for premise in rule.when)
    truth = all_of(ground.truth for ground in grounds)
    outcome = rule.then.kind.value if truth is Truth.YES else "open" if truth is Truth.UNKNOWN else "silent"
    return Tried(outcome, grounds)


def outcome_of(rule: Rule, given: Mapping[str, tuple[str | Quantity, ...]], rulebook: Rulebook) -> str:
    """What a rule comes to on given facts: its effect's kind, `silent` or `open`; what an example expects."""
    return tried(rule, given, rulebook).outcome
