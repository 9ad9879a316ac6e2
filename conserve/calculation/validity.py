"""Where a formula ends: a number that its ± carries outside is refused, not reckoned with."""

from __future__ import annotations

from decimal import Decimal

from conserve.quantity import EXACT, Quantity, show


def above_zero(name: str, quantity: Quantity) -> None:
    """Raise `ValueError` for a number that is not above zero by more than its ±. One not stated counts as none."""
    if quantity.amount - (quantity.uncertainty or EXACT) <= 0:
        raise ValueError(f"The {name} is {show(quantity)}; it must be above zero by more than its ±.")


def in_range(name: str, quantity: Quantity, low: str, high: str) -> Decimal:
    """Give the amount of a quantity that lies, with all of its ±, from `low` to `high` in its own unit.

    `ValueError` says what is wrong otherwise. A ± that nobody stated counts as none here.
    """
    spread = quantity.uncertainty or EXACT
    if quantity.amount - spread < Decimal(low) or quantity.amount + spread > Decimal(high):
        limits = f"from {low} to {high} {quantity.unit}".replace("-", "\N{MINUS SIGN}")
        raise ValueError(f"The {name} is {show(quantity)}; with its ± it must lie {limits}.")
    return quantity.amount
