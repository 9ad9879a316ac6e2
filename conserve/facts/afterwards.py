"""The state an option leaves: what its acts compute, else what it claims, else unknown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from conserve.calculation import clearance
from conserve.casebook import Act, Component, Option
from conserve.casebook.agreeing import quantity_of
from conserve.casebook.model import Values
from conserve.facts.fact import Fact, How
from conserve.facts.today import Today, from_statements, key_of, rolled_up
from conserve.quantity import Quantity
from conserve.terms import Giver, Technique, Vocabulary
from conserve.truth import Truth, any_of

_CLEARANCE = "component.running_clearance"


@dataclass(frozen=True, slots=True)
class Afterwards:
    """What is known of a fact once an option is carried out."""

    fact: Fact
    touched: bool  # whether an act bears on it, or may
    working: str = ""  # how it was reckoned, in words
    surely: bool = True  # whether an act certainly bears on it: only then may it be claimed or promised


def fact_after(path: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary) -> Afterwards:
    """Work out one fact after an option: today's where no act touches it."""
    subject, term = key_of(path, part.id)
    now = today.facts.get((subject, term)) or Fact(term, subject, None, How.SILENT)
    touched = _touched(subject, term, option, part, vocabulary)
    if touched is Truth.NO:
        return Afterwards(now, touched=False)
    values, working = _computed(subject, term, option, part, today, vocabulary)
    if values:
        return Afterwards(Fact(term, subject, values, How.COMPUTED, now.statements), True, working)
    if values == () or touched is Truth.UNKNOWN:
        # Nobody has said a number that it takes, or whether it is touched at all: a claim cannot stand in for that.
        return Afterwards(Fact(term, subject, None, How.SILENT), touched=True, surely=values == ())
    if path in option.after:
        return Afterwards(replace(from_statements(subject, term, option.after[path]), how=How.CLAIMED), touched=True)
    if vocabulary.terms[term].giver is Giver.ROLL_UP:
        return Afterwards(_rolled_up_after(subject, term, option, part, today, vocabulary), touched=True)
    return Afterwards(Fact(term, subject, None, How.SILENT), touched=True)


def computed_after(path: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary) -> Values | None:
    """What the acts compute for a path, whatever the option claims; None where nothing can be."""
    subject, term = key_of(path, part.id)
    return _computed(subject, term, option, part, today, vocabulary)[0] or None


# ---- what an act touches ------------------------------------------------------------------------------


def _touched(subject: str, term: str, option: Option, part: Component, vocabulary: Vocabulary) -> Truth:
    """Whether any act bears on a fact; unknown where nobody has said what an act reaches."""
    if vocabulary.terms[term].giver is not Giver.ROLL_UP:
        return any_of(_act_touches(act, subject, term, part, vocabulary) for act in option.acts)
    below = vocabulary.terms[term].of
    kind = below.partition(".")[0]
    unlisted = part.things(kind) is None and any(vocabulary.techniques[a.technique].touches for a in option.acts)
    return any_of(
        (
            Truth.UNKNOWN if unlisted else Truth.NO,
            *(
                _touched(f"{kind}:{thing.id}", below, option, part, vocabulary)
                for thing in part.known_things()
                if thing.kind == kind
            ),
        )
    )


def _act_touches(act: Act, subject: str, term: str, part: Component, vocabulary: Vocabulary) -> Truth:
    technique = vocabulary.techniques[act.technique]
    kind, _, name = subject.partition(":")
    if not technique.touches:
        return Truth.NO
    if technique.takes == "whole-part":
        return Truth.YES
    if kind == "component":
        return _truth(_touches_part(act, technique, term, vocabulary))
    if kind == "surface":
        return _truth(not act.surface or name == act.surface)
    if kind == "defect":
        return Truth.UNKNOWN if act.treats is None else _truth(name == act.treats)
    if kind == "mark":
        return Truth.UNKNOWN if act.takes is None else _truth(name in act.takes)
    disturbs = act.facts.get("act.disturbs_repair")
    return Truth.UNKNOWN if disturbs is None else _truth(_says(act, "act.disturbs_repair", "yes"))


def _touches_part(act: Act, technique: Technique, term: str, vocabulary: Vocabulary) -> bool:
    if vocabulary.terms[term].stated_by or term in technique.gives:
        return True
    if term == _CLEARANCE:
        return bool(technique.clearance) or technique.facts["technique.restores_fit"] == "yes"
    return not act.surface and technique.takes != "nothing"


def _truth(holds: bool) -> Truth:
    return Truth.YES if holds else Truth.NO


def _says(act: Act, term: str, value: str) -> bool:
    return any(value in stated.values for stated in act.facts.get(term, ()))


# ---- what acts compute --------------------------------------------------------------------------------


def _computed(
    subject: str, term: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> tuple[Values | None, str]:
    if term == _CLEARANCE:
        return _clearance_after(subject, option, part, today, vocabulary)
    values: Values | None = None
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if term in technique.gives:
            values = (technique.gives[term],)
        elif term == "surface.diameter" and subject == f"surface:{act.surface}":
            to = quantity_of(act.facts, "act.to_diameter")
            values = (to,) if to and technique.clearance == "opens-by-diameter" else None
    return values, "by the act" if values else ""


def _clearance_after(
    subject: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> tuple[Values | None, str]:
    """The running clearance after each act in turn; None where one of them cannot be reckoned.

    Empty where all of them could be, if only somebody had said a number or which face sets the clearance.
    """
    if any(_refits(vocabulary.techniques[act.technique]) for act in option.acts):
        return None, ""
    now = today.facts.get((subject, _CLEARANCE))
    readings = [v for v in (now.values if now and now.values else ()) if isinstance(v, Quantity)]
    steps: list[str] = []
    bores: dict[str, Quantity] = {}
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if not technique.clearance:
            continue
        sets = today.facts.get((f"surface:{act.surface}", "surface.sets_clearance"))
        if sets is None or sets.values is None:
            return (), ""
        if "yes" in sets.values:
            readings = [r for reading in readings if (r := _step(act, technique, reading, part, bores)) is not None]
            steps.append(_STEPS[technique.clearance])
    return (tuple(readings), ", ".join(("today's clearance", *steps))) if readings else ((), "")


def _refits(technique: Technique) -> bool:
    """Whether a technique changes the clearance by as much as nobody can reckon beforehand."""
    anew = technique.facts["technique.restores_fit"] == "yes" or technique.takes == "whole-part"
    return anew and not technique.clearance


_STEPS = {
    "opens-by-depth": "plus the depth cut",
    "closes-by-thickness": "less the packing",
    "opens-by-diameter": "plus the change of diameter",
}


def _step(
    act: Act, technique: Technique, reading: Quantity, part: Component, bores: dict[str, Quantity]
) -> Quantity | None:
    """One reading of the clearance after one act; None where a number is missing."""
    effect, takes = technique.clearance, technique.takes
    if effect == "opens-by-diameter":
        surface = part.thing("surface", act.surface)
        before = bores.get(act.surface) or (quantity_of(surface.facts, "surface.diameter") if surface else None)
        after = quantity_of(act.facts, "act.to_diameter")
        if before is None or after is None:
            return None
        bores[act.surface] = after
        of: Literal["hole", "shaft"] = "hole" if takes == "bore" else "shaft"
        return clearance.after_diameter(reading, before, after, of)
    number = quantity_of(act.facts, "act.depth" if effect == "opens-by-depth" else "act.thickness")
    if number is None:
        return None
    step = clearance.after_cut if effect == "opens-by-depth" else clearance.after_packing
    return step(reading, number)


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
