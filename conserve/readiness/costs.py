"""What the work costs: money asked for, what is given, hours and skills, by proposal and by stage.

Only what was chosen counts: the decided option, else the preferred one. The ± of independent lines add in quadrature
(JCGM 100:2008, 5.1.2), and one that nobody stated leaves that of the sum unstated. A quoted price is a promise, and
is exact where it is written without a ±. What nobody has written is unknown, never nothing: a sum then says what it
lacks, and is the least that it can be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from conserve.casebook import Casebook, Option
from conserve.casebook.model import Resource
from conserve.quantity import EXACT, ONE, Quantity, propagated
from conserve.weighing import Weighing

QUOTED = "quotation"
NO_STAGE = ""


class Footing(StrEnum):
    """Whether what a proposal costs is asked for."""

    DECIDED = "decided"
    STANDS = "put forward, and stands"
    DOES_NOT_STAND = "put forward, and does not stand"  # so that no money is asked for it yet

    @property
    def counts(self) -> bool:
        return self is not Footing.DOES_NOT_STAND


@dataclass(frozen=True, slots=True)
class Sum:
    """What is written, added up; `lacks` says what keeps it from being the whole, `loose` which ± nobody stated."""

    amount: Quantity
    lines: int
    lacks: tuple[str, ...] = ()
    loose: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Skill:
    """The hours of one skill, paid and given. An empty name: nobody has said which."""

    name: str
    paid: Sum
    given: Sum


@dataclass(frozen=True, slots=True)
class Amounts:
    """What some lines come to: money asked for and in kind, hours paid for and given, and the skills."""

    asked: Sum
    in_kind: Sum
    paid: Sum
    given: Sum
    skills: tuple[Skill, ...]


@dataclass(frozen=True, slots=True)
class Bill:
    """What one proposal's choice costs. `lines` is None where nobody has written it."""

    proposal: str
    title: str
    option: str
    footing: Footing
    against_verdict: bool  # decided although the option does not stand
    lines: tuple[Resource, ...] | None
    amounts: Amounts


@dataclass(frozen=True, slots=True)
class Costs:
    """The costs of all the proposals that do something, and what the whole of them asks for."""

    currency: str  # "" where the object has no budget
    contingency: Quantity | None  # in %; None where nobody has said
    bills: tuple[Bill, ...]
    whole: Amounts  # of the bills that count
    apart: Amounts  # of those that do not stand
    stages: tuple[tuple[str, Amounts], ...]  # in the budget's order; of the bills that count
    uncosted: tuple[str, ...]  # proposals that count and that nobody has costed
    set_aside: Sum | None  # the contingency, in money; it lacks what the money asked for lacks
    total: Sum  # the money asked for with its contingency


def costs_of(weighings: Iterable[Weighing], casebook: Casebook) -> Costs:
    """Add up what the proposals of a casebook cost, in the currency of the object's budget and in hours."""
    budget = casebook.object.budget
    bills = tuple(_bill(weighing) for weighing in sorted(weighings, key=lambda w: w.proposal.id) if _costs(weighing))
    counted = [bill for bill in bills if bill.footing.counts]
    whole = amounts_of(_labelled(counted))
    contingency = budget.contingency if budget else None
    return Costs(
        currency=budget.currency if budget else "",
        contingency=contingency,
        bills=bills,
        whole=whole,
        apart=amounts_of(_labelled(bill for bill in bills if not bill.footing.counts)),
        stages=_by_stage(counted, budget.stages if budget else ()),
        uncosted=tuple(bill.proposal for bill in counted if bill.lines is None),
        set_aside=None if contingency is None else _share(whole.asked, contingency, 0),
        total=_with_contingency(whole.asked, contingency),
    )


def chosen_of(weighing: Weighing) -> Option:
    """The option that is decided, else the one preferred."""
    option = weighing.proposal.option(weighing.chosen)
    assert option is not None  # the casebook's reader has seen to it
    return option


def does_something(weighing: Weighing) -> bool:
    """Whether the choice is to do something, under a proposal and not under the owner's policy."""
    return weighing.proposal.kind == "intervention" and bool(chosen_of(weighing).acts)


def _costs(weighing: Weighing) -> bool:
    return does_something(weighing) or bool(chosen_of(weighing).resources)


def _bill(weighing: Weighing) -> Bill:
    proposal, option = weighing.proposal, chosen_of(weighing)
    decided = proposal.decision is not None and proposal.decision.on <= weighing.on
    stands = weighing.verdict.stands
    footing = Footing.DECIDED if decided else Footing.STANDS if stands else Footing.DOES_NOT_STAND
    amounts = amounts_of(_of_option(option.resources, proposal.id))
    return Bill(proposal.id, proposal.title, option.id, footing, decided and not stands, option.resources, amounts)


# ---- adding up ----------------------------------------------------------------------------------------

Line = tuple[Resource | None, str]  # a line, and what it is told as; None: a proposal that nobody has costed


def price(line: Resource) -> Quantity | None:
    """The money of a line; None where nobody has written it."""
    if line.money is not None and line.money.uncertainty is None and line.basis == QUOTED:
        return replace(line.money, uncertainty=EXACT)
    return line.money


def amounts_of(lines: Iterable[Line]) -> Amounts:
    """What lines come to. One that does not say whether it is given is in neither sum, and both lack it."""
    listed = list(lines)
    return Amounts(
        asked=_sum(listed, False, price, ONE, lambda line: line.money is None),
        in_kind=_sum(listed, True, price, ONE, lambda line: line.money is None and line.hours is None),
        paid=_sum(listed, False, _hours, "h", _never),
        given=_sum(listed, True, _hours, "h", _never),
        skills=_skills(listed),
    )


def _hours(line: Resource) -> Quantity | None:
    return line.hours


def _never(line: Resource) -> bool:
    """A line need not have hours: it may be for something bought, or a firm's price for the whole job."""
    return False


def _sum(
    lines: Sequence[Line],
    given: bool,
    amount: Callable[[Resource], Quantity | None],
    unit: str,
    owes: Callable[[Resource], bool],
) -> Sum:
    """The sum of one kind of amount over the lines that are given, or are not."""
    found: list[Quantity] = []
    lacks: list[str] = []
    loose: list[str] = []
    for line, told in lines:
        if line is None:
            lacks.append(f"{told}: not costed")
        elif line.given is None:
            lacks.append(f"{told}: nobody has said whether it is given")
        elif line.given is given:
            one = amount(line)
            if one is not None:
                found.append(one.in_unit(unit))
                loose += [told] if one.uncertainty is None else []
            elif owes(line):
                lacks.append(f"{told}: no price")
    return Sum(added(found, unit), len(found), tuple(dict.fromkeys(lacks)), tuple(dict.fromkeys(loose)))


def added(amounts: Sequence[Quantity], unit: str) -> Quantity:
    """Independent amounts in one unit, added up; nothing at all is an exact zero."""
    whole = sum((one.amount for one in amounts), Decimal(0))
    return propagated(whole, unit, *((Decimal(1), one) for one in amounts))


def _skills(lines: Sequence[Line]) -> tuple[Skill, ...]:
    worked = [(line, told) for line, told in lines if line is not None and line.hours is not None]
    found = []
    for name in sorted({line.skill for line, _ in worked}):
        of_it: list[Line] = [(line, told) for line, told in worked if line.skill == name]
        paid, given = (_sum(of_it, way, _hours, "h", _never) for way in (False, True))
        found.append(Skill(name, paid, given))
    return tuple(found)


def _of_option(lines: tuple[Resource, ...] | None, proposal: str) -> list[Line]:
    if lines is None:
        return [(None, proposal)]
    return [(line, f"{proposal}, {line.what}") for line in lines]


def _labelled(bills: Iterable[Bill]) -> list[Line]:
    return [line for bill in bills for line in _of_option(bill.lines, bill.proposal)]


def _by_stage(bills: Sequence[Bill], stages: tuple[str, ...]) -> tuple[tuple[str, Amounts], ...]:
    """Every stage of the budget, and last what is in none. What nobody has costed is in no stage."""
    lines = _labelled(bills)
    named = [(stage, [one for one in lines if one[0] is not None and one[0].stage == stage]) for stage in stages]
    rest = [one for one in lines if one[0] is not None and one[0].stage == NO_STAGE]
    return tuple((stage, amounts_of(some)) for stage, some in (*named, (NO_STAGE, rest)) if some or stage)


def _share(money: Sum, percent: Quantity, whole: int) -> Sum:
    """Money times a share, or times one and a share: both grow with the same ±, and lack the same."""
    factor = whole + percent.in_unit("%").amount / 100
    return replace(money, amount=propagated(money.amount.amount * factor, ONE, (factor, money.amount)))


def _with_contingency(asked: Sum, percent: Quantity | None) -> Sum:
    if percent is None:
        return replace(asked, lacks=(*asked.lacks, "no contingency is written"))
    return _share(asked, percent, 1)
