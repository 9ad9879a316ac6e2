"""What holds of what is proposed: options, decisions, needs, safety, and the work as it was left."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from conserve.casebook import NeedKind
from conserve.facts.today import standing_reports
from conserve.readiness.costs import chosen_of
from conserve.readiness.looking import PROPOSALS, WORKS, Case, Lack, at, found, one, says_something
from conserve.readiness.model import Ask, Found, Mend
from conserve.record.as_left import differences
from conserve.record.owed import REVIEW, owed
from conserve.rule import EffectKind
from conserve.truth import Truth
from conserve.weighing import Weighing
from conserve.weighing.model import NeedOutcome, NeedState, PartWeighing, Shown, Standing, Verdict

LEAST = 3  # leaving alone, the least that might do, and the choice
_UNDONE = (NeedState.FAILED, NeedState.IN_DOUBT)


def options(case: Case, ask: Ask) -> Found:
    """Whether each proposal has three options, or says that there is none between."""
    lacks = (_few_options(weighing) for weighing in case.live)
    told = f"Each has {LEAST} options, or says that there is none between."
    return found(told, filter(None, lacks), len(case.live), PROPOSALS)


def _few_options(weighing: Weighing) -> Lack | None:
    proposal = weighing.proposal
    said = {value for stated in proposal.facts.get("proposal.least_work", ()) for value in stated.values}
    if sum(option.listed for option in proposal.options) >= LEAST or said == {"none-between"}:
        return None
    what = "put the least work that might do among 'options:', or write 'least_work: none-between'"
    return Lack(proposal.id, what, at(proposal.where))


def record(case: Case, ask: Ask) -> Found:
    """Whether something holds of every proposal."""
    look, told = _RECORDS[ask.word]
    if ask.word == "safety-shown" and case.live and not any(map(_asks_of_safety, case.live)):
        what = "Write what could hurt someone as a need of 'kind: safety', with what would show that it cannot."
        return one("No proposal has a safety need, and silence is no answer.", Mend(what, "proposals"))
    lacks = (lack for weighing in case.live for lack in look(case, weighing))
    return found(told, lacks, len(case.live), PROPOSALS)


def _asks_of_safety(weighing: Weighing) -> bool:
    return any(need.kind is NeedKind.SAFETY for need in weighing.proposal.needs)


def _undecided(case: Case, weighing: Weighing) -> Iterator[Lack]:
    proposal, decision = weighing.proposal, weighing.proposal.decision
    if decision is None:
        yield Lack(proposal.id, "decide, and write 'decision:' with who, when and why", at(proposal.where))
    elif decision.on > case.day:
        yield Lack(proposal.id, f"it is decided only on {decision.on}", at(decision.where))
    elif not says_something(decision.reason):
        yield Lack(proposal.id, "write why it is so decided, 'reason:'", at(decision.where))


def _work_first(case: Case, weighing: Weighing) -> Iterator[Lack]:
    """Work that began before it was decided, or nobody knows when. Without work there is nothing to come first."""
    proposal, decision, work = weighing.proposal, weighing.proposal.decision, weighing.proposal.work
    if work is None:
        return
    if work.began is None:
        yield Lack(proposal.id, "write when the work began, under 'work:'", at(proposal.where))
    elif decision is None or decision.on > work.began:
        what = f"the work began on {work.began}, before it was decided: say so in the record, for it cannot be mended"
        yield Lack(proposal.id, what, at(proposal.where))


def _not_standing(case: Case, weighing: Weighing) -> Iterator[Lack]:
    """A choice that does not stand, unless somebody has decided on it with a reason.

    A decision may depart from what is known. It stands in for nothing that is not known, and overrides neither law
    nor safety.
    """
    proposal, decision = weighing.proposal, weighing.proposal.decision
    if weighing.verdict.stands:
        return
    gates = sorted({gate for part in weighing.parts for gate in _gates(part, weighing.chosen)})
    if gates:
        what = f"choose otherwise: no decision overrides law or safety ({', '.join(gates)})"
    elif weighing.verdict is Verdict.NOT_JUSTIFIED and decision is not None and decision.on <= case.day:
        if says_something(decision.reason):
            return
        what = "write why it departs from the verdict, 'reason:'"
    else:
        what = f"the verdict is '{weighing.verdict}': 'conserve why' says what is in the way"
    yield Lack(proposal.id, what, at(proposal.where))


def _gates(part: PartWeighing, option: str) -> Iterator[str]:
    for settled in part.option(option).settled:
        then = settled.finding.rule.then
        if then.kind is EffectKind.FORBID and then.gate and settled.standing is not Standing.OUT:
            yield settled.finding.rule.id


def _need_not_shown(case: Case, weighing: Weighing) -> Iterator[Lack]:
    """A choice that does more than find out, and no need that leaving alone is shown to fail or puts in doubt."""
    if all(act.finds for act in chosen_of(weighing).acts):
        return
    for part in weighing.parts:
        if not any(outcome.state in _UNDONE for outcome in part.left.values()):
            what = "nothing shows yet that leaving alone would not do: measure what its needs ask, or leave it"
            yield Lack(weighing.proposal.id, what, at(weighing.proposal.where))


def _unsafe(case: Case, weighing: Weighing) -> Iterator[Lack]:
    """A safety need that the choice does not meet: by a conclusion that stands, or one required before use."""
    for part in weighing.parts:
        for outcome in part.option(weighing.chosen).needs:
            if outcome.need.kind is NeedKind.SAFETY and not _safe(outcome):
                lapsed = _lapsed(case, part, outcome)
                said = outcome.need.says.rstrip(".")
                what = f"have a competent person conclude anew: {lapsed}" if lapsed else f"settle '{said}'"
                yield Lack(weighing.proposal.id, what, at(outcome.need.where), bool(lapsed))


def _safe(outcome: NeedOutcome) -> bool:
    """Whether a safety need is not asked of what is chosen, or a competent person answers for it before use."""
    if outcome.state in (NeedState.GIVEN_UP, NeedState.NOT_ASKED):
        return True
    return outcome.state is NeedState.MET and (outcome.shown is Shown.CONCLUDED or bool(outcome.asked_of))


def _lapsed(case: Case, part: PartWeighing, outcome: NeedOutcome) -> str:
    """The report that answered a need until it lapsed; "" for none."""
    standing = {report.id for report in standing_reports(case.casebook, part.component, case.day)}
    for item in case.casebook.evidence.values():
        answers = f"needs/{outcome.need.id}" in item.answers and part.component.id in item.about
        if answers and item.id not in standing and item.lapses is not None and item.lapses < case.day:
            return f"the report '{item.id}' lapsed on {item.lapses}"
    return ""


def _not_reviewed(case: Case, weighing: Weighing) -> Iterator[Lack]:
    proposal = weighing.proposal
    if proposal.review is None:
        yield Lack(proposal.id, "set a day on which to look again: 'review:'", at(proposal.where))
    elif proposal.review < case.day:
        what = f"it was to be looked at again by {proposal.review}: look, and set the next day"
        yield Lack(proposal.id, what, at(proposal.places["review"]), stale=True)


_RECORDS: dict[str, tuple[Callable[[Case, Weighing], Iterator[Lack]], str]] = {
    "each-decided": (_undecided, "Each is decided by somebody, on a day, with a reason."),
    "reasons-first": (_work_first, "No work is told of that began before it was decided."),
    "standing": (_not_standing, "Each choice stands, or was decided otherwise with a reason."),
    "need-shown": (_need_not_shown, "For each choice that does something, leaving alone is shown not to do."),
    "safety-shown": (_unsafe, "Each safety need has a competent person's conclusion, or waits for one before use."),
    "reviewed": (_not_reviewed, "For each, a day is set to look again."),
}


def work(case: Case, ask: Ask) -> Found:
    """Whether work that is written is finished and measured, and owes nothing that is overdue."""
    begun = [weighing for weighing in case.live if weighing.proposal.work is not None]
    lacks = [lack for weighing in begun for lack in _owing(case, weighing)]
    told = "All work that is written was measured as it was left, and owes nothing."
    return found(told, lacks, len(begun), WORKS)


def _not_as_promised(part: PartWeighing, chosen: str) -> Iterator[str]:
    """What the work touched or somebody measured, and is not shown to have been left as it was promised."""
    option = part.option(chosen)
    done = part.findings.facts.proposal.work
    touched = (c.check.path for outcome in option.needs for c in outcome.checks if c.after.touched)
    kept = {one.path for one in differences(part, option) if one.differs is Truth.NO}
    for path in dict.fromkeys((*touched, *(done.measured if done else ()))):
        if path not in kept:
            yield path


def _owing(case: Case, weighing: Weighing) -> Iterator[Lack]:
    proposal, done = weighing.proposal, weighing.proposal.work
    assert done is not None  # asked for by the caller
    if done.began is None or done.finished is None:
        what = "finish the work, and write 'began:' and 'finished:' under 'work:'"
        yield Lack(proposal.id, what, at(proposal.where))
        return
    for path in dict.fromkeys(path for part in weighing.parts for path in _not_as_promised(part, weighing.chosen)):
        what = f"measure '{path}' as left, under 'work:', and hold it against what was promised"
        yield Lack(proposal.id, what, at(proposal.where))
    for due in owed((weighing,), case.casebook, case.day):
        if due.proposal == proposal.id and due.stage != REVIEW and due.overdue(case.day):  # reviews are asked for apart
            yield Lack(proposal.id, due.what[:1].lower() + due.what[1:].rstrip("."), at(proposal.where))
