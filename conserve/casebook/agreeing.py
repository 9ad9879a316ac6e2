"""One fact from its statements: evidence that disagrees makes it unknown."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from conserve.casebook.model import Facts, Stated, Values
from conserve.quantity import EXACT, Quantity


@dataclass(frozen=True, slots=True)
class Agreed:
    """What the statements of one fact come to. `values` is None where nothing is known."""

    values: Values | None
    counted: tuple[Stated, ...]  # the statements that the values come from; none where they disagree
    disputed: bool = False


_SILENCE = Agreed(None, ())


def agreed(statements: tuple[Stated, ...]) -> Agreed:
    """Hold the statements of one fact against one another.

    Words must be the same. Numbers taken at the same place must lie within their uncertainties together, and
    then the most certain counts; readings at different planes and angles are different readings, and
    all of them count, with one that does not say where it was taken.
    """
    if not statements:
        return _SILENCE
    if len(statements) == 1:
        return Agreed(statements[0].values, statements)
    if any(isinstance(value, Quantity) for stated in statements for value in stated.values):
        return _agreed_numbers(statements)
    same = len({frozenset(stated.values) for stated in statements}) == 1
    return Agreed(statements[0].values, statements) if same else Agreed(None, (), disputed=True)


def _agreed_numbers(statements: tuple[Stated, ...]) -> Agreed:
    clash = any(
        not _close(one, other)
        for number, one in enumerate(statements)
        for other in statements[number + 1 :]
        if one.place == other.place
    )
    placed = tuple(stated for stated in statements if stated.place)
    general = tuple(stated for stated in statements if not stated.place)
    clash = clash or (bool(placed) and any(not any(_close(g, p) for p in placed) for g in general))
    if clash:
        return Agreed(None, (), disputed=True)
    counted = (*_surest(placed), *_surest(general))
    return Agreed(tuple(value for stated in counted for value in stated.values), counted)


def _surest(statements: tuple[Stated, ...]) -> tuple[Stated, ...]:
    """At each place the statement with the smallest ±, or those that share it."""
    least: dict[str, tuple[bool, Decimal]] = {}
    for stated in statements:
        least[stated.place] = min(_width(stated), least.get(stated.place, _width(stated)))
    return tuple(stated for stated in statements if _width(stated) == least[stated.place])


def _width(stated: Stated) -> tuple[bool, Decimal]:
    value = stated.values[0]
    assert isinstance(value, Quantity)
    spread = value.to_base().uncertainty
    return spread is None, spread or EXACT


def _close(one: Stated, other: Stated) -> bool:
    """Whether two readings may be of the same thing."""
    a, b = one.values[0], other.values[0]
    assert isinstance(a, Quantity) and isinstance(b, Quantity)
    gap = a.minus(b)
    return gap.amount == 0 or (gap.uncertainty is not None and abs(gap.amount) <= gap.uncertainty)


def quantity_of(facts: Facts, term: str, highest: bool = True) -> Quantity | None:
    """The one agreed number of a fact, or its highest (or lowest) reading; None where it is not known."""
    values = [v for v in agreed(facts.get(term, ())).values or () if isinstance(v, Quantity)]
    return (max if highest else min)(values, key=lambda q: q.to_base().amount) if values else None


def word_of(facts: Facts, term: str) -> str:
    """The one agreed word of a fact; "" where it is not known."""
    values = agreed(facts.get(term, ())).values
    return str(values[0]) if values else ""
