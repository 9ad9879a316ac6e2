"""How many more times a part can be cut before it comes to its limit, and what one act would spend of that.

The limit is a competent person's to set. Where it is unknown the number of cuts is unknown too: neither
none nor endless.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import Reading, through
from conserve.calculation.readings import greatest, least, lengths
from conserve.calculation.validity import above_zero, not_negative
from conserve.quantity import Quantity

_SMALLER = {"shaft": 1, "face": 1, "hole": -1}  # which way a cut takes the size: 1 where it gets smaller
_LIMIT = "The limit must come from a competent person: never put in a guess for one that is not known."


class CutsLeft(NamedTuple):
    """How many cuts are left."""

    cuts: Quantity  # 1
    whole: int


class CutsBeforeAndAfter(NamedTuple):
    """What an act does to the number of cuts that are left."""

    before: Quantity  # 1
    after: Quantity  # 1
    spent: Quantity  # 1


def cuts_left(now: Sequence[Reading], form: str, limit: Quantity, cut: Quantity) -> CutsLeft:
    """How many cuts are left: (now - limit) / cut for a shaft or a face, (limit - now) / cut for a hole.

    Lengths in, all on one basis (all on diameter, or all on thickness); a number of cuts out, below zero where
    the size is past its limit, and whole cuts, never below none. `now` is the worst reading: the least
    of a shaft or a face, the greatest of a hole. Valid while each overhaul takes about the same. `ValueError`
    for another form, no reading, a size or limit not above zero, or a cut not above zero by more
    than its uncertainty. Source: derived.
    """
    worst, limit, cut = _asked(now, form, limit, cut)
    way = _SMALLER[form]
    left = through(lambda size, end, each: way * (size - end) / each, "1", worst, limit, cut)
    return CutsLeft(left, max(0, math.floor(left.amount)))


def cuts_before_and_after(
    now: Sequence[Reading], form: str, limit: Quantity, cut: Quantity, after: Quantity
) -> CutsBeforeAndAfter:
    """How many cuts are left now, how many when an act has brought the part to another size, and the difference.

    As `cuts_left`, with the size after the act in any length; an act that adds metal spends less than none.
    The limit falls out of what is spent. The size now and the size after count as independent. `ValueError`
    as for `cuts_left`, or for a size after that is not above zero. Source: derived.
    """
    before = cuts_left(now, form, limit, cut).cuts
    worst, limit, cut = _asked(now, form, limit, cut)
    not_negative("size after", after, zero=False)
    then, way = after.in_unit("mm"), _SMALLER[form]
    left = through(lambda size, end, each: way * (size - end) / each, "1", then, limit, cut)
    spent = through(lambda size, later, each: way * (size - later) / each, "1", worst, then, cut)
    return CutsBeforeAndAfter(before, left, spent)


def _asked(now: Sequence[Reading], form: str, limit: Quantity, cut: Quantity) -> tuple[Reading, Quantity, Quantity]:
    if form not in _SMALLER:
        raise ValueError(f"'{form}' is neither hole nor shaft nor face.")
    not_negative("limit", limit, zero=False)
    above_zero("cut", cut)
    read = lengths("size now", now)
    worst = greatest(read) if form == "hole" else least(read)
    return worst, limit.in_unit("mm"), cut.in_unit("mm")


_INPUTS = (
    Input("now", "sizes read now", "mm", readings=True),
    Input("form", "what is cut: a shaft and a face get smaller, a hole larger", values=("hole", "shaft", "face")),
    Input("limit", "size at which it is used up, set by a competent person", "mm", exact=True),
    Input("cut", "what one overhaul takes, on the same basis", "mm"),
)
_FORMULA = "cuts = (now − limit) / cut for a shaft or a face, (limit − now) / cut for a hole; now is the worst reading"
_VALID = "All sizes on one basis, and each overhaul takes about the same. " + _LIMIT
_EXAMPLE = {"now": "A@0 59.12 ± 0.02 mm; A@90 59.10 ± 0.02 mm", "form": "shaft", "limit": "57.5 mm",
            "cut": "0.25 ± 0.05 mm"}  # fmt: skip

CALCULATIONS = (
    Calculation(
        name="cuts-left",
        does="How many more cuts a part has before it comes to its limit.",
        formula=_FORMULA,
        inputs=_INPUTS,
        gives=(Answer("cuts", "cuts left", "1"), Answer("whole", "whole cuts left")),
        valid=_VALID,
        source="derived",
        example=_EXAMPLE,
        run=cuts_left,
        cautions=(_LIMIT,),
    ),
    Calculation(
        name="cuts-before-and-after",
        does="How many cuts a part has before and after an act, and how many the act spends.",
        formula=_FORMULA + "; the same with the size after; spent = before − after",
        inputs=(*_INPUTS, Input("after", "size after the act", "mm")),
        gives=(
            Answer("before", "cuts left before the act", "1"),
            Answer("after", "cuts left after it", "1"),
            Answer("spent", "cuts that it spends", "1"),
        ),
        valid=_VALID,
        source="derived",
        example={**_EXAMPLE, "after": "58.60 ± 0.02 mm"},
        run=cuts_before_and_after,
        cautions=(_LIMIT,),
    ),
)
