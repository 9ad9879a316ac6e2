"""Whether what a decision requires was there by its stage, and whether the work left what was promised."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from conserve.audit.given import Given
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.audit.timing import began_on
from conserve.casebook import Proposal
from conserve.explanation import capital, full, listed, requirement_says, value_in_words
from conserve.explanation.sentences import STAGES
from conserve.explanation.words import path_in_words
from conserve.record.as_left import AsLeft, differences
from conserve.record.owed import AS_LEFT, REPORT, RETURN, REVIEW, WEIGH_ANEW, WORDS, Owed
from conserve.rule import Stage
from conserve.truth import Truth
from conserve.weighing.model import Requirement, Weighing

_ELSEWHERE = (WEIGH_ANEW,)  # told as what was left otherwise than promised
_NO_REQUIREMENT = (REVIEW, REPORT, RETURN)


def required(asked: Proposal, today: Weighing, owed: Iterable[Owed], given: Given) -> tuple[Answer, tuple[Point, ...]]:
    """What is overdue under a decision, and what was met only after its stage. `owed` is what it owes."""
    own = [one for one in owed if one.stage not in _ELSEWHERE]
    points = (*_overdue(own, asked, given), *_late(asked, today, given))
    if points:
        return Answer(Asked.REQUIREMENTS, Truth.NO, " ".join(full(point.says) for point in points)), points
    left = sum(one.stage not in (*_NO_REQUIREMENT, AS_LEFT) for one in own)
    if left:
        more = f"{left} more {'is' if left == 1 else 'are'} still to come, and not due yet."
        return Answer(Asked.REQUIREMENTS, Truth.YES, f"Nothing that it requires is overdue; {more}"), ()
    if any(part.option(today.chosen).requirements for part in today.parts):
        return Answer(Asked.REQUIREMENTS, Truth.YES, "Everything that it requires was there by its stage."), ()
    return Answer(Asked.REQUIREMENTS, None, "It requires nothing."), ()


def _overdue(own: Iterable[Owed], asked: Proposal, given: Given) -> Iterator[Point]:
    """What is overdue, by name; what every such job owes, of one stage and day, in one point."""
    where = given.where(asked.where)
    routine: dict[tuple[date | None, str], list[str]] = {}
    for one in own:
        if not one.overdue(given.day):
            continue
        if one.routine:  # its rule stands in brackets at the end
            rule = one.what.rpartition(" (")[2].partition(";")[0]
            routine.setdefault((one.on, one.stage), []).append(rule)
        else:
            yield Point(Kind.OVERDUE, f"Overdue since {one.on}, {WORDS[one.stage]}: {one.what}", asked.id, where)
    for (on, stage), rules in routine.items():
        names = listed(sorted(set(rules)))
        says = (
            f"Overdue since {on}, {WORDS[stage]}, and owed by every such job; the record tells each in full: {names}."
        )
        yield Point(Kind.OVERDUE, says, asked.id, where)


def _late(asked: Proposal, today: Weighing, given: Given) -> Iterator[Point]:
    """Requirements that were met, but only after the day by which they were to be there."""
    by = _by(asked, given)
    told: set[str] = set()
    for part in today.parts:
        for requirement in part.option(today.chosen).requirements:
            wanted = by.get(requirement.by)
            if requirement.met_on is None or wanted is None or requirement.met_on <= wanted:
                continue
            says = _late_says(requirement, wanted, requirement_says(requirement, part.findings.facts))
            if says not in told:
                told.add(says)
                yield Point(Kind.MET_LATE, says, asked.id, given.where(asked.where))


def _late_says(requirement: Requirement, wanted: date, what: str) -> str:
    stage = capital(STAGES[requirement.by])
    return f"{stage}, by {wanted}, and met only on {requirement.met_on}: {what} ({requirement.id})"


def _by(asked: Proposal, given: Given) -> dict[Stage, date]:
    """The day by which a requirement of each stage was to be there."""
    began = began_on(asked, given)
    found = {}
    if asked.decision:
        found[Stage.DECISION] = asked.decision.on
    if began:
        found[Stage.BEFORE_WORK] = began[0]
    if asked.work and asked.work.finished:
        found[Stage.DURING_WORK] = asked.work.finished
    return found


# ---- as left -----------------------------------------------------------------------------------------------------


def as_left(asked: Proposal, today: Weighing, owed: Iterable[Owed], given: Given) -> tuple[Answer, tuple[Point, ...]]:
    """Whether what was measured after the work is what was promised."""
    if asked.work is None or not (asked.work.finished or asked.work.measured):
        return Answer(Asked.AS_LEFT, None, "The work is not finished."), ()
    held = [
        (one, f"{capital(path_in_words(one.path, part.findings.facts))}: {_promised(one)}")
        for part in today.parts
        for one in differences(part, part.option(today.chosen))
    ]
    measured = asked.work.measured
    points = tuple(
        Point(Kind.AS_LEFT, says, asked.id, given.where(measured[one.path][0].where))
        for one, says in held
        if one.differs is Truth.YES
    )
    if points:
        return Answer(Asked.AS_LEFT, Truth.NO, " ".join(point.says for point in points)), points
    unmeasured = any(one.stage == AS_LEFT for one in owed)
    if unmeasured or any(one.differs is Truth.UNKNOWN for one, _ in held):
        why = "Not all that was promised has been measured" if unmeasured else "The ± of a measurement is not stated"
        return Answer(Asked.AS_LEFT, Truth.UNKNOWN, f"{why}."), ()
    if not held:
        return Answer(Asked.AS_LEFT, None, "Nothing was promised that can be measured."), ()
    return Answer(Asked.AS_LEFT, Truth.YES, f"As promised: {' '.join(says for _, says in held)}"), ()


def _promised(one: AsLeft) -> str:
    return f"promised {value_in_words(one.promised)}, left {value_in_words(one.measured)}."
