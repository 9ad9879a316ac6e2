"""How much metal an act takes from a part, and how deep it goes; what the part weighs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import NamedTuple

from conserve.calculation import fabric
from conserve.casebook import Act, Component, Facts
from conserve.casebook.agreeing import agreed, quantity_of, word_of
from conserve.quantity import EXACT, Quantity
from conserve.terms import Vocabulary

NOTHING = Quantity(EXACT, EXACT, "mm3")
NO_MASS = Quantity(EXACT, EXACT, "kg")
NO_AREA = Quantity(EXACT, EXACT, "mm2")

Diameters = dict[str, Quantity]  # face -> its diameter after the acts so far


class Cut(NamedTuple):
    """What one cut takes, and how far below the face it reaches. None: nobody can say."""

    volume: Quantity | None
    depth: Quantity | None


_UNTOLD = Cut(None, None)


def cut_of(act: Act, takes: str, part: Component, diameters: Diameters) -> Cut:
    """Reckon one cut from the dimensions given; what a face was opened to before is where it starts from."""
    try:
        return _KINDS[takes](act, part, diameters)
    except ValueError:  # the numbers given cannot be: checked elsewhere, unknown here
        return _UNTOLD


def _skim(act: Act, part: Component, _: Diameters) -> Cut:
    area, depth = surface_number(act, part, "surface.area"), quantity_of(act.facts, "act.depth")
    return Cut(fabric.skimmed(area, depth) if area and depth else None, depth)


def _pocket(act: Act, part: Component, _: Diameters) -> Cut:
    area, depth = quantity_of(act.facts, "act.pocket_area"), quantity_of(act.facts, "act.depth")
    return Cut(fabric.let_in(area, depth) if area and depth else None, depth)


def _bore(act: Act, part: Component, diameters: Diameters) -> Cut:
    return _round(act, part, diameters, fabric.bored, highest=False)


def _turn(act: Act, part: Component, diameters: Diameters) -> Cut:
    return _round(act, part, diameters, fabric.turned, highest=True)


def _round(act: Act, part: Component, diameters: Diameters, reckon: Callable[..., Quantity], *, highest: bool) -> Cut:
    before = diameters.get(act.surface) or surface_number(act, part, "surface.diameter", highest=highest)
    after = quantity_of(act.facts, "act.to_diameter")
    if before is None or after is None:
        return _UNTOLD
    length = surface_number(act, part, "surface.length")
    volume = reckon(before, after, length) if length else None
    diameters[act.surface] = after
    return Cut(volume, _half(before, after) if highest else _half(after, before))


def _drill(act: Act, part: Component, _: Diameters) -> Cut:
    diameter, depth = quantity_of(act.facts, "act.hole_diameter"), quantity_of(act.facts, "act.hole_depth")
    holes = _holes(act.facts)
    return Cut(fabric.drilled(diameter, depth, holes) if diameter and depth and holes else None, depth)


def _thread(act: Act, part: Component, diameters: Diameters) -> Cut:
    """A face that is one hole is one hole; the hole is as it is today, or as this option drills it."""
    hole = (
        quantity_of(act.facts, "act.hole_diameter")
        or diameters.get(act.surface)
        or surface_number(act, part, "surface.diameter", highest=False)
    )
    major, pitch, angle, length = _numbers(
        act.facts, "act.major_diameter", "act.pitch", "act.thread_angle", "act.thread_length"
    )
    if not (hole and major and pitch and angle and length):
        return _UNTOLD
    volume = fabric.threaded(hole, major, pitch, angle, length, _holes(act.facts) or 1)
    diameters[act.surface] = fabric.thread_middle(major, pitch, angle)
    return Cut(volume, _half(major, hole))


def _prepare(act: Act, part: Component, _: Diameters) -> Cut:
    thickness, root, angle, length, gap = _numbers(
        act.facts, "act.joint_thickness", "act.root_face", "act.groove_angle", "act.joint_length", "act.root_gap"
    )
    sides = agreed(act.facts.get("act.groove_sides", ())).values
    if not (thickness and root and angle and length and gap and sides):
        return _UNTOLD
    volume = fabric.prepared(thickness, root, angle, length, gap, int(str(sides[0])))
    return Cut(volume, thickness.minus(root))


_KINDS: Mapping[str, Callable[[Act, Component, Diameters], Cut]] = {
    "skim": _skim,
    "bore": _bore,
    "turn": _turn,
    "drill": _drill,
    "thread": _thread,
    "prepare": _prepare,
    "pocket": _pocket,
}
CUTS = tuple(_KINDS)  # the kinds of `technique.takes` that cut metal


def _numbers(facts: Facts, *terms: str) -> tuple[Quantity | None, ...]:
    return tuple(quantity_of(facts, term) for term in terms)


def _holes(facts: Facts) -> int:
    return int(str((agreed(facts.get("act.holes", ())).values or (0,))[0]))


def _half(larger: Quantity, smaller: Quantity) -> Quantity:
    return larger.minus(smaller).times(Decimal("0.5"))


def surface_number(act: Act, part: Component, term: str, *, highest: bool = True) -> Quantity | None:
    surface = part.thing("surface", act.surface) if act.surface else None
    return quantity_of(surface.facts, term, highest) if surface else None


def density_of(part: Component, vocabulary: Vocabulary) -> Quantity | None:
    return vocabulary.materials.get(word_of(part.facts, "component.material"))


def volume_of(part: Component, vocabulary: Vocabulary) -> Quantity | None:
    """The metal in a part: as written, or its mass over its density; None where neither is known."""
    written = quantity_of(part.facts, "component.volume")
    if written:
        return written
    weight, density = quantity_of(part.facts, "component.mass"), density_of(part, vocabulary)
    if weight is None or density is None:
        return None
    return fabric.volume(weight, density)


def mass_of(part: Component, vocabulary: Vocabulary) -> Quantity | None:
    """What a part weighs: as written, or its volume times its density; None where neither is known."""
    written = quantity_of(part.facts, "component.mass")
    volume, density = quantity_of(part.facts, "component.volume"), density_of(part, vocabulary)
    return written or (fabric.mass(volume, density) if volume and density else None)


def total(amounts: Iterable[Quantity | None], unit: str) -> Quantity | None:
    """The sum of independent amounts; None where one of them is not known."""
    found = Quantity(EXACT, EXACT, unit)
    for amount in amounts:
        if amount is None:
            return None
        found = found.plus(amount)
    return found.in_unit(unit)
