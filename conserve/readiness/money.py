"""How well what is chosen is costed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from conserve.casebook.model import Resource
from conserve.readiness.costs import QUOTED, chosen_of, does_something, price
from conserve.readiness.looking import WORKS, Case, Lack, at, found
from conserve.readiness.model import Ask, Found
from conserve.weighing import Weighing


def costs(case: Case, ask: Ask) -> Found:
    """Whether every choice that does something is costed, and how well. Leaving alone costs nothing here."""
    doing = [weighing for weighing in case.live if does_something(weighing)]
    look, told = _LOOKS[ask.word]
    lacks = (lack for weighing in doing for lack in _of(case, weighing, look))
    return found(told, lacks, len(doing), WORKS)


BOUGHT = (QUOTED, "price-list")
Look = Callable[[Case, Resource], tuple[str, bool] | None]  # what to do about a line, and whether it is only stale


def _of(case: Case, weighing: Weighing, look: Look) -> Iterator[Lack]:
    proposal, option = weighing.proposal.id, chosen_of(weighing)
    if option.resources is None:
        yield Lack(proposal, "write what the choice costs, under its 'resources:'", at(option.where))
    for line in option.resources or ():
        wrong = look(case, line)
        if wrong is not None:
            yield Lack(proposal, f"'{line.what}': {wrong[0]}", at(line.where), wrong[1])


def _costed(case: Case, line: Resource) -> tuple[str, bool] | None:
    if line.given is None:
        return "say whether it is given ('given: yes') or paid for ('given: no')", False
    if line.money is None and (line.given is False or line.hours is None):
        return "write its price, 'money:'", False
    return None


def _firm(case: Case, line: Resource) -> tuple[str, bool] | None:
    """What is paid for needs a firm price; what is given, firm hours or a firm price."""
    asked = (price(line), line.hours if line.given else None)
    if any(amount is not None and amount.uncertainty is not None for amount in asked):
        return None
    return ("say how firm it is, with a ±", False) if any(asked) else ("write its price, 'money:'", False)


def _based(case: Case, line: Resource) -> tuple[str, bool] | None:
    if not line.basis:
        return "say on what basis: quotation, price-list, past-work or estimate", False
    if line.basis != QUOTED:
        return None
    registered = [case.casebook.evidence[name] for name in line.evidence]
    if not registered:
        return "register the quotation, and name it under 'evidence:'", False
    days = [item.lapses for item in registered if item.lapses is not None]
    if not days:
        return "write in the register until when the quotation holds: 'lapses:' with a day, or none", False
    last = max(days)
    return (f"ask for a new quotation: it lapsed on {last}", True) if last < case.day else None


def _staged(case: Case, line: Resource) -> tuple[str, bool] | None:
    return None if line.stage else ("say in which stage, 'stage:'", False)


def _skilled(case: Case, line: Resource) -> tuple[str, bool] | None:
    """A skill, unless it is bought at a price that somebody else has set."""
    return None if line.skill or line.basis in BOUGHT else ("say what skill it takes, 'skill:'", False)


_LOOKS: dict[str, tuple[Look, str]] = {
    "each-proposal": (_costed, "Each is costed, and it is told what is paid for and what is given."),
    "with-uncertainty": (_firm, "Each figure says how firm it is."),
    "with-basis": (_based, "Each figure says what it rests on."),
    "staged": (_staged, "Each cost stands in a stage."),
    "skills": (_skilled, "Each line says what skill it takes, or is bought at a set price."),
}
