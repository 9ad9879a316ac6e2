"""Numbers that must stand in an order: whether they can, and the plainest ones that do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from itertools import pairwise
from typing import NamedTuple

End = Decimal | str  # a number, or the name of one that is sought


class Below(NamedTuple):
    """One number below another, or at most it."""

    low: End
    high: End
    strictly: bool


_Order = dict[tuple[End, End], bool]  # (lower, higher) -> whether strictly


def in_order(known: Iterable[Below]) -> bool:
    """Whether there are numbers that stand so. Between any two there is always another."""
    order = _closed(known)
    return not any(low == high and strictly for (low, high), strictly in order.items())


def numbers_in(known: Iterable[Below]) -> Mapping[str, Decimal]:
    """Numbers that stand so, each as plain as can be. There must be some."""
    said = list(known)
    sought = sorted({end for one in said for end in one[:2] if isinstance(end, str)})
    found: dict[str, Decimal] = {}
    for name in sought:
        number = _between(name, _closed(said))
        found[name] = number
        said += [Below(name, number, False), Below(number, name, False)]
    return found


def _closed(known: Iterable[Below]) -> _Order:
    """Everything that follows from what is known, and from the order of the numbers that are given."""
    order: _Order = {}
    for low, high, strictly in known:
        order[low, high] = strictly or order.get((low, high), False)
    ends = list(dict.fromkeys(end for pair in order for end in pair))
    numbers = sorted(end for end in ends if isinstance(end, Decimal))
    order |= dict.fromkeys(pairwise(numbers), True)
    for middle in ends:
        for low in ends:
            for high in ends:
                if (low, middle) in order and (middle, high) in order:
                    strictly = order[low, middle] or order[middle, high]
                    order[low, high] = strictly or order.get((low, high), False)
    return order


def _between(name: str, order: _Order) -> Decimal:
    """A number for a name, between the nearest numbers on either side."""
    lows = [(end, strictly) for (end, to), strictly in order.items() if to == name and isinstance(end, Decimal)]
    highs = [(end, strictly) for (to, end), strictly in order.items() if to == name and isinstance(end, Decimal)]
    low, above = max(lows, default=(None, False))
    high, under = min(highs, key=lambda one: (one[0], not one[1]), default=(None, False))
    if low is not None and not above:
        return low
    if high is not None and not under:
        return high
    if low is None:
        return Decimal(0) if high is None else high - step_at(high)
    beyond = low + step_at(low)
    return beyond if high is None or beyond < high else (low + high) / 2


def step_at(number: Decimal) -> Decimal:
    """A small step from a number: one in its second figure. From nought, one."""
    return Decimal(1).scaleb(number.adjusted() - 1) if number else Decimal(1)
