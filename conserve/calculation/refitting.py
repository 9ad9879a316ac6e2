"""What a worn pair needs in order to run again: its clearance, a smaller journal, or a bush in a larger bore.

What these give are sizes to talk about. The clearance wanted is set by a person who is named for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import Reading, through
from conserve.calculation.readings import (
    angles_of,
    by_plane,
    distinct,
    fitted,
    greatest,
    least,
    lengths,
    standing_for,
)
from conserve.calculation.validity import above_zero, not_negative
from conserve.quantity import Quantity

_SEIZES = "A clearance that is too tight seizes the pair: a competent person sets it and tries it before use."
_SET = "The clearance to aim at is the maker's or the user's to set."


class RunningClearance(NamedTuple):
    """How much room a shaft has in its hole."""

    clearance: tuple[Quantity, Quantity]  # mm, the tightest and the loosest
    per_diameter: Quantity  # 1, the loosest over the diameter of the hole there


class Regrind(NamedTuple):
    """What a worn shaft becomes when it is ground, in mm."""

    journal: Quantity
    bush_bore: Quantity


class Rebush(NamedTuple):
    """What a worn hole becomes when it is bored and bushed, in mm."""

    bore_to: Quantity
    bush_outside: Quantity
    bush_inside: Quantity
    wall: Quantity


def running_clearance(
    diameters: Sequence[Reading], form: str, mate: Sequence[Reading], mate_form: str = ""
) -> RunningClearance:
    """The diametral clearance of a pair: least hole - greatest shaft, and greatest hole - least shaft.

    Lengths in; mm, and the loosest over the greatest hole (mm per mm), out. `form` is `hole` or `shaft`:
    what the diameters are of; the mate is the other. A clearance below zero is an answer: the pair does not
    go together. One named instrument on both faces shares its bias. Valid for parts at one temperature. The
    limit is not this function's to set; 0.001 to 0.002 of the diameter is common practice. `ValueError` for a form
    other than the two, a mate of the same form, no reading, or one that is not above zero. Source: derived.
    """
    if form not in ("hole", "shaft"):
        raise ValueError(f"'{form}' is neither hole nor shaft.")
    if mate_form and {form, mate_form} != {"hole", "shaft"}:
        raise ValueError(f"A {form} does not run on a {mate_form}.")
    this, other = lengths("diameter", diameters), lengths("diameter of the mate", mate)
    hole, shaft = (this, other) if form == "hole" else (other, this)
    tightest = through(_room, "mm", least(hole), greatest(shaft))
    wide, thin = greatest(hole), least(shaft)
    return RunningClearance((tightest, through(_room, "mm", wide, thin)), through(_room_per_hole, "1", wide, thin))


def regrind(diameters: Sequence[Reading], allowance: Quantity, clearance: Quantity) -> Regrind:
    """The size a worn shaft cleans up to, and the bush bore to go with it.

    journal = least diameter - allowance, bush bore = journal + clearance. The least diameter is the least
    reading, or the least of the oval through a plane read at three angles or more, whichever is less.
    Lengths in, mm out; the allowance is on diameter, for finishing and for what two-point diameters do not
    show (odd lobes, a bend). Valid for grinding about the middle of the worn face. `ValueError` for no reading, one
    that is not above zero, an allowance below zero, a clearance not above zero, or no journal left.
    Source: derived; common practice.
    """
    read, spare, room = _asked(diameters, allowance, clearance)
    smallest = least([*read, *_ovals(read, -1)])
    journal = through(lambda worn, a: worn - a, "mm", smallest, spare)
    above_zero("journal", journal)
    return Regrind(journal, through(lambda worn, a, c: worn - a + c, "mm", smallest, spare, room))


def rebush(
    diameters: Sequence[Reading], allowance: Quantity, wall: Quantity, shaft: Quantity, clearance: Quantity
) -> Rebush:
    """The size to bore a worn hole to, and the bush to go into it.

    bush inside = shaft + clearance; bore = the larger of greatest diameter + allowance, where the hole cleans
    up, and bush inside + 2 walls; bush outside = bore, before any interference. The greatest diameter
    is found as for `regrind`. Lengths in, mm out. Valid for boring about the middle of the worn hole. `ValueError`
    for no reading, one that is not above zero, an allowance below zero, or a clearance, shaft or
    wall that is not above zero. Source: derived; common practice.
    """
    read, spare, room = _asked(diameters, allowance, clearance)
    for name, size in (("wall", wall), ("shaft", shaft)):
        above_zero(name, size)
    needs = (greatest([*read, *_ovals(read, 1)]), spare, shaft.in_unit("mm"), room, wall.in_unit("mm"))
    bore = through(_bore, "mm", *needs)
    inside = through(lambda s, c: s + c, "mm", shaft.in_unit("mm"), room)
    left = through(lambda worn, a, s, c, w: (_bore(worn, a, s, c, w) - s - c) / 2, "mm", *needs)
    return Rebush(bore, bore, inside, left)


def _room(hole: Decimal, shaft: Decimal) -> Decimal:
    return hole - shaft


def _room_per_hole(hole: Decimal, shaft: Decimal) -> Decimal:
    if hole <= 0:
        raise ValueError("The hole may be zero within its uncertainty; a clearance per diameter then means nothing.")
    return (hole - shaft) / hole


def _bore(worn: Decimal, allowance: Decimal, shaft: Decimal, clearance: Decimal, wall: Decimal) -> Decimal:
    return max(worn + allowance, shaft + clearance + 2 * wall)


def _asked(
    diameters: Sequence[Reading], allowance: Quantity, clearance: Quantity
) -> tuple[tuple[Reading, ...], Quantity, Quantity]:
    not_negative("allowance", allowance)
    above_zero("clearance", clearance)
    return lengths("diameter", diameters), allowance.in_unit("mm"), clearance.in_unit("mm")


def _ovals(readings: Sequence[Reading], side: int) -> list[Reading]:
    """The least (side -1) or greatest (side 1) diameter of the oval through each plane that has three angles."""
    angled = [reading for reading in readings if reading.angle is not None]
    planes = by_plane(angled).values()
    return [_edge(part, side) for part in planes if distinct(angles_of(part), 180) >= 3]


def _edge(readings: Sequence[Reading], side: int) -> Reading:
    formula = partial(_edge_of_oval, angles_of(readings), side)
    return standing_for(through(formula, "mm", *readings), readings)


def _edge_of_oval(angles: Sequence[Decimal], side: int, *amounts: Decimal) -> Decimal:
    wave = fitted(angles, 2, *amounts)
    return wave.mean + side * wave.height


CALCULATIONS = (
    Calculation(
        name="running-clearance",
        does="The tightest and the loosest clearance of a shaft in its hole. It says nothing of what is allowed.",
        formula="tightest = least hole − greatest shaft; loosest = greatest hole − least shaft, and over that hole",
        inputs=(
            Input("diameters", "diameters of this face", "mm", readings=True),
            Input("form", "what this face is", values=("hole", "shaft")),
            Input("mate", "diameters of the face it runs on", "mm", readings=True),
            Input("mate_form", "what the face it runs on is", values=("hole", "shaft"), optional=True),
        ),
        gives=(
            Answer("clearance", "tightest and loosest diametral clearance", "mm"),
            Answer("per_diameter", "loosest clearance per mm of the hole's diameter", "1"),
        ),
        valid="Parts at one temperature. The limit is the maker's or the user's to set; rules of thumb of 0.001 to "
        "0.002 of the diameter are common practice and differ with speed, load and oil.",
        source="derived; the rules of thumb are common practice",
        example={
            "diameters": "A@0 63.31 ± 0.01 mm; A@90 63.42 ± 0.01 mm",
            "form": "shaft",
            "mate": "A@0 63.62 ± 0.02 mm; A@90 63.70 ± 0.02 mm",
        },
        run=running_clearance,
        cautions=(_SEIZES,),
    ),
    Calculation(
        name="regrind",
        does="The size that a worn shaft cleans up to when it is ground, and the bush bore to go with it.",
        formula="journal = least diameter − allowance; bush bore = journal + clearance; the least diameter is the "
        "least reading or the least of the oval through three or more angles, whichever is less",
        inputs=(
            Input("diameters", "diameters of the worn shaft", "mm", readings=True),
            Input("allowance", "what grinding takes beyond, on diameter", "mm", exact=True),
            Input("clearance", "diametral clearance wanted, set by a named person", "mm", exact=True),
        ),
        gives=(Answer("journal", "size of the ground journal", "mm"), Answer("bush_bore", "bore of its bush", "mm")),
        valid="Grinding about the middle of the worn face. The allowance must also cover what two-point diameters do "
        f"not show: odd lobes and a bend. {_SET}",
        source="derived; common practice",
        example={
            "diameters": "A@0 63.31 ± 0.01 mm; A@45 63.36 ± 0.01 mm; A@90 63.42 ± 0.01 mm; A@135 63.37 ± 0.01 mm",
            "allowance": "0.05 mm",
            "clearance": "0.063 mm",
        },
        run=regrind,
        cautions=(
            "A ground journal is a smaller section and weaker: a competent person judges its strength first.",
            "Look for cracks before and after grinding, and keep the radius at each shoulder.",
            _SEIZES,
        ),
    ),
    Calculation(
        name="rebush",
        does="The size to bore a worn hole to, and the outside, inside and wall of the bush to go into it.",
        formula="bush inside = shaft + clearance; bore = larger of (greatest diameter + allowance) and (bush inside "
        "+ 2 × wall); bush outside = bore, before interference; wall = (outside − inside) / 2",
        inputs=(
            Input("diameters", "diameters of the worn hole", "mm", readings=True),
            Input("allowance", "what boring takes beyond, on diameter", "mm", exact=True),
            Input("wall", "least wall of the bush that is wanted", "mm", exact=True),
            Input("shaft", "greatest diameter of the shaft that runs in it", "mm"),
            Input("clearance", "diametral clearance wanted, set by a named person", "mm", exact=True),
        ),
        gives=(
            Answer("bore_to", "size to bore the hole to", "mm"),
            Answer("bush_outside", "outside of the bush, before interference", "mm"),
            Answer("bush_inside", "inside of the bush once it is fitted", "mm"),
            Answer("wall", "wall of the bush", "mm"),
        ),
        valid=f"Boring about the middle of the worn hole, where metal enough is left around it. {_SET}",
        source="derived; common practice",
        example={
            "diameters": "A@0 60.30 ± 0.02 mm; A@60 60.42 ± 0.02 mm; A@120 60.36 ± 0.02 mm",
            "allowance": "0.20 mm",
            "wall": "4 mm",
            "shaft": "59.90 ± 0.01 mm",
            "clearance": "0.06 mm",
        },
        run=rebush,
        cautions=(
            "A worn hole may already be a bush, or an earlier repair: look for its joint before anything is bored.",
            "Boring weakens what is around the hole: a competent person judges the metal left.",
            "A bush that is pressed in closes up: measure it again after fitting, before the shaft goes in.",
            _SEIZES,
        ),
    ),
)
