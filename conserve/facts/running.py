"""The running clearance that an option leaves, from today's and what each act does to it."""

from __future__ import annotations

from typing import Literal

from conserve.calculation import clearance
from conserve.calculation.readings import greatest, least
from conserve.casebook import Act, Component, Option
from conserve.casebook.agreeing import quantity_of
from conserve.facts.computed import readings_of
from conserve.facts.fact import Fact, How, Working
from conserve.facts.today import Today, from_statements
from conserve.facts.touching import CLEARANCE, builds_up_fit
from conserve.quantity import Quantity
from conserve.terms import Technique, Vocabulary
from conserve.truth import Truth

DIAMETER = "surface.diameter"


def number_of(act: Act, term: str, option: Option) -> Fact:
    """A number of an act, as a fact."""
    return from_statements(f"act:{option.id}/{act.number}", term, act.facts.get(term, ()))


def clearance_after(subject: str, option: Option, part: Component, today: Today, vocabulary: Vocabulary) -> Fact | None:
    """The running clearance after each act in turn; None where one of them cannot be reckoned.

    Not known where all of them could be, if only somebody had said a number or which face sets the clearance.
    """
    if any(_refits(act, vocabulary.techniques[act.technique], part) for act in option.acts):
        return None
    now = today.facts.get((subject, CLEARANCE)) or Fact(CLEARANCE, subject, None, How.SILENT)
    readings = [v for v in now.values or () if isinstance(v, Quantity)]
    given: list[tuple[str, Fact]] = [("today's clearance", now)]
    sizes: dict[str, Fact] = {}  # the diameter of each face that was cut to one
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
            number = number_of(act, _NUMBERS[technique.clearance], option)
            before = sizes.get(face) or today.facts.get((face, DIAMETER)) or Fact(DIAMETER, face, None, How.SILENT)
            readings = [new for old in readings for new in _step(act, technique, old, before, vocabulary)]
            if technique.clearance == "opens-by-diameter":
                given.append(("diameter before", before))
                sizes[face] = number
            given.append((_STEPS[technique.clearance], number))
    working = Working(
        title="Running clearance after the acts.",
        formula=", ".join(name for name, _ in given if name != "diameter before"),
        given=tuple(given),
        valid="Faces that stay parallel, packing that is not squeezed, parts that are round.",
        source="geometry (derived)",
    )
    known = tuple(readings) or None
    return Fact(CLEARANCE, subject, known, How.COMPUTED if known else How.SILENT, working=working)


def _refits(act: Act, technique: Technique, part: Component) -> bool:
    """Whether an act changes the clearance by as much as nobody can reckon beforehand."""
    anew = technique.facts["technique.restores_fit"] == "yes" or technique.takes == "whole-part"
    return not technique.clearance and (anew or builds_up_fit(act, technique, part) is not Truth.NO)


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
    act: Act, technique: Technique, reading: Quantity, before: Fact, vocabulary: Vocabulary
) -> tuple[Quantity, ...]:
    """One reading of the clearance after one act; none where a number is missing.

    Where a face has several diameters nobody has said at which of them the clearance was read: the least and the
    greatest give one answer each.
    """
    number = quantity_of(act.facts, _NUMBERS[technique.clearance])
    if number is None:
        return ()
    if technique.clearance != "opens-by-diameter":
        step = clearance.after_cut if technique.clearance == "opens-by-depth" else clearance.after_packing
        return (step(reading, number),)
    diameters = readings_of(before, "mm", vocabulary)
    if not diameters:
        return ()
    of: Literal["hole", "shaft"] = "hole" if technique.takes == "bore" else "shaft"
    ends = (greatest(diameters).value, least(diameters).value)
    return tuple(dict.fromkeys(clearance.after_diameter(reading, one, number, of) for one in ends))
