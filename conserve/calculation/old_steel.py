"""The carbon equivalent of an old steel that nobody has analysed: how far it spreads, and so why to sample first."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation
from conserve.calculation.weldability import CAUTIONS, MATERIAL, REFER, TO_WHOM
from conserve.quantity import EXACT, Quantity

# Old mild steel of unknown composition, %: engineering judgement, from memory, no published source.
C_LOW, C_LIKELY, C_HIGH = Decimal("0.10"), Decimal("0.22"), Decimal("0.45")
MN_LOW, MN_HIGH = Decimal("0.3"), Decimal("0.9")


class OldSteel(NamedTuple):
    """Where CE may lie for an old steel that nobody analysed: 5, 50 and 95 % of the judged spread."""

    low: Quantity
    middle: Quantity
    high: Quantity
    refer: str


def old_steel(material: str) -> OldSteel:
    """CE = C + Mn/6 of an old mild steel that nobody analysed: its 5, 50 and 95 % quantiles, in %.

    C triangular 0.10, 0.22, 0.45 %, Mn even from 0.3 to 0.9 %, apart from one another; the distribution of
    the sum in closed form. A judgement has no ±, so none is stated and no limit can be met by it.
    `ValueError` for anything but mild steel: alloying is not in it. Source: engineering judgement, from
    memory, no published source.
    """
    if material != "mild-steel":
        raise ValueError(f"The spread was judged for plain old steel and not for {material}; have a sample analysed.")
    low, middle, high = (_quantile(Decimal(part)) for part in ("0.05", "0.5", "0.95"))
    return OldSteel(low, middle, high, REFER)


def _quantile(part: Decimal) -> Quantity:
    low, high = C_LOW + MN_LOW / 6, C_HIGH + MN_HIGH / 6
    for _ in range(40):
        tried = (low + high) / 2
        low, high = (tried, high) if _chance(tried) < part else (low, tried)
    return Quantity(low.quantize(Decimal("0.0001")), None, "%")


def _chance(equivalent: Decimal) -> Decimal:
    """How likely CE is at most this: the triangle's distribution, averaged over the even spread of Mn/6."""
    least, most = MN_LOW / 6, MN_HIGH / 6
    return (_area(equivalent - least) - _area(equivalent - most)) / (most - least)


def _area(carbon: Decimal) -> Decimal:
    """The integral of the triangular distribution of carbon up to here."""
    whole = C_HIGH - C_LOW
    rising = 3 * whole * (C_LIKELY - C_LOW)
    if carbon <= C_LIKELY:
        return max(EXACT, carbon - C_LOW) ** 3 / rising
    falling, here = 3 * whole * (C_HIGH - C_LIKELY), max(EXACT, C_HIGH - carbon)
    top = (C_LIKELY - C_LOW) ** 3 / rising
    return top + (carbon - C_LIKELY) - ((C_HIGH - C_LIKELY) ** 3 - here**3) / falling


CALCULATIONS = (
    Calculation(
        name="old-steel",
        does="How far the carbon equivalent of an old steel may spread when nobody has analysed it.",
        formula="CE = C + Mn/6; C triangular 0.10, 0.22, 0.45 %, Mn even from 0.3 to 0.9 %; 5, 50 and 95 % of the sum",
        inputs=(MATERIAL,),
        gives=(
            Answer("low", "one steel in twenty lies below", "%"),
            Answer("middle", "as many lie below as above", "%"),
            Answer("high", "one steel in twenty lies above", "%"),
            TO_WHOM,
        ),
        valid="Old mild steel without alloying. It spans from easy to difficult, so it decides nothing: sample first.",
        source="engineering judgement, from memory, no published source",
        example={"material": "mild-steel"},
        run=old_steel,
        cautions=CAUTIONS,
    ),
)
