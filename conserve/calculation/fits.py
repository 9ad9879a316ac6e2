"""Limits and fits of ISO 286: what a machine shop understands by 25 H7/g6.

A language for ordering new work. Old inch machines were not made to it, so it never shows that an old part
is wrong.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from conserve.calculation import fits_tables as tables
from conserve.calculation.model import Answer, Calculation, Input
from conserve.quantity import EXACT, Quantity, show

_MICRON = Decimal("0.001")
_HOLES = ("D", "E", "F", "G", "H", "JS", "N", "P")
_SHAFTS = ("d", "e", "f", "g", "h", "js", "k", "m", "n", "p", "r", "s")
_THERE_IS = f"there are holes {' '.join(_HOLES)} and shafts {' '.join(_SHAFTS)}, grades 5 to 11"


class Limits(NamedTuple):
    """The limits of size of one part, mm."""

    least: Quantity
    greatest: Quantity


class Fit(NamedTuple):
    """A hole and a shaft of one nominal size, mm; a clearance below zero is an interference."""

    hole_least: Quantity
    hole_greatest: Quantity
    shaft_least: Quantity
    shaft_greatest: Quantity
    clearance_least: Quantity
    clearance_greatest: Quantity
    kind: str  # clearance, transition or interference
    clearance: Quantity  # the middle, and half the range as ±


def iso_limits(size: Quantity, code: str) -> Limits:
    """The limits of a hole or a shaft: nominal size + deviation, the deviations from the tables of ISO 286.

    An exact nominal length in, mm out, exact. `code` is a letter and a grade: a capital for a hole (H7), a
    small one for a shaft (g6). Valid over 0 and up to 500 mm, grades 5 to 11, for the letters listed here.
    `ValueError` for a size with a ±, a size outside, or a code that is not listed.
    Source: ISO 286-1 and 286-2 as tabulated in Narayana et al., *Machine Drawing*, tables 15.1 to 15.3.
    """
    nominal = _nominal(size)
    letter, grade = _read(code)
    lower, upper = _hole(letter, grade, nominal) if letter.isupper() else _shaft(letter, grade, nominal)
    return Limits(_exactly(nominal + lower * _MICRON), _exactly(nominal + upper * _MICRON))


def iso_fit(size: Quantity, code: str) -> Fit:
    """A hole and a shaft together: clearance = hole - shaft, least and greatest.

    An exact nominal length in, mm out. `code` is hole, stroke, shaft: H7/g6. The ± of `clearance` is half the
    range between the limits, not a measurement's. Validity and `ValueError` as `iso_limits`.
    Source: ISO 286-1, as in `iso_limits`.
    """
    hole_code, stroke, shaft_code = code.strip().partition("/")
    if not stroke or not hole_code[:1].isupper() or not shaft_code.strip()[:1].islower():
        raise ValueError(f"'{code}' is not a fit; write the hole first, then the shaft, like H7/g6.")
    hole, shaft = iso_limits(size, hole_code), iso_limits(size, shaft_code)
    least = hole.least.amount - shaft.greatest.amount
    greatest = hole.greatest.amount - shaft.least.amount
    kind = "clearance" if least >= 0 else "interference" if greatest <= 0 else "transition"
    band = Quantity((least + greatest) / 2, (greatest - least) / 2, "mm")
    return Fit(*hole, *shaft, _exactly(least), _exactly(greatest), kind, band)


def _nominal(size: Quantity) -> Decimal:
    nominal = size.in_unit("mm")
    if nominal.uncertainty != 0:
        raise ValueError(f"The size is {show(size)}; a nominal size is exact, and a measured one has no ISO limits.")
    if not 0 < nominal.amount <= tables.STEPS[-1]:
        raise ValueError(f"The size is {show(size)}; the tables go from above 0 mm to 500 mm.")
    return nominal.amount


def _read(code: str) -> tuple[str, int]:
    found = re.fullmatch(r"([A-Z]{1,2}|[a-z]{1,2})([0-9]{1,2})", code.strip())
    if found is None or found[1] not in _HOLES + _SHAFTS or not 5 <= int(found[2]) <= 11:
        raise ValueError(f"'{code.strip()}' is not in the tables; {_THERE_IS}.")
    return found[1], int(found[2])


def _shaft(letter: str, grade: int, nominal: Decimal) -> tuple[Decimal, Decimal]:
    """Lower and upper deviation in µm."""
    tolerance = _at(tables.GRADES[grade], nominal)
    if letter == "js":
        return -tolerance / 2, tolerance / 2
    if letter in tables.BELOW:
        upper = -_at(tables.BELOW[letter], nominal)
        return upper - tolerance, upper
    if letter in tables.ABOVE_FINE:
        lower = _at(tables.ABOVE_FINE[letter], nominal, tables.FINE_STEPS)
    else:
        lower = EXACT if letter == "k" and grade > 7 else _at(tables.ABOVE[letter], nominal)
    return lower, lower + tolerance


def _hole(letter: str, grade: int, nominal: Decimal) -> tuple[Decimal, Decimal]:
    """Lower and upper deviation in µm: the shaft's of the same letter mirrored, but for close grades of N and P."""
    if letter not in ("N", "P"):
        lower, upper = _shaft(letter.lower(), grade, nominal)
        return -upper, -lower
    tolerance = _at(tables.GRADES[grade], nominal)
    upper = -_at(tables.ABOVE[letter.lower()], nominal)
    if letter == "N" and grade > 8:
        if nominal <= 1:
            raise ValueError(f"The size is {nominal} mm; ISO 286 gives N{grade} over 1 mm only.")
        upper = upper if nominal <= 3 else EXACT
    elif nominal > 3 and grade <= (8 if letter == "N" else 7):
        upper += tolerance - _at(tables.GRADES[grade - 1], nominal)  # the Δ of ISO 286-1
    return upper - tolerance, upper


def _at(row: Sequence[Decimal], nominal: Decimal, steps: Sequence[Decimal] = tables.STEPS) -> Decimal:
    return next(value for step, value in zip(steps, row, strict=True) if nominal <= step)


def _exactly(amount: Decimal) -> Quantity:
    return Quantity(amount, EXACT, "mm")


_SIZE = Input("size", "the nominal size", "mm", exact=True)
_VALID = (
    "Nominal sizes over 0 and up to 500 mm, at 20 °C; holes D E F G H JS N P and shafts d e f g h js k m n p r s, "
    "grades 5 to 11. It serves to talk to a machine shop about new parts: old inch parts were not made to ISO 286, "
    "so it never shows that an original part is wrong."
)
_SOURCE = "ISO 286-1 and ISO 286-2, from tables 15.1 to 15.3 of Narayana, Kannaiah and Venkata Reddy, Machine Drawing"
_CAUTIONS = (
    "Measure the old part and fit the new one to it; never cut an original part to suit an ISO size.",
    "A running fit that is too tight seizes, and a press fit can burst thin grey iron.",
    "Have a competent person choose the fit.",
)

CALCULATIONS = (
    Calculation(
        name="iso-limits",
        does="The ISO limits of size of a new hole or shaft.",
        formula="limits = nominal size + the two deviations tabulated for its letter, grade and step of size",
        inputs=(_SIZE, Input("code", "letter and grade, such as H7 for a hole or g6 for a shaft")),
        gives=(Answer("least", "the least size", "mm"), Answer("greatest", "the greatest size", "mm")),
        valid=_VALID,
        source=_SOURCE,
        example={"size": "25 mm", "code": "g6"},
        run=iso_limits,
        cautions=_CAUTIONS,
    ),
    Calculation(
        name="iso-fit",
        does="The limits and the clearance of a new hole and shaft of one ISO fit.",
        formula="least clearance = least hole − greatest shaft; greatest clearance = greatest hole − least shaft; "
        "below zero it is an interference",
        inputs=(_SIZE, Input("code", "hole and shaft, such as H7/g6")),
        gives=(
            Answer("hole_least", "the least hole", "mm"),
            Answer("hole_greatest", "the greatest hole", "mm"),
            Answer("shaft_least", "the least shaft", "mm"),
            Answer("shaft_greatest", "the greatest shaft", "mm"),
            Answer("clearance_least", "the least clearance, below zero an interference", "mm"),
            Answer("clearance_greatest", "the greatest clearance, below zero an interference", "mm"),
            Answer("kind", "clearance, transition or interference"),
            Answer("clearance", "the middle of the clearance, with half its range as ±", "mm"),
        ),
        valid=_VALID,
        source=_SOURCE,
        example={"size": "25 mm", "code": "H7/g6"},
        run=iso_fit,
        cautions=_CAUTIONS,
    ),
)
