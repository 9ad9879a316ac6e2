"""Two metals in contact: which of them is eaten where the joint is wet, and whether to look twice.

A flag and no more. Every engine has bronze bushes in iron, about 0.45 V apart, and oil keeps them for a century.
No rate of corrosion follows from a voltage.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.quantity import EXACT, Quantity, above, between, show
from conserve.truth import Truth, all_of, any_of, opposite

# Anodic index (V below gold) and how far published values scatter about it. Index: tables at vk6ysf.com and
# eicac.co.uk, loosely after MIL-STD-889. Scatter: wide enough that gaps between two metals also cover those of
# potentials measured in flowing sea water (l-36.com) and of a boatbuilders' series (kiwiprops.co.nz).
_INDEX = {
    "grey-cast-iron": ("0.85", "0.12"),
    "malleable-iron": ("0.85", "0.12"),
    "wrought-iron": ("0.85", "0.12"),
    "mild-steel": ("0.85", "0.12"),
    "alloy-steel": ("0.85", "0.12"),  # the tables' low-alloy steels
    "gunmetal": ("0.40", "0.10"),  # no row of its own: a bronze
    "bronze": ("0.40", "0.10"),
    "brass": ("0.45", "0.20"),  # high brasses; others from 0.35
    "white-metal": ("0.65", "0.20"),  # no row of its own: between tin-lead solder 0.65 and lead 0.70
    "copper": ("0.35", "0.25"),
    "aluminium": ("0.90", "0.25"),  # 0.75 to 0.95 by alloy, and more in sea water
    "lead": ("0.70", "0.30"),  # sea-water series put it anywhere from beside the bronzes to below iron
    "stainless-steel": ("0.50", "0.20"),  # 18 % chromium; sea-water series put it above the bronzes while it is passive
    "zinc": ("1.25", "0.10"),
}
METALS = tuple(_INDEX)
# A gap that is borne outdoors, in damp and salt: the same tables.
_BORNE = Quantity(Decimal("0.15"), EXACT, "V")
# Times as large as the base metal: common practice, no published source. That a small base area by a large
# noble one is to be avoided: MIL-STD-1250A, 5.6 f.
_LARGE = Quantity(Decimal(10), EXACT, "1")


class Pair(NamedTuple):
    """Two metals in contact."""

    gap: Quantity
    loses: str | None  # None where published values disagree


class Flagged(NamedTuple):
    """Two metals in contact, in their joint."""

    gap: Quantity
    loses: str | None
    flag: Truth


def galvanic_pair(metal: str, other: str) -> Pair:
    """The gap between two metals' anodic indices, V, with the scatter of published values, and which one is eaten.

    Which is eaten is told only where the gap is larger than its ±. Valid as a first look at bare metals wet by the
    same water; not for plated, dry or greased joints. Two parts of one metal stand 0 V apart, give or take the
    scatter of two such parts. `ValueError` for a metal that is not listed. Source: anodic index tables after
    MIL-STD-889, scatter by comparison with sea-water series.
    """
    for name in (metal, other):
        if name not in _INDEX:
            raise ValueError(f"'{name}' is not a listed metal; there are {', '.join(METALS)}.")
    gap = through(lambda one, two: abs(one - two), "V", _index(metal), _index(other))
    if gap.uncertainty is None or gap.amount <= gap.uncertainty:
        return Pair(gap, None)
    return Pair(gap, max(metal, other, key=lambda name: _index(name).amount))


def galvanic_flag(metal: str, other: str, wet: str, greased: str, area_ratio: Quantity | None = None) -> Flagged:
    """Whether two metals in contact need a second look: a wet joint, and bare or with a far larger noble area.

    Flagged where the joint is wet, its gap is above 0.15 V, and it is not greased or the noble area is more than
    ten times the base one. `wet` and `greased` are yes or no; the ratio is noble area over base area. A greased
    wet joint whose areas nobody gave cannot be told. Validity as `galvanic_pair`; no rate follows from it.
    `ValueError` as there, for another word, or for a ratio that is not above zero.
    Source: limit 0.15 V as in the index tables; ratio 10 common practice, no published source.
    """
    pair = galvanic_pair(metal, other)
    if area_ratio is not None and area_ratio.amount <= 0:
        raise ValueError(f"The area ratio is {show(area_ratio)}; it must be above zero.")
    large = Truth.UNKNOWN if area_ratio is None else above(area_ratio, _LARGE)
    bare = any_of((opposite(_said("greased", greased)), large))
    return Flagged(*pair, all_of((_said("wet", wet), bare, _beyond(metal, other))))


def _beyond(metal: str, other: str) -> Truth:
    """Whether two metals stand further apart than is borne, whichever of them is the nobler."""
    apart = _index(metal).minus(_index(other))
    return opposite(between(apart, _BORNE.times(Decimal(-1)), _BORNE))


def _index(metal: str) -> Quantity:
    index, scatter = _INDEX[metal]
    return Quantity(Decimal(index), Decimal(scatter), "V")


def _said(name: str, word: str) -> Truth:
    if word not in ("yes", "no"):
        raise ValueError(f"Whether the joint is {name} is told by yes or no, not '{word}'.")
    return Truth.YES if word == "yes" else Truth.NO


_METALS = (
    Input("metal", "one of the two metals", values=METALS),
    Input("other", "the other metal", values=METALS),
)
_GIVES = (
    Answer("gap", "difference of their anodic indices", "V"),
    Answer("loses", "which is eaten if it stays wet; cannot be told where published values disagree"),
)
_VALID = (
    "A first look at bare metals in contact, wet by the same water. Not for plated metal, and no rate of corrosion "
    "follows from a voltage. Bronze bushes in iron, about 0.45 V apart, last for a century in oil."
)
_SOURCE = (
    "anodic index tables after MIL-STD-889 (vk6ysf.com, eicac.co.uk); ± from their disagreement with potentials in "
    "sea water; the limit of 0.15 V is theirs for outdoors"
)

CALCULATIONS = (
    Calculation(
        name="galvanic-pair",
        does="How far apart two metals in contact stand, and which is eaten where they stay wet.",
        formula="gap = difference of the anodic indices; the metal with the larger index is eaten",
        inputs=_METALS,
        gives=_GIVES,
        valid=_VALID,
        source=_SOURCE,
        example={"metal": "bronze", "other": "grey-cast-iron"},
        run=galvanic_pair,
    ),
    Calculation(
        name="galvanic-flag",
        does="Whether two metals in contact need a second look in their joint.",
        formula="flag = wet, and gap above 0.15 V, and either not greased or noble area more than 10 × base area",
        inputs=(
            *_METALS,
            Input("wet", "whether water stands in the joint or comes to it often", values=("yes", "no")),
            Input("greased", "whether oil, grease or another barrier keeps the water out", values=("yes", "no")),
            Input("area_ratio", "wetted area of the nobler metal over that of the other", "1", optional=True),
        ),
        gives=(*_GIVES, Answer("flag", "whether the joint needs a second look")),
        valid=_VALID,
        source=_SOURCE + "; an area ratio of 10 is common practice, no published source",
        example={"metal": "stainless-steel", "other": "wrought-iron", "wet": "yes", "greased": "no"},
        run=galvanic_flag,
        cautions=(
            "A joint without a flag may still be eaten from within.",
            "Where a joint holds a load, pressure or a person, have a competent person look at it.",
        ),
    ),
)
