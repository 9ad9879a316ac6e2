"""One rule: what it is about, its premises, its one effect, its sources and its own examples."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache
from itertools import product

from conserve.problem import Location, nearest
from conserve.quantity import Quantity, show
from conserve.shape import (
    Amount,
    Choice,
    Day,
    Either,
    Field,
    Flag,
    Line,
    ListOf,
    Problems,
    Record,
    RuleName,
    Shape,
    Value,
    Words,
)
from conserve.terms import SEES, Giver, Kind, Term, Vocabulary, value_shape

COMMON_PRACTICE = "common-practice"
_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


class EffectKind(StrEnum):
    """What a rule does when it applies."""

    FORBID = "forbid"
    REFER = "refer"
    REQUIRE = "require"
    AGAINST = "against"
    NOTE = "note"
    ESTABLISH = "establish"


class Stage(StrEnum):
    """By when a requirement must be met, in order."""

    DECISION = "decision"
    BEFORE_WORK = "before-work"
    DURING_WORK = "during-work"
    AFTER_WORK = "after-work"
    BEFORE_USE = "before-use"


class Status(StrEnum):
    """Whether a rule counts. A draft is only tried."""

    DRAFT = "draft"
    ADOPTED = "adopted"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True)
class Bound:
    """One comparison with a limit: a quantity, or another term's value."""

    how: str  # above | below | at_least | at_most
    limit: Quantity | str


@dataclass(frozen=True, slots=True)
class Test:
    """What must be true of a term's value: one of these values, or within these bounds."""

    accepts: tuple[str, ...] = ()
    bounds: tuple[Bound, ...] = ()

    @property
    def names_limit(self) -> bool:
        """Whether a limit is another term's value."""
        return bool(self.limit_terms)

    @property
    def limit_terms(self) -> tuple[str, ...]:
        """The terms whose values stand as limits."""
        return tuple([bound.limit for bound in self.bounds if isinstance(bound.limit, str)])


@dataclass(frozen=True, slots=True)
class Premise:
    """One thing that must hold for a rule to apply."""

    term: str
    test: Test
    where: Location


@dataclass(frozen=True, slots=True)
class Effect:
    """What a rule says when it applies."""

    kind: EffectKind
    says: str = ""
    instead: str = ""
    gate: bool = False
    to: str = ""  # of refer: the role
    by: Stage | None = None  # of require: the stage
    evidence: str = ""  # of require: the kind of evidence that meets it
    answer: bool = False  # of require: a person's answer meets it
    known: str = ""  # of require: the term that must be known
    routine: bool = False
    establishes: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Override:
    """A named edge to another rule, which this one sets aside or stands beside, and why."""

    rule: str
    why: str
    where: Location


@dataclass(frozen=True, slots=True)
class Citation:
    """A source and, if it is published, its clause."""

    source: str
    clause: str
    where: Location

    def __str__(self) -> str:
        return f"{self.source} {self.clause}".strip()


@dataclass(frozen=True, slots=True)
class Example:
    """A case that the rule must decide as it says."""

    name: str
    given: Mapping[str, tuple[str | Quantity, ...]]
    expect: str
    where: Location


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of practice."""

    id: str
    title: str
    status: Status
    since: date
    about: str
    sources: tuple[Citation, ...]
    because: str
    when: tuple[Premise, ...]
    then: Effect
    overrides: tuple[Override, ...]
    beside: tuple[Override, ...]  # rules that may apply with this one although they pull apart, and why that is right
    examples: tuple[Example, ...]
    where: Location

    @property
    def principle(self) -> str:
        return self.id.split("/")[-2]

    @property
    def overlay(self) -> str:
        """The overlay that it belongs to; none: the rulebook itself."""
        first, _, rest = self.id.partition("/")
        return first if "/" in rest else ""


# ---- tests ----------------------------------------------------------------------------------------

_BOUNDS = ("above", "below", "at_least", "at_most")
EVIDENCE_KINDS = (
    "photograph",
    "drawing",
    "measurement-sheet",
    "document",
    "report",
    "sample",
    "scan",
    "survey",
    "permit",
    "statement",
)


def test_shape(term: Term, limits: tuple[str, ...] = ()) -> Shape:
    """The shape of a test on a term; `limits` are the terms that may stand as a limit."""
    if term.kind is Kind.QUANTITY:
        limit = Either(
            text=Amount(term.unit, exact=True), entries=Record((Field("term", Choice(limits, "term"), required=True),))
        )
        return Either(
            entries=Record(
                (
                    *(Field(name, limit) for name in _BOUNDS),
                    Field("between", ListOf(Amount(term.unit, exact=True))),
                )
            )
        )
    one = Choice(term.values, term.short.replace("_", " "))
    return Either(text=one, entries=Record((Field("any_of", ListOf(one)), Field("not", one))))


def read_test(value: Value, term: Term, into: Problems) -> Test:
    """Turn what a test's shape has read into a test; say what cannot be meant."""
    content = value.content
    if not isinstance(content, dict):
        return Test(accepts=(content,))
    if not content and any(problem.where.at.startswith(value.where.at) for problem in into.all):
        return Test()  # its one limit has been refused already
    if len(content) != 1:
        into.note(value.where, 41, "a test says one thing", "write one of any_of, not, above, below, between …")
        return Test()
    ((how, said),) = content.items()
    if how == "not":
        return Test(accepts=tuple(v for v in term.values if v != said.content))
    if how == "any_of":
        accepts = tuple(item.content for item in said.content)
        if not accepts:
            into.note(said.where, 42, "an empty list can never be met", "name at least one value")
        return Test(accepts=accepts)
    if how == "between":
        return _between(said, into)
    limit = said.content
    return Test(bounds=(Bound(how, limit["term"].content if isinstance(limit, dict) else limit),))


def _between(said: Value, into: Problems) -> Test:
    ends = tuple(item.content for item in said.content)
    if len(ends) != 2 or ends[0].to_base().amount > ends[1].to_base().amount:
        into.note(said.where, 42, "'between' takes the lower limit, then the upper", "between: [0.10 mm, 0.40 mm]")
        return Test()
    return Test(bounds=(Bound("at_least", ends[0]), Bound("at_most", ends[1])))


# ---- reading a rule -------------------------------------------------------------------------------


@lru_cache(maxsize=16)
def _shape(about: str, words: _Words) -> Shape:
    terms = [t for kind in SEES[about] for t in words.vocabulary.of(kind) if t.kind is not Kind.COUNT]

    def limits(term: Term) -> tuple[str, ...]:
        return tuple(t.name for t in terms if t.unit == term.unit and t is not term) if term.unit else ()

    established = tuple(t for t in words.vocabulary.of(about) if t.giver is Giver.RULE)
    edges = ListOf(Record((Field("rule", RuleName(), required=True), Field("why", Words(), required=True))))
    return Record(
        (
            Field("id", RuleName(), required=True),
            Field("title", Line(), required=True),
            Field("status", Choice(tuple(Status), "status"), required=True),
            Field("since", Day(), required=True),
            Field("about", Choice(tuple(SEES), "subject"), required=True),
            Field("sources", ListOf(Line()), required=True),
            Field("because", Words(), required=True),
            Field("when", Record(tuple(Field(t.name, test_shape(t, limits(t))) for t in terms)), required=True),
            Field("then", _effect_shape(terms, established, tuple(words.vocabulary.roles)), required=True),
            Field("overrides", edges),
            Field("beside", edges),
            Field(
                "examples",
                ListOf(
                    Record(
                        (
                            Field("name", Line(), required=True),
                            Field(
                                "given",
                                Record(tuple(Field(t.name, value_shape(t), fact=True) for t in terms)),
                                required=True,
                            ),
                            Field("each", Record(tuple(Field(t.name, ListOf(value_shape(t))) for t in terms))),
                            Field("expect", Choice((*EffectKind, "silent", "open"), "outcome"), required=True),
                        )
                    )
                ),
                required=True,
            ),
        )
    )


def _effect_shape(terms: Iterable[Term], established: tuple[Term, ...], roles: tuple[str, ...]) -> Shape:
    return Record(
        (
            *(Field(kind, Words()) for kind in EffectKind if kind is not EffectKind.ESTABLISH),
            Field("instead", Words()),
            Field("gate", Flag()),
            Field("to", Choice(roles, "role")),
            Field("by", Choice(tuple(Stage), "stage")),
            Field("evidence", Choice(EVIDENCE_KINDS, "kind of evidence")),
            Field("answer", Flag()),
            Field("known", Choice(tuple(t.name for t in terms), "term")),
            Field("routine", Flag()),
            Field("establish", Record(tuple(Field(t.name, value_shape(t)) for t in established))),
        )
    )


@dataclass(frozen=True)
class _Words:
    """A vocabulary that can be remembered by identity."""

    vocabulary: Vocabulary

    def __hash__(self) -> int:
        return id(self.vocabulary)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Words) and other.vocabulary is self.vocabulary


def rule_shape(about: str, vocabulary: Vocabulary) -> Shape:
    """The shape of a rule's file."""
    return _shape(about, _Words(vocabulary))


def read_rule(value: Value, vocabulary: Vocabulary, into: Problems) -> Rule:
    """Make a rule from what its shape has read; note what is wrong with it."""
    entries = value.content
    about = entries["about"].content
    rule = Rule(
        id=entries["id"].content,
        title=entries["title"].content,
        status=Status(entries["status"].content),
        since=entries["since"].content,
        about=about,
        where=entries["id"].where,
        sources=tuple(_citation(item) for item in entries["sources"].content),
        because=entries["because"].content.strip(),
        when=tuple(
            Premise(name, read_test(test, vocabulary.terms[name], into), test.key or test.where)
            for name, test in entries["when"].content.items()
        ),
        then=_read_effect(entries["then"], into),
        overrides=_edges(entries, "overrides"),
        beside=_edges(entries, "beside"),
        examples=tuple(one for item in entries["examples"].content for one in _examples(item, vocabulary)),
    )
    for name in (kind for kind in (*EffectKind, "instead") if kind in entries["then"].content):
        if name != EffectKind.ESTABLISH:
            _check_sentence(entries["then"].content[name], about, vocabulary, into)
    _check_examples(rule, entries["examples"].where, into)
    return rule


def _citation(item: Value) -> Citation:
    source, _, clause = item.content.partition(" ")
    return Citation(source, clause.strip(), item.where)


def _edges(entries: Mapping[str, Value], key: str) -> tuple[Override, ...]:
    return tuple(
        Override(item.content["rule"].content, item.content["why"].content.strip(), item.content["rule"].where)
        for item in (entries[key].content if key in entries else ())
    )


def _examples(item: Value, vocabulary: Vocabulary) -> Iterator[Example]:
    """The cases of one entry: one, or one for each of the values listed under `each`."""

    def values(name: str, given: Value) -> tuple[str | Quantity, ...]:
        return tuple(v.content for v in given.content) if vocabulary.terms[name].many else (given.content,)

    said = item.content
    given = {name: values(name, value) for name, value in said["given"].content.items()}
    each = said["each"].content if "each" in said else {}
    for chosen in product(*(listed.content for listed in each.values())):
        more = dict(zip(each, (values(name, one) for name, one in zip(each, chosen, strict=True)), strict=True))
        told = ", ".join(" and ".join(map(_told, one)) or "none" for one in more.values())
        yield Example(
            name=f"{said['name'].content}: {told}" if told else said["name"].content,
            expect=said["expect"].content,
            where=item.where,
            given={**given, **more},
        )


def _told(value: str | Quantity) -> str:
    return show(value) if isinstance(value, Quantity) else value


_GOES_WITH = {
    "instead": ("forbid",),
    "gate": ("forbid",),
    "to": ("refer",),
    "by": ("require",),
    "evidence": ("require",),
    "answer": ("require",),
    "known": ("require",),
    "routine": ("require",),
}


def _read_effect(value: Value, into: Problems) -> Effect:
    said = value.content
    kinds = [kind for kind in EffectKind if kind in said]
    if len(kinds) != 1:
        into.note(value.where, 43, "a rule has one effect", f"one of {', '.join(EffectKind)}")
        return Effect(EffectKind.NOTE)
    kind = kinds[0]
    for word, effects in _GOES_WITH.items():
        if word in said and kind not in effects:
            into.note(
                said[word].key or said[word].where,
                44,
                f"'{word}' does not go with '{kind}'",
                f"it goes with {' or '.join(effects)}",
            )
    for word, effect in (("to", EffectKind.REFER), ("by", EffectKind.REQUIRE)):
        if kind is effect and word not in said:
            into.note(value.where, 2, f"'{kind}' needs '{word}'")
    if sum(word in said for word in ("evidence", "answer", "known")) > 1:
        into.note(value.where, 44, "a requirement is met in one way", "keep one of evidence, answer, known")
    if kind is EffectKind.ESTABLISH:
        given = said["establish"].content
        if len(given) != 1:
            into.note(said["establish"].where, 43, "a rule establishes one term")
            return Effect(EffectKind.NOTE)
        ((term, word),) = given.items()
        return Effect(kind, establishes=(term, word.content))
    return Effect(
        kind,
        says=said[kind].content.strip(),
        instead=_said(said, "instead"),
        gate=_said(said, "gate") == "yes",
        to=_said(said, "to"),
        by=Stage(said["by"].content) if "by" in said else None,
        evidence=_said(said, "evidence"),
        answer=_said(said, "answer") == "yes",
        known=_said(said, "known"),
        routine=_said(said, "routine") == "yes",
    )


def _said(said: Mapping[str, Value], word: str) -> str:
    return str(said[word].content).strip() if word in said else ""


def _check_sentence(sentence: Value, about: str, vocabulary: Vocabulary, into: Problems) -> None:
    """A placeholder names something that the rule's subject can see."""
    text, sees = sentence.content, SEES[about]
    for name in _PLACEHOLDER.findall(text):
        if name not in sees and not (name in vocabulary.terms and vocabulary.terms[name].owner in sees):
            visible = {*sees, *(t.name for kind in sees for t in vocabulary.of(kind))}
            known = nearest(name, visible)
            into.note(
                sentence.where,
                45,
                f"'{{{name}}}' is nothing that a rule about {about} can see",
                f"did you mean '{{{known}}}'?" if known else "",
            )
    if "{" in _PLACEHOLDER.sub("", text) or "}" in _PLACEHOLDER.sub("", text):
        into.note(sentence.where, 45, "a brace is not closed, or not opened", "write {surface}, {component} …")


def _check_examples(rule: Rule, where: Location, into: Problems) -> None:
    """Each rule shows itself applying, silent and open, unless it applies to everything of its kind."""
    seen = {example.expect for example in rule.examples}
    wanted = {rule.then.kind.value, *(("silent", "open") if rule.when else ())}
    for missing in sorted(wanted - seen):
        into.note(where, 46, f"no example shows the rule '{missing}'", "add one")
    for example in rule.examples:
        if example.expect not in wanted:
            into.note(example.where, 46, f"the rule can never be '{example.expect}'")
