"""Facts in three values: as they stand today, and as an option leaves them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from conserve.account import Account, account_of
from conserve.casebook import Casebook, Component, Proposal
from conserve.casebook.model import Values
from conserve.facts.afterwards import Afterwards, computed_after, fact_after
from conserve.facts.fact import Fact, How, Judgement, Working, judge
from conserve.facts.order import adjusts
from conserve.facts.today import (
    ABSENT,
    UNSAID,
    Subject,
    Today,
    act_alone,
    facts_of_part,
    facts_today,
    key_of,
    standing_reports,
)
from conserve.facts.touching import touched_by
from conserve.problem import Problem
from conserve.quantity import Quantity, show
from conserve.shape import Problems
from conserve.terms import Vocabulary
from conserve.truth import Truth


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything known about one proposal and one of its components."""

    casebook: Casebook
    proposal: Proposal
    component: Component
    on: date
    today: Today
    after: Mapping[tuple[str, str], Afterwards]  # (option, path of a need's check)
    accounts: Mapping[str, Account]  # option -> what it takes


def facts_about(
    proposal: Proposal, component: Component, casebook: Casebook, vocabulary: Vocabulary, on: date
) -> Facts:
    """Gather today's facts, the after-state of each option where a need asks, and what each option takes."""
    today = facts_today(proposal, component, casebook, vocabulary, on)
    paths = sorted({check.path for need in proposal.needs for check in need.checks})
    return Facts(
        casebook,
        proposal,
        component,
        on,
        today,
        after={
            (option.id, path): fact_after(path, option, component, today, vocabulary)
            for option in proposal.options
            for path in paths
        },
        accounts={option.id: account_of(option, component, vocabulary) for option in proposal.options},
    )


def claims_that_disagree(casebook: Casebook, vocabulary: Vocabulary) -> tuple[Problem, ...]:
    """Claims of what an option leaves that disagree with what its acts compute."""
    into = Problems("C")
    for proposal in casebook.proposals:
        claims = [(o, path, stated) for o in proposal.options for path, stated in o.after.items()]
        for part in (casebook.components[name] for name in proposal.components if claims):
            today = Today((), facts_of_part(part, casebook, vocabulary, casebook.as_at))  # acts start from no more
            for option, path, stated in claims:
                if touched_by(*key_of(path, part.id), option, part, vocabulary) is Truth.NO:
                    message = f"no act of '{option.id}' changes this, so that it cannot be claimed of it"
                    into.note(stated[0].where, 73, message, "leave the claim out, or write it as a fact of the part")
                    continue
                computed = computed_after(path, option, part, today, vocabulary)
                if computed is not None and not _agree(stated[0].values, computed):
                    told = ", ".join(show(v) if isinstance(v, Quantity) else str(v) for v in computed)
                    into.note(
                        stated[0].where,
                        73,
                        f"this claim disagrees with what the acts come to: {told}",
                        "correct the act's numbers, or leave the claim out",
                    )
    return into.all


def _agree(claimed: Values, computed: Values) -> bool:
    """Whether a claim is one that the computed values allow."""
    if not isinstance(claimed[0], Quantity):
        return set(claimed) == set(computed)
    return any(_within(claimed[0], value) for value in computed if isinstance(value, Quantity))


def _within(one: Quantity, other: Quantity) -> bool:
    gap = one.minus(other)
    return gap.uncertainty is None or abs(gap.amount) <= gap.uncertainty


__all__ = [
    "ABSENT",
    "UNSAID",
    "Afterwards",
    "Fact",
    "Facts",
    "How",
    "Judgement",
    "Subject",
    "Today",
    "Working",
    "act_alone",
    "adjusts",
    "claims_that_disagree",
    "computed_after",
    "fact_after",
    "facts_about",
    "judge",
    "standing_reports",
    "touched_by",
]
