"""The shapes of a casebook's files. They serve the reader and the JSON Schema alike."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from conserve.casebook.model import Audience, NeedKind, Values
from conserve.problem import nearest
from conserve.quantity import ONE
from conserve.rule import EVIDENCE_KINDS, test_shape
from conserve.shape import (
    Amount,
    Choice,
    Count,
    Day,
    Either,
    Field,
    FileName,
    Flag,
    Identifier,
    Line,
    ListOf,
    LongOr,
    MapOf,
    Problems,
    Record,
    RuleName,
    Shape,
    Value,
    Words,
)
from conserve.terms import PLACES, Giver, Term, Vocabulary, value_shape
from conserve.yamlfile import Entries, Items, Node, Text

EVENTS = (
    "made",
    "altered",
    "damaged",
    "repaired",
    "examined",
    "taken-off",
    "put-back",
    "used",
    "lost",  # known to be gone by that date
    "done-against-advice",
)
FACE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*/[a-z0-9]+(?:-[a-z0-9]+)*")
_AMOUNTS = (("mass", "kg"), ("volume", "cm3"))
BASES = ("quotation", "price-list", "past-work", "estimate")  # of what a thing costs
RANGE = re.compile(r"([a-z0-9-]*?)(\d+)\.\.([a-z0-9-]*?)(\d+)")


@dataclass(frozen=True, slots=True)
class OnlyReported:
    """A fact that only a registered report may state."""

    role: str

    def read(self, node: Node, into: Problems) -> Value | None:
        into.note(
            node.where,
            60,
            f"only a registered report by a {self.role} may state this",
            "put it under 'states:' of the report in evidence/register.yaml",
        )
        return None

    def schema(self) -> dict[str, object]:
        return {"not": {}, "description": f"Stated only in a registered report by a {self.role}."}


@dataclass(frozen=True, slots=True)
class Matching:
    """A text of one form, such as the name of a face or a digest. `no` says what it is not, `means` what it is."""

    form: re.Pattern[str]
    no: str
    hint: str
    means: str

    def read(self, node: Node, into: Problems) -> Value | None:
        if isinstance(node, Text) and self.form.fullmatch(node.value):
            return Value(node.value, node.where)
        into.note(node.where, 7, f"this is no {self.no}", self.hint)
        return None

    def schema(self) -> dict[str, object]:
        return {"type": "string", "pattern": f"^{self.form.pattern}$", "description": self.means}


FACE_NAME = Matching(FACE, "face of a component", "write COMPONENT/SURFACE", "A face, as COMPONENT/SURFACE.")
_DIGEST = Matching(
    re.compile("[0-9a-f]{64}"), "SHA-256", "64 signs 0-9 and a-f: conserve evidence add writes it", "A SHA-256, in hex."
)
_CURRENCY = Matching(
    re.compile("[A-Z]{3}"),
    "code of a currency",
    "three capital letters, as ISO 4217 gives them: EUR",
    "An ISO 4217 code.",
)


class DayOrYear:
    """A date, or only its year."""

    def read(self, node: Node, into: Problems) -> Value | None:
        if isinstance(node, Text) and re.fullmatch(r"\d{4}", node.value) and node.value != "0000":
            return Value((date(int(node.value), 1, 1), True), node.where)
        day = Day().read(node, into)
        return None if day is None else Value((day.content, False), day.where)

    def schema(self) -> dict[str, object]:
        return {"type": ["string", "integer"], "description": "A date such as 2026-03-02, or a year."}


@dataclass(frozen=True, slots=True)
class DayOr:
    """A date, or a word that stands for a day of its own: `none` for a report that never lapses."""

    word: str
    stands_for: date

    def read(self, node: Node, into: Problems) -> Value | None:
        if isinstance(node, Text) and node.value == self.word:
            return Value(self.stands_for, node.where)
        return Day().read(node, into)

    def schema(self) -> dict[str, object]:
        return {"type": "string", "description": f"A date such as 2027-03-02, or {self.word}."}


@dataclass(frozen=True, slots=True)
class ByPath:
    """A mapping whose keys are paths of facts, such as `surfaces.working-face.wear`."""

    vocabulary: Vocabulary
    shape_of: Callable[[Term], Shape]
    some: bool = False  # whether there must be at least one
    _made: dict[str, Shape] = field(default_factory=dict, init=False, repr=False, compare=False)  # term -> its shape

    def read(self, node: Node, into: Problems) -> Value | None:
        if not isinstance(node, Entries):
            into.note(
                node.where, 4, "paths and values are expected here", "component.running_clearance: 0.20 ± 0.04 mm"
            )
            return None
        if self.some and not node.items:
            hint = "test: {component.running_clearance: {at_most: 0.40 mm}}"
            into.note(node.where, 87, "tests nothing, so that anything would meet it", hint)
        found = {}
        for key, below in node.items:
            term = term_of(key.value, self.vocabulary)
            if term is None:
                known = nearest(key.value.rpartition(".")[2], (t.short for t in self.vocabulary.terms.values()))
                into.note(
                    key.where,
                    69,
                    f"'{key.value}' is no path of a fact",
                    f"did you mean '…{known}'?" if known else "write component.TERM or surfaces.ID.TERM",
                )
                continue
            if term.name not in self._made:
                self._made[term.name] = self.shape_of(term)
            value = self._made[term.name].read(below, into)
            if value is not None:
                found[key.value] = Value(value.content, value.where, key.where)
        return Value(found, node.where)

    def schema(self) -> dict[str, object]:
        places = {owner: place for place, owner in PLACES.items()}
        patterns = {}
        for term in self.vocabulary.terms.values():
            if term.owner in places:
                patterns[rf"^{places[term.owner]}\.[a-z0-9-]+\.{term.short}$"] = self.shape_of(term).schema()
            elif term.owner == "component":
                patterns[rf"^component\.{term.short}$"] = self.shape_of(term).schema()
        return {"type": "object", "patternProperties": patterns, "additionalProperties": False}


class Parts:
    """The components a proposal is about: one id, a range of like parts, or a list of either."""

    def read(self, node: Node, into: Problems) -> Value | None:
        nodes = node.items if isinstance(node, Items) else (node,)
        found: list[Value] = []
        for item in nodes:
            if isinstance(item, Text) and RANGE.fullmatch(item.value):
                found += [Value(name, item.where) for name in in_range(item, into)]
            elif (one := Identifier().read(item, into)) is not None:
                found.append(one)
        return Value(tuple(found), node.where)

    def schema(self) -> dict[str, object]:
        one = {"type": "string", "examples": ["guide-bar", "stud-01..stud-48"]}
        return {"anyOf": [one, {"type": "array", "items": one}]}


def in_range(text: Text, into: Problems) -> list[str]:
    """The ids of a range such as `stud-01..stud-48`."""
    match = RANGE.fullmatch(text.value)
    if match is None or match[1] != match[3] or not 0 < int(match[4]) - int(match[2]) < 1000:
        into.note(text.where, 72, f"'{text.value}' is no range of like parts", "write it as stud-01..stud-48")
        return []
    return [f"{match[1]}{n:0{len(match[2])}d}" for n in range(int(match[2]), int(match[4]) + 1)]


def term_of(path: str, vocabulary: Vocabulary) -> Term | None:
    """The term at the end of a path; None if there is no such path."""
    parts = path.split(".")
    if len(parts) == 2 and parts[0] == "component":
        return vocabulary.terms.get(path)
    if len(parts) == 3 and parts[0] in PLACES:
        return vocabulary.terms.get(f"{PLACES[parts[0]]}.{parts[2]}")
    return None


def fact_shape(term: Term, vocabulary: Vocabulary) -> Shape:
    """A fact in its short form, or the long form that says who measured it, when and with what."""
    if term.stated_by:
        return OnlyReported(term.stated_by)
    return LongOr(
        value_shape(term),
        (
            Field("instrument", Choice(tuple(vocabulary.instruments), "instrument")),
            Field("by", Line()),
            Field("date", Day()),
            Field("evidence", ListOf(Identifier(), lone=True)),
            Field("says", Words()),
        ),
    )


def values_of(content: Any) -> Values:
    """The values of a fact, from what its shape has read: one, or a list."""
    return tuple(v.content for v in content) if isinstance(content, tuple) else (content,)


@dataclass(frozen=True, slots=True)
class Shapes:
    """The shapes of all files of a casebook."""

    object: Record
    component: Record
    proposal: Record
    register: MapOf


def shapes_of(vocabulary: Vocabulary) -> Shapes:
    """Build the shapes from the vocabulary, so that a new term needs no Python."""
    return Shapes(_object(vocabulary), _component(vocabulary), _proposal(vocabulary), _register(vocabulary))


def _facts(owner: str, vocabulary: Vocabulary) -> tuple[Field, ...]:
    terms = vocabulary.of(owner, Giver.PERSON)
    return tuple(Field(t.short, fact_shape(t, vocabulary), fact=True, means=t.means) for t in terms)


def _object(vocabulary: Vocabulary) -> Record:
    person = Record(
        (
            Field("name", Line(), required=True),
            Field("role", Choice(tuple(vocabulary.roles), "role"), required=True),
            Field("competence", Words()),
        )
    )
    techniques = ListOf(Choice(tuple(vocabulary.techniques), "technique"))
    phase = Record(
        (
            Field("period", Choice(vocabulary.terms["component.period"].values, "period"), required=True),
            Field("dates", Line(), required=True),
            Field("says", Words()),
        )
    )
    policy = Record(
        (
            Field("says", Words(), required=True),
            Field("routine_care", techniques),
            Field("holding_works", techniques),
            Field("review", Day()),
        )
    )
    budget = Record(
        (
            Field("currency", _CURRENCY, required=True),
            Field("contingency", Amount("%", exact=True), means="On all money, such as 15 %."),
            Field("stages", ListOf(Identifier()), means="The stages of the project, in their order."),
        )
    )
    return Record(
        (
            Field("name", Line(), required=True, means="What the object is called."),
            Field("significance", Words(), fact=True, means="Why the object matters, in your own words."),
            Field("location", Line()),
            Field("owner", Line()),
            Field("maker", Line(), means="Who made it, as far as is known."),
            Field("number", Line(), means="Its number, the maker's or a register's."),
            Field("budget", budget),
            Field(
                "overlays",
                ListOf(Identifier(), none=True),
                means="Rules laid over the rulebook: a country's law, a kind of object, a policy.",
            ),
            Field("note", Words()),
            Field("people", MapOf(Identifier(), person)),
            Field("phases", MapOf(Identifier(), phase)),
            Field("policy", policy),
            *_facts("object", vocabulary),
        )
    )


def _component(vocabulary: Vocabulary) -> Record:
    def thing(owner: str, *more: Field) -> Record:
        return Record((Field("name", Line()), Field("says", Words()), *_facts(owner, vocabulary), *more))

    marks = MapOf(Identifier(), thing("mark"), none=True)
    duty = Choice(vocabulary.duties, "duty")
    event = Record(
        (
            Field("date", DayOrYear(), required=True),
            Field("says", Words(), required=True),
            Field("kind", Choice(EVENTS, "kind of event")),
            Field("under", Identifier(), means="The proposal that it carried out."),
            Field("took", _change(("surfaces", "marks")), fact=True, means="What it took from the part, or none."),
            Field("added", _change(()), fact=True, means="What it added to the part, or put in its place, or none."),
        )
    )
    stored = Record(
        (
            Field("place", Line(), required=True),
            Field("tag", Line()),
            Field("since", Day()),
            Field("return_by", Day()),
            Field("why", Words()),
        )
    )
    plain = tuple(field for field in _facts("component", vocabulary) if not field.name.startswith("duty_"))
    fields = (
        Field("name", Line(), required=True, means="What the part is called."),
        Field("phase", Identifier(), means="The phase of the object, from object.yaml, in which it joined."),
        Field("part_of", Identifier()),
        Field("significance_reason", Words()),
        Field("note", Words()),
        Field("duty", Record((Field("now", duty), Field("wanted", duty)))),
        Field(
            "surfaces",
            MapOf(Identifier(), thing("surface", Field("marks", marks), Field("mate", FACE_NAME)), none=True),
        ),
        Field("repairs", MapOf(Identifier(), thing("repair"), none=True)),
        Field("defects", MapOf(Identifier(), thing("defect"), none=True)),
        Field("history", ListOf(event, none=True)),
        Field("stored", stored),
        *plain,
    )
    each = Record(tuple(Field(f.name, f.shape, fact=f.fact, means=f.means) for f in fields))
    return Record((*fields, Field("alike", Line()), Field("each", MapOf(Identifier(), each))))


def _change(lists: tuple[str, ...]) -> Shape:
    """What an event took or added: its mass or its volume, and what went by name."""
    means = {
        "mass": "How much metal, weighed or reckoned.",
        "volume": "How much metal, where the mass is not known.",
        "surfaces": "The faces whose original surface went, or none.",
        "marks": "The marks that went and are no longer on the part, or none.",
    }
    amounts = (Field(name, Amount(unit, exact=False), means=means[name]) for name, unit in _AMOUNTS)
    named = (Field(name, ListOf(Identifier(), none=True), means=means[name]) for name in lists)
    return Either(text=Choice(("none",), "amount"), entries=Record((*amounts, *named)))


def _proposal(vocabulary: Vocabulary) -> Record:
    said = Record((Field("by", Line(), required=True), Field("says", Words(), required=True)))
    return Record(
        (
            Field("title", Line(), required=True),
            Field("component", Identifier()),
            Field("components", Parts()),
            Field("kind", Choice(vocabulary.terms["proposal.kind"].values, "kind")),
            Field("asked", Record((Field("date", Day(), required=True), Field("by", Line(), required=True)))),
            Field("needs", MapOf(Identifier(), _need(vocabulary))),
            Field("options", MapOf(Identifier(), _option(vocabulary, said))),
            Field("acts", ListOf(_act(vocabulary))),
            Field("preferred", Identifier()),
            Field(
                "decision",
                Record(
                    (
                        Field("chosen", Identifier(), required=True),
                        Field("by", Line(), required=True),
                        Field("date", Day(), required=True),
                        Field("reason", Words(), required=True),
                    )
                ),
            ),
            Field("work", _work(vocabulary)),
            Field("supersedes", Identifier()),
            Field("review", Day()),
            Field("note", Words()),
            *_facts("proposal", vocabulary),
        )
    )


def _need(vocabulary: Vocabulary) -> Record:
    return Record(
        (
            Field("kind", Choice(tuple(NeedKind), "kind of need"), required=True),
            Field("says", Words(), required=True),
            Field("at", ListOf(Choice(vocabulary.duties, "duty"))),
            Field("test", ByPath(vocabulary, test_shape, some=True), required=True),
            Field("set_by", Words(), required=True),
        )
    )


def _option(vocabulary: Vocabulary, said: Record) -> Record:
    return Record(
        (
            Field("says", Words()),
            Field("duty", Choice(vocabulary.duties, "duty")),
            Field("competence", Words()),
            Field("acts", ListOf(_act(vocabulary), none=True), required=True),
            Field("after", ByPath(vocabulary, value_shape)),
            Field("answers", MapOf(RuleName(), said)),
            Field("rather_than", MapOf(Identifier(), said)),
            Field("resources", ListOf(_resource(), none=True)),
            *_facts("option", vocabulary),
        )
    )


def _resource() -> Record:
    return Record(
        (
            Field("what", Line(), required=True),
            Field("money", Amount(ONE, exact=False), means="In the object's currency, with its ±."),
            Field("hours", Amount("h", exact=False), means="Such as 12 ± 3 h."),
            Field("skill", Line()),
            Field("given", Flag(), means="Whether it is given, so that no money is asked for it."),
            Field("stage", Identifier(), means="A stage of the object's budget."),
            Field("basis", Choice(BASES, "basis")),
            Field("evidence", ListOf(Identifier(), lone=True)),
        )
    )


def _act(vocabulary: Vocabulary) -> Record:
    return Record(
        (
            Field("technique", Choice(tuple(vocabulary.techniques), "technique"), required=True),
            Field("where", Identifier()),
            Field("treats", Identifier()),
            Field("takes", ListOf(Identifier(), none=True)),
            Field("evidence", ListOf(Identifier(), none=True)),
            Field("for", ListOf(Identifier(), none=True)),
            Field("finds", Line()),
            Field("says", Words()),
            *(field for field in _facts("act", vocabulary) if field.name != "technique"),
        )
    )


def _work(vocabulary: Vocabulary) -> Record:
    met = Record(
        (
            Field("requirement", Line(), required=True),
            Field("date", Day(), required=True),
            Field("by", Line()),
            Field("evidence", ListOf(Identifier())),
        )
    )
    return Record(
        (
            Field("began", Day()),
            Field("finished", Day()),
            Field("by", Record((Field("name", Line(), required=True), Field("competence", Words())))),
            Field("met", ListOf(met)),
            Field("differences", ListOf(Words(), none=True)),
            Field("surprises", ListOf(Words(), none=True)),
            Field("measured", ByPath(vocabulary, value_shape)),
        )
    )


def _register(vocabulary: Vocabulary) -> MapOf:
    return MapOf(
        Identifier(),
        Record(
            (
                Field("kind", Choice(EVIDENCE_KINDS, "kind of evidence"), required=True),
                Field("file", FileName()),
                Field("date", Day(), required=True),
                Field("by", Line(), required=True),
                Field("about", Parts(), required=True),
                Field("shows", Words(), required=True),
                Field("grade", Choice(("a", "b", "c", "d", "e", "f"), "grade")),
                Field("role", Choice(tuple(vocabulary.roles), "role")),
                Field("competence", Words()),
                Field("answers", ListOf(Line())),
                Field("states", ByPath(vocabulary, value_shape)),
                Field("lapses", DayOr("none", date.max)),
                Field("note", Words()),
                Field("held", Line()),
                Field("digest", _DIGEST, means="The SHA-256 of the file."),
                Field("size", Count(), means="Of the file, in bytes."),
                Field("method", Words()),
                Field("instrument", Choice(tuple(vocabulary.instruments), "instrument")),
                Field("serial", Line(), means="Which one of its kind the instrument was."),
                Field("calibrated", DayOr("none", date.min), means="When it was last calibrated, or none."),
                Field("rights", Words(), means="Whose it is, and on what terms it may be used."),
                Field("show", Choice(tuple(Audience), "audience"), means="Who may be shown it."),
                Field("shown_as", FileName(), means="The file that is shown instead of it."),
                Field("shown_digest", _DIGEST, means="The SHA-256 of that file."),
            )
        ),
    )
