"""Who does the work, who decided, and who signs before anyone goes further."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from conserve.casebook import Casebook
from conserve.explanation import full, listed, plain, value_in_words
from conserve.explanation.words import role_in_words
from conserve.terms import Vocabulary
from conserve.weighing.model import OptionWeighing, Weighing

_SOMEBODY = "competent-person"  # where no word of a need says of which trade
_ANSWERABLE = "whoever answers for the work"


def who(weighing: Weighing, chosen: OptionWeighing) -> Iterator[str]:
    """Who decided, who does the work, and since when."""
    proposal, work = weighing.proposal, weighing.proposal.work
    if proposal.decision:
        yield f"Decided on {proposal.decision.on} by {named(proposal.decision.by, weighing.casebook)}."
    elif proposal.kind != "intervention":
        yield f"Under the policy for {plain(proposal.kind)}."
    yield _worker(weighing, chosen)
    if work and work.finished:
        began = f"Begun {work.began}, finished" if work.began else "Finished"
        yield f"{began} {work.finished}."
    elif work and work.began:
        yield f"Begun {work.began}; not finished yet."


def _worker(weighing: Weighing, chosen: OptionWeighing) -> str:
    work, option = weighing.proposal.work, chosen.option
    if work and work.by:
        competence = f" {full(work.competence)}" if work.competence else ""
        return f"{'Done' if work.finished else 'To be done'} by {work.by}.{competence}"
    done_by = option.facts.get("option.done_by")
    if done_by and done_by[0].values:
        competence = f" {full(option.competence)}" if option.competence else " Name who, and what makes them competent."
        return f"To be done by a {value_in_words(done_by[0].values)}.{competence}"
    return "Nobody has said who does it." if option.acts else ""


def named(said: str, casebook: Casebook) -> str:
    """A person by name and role, where the casebook knows them."""
    person = casebook.object.people.get(said)
    return f"{person.name}, {plain(person.role)}" if person else said


def signs(kind: str, roles: tuple[str, ...], says: str, weighing: Weighing) -> str:
    """Who signs what is shown by evidence of this kind: a role that is asked for, or whoever answers for the work."""
    if roles:
        return listed((_of_role(role, weighing.casebook) for role in roles), "or")
    if kind == "permit":
        return "whoever may give the permit, to be named"
    if "competent" in says:
        return "someone competent under local law, to be named"
    decision = weighing.proposal.decision
    return named(decision.by, weighing.casebook) if decision else _lead(weighing.casebook)


def roles_in(says: str, vocabulary: Vocabulary) -> tuple[str, ...]:
    """The competent people that a sentence names by their role."""
    return tuple(role for role in _competent(vocabulary) if re.search(rf"\b{plain(role)}\b", says.lower()))


def _competent(vocabulary: Vocabulary) -> Iterable[str]:
    return sorted(role for role, competent in vocabulary.roles.items() if competent)


def _of_role(role: str, casebook: Casebook) -> str:
    if role == _SOMEBODY:
        return "a competent person, to be named"
    names = sorted(person.name for person in casebook.object.people.values() if person.role == role)
    if not names:
        return f"{role_in_words(role)}, to be named"
    return f"{listed(names, 'or')}, {plain(role)}"


def _lead(casebook: Casebook) -> str:
    names = sorted(person.name for person in casebook.object.people.values() if person.role == "lead")
    return f"{listed(names, 'or')}, lead" if names else _ANSWERABLE
