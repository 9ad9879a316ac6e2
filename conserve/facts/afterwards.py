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

_CLEARANCE = "component.running_clearance"


@dataclass(frozen=True, slots=True)
class Afterwards:
    """What is known of a fact once an option is carried out."""

    fact: Fact
    touched: bool  # whether an act bears on it at all
    working: str = ""  # how it was reckoned, in words


def fact_after(path: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary) -> Afterwards:
    """Work out one fact after an option: today's where no act touches it."""
    subject, term = key_of(path, part.id)
    now = today.facts.get((subject, term)) or Fact(term, subject, None, How.SILENT)
    if not _touched(subject, term, option, part, vocabulary):
        return Afterwards(now, touched=False)
    values, working = _computed(subject, term, option, part, today, vocabulary)
    if values is not None:
        return Afterwards(Fact(term, subject, values, How.COMPUTED, now.statements), True, working)
    if path in option.after:
        return Afterwards(replace(from_statements(subject, term, option.after[path]), how=How.CLAIMED), touched=True)
    if vocabulary.terms[term].giver is Giver.ROLL_UP:
        return Afterwards(_rolled_up_after(subject, term, option, part, today, vocabulary), touched=True)
    return Afterwards(Fact(term, subject, None, How.SILENT), touched=True)


def computed_after(path: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary) -> Values | None:
    """What the acts compute for a path, whatever the option claims; None where nothing can be."""
    subject, term = key_of(path, part.id)
    return _computed(subject, term, option, part, today, vocabulary)[0]


# ---- what an act touches ------------------------------------------------------------------------------


def _touched(subject: str, term: str, option: Option, part: Component, vocabulary: Vocabulary) -> bool:
    """Whether any act bears on a fact, or may: what nobody has said counts as touched."""
    if vocabulary.terms[term].giver is Giver.ROLL_UP:
        below = vocabulary.terms[term].of
        kind = below.partition(".")[0]
        return any(
            _touched(f"{kind}:{t.id}", below, option, part, vocabulary) for t in part.known_things() if t.kind == kind
        ) or (part.things(kind) is None and any(vocabulary.techniques[a.technique].touches for a in option.acts))
    return any(_act_touches(act, subject, term, part, vocabulary) for act in option.acts)


def _act_touches(act: Act, subject: str, term: str, part: Component, vocabulary: Vocabulary) -> bool:
    technique = vocabulary.techniques[act.technique]
    if not technique.touches:
        return False
    kind, _, name = subject.partition(":")
    whole = not act.surface
    if kind == "component":
        if vocabulary.terms[term].stated_by or term in technique.gives:
            return True
        fits = technique.clearance or technique.facts["technique.restores_fit"] == "yes"
        return technique.takes == "whole-part" or bool(
            fits if term == _CLEARANCE else whole and technique.takes != "nothing"
        )
    if technique.takes == "whole-part":
        return True
    if kind == "surface":
        return whole or name == act.surface
    if kind == "defect":
        return act.treats is None or name == act.treats
    if kind == "mark":
        return act.takes is None or name in act.takes
    return act.facts.get("act.disturbs_repair") is None or _says(act, "act.disturbs_repair", "yes")


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
    """The running clearance after each act in turn; None where one of them cannot be reckoned."""
    now = today.facts.get((subject, _CLEARANCE))
    readings = [v for v in (now.values if now and now.values else ()) if isinstance(v, Quantity)]
    steps: list[str] = []
    bores: dict[str, Quantity] = {}
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if not technique.clearance:
            if technique.facts["technique.restores_fit"] == "yes" or technique.takes == "whole-part":
                return None, ""
            continue
        sets = today.facts.get((f"surface:{act.surface}", "surface.sets_clearance"))
        if sets is None or sets.values is None:
            return None, ""
        if "yes" in sets.values:
            readings = [r for reading in readings if (r := _step(act, technique, reading, part, bores)) is not None]
            steps.append(_STEPS[technique.clearance])
    return (tuple(readings), ", ".join(("today's clearance", *steps))) if readings else (None, "")


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
