"""How far each number may move before a verdict changes.

A number is moved by growing steps, its ± staying as it is, as far down as half of it and as far up as twice, and the
part is weighed again at each; where the verdict changes, the step is halved. A change that lies between two steps and
is undone before the second is not seen. Several readings of one fact are moved together, each by as much.

This says where the rules would notice. It is no tolerance to work to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from conserve.casebook import Stated
from conserve.facts import Fact, How
from conserve.quantity import EXACT, Quantity
from conserve.rulebook import Rulebook
from conserve.weighing.model import PartWeighing, Verdict
from conserve.whatif.bearing import written
from conserve.whatif.suppose import Setting, retold, setting_of, weigh_setting, with_option

_GROWS = Decimal("1.6")
_HALVINGS = 12


@dataclass(frozen=True, slots=True)
class Number:
    """A number that somebody wrote: a fact, or what an option claims of one, by its path."""

    fact: Fact
    claimed: str = ""

    @property
    def first(self) -> Quantity:
        return next(value for value in self.fact.values or () if isinstance(value, Quantity))


@dataclass(frozen=True, slots=True)
class Turn:
    """The last place at which the verdict still holds, a figure finer than the number is written, and what it is then.

    Of several readings it is the first one's place.
    """

    holds_to: Quantity
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Margin:
    """How far a number may fall and rise. None: the verdict stays as it is, as far as it was moved."""

    number: Number
    down: Turn | None
    up: Turn | None


def margins(part: PartWeighing, option: str, rulebook: Rulebook) -> tuple[Margin, ...]:
    """Each number that an option's verdict may hang on, with how far it may move.

    How hot an act is to be is told no margin: what is safe to heat is not for this to say.
    """
    return tuple(
        Margin(number, _turn(number, part, option, rulebook, -1), _turn(number, part, option, rulebook, 1))
        for number in _numbers(part, option)
        if not (number.fact.subject.startswith("act:") and number.first.dimension == "temperature")
    )


# ---- the numbers -------------------------------------------------------------------------------------------


def _numbers(part: PartWeighing, option: str) -> tuple[Number, ...]:
    """The numbers behind the needs, the findings and the acts of an option, down to those that somebody wrote."""
    found = {(one.fact.subject, one.fact.term, one.claimed): one for one in _all_numbers(part, option)}
    return tuple(found[key] for key in sorted(found))


def _all_numbers(part: PartWeighing, option: str) -> Iterator[Number]:
    one = part.option(option)
    told = [judgement for s in one.settled for judgement in s.finding.grounds]
    facts = [judgement.fact for judgement in told if judgement.test.bounds]
    facts += [limit for judgement in told for limit in judgement.limits]
    facts += [check.judgement.fact for outcome in part.left.values() for check in outcome.checks]
    acts = {f"act:{option}/{act.number}" for act in one.option.acts}
    facts += [fact for (subject, _), fact in part.findings.facts.today.facts.items() if subject in acts]
    for check in (check for outcome in one.needs for check in outcome.checks):
        if check.after.fact.how is How.CLAIMED and check.after.fact.working is None:
            if _is_written(check.after.fact):
                yield Number(check.after.fact, check.check.path)
        else:
            facts.append(check.after.fact)
    yield from (Number(below) for fact in facts for below in written(fact) if _is_written(below))


def _is_written(fact: Fact) -> bool:
    """Whether it is a number that stands where it can be moved: not a report's, and not what an act leaves."""
    written_down = fact.how in (How.WRITTEN, How.CLAIMED) and bool(fact.statements)
    return written_down and any(isinstance(value, Quantity) for value in fact.values or ())


# ---- moving one --------------------------------------------------------------------------------------------


def _turn(number: Number, part: PartWeighing, option: str, rulebook: Rulebook, sign: int) -> Turn | None:
    """Where the verdict changes when a number falls (-1) or rises (1)."""
    now, size = part.option(option).verdict, abs(number.first.amount)

    def verdict(step: Decimal) -> Verdict:
        setting = _moved(number, Quantity(sign * step, EXACT, number.first.unit), option, setting_of(part))
        return weigh_setting(setting, rulebook, part).option(option).verdict

    same, most = Decimal(0), size / 2 if sign < 0 else size
    step = min(most, max((number.first.uncertainty or EXACT) / 4, size / 500))
    while same < most:
        if (turned := verdict(step)) is not now:
            same, turned = _between(verdict, same, step, turned, now)
            return Turn(_told(number.first, sign * same, sign), turned)
        same, step = step, min(step * _GROWS, most)
    return None


def _between(
    verdict: Callable[[Decimal], Verdict], same: Decimal, other: Decimal, turned: Verdict, now: Verdict
) -> tuple[Decimal, Verdict]:
    """The last step found at which the verdict is as it is now, and what it is beyond."""
    for _ in range(_HALVINGS):
        middle = (same + other) / 2
        there = verdict(middle)
        same, other, turned = (middle, other, turned) if there is now else (same, middle, there)
    return same, turned


def _told(first: Quantity, moved: Decimal, sign: int) -> Quantity:
    """Where a number has moved to, a figure finer than it is written, and rounded back towards where it was."""
    exponent = first.amount.as_tuple().exponent
    finer = Decimal((0, (1,), int(exponent) - 1))
    return replace(first, amount=(first.amount + moved).quantize(finer, ROUND_CEILING if sign < 0 else ROUND_FLOOR))


def _moved(number: Number, step: Quantity, option: str, setting: Setting) -> Setting:
    def told(said: tuple[Stated, ...]) -> tuple[Stated, ...]:
        return tuple(replace(one, values=tuple(_shifted(value, step) for value in one.values)) for one in said)

    if not number.claimed:
        return retold(setting, number.fact.subject, number.fact.term, told)
    path = number.claimed
    return with_option(setting, option, lambda o: replace(o, after={**o.after, path: told(o.after[path])}))


def _shifted(value: str | Quantity | int, step: Quantity) -> str | Quantity | int:
    if not isinstance(value, Quantity):
        return value
    return replace(value, amount=value.amount + step.in_unit(value.unit).amount)
