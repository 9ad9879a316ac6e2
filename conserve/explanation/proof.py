"""A weighing as data: everything that its verdict was made from."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any

from conserve.account import Account, Column, Held, Whole
from conserve.casebook.model import Values
from conserve.explanation.words import place
from conserve.facts import Fact, Judgement
from conserve.inference import Finding
from conserve.quantity import Quantity, canonical
from conserve.rule import Bound, Rule, Test
from conserve.rulebook import Rulebook
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
from conserve.weighing.whole import BeforeAndAfter, whole_before_and_after

FORMAT = "conserve-proof-1"


def canonical_json(data: object) -> str:
    """JSON that is the same to the byte for the same data: sorted keys, no NaN, one final newline."""
    return json.dumps(data, sort_keys=True, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def proof(weighing: Weighing, rulebook: Rulebook, whole: BeforeAndAfter | None = None) -> dict[str, Any]:
    """Everything needed to re-derive a weighing's verdict: inputs by digest, facts, rules, findings, outcomes.

    `whole` is what is left of the object, where that has been worked out already.
    """
    before, after = whole or whole_before_and_after(weighing, rulebook.vocabulary)
    used = sorted({f.rule.id: f.rule for p in weighing.parts for f in p.findings.all}.items())
    return {
        **as_json(weighing),
        "format": FORMAT,
        "rulebook": rulebook.digest,
        "object": {"before": _whole(before), "after": _whole(after)},
        "casebook_files": dict(sorted(weighing.casebook.digests.items())),
        "rules": {name: _rule(rule) for name, rule in used},
    }


def as_json(weighing: Weighing) -> dict[str, Any]:
    """A weighing as plain data, with the state of every rule for every subject."""
    return {
        "casebook": weighing.casebook.id,
        "proposal": weighing.proposal.id,
        "title": weighing.proposal.title,
        "on": weighing.on.isoformat(),
        "verdict": weighing.verdict.value,
        "conclusion": weighing.conclusion.value,
        "chosen": weighing.chosen,
        "decided": weighing.proposal.decision is not None,
        "verdicts": {name: verdict.value for name, verdict in weighing.verdicts.items()},
        "parts": _parts(weighing.parts),
    }


def _parts(parts: Iterable[PartWeighing]) -> dict[str, Any]:
    """Each part in full; a part that is like an earlier one in everything but its name, by that one's name."""
    told: dict[str, Any] = {}
    seen: dict[str, str] = {}
    for part in parts:
        data, name = _part(part), part.component.id
        likeness = re.sub(rf"(?<![a-z0-9-]){name}(?![a-z0-9-])", "this", json.dumps(data, sort_keys=True))
        told[name] = {"like": seen[likeness]} if likeness in seen else data
        seen.setdefault(likeness, name)
    return told


def _part(part: PartWeighing) -> dict[str, Any]:
    facts = part.findings.facts.today.facts
    rules: dict[str, list[str]] = {}
    for finding in part.findings.all:
        rules.setdefault(finding.rule.id, []).append(_finding(finding))
    return {
        "facts": {f"{subject} {term}": _fact(fact) for (subject, term), fact in sorted(facts.items()) if fact.known},
        "rules": rules,
        "options": {o.option.id: _option(o) for o in part.options},
        "out_of_use": [o.need.id for o in part.out_of_use],
    }


def _values(values: Values | None) -> list[str] | None:
    return None if values is None else [canonical(v) if isinstance(v, Quantity) else str(v) for v in values]


def _fact(fact: Fact) -> dict[str, Any]:
    said: dict[str, Any] = {
        "values": _values(fact.values),
        "how": fact.how.value,
        "where": [place(s.where) for s in fact.statements],
    }
    if fact.working is not None:
        said["from"] = [f"{one.subject} {one.term}" for _, one in fact.working.given]
    return said


def _bound(bound: Bound) -> dict[str, str]:
    return {bound.how: canonical(bound.limit) if isinstance(bound.limit, Quantity) else f"term {bound.limit}"}


def _test(test: Test) -> dict[str, Any]:
    return {"bounds": [_bound(b) for b in test.bounds]} if test.bounds else {"accepts": list(test.accepts)}


def _judgement(judgement: Judgement) -> dict[str, Any]:
    said: dict[str, Any] = {
        "term": judgement.term,
        "of": judgement.fact.subject,
        "test": _test(judgement.test),
        "values": _values(judgement.fact.values),
        "how": judgement.fact.how.value,
        "truth": str(judgement.truth),
    }
    if judgement.limits:
        said["limits"] = [_values(limit.values) for limit in judgement.limits]
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
        "settle": canonical(question.settle) if question.settle is not None else None,
    }


def _amount(quantity: Quantity | None) -> str | None:
    return None if quantity is None else canonical(quantity)


def _account(account: Account) -> dict[str, Any]:
    return {
        "lost": sorted(account.lost),
        "presumed": {face: _amount(depth) for face, depth in account.presumed.items()},
        "volume": _amount(account.volume),
        "mass": _amount(account.mass),
        "kept": list(account.kept),
        "added": list(account.added),
        "untold": list(account.untold),
        "for_good": account.for_good,
        "held": _held(account.held),
        "acts": [
            {"number": a.number, "volume": _amount(a.volume), "mass": _amount(a.mass), "area": _amount(a.area)}
            for a in account.acts
        ],
    }


def _held(held: Held) -> dict[str, Any]:
    """What is left, measure by measure; never one number."""
    return {
        "columns": {column.name: _column(column) for column in held.columns},
        "worst": held.worst.name if held.worst else None,
        "added_before": _amount(held.added),
    }


def _column(column: Column) -> dict[str, Any]:
    said: dict[str, Any] = {
        "as_made": _amount(column.made),
        "taken_before": _amount(column.before),
        "taken": _amount(column.taken),
        "in_store": _amount(column.stored),
        "left": _amount(column.left),
        "share": _amount(column.share),
    }
    return {**said, "why": [why.name.lower() for why in column.why]} if column.why else said


def _whole(whole: Whole) -> dict[str, Any]:
    return {
        **_held(whole.held),
        "parts": whole.parts,
        "later": whole.later,
        "why": {k: list(v) for k, v in whole.why.items()},
    }


def _option(option: OptionWeighing) -> dict[str, Any]:
    return {
        "duty": option.duty,
        "verdict": option.verdict.value,
        "step": option.reason.step.value,
        "on_its_own": option.own.value,
        "names": _named(option),
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
        "account": _account(option.account),
        "gentler": list(option.gentler),
        "rather_than": sorted(option.option.rather_than),
    }


def _named(option: OptionWeighing) -> str:
    reason = option.reason
    return (
        reason.settled.finding.rule.id
        if reason.settled
        else reason.need.need.id
        if reason.need
        else f"act {reason.act.act.number}"
        if reason.act
        else reason.requirement.id
        if reason.requirement
        else reason.option
    )


def _rule(rule: Rule) -> dict[str, Any]:
    then = rule.then
    return {
        "title": rule.title,
        "about": rule.about,
        "sources": [str(c) for c in rule.sources],
        "when": [{"term": p.term, "test": _test(p.test)} for p in rule.when],
        "effect": then.kind.value,
        "says": then.says,
        "establishes": list(then.establishes) if then.establishes[0] else [],
        "gate": then.gate,
        "to": then.to,
        "by": then.by.value if then.by else "",
        "routine": then.routine,
        "known": then.known,
        "answer": then.answer,
        "evidence": then.evidence,
        "overrides": _edges(e.rule for e in rule.overrides),
    }


def _edges(names: Iterable[str]) -> list[str]:
    return sorted(names)
