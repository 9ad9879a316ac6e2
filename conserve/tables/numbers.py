"""Quantities as a person would write them into a file or a table: plain digits, and all that were written."""

from __future__ import annotations

from decimal import Context, Decimal

from conserve.quantity import ONE, Quantity

_WRITTEN = Context(prec=15)  # as many digits as a person may write; more come from a share or from another k


def plain_number(quantity: Quantity) -> tuple[str, str]:
    """A quantity's number and its ±, in plain digits and no more than a person may write; "" for a ± not stated."""
    spread = quantity.uncertainty
    return _digits(quantity.amount), "" if spread is None else _digits(spread)


def _digits(number: Decimal) -> str:
    return f"{_WRITTEN.create_decimal(number):f}"


def written(quantity: Quantity) -> str:
    """A quantity as a file has it: every digit, in its own unit."""
    amount, spread = plain_number(quantity)
    unit = "" if quantity.unit == ONE else f" {quantity.unit}"
    return f"{amount} ± {spread}{unit}" if spread else f"{amount}{unit}"
