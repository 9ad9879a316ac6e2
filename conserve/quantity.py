"""Numbers with a unit and an uncertainty: how they are read, reckoned with, judged and shown.

Uncertainty is expanded, k = 2. `None` means nobody stated it, zero means exact; the two never mix.
Stored values are `Decimal`; floats appear only inside a probability, which is rounded to twelve places
so that it is the same on every machine.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import ROUND_FLOOR, Context, Decimal, Inexact
from functools import partial
from typing import Literal

from conserve.truth import Truth, opposite

CERTAIN = 0.95
EXACT = Decimal(0)
ONE = "1"  # the unit of a plain number, such as a coefficient of friction; it need not be written
_MINUS = "\N{MINUS SIGN}"
_LONGEST = 15  # significant digits a person may write; more is a slip of the keyboard

# Each dimension's first unit is its base. The inch is 25.4 mm and the pound 0.45359237 kg exactly (1959
# agreement); a year is 365.25 days. Left out on purpose: cwt, ton and gallon, which differ between
# countries, and K, which would need an offset.
_TABLE: dict[str, dict[str, str]] = {
    "length": {"mm": "1", "cm": "10", "m": "1000", "µm": "0.001", "in": "25.4", "ft": "304.8",
               "thou": "0.0254"},
    "area": {"mm2": "1", "cm2": "100", "m2": "1000000", "in2": "645.16"},
    "volume": {"mm3": "1", "cm3": "1000", "m3": "1000000000", "l": "1000000", "in3": "16387.064"},
    "mass": {"kg": "1", "g": "0.001", "t": "1000", "lb": "0.45359237"},
    "temperature": {"°C": "1"},
    "ratio": {"%": "1", "1": "100"},
    "angle": {"°": "1"},
    "potential": {"V": "1", "mV": "0.001"},
    "pressure": {"MPa": "1", "GPa": "1000", "kPa": "0.001", "Pa": "0.000001", "bar": "0.1",
                 "psi": "0.006894757293168361336722673443"},
    "force": {"N": "1", "kN": "1000"},
    "torque": {"N·m": "1"},
    "speed": {"rpm": "1"},
    "time": {"s": "1", "min": "60", "h": "3600", "year": "31557600"},
    "density": {"kg/m3": "1"},
}  # fmt: skip
_UNITS = {unit: (kind, Decimal(size)) for kind, units in _TABLE.items() for unit, size in units.items()}
_BASE = {kind: next(iter(units)) for kind, units in _TABLE.items()}
_SPELLINGS = {
    "um": "µm", "inch": "in", "inches": "in", "degC": "°C", "℃": "°C", "Nm": "N·m", "lbf/in2": "psi",
    "L": "l", "years": "year",
}  # fmt: skip
_LETTERS = str.maketrans({"μ": "µ", "²": "2", "³": "3", "⋅": "·", "^": ""})
_PRODUCTS: dict[frozenset[str], tuple[str, Decimal]] = {  # of base units, with what brings them to base
    frozenset({"length"}): ("area", Decimal(1)),
    frozenset({"length", "area"}): ("volume", Decimal(1)),
    frozenset({"volume", "density"}): ("mass", Decimal("0.000000001")),
    frozenset({"pressure", "area"}): ("force", Decimal(1)),
    frozenset({"force", "length"}): ("torque", Decimal("0.001")),
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number in the unit its writer chose, with its expanded uncertainty (k = 2) in the same unit."""

    amount: Decimal
    uncertainty: Decimal | None
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in _UNITS:
            raise ValueError(f"'{self.unit}' is not a known unit.")
        if not self.amount.is_finite():
            raise ValueError("A quantity must be finite.")
        if self.uncertainty is not None and not (self.uncertainty.is_finite() and self.uncertainty >= 0):
            raise ValueError("An uncertainty must be finite and not negative.")

    @property
    def dimension(self) -> str:
        """Say what kind of thing is measured: `length`, `mass`, ..."""
        return _UNITS[self.unit][0]

    def in_unit(self, unit: str) -> Quantity:
        """Tell the same quantity in another unit; `ValueError` if it measures another kind of thing."""
        if unit == self.unit or (name := unit_named(unit)) == self.unit:
            return self
        if self.dimension != dimension_of(name):
            raise ValueError(f"A {self.dimension} cannot be told in {name}.")
        have, want = _UNITS[self.unit][1], _UNITS[name][1]
        spread = None if self.uncertainty is None else self.uncertainty * have / want
        return Quantity(self.amount * have / want, spread, name)

    def to_base(self) -> Quantity:
        """Tell it in its base unit: mm, mm2, mm3, kg, °C, %, °, V, MPa, N, N·m, rpm, s or kg/m3."""
        return self.in_unit(_BASE[self.dimension])

    def plus(self, other: Quantity) -> Quantity:
        """Add an independent quantity of the same dimension. Base unit."""
        a, b = self.to_base(), other.in_unit(_BASE[self.dimension])
        return propagated(a.amount + b.amount, a.unit, (Decimal(1), a), (Decimal(1), b))

    def minus(self, other: Quantity) -> Quantity:
        """Take away an independent quantity of the same dimension. Base unit."""
        return self.plus(other.times(Decimal(-1)))

    def times(self, factor: Decimal) -> Quantity:
        """Multiply by an exact number. Base unit."""
        base = self.to_base()
        return propagated(base.amount * factor, base.unit, (factor, base))

    def product(self, other: Quantity) -> Quantity:
        """Multiply by an independent quantity: a length by a length, a volume by a density. Base unit.

        `ValueError` where the product has no unit here.
        """
        kinds = frozenset({self.dimension, other.dimension})
        if kinds not in _PRODUCTS:
            raise ValueError(f"There is no unit here for {self.dimension} times {other.dimension}.")
        kind, scale = _PRODUCTS[kinds]
        a, b = self.to_base(), other.to_base()
        result = propagated(a.amount * b.amount * scale, _BASE[kind], (b.amount * scale, a), (a.amount * scale, b))
        # Two doubtful zeros: the linear law would call their product exact.
        hollow = a.amount == b.amount == 0 and a.uncertainty != 0 and b.uncertainty != 0
        return replace(result, uncertainty=None) if hollow else result

    def probability_at_most(self, limit: Quantity) -> float | None:
        """How likely the true value is at most the limit (normal, JCGM 106); None if a ± is not stated."""
        return _chance(self, limit, at_limit=True)


ProblemKind = Literal["not-a-quantity", "no-unit", "wrong-dimension", "not-finite"]


class QuantityProblem(ValueError):
    """Why a text is not the quantity that was wanted, and one thing to try."""

    def __init__(self, kind: ProblemKind, message: str, hint: str) -> None:
        super().__init__(message)
        self.kind, self.message, self.hint = kind, message, hint


def unit_named(spelling: str) -> str:
    """Give the unit that a spelling stands for (`um` and `μm` are `µm`, `mm²` is `mm2`), or `ValueError`."""
    plain = spelling.translate(_LETTERS)
    name = _SPELLINGS.get(plain, plain)
    if name not in _UNITS:
        raise ValueError(f"'{spelling}' is not a known unit.")
    return name


def dimension_of(unit: str) -> str:
    """Say what a unit measures, or `ValueError`."""
    return _UNITS[unit_named(unit)][0]


def propagated(amount: Decimal, unit: str, *parts: tuple[Decimal, Quantity]) -> Quantity:
    """Give a result the uncertainty of its independent inputs, U² = Σ (cᵢ Uᵢ)² (JCGM 100, 5.1.2).

    A part is a sensitivity and an input; the sensitivity is in `unit` per unit of the input.
    One unstated uncertainty leaves the result's unstated.
    """
    terms: list[Decimal] = []
    for sensitivity, part in parts:
        if part.uncertainty is None:
            return Quantity(amount, None, unit)
        terms.append((sensitivity * part.uncertainty).copy_abs())
    terms = [term for term in terms if term]
    # A lone term needs no square root, and so no rounding.
    spread = terms[0] if len(terms) == 1 else sum((t * t for t in terms), EXACT).sqrt()
    return Quantity(amount, spread, unit)


# judging


def at_most(measured: Quantity, limit: Quantity) -> Truth:
    """Say whether a measurement lies at or below a limit (JCGM 106, 0.95 either way)."""
    return _truth(_chance(measured, limit, at_limit=True))


def below(measured: Quantity, limit: Quantity) -> Truth:
    """As `at_most`, but an exact value on an exact limit is not below it."""
    return _truth(_chance(measured, limit, at_limit=False))


def at_least(measured: Quantity, limit: Quantity) -> Truth:
    """Say whether a measurement lies at or above a limit."""
    return opposite(below(measured, limit))


def above(measured: Quantity, limit: Quantity) -> Truth:
    """As `at_least`, but an exact value on an exact limit is not above it."""
    return opposite(at_most(measured, limit))


def probability_between(measured: Quantity, low: Quantity, high: Quantity) -> float | None:
    """How likely the true value lies within two limits, ends included: Φ((TU-y)/u) - Φ((TL-y)/u) (JCGM 106).

    None if a ± is not stated; `ValueError` if the limits are the wrong way round.
    """
    if low.to_base().amount > high.in_unit(_BASE[low.dimension]).amount:
        raise ValueError(f"The lower limit {show(low)} is above the upper limit {show(high)}.")
    under_high, under_low = measured.probability_at_most(high), _chance(measured, low, at_limit=False)
    return None if under_high is None or under_low is None else max(0.0, round(under_high - under_low, 12))


def between(measured: Quantity, low: Quantity, high: Quantity) -> Truth:
    """Say whether a measurement lies within two limits, ends included.

    *No* needs 0.95 beyond one of them. That the chance of lying within is 0.05 or less is not enough: any
    measurement that is poor enough has so small a chance, and a poor one must be repeated, not believed.
    """
    inside = probability_between(measured, low, high)
    if inside is not None and inside >= CERTAIN:
        return Truth.YES
    outside = Truth.YES in (below(measured, low), above(measured, high))
    return Truth.NO if outside else Truth.UNKNOWN


def settling_uncertainty(measured: Quantity, *limits: Quantity) -> Quantity | None:
    """Say how small ± must be, if the value stays, for an answer against one limit or between two.

    In the unit of the measurement, rounded down to two digits. None where the value sits on a limit, or
    where a limit is itself too uncertain.
    """
    if len(limits) not in (1, 2):
        raise ValueError("Give one limit, or a lower and an upper one.")
    judge: Callable[..., Truth] = at_most if len(limits) == 1 else between
    gap = min(abs(measured.in_unit(limit.unit).minus(limit).amount) for limit in limits)
    base = measured.to_base()
    settles, fails = EXACT, gap * Decimal("1.22")  # 2 / 1.6449 is 1.216: beyond it nothing settles
    for _ in range(30):
        tried = (settles + fails) / 2
        settled = judge(replace(base, uncertainty=tried), *limits) is not Truth.UNKNOWN
        settles, fails = (tried, fails) if settled else (settles, tried)
    if not settles:
        return None
    found = Quantity(settles, EXACT, base.unit).in_unit(measured.unit).amount
    return Quantity(Context(prec=2, rounding=ROUND_FLOOR).plus(found), EXACT, measured.unit)


def _chance(measured: Quantity, limit: Quantity, *, at_limit: bool) -> float | None:
    y, bound = measured.to_base(), limit.in_unit(_BASE[measured.dimension])
    spread = propagated(EXACT, y.unit, (Decimal(1), y), (Decimal(1), bound)).uncertainty
    if spread is None:
        return None
    gap = bound.amount - y.amount
    if not spread:
        return float(gap > 0 or (at_limit and gap == 0))
    return round(math.erfc(-float(2 * gap / spread) / math.sqrt(2)) / 2, 12)


def _truth(probability: float | None) -> Truth:
    if probability is None:
        return Truth.UNKNOWN
    if probability >= CERTAIN:
        return Truth.YES
    return Truth.NO if round(1 - probability, 12) >= CERTAIN else Truth.UNKNOWN


# showing


def show(quantity: Quantity) -> str:
    """Write a quantity for people: `0.20 ± 0.04 mm`, `0.50 mm` (exact) or `0.20 mm (± not stated)`."""
    amount, spread, unit = quantity.amount, quantity.uncertainty, quantity.unit
    if not spread:
        stated = "" if spread is not None else " (± not stated)"
        # Nobody writes so many digits: they come from π or from a division.
        long = len(amount.as_tuple().digits) > _LONGEST
        return f"{_plain(Context(prec=6).plus(amount) if long else amount)}{_told(unit)}{stated}"
    for _ in range(2):  # twice, because 0.0996 becomes 0.100, which becomes 0.10
        # As many digits as were written of either, and of the ± no more than two.
        written = min(int(spread.as_tuple().exponent), int(amount.as_tuple().exponent))
        place = Decimal((0, (1,), max(written, spread.adjusted() - 1)))
        spread = spread.quantize(place)
    return f"{_plain(amount.quantize(place, context=Context(prec=80)))} ± {_plain(spread)}{_told(unit)}"


def _told(unit: str) -> str:
    return "" if unit == ONE else f" {unit}"


def canonical(quantity: Quantity) -> str:
    """Write a quantity for a proof: every digit, no exponent; equal quantities are written alike."""
    spread = quantity.uncertainty
    stated = "unknown" if spread is None else _bare(spread)
    return f"{_bare(quantity.amount)} ± {stated} {quantity.unit}"


def _plain(number: Decimal) -> str:
    return (_MINUS if number < 0 else "") + f"{number.copy_abs():f}"


def _bare(number: Decimal) -> str:
    return f"{number.normalize():f}" if number else "0"


# reading

_NUMBER = r"[+-]?(?:(?:[0-9]+ )?[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_UNIT = r"(?:[A-Za-zµμ°℃%][A-Za-z0-9µμ²³°·⋅/%^]*|(?<= )1)"
_QUANTITY = re.compile(
    rf"(?P<value>{_NUMBER}) ?(?P<unit>{_UNIT})?"
    rf"(?: ?± ?(?P<spread>{_NUMBER}) ?(?P<spread_unit>{_UNIT})?(?: ?\(k ?= ?(?P<k>{_NUMBER})\))?)?"
)
_LOOKALIKES = (
    (r",", "has a comma", "use a point for decimals and nothing between thousands, like 1234.5 {unit}"),
    (r"[0-9][_' ][0-9]{3}(?![0-9/])", "has thousands set apart", "close it up, like 1234.5 {unit}"),
    (r"(?i)[0-9]e[+-]?[0-9]", "has an exponent", "write the number out in full, like 1000 {unit}"),
    (r"[\"″”]", "has a mark for inches", "write inches like 3 1/2 in"),
    (r"[½¼¾⅛⅜⅝⅞]", "has a fraction in one character", "write it like 3 1/2 in"),
    (r"± ?-", "has a negative ±", "write the ± as a positive number, like 0.12 ± 0.02 {unit}"),
)
_odd = partial(QuantityProblem, "not-a-quantity")


def parse_quantity(text: str, unit: str, exact: bool) -> Quantity:
    """Read `0.12 ± 0.02 mm`, `3 1/2 in`, `12 kg ± 5 %` or `0.12 ± 0.03 mm (k=3)`, or `QuantityProblem`.

    `unit` is the one expected: any unit of its dimension will do. Without a ± the value is exact if
    `exact`, else its uncertainty is unknown.
    """
    wanted = unit_named(unit)
    words = " ".join(text.replace(_MINUS, "-").replace("+/-", "±").split())
    told = words if len(words) <= 60 else words[:60] + "…"
    if re.search(r"(?i)\b(?:nan|inf|infinity)\b|∞", words):
        raise QuantityProblem("not-finite", f"'{told}' is not a finite number", "leave out what is not known")
    for pattern, fault, hint in _LOOKALIKES:
        if re.search(pattern, words):
            raise _odd(f"'{told}' {fault}", hint.format(unit=wanted))
    found = _QUANTITY.fullmatch(words) if len(words) <= 100 else None
    if found is None:
        raise _odd(f"'{told}' is not a quantity", f"write it like 0.12 ± 0.02 {wanted}")
    if wanted == ONE and found["unit"] is None and found["spread_unit"] is None:
        return parse_quantity(_with_one(found), wanted, exact)
    name, value = _written_unit(found, wanted), _number(found["value"])
    if found["spread"] is None:
        return Quantity(value, EXACT if exact else None, name)
    return Quantity(value, _spread(found, value, name), name)


def _with_one(found: re.Match[str]) -> str:
    """A plain number with its unit written out."""
    value, spread, k = found.group("value", "spread", "k")
    return f"{value} {ONE}" if spread is None else f"{value} ± {spread} {ONE}" + (f" (k={k})" if k else "")


def _written_unit(found: re.Match[str], wanted: str) -> str:
    value, unit, spread, spread_unit, k = found.group("value", "unit", "spread", "spread_unit", "k")
    share = spread_unit == "%" and (unit or wanted) != "%"
    if unit is None and (spread_unit is None or share):
        fixed = f"{value} {wanted} ± {spread} %" if share else f"{value} ± {spread} {wanted}"
        fixed = f"{value} {wanted}" if spread is None else fixed + (f" (k={k})" if k else "")
        raise QuantityProblem("no-unit", f"'{found.string}' has no unit", f"write {fixed}")
    if spread is not None and spread_unit is None:
        message = f"the ± of '{found.string}' has no unit"
        raise QuantityProblem("no-unit", message, f"write {value} ± {spread} {unit}")
    for spelling in (unit, None if share else spread_unit):
        if spelling is not None:
            _check_unit(spelling, dimension_of(wanted))
    return unit_named(unit or spread_unit)


def _check_unit(spelling: str, kind: str) -> None:
    hint = f"write it in {' or '.join(_TABLE[kind])}"
    try:
        written = dimension_of(spelling)
    except ValueError:
        raise _odd(f"'{spelling}' is not a known unit", hint) from None
    if written != kind:
        message = f"'{spelling}' is a unit of {written}; what is wanted is {kind}"
        raise QuantityProblem("wrong-dimension", message, hint)


def _spread(found: re.Match[str], value: Decimal, unit: str) -> Decimal:
    spread, name = _number(found["spread"]), unit_named(found["spread_unit"])
    if name == "%" != unit:
        if not value or unit == "°C":  # the zero of °C is arbitrary, so a share of it means nothing
            raise _odd(f"a share of '{found['value']} {unit}' is no ±", f"write the ± in {unit}")
        spread = (value * spread / 100).copy_abs()
    else:
        spread = Quantity(spread, EXACT, name).in_unit(unit).amount
    if found["k"] is None:
        return spread
    k = _number(found["k"])
    if k <= 0:
        raise _odd("k must be above zero", "leave k out if it is 2")
    return spread if k == 2 else spread * 2 / k


def _number(text: str) -> Decimal:
    digits = re.sub("[^0-9]", "", text)
    if len(digits.lstrip("0")) > _LONGEST or len(digits) > 2 * _LONGEST:
        raise _odd(f"'{text}' has too many digits", f"round it to {_LONGEST} digits or fewer")
    if "/" not in text:
        return Decimal(text)
    whole, _, fraction = text.lstrip("+-").rpartition(" ")
    top, bottom = (Decimal(part) for part in fraction.split("/"))
    if not bottom:
        raise QuantityProblem("not-finite", f"'{text}' divides by zero", "write it like 3 1/2 in")
    if whole and top >= bottom:
        raise _odd(f"'{text}' has a fraction of one or more", "write it like 3 1/2 in")
    try:
        finite = Context(prec=_LONGEST, traps=[Inexact])
        size = finite.add(Decimal(whole or 0), finite.divide(top, bottom))
    except Inexact:
        raise _odd(f"'{text}' does not end as a decimal", "round it to a decimal, with a ±") from None
    return -size if text.startswith("-") else size
