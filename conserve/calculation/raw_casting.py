"""A casting before it is machined: the metal that must be left on it, and the lean that lets its pattern draw."""

from __future__ import annotations

import math
from typing import NamedTuple

from conserve.calculation.casting_tables import STRENGTH, TOLERANCES
from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import rounded, through
from conserve.calculation.validity import in_range, not_negative
from conserve.quantity import EXACT, Quantity, show

# How many machined faces a dimension spans, and whether metal is left outside it (1) or inside (-1).
_KINDS = {"outside-both": (2, 1), "inside-both": (2, -1), "one-side": (1, 1)}


class RawCasting(NamedTuple):
    """A dimension of a casting before it is machined."""

    raw: Quantity  # mm
    tolerance: Quantity  # mm, all of it: half lies either side of the dimension


def raw_casting(finished: Quantity, kind: str, dctg: int, machining: Quantity) -> RawCasting:
    """Dimension of a raw casting and its tolerance T: F + 2 RMA + T/2, F - 2 RMA - T/2 inside, F + RMA + T/2.

    Lengths in, the tolerance grade as a count, mm out. T is looked up by the raw dimension itself; where two
    rows would do the larger T counts. Valid for the grades and sizes of the table: 9 to 14 to
    6300 mm, others to 160 to 630 mm, 13 and up from 16 mm. Grade 16 is for walls only (from memory). `ValueError`
    outside, or where no hole is left. Source: ISO 8062-3:2007, Table 2; the formulas are derived from
    the allowance that must remain at the worst end of the tolerance, and agree with ISO 8062:1994 from memory.
    """
    not_negative("finished dimension", finished, zero=False)
    not_negative("machining allowance", machining)
    faces, side = _KINDS[kind]
    f, rma = finished.in_unit("mm"), machining.in_unit("mm")
    for end, grades in TOLERANCES:
        tolerance = grades.get(dctg, EXACT)
        raw = through(lambda f, m, t=tolerance: f + side * (faces * m + t / 2), "mm", f, rma)
        if raw.amount <= end:
            break
    else:
        raise ValueError(f"The finished dimension is {show(finished)}; the table ends at a raw one of {end} mm.")
    if not tolerance:
        raise ValueError(f"The table holds no grade {dctg} for a raw dimension of about {show(raw)}.")
    if raw.amount <= 0:
        raise ValueError(f"A hole of {show(finished)} is too small to be cast with that allowance; drill it.")
    return RawCasting(raw, Quantity(tolerance, EXACT, "mm"))


def draft(height: Quantity, angle: Quantity) -> Quantity:
    """What one side of a pattern leans over its height so that it draws from the sand: h tan(angle).

    Length and angle in, mm out, for one side. Valid from 0 to 30°. `ValueError` outside, or where the ±
    reaches outside. Source: geometry (derived).
    """
    not_negative("height", height)
    in_range("angle", angle, "0", "30")
    return through(
        lambda h, a: h * rounded(math.tan(math.radians(float(a)))), "mm", height.in_unit("mm"), angle.in_unit("°")
    )


CALCULATIONS = (
    Calculation(
        name="raw-casting",
        does="How large a casting must be before it is machined.",
        formula="outside, both sides: finished + 2 × allowance + tolerance/2; inside: finished − 2 × allowance − "
        "tolerance/2; one side: finished + allowance + tolerance/2",
        inputs=(
            Input("finished", "finished dimension", "mm", exact=True),
            Input("kind", "which faces are machined", values=tuple(_KINDS)),
            Input("dctg", "tolerance grade agreed with the founder, 1 to 16", count=True),
            Input("machining", "required machining allowance of one face", "mm", exact=True),
        ),
        gives=(
            Answer("raw", "dimension of the raw casting", "mm"),
            Answer("tolerance", "all of its tolerance", "mm"),
        ),
        valid="The table: grades 9 to 14 to 6300 mm, others to 160 to 630 mm, 13 and up from 16 mm. Single castings "
        "moulded by hand hold about grades 11 to 15. Grade 16 is for walls only (from memory).",
        source="ISO 8062-3:2007, Table 2, above 400 mm in part from founders' tables; formulas derived, and as in "
        "ISO 8062:1994 from memory",
        example={"finished": "80 mm", "kind": "outside-both", "dctg": "10", "machining": "2.2 mm"},
        run=raw_casting,
        cautions=STRENGTH,
    ),
    Calculation(
        name="draft",
        does="How much a pattern leans so that it draws from the sand.",
        formula="draft of one side = height × tan(angle)",
        inputs=(Input("height", "height that is drawn", "mm"), Input("angle", "angle of draft", "°")),
        gives=(Answer("draft", "lean of one side", "mm"),),
        valid="From 0 to 30°.",
        source="geometry (derived)",
        example={"height": "120 ± 1 mm", "angle": "1.5 ± 0.2 °"},
        run=draft,
        cautions=STRENGTH,
    ),
)
