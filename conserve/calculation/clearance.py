"""What is left between two faces that move on one another, after something is cut or packed.

A clearance below zero is an answer, not an error: the parts would not go together.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from conserve.calculation.validity import not_negative
from conserve.quantity import Quantity


def after_cut(clearance: Quantity, depth: Quantity) -> Quantity:
    """Clearance + depth: one of two flat faces is cut back, square to the gap.

    Lengths in, length out, in the unit of the clearance. Valid for a slide that is measured across the
    same two faces. `ValueError` for a depth below zero. Source: geometry (derived).
    """
    not_negative("depth of cut", depth)
    return clearance.plus(depth).in_unit(clearance.unit)


def after_packing(clearance: Quantity, thickness: Quantity) -> Quantity:
    """Clearance - thickness: packing, solid and without gaps, is laid behind one of two flat faces.

    Lengths in, length out, in the unit of the clearance. Valid while the packing is not squeezed thinner.
    `ValueError` for a thickness below zero. Source: geometry (derived).
    """
    not_negative("thickness of the packing", thickness)
    return clearance.minus(thickness).in_unit(clearance.unit)


def after_diameter(clearance: Quantity, before: Quantity, after: Quantity, of: Literal["hole", "shaft"]) -> Quantity:
    """Diametral clearance when one of its two diameters changes: a larger hole adds, a larger shaft takes.

    clearance + (after - before) for a hole, clearance - (after - before) for a shaft; metal may leave or
    be added. Lengths in, length out, in the unit of the clearance. Valid for round parts; the three
    measurements count as independent, which overstates the uncertainty if one gauge took them all.
    `ValueError` for a diameter that is not above zero. Source: geometry (derived).
    """
    for name, diameter in (("diameter before", before), ("diameter after", after)):
        not_negative(name, diameter, zero=False)
    change = after.minus(before).times(Decimal(1 if of == "hole" else -1))
    return clearance.plus(change).in_unit(clearance.unit)
