"""The state an option leaves: what its acts compute, else what it claims, else unknown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from conserve.calculation import clearance
from conserve.casebook import Act, Component, Option
from conserve.casebook.agreeing import quantity_of
from conserve.casebook.model import Values
from conserve.facts.computed import computed
from conserve.facts.fact import Fact, How, Working
from conserve.facts.today import Today, from_statements, key_of, rolled_up
from conserve.quantity import Quantity
from conserve.terms import Giver, Technique, Vocabulary
from conserve.truth import Truth, any_of

_CLEARANCE = "component.running_clearance"
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
    touched = _touched(subject, term, option, part, vocabulary)
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
    if _touched(subject, term, option, part, vocabulary) is Truth.NO:
        return None
    found = _computed(subject, term, option, part, today, vocabulary)
    return found.values or None if found is not None else None


# ---- what an act touches ------------------------------------------------------------------------------


def _touched(subject: str, term: str, option: Option, part: Component, vocabulary: Vocabulary) -> Truth:
    """Whether any act bears on a fact; unknown where nobody has said what an act reaches."""
    word = vocabulary.terms.get(term)
    if word is None or word.lasts:  # a limit stays, and so does another part
        return Truth.NO
    if word.inputs:
        owners = [(_owner_of(name, subject, part), name) for name in word.inputs.values()]
        return any_of(_touched(owner, name, option, part, vocabulary) for owner, name in owners)
    if word.giver is not Giver.ROLL_UP:
        return any_of(_act_touches(act, subject, term, part, vocabulary) for act in option.acts)
    below = word.of
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
) -> Fact | None:
    """What the acts make of a fact: not known where somebody has yet to say a number; None where none reckons it."""
    word = vocabulary.terms[term]
    if word.inputs:
        return computed(
            word, subject, lambda name: _input_after(name, subject, option, part, today, vocabulary), vocabulary
        )
    if term == _CLEARANCE:
        return _clearance_after(subject, option, part, today, vocabulary)
    found: Fact | None = None
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if term in technique.gives:
            found = Fact(term, subject, (technique.gives[term],), How.COMPUTED)
        elif term == "surface.diameter" and subject == f"surface:{act.surface}" and technique.diameter:
            number = _number(act, technique.diameter, option)
            how = How.COMPUTED if number.known else How.SILENT
            found = Fact(term, subject, number.values, how, number.statements)
        elif term == _THICKNESS and subject == f"surface:{act.surface}" and technique.takes == "skim":
            before = found or today.facts.get((subject, term)) or Fact(term, subject, None, How.SILENT)
            found = _thinner(before, _number(act, "act.depth", option))
    return found


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


def _input_after(
    name: str, subject: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> Fact:
    """What a calculation after an option takes: each of its inputs as the option leaves it."""
    owner = _owner_of(name, subject, part)
    if name not in vocabulary.terms or owner in ("object", "proposal"):  # another part, or nothing that acts change
        return today.facts.get((owner, name)) or Fact(name, owner, None, How.SILENT)
    kind, _, thing = owner.partition(":")
    path = name if kind == "component" else f"{kind}s.{thing}.{name.partition('.')[2]}"
    return _after(owner, name, path, option, part, today, vocabulary).fact


def _owner_of(name: str, subject: str, part: Component) -> str:
    """Whose fact an input is: the subject's own, or its owner's."""
    owner = name.partition(".")[0]
    if owner == "component":
        return f"component:{part.id}"
    return owner if owner == "object" else subject


def _number(act: Act, term: str, option: Option) -> Fact:
    """A number of an act, as a fact."""
    return from_statements(f"act:{option.id}/{act.number}", term, act.facts.get(term, ()))


def _clearance_after(
    subject: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary
) -> Fact | None:
    """The running clearance after each act in turn; None where one of them cannot be reckoned.

    Not known where all of them could be, if only somebody had said a number or which face sets the clearance.
    """
    if any(_refits(vocabulary.techniques[act.technique]) for act in option.acts):
        return None
    now = today.facts.get((subject, _CLEARANCE)) or Fact(_CLEARANCE, subject, None, How.SILENT)
    readings = [v for v in now.values or () if isinstance(v, Quantity)]
    given: list[tuple[str, Fact]] = [("today's clearance", now)]
    bores: dict[str, Quantity] = {}
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if not technique.clearance:
            continue
        face = f"surface:{act.surface}"
        sets = today.facts.get((face, "surface.sets_clearance")) or Fact(
            "surface.sets_clearance", face, None, How.SILENT
        )
        if sets.values is None:
            readings = []
            given.append(("whether the face sets the clearance", sets))
        elif "yes" in sets.values:
            readings = [r for reading in readings if (r := _step(act, technique, reading, part, bores)) is not None]
            given.append((_STEPS[technique.clearance], _number(act, _NUMBERS[technique.clearance], option)))
    working = Working(
        title="Running clearance after the acts.",
        formula=", ".join(name for name, _ in given),
        given=tuple(given),
        valid="Faces that stay parallel, packing that is not squeezed, parts that are round.",
        source="geometry (derived)",
    )
    known = tuple(readings) or None
    return Fact(_CLEARANCE, subject, known, How.COMPUTED if known else How.SILENT, working=working)


def _refits(technique: Technique) -> bool:
    """Whether a technique changes the clearance by as much as nobody can reckon beforehand."""
    anew = technique.facts["technique.restores_fit"] == "yes" or technique.takes == "whole-part"
    return anew and not technique.clearance


_STEPS = {
    "opens-by-depth": "plus the depth cut",
    "closes-by-thickness": "less the packing",
    "opens-by-diameter": "plus the change of diameter",
}


_NUMBERS = {
    "opens-by-depth": "act.depth",
    "closes-by-thickness": "act.thickness",
    "opens-by-diameter": "act.to_diameter",
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
    number = quantity_of(act.facts, _NUMBERS[effect])
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
