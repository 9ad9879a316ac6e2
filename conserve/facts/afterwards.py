"""The state an option leaves: what its acts compute, else what it claims, else unknown."""

from __future__ import annotations

from dataclasses import dataclass, replace

from conserve.casebook import Act, Component, Option
from conserve.casebook.model import Values
from conserve.facts.computed import computed
from conserve.facts.fact import Fact, How, Working
from conserve.facts.running import DIAMETER, clearance_after, number_of
from conserve.facts.today import Today, from_statements, key_of, rolled_up
from conserve.facts.touching import BUILDS_UP, CLEARANCE, RESIZES, own_mate, owner_of, touched_by
from conserve.quantity import Quantity
from conserve.terms import Giver, Technique, Vocabulary
from conserve.truth import Truth

_THICKNESS = "surface.thickness"


@dataclass(frozen=True, slots=True)
class Afterwards:
    """What is known of a fact once an option is carried out."""

    fact: Fact
    touched: bool  # whether an act bears on it, or may
    surely: bool = True  # whether an act certainly bears on it: only then may it be claimed or promised


def fact_after(path: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary) -> Afterwards:
    """Work out one fact after an option: today's where no act touches it."""
    return _after(*key_of(path, part.id), path, option, part, today, vocabulary)


def _after(
    subject: str, term: str, path: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> Afterwards:
    now = today.facts.get((subject, term)) or Fact(term, subject, None, How.SILENT)
    touched = touched_by(subject, term, option, part, vocabulary)
    if touched is Truth.NO:
        return Afterwards(now, touched=False)
    found = _computed(subject, term, option, part, today, vocabulary)
    if found is not None and found.known:
        return Afterwards(replace(found, statements=found.statements or now.statements), True)
    if found is not None or touched is Truth.UNKNOWN:
        # Nobody has said a number that it takes, or whether it is touched at all: a claim cannot stand in for that.
        silent = found or Fact(term, subject, None, How.SILENT)
        return Afterwards(silent, touched=True, surely=found is not None)
    if path in option.after:
        return Afterwards(replace(from_statements(subject, term, option.after[path]), how=How.CLAIMED), touched=True)
    if vocabulary.terms[term].giver is Giver.ROLL_UP:
        return Afterwards(_rolled_up_after(subject, term, option, part, today, vocabulary), touched=True)
    return Afterwards(Fact(term, subject, None, How.SILENT), touched=True)


def computed_after(path: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary) -> Values | None:
    """What the acts compute for a path, whatever the option claims; None where nothing can be."""
    subject, term = key_of(path, part.id)
    if touched_by(subject, term, option, part, vocabulary) is Truth.NO:
        return None
    found = _computed(subject, term, option, part, today, vocabulary)
    return found.values or None if found is not None else None


# ---- what acts compute --------------------------------------------------------------------------------


def _computed(
    subject: str, term: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> Fact | None:
    """What the acts make of a fact: not known where somebody has yet to say a number; None where none reckons it."""
    word = vocabulary.terms[term]
    if word.inputs:
        return computed(
            word, subject, lambda name: _input_after(name, subject, option, part, today, vocabulary), vocabulary
        )
    if term == CLEARANCE:
        return clearance_after(subject, option, part, today, vocabulary)
    lost = Fact(term, subject, None, How.SILENT)  # what an act made of it, where nobody reckons that
    found: Fact | None = None
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if term in technique.gives:
            found = Fact(term, subject, (technique.gives[term],), How.COMPUTED)
        elif term == DIAMETER and subject == f"surface:{act.surface}" and technique.diameter:
            number = number_of(act, technique.diameter, option)
            how = How.COMPUTED if number.known else How.SILENT
            working = None if number.known else _as_finished(number)
            found = Fact(term, subject, number.values, how, number.statements, working)
        elif term == _THICKNESS and subject == f"surface:{act.surface}" and technique.takes == "skim":
            before = found or today.facts.get((subject, term)) or Fact(term, subject, None, How.SILENT)
            found = _thinner(before, number_of(act, "act.depth", option))
        elif term in (DIAMETER, _THICKNESS) and _resizes(act, technique, subject):
            found = lost
    return None if found is lost else found


def _resizes(act: Act, technique: Technique, subject: str) -> bool:
    """Whether an act changes the size of a face by what nobody reckons: a cut without a size, or metal put on."""
    here = not act.surface or subject == f"surface:{act.surface}"
    wears = technique.facts["technique.abrades"] == "yes"
    return here and (technique.takes in RESIZES or technique.facts["technique.adds"] in BUILDS_UP or wears)


def _thinner(before: Fact, depth: Fact) -> Fact:
    """What stands behind a face once a cut of even depth is off it."""
    cuts = [value for value in depth.values or () if isinstance(value, Quantity)]
    left = tuple(value.minus(cuts[0]) for value in before.values or () if cuts and isinstance(value, Quantity))
    working = Working(
        title="What is left behind a face after a cut.",
        formula="thickness − depth",
        given=(("thickness before", before), ("depth of the cut", depth)),
        valid="A cut of even depth, square to the face.",
        source="geometry (derived)",
    )
    return Fact(before.term, before.subject, left or None, How.COMPUTED if left else How.SILENT, working=working)


def _as_finished(number: Fact) -> Working:
    """A diameter that an act makes: where nobody has said it, that is what to ask for."""
    return Working(
        title="Diameter after the act.",
        formula="the diameter that the act leaves",
        given=(("the diameter that the act leaves", number),),
        valid="A face that is cut or finished to a size.",
        source="common practice",
    )


def _input_after(
    name: str, subject: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> Fact:
    """What a calculation after an option takes: each of its inputs as the option leaves it."""
    owner = owner_of(name, subject, part)
    if (face := own_mate(owner, name, part)) is not None:
        owner, name = face
    if name not in vocabulary.terms or owner in ("object", "proposal"):  # another part, or nothing that acts change
        return today.facts.get((owner, name)) or Fact(name, owner, None, How.SILENT)
    kind, _, thing = owner.partition(":")
    path = name if kind == "component" else f"{kind}s.{thing}.{name.partition('.')[2]}"
    return _after(owner, name, path, option, part, today, vocabulary).fact


def _rolled_up_after(
    subject: str, term: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> Fact:
    """A roll-up over what the things below become."""
    word = vocabulary.terms[term]
    kind, _, short = word.of.partition(".")
    surface = part.thing("surface", subject.partition(":")[2]) if subject.startswith("surface:") else None
    facts = dict(today.facts)
    if short:
        for thing in part.known_things():
            if thing.kind == kind:
                path = f"{kind}s.{thing.id}.{short}"
                facts[f"{kind}:{thing.id}", word.of] = fact_after(path, option, part, today, vocabulary).fact
    elif any(vocabulary.techniques[act.technique].touches for act in option.acts):
        return Fact(term, subject, None, How.SILENT)
    return rolled_up(word, part, surface, facts)
