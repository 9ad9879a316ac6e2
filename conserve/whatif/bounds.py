"""The worst and the best that an option can come to, from what is certain about it and what is open.

Nothing is tried here. What is certain stays so whatever the rest turns out to be; what is open may go either way.
So no case lies outside these bounds. What only a person can answer (an objection, a reason for not waiting, what
is owed by the decision) is taken as answered.
"""

from __future__ import annotations

from conserve.account import Compared, compare
from conserve.casebook import NeedKind
from conserve.rule import EffectKind, Stage
from conserve.truth import Truth
from conserve.weighing.model import (
    ORDER,
    ActCall,
    Call,
    NeedOutcome,
    NeedState,
    OptionWeighing,
    PartWeighing,
    Shown,
    Standing,
    Verdict,
)
from conserve.whatif.model import Span

_KEPT_OUT = (NeedState.GIVEN_UP, NeedState.NOT_ASKED)


def spans(part: PartWeighing) -> dict[str, Span]:
    """The span of every option of a part."""
    own = own_spans(part)
    return {option.option.id: _held_against(option, own, part) for option in part.options}


# ---- on its own -----------------------------------------------------------------------------------------


def own_spans(part: PartWeighing) -> dict[str, Span]:
    """What every option of a part may come to on its own."""
    return {option.option.id: _own_span(option, part) for option in part.options}


def _own_span(option: OptionWeighing, part: PartWeighing) -> Span:
    best = Verdict.JUSTIFIED
    if _owes_for_certain(option):
        best = Verdict.WITH_REQUIREMENTS
    if _fails_for_certain(option, part):
        best = Verdict.NOT_JUSTIFIED
    worst = best
    if best is not Verdict.NOT_JUSTIFIED and _may_owe(option):
        worst = Verdict.WITH_REQUIREMENTS
    if _may_fail(option, part):
        worst = Verdict.NOT_JUSTIFIED
    return Span(worst, best)


def _fails_for_certain(option: OptionWeighing, part: PartWeighing) -> bool:
    forbidden = any(s.finding.rule.then.kind is EffectKind.FORBID and s.standing is Standing.IN for s in option.settled)
    failed = any(n.state is NeedState.FAILED and not _duty_may_change(n, option) for n in option.needs)
    return forbidden or failed or any(_sure(c, option, part, called=False) for c in option.calls)


def _may_fail(option: OptionWeighing, part: PartWeighing) -> bool:
    if _fails_for_certain(option, part):
        return True
    forbidden = any(
        s.finding.rule.then.kind is EffectKind.FORBID and s.standing is Standing.OPEN for s in option.settled
    )
    needs = any(not _surely_met(n) for n in option.needs)
    return forbidden or needs or any(not _sure(c, option, part, called=True) for c in option.calls)


def _surely_met(outcome: NeedOutcome) -> bool:
    """Whether a need stays met or out of the question, whatever is found out."""
    if outcome.state in _KEPT_OUT:
        return True
    if outcome.state is not NeedState.MET:
        return False
    unknown = any(c.judgement.truth is Truth.UNKNOWN for c in outcome.checks)
    return outcome.shown is Shown.CONCLUDED or not unknown or not _could_be_worked_out(outcome)


def _could_be_worked_out(outcome: NeedOutcome) -> bool:
    """Whether what an act promises could still be found otherwise, by working it out or by a report."""
    return any(
        c.judgement.truth is Truth.UNKNOWN and (not c.after.touched or c.after.fact.working is not None)
        for c in outcome.checks
    )


def _duty_may_change(outcome: NeedOutcome, option: OptionWeighing) -> bool:
    """Whether a need may yet fall away because nobody has said what use is wanted."""
    return bool(outcome.need.at) and not option.duty


def _sure(made: ActCall, option: OptionWeighing, part: PartWeighing, called: bool) -> bool:
    """Whether an act is called for, or is not, whatever is found out."""
    if not option.duty and any(n.need.at for n in option.needs):
        return False
    if made.call is Call.OPEN or called is (made.call is Call.NOT_CALLED_FOR):
        return False
    if part.findings.facts.proposal.kind != "intervention":
        return True
    left = [part.left[name] for name in made.needs if name in part.left]
    if called:
        return any(outcome.state is NeedState.FAILED for outcome in left)
    return len(left) == len(made.needs) and all(_surely_met(outcome) for outcome in left)


def _owes_for_certain(option: OptionWeighing) -> bool:
    return any(
        r.left and r.certain and _colours(r.by, r.routine) and not _may_be_known(r.id, option)
        for r in option.requirements
    )


def _may_owe(option: OptionWeighing) -> bool:
    asked = (n.state for n in option.needs if n.need.kind is NeedKind.SAFETY)
    unmet = any(state not in (NeedState.MET, *_KEPT_OUT) for state in asked)
    return unmet or any(r.left and _colours(r.by, r.routine) for r in option.requirements)


def _colours(by: Stage, routine: bool) -> bool:
    """Whether a requirement colours a verdict, once what is owed by the decision has been given."""
    return not routine and by is not Stage.DECISION


def _may_be_known(requirement: str, option: OptionWeighing) -> bool:
    """Whether a requirement may fall away because something becomes known, or a competent person concludes it."""
    if requirement.startswith("needs/"):
        outcome = option.need(requirement.partition("/")[2])
        return bool(outcome.asked_of) and any(
            c.judgement.truth is Truth.UNKNOWN and not c.after.touched for c in outcome.checks
        )
    return any(s.finding.rule.id == requirement and s.finding.rule.then.known for s in option.settled)


# ---- against the gentler ones ---------------------------------------------------------------------------


def _held_against(option: OptionWeighing, own: dict[str, Span], part: PartWeighing) -> Span:
    """What an option may come to once it is held against those that lose less, or may."""
    span = own[option.option.id]
    worst, best = span.worst, span.best
    for other in part.options:
        if other is option:
            continue
        how = compare(other.account, option.account)
        rival = own[other.option.id]
        if how is Compared.GENTLER and _surely_stands(rival) and _keeps(other, option, surely=True):
            best = Verdict.NOT_JUSTIFIED
        if (
            how in (Compared.GENTLER, Compared.CANNOT_TELL)
            and rival.best.stands
            and _keeps(other, option, surely=False)
        ):
            worst = Verdict.NOT_JUSTIFIED
    return Span(min(worst, best, key=ORDER.index), best)


def _surely_stands(span: Span) -> bool:
    return span.worst.stands


def _keeps(other: OptionWeighing, option: OptionWeighing, surely: bool) -> bool:
    """Whether another option meets every need that this one keeps: for certain, or possibly."""
    for outcome in option.needs:
        there = other.need(outcome.need.id)
        if outcome.state in _KEPT_OUT and not _duty_may_change(outcome, option):
            continue
        if surely and not (there.state is NeedState.MET and _surely_met(there)):
            return False
        if not surely and there.state in (NeedState.FAILED, *_KEPT_OUT) and not _duty_may_change(there, other):
            return False
    return True
