"""What a casebook says of the rulebook: the rules and needs that its answers name must exist."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.casebook import Casebook, Evidence, Proposal
from conserve.files import PROFILES
from conserve.problem import Location, Problem, nearest
from conserve.rulebook import Rulebook
from conserve.shape import Problems

_NEEDS = "needs/"


def names_that_lead_nowhere(casebook: Casebook, rulebook: Rulebook) -> tuple[Problem, ...]:
    """Answers, met requirements and reports that name a rule or a need that is not there (C074)."""
    into = Problems("C")
    rules = tuple(rule.id for rule in rulebook.rules)
    for name, needs, where in _names(casebook):
        known = (*rules, *needs)
        if name not in known:
            like = nearest(name, known)
            into.note(where, 74, f"'{name}' is {_what(name)}", f"did you mean '{like}'?" if like else _hint(name))
    return into.all


def _what(name: str) -> str:
    return "no need of this proposal" if name.startswith(_NEEDS) else "no rule of this rulebook"


def _hint(name: str) -> str:
    return "name a need as needs/ID" if name.startswith(_NEEDS) else "'conserve rules list' names them all"


def _names(casebook: Casebook) -> Iterator[tuple[str, tuple[str, ...], Location]]:
    """Every name of a rule or need, the needs that may be named there, and where it stands."""
    for proposal in casebook.proposals:
        for option in proposal.options:
            for rule, said in option.answers.items():
                yield rule, (), said.where
        for met in proposal.work.met if proposal.work else ():
            yield met.requirement, _needs(proposal), met.where
    for item in casebook.evidence.values():
        needs = tuple(need for proposal in casebook.proposals if _concerns(item, proposal) for need in _needs(proposal))
        for name in item.answers:
            if not name.startswith(PROFILES):  # PROFILE/REQUIREMENT: told where readiness for that profile is asked
                yield name, needs, item.places["answers"]


def _needs(proposal: Proposal) -> tuple[str, ...]:
    return tuple(f"{_NEEDS}{need.id}" for need in proposal.needs)


def _concerns(item: Evidence, proposal: Proposal) -> bool:
    return "object" in item.about or not set(item.about).isdisjoint(proposal.components)
