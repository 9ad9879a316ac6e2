"""A weighing as plain data, for `--json`."""

from __future__ import annotations

from typing import Any

from conserve.explanation.pieces import alike, amount, heading, named, told_account, told_fact, told_values
from conserve.facts import Judgement
from conserve.inference import Finding
from conserve.quantity import Quantity
from conserve.rule import Bound, Test
from conserve.truth import Truth
from conserve.weighing.model import (
    CheckOutcome,
    NeedOutcome,
    OptionWeighing,
    PartWeighing,
    Question,
    Requirement,
    Settled,
    Weighing,
)


def as_json(weighing: Weighing) -> dict[str, Any]:
    """A weighing as plain data, with the state of every rule for every subject."""
    return {**heading(weighing), "parts": alike(weighing.parts, _part)}


def _part(part: PartWeighing) -> dict[str, Any]:
    facts = part.findings.facts.today.facts
    rules: dict[str, list[str]] = {}
    for finding in part.findings.all:
        rules.setdefault(finding.rule.id, []).append(_finding(finding))
    return {
        "facts": {
            f"{subject} {term}": told_fact(fact) for (subject, term), fact in sorted(facts.items()) if fact.known
        },
        "rules": rules,
        "options": {o.option.id: _option(o) for o in part.options},
        "out_of_use": [o.need.id for o in part.out_of_use],
    }


def _bound(bound: Bound) -> dict[str, str | None]:
    return {bound.how: amount(bound.limit) if isinstance(bound.limit, Quantity) else f"term {bound.limit}"}


def _test(test: Test) -> dict[str, Any]:
    return {"bounds": [_bound(b) for b in test.bounds]} if test.bounds else {"accepts": list(test.accepts)}


def _judgement(judgement: Judgement) -> dict[str, Any]:
    said: dict[str, Any] = {
        "term": judgement.term,
        "of": judgement.fact.subject,
        "test": _test(judgement.test),
        "values": told_values(judgement.fact.values),
        "how": judgement.fact.how.value,
        "truth": str(judgement.truth),
    }
    if judgement.limits:
        said["limits"] = [told_values(limit.values) for limit in judgement.limits]
    if judgement.chance is not None:
        said["chance"] = f"{judgement.chance:.6f}"
    return said


def _finding(finding: Finding) -> str:
    """The state of a rule for a subject, and the premises it rests on; a silent rule by the one that failed.

    The values stand among the facts and the tests among the rules, so that each is told once.
    """
    state = ("silent", "open", "applies")[finding.truth]
    resting = finding.grounds[-1:] if finding.truth is Truth.NO else finding.grounds
    premises = (f"{j.term} of {j.fact.subject or 'nothing here'}: {j.truth}" for j in resting)
    return "; ".join((f"{state} for {finding.subject.id}", *premises))


def _settled(settled: Settled) -> dict[str, Any]:
    said: dict[str, Any] = {
        "rule": settled.finding.rule.id,
        "about": settled.finding.subject.id,
        "standing": settled.standing.value,
    }
    if settled.overridden_by:
        said["overridden_by"] = list(settled.overridden_by)
    if settled.answer is not None:
        said["answer"] = {"by": settled.answer.by, "says": settled.answer.says}
    if settled.report:
        said["report"] = settled.report
    return said


def _check(check: CheckOutcome) -> dict[str, Any]:
    return {
        "path": check.check.path,
        "touched": check.after.touched,
        **_judgement(check.judgement),
    }


def _need(outcome: NeedOutcome) -> dict[str, Any]:
    return {
        "state": outcome.state.value,
        "shown": outcome.shown.value if outcome.shown else None,
        "asked_of": outcome.asked_of,
        "bears": list(outcome.bears),
        "kind": outcome.need.kind.value,
        "at": list(outcome.need.at),
        "checks": [_check(c) for c in outcome.checks],
    }


def _requirement(requirement: Requirement) -> dict[str, Any]:
    return {
        "id": requirement.id,
        "by": requirement.by.value,
        "routine": requirement.routine,
        "left": requirement.left,
        "certain": requirement.certain,
        "met": requirement.met,
        "evidence": list(requirement.evidence),
        "met_on": requirement.met_on.isoformat() if requirement.met_on else None,
    }


def _question(question: Question) -> dict[str, Any]:
    return {
        "term": question.fact.term,
        "of": question.fact.subject,
        "blocks": list(question.blocks),
        "settle": amount(question.settle),
    }


def _option(option: OptionWeighing) -> dict[str, Any]:
    return {
        "duty": option.duty,
        "verdict": option.verdict.value,
        "step": option.reason.step.value,
        "on_its_own": option.own.value,
        "names": named(option.reason),
        "gives_up": list(option.gives_up),
        "needs": {n.need.id: _need(n) for n in option.needs},
        "acts": [
            {
                "number": c.act.number,
                "technique": c.act.technique,
                "where": c.act.surface,
                "for": list(c.act.needs),
                "call": c.call.value,
                "by": list(c.needs),
            }
            for c in option.calls
        ],
        "findings": [_settled(s) for s in option.settled],
        "requirements": [_requirement(r) for r in option.requirements],
        "questions": [_question(q) for q in option.questions],
        "account": told_account(option.account),
        "gentler": list(option.gentler),
        "rather_than": sorted(option.option.rather_than),
    }
