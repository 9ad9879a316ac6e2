"""The proof of a weighing: what its verdict is made from, and what it came to, each told once.

`conserve.checker` draws every conclusion again from what is given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from conserve.casebook import Casebook, Need
from conserve.casebook.model import Said
from conserve.explanation.pieces import (
    alike,
    canonical_json,
    heading,
    named,
    said,
    told_account,
    told_fact,
    told_rule,
    told_test,
    told_whole,
)
from conserve.facts import Afterwards, Fact, Facts, How, standing_reports
from conserve.facts.today import key_of
from conserve.inference import Finding, Findings
from conserve.rule import Rule
from conserve.rulebook import Rulebook
from conserve.truth import Truth
from conserve.weighing.model import NeedOutcome, OptionWeighing, PartWeighing, Reason, Settled, Weighing
from conserve.weighing.standing import standings
from conserve.weighing.whole import BeforeAndAfter, whole_before_and_after

FORMAT = "conserve-proof-2"


def proof(weighing: Weighing, rulebook: Rulebook, whole: BeforeAndAfter | None = None) -> dict[str, Any]:
    """Everything needed to re-derive a weighing's verdict, and the verdict with all that it rests on.

    Numbers stand in one unit a dimension. A fact that is not listed is not known. `whole` is what is left of the
    object, where that has been worked out already.
    """
    before, after = whole or whole_before_and_after(weighing, rulebook.vocabulary)
    used = dict(sorted({f.rule.id: f.rule for p in weighing.parts for f in p.findings.all}.items()))
    asked = frozenset((*_asked(used.values()), *_checked(weighing)))
    roles = rulebook.vocabulary.roles
    terms = (term for name, term in rulebook.vocabulary.terms.items() if name in asked)
    policy = weighing.casebook.object.policy
    return {
        **heading(weighing),
        "format": FORMAT,
        "rulebook": rulebook.digest,
        "casebook_files": dict(sorted(weighing.casebook.digests.items())),
        "rules": {name: told_rule(rule) for name, rule in used.items()},
        "words": {
            word.name: word.otherwise
            for program in rulebook.programs.values()
            for word in program.program.words
            if program.rules
        },
        "terms": {t.name: said(worst=t.worst, stated_by=t.stated_by) for t in terms if t.worst or t.stated_by},
        "policy": {"routine-care": [*policy.routine_care], "holding-work": [*policy.holding_works]} if policy else None,
        "object": {"before": told_whole(before), "after": told_whole(after)},
        "parts": alike(weighing.parts, lambda p: {"given": _given(p, asked, roles), "concluded": _concluded(p)}),
    }


# ---- what is given ------------------------------------------------------------------------------------


def _asked(rules: Iterable[Rule]) -> Iterator[str]:
    for rule in rules:
        yield rule.then.known
        for premise in rule.when:
            yield from (premise.term, *(b.limit for b in premise.test.bounds if isinstance(b.limit, str)))


def _checked(weighing: Weighing) -> Iterator[str]:
    part = weighing.proposal.components[0]
    return (key_of(check.path, part)[1] for need in weighing.proposal.needs for check in need.checks)


def _given(part: PartWeighing, asked: frozenset[str], roles: Mapping[str, bool]) -> dict[str, Any]:
    facts = part.findings.facts
    today = facts.today
    return {
        "subjects": {s.id: {"kind": s.kind, "owners": list(s.owners), "sees": dict(s.sees)} for s in today.subjects},
        "facts": {
            f"{subject} {term}": _fact(fact)
            for (subject, term), fact in sorted(today.facts.items())
            if fact.how is not How.ESTABLISHED and (fact.known or (term in asked and _unknown(fact)))
        },
        "needs": {need.id: _need(need, facts) for need in facts.proposal.needs},
        "options": {one.option.id: _option(one, facts) for one in part.options},
        **_evidence(facts, facts.casebook, roles),
    }


def _fact(fact: Fact) -> dict[str, Any]:
    reports = sorted({stated.report for stated in fact.statements if stated.report})
    return {**told_fact(fact), **said(reports=reports), **_unknown(fact)}


def _unknown(fact: Fact) -> dict[str, Any]:
    """Of a fact that is not known: what it lacks to be worked out, and whether the evidence disagrees."""
    if fact.known:
        return {}
    missing = fact.working.missing if fact.working else ()
    disputed = any(one.how is How.DISPUTED for one in (missing if fact.working else (fact,)))
    return said(missing=sorted({_name(one) for one in missing}), disputed=disputed)


def _name(fact: Fact) -> str:
    return f"{fact.subject} {fact.term}"


def _need(need: Need, facts: Facts) -> dict[str, Any]:
    checks = [{"fact": _key(c.path, facts), "test": told_test(c.test)} for c in need.checks]
    return {"kind": need.kind.value, "at": list(need.at), "checks": checks}


def _key(path: str, facts: Facts) -> str:
    return " ".join(key_of(path, facts.component.id))


def _option(one: OptionWeighing, facts: Facts) -> dict[str, Any]:
    option = one.option
    return {
        "acts": [
            {
                "technique": act.technique,
                "where": act.surface,
                "for": list(act.needs),
                "treats": act.treats,
                "finds": _key(act.finds, facts) if act.finds else "",
            }
            for act in option.acts
        ],
        "after": {
            _key(path, facts): _after(facts.after[option.id, path])
            for name, path in sorted(facts.after)
            if name == option.id
        },
        "answers": _answers(option.answers.items()),
        "rather_than": _answers(option.rather_than.items()),
        "account": told_account(one.account),
    }


def _after(after: Afterwards) -> dict[str, Any]:
    """A fact as an option leaves it; one that no act touches is as it is today."""
    return {"touched": True, "surely": after.surely, **_fact(after.fact)} if after.touched else {"touched": False}


def _answers(answers: Iterable[tuple[str, Said]]) -> dict[str, Any]:
    return {name: {"by": answer.by, "says": answer.says} for name, answer in answers}


def _evidence(facts: Facts, casebook: Casebook, roles: Mapping[str, bool]) -> dict[str, Any]:
    """Registered evidence about the part that answers something, its standing reports, and what the work has met."""
    part = facts.component.id
    met = facts.proposal.work.met if facts.proposal.work else ()
    named_there = {name for one in met for name in one.evidence}
    here = [item for item in casebook.evidence.values() if part in item.about or "object" in item.about]
    return {
        "evidence": {
            item.id: {"kind": item.kind, "answers": list(item.answers)}
            for item in here
            if item.answers or item.id in named_there
        },
        "reports": {
            report.id: {
                "role": report.role,
                "competent": roles.get(report.role, False),
                "states": sorted(report.states),
                "answers": list(report.answers),
            }
            for report in standing_reports(casebook, facts.component, facts.on)
        },
        "met": [{"requirement": one.requirement, "evidence": list(one.evidence)} for one in met],
    }


# ---- what is concluded --------------------------------------------------------------------------------


def _concluded(part: PartWeighing) -> dict[str, Any]:
    rules: dict[str, dict[str, str]] = {}
    for finding in part.findings.all:
        rules.setdefault(finding.rule.id, {})[finding.subject.id] = _state(finding)
    standing: dict[str, dict[str, str]] = {}
    for (rule, subject), settled in standings(part.findings.telling).items():
        standing.setdefault(rule, {})[subject] = _listed(settled[0].value, settled[1])
    return {
        "words": _words(part.findings),
        "rules": rules,
        "standings": standing,
        "options": {one.option.id: _outcome(one) for one in part.options},
        "out_of_use": sorted(outcome.need.id for outcome in part.out_of_use),
    }


def _words(findings: Findings) -> dict[str, list[str]]:
    """The words that rules establish, each with the values that it may have."""
    established = (fact for fact in findings.facts.today.facts.values() if fact.how is How.ESTABLISHED)
    return {_name(fact): sorted(map(str, fact.values or ())) for fact in established}


def _state(finding: Finding) -> str:
    """The state of a rule for a subject: with the premises that are not known, or one that is no."""
    if finding.truth is Truth.NO:
        return f"silent: {next(j.term for j in finding.grounds if j.truth is Truth.NO)}"
    unknown = (j.term for j in finding.grounds if j.truth is Truth.UNKNOWN)
    return "applies" if finding.certain else _listed("open", sorted(unknown))


def _listed(state: str, names: Iterable[str]) -> str:
    told = ", ".join(names)
    return f"{state}: {told}" if told else state


def _outcome(one: OptionWeighing) -> dict[str, Any]:
    return {
        "needs": {n.need.id: _need_outcome(n) for n in one.needs},
        "acts": [{"call": c.call.value, "by": sorted(c.needs)} for c in one.calls],
        "answered": sorted({s.finding.rule.id for s in one.settled if _answered(s)}),
        "requirements": {r.id: {"certain": r.certain, "met": r.met, "left": r.left} for r in one.requirements},
        "questions": {_name(q.fact): list(q.blocks) for q in one.questions},
        "on_its_own": _verdict(one.own.value, one.own_reason),
        "against_gentler": _verdict(one.verdict.value, one.reason),
        "gentler": sorted(one.gentler),
    }


def _answered(settled: Settled) -> bool:
    return settled.answer is not None or bool(settled.report)


def _need_outcome(outcome: NeedOutcome) -> dict[str, Any]:
    return {
        "state": outcome.state.value,
        "shown": outcome.shown.value if outcome.shown else "",
        "asked_of": outcome.asked_of,
        "bears": sorted(outcome.bears),
        "checks": [str(check.judgement.truth) for check in outcome.checks],
    }


def _verdict(verdict: str, reason: Reason) -> dict[str, str]:
    return {"verdict": verdict, "step": reason.step.value, "names": named(reason)}


__all__ = ["FORMAT", "canonical_json", "proof"]
