"""What is owed, and by when: what decisions still ask, what is to be measured, renewed, put back or looked at again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from conserve.casebook import Casebook, Evidence, Proposal
from conserve.explanation import capital, listed, plain, requirement_says, value_in_words
from conserve.explanation.sentences import STAGES
from conserve.explanation.words import path_in_words, the
from conserve.facts import How
from conserve.record.as_left import differences
from conserve.rule import Stage
from conserve.truth import Truth
from conserve.weighing.model import NeedOutcome, OptionWeighing, PartWeighing, Requirement, Weighing

SOON = timedelta(days=90)  # how long before a report lapses it is worth asking for the next one

AS_LEFT, WEIGH_ANEW, REPORT, RETURN, REVIEW = "as-left", "weigh-anew", "report", "return", "review"
WORDS = {
    **{stage.value: words for stage, words in STAGES.items()},
    AS_LEFT: "to measure",
    WEIGH_ANEW: "to weigh anew",
    REPORT: "a report that lapses",
    RETURN: "a part in store",
    REVIEW: "a review",
}
_ORDER = tuple(WORDS)
_ROUTINE = "; every such job owes it)"
_GOOD_ON_THE_DAY = (REPORT, RETURN, REVIEW)  # these may still be done on their day; the rest are late by then


@dataclass(frozen=True, slots=True)
class Owed:
    """One thing owed. `on` is the day from which it is wanted, None where no day is set.

    `stage` is a stage of requirements, or `as-left`, `weigh-anew`, `report`, `return` or `review`; `where` names
    components, or `object`. A thing that belongs to no proposal has an empty `proposal`.
    """

    on: date | None
    stage: str
    what: str
    proposal: str
    where: str

    def overdue(self, day: date) -> bool:
        """Whether it should have been done by now."""
        if self.on is None:
            return False
        return self.on < day if self.stage in _GOOD_ON_THE_DAY else self.on <= day

    @property
    def routine(self) -> bool:
        """Whether every such job owes it."""
        return self.what.endswith(_ROUTINE)


def owed(weighings: Iterable[Weighing], casebook: Casebook, on: date) -> tuple[Owed, ...]:
    """List all that is owed on a day: what has a date first, by date, then by stage.

    Requirements are owed once a proposal is decided or its work has begun. What another, decided proposal
    supersedes owes only for work that was begun.
    """
    superseded = {p.supersedes for p in casebook.proposals if _under_way(p, on)}
    found = [
        *(one for weighing in weighings for one in _of_proposal(weighing, weighing.proposal.id in superseded, on)),
        *_of_casebook(casebook, on),
    ]
    return tuple(sorted(_together(found), key=_order))


def _order(one: Owed) -> tuple[bool, date, int, str, str, str]:
    return one.on is None, one.on or date.max, _ORDER.index(one.stage), one.proposal, one.where, one.what


def _together(found: Iterable[Owed]) -> Iterator[Owed]:
    """The same thing owed by several parts, told once."""
    parts: dict[Owed, list[str]] = {}
    for one in found:
        parts.setdefault(replace(one, where=""), []).append(one.where)
    for one, names in parts.items():
        each = list(dict.fromkeys(names))
        yield replace(one, where=listed(each) if len(each) < 4 else f"{each[0]} and {len(each) - 1} others")


# ---- proposals -----------------------------------------------------------------------------------------


def _decided(proposal: Proposal, on: date) -> bool:
    return proposal.decision is not None and proposal.decision.on <= on


def _began(proposal: Proposal, on: date) -> bool:
    return proposal.work is not None and proposal.work.began is not None and proposal.work.began <= on


def _under_way(proposal: Proposal, on: date) -> bool:
    return _decided(proposal, on) or _began(proposal, on)


def _of_proposal(weighing: Weighing, superseded: bool, on: date) -> Iterator[Owed]:
    proposal = weighing.proposal
    if superseded and not _began(proposal, on):
        return
    if proposal.review and not superseded:
        what = f"Look again at {listed(dict.fromkeys(the(p.component.name) for p in weighing.parts))}."
        yield from (Owed(proposal.review, REVIEW, what, proposal.id, name) for name in proposal.components)
    if not _under_way(proposal, on):
        return
    if not _decided(proposal, on) and proposal.kind == "intervention":
        assert proposal.work is not None
        what = "Write down who decided, when and why: the work began without a decision."
        began = proposal.work.began
        yield from (Owed(began, Stage.DECISION.value, what, proposal.id, name) for name in proposal.components)
    for part in weighing.parts:
        chosen = part.option(weighing.chosen)
        unmeasured = tuple(_unmeasured(part, chosen))
        yield from _required(part, chosen, {need.need.id for need, _ in unmeasured})
        yield from _as_left(part, unmeasured)
        if not superseded:
            yield from _to_weigh_anew(part, chosen)


def _required(part: PartWeighing, chosen: OptionWeighing, told: set[str]) -> Iterator[Owed]:
    facts = part.findings.facts
    for requirement in chosen.requirements:
        measuring = requirement.finding is None and not requirement.role
        if requirement.met or (measuring and requirement.id.removeprefix("needs/") in told):
            continue
        what = f"{requirement_says(requirement, facts)} ({requirement.id}{_ROUTINE if requirement.routine else ')'}"
        when = _wanted(requirement, facts.proposal)
        yield Owed(when, requirement.by.value, what, facts.proposal.id, part.component.id)


def _wanted(requirement: Requirement, proposal: Proposal) -> date | None:
    """The day from which a requirement is wanted. Nobody writes down when use begins, so that has none."""
    work = proposal.work
    began, finished = (work.began, work.finished) if work else (None, None)
    return {
        Stage.DECISION: proposal.decision.on if proposal.decision else began,
        Stage.BEFORE_WORK: began,
        Stage.DURING_WORK: finished,
        Stage.AFTER_WORK: finished,
        Stage.BEFORE_USE: None,
    }[requirement.by]


def _unmeasured(part: PartWeighing, chosen: OptionWeighing) -> Iterator[tuple[NeedOutcome, str]]:
    """What a need was reckoned or claimed to come to, and nobody has measured although the work is done."""
    work = part.findings.facts.proposal.work
    if work is None or work.finished is None:
        return
    for outcome in chosen.needs:
        for check in outcome.checks:
            if check.after.fact.how in (How.COMPUTED, How.CLAIMED) and check.check.path not in work.measured:
                yield outcome, check.check.path


def _as_left(part: PartWeighing, unmeasured: Iterable[tuple[NeedOutcome, str]]) -> Iterator[Owed]:
    facts = part.findings.facts
    for outcome, path in unmeasured:
        promised = next(c.after.fact.values for c in outcome.checks if c.check.path == path)
        need = outcome.need.says.rstrip(".")
        name = path_in_words(path, facts)
        what = f"Measure as left: {name}, promised {value_in_words(promised)}, for '{need}'."
        finished = facts.proposal.work.finished if facts.proposal.work else None
        yield Owed(finished, AS_LEFT, what, facts.proposal.id, part.component.id)


def _to_weigh_anew(part: PartWeighing, chosen: OptionWeighing) -> Iterator[Owed]:
    facts = part.findings.facts
    work = facts.proposal.work
    for one in differences(part, chosen):
        if one.differs is Truth.YES and work is not None:
            left, promised = value_in_words(one.measured), value_in_words(one.promised)
            what = f"Weigh anew: {path_in_words(one.path, facts)} as left {left}, promised {promised}."
            yield Owed(work.finished or work.began, WEIGH_ANEW, what, facts.proposal.id, part.component.id)


# ---- the rest of the casebook --------------------------------------------------------------------------


def _of_casebook(casebook: Casebook, on: date) -> Iterator[Owed]:
    policy = casebook.object.policy
    if policy and policy.review:
        yield Owed(policy.review, REVIEW, "Look again at the object's policy.", "", "object")
    for part in casebook.components.values():
        if part.stored and part.stored.return_by:
            tag = f", tag {part.stored.tag}" if part.stored.tag else ""
            kept = f"It is at: {part.stored.place}{tag}." if part.stored.place else "Nobody has said where it is."
            what = f"Put back {the(part.name)}, or set another day and say why. {kept}"
            yield Owed(part.stored.return_by, RETURN, what, "", part.id)
    reports = casebook.evidence.values()
    for report in reports:
        if report.lapses and report.lapses - SOON <= on and not any(_renews(other, report) for other in reports):
            verb = "lapsed" if report.lapses < on else "lapses"
            by = f"the {plain(report.role)}" if report.role else report.by
            what = f"Ask {by} for a new one if what rests on '{report.id}' is to go on: it {verb} on {report.lapses}."
            yield from (Owed(report.lapses, REPORT, what, "", name) for name in report.about)


def _renews(other: Evidence, report: Evidence) -> bool:
    """Whether a later report from the same role answers the same questions about the same parts for longer."""
    assert report.lapses is not None
    return (
        other.kind == report.kind
        and other.role == report.role
        and other.on > report.on
        and other.lapses is not None
        and other.lapses > report.lapses
        and set(other.about) >= set(report.about)
        and set(other.answers) >= set(report.answers)
    )


# ---- telling -------------------------------------------------------------------------------------------


def render(owed: Iterable[Owed], on: date) -> str:
    """What is owed, for people: what is overdue, what comes next, and what stands without a date.

    What every such job owes is only counted where it has no date: the record lists it.
    """
    found = list(owed)
    groups = (
        (f"Overdue on {on}", [one for one in found if one.overdue(on)]),
        ("Next", [one for one in found if one.on is not None and not one.overdue(on)]),
        ("Standing, without a date", [one for one in found if one.on is None]),
    )
    said = ["\n".join((title, *_told(some, on))) for title, some in groups if some]
    return "\n\n".join(said or [f"Nothing is owed on {on}."]) + "\n"


def _told(some: Iterable[Owed], on: date) -> Iterator[str]:
    together: dict[str, list[Owed]] = {}
    for one in some:
        together.setdefault(f"  {_when(one, on)}{one.proposal or one.where}:", []).append(one)
    for head, ones in together.items():
        yield head
        counted = [one for one in ones if one.routine and one.on is None]
        yield from (f"    - {capital(WORDS[one.stage])}: {one.what}" for one in ones if one not in counted)
        if counted:
            things = "1 thing" if len(counted) == 1 else f"{len(counted)} things"
            yield f"    - And {things} that every such job owes; the record lists what."


def _when(one: Owed, on: date) -> str:
    if one.on is None:
        return ""
    days = abs((one.on - on).days)
    length = "1 day" if days == 1 else f"{days} days"
    if one.overdue(on):
        return f"Since {one.on}{f', {length} overdue' if days else ', overdue today'}, "
    return f"By {one.on}, {f'in {length}' if days else 'today'}, "
