"""What cases are compared by: every premise that may count for or against an option, and every step of a weighing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from conserve.casebook import NeedKind
from conserve.explanation.words import plain, term_in_words, test_in_words
from conserve.rule import EffectKind, Rule, Test
from conserve.rulebook import Rulebook
from conserve.terms import SEES, Giver, Term
from conserve.truth import Truth, opposite
from conserve.weighing.model import NeedState, Step

AGAINST = (EffectKind.FORBID, EffectKind.REFER, EffectKind.REQUIRE, EffectKind.AGAINST)
LACKS = (NeedState.OPEN, NeedState.IN_DOUBT, NeedState.FAILED)  # each worse than the one before
_SEEN_ONLY = {"act": ("technique", "surface", "mark", "defect")}  # what an act sees, and is not owned by


class Counts(StrEnum):
    """Which way something counts, where it holds."""

    AGAINST = "against"
    FOR = "for"


@dataclass(frozen=True, slots=True)
class Premised:
    """A premise as one kind of subject sees it, and the rules for which it counts this way.

    A premise that counts both ways stands twice. `whole`: as the act sees it without its face or mark.
    """

    kind: str
    term: str
    test: Test
    counts: Counts
    whole: bool
    rules: tuple[str, ...]

    @property
    def told_by(self) -> str:
        """What its facts are told by in a case."""
        return self.term


@dataclass(frozen=True, slots=True)
class Stepped:
    """A step of the weighing, which counts against an option. `about` is the kind of a need, or a rule's id."""

    step: Step | NeedState
    about: str = ""

    @property
    def told_by(self) -> str:
        return f"{self.step}/{self.about}"

    @property
    def rules(self) -> tuple[str, ...]:
        return (self.about,) if "/" in self.about else ()


Factor = Premised | Stepped


@dataclass(frozen=True, slots=True)
class Group:
    """Factors of a kind that come out alike for all subjects that see the same `owner`; each its own if `alone`."""

    number: int
    kind: str
    owner: str
    alone: bool
    whole: bool
    factors: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Factors:
    """The factors of one rulebook, numbered. The same digest always gives the same numbers.

    How a subject fares is one number: a bit for each factor that counts against it for certain, one for each that at
    least may, and one for its kind. So a subject is no worse than another where it has no bit that the other lacks.
    """

    rules: str  # the rulebook's digest
    all: tuple[Factor, ...]
    always: frozenset[str]  # kinds about which some rule counts whatever the facts
    groups: Mapping[str, tuple[Group, ...]] = field(repr=False)
    steps: Mapping[str, int] = field(repr=False)  # what a step is told by -> its number
    asked: Mapping[str, tuple[str, ...]] = field(repr=False)  # kind -> the terms that its factors are about
    may_be_against: int = field(repr=False)  # the bits of all premises that speak against an option, or may

    def bits(self, number: int, bad: Truth) -> int:
        """What a factor adds to how a subject fares: `bad` says whether it speaks against the option."""
        maybe = 1 << len(self.all) + number
        return 0 if bad is Truth.NO else maybe if bad is Truth.UNKNOWN else maybe | 1 << number

    def there(self, kind: str) -> int:
        """The bit that says that there is a subject of this kind; "" are the steps."""
        return 1 << 2 * len(self.all) + ("", *SEES).index(kind)

    @property
    def kinds(self) -> int:
        """How many such bits there are."""
        return 1 + len(SEES)

    def numbers(self, bits: int) -> tuple[int, ...]:
        """The factors of which some bit is set."""
        size = len(self.all)
        of_any = (bits | bits >> size) & (1 << size) - 1
        return tuple(number for number in range(size) if of_any >> number & 1)


def counting(rule: Rule) -> bool:
    """Whether a rule may change a verdict for the worse. Routine work never does."""
    return rule.then.kind in AGAINST and not rule.then.routine


def badness(counts: Counts, truth: Truth) -> Truth:
    """Whether something that is so true speaks against an option."""
    return truth if counts is Counts.AGAINST else opposite(truth)


def factors_of(rulebook: Rulebook) -> Factors:
    """Every factor of a rulebook: nothing is one that no rule asks for and no step of the weighing knows."""
    rules = sorted((rule for one in rulebook.programs.values() for rule in one.rules), key=lambda rule: rule.id)
    found: dict[tuple[str, str, Test, Counts, bool], dict[str, None]] = {}
    for rule in filter(counting, rules):
        for kind, by, counts, whole in _speaking(rule, rules):
            for premise in by.when:
                found.setdefault((kind, premise.term, premise.test, counts, whole), {})[by.id] = None
    premised = tuple(Premised(*key, tuple(by)) for key, by in found.items())
    stepped = tuple(_steps(rules))
    against = (number for number, one in enumerate(premised) if one.counts is Counts.AGAINST)
    return Factors(
        rules=rulebook.digest,
        all=(*premised, *stepped),
        always=frozenset(rule.about for rule in rules if counting(rule) and not rule.when),
        groups=_groups(premised, rulebook.vocabulary.terms),
        steps={one.told_by: number for number, one in enumerate(stepped, len(premised))},
        asked={kind: tuple(_asked(kind, premised)) for kind in SEES},
        may_be_against=sum(1 << len(premised) + len(stepped) + number for number in against),
    )


def _asked(kind: str, factors: tuple[Premised, ...]) -> dict[str, None]:
    """The terms that the factors of a kind are about, with those that stand as limits."""
    asked = ((one.term, *one.test.limit_terms) for one in factors if one.kind == kind)
    return dict.fromkeys(name for names in asked for name in names)


# ---- which premises count, and which way ---------------------------------------------------------------------------


def _speaking(rule: Rule, rules: list[Rule]) -> Iterator[tuple[str, Rule, Counts, bool]]:
    """A rule that counts against an option, and whatever settles it, settles that, and so on.

    What settles a finding may be about its subject or an owner of it, all of whose facts the subject sees. Only an
    act at a face or a mark sees another thing there than the act as a whole, so that the whole is asked too.
    """
    waiting = [(rule, Counts.AGAINST, False)]
    for one, counts, whole in waiting:  # which grows: overrides stand in no circle
        yield rule.about, one, counts, whole
        other = Counts.FOR if counts is Counts.AGAINST else Counts.AGAINST
        for above in (by for by in rules if any(edge.rule == one.id for edge in by.overrides)):
            if above.about in _owners(one.about):
                waiting.append((above, other, whole))
                if above.about == "act" and not whole and _at_a_place(above):
                    waiting.append((above, other, True))


def _owners(kind: str) -> tuple[str, ...]:
    """The kinds of a subject itself and of what owns it."""
    return tuple(one for one in SEES[kind] if one not in _SEEN_ONLY.get(kind, ()))


def _at_a_place(rule: Rule) -> bool:
    """Whether it may come out otherwise for an act as a whole than for the same act at a face or a mark."""
    return any(premise.term.startswith(("surface.", "mark.")) for premise in rule.when) or any(
        term.startswith(("surface.", "mark.")) for premise in rule.when for term in premise.test.limit_terms
    )


def _steps(rules: list[Rule]) -> Iterator[Stepped]:
    for kind in NeedKind:
        yield from (Stepped(state, kind) for state in (*LACKS, NeedState.GIVEN_UP))
        yield Stepped(Step.OWED_LATER, kind)
    yield Stepped(Step.NOT_CALLED_FOR)
    steps = {EffectKind.AGAINST: Step.OBJECTION, EffectKind.REFER: Step.REFERRED, EffectKind.REQUIRE: Step.OWED_NOW}
    yield from (Stepped(steps[rule.then.kind], rule.id) for rule in rules if counting(rule) and rule.then.kind in steps)
    yield Stepped(Step.GENTLER_STANDS)
    yield Stepped(Step.GENTLER_WAITED_FOR)


def _groups(factors: tuple[Premised, ...], terms: Mapping[str, Term]) -> dict[str, tuple[Group, ...]]:
    found: dict[tuple[str, str, bool, bool], list[int]] = {}
    for number, one in enumerate(factors):
        term = terms[one.term]
        # A limit may be another thing to each subject, and a word is established of each by itself.
        alone = one.test.names_limit or (term.giver is Giver.RULE and term.owner == one.kind)
        found.setdefault((one.kind, term.owner, alone, one.whole), []).append(number)
    groups = [Group(at, *key, tuple(numbers)) for at, (key, numbers) in enumerate(found.items())]
    return {kind: tuple(one for one in groups if one.kind == kind) for kind in SEES}


# ---- in words ------------------------------------------------------------------------------------------------------

_STEPS: Mapping[Step | NeedState, str] = {
    NeedState.OPEN: "of a {} need it is not known whether it is met, or worse",
    NeedState.IN_DOUBT: "a {} need is left in doubt, or fails",
    NeedState.FAILED: "a {} need fails",
    NeedState.GIVEN_UP: "a {} need is given up",
    Step.OWED_LATER: "a {} need waits for a competent person's conclusion",
    Step.NOT_CALLED_FOR: "an act is not called for",
    Step.OBJECTION: "the objection {} is not answered",
    Step.REFERRED: "the referral {} has no report",
    Step.OWED_NOW: "what {} requires is not there",
    Step.GENTLER_STANDS: "a gentler option stands",
    Step.GENTLER_WAITED_FOR: "another option may yet do",
}


def factor_in_words(factor: Factor) -> str:
    """What is asked: "surface, function: sliding or sealing"; or what a step came to: "a function need fails"."""
    if isinstance(factor, Stepped):
        return _STEPS[factor.step].format(factor.about)
    asked = f"{plain(factor.term.partition('.')[0])}, {term_in_words(factor.term)}: {test_in_words(factor.test)}"
    return f"{asked} (of the act as a whole)" if factor.whole else asked
