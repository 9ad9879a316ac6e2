"""Small made-up proposals and rules, much alike, for what must hold of any two options that are compared.

The rules override one another, across kinds of subject too, and act on a part as a whole, at a face or at a mark.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import cache

from helpers import demo, shipped_rules

from conserve.engine import circles
from conserve.facts import ABSENT, UNSAID, Fact, Facts, How, Subject, Today
from conserve.inference import Findings, infer
from conserve.problem import Location
from conserve.rule import Effect, EffectKind, Override, Premise, Rule, Stage, Status, Test
from conserve.rulebook import Rulebook
from conserve.rulebook.programs import program_of
from conserve.terms import SEES

HERE = Location("rules/r.yaml")
WORDS = {
    "object.rarity": ("unique", "few", "many"),
    "component.significance": ("exceptional", "considerable", "some"),
    "component.serviceable": ("yes", "no"),
    "component.may_be_renewed": ("yes", "no"),
    "surface.function": ("sliding", "sealing", "mating"),
    "surface.shows_use": ("yes", "no"),
    "mark.kind": ("stamp", "layout-line", "paint-layer"),
    "mark.recorded": ("yes", "no"),
    "option.done_by": ("engineer", "volunteer", "contractor"),
    "proposal.prompted_by": ("need", "cost"),
    "act.tried_first": ("yes", "no"),
    "act.specified_by": ("engineer", "competent-engineer"),
    "act.hides_or_takes": ("yes", "no"),
    "technique.takes": ("skim", "whole-part", "nothing"),
}
_ESTABLISHED = {"act": "act.hides_or_takes", "component": "component.may_be_renewed"}
_ABOUT = ("act", "act", "act", "act", "option", "component", "surface", "mark", "object")


@cache
def rules_of(seed: int) -> Rulebook:
    """A handful of rules that count, note and establish; each overrides only such as stand before it."""
    draw = random.Random(f"rules {seed}")
    while True:
        rules: tuple[Rule, ...] = ()
        for number in range(draw.randint(2, 7)):
            rules += (_rule(draw, f"r/{number}", rules),)
        words = shipped_rules().vocabulary
        programs = {kind: program_of(rules, kind, words) for kind in SEES}
        if not any(circles(one.program) for one in programs.values()):
            return Rulebook(words, {}, rules, (), programs, f"{seed}")


def _rule(draw: random.Random, name: str, others: tuple[Rule, ...]) -> Rule:
    about = draw.choice(_ABOUT)
    seen = [term for term in WORDS if term.partition(".")[0] in SEES[about]]
    when = tuple(
        Premise(term, Test(tuple(draw.sample(WORDS[term], draw.randint(1, len(WORDS[term]) - 1)))), HERE)
        for term in draw.sample(seen, min(len(seen), draw.choice((0, 1, 1, 2, 2, 3))))
    )
    then = _effect(draw, about, when)
    telling = [] if then.kind is EffectKind.ESTABLISH else [o for o in others if o.then.kind is not EffectKind.ESTABLISH]
    chosen = draw.sample(telling, min(len(telling), draw.choice((0, 1, 1, 2))))
    edges = tuple(Override(other.id, "so", HERE) for other in chosen)
    return Rule(name, name, Status.ADOPTED, date(2026, 1, 1), about, (), "So.", when, then, edges, (), (), HERE)


def _effect(draw: random.Random, about: str, when: tuple[Premise, ...]) -> Effect:
    word = _ESTABLISHED.get(about)
    if word and word not in {premise.term for premise in when} and draw.random() < 0.2:
        return Effect(EffectKind.ESTABLISH, establishes=(word, "yes"))
    return draw.choice(
        (
            Effect(EffectKind.FORBID, says="So."),
            Effect(EffectKind.AGAINST, says="So."),
            Effect(EffectKind.REFER, says="So.", to="competent-engineer"),
            Effect(EffectKind.REQUIRE, says="So.", by=draw.choice(list(Stage)), routine=draw.random() < 0.2),
            Effect(EffectKind.NOTE, says="So."),
            Effect(EffectKind.NOTE, says="So."),
        )
    )


# ---- what the rules are about --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class World:
    """Subjects of two options, and facts about them."""

    subjects: tuple[Subject, ...]
    facts: dict[tuple[str, str], Fact]

    def found(self, rulebook: Rulebook) -> Findings:
        """What the rules come to."""
        proposal, part = demo().proposals[0], next(iter(demo().components.values()))
        today = Today(self.subjects, self.facts)
        return infer(Facts(demo(), proposal, part, demo().as_at, today, {}, {}), rulebook)


OPTIONS = ("one", "two")


def world(draw: random.Random) -> World:
    """A part with faces and marks, some unwritten, and two options with acts on it, at a face, and taking marks."""
    subjects = tuple(_subjects(draw))
    facts = {}
    for subject in subjects:
        if subject.sees[subject.kind] == subject.id:
            for term in _written(subject.kind):
                facts[subject.id, term] = _fact(draw, subject.id, term)
    return World(subjects, facts)


def _written(kind: str) -> Iterator[str]:
    owners = (kind, "technique") if kind == "act" else (kind,)
    return (term for term in WORDS if term.partition(".")[0] in owners and term not in _ESTABLISHED.values())


def _fact(draw: random.Random, subject: str, term: str) -> Fact:
    values = None if draw.random() < 0.2 else (draw.choice(WORDS[term]),)
    return Fact(term, subject, values, How.WRITTEN if values else How.SILENT)


def altered(draw: random.Random, one: World) -> World:
    """The same world with a few facts otherwise."""
    changed = draw.sample(sorted(one.facts), min(len(one.facts), draw.randint(0, 3)))
    return replace(one, facts={**one.facts, **{key: _fact(draw, *key) for key in changed}})


def _below(owner: Subject, kind: str, name: str) -> Subject:
    return Subject(kind, name, name, {**owner.sees, kind: name}, (*owner.owners, owner.id))


def _subjects(draw: random.Random) -> Iterator[Subject]:
    top = Subject("object", "object", "it", {"object": "object"}, ())
    part = _below(top, "component", "component:part")
    faces = [_below(part, "surface", f"surface:{name}") for name in ("a", "b")[: draw.randint(1, 2)]]
    marks = [_below(face, "mark", f"{face.id.replace('surface', 'mark')}{n}") for face in faces for n in range(draw.randint(0, 2))]
    question = _below(part, "proposal", "proposal")
    yield from (top, part, *faces, *marks, question)
    for name in OPTIONS:
        option = _below(question, "option", f"option:{name}")
        yield option
        for number in range(draw.randint(1, 2)):
            yield from _acts(draw, option, f"act:{name}/{number}", faces, marks)


def _acts(
    draw: random.Random, option: Subject, name: str, faces: list[Subject], marks: list[Subject]
) -> Iterator[Subject]:
    """An act as a whole, then at every face if it names none, then for every mark that it says it takes."""
    said = draw.random() < 0.5
    here = draw.choice((None, *faces))
    whole = replace(
        _below(option, "act", name),
        sees={
            **option.sees,
            "act": name,
            "technique": name,
            "defect": ABSENT,
            "surface": here.id if here else ABSENT,
            "mark": ABSENT if said or not _on(here, marks) else UNSAID,
        },
    )
    yield whole
    for face in faces if here is None else ():
        place = _below(whole, "act", f"{name}@{face.id.partition(':')[2]}")
        mark = ABSENT if said or not _on(face, marks) else UNSAID
        yield replace(place, sees={**whole.sees, "surface": face.id, "mark": mark})
    for mark in _on(here, marks) if said else ():
        if draw.random() < 0.7:
            taken = _below(whole, "act", f"{name}+{mark.id.partition(':')[2]}")
            yield replace(taken, sees={**whole.sees, "mark": mark.id})


def _on(face: Subject | None, marks: list[Subject]) -> list[Subject]:
    return [mark for mark in marks if face is None or mark.owned_by(face.id)]
