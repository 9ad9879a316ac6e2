"""A measurement held against limits: how likely it lies within them, and what would settle it."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.quantity import Quantity, at_least, at_most, between, probability_between, settling_uncertainty
from conserve.truth import Truth


class AgainstLimits(NamedTuple):
    """How a measurement stands to its limits."""

    probability: Quantity | None  # %, that it lies within; None where its ± is not stated
    within: Truth
    settled_by: Quantity | None  # the ± that would settle it, the value staying; None where none would


def against_limits(
    measured: Quantity, at_least_limit: Quantity | None = None, at_most_limit: Quantity | None = None
) -> AgainstLimits:
    """Hold a measurement against a lower limit, an upper one, or both: Pc = Φ((TU - y)/u) - Φ((TL - y)/u).

    All in one dimension. Yes or no only at 0.95 one way; between, it cannot be told. Valid for a normal
    distribution of the measurement. `ValueError` where no limit is given, or the lower is above the upper.
    Source: JCGM 106:2012, 7.2 and 8.3.
    """
    limits: tuple[Quantity, ...]
    if at_least_limit is not None and at_most_limit is not None:
        chance = probability_between(measured, at_least_limit, at_most_limit)
        within, limits = between(measured, at_least_limit, at_most_limit), (at_least_limit, at_most_limit)
    elif at_most_limit is not None:
        chance = measured.probability_at_most(at_most_limit)
        within, limits = at_most(measured, at_most_limit), (at_most_limit,)
    elif at_least_limit is not None:
        below = measured.probability_at_most(at_least_limit)
        chance = None if below is None else round(1 - below, 12)
        within, limits = at_least(measured, at_least_limit), (at_least_limit,)
    else:
        raise ValueError("A limit is needed, below or above.")
    told = None if chance is None else Quantity(Decimal(f"{chance * 100:.4g}"), Decimal(0), "%")
    settled = settling_uncertainty(measured, *limits) if within is Truth.UNKNOWN else None
    return AgainstLimits(told, within, settled)


CALCULATIONS = (
    Calculation(
        name="against-limits",
        does="A measured length against its limits.",
        formula="the chance that the true value lies within = Φ((upper − value)/u) − Φ((lower − value)/u), u = U/2",
        inputs=(
            Input("measured", "the measured value", "mm"),
            Input("at_least", "the lower limit", "mm", exact=True, optional=True),
            Input("at_most", "the upper limit", "mm", exact=True, optional=True),
        ),
        gives=(
            Answer("probability", "chance that it lies within", "%"),
            Answer("within", "whether it lies within"),
            Answer("settled_by", "the ± that would settle it", "mm"),
        ),
        valid="A measurement whose error is about normal; the limits are exact.",
        source="JCGM 106:2012, 7.2 and 8.3",
        example={"measured": "0.185 ± 0.024 mm", "at_most": "0.20 mm"},
        run=lambda measured, at_least=None, at_most=None: against_limits(measured.in_unit("mm"), at_least, at_most),
    ),
)
