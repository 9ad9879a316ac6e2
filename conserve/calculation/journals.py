"""How worn a journal, a bore or a bush is, from readings taken around it and along it.

Diameters are two-point: they are blind to three, five or any odd number of lobes. What they show is
ovality and never roundness.
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
    crest,
    distinct,
    fitted,
    greatest,
    least,
    lengths,
    within,
)
from conserve.quantity import EXACT, Quantity

_NOTHING = Quantity(EXACT, EXACT, "mm")
_TURN, _HALF = Decimal(360), Decimal(180)  # degrees; a diameter comes back to itself after half a turn
_SPACING = Decimal(1)  # degree that an angle may be off its equal spacing
_BLIND = "Two-point diameters do not show three, five or any odd number of lobes: this is ovality, not roundness."


class Sizes(NamedTuple):
    """The diameters of one face, all in mm."""

    least: Quantity
    greatest: Quantity
    mean: Quantity


class Ovality(NamedTuple):
    """How oval a face is in its worst plane."""

    ovality: Quantity  # mm
    axis: Quantity | None  # °, of the greatest diameter; None where the ovality is not above its uncertainty
    plane: str | None  # None where the plane has no name


class Taper(NamedTuple):
    """How the mean diameter changes along a face."""

    taper: Quantity  # mm
    thin_plane: str | None  # None where the taper is not above its uncertainty


class EccentricWear(NamedTuple):
    """How far a bush or bore is worn to one side."""

    eccentricity: Quantity  # mm
    direction: Quantity | None  # °, of the thin side; None where the eccentricity is not above its uncertainty


def sizes(diameters: Sequence[Reading]) -> Sizes:
    """The least, the greatest and the mean of the diameters read on one face.

    Lengths in, mm out. Valid for the places that were read: between them the face may be smaller or larger.
    What the readings share stays whole in all three. The more readings are about alike, the more uncertain
    is the extreme one. `ValueError` for no reading, or one that is not above zero. Source: derived; the
    uncertainty of an extreme by Bonferroni's inequality.
    """
    read = lengths("diameter", diameters)
    return Sizes(least(read).value, greatest(read).value, through(_mean, "mm", *read))


def ovality(diameters: Sequence[Reading]) -> Ovality:
    """How oval a face is: D = mean + a cos 2φ + b sin 2φ by least squares in each plane, ovality 2√(a² + b²).

    Lengths at angles in degrees in; mm, degrees from 0 to 180 and the plane out, for the worst plane. Valid
    for two-point diameters at three or more angles in every plane. Blind to odd lobes, so it is not roundness.
    What the readings share falls out. `ValueError` for a plane with fewer than three different angles, which may be
    the worst, a missing angle, or a reading that is not above zero. Source: derived (least squares).
    """
    read = lengths("diameter", diameters)
    angles_of(read)
    planes = by_plane(read)
    for name, part in planes.items():
        if (angles := distinct(angles_of(part), 180)) < 3:
            where = f"plane {name} has {angles}" if name else f"there are {angles}"
            raise ValueError(
                f"Ovality needs diameters at three or more different angles in each plane, 0 and 180 are one; {where}."
            )
    worst = greatest([_oval(part) for part in planes.values()])
    part = planes[worst.plane]
    axis = crest(angles_of(part), 2, part) if _sure(worst.value) else None
    return Ovality(worst.value, axis, worst.plane or None)


def taper(diameters: Sequence[Reading]) -> Taper:
    """How much the mean diameter changes along a face: the greatest plane mean less the least.

    Lengths at angles in planes in, mm and the thinnest plane out. Valid where all planes are read at like
    angles; a barrel or a waist between the planes does not show. What the readings share falls out.
    `ValueError` for fewer than two planes, planes with different angles, a missing angle, or a reading that
    is not above zero. Source: derived.
    """
    read = lengths("diameter", diameters)
    angles_of(read)
    planes = by_plane(read)
    if len(planes) < 2:
        raise ValueError("Taper needs diameters in two or more planes.")
    if len({tuple(sorted(within(angle, _HALF) for angle in angles_of(part))) for part in planes.values()}) > 1:
        raise ValueError("Taper needs the same angles in every plane; these planes were read at different angles.")
    in_turn = [reading for part in planes.values() for reading in part]
    found = through(partial(_range_of_means, len(in_turn) // len(planes)), "mm", *in_turn)
    thinnest = min(planes, key=lambda name: _mean(*(reading.value.amount for reading in planes[name])))
    return Taper(found, thinnest if _sure(found) else None)


def eccentric_wear(walls: Sequence[Reading]) -> EccentricWear:
    """How far a bush is worn to one side: e = √(a² + b²), a = 2/n Σ t cos θ, b = 2/n Σ t sin θ, of its wall.

    Wall thicknesses at angles in degrees in; mm and degrees from 0 to 360 out. Valid for equal spacing
    around one plane of a bush that was made concentric. From three angles alone an oval bore looks worn to
    one side; four or more tell them apart. What the readings share falls out. `ValueError` for fewer than three
    angles, unequal spacing, more than one plane, a missing angle, or a wall that is not above zero.
    Source: NIST/SEMATECH e-Handbook, 2.3.4.4 (least squares circle), used on a wall: derived.
    """
    read = lengths("wall", walls)
    angles = angles_of(read)
    if len({reading.plane for reading in read}) > 1:
        raise ValueError("Eccentric wear needs the wall thicknesses of one plane only.")
    _check_spacing(angles)
    found = through(partial(_height, angles, 1), "mm", *read)
    opposite = [angle + 180 for angle in angles]
    return EccentricWear(found, crest(opposite, 1, read) if _sure(found) else None)


def _oval(readings: Sequence[Reading]) -> Reading:
    formula = partial(_height, angles_of(readings), 2)
    across = through(lambda *amounts: 2 * formula(*amounts), "mm", *readings)
    return Reading(across, readings[0].plane, None, "ovality", _NOTHING)  # no bias is left to share


def _height(angles: Sequence[Decimal], times: int, *amounts: Decimal) -> Decimal:
    return fitted(angles, times, *amounts).height


def _mean(*amounts: Decimal) -> Decimal:
    return sum(amounts, EXACT) / len(amounts)


def _range_of_means(each: int, *amounts: Decimal) -> Decimal:
    means = [_mean(*amounts[first : first + each]) for first in range(0, len(amounts), each)]
    return max(means) - min(means)


def _check_spacing(angles: Sequence[Decimal]) -> None:
    around = sorted(within(angle, _TURN) for angle in angles)
    if len(around) < 3:
        raise ValueError(f"Eccentric wear needs walls at three or more angles, not {len(around)}.")
    step = _TURN / len(around)
    gaps = [within(after - before, _TURN) for before, after in zip(around, [*around[1:], around[0]], strict=True)]
    if any(abs(gap - step) > _SPACING for gap in gaps):
        raise ValueError(f"Eccentric wear needs walls at equal spacing around, here every {step:.4g} degrees.")


def _sure(found: Quantity) -> bool:
    """Whether a size that cannot be below zero is above its own uncertainty."""
    return found.uncertainty is not None and found.amount > found.uncertainty


CALCULATIONS = (
    Calculation(
        name="diameters",
        does="The least, the greatest and the mean of the diameters read on one face.",
        formula="the least reading, the greatest reading, and the sum of the readings divided by their number",
        inputs=(Input("diameters", "diameters read on the face", "mm", readings=True),),
        gives=(
            Answer("least", "least diameter", "mm"),
            Answer("greatest", "greatest diameter", "mm"),
            Answer("mean", "mean diameter", "mm"),
        ),
        valid="The places that were read; between them the face may be smaller or larger.",
        source="derived; the uncertainty of an extreme by Bonferroni's inequality, of the mean by JCGM 100:2008, 5.2",
        example={"diameters": "A@0 126.81 ± 0.01 mm; A@90 126.79 ± 0.01 mm; B@0 126.80 ± 0.01 mm"},
        run=sizes,
    ),
    Calculation(
        name="ovality",
        does="How oval a face is in its worst plane. " + _BLIND,
        formula="D = mean + a cos 2φ + b sin 2φ by least squares; ovality = 2√(a² + b²); axis = ½ atan2(b, a)",
        inputs=(Input("diameters", "diameters at three or more angles in a plane", "mm", readings=True),),
        gives=(
            Answer("ovality", "ovality of the worst plane", "mm"),
            Answer("axis", "direction of the greatest diameter in that plane", "°"),
            Answer("plane", "the worst plane"),
        ),
        valid=_BLIND + " A plane with fewer than three angles may be the worst, and is refused.",
        source="derived (least squares)",
        example={"diameters": "A@0 63.31 ± 0.01 mm; A@45 63.36 ± 0.01 mm; A@90 63.42 ± 0.01 mm; A@135 63.37 ± 0.01 mm"},
        run=ovality,
    ),
    Calculation(
        name="taper",
        does="How much the mean diameter changes along a face.",
        formula="taper = greatest mean of a plane − least mean of a plane",
        inputs=(Input("diameters", "diameters at like angles in two or more planes", "mm", readings=True),),
        gives=(
            Answer("taper", "greatest difference between plane means", "mm"),
            Answer("thin_plane", "plane where the mean is least"),
        ),
        valid="Planes read at like angles; a barrel or a waist between the planes does not show.",
        source="derived",
        example={"diameters": "A@0 50.02 ± 0.01 mm; A@90 50.00 ± 0.01 mm; B@0 49.95 ± 0.01 mm; B@90 49.93 ± 0.01 mm"},
        run=taper,
    ),
    Calculation(
        name="eccentric-wear",
        does="How far a bush that was made concentric is worn to one side, from its wall.",
        formula="e = √(a² + b²), a = 2/n Σ t cos θ, b = 2/n Σ t sin θ; the thin side lies opposite atan2(b, a)",
        inputs=(Input("walls", "wall thicknesses at equally spaced angles around one plane", "mm", readings=True),),
        gives=(
            Answer("eccentricity", "how far the bore lies off the outside", "mm"),
            Answer("direction", "direction of the thin side", "°"),
        ),
        valid="Three or more equally spaced angles; from three alone an oval bore looks worn to one side.",
        source="NIST/SEMATECH e-Handbook of Statistical Methods, 2.3.4.4; its use on a wall is derived",
        example={"walls": "@0 5.00 ± 0.01 mm; @90 4.80 ± 0.01 mm; @180 4.61 ± 0.01 mm; @270 4.79 ± 0.01 mm"},
        run=eccentric_wear,
    ),
)
