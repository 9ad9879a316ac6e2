"""How uncertain a computed number is, from what it was computed from (JCGM 100, clause 5).

A formula is a plain function of decimal numbers. It is worked out again with each input moved by its
uncertainty, which JCGM 100 allows in place of derivatives (5.1.3, note 2). What several readings share,
because one instrument took them, moves all of them at once (5.2): it falls out of a difference and stays
whole in a mean.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from conserve.quantity import EXACT, Quantity

Move = dict[int, Decimal]  # number of an input -> how far it moves


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: where on the part it was taken, and with what.

    `shared` is the part of its ± that all readings with the same instrument have alike, in any unit of its
    dimension; None where nobody has said.
    """

    value: Quantity
    plane: str = ""
    angle: Decimal | None = None  # degrees
    instrument: str = ""
    shared: Quantity | None = None

    def in_unit(self, unit: str) -> Reading:
        """The same reading in another unit."""
        return Reading(self.value.in_unit(unit), self.plane, self.angle, self.instrument, self.shared)


def through(formula: Callable[..., Decimal], unit: str, *inputs: Quantity | Reading) -> Quantity:
    """Work out a formula and the expanded uncertainty of its result: U² = Σ Zᵢ².

    Zᵢ is the larger of |f(x + Uᵢ) - f(x)| and |f(x - Uᵢ) - f(x)|, so that a curved formula, or one that has
    no slope where it stands, is told a little too uncertain and never too certain. The formula takes the
    amounts in their order, in the units that the caller has brought them to, and gives an amount in `unit`.
    One input whose ± is not stated leaves the result's unstated. `ValueError` is the formula's own: also
    where only a moved input lies outside it.

    Readings with one instrument share its bias. Where nobody has said what readings share, they are taken as
    independent, and as altogether alike, and the larger answer counts.
    """
    readings = [i if isinstance(i, Reading) else Reading(i) for i in inputs]
    plain = [not isinstance(i, Reading) for i in inputs]
    amounts = [r.value.amount for r in readings]
    result = formula(*amounts)
    if any(r.value.uncertainty is None for r in readings):
        return Quantity(result, None, unit)
    told = [_spread(formula, amounts, result, moves) for moves in _hypotheses(readings, plain)]
    return Quantity(result, max(told), unit)


def rounded(number: float) -> Decimal:
    """A number from floating point, at twelve digits, so that it is the same on every machine."""
    return Decimal(f"{number:.12g}")


def _spread(
    formula: Callable[..., Decimal], amounts: Sequence[Decimal], result: Decimal, moves: Sequence[Move]
) -> Decimal:
    total = EXACT
    for move in moves:
        total += max(abs(formula(*_moved(amounts, move, sign)) - result) for sign in (1, -1)) ** 2
    return total.sqrt()


def _moved(amounts: Sequence[Decimal], move: Move, sign: int) -> list[Decimal]:
    return [amount + sign * move.get(number, EXACT) for number, amount in enumerate(amounts)]


def _hypotheses(readings: Sequence[Reading], plain: Sequence[bool]) -> Iterator[list[Move]]:
    """The sets of independent moves that may be so: one, or two where nobody has said what readings share."""
    unnamed = {n: _wide(r) for n, r in enumerate(readings) if not plain[n] and r.shared is None and _wide(r)}
    alone = [{n: _wide(r)} for n, r in enumerate(readings) if plain[n] and _wide(r)]
    by_instrument: dict[str, Move] = {}
    for number, reading in enumerate(readings):
        if not plain[number] and reading.shared is not None:
            # Never more than all of its uncertainty.
            shared = min(_wide(reading), reading.shared.in_unit(reading.value.unit).amount)
            own = (_wide(reading) ** 2 - shared**2).sqrt()
            alone += [{number: own}] if own else []
            by_instrument.setdefault(reading.instrument, {})[number] = shared
    known = [*alone, *(move for move in by_instrument.values() if any(move.values()))]
    yield [*known, *({number: spread} for number, spread in unnamed.items())]
    if len(unnamed) > 1:
        yield [*known, unnamed]


def _wide(reading: Reading) -> Decimal:
    return reading.value.uncertainty or EXACT
