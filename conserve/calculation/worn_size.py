"""What size a worn part had when it was made, and whether that was a fraction of an inch."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.calculation.validity import not_negative
from conserve.quantity import EXACT, Quantity, show
from conserve.truth import Truth

_INCH = Decimal("25.4")  # mm, exactly (1959 agreement)
_DENOMINATORS = (2, 4, 8, 16, 32, 64)  # those of a steel rule


class NearestFraction(NamedTuple):
    """The fraction of an inch that lies nearest to a size, and how well it fits."""

    fraction: str
    size: Quantity  # mm, exact
    residual: Quantity  # mm, the size less the fraction
    fits: Truth
    by_chance: Quantity | None  # %; None where the ± is not stated


def wear_put_back(measured: Quantity, wear: Quantity, form: str, build_up: Quantity | None = None) -> Quantity:
    """Size before wear: measured + wear - build-up for a shaft or another outside, - wear + build-up for a hole.

    Lengths in, mm out, all on one basis: diameters with wear on the diameter. Build-up is rust or paint on the
    surface. Valid for inputs found apart from one another, wear from surfaces that never rubbed. `ValueError`
    for a number below zero. Source: geometry (derived).
    """
    not_negative("measured size", measured, zero=False)
    not_negative("wear", wear)
    grown = Quantity(EXACT, EXACT, "mm") if build_up is None else build_up.in_unit("mm")
    not_negative("build-up", grown)
    sign = -1 if form == "hole" else 1
    return through(lambda m, w, b: m + sign * (w - b), "mm", measured.in_unit("mm"), wear.in_unit("mm"), grown)


def nearest_fraction(size: Quantity, denominator: int = 32) -> NearestFraction:
    """Find the nearest fraction of an inch, what is left over, and whether the fraction fits.

    Length in, and the finest division as a count: 2, 4, 8, 16, 32 or 64. It fits where what is left over lies
    within the ±, and does not where it lies outside; that cannot be told without a ±, or where the next fraction
    lies within it too. The chance is that of a size at random fitting so: 2 U over the division. `ValueError`
    for another division, or a size nearer to nothing than to one. Source: the inch of 1959 (25.4 mm); the
    rest is derived.
    """
    if denominator not in _DENOMINATORS:
        raise ValueError(f"An inch is divided by 2, 4, 8, 16, 32 or 64, not by {denominator}.")
    not_negative("size", size, zero=False)
    wide, step = size.in_unit("mm"), _INCH / denominator
    count = int((wide.amount / step).to_integral_value(ROUND_HALF_EVEN))
    if not count:
        raise ValueError(f"The size is {show(size)}; it is less than half of 1/{denominator} in.")
    nearest = (count * step).normalize()
    residual = through(lambda s: s - nearest, "mm", wide)
    doubt = residual.uncertainty
    chance = None if doubt is None else Quantity(min(Decimal(100), 200 * doubt / step), EXACT, "%")
    fits = _fits(abs(residual.amount), doubt, step)
    return NearestFraction(_told(Fraction(count, denominator)), Quantity(nearest, EXACT, "mm"), residual, fits, chance)


def _fits(left_over: Decimal, doubt: Decimal | None, step: Decimal) -> Truth:
    if doubt is None:
        return Truth.UNKNOWN
    if left_over > doubt:
        return Truth.NO
    return Truth.UNKNOWN if step - left_over <= doubt else Truth.YES


def _told(inches: Fraction) -> str:
    whole, part = divmod(inches, 1)
    return " ".join(str(one) for one in (whole, part) if one) + " in"


CALCULATIONS = (
    Calculation(
        name="wear-put-back",
        does="The size that a worn part had when it was made.",
        formula="outside: measured + wear − build-up; hole: measured − wear + build-up",
        inputs=(
            Input("measured", "size as measured", "mm"),
            Input("wear", "wear, on the diameter where the size is one", "mm"),
            Input("form", "shaft, or any outside, or hole", values=("shaft", "hole")),
            Input("build_up", "rust or paint on the surface, on the same basis", "mm", optional=True),
        ),
        gives=(Answer("nominal", "size before wear", "mm"),),
        valid="Inputs found apart from one another. Wear is measured from surfaces that never rubbed.",
        source="geometry (derived)",
        example={"measured": "75.2 ± 0.05 mm", "wear": "0.85 ± 0.2 mm", "form": "shaft"},
        run=wear_put_back,
        cautions=("What was made is not proved by this: say in the record how the size was found.",),
    ),
    Calculation(
        name="nearest-fraction",
        does="The fraction of an inch that a size may have been.",
        formula="residual = size − nearest fraction; it fits if the residual lies within the ± and no other does",
        inputs=(
            Input("size", "size before wear", "mm"),
            Input(
                "denominator", "finest division of the inch: 2, 4, 8, 16, 32 or 64; else 32", count=True, optional=True
            ),
        ),
        gives=(
            Answer("fraction", "nearest fraction"),
            Answer("size", "its size", "mm"),
            Answer("residual", "the size less the fraction", "mm"),
            Answer("fits", "whether the fraction fits"),
            Answer("by_chance", "chance that a size at random would fit so", "%"),
        ),
        valid="Parts made to the inch. A fit proves little where chance would give one; a residual far beyond its ± "
        "says that it was no such fraction.",
        source="the inch of 1959 (25.4 mm exactly); the rest is derived",
        example={"size": "76.05 ± 0.2 mm", "denominator": "16"},
        run=nearest_fraction,
    ),
)
