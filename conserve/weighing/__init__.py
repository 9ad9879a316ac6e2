"""Weigh a proposal: each option on its own, then against the gentler ones. Pure; order cannot matter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from conserve.account import Compared, compare
from conserve.casebook import Casebook, NeedKind, Option, Proposal
from conserve.facts import act_alone, facts_about
from conserve.inference import Finding, Findings, infer
from conserve.rule import EffectKind, Stage
from conserve.rulebook import Rulebook
from conserve.weighing.model import (
    ORDER,
    ActCall,
    Call,
    Conclusion,
    NeedOutcome,
    NeedState,
    OptionWeighing,
    PartWeighing,
    Reason,
    Requirement,
    Settled,
    Standing,
    Step,
    Verdict,
    Weighing,
)
from conserve.weighing.needs import act_call, need_outcome, need_outcomes
from conserve.weighing.requirements import questions, referral_answered_by, requirements
from conserve.weighing.standing import Key, Settlement, key_of, standings


def weigh(proposal: Proposal, casebook: Casebook, rulebook: Rulebook, on: date | None = None) -> Weighing:
    """Weigh one proposal, for each component it is about."""
    day = on or casebook.as_at
    parts = tuple(
        weigh_part(
            infer(facts_about(proposal, casebook.components[name], casebook, rulebook.vocabulary, day), rulebook),
            rulebook,
        )
        for name in proposal.components
    )
    chosen = proposal.decision.chosen if proposal.decision else proposal.preferred
    verdicts = {option.id: _worst(part.option(option.id).verdict for part in parts) for option in proposal.options}
    return Weighing(casebook, proposal, day, parts, verdicts[chosen], _conclusion(parts), chosen, verdicts)


def weigh_all(casebook: Casebook, rulebook: Rulebook, on: date | None = None) -> tuple[Weighing, ...]:
    """Weigh every proposal of a casebook."""
    return tuple(weigh(proposal, casebook, rulebook, on) for proposal in casebook.proposals)


def _worst(verdicts: Iterable[Verdict]) -> Verdict:
    return min(verdicts, key=ORDER.index)


def weigh_part(findings: Findings, rulebook: Rulebook) -> PartWeighing:
    """Weigh a proposal for one component."""
    facts = findings.facts
    leave = next((o for o in facts.proposal.options if not o.acts), None)
    left = {need.id: need_outcome(need, leave, findings, rulebook) for need in facts.proposal.needs} if leave else {}
    own = tuple(_on_its_own(option, left, findings, rulebook) for option in facts.proposal.options)
    duty_now = _duty(findings, "component.duty_now")
    out = tuple(
        o
        for o in left.values()
        if o.need.kind is NeedKind.SAFETY
        and o.state in (NeedState.FAILED, NeedState.IN_DOUBT)
        and (not o.need.at or not duty_now or duty_now in o.need.at)
    )
    return PartWeighing(facts.component, findings, tuple(_against_the_gentler(one, own) for one in own), out, left)


def _duty(findings: Findings, term: str) -> str:
    fact = findings.facts.today.facts.get((f"component:{findings.facts.component.id}", term))
    return str(fact.values[0]) if fact and fact.values else ""


# ---- one option on its own ----------------------------------------------------------------------------


def _on_its_own(option: Option, left: dict[str, NeedOutcome], findings: Findings, rulebook: Rulebook) -> OptionWeighing:
    facts, vocabulary = findings.facts, rulebook.vocabulary
    wanted = _duty(findings, "component.duty_wanted")
    duty = option.duty or wanted
    needs = need_outcomes(option, duty, wanted, findings, rulebook)
    calls = tuple(act_call(act, needs, left, facts, vocabulary) for act in option.acts)
    settled = _settled(option, findings)
    required = requirements(settled, needs, option, facts, vocabulary)
    verdict, reason = _verdict(needs, calls, settled, required)
    return OptionWeighing(
        option,
        duty,
        verdict,
        reason,
        verdict,
        reason,
        needs,
        calls,
        settled,
        required,
        questions(settled, needs, calls, left.values(), facts, vocabulary),
        facts.accounts[option.id],
    )


def _settled(option: Option, findings: Findings) -> tuple[Settled, ...]:
    """The findings that bear on an option, each with its standing."""
    name = f"option:{option.id}"
    bearing = [f for f in findings.telling if f.subject.kind not in ("option", "act") or f.subject.owned_by(name)]
    standing = standings(bearing)
    return tuple(_one_settled(f, *standing[key_of(f)], option, findings) for f in _once(bearing, standing))


def _once(findings: Iterable[Finding], standing: Mapping[Key, Settlement]) -> Iterable[Finding]:
    """Tell a finding on an act once, however many faces and marks it was weighed for on the same grounds.

    The grounds are the facts that were asked, with those that stood as limits; and it must stand alike at all of them.
    """
    told: dict[object, Finding] = {}
    for f in findings:
        grounds = tuple((j.term, j.fact.subject, *(limit.subject for limit in j.limits)) for j in f.grounds)
        told.setdefault((f.rule.id, act_alone(f.subject.id), grounds, standing[key_of(f)]), f)
    return told.values()


def _one_settled(
    finding: Finding, standing: Standing, by: tuple[str, ...], option: Option, findings: Findings
) -> Settled:
    kind = finding.rule.then.kind
    return Settled(
        finding,
        standing,
        by,
        answer=option.answers.get(finding.rule.id) if kind is EffectKind.AGAINST else None,
        report=referral_answered_by(finding, findings.facts) if kind is EffectKind.REFER else "",
    )


def _verdict(
    needs: tuple[NeedOutcome, ...],
    calls: tuple[ActCall, ...],
    settled: tuple[Settled, ...],
    required: tuple[Requirement, ...],
) -> tuple[Verdict, Reason]:
    """The first step that applies gives the verdict and its one reason: the first by name, in whatever order."""

    def first(kind: EffectKind, *standing: Standing) -> Settled | None:
        counting = (
            s
            for s in settled
            if s.finding.rule.then.kind is kind and s.standing in standing and s.answer is None and not s.report
        )
        return min(counting, key=lambda s: (s.standing is not Standing.IN, key_of(s.finding)), default=None)

    def need(state: NeedState) -> NeedOutcome | None:
        return min((n for n in needs if n.state is state), key=lambda n: n.need.id, default=None)

    def call(state: Call) -> ActCall | None:
        return min((c for c in calls if c.call is state), key=lambda c: c.act.number, default=None)

    def owed(*stages: Stage) -> Requirement | None:
        left = (r for r in required if r.left and not r.routine and r.by in stages)
        return min(left, key=lambda r: (stages.index(r.by), r.id), default=None)

    later = tuple(stage for stage in Stage if stage is not Stage.DECISION)
    steps = (
        (Verdict.NOT_JUSTIFIED, Step.FORBIDDEN, "settled", first(EffectKind.FORBID, Standing.IN)),
        (Verdict.NOT_JUSTIFIED, Step.NEED_FAILED, "need", need(NeedState.FAILED)),
        (Verdict.NOT_JUSTIFIED, Step.NEED_IN_DOUBT, "need", need(NeedState.IN_DOUBT)),
        (Verdict.NOT_JUSTIFIED, Step.NOT_CALLED_FOR, "act", call(Call.NOT_CALLED_FOR)),
        (Verdict.REFER, Step.REFERRED, "settled", first(EffectKind.REFER, Standing.IN)),
        (Verdict.NOT_YET_SHOWN, Step.SOMETHING_OPEN, "settled", first(EffectKind.FORBID, Standing.OPEN)),
        (Verdict.NOT_YET_SHOWN, Step.SOMETHING_OPEN, "need", need(NeedState.OPEN)),
        (Verdict.NOT_YET_SHOWN, Step.SOMETHING_OPEN, "act", call(Call.OPEN)),
        (Verdict.NOT_YET_SHOWN, Step.SOMETHING_OPEN, "settled", first(EffectKind.REFER, Standing.OPEN)),
        (Verdict.NOT_YET_SHOWN, Step.OBJECTION, "settled", first(EffectKind.AGAINST, Standing.IN, Standing.OPEN)),
        (Verdict.NOT_YET_SHOWN, Step.OWED_NOW, "requirement", owed(Stage.DECISION)),
        (Verdict.WITH_REQUIREMENTS, Step.OWED_LATER, "requirement", owed(*later)),
    )
    for verdict, step, names, found in steps:
        if found is not None:
            return verdict, Reason(step, **{names: found})  # type: ignore[arg-type]
    return Verdict.JUSTIFIED, Reason(Step.NOTHING_AGAINST)


# ---- against the gentler ones -------------------------------------------------------------------------


def _against_the_gentler(one: OptionWeighing, others: tuple[OptionWeighing, ...]) -> OptionWeighing:
    """Hold an option against those that lose less, as those are on their own.

    Where a gentler one stands, this one is not justified, whatever may still be open about it.
    """
    held = {o.option.id: compare(o.account, one.account) for o in others if o is not one}
    gentler = tuple(name for name, how in held.items() if how is Compared.GENTLER)
    one = replace(one, gentler=gentler)
    if one.own is Verdict.NOT_JUSTIFIED:
        return one
    rivals = sorted((o for o in others if o.option.id in held), key=lambda o: o.option.id)
    for other in rivals:
        if other.option.id in gentler and other.own.stands and meets(other, one, NeedState.MET):
            return replace(
                one, verdict=Verdict.NOT_JUSTIFIED, reason=Reason(Step.GENTLER_STANDS, option=other.option.id)
            )
    for other in rivals if one.own.stands else ():
        step = _in_question(one, other, held[other.option.id])
        if step is not None and other.option.id not in one.option.rather_than:
            return replace(one, verdict=Verdict.NOT_YET_SHOWN, reason=Reason(step, option=other.option.id))
    return one


def meets(other: OptionWeighing, one: OptionWeighing, *states: NeedState) -> bool:
    """Whether another option leaves every need that this one keeps in one of these states."""
    kept = [n.need.id for n in one.needs if n.state not in (NeedState.GIVEN_UP, NeedState.NOT_ASKED)]
    return all(other.need(name).state in states for name in kept)


def _in_question(one: OptionWeighing, other: OptionWeighing, how: Compared) -> Step | None:
    """Whether a person must say why another option is not taken instead."""
    waiting = other.own in (Verdict.REFER, Verdict.NOT_YET_SHOWN) or other.own_reason.step is Step.NEED_IN_DOUBT
    may_meet = meets(other, one, NeedState.MET, NeedState.OPEN, NeedState.IN_DOUBT)
    if how is Compared.GENTLER and waiting and may_meet:
        return Step.GENTLER_WAITED_FOR
    if how is Compared.CANNOT_TELL and (waiting or other.own.stands) and may_meet:
        back = compare(one.account, other.account)
        return None if back is Compared.GENTLER else Step.GENTLER_WAITED_FOR
    if how is Compared.NOT_GENTLER and (waiting or other.own.stands) and may_meet:
        back = compare(one.account, other.account)
        return Step.LOSES_OTHER_THINGS if back in (Compared.NOT_GENTLER, Compared.CANNOT_TELL) else None
    return None


def _conclusion(parts: tuple[PartWeighing, ...]) -> Conclusion:
    """Decided when, for every part, an option that gives nothing up stands."""

    def of(part: PartWeighing) -> Conclusion:
        if any(o.verdict.stands and not o.gives_up for o in part.options):
            return Conclusion.DECIDED
        open_ = (Verdict.REFER, Verdict.NOT_YET_SHOWN)
        return Conclusion.WAITING if any(o.verdict in open_ for o in part.options) else Conclusion.NOTHING_WILL_DO

    found = {of(part) for part in parts}
    if found == {Conclusion.DECIDED}:
        return Conclusion.DECIDED
    return Conclusion.NOTHING_WILL_DO if Conclusion.NOTHING_WILL_DO in found else Conclusion.WAITING


__all__ = [
    "Conclusion",
    "OptionWeighing",
    "PartWeighing",
    "Reason",
    "Verdict",
    "Weighing",
    "meets",
    "weigh",
    "weigh_all",
    "weigh_part",
]
