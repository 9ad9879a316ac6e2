"""How far each number may move before a verdict changes.

A number is moved by growing steps, its ± staying as it is, and the part is weighed again at each; where the verdict
changes, the step is halved until the place is known to a thousandth of the way. A change that lies between two steps
and is undone before the second is not seen.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from conserve.casebook import Stated
from conserve.facts import Fact
from conserve.quantity import Quantity
from conserve.rulebook import Rulebook
from conserve.weighing.model import PartWeighing, Verdict
from conserve.whatif.bearing import written
from conserve.whatif.suppose import retold, setting_of, weigh_setting

_GROWS = 2
_FURTHEST = 10  # times the number itself
_HALVINGS = 10


@dataclass(frozen=True, slots=True)
class Turn:
    """Where a number has moved to when the verdict changes, and to what."""

    at: Quantity
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Margin:
    """How far a number may fall and rise. None: the verdict stays as it is however far it was moved."""

    fact: Fact
    down: Turn | None
    up: Turn | None


def margins(part: PartWeighing, option: str, rulebook: Rulebook) -> tuple[Margin, ...]:
    """Each number that a person wrote and an option's verdict may hang on, with how far it may move."""
    return tuple(
        Margin(fact, _turn(fact, part, option, rulebook, -1), _turn(fact, part, option, rulebook, 1))
        for fact in _numbers(part, option)
    )


def _numbers(part: PartWeighing, option: str) -> tuple[Fact, ...]:
    """The numbers behind the needs, the findings and the acts of an option, down to those that somebody wrote."""
    one = part.option(option)
    told = [judgement.fact for s in one.settled for judgement in s.finding.grounds if judgement.test.bounds]
    told += [limit for s in one.settled for judgement in s.finding.grounds for limit in judgement.limits]
    told += [check.after.fact for outcome in one.needs for check in outcome.checks]
    acts = {f"act:{option}/{act.number}" for act in one.option.acts}
    told += [fact for (subject, _), fact in part.findings.facts.today.facts.items() if subject in acts]
    found = {(f.subject, f.term): f for fact in told for f in written(fact) if _may_be_moved(f)}
    return tuple(found[key] for key in sorted(found))


def _may_be_moved(fact: Fact) -> bool:
    """Whether it is a number, not a report's, and so stands where it can be moved."""
    numbers = [value for value in fact.values or () if isinstance(value, Quantity)]
    return bool(numbers and fact.statements) and not any(stated.report for stated in fact.statements)


def _turn(fact: Fact, part: PartWeighing, option: str, rulebook: Rulebook, sign: int) -> Turn | None:
    """Where the verdict changes when a number falls (-1) or rises (1)."""
    setting, now = setting_of(part), part.option(option).verdict
    first = next(value for value in fact.values or () if isinstance(value, Quantity))

    def verdict(step: Decimal) -> Verdict:
        moved = retold(
            setting, fact.subject, fact.term, lambda said: tuple(_moved(one, sign * step, first) for one in said)
        )
        return weigh_setting(moved, rulebook, part).option(option).verdict

    same, size = Decimal(0), abs(first.amount)
    step = max((first.uncertainty or Decimal(0)) / 4, size / 500)
    # What is above nothing stays there.
    most = size * _FURTHEST if sign > 0 or first.amount <= 0 else size * Decimal("0.999")
    while step and same < most:
        if (turned := verdict(step)) is not now:
            for _ in range(_HALVINGS):
                middle = (same + step) / 2
                there = verdict(middle)
                same, step, turned = (middle, step, turned) if there is now else (same, middle, there)
            return Turn(replace(first, amount=first.amount + sign * step), turned)
        same, step = step, min(step * _GROWS, most)
    return None


def _moved(stated: Stated, step: Decimal, first: Quantity) -> Stated:
    return replace(
        stated,
        values=tuple(
            replace(value, amount=value.amount + Quantity(step, Decimal(0), first.unit).in_unit(value.unit).amount)
            if isinstance(value, Quantity)
            else value
            for value in stated.values
        ),
    )
