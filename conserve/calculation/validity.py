"""Where a formula ends: a number that its ± carries outside is refused, not reckoned with."""

from __future__ import annotations

from decimal import Decimal

from conserve.quantity import EXACT, Quantity, show


def not_negative(name: str, quantity: Quantity, *, zero: bool = True) -> None:
    """Raise `ValueError` for a number below zero, or not above it where `zero` is not allowed."""
    if quantity.amount < 0 or (not zero and quantity.amount == 0):
        bound = "zero or more" if zero else "above zero"
        raise ValueError(f"The {name} is {show(quantity)}; it must be {bound}.")


def above_zero(name: str, quantity: Quantity) -> None:
    """Raise `ValueError` for a number that is not above zero by more than its ±. One not stated counts as none."""
    if lowest(quantity) <= 0:
        raise ValueError(f"The {name} is {show(quantity)}; it must be above zero by more than its ±.")


def in_range(name: str, quantity: Quantity, low: str, high: str) -> Decimal:
    """Give the amount of a quantity that lies, with all of its ±, from `low` to `high` in its own unit.

    `ValueError` says what is wrong otherwise. A ± that nobody stated counts as none here.
    """
    if lowest(quantity) < Decimal(low) or highest(quantity) > Decimal(high):
        limits = f"from {low} to {high} {quantity.unit}".replace("-", "\N{MINUS SIGN}")
        raise ValueError(f"The {name} is {show(quantity)}; with its ± it must lie {limits}.")
    return quantity.amount


def lowest(quantity: Quantity) -> Decimal:
    """The amount less its ±, as far as that is stated."""
    return quantity.amount - (quantity.uncertainty or EXACT)


def highest(quantity: Quantity) -> Decimal:
    """The amount and its ±, as far as that is stated."""
    return quantity.amount + (quantity.uncertainty or EXACT)
