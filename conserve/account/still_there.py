"""How much is left of what one part was made with, wherever the part is: what rules on cumulative loss ask."""

from __future__ import annotations

from dataclasses import replace

from conserve.account.balance import WHOLE, Balance, Fabric
from conserve.account.before import Step, steps_of
from conserve.account.happening import ZERO
from conserve.account.held import UNITS, Where, where_now
from conserve.account.journal import balances_now
from conserve.account.metal import total
from conserve.casebook import Casebook, Component
from conserve.casebook.agreeing import quantity_of, word_of
from conserve.quantity import Quantity
from conserve.terms import Vocabulary

Shares = dict[str, Quantity | None]


def left_of(part: Component, casebook: Casebook, vocabulary: Vocabulary, but: str = "") -> Shares:
    """The share that is left of what a part was made with, in %, measure by measure.

    None: it cannot be told, or there was none. `but` names a proposal whose own reckoning is left out.
    """
    if _nothing_went(part, casebook, vocabulary, but):
        return _all_of_it(part)
    shares: Shares = {}
    for balance in balances_now(part, casebook, vocabulary, but)[Fabric(part.phase)]:
        column = balance.column
        there = total((column.stays, column.stored), UNITS[column.name])
        kept = replace(column, stays=there, stored=ZERO[column.name])
        shares[column.name] = Balance(kept, balance.lossless, untouched=balance.lossless).share
    return shares


def _nothing_went(part: Component, casebook: Casebook, vocabulary: Vocabulary, but: str) -> bool:
    """Whether nothing can have gone from a part, so that its books need not be kept: asked at every weighing."""
    steps = steps_of(part, vocabulary)
    told = where_now(part) in (Where.PLACE, Where.STORE) and word_of(part.facts, "component.lost_before") != "yes"
    if not told or steps is None or any(map(_took, steps)) or any(e.kind == "lost" for e in part.history or ()):
        return False
    return not any(one.decision and one.id != but and part.id in one.components for one in casebook.proposals)


def _took(step: Step) -> bool:
    return step.metal is None or bool(step.metal.amount) or step.surfaces != () or step.marks != ()


def _all_of_it(part: Component) -> Shares:
    areas = [quantity_of(face.facts, "surface.area") for face in part.surfaces or ()]
    no_faces = part.surfaces is not None and all(area is not None and not area.amount for area in areas)
    return {
        "parts": WHOLE,
        "marks": None if part.things("mark") == () else WHOLE,
        "surface": None if no_faces else WHOLE,
        "metal": WHOLE,
    }
