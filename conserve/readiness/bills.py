"""Costs and changes as sentences and tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from conserve.explanation.words import capital, plain
from conserve.quantity import ONE, Quantity, show
from conserve.readiness.changes import Change
from conserve.readiness.costs import Amounts, Bill, Costs, Footing, Sum
from conserve.readiness.looking import few

_CENTS = Decimal("0.01")
NOT_SAID = "not said"


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its title, its head and its rows, all of one width."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def amount_in_words(amount: Quantity) -> str:
    """Money or hours: to the cent, with no more digits of the ± than two."""
    if amount.unit != ONE:
        return show(amount)
    whole = amount.amount == amount.amount.to_integral_value()
    money = f"{amount.amount.quantize(Decimal(1) if whole else _CENTS, ROUND_HALF_EVEN):f}"
    spread = amount.uncertainty
    if spread is None:
        return f"{money} (± not stated)"
    return f"{money} ± {_two_figures(spread, 0 if whole else -2)}" if spread else money


def _two_figures(spread: Decimal, finest: int) -> str:
    """The ± of money, to two figures, and no finer than a power of ten."""
    place = Decimal((0, (1,), max(spread.adjusted() - 1, finest)))
    return f"{spread.quantize(place):f}"


def sum_in_words(found: Sum, unit: str = "") -> str:
    """A sum, told as the least that it can be where something is wanting. `unit` is the currency and a space."""
    if not found.lines:
        return NOT_SAID if found.lacks else "none"
    return f"{'at least ' if found.lacks else ''}{unit}{amount_in_words(found.amount)}"


def cost_says(costs: Costs) -> Iterator[str]:
    """What the whole comes to, in a few sentences."""
    if not costs.bills:
        yield "No proposal does anything yet, so that there is nothing to cost."
        return
    whole, unit = costs.whole, f"{costs.currency} " if costs.currency else ""
    if not costs.currency:
        yield "The object has no budget, so that no money is reckoned."
    yield f"Money asked for: {sum_in_words(whole.asked, unit)}. Given in kind: {sum_in_words(whole.in_kind, unit)}."
    lacks = (*whole.asked.lacks, *whole.in_kind.lacks)
    wanting = [told for told in lacks if told.partition(":")[0] not in costs.uncosted]
    if wanting:
        yield f"What is wanting in these sums: {few(dict.fromkeys(wanting))}."
    loose = (*whole.asked.loose, *whole.in_kind.loose, *whole.paid.loose, *whole.given.loose)
    if loose:
        yield f"Nobody has said how firm these are, and so neither are the sums: {few(dict.fromkeys(loose))}."
    yield f"Hours paid for: {sum_in_words(whole.paid)}. Hours given: {sum_in_words(whole.given)}."
    yield "Hours that are given are counted apart, and no price is put on them."
    if costs.contingency is None or costs.set_aside is None:
        yield "Nobody has written a contingency."
    else:
        share, aside = show(costs.contingency), sum_in_words(costs.set_aside, unit)
        yield f"Contingency, {share} of the money asked for: {aside}."
        yield f"Money asked for, with its contingency: {sum_in_words(costs.total, unit)}."
    if costs.uncosted:
        number = len(costs.uncosted)
        yield f"{number} {'proposal is' if number == 1 else 'proposals are'} not costed: {few(costs.uncosted)}."
    apart = [bill.proposal for bill in costs.bills if not bill.footing.counts]
    if apart:
        money = sum_in_words(costs.apart.asked, unit)
        yield f"Not counted, because what is put forward does not stand: {few(apart)} (money: {money})."
    yield "A price on a quotation is taken as a promise, and so as exact. A ± of independent lines adds in quadrature."


def cost_tables(costs: Costs) -> Iterator[Table]:
    """The costs by proposal, by stage and by skill."""
    money = f", money in {costs.currency}" if costs.currency else ""
    head = ("asked for", "in kind", "hours paid", "hours given")
    costed = [bill for bill in costs.bills if bill.lines is not None]
    if costed:
        rows = tuple((bill.proposal, _footing(bill), *_amounts(bill.amounts)) for bill in costed)
        yield Table(f"Costs by proposal{money}", ("proposal", "choice", *head), rows)
    if costed and costs.stages:
        rows = tuple((plain(stage) or "no stage said", *_amounts(amounts)) for stage, amounts in costs.stages)
        yield Table(f"Costs by stage{money}", ("stage", *head), rows)
    if costs.whole.skills:
        skills = tuple(
            (one.name or "no skill said", sum_in_words(one.paid), sum_in_words(one.given)) for one in costs.whole.skills
        )
        yield Table("Hours by skill", ("skill", "hours paid", "hours given"), skills)


def _footing(bill: Bill) -> str:
    if bill.footing is Footing.DECIDED:
        return "decided, against the verdict" if bill.against_verdict else "decided"
    return "stands, not decided" if bill.footing.counts else "does not stand"


def _amounts(amounts: Amounts) -> tuple[str, ...]:
    return tuple(sum_in_words(one) for one in (amounts.asked, amounts.in_kind, amounts.paid, amounts.given))


def change_tables(changes: Iterable[Change]) -> Iterator[Table]:
    """Each need before and after."""
    rows = tuple((one.proposal, _need(one), one.before, one.after) for one in changes)
    if rows:
        yield Table("What it changes, need by need", ("proposal", "need", "left alone", "with this choice"), rows)


def _need(one: Change) -> str:
    parts = len(one.components)
    said = capital(" ".join(one.says.split()))
    return said if parts == 1 else f"{said} ({few(one.components)})"
