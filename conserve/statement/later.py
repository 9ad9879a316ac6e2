"""What is not known, and what is to be done and looked at again, by when."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from conserve.explanation import capital, questions, reason_says
from conserve.record.owed import WORDS, Owed, owed
from conserve.statement.given import Given, file_of, items, proposal_of, prose, record_of, row
from conserve.statement.model import Block, Grid, Prose, Row, Section
from conserve.weighing.model import Conclusion, PartWeighing, Verdict, Weighing

MOST_ASKED = 25  # questions that the statement tells; the records tell them all


def unknown(given: Given) -> Section:
    """What nobody knows and a decision waits for, the most decisive first."""
    return Section("unknown", "What is not known", tuple(_unknown(given)))


def _unknown(given: Given) -> Iterator[Block]:
    every = _questions(given)
    records = [record_of(weighing) for weighing in given.undecided]
    referred = tuple(_referred(given))
    if referred:
        yield prose("competent", "Only a competent person can answer these:", *(one.made_from for one in referred))
    yield from items("for-a-competent-person", referred)
    if not every and not referred:
        yield prose("nothing", "No decision waits for an answer to a question.", given.object_file, records)
        return
    told = list(every.items())[:MOST_ASKED]
    if told:
        yield prose("to-find-out", "These are to be found out, the most decisive first:", records)
    yield from items("questions", (_asked(said, weighings) for said, weighings in told))
    more = len(every) - len(told)
    if more:
        things = "1 question more stands" if more == 1 else f"{more} questions more stand"
        yield prose("more", f"{things} in the records.", records)


def _referred(given: Given) -> Iterator[Prose]:
    """What only a competent person can answer, of each option that waits for it."""
    for weighing in given.undecided:
        for option in weighing.worst.options:
            if option.verdict is Verdict.REFER:
                says = f"{weighing.proposal.title}, '{option.option.id}': {reason_says(option, weighing.worst)}"
                yield prose(f"{weighing.proposal.id}-{option.option.id}", says, *_basis(weighing))


def _basis(weighing: Weighing) -> tuple[str, str]:
    return record_of(weighing), proposal_of(weighing)


def _asked(said: str, weighings: list[Weighing]) -> Prose:
    first = weighings[0]
    for_ = f"For '{first.proposal.title}'"
    others = len(weighings) - 1
    more = f" and {others} more" if others else ""
    name = f"{first.proposal.id}-{_short(said)}"
    return prose(name, f"{said} ({for_}{more}.)", *(name for one in weighings for name in _basis(one)))


def _short(said: str) -> str:
    """A name for a question that is the same wherever it stands in the list."""
    return hashlib.sha256(said.encode()).hexdigest()[:8]


def _questions(given: Given) -> dict[str, list[Weighing]]:
    """Each question and the weighings that ask it: the first of every one before the second of any."""
    asked = [(weighing, _of(weighing, given)) for weighing in given.undecided]
    found: dict[str, list[Weighing]] = {}
    for rank in range(max((len(said) for _, said in asked), default=0)):
        for weighing, said in asked:
            if rank < len(said) and weighing not in found.get(said[rank], []):
                found.setdefault(said[rank], []).append(weighing)
    return found


def _of(weighing: Weighing, given: Given) -> tuple[str, ...]:
    """What is asked of the option put forward; where more must be known first, of the others too."""
    part: PartWeighing = weighing.worst
    chosen = part.option(weighing.chosen)
    waiting = weighing.conclusion is Conclusion.WAITING
    others = [option for option in part.options if option is not chosen] if waiting else []
    return tuple(dict.fromkeys(said for o in (chosen, *others) for said in questions(part, o, given.rulebook)))


# ---- later -----------------------------------------------------------------------------------------------


def later(given: Given) -> Section:
    """What is owed and what is to be looked at again, as `conserve due` tells it in full."""
    return Section("later", "What is to be done and looked at again, and when", tuple(_later(given)))


def _later(given: Given) -> Iterator[Block]:
    found = owed(given.weighings, given.casebook, given.day)
    dated = [one for one in found if one.on is not None and not one.routine]
    rows = tuple(_row(one, number, given) for number, one in _numbered(dated))
    if rows:
        yield Grid("dated", "With a day", ("by", "kind", "what", "where"), rows)
    policy = given.casebook.object.policy
    if policy is None or policy.review is None:
        yield prose("no-review", "No day is set on which the policy is looked at again.", given.object_file)
    standing = [one for one in found if one.on is None and not one.routine]
    told = tuple(_row(one, number, given) for number, one in _numbered(standing))
    if told:
        yield Grid("standing", "Without a day", ("by", "kind", "what", "where"), told)
    routine = [one for one in found if one.routine]
    if routine:
        names = {one.proposal for one in routine}
        things = f"{len(routine)} thing{'s' if len(routine) > 1 else ''}"
        says = f"Beyond these, {things} that every such job owes are not done yet. 'conserve due' lists them."
        yield prose("routine", says, *(record_of(w) for w in given.weighings if w.proposal.id in names))
    if not found:
        yield prose("nothing", "Nothing is owed, as far as it is written.", given.object_file)


def _numbered(found: list[Owed]) -> Iterator[tuple[str, Owed]]:
    """A name for each that does not change when another is added elsewhere."""
    number: dict[str, int] = {}
    for one in found:
        name = f"{one.proposal or one.where}-{one.stage}".replace(" ", "-")
        number[name] = number.get(name, 0) + 1
        yield name if number[name] == 1 else f"{name}-{number[name]}", one


def _row(one: Owed, name: str, given: Given) -> Row:
    files: tuple[str, ...]
    if one.proposal:
        files = _basis(next(w for w in given.weighings if w.proposal.id == one.proposal))
    else:
        files = (given.object_file, *_written(given, one.where))
    late = ": overdue" if one.overdue(given.day) else ""
    return row(name, (f"{one.on}{late}" if one.on else "–", capital(WORDS[one.stage]), one.what, one.where), files)


def _written(given: Given, where: str) -> tuple[str, ...]:
    part = given.casebook.components.get(where)
    return (file_of(part.where),) if part else tuple(file_of(e.where) for e in given.casebook.evidence.values())
