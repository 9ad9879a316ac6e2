"""A wall that may hold pressure: what was measured, what may be unseen, and who must judge it.

Screening only. Every answer is a number for a pressure examiner to look at; nothing here says whether a
wall may be used, and no date of the end of its life is worked out.
"""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import Reading, through
from conserve.calculation.readings import lengths
from conserve.calculation.validity import above_zero
from conserve.quantity import EXACT, Quantity, below, show
from conserve.truth import Truth

REFER = "pressure examiner"
THICKEST = Decimal("0.2")  # wall to outside diameter, as far as Barlow was compared with Lamé


class RemainingWall(NamedTuple):
    """What is left where it is thinnest, as far as anyone has seen."""

    left: Quantity  # mm, no more than this
    share: Quantity | None  # % of nominal; None without a nominal thickness
    refer: str


class Thickness(NamedTuple):
    """A thickness to talk to the examiner with."""

    thickness: Quantity  # mm
    refer: str


class Thinning(NamedTuple):
    """How fast a wall got thinner, in mm a year."""

    long_term: Quantity
    short_term: Quantity | None  # None without a measurement in between
    refer: str


def remaining_wall(
    wall: tuple[Reading, ...], pits: tuple[Reading, ...] = (), nominal: Quantity | None = None
) -> RemainingWall:
    """Least wall measured less deepest pit seen, in mm, and its share of the nominal thickness in %.

    Lengths in. Valid for general corrosion and open pits, not for cracks, grooving, stays or rivet lands.
    An upper bound: deeper pits may be unseen. `ValueError` for no reading of the wall, a wall or nominal
    that may be zero, a pit below zero (0 mm: looked at, and none there), or one as deep as the least wall.
    Source: geometry (derived).
    """
    walls, depths = lengths("wall", wall), lengths("depth of a pit", pits, zero=True) if pits else ()
    for one in walls:
        above_zero("wall", one.value)
    left = through(partial(_left, len(walls)), "mm", *walls, *depths)
    if left.amount <= 0:
        raise ValueError(f"The deepest pit leaves {show(left)} of the least wall: stop, and refer it to a {REFER}.")
    if nominal is None:
        return RemainingWall(left, None, REFER)
    above_zero("nominal thickness", nominal)
    share = through(partial(_share, len(walls)), "%", nominal.in_unit("mm"), *walls, *depths)
    return RemainingWall(left, share, REFER)


def barlow(pressure: Quantity, outside: Quantity, stress: Quantity) -> Thickness:
    """Barlow's thickness of a plain tube, t = P D / (2 S), D being the outside diameter, in mm.

    Pressures and a length in; the stress is set by a pressure examiner. Thicker than Lamé's by 2 % at
    t/D 0.02 to 18 % at 0.2. Valid for a plain tube under pressure from inside, without corrosion allowance,
    joints or holes. `ValueError` for a number that may be zero, or t/D that may be above 0.2. Source:
    Barlow's formula; the comparison is derived.
    """
    given = (pressure.in_unit("MPa"), outside.in_unit("mm"), stress.in_unit("MPa"))
    for name, one in zip(("pressure", "outside diameter", "stress"), given, strict=True):
        above_zero(name, one)
    ratio = through(lambda p, s: p / (2 * s), "1", given[0], given[2])
    if ratio.amount + (ratio.uncertainty or EXACT) > THICKEST:
        raise ValueError(f"The wall would be {show(ratio)} of the outside diameter; Barlow is used here to {THICKEST}.")
    return Thickness(through(lambda p, d, s: p * d / (2 * s), "mm", *given), REFER)


def thinning(
    first: Quantity,
    now: Quantity,
    years: Quantity,
    previous: Quantity | None = None,
    years_since_previous: Quantity | None = None,
) -> Thinning:
    """How fast one place of a wall thinned, (first − now) / years and (previous − now) / years since, mm a year.

    Lengths and times in. No remaining life follows from it. Valid for general corrosion, measured at one
    place each time. A wall that may not have thinned gives a rate about zero. `ValueError` where it certainly
    got thicker, for a thickness or time that may be zero, for one of `previous` and its years without the
    other, or a previous measurement before the first. Source: API 570, 7.1.1.
    """
    if (previous is None) != (years_since_previous is None):
        raise ValueError("A previous thickness and the years since it go together; one of them is missing.")
    long_term = _rate(first, now, years)
    if previous is None or years_since_previous is None:
        return Thinning(long_term, None, REFER)
    if below(years, years_since_previous) is Truth.YES:
        raise ValueError(f"The previous measurement, {show(years_since_previous)} ago, is older than the first.")
    return Thinning(long_term, _rate(previous, now, years_since_previous), REFER)


def _left(walls: int, *readings: Decimal) -> Decimal:
    return min(readings[:walls]) - max(readings[walls:], default=EXACT)


def _share(walls: int, nominal: Decimal, *readings: Decimal) -> Decimal:
    return 100 * _left(walls, *readings) / nominal


def _rate(before: Quantity, now: Quantity, years: Quantity) -> Quantity:
    for name, one in (("earlier thickness", before), ("thickness now", now), ("time between", years)):
        above_zero(name, one)
    if below(before, now) is Truth.YES:
        raise ValueError(f"The wall went from {show(before)} to {show(now)}: it got thicker, so one reading is wrong.")
    given = (before.in_unit("mm"), now.in_unit("mm"), years.in_unit("year"))
    return through(lambda then, left, time: (then - left) / time, "mm", *given)


CAUTIONS = (
    "This certifies nothing: what may hold pressure is examined by a pressure examiner, under local law, before use.",
    "Cracks, grooving, stayed plates, rivet lands and walls eaten through do not show in a thickness.",
    "Trapped pressure, hot water and lagging with asbestos hurt people: make sure first that all is empty and known.",
)
_REFER = Answer("refer", "to whom the number goes")

CALCULATIONS = (
    Calculation(
        name="remaining-wall",
        does="What is left of a wall at the deepest pit that was seen.",
        formula="left = least wall measured − deepest pit seen; share = left / nominal × 100 %",
        inputs=(
            Input("wall", "the thickness of the wall away from pits", "mm", readings=True),
            Input("pits", "the depths of the pits seen", "mm", readings=True, optional=True),
            Input("nominal", "the thickness on the drawing or of the plate as bought", "mm", exact=True, optional=True),
        ),
        gives=(
            Answer("left", "what is left, and no more than this: deeper pits may be unseen", "mm"),
            Answer("share", "what is left, of the nominal thickness", "%"),
            _REFER,
        ),
        valid="General corrosion and open pits of a wall that may hold pressure; not cracks, grooving, stays, rivets.",
        source="geometry (derived)",
        example={
            "wall": "12.6 ± 0.2 mm; 12.4 ± 0.2 mm; 12.7 ± 0.2 mm",
            "pits": "1.8 ± 0.05 mm; 2.9 ± 0.05 mm",
            "nominal": "1/2 in",
        },
        run=remaining_wall,
        cautions=(
            *CAUTIONS,
            "An ultrasonic gauge reads paint and scale as metal, and reads the far side of a pit badly.",
        ),
    ),
    Calculation(
        name="barlow",
        does="Barlow's thickness of a plain tube, to talk to the examiner with.",
        formula="t = P × D / (2 × S), D being the outside diameter",
        inputs=(
            Input("pressure", "the pressure inside", "MPa", exact=True),
            Input("outside", "the outside diameter", "mm"),
            Input("stress", "the stress that a pressure examiner has set", "MPa", exact=True),
        ),
        gives=(Answer("thickness", "Barlow's thickness, for talking to the examiner", "mm"), _REFER),
        valid="A plain tube, pressure inside, wall up to a fifth of the diameter; no joints, holes or allowances.",
        source="Barlow's formula; 2 % thicker than Lamé's at t/D 0.02, 5 % at 0.05, 10 % at 0.1, 18 % at 0.2 (derived)",
        example={"pressure": "0.7 MPa", "outside": "762 ± 2 mm", "stress": "60 MPa"},
        run=barlow,
        cautions=CAUTIONS,
    ),
    Calculation(
        name="thinning",
        does="How fast a wall got thinner at one place.",
        formula="long-term = (first − now) / years; short-term = (previous − now) / years since previous",
        inputs=(
            Input("first", "the thickness when first measured", "mm"),
            Input("now", "the thickness now, at the same place", "mm"),
            Input("years", "the time from the first measurement to now", "year", exact=True),
            Input("previous", "the thickness at the last measurement before now", "mm", optional=True),
            Input("years_since_previous", "the time since then", "year", exact=True, optional=True),
        ),
        gives=(
            Answer("long_term", "thinning since the first measurement, in mm a year", "mm"),
            Answer("short_term", "thinning since the previous measurement, in mm a year", "mm"),
            _REFER,
        ),
        valid="General corrosion, measured at one place. No remaining life follows: rust does not keep to a rate.",
        source="API 570, 7.1.1",
        example={
            "first": "12.7 ± 0.2 mm",
            "now": "11.9 ± 0.2 mm",
            "years": "20 year",
            "previous": "12.1 ± 0.2 mm",
            "years_since_previous": "5 year",
        },
        run=thinning,
        cautions=CAUTIONS,
    ),
)
