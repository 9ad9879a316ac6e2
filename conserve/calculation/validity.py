"""Where a formula ends: a number that its ± carries outside is refused, not reckoned with."""

from __future__ import annotations

from decimal import Decimal

from conserve.quantity import EXACT, Quantity, show


def in_range(name: str, quantity: Quantity, low: str, high: str) -> Decimal:
    """Give the amount of a quantity that lies, with all of its ±, from `low` to `high` in its own unit.

    `ValueError` says what is wrong otherwise. A ± that nobody stated counts as none here.
    """
    spread = quantity.uncertainty or EXACT
    if quantity.amount - spread < Decimal(low) or quantity.amount + spread > Decimal(high):
        limits = f"from {low} to {high} {quantity.unit}".replace("-", "\N{MINUS SIGN}")
        raise ValueError(f"The {name} is {show(quantity)}; with its ± it must lie {limits}.")
    return quantity.amount
