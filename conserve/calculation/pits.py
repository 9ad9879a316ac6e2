"""The deepest pit of a whole surface, told from the deepest pits of some blocks of it.

Screening only: a number for a pressure examiner, who may well find a deeper pit.
"""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import Reading, through
from conserve.calculation.readings import lengths
from conserve.calculation.wall import CAUTIONS, REFER
from conserve.quantity import EXACT, Quantity, propagated

FEWEST_BLOCKS = 15  # common practice, no published source
MOST_BLOCKS = 500  # Zairyo-to-Kankyo 43 (1994) 258, abstract; 15 of 500 is the 3 % that it asks to measure

_EULER = Decimal("0.5772156649015329")
# n/β² times the variances and the covariance of location and scale fitted by L-moments to many blocks:
# from memory (Phien 1987), and confirmed by drawing at random in the tests.
_LOCATION, _BOTH, _SCALE = Decimal("1.1128"), Decimal("0.2287"), Decimal("0.8046")
_ONE_SIDED = Decimal("1.6449")  # of the normal distribution, 95 %


class DeepestPit(NamedTuple):
    """The deepest pit of a whole surface, told from some blocks of it."""

    expected: Quantity  # mm
    upper: Quantity  # mm, the 95 % upper bound of `expected`
    one_in_twenty: Quantity  # mm, passed by the deepest pit one time in twenty
    refer: str


def deepest_pit(pits: tuple[Reading, ...], blocks: int) -> DeepestPit:
    """The deepest pit of a surface from the deepest pits of some blocks of it, all of one area, in mm.

    x_T = μ − β ln(−ln(1 − 1/T)), Gumbel, T blocks in all; μ and β by L-moments, never less than the deepest
    pit seen. The ± of `expected` and `one_in_twenty` holds the scatter of the pits, k = 2. `upper` is μ + k β,
    k such that the estimate lies below x_T one time in twenty (normal in large samples, the variances those
    of the true β). The deepest pit passes x_T itself about two times in three; it passes x_T', with
    1 − 1/T' = 0.95^(1/T), one time in twenty.

    Valid for blocks alike in metal, exposure and area, each with a pit. `ValueError` for fewer than 15 blocks,
    a block without a pit (take larger ones), blocks that all gave one depth, T below the blocks measured or
    above 500. Source: return period of the Gumbel distribution for pits, Shibata, J. Res. NIST 99 (1994) 327;
    limits, Zairyo-to-Kankyo 43 (1994) 258, abstract.
    """
    depths = lengths("depth of a pit", pits)
    _check_blocks(depths, blocks)
    count, whole = Decimal(len(depths)), Decimal(blocks)
    level, seldom = _variate(1 - 1 / whole), _variate(Decimal("0.95") ** (1 / whole))
    upper = through(partial(_depth, _bounding(level, count)), "mm", *depths)
    return DeepestPit(_estimate(level, depths), upper, _estimate(seldom, depths), REFER)


def _check_blocks(depths: tuple[Reading, ...], blocks: int) -> None:
    measured = len(depths)
    if measured < FEWEST_BLOCKS:
        raise ValueError(f"The deepest pits of {measured} blocks are given; {FEWEST_BLOCKS} blocks or more are needed.")
    if len({one.value.amount for one in depths}) == 1:
        raise ValueError("The deepest pits of all blocks are alike; without scatter no deeper pit can be estimated.")
    if not measured <= blocks <= MOST_BLOCKS:
        raise ValueError(f"The surface has {blocks} blocks; it must be between {measured} and {MOST_BLOCKS}.")


def _gumbel(depths: tuple[Decimal, ...]) -> tuple[Decimal, Decimal]:
    """Location and scale by L-moments: β = λ₂ / ln 2, μ = λ₁ − 0.5772 β."""
    ordered, count = sorted(depths), len(depths)
    mean = sum(ordered, EXACT) / count
    weighted = sum((place * depth for place, depth in enumerate(ordered)), EXACT) / (count * (count - 1))
    scale = (2 * weighted - mean) / Decimal(2).ln()
    return mean - _EULER * scale, scale


def _depth(factor: Decimal, *depths: Decimal) -> Decimal:
    location, scale = _gumbel(depths)
    return max(*depths, location + factor * scale)


def _variate(probability: Decimal) -> Decimal:
    return -(-probability.ln()).ln()


def _estimate(level: Decimal, depths: tuple[Reading, ...]) -> Quantity:
    """A depth with the ± of its readings and of how few blocks there are."""
    told = through(partial(_depth, level), "mm", *depths)
    _, scale = _gumbel(tuple(one.value.amount for one in depths))
    scatter = 2 * scale * ((_LOCATION + 2 * _BOTH * level + _SCALE * level**2) / len(depths)).sqrt()
    return propagated(told.amount, "mm", (Decimal(1), told), (Decimal(1), Quantity(EXACT, scatter, "mm")))


def _bounding(level: Decimal, count: Decimal) -> Decimal:
    """The k of `upper`: the larger root of n (k − y)² = z² (1.1128 + 2 · 0.2287 k + 0.8046 k²)."""
    square = _ONE_SIDED**2
    a, b, c = count - square * _SCALE, count * level + square * _BOTH, count * level**2 - square * _LOCATION
    return (b + (b**2 - a * c).sqrt()) / a


_EXAMPLE = (1.1, 0.8, 1.6, 1.3, 2.9, 1.0, 1.9, 0.7, 1.4, 2.2, 1.2, 0.9, 1.7, 1.5, 1.1, 2.0, 0.6, 1.3, 1.0, 1.5)

CALCULATIONS = (
    Calculation(
        name="deepest-pit",
        does="The deepest pit of a whole surface, from the deepest pits of some blocks of it.",
        formula="x = μ − β ln(−ln(1 − 1/T)), T = blocks of the whole surface, β = λ₂ / ln 2, μ = mean − 0.5772 β, "
        "λ₂ the second L-moment of the depths",
        inputs=(
            Input("pits", "the deepest pit of each block measured, all blocks of one area", "mm", readings=True),
            Input("blocks", "how many such blocks the whole surface has", count=True),
        ),
        gives=(
            Answer("expected", "deepest pit to expect; the true one is deeper about two times in three", "mm"),
            Answer("upper", "95 % upper bound of what to expect, from so few blocks", "mm"),
            Answer("one_in_twenty", "depth that the deepest pit passes one time in twenty", "mm"),
            Answer("refer", "to whom the number goes"),
        ),
        valid="15 blocks or more, alike in metal, exposure and area, each with a pit; "
        "500 blocks in all at most. Not for cracks, grooving, stays or rivet lands.",
        source="Shibata, J. Res. NIST 99 (1994) 327; limits, Zairyo-to-Kankyo 43 (1994) 258; scatter of the fit from "
        "memory (Phien 1987), confirmed by drawing at random",
        example={
            "pits": "; ".join(f"{depth} ± 0.05 mm" for depth in _EXAMPLE),
            "blocks": "60",
        },
        run=deepest_pit,
        cautions=CAUTIONS,
    ),
)
