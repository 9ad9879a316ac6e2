"""What the steps of a weighing came to for one option, as factors: no guess, each is named by the weighing itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from conserve.audit.factors import LACKS
from conserve.rule import EffectKind
from conserve.truth import Truth
from conserve.weighing import meets
from conserve.weighing.model import (
    Call,
    NeedState,
    OptionWeighing,
    PartWeighing,
    Settled,
    Standing,
    Step,
    Verdict,
)

_HOW = {Standing.IN: Truth.YES, Standing.OPEN: Truth.UNKNOWN, Standing.OUT: Truth.NO}


class Came(NamedTuple):
    """What a step came to: what it is told by, whether it speaks against the option, and what it is about."""

    told_by: str
    bad: Truth
    about: str


def steps_of(one: OptionWeighing, part: PartWeighing) -> Iterator[Came]:
    """Every step that speaks against an option, or may."""
    yield from _needs(one)
    for call in one.calls:
        if call.call is not Call.CALLED_FOR:
            bad = Truth.YES if call.call is Call.NOT_CALLED_FOR else Truth.UNKNOWN
            yield Came(f"{Step.NOT_CALLED_FOR}/", bad, f"act {call.act.number}: {call.call}")
    yield from (came for settled in one.settled for came in _findings(settled))
    for owed in one.requirements:
        if owed.left and not owed.routine and owed.finding is not None:
            yield Came(f"{Step.OWED_NOW}/{owed.id}", Truth.YES, f"wanted by: {owed.by.replace('-', ' ')}")
    yield from _others(one, part)


def _needs(one: OptionWeighing) -> Iterator[Came]:
    """Each need that is not met, by its kind: one that fails is in doubt too, and one in doubt is open too."""
    for outcome in one.needs:
        kind, state = outcome.need.kind, outcome.state
        told = f"need '{outcome.need.id}': {state}"
        if state in LACKS:
            yield from (Came(f"{lack}/{kind}", Truth.YES, told) for lack in LACKS[: LACKS.index(state) + 1])
        elif state is NeedState.GIVEN_UP:
            yield Came(f"{state}/{kind}", Truth.YES, told)
        elif outcome.asked_of and state is NeedState.MET:
            yield Came(f"{Step.OWED_LATER}/{kind}", Truth.YES, f"need '{outcome.need.id}': met, and not yet concluded")


def _findings(settled: Settled) -> Iterator[Came]:
    """An objection that nobody has answered, a referral without a report."""
    rule, bad = settled.finding.rule, _HOW[settled.standing]
    said = f"{settled.finding.subject.name}: {'it applies' if bad is Truth.YES else 'it may apply'}"
    if rule.then.kind is EffectKind.AGAINST and settled.answer is None:
        yield Came(f"{Step.OBJECTION}/{rule.id}", bad, said)
    if rule.then.kind is EffectKind.REFER and not settled.report:
        yield Came(f"{Step.REFERRED}/{rule.id}", bad, said)


def _others(one: OptionWeighing, part: PartWeighing) -> Iterator[Came]:
    """A gentler option that stands, or may yet do; whatever else speaks against this one."""
    for name in one.gentler:
        other = part.option(name)
        if other.own.stands and meets(other, one, NeedState.MET):
            yield Came(f"{Step.GENTLER_STANDS}/", Truth.YES, f"option '{name}'")
        waiting = other.own in (Verdict.REFER, Verdict.NOT_YET_SHOWN) or other.own_reason.step is Step.NEED_IN_DOUBT
        may_meet = meets(other, one, NeedState.MET, NeedState.OPEN, NeedState.IN_DOUBT)
        if waiting and may_meet and name not in one.option.rather_than:
            yield Came(f"{Step.GENTLER_WAITED_FOR}/", Truth.YES, f"option '{name}'")
    if one.reason.step in (Step.GENTLER_WAITED_FOR, Step.LOSES_OTHER_THINGS):
        yield Came(f"{Step.GENTLER_WAITED_FOR}/", Truth.YES, f"option '{one.reason.option}'")
