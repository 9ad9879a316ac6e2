"""What is required of an option, what is met, and what nobody knows that stands in its way."""

from __future__ import annotations

from collections.abc import Iterable

from conserve.casebook import Casebook, Option
from conserve.casebook.model import Met
from conserve.facts import Fact, Facts, How, Judgement
from conserve.facts.today import standing_reports
from conserve.inference import Finding
from conserve.rule import EffectKind, Stage
from conserve.terms import Vocabulary
from conserve.truth import Truth
from conserve.weighing.model import (
    ActCall,
    Call,
    NeedOutcome,
    NeedState,
    Question,
    Requirement,
    Settled,
    Shown,
    Standing,
)


def requirements(
    settled: Iterable[Settled], needs: Iterable[NeedOutcome], option: Option, facts: Facts, vocabulary: Vocabulary
) -> tuple[Requirement, ...]:
    """All that is required of an option: by rules, and to make good what it claims and promises."""
    by_rule: dict[str, Requirement] = {}
    for one in settled:
        if one.finding.rule.then.kind is EffectKind.REQUIRE and one.standing is not Standing.OUT:
            found = _by_rule(one, option, facts, vocabulary)
            if found is not None:
                known = by_rule.get(found.id)
                by_rule[found.id] = found if known is None else _stronger(known, found)
    return (*by_rule.values(), *(r for need in needs if (r := _by_need(need, facts)) is not None))


def _stronger(one: Requirement, other: Requirement) -> Requirement:
    """The same rule at two places asks once: the one that is certain and unmet before the other."""
    return max((one, other), key=lambda r: (not r.met, r.certain))


def _by_rule(one: Settled, option: Option, facts: Facts, vocabulary: Vocabulary) -> Requirement | None:
    finding, then = one.finding, one.finding.rule.then
    assert then.by is not None
    if then.known:
        fact = facts.today.look(finding.subject, vocabulary.terms[then.known])
        if fact.known or fact.how is How.ABSENT:
            return None
    rule, said = finding.rule.id, option.answers.get(finding.rule.id)
    shown, worked = _shown_by_evidence(rule, then.evidence, facts), _met_at_work(rule, then.evidence, facts)
    answered = said if then.answer else None
    done = shown or worked
    return Requirement(
        id=rule,
        says=then.says,
        by=then.by,
        routine=then.routine,
        certain=one.standing is Standing.IN,
        met=answered is not None or done is not None,
        left=answered is None and shown is None,
        finding=finding,
        met_on=done.on if done else None,
        evidence=done.evidence if done else (),
        answer=answered,
    )


def _met_at_work(rule: str, kind: str, facts: Facts) -> Met | None:
    """What ticks a requirement off while the work goes on. The verdict was given before, and stays.

    Where the rule asks for evidence of a kind, only evidence of that kind about this component will do; where it
    asks for none, evidence or the name of who says so: a date alone is nobody's word.
    """
    casebook, part, work = facts.casebook, facts.component.id, facts.proposal.work
    return next(
        (
            met
            for met in (work.met if work else ())
            if met.requirement == rule
            and (any(_shows(casebook, e, kind, part) for e in met.evidence) if kind else met.evidence or met.by)
        ),
        None,
    )


def _shown_by_evidence(rule: str, kind: str, facts: Facts) -> Met | None:
    """Registered evidence that answers the rule: of the kind asked for, and about this component."""
    for item in facts.casebook.evidence.values():
        if rule in item.answers and _shows(facts.casebook, item.id, kind or item.kind, facts.component.id):
            return Met(rule, item.on, (item.id,), item.where)
    return None


def _shows(casebook: Casebook, name: str, kind: str, part: str) -> bool:
    item = casebook.evidence[name]
    return item.kind == kind and (part in item.about or "object" in item.about)


def _by_need(outcome: NeedOutcome, facts: Facts) -> Requirement | None:
    """A promise or a claim is to be shown later; a safety need waits for a competent person before use."""
    need = outcome.need
    name = f"needs/{need.id}"
    if outcome.state is not NeedState.MET:
        return None
    if outcome.asked_of:
        return Requirement(name, need.says, Stage.BEFORE_USE, False, True, False, True, role=outcome.asked_of)
    if outcome.shown not in (Shown.CLAIMED, Shown.PROMISED):
        return None
    done = _met_at_work(name, "", facts)
    return Requirement(
        name,
        need.says,
        Stage.BEFORE_USE,
        True,
        True,
        done is not None,
        True,
        met_on=done.on if done else None,
        evidence=done.evidence if done else (),
    )


def referral_answered_by(finding: Finding, facts: Facts) -> str:
    """The report that answers a referral: from that role, about this component and question, still standing."""
    for report in standing_reports(facts.casebook, facts.component, facts.on):
        if report.role == finding.rule.then.to and finding.rule.id in report.answers and report.states:
            return report.id
    return ""


# ---- questions ----------------------------------------------------------------------------------------


def questions(
    settled: Iterable[Settled],
    needs: Iterable[NeedOutcome],
    calls: Iterable[ActCall],
    left: Iterable[NeedOutcome],
    facts: Facts,
    vocabulary: Vocabulary,
) -> tuple[Question, ...]:
    """What is unknown and stands in an option's way, the most decisive first: what blocks most."""
    blocks: dict[tuple[str, str], list[str]] = {}
    found: dict[tuple[str, str], tuple[Fact, Judgement | None]] = {}

    def ask(judgement: Judgement, blocked: str) -> None:
        if judgement.truth is not Truth.UNKNOWN:
            return
        unknown = [fact for fact in (judgement.fact, *judgement.limits) if not fact.known]
        for fact in [below for one in unknown for below in _to_ask(one)] or [judgement.fact]:
            key = (fact.subject, fact.term)
            blocks.setdefault(key, []).append(blocked)
            found.setdefault(key, (fact, judgement if fact.known else None))

    for one in settled:
        if one.standing is Standing.OPEN and _may_matter(one):
            for judgement in one.finding.grounds:
                ask(judgement, one.finding.rule.id)
        if one.standing is not Standing.OUT and one.finding.rule.then.known:
            fact = facts.today.look(one.finding.subject, vocabulary.terms[one.finding.rule.then.known])
            for wanted in _to_ask(fact) if not fact.known and fact.how is not How.ABSENT else ():
                blocks.setdefault((wanted.subject, wanted.term), []).append(one.finding.rule.id)
                found.setdefault((wanted.subject, wanted.term), (wanted, None))
    for outcome in (*needs, *_awaited(calls, left)):
        if outcome.state in (NeedState.OPEN, NeedState.IN_DOUBT):
            for check in outcome.checks:
                ask(check.judgement, f"needs/{outcome.need.id}")
    ordered = sorted(found, key=lambda key: (-len(set(blocks[key])), key))
    return tuple(Question(found[key][0], tuple(sorted(set(blocks[key]))), found[key][1]) for key in ordered)


def _to_ask(fact: Fact) -> tuple[Fact, ...]:
    """What to ask for a fact that is not known: of a computed one, what it would be computed from."""
    return (fact.working.missing if fact.working else ()) or (fact,)


def _may_matter(one: Settled) -> bool:
    """Notes never count, routine work never colours a verdict, and an answered objection is answered."""
    then = one.finding.rule.then
    return then.kind is not EffectKind.NOTE and not then.routine and one.answer is None


def _awaited(calls: Iterable[ActCall], left: Iterable[NeedOutcome]) -> list[NeedOutcome]:
    """Needs whose state under leaving alone decides whether an act is called for."""
    names = {name for call in calls if call.call is Call.OPEN for name in call.needs}
    return [outcome for outcome in left if outcome.need.id in names]
