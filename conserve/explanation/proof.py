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
from conserve.weighing.model import NeedOutcome, OptionWeighing, PartWeighing, Reason, Settled, Shown, Weighing
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
        "terms": {t.name: {"worst": t.worst, "stated_by": t.stated_by} for t in terms if t.worst or t.stated_by},
        "duties": list(rulebook.vocabulary.duties),
        "policy": {"routine-care": [*policy.routine_care], "holding-work": [*policy.holding_works]} if policy else None,
        "object": {"before": told_whole(before), "after": told_whole(after)},
        "parts": alike(weighing.parts, lambda p: {"given": _given(p, roles), "concluded": _concluded(p)}),
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


def _given(part: PartWeighing, roles: Mapping[str, bool]) -> dict[str, Any]:
    facts = part.findings.facts
    today = facts.today
    return {
        "subjects": {s.id: {"kind": s.kind, "owners": list(s.owners), "sees": dict(s.sees)} for s in today.subjects},
        "facts": {
            _name(fact): _fact(fact)
            for _, fact in sorted(today.facts.items())
            if fact.how is not How.ESTABLISHED and (fact.known or _disputed(fact))
        },
        "needs": {need.id: _need(need, facts) for need in facts.proposal.needs},
        "options": {one.option.id: _option(one, facts) for one in part.options},
        **_evidence(facts, facts.casebook, roles),
    }


def _fact(fact: Fact) -> dict[str, Any]:
    if fact.how is How.REPORTED:
        return {**told_fact(fact), "reports": sorted({stated.report for stated in fact.statements if stated.report})}
    return {**told_fact(fact), "how": How.DISPUTED.value} if _disputed(fact) else told_fact(fact)


def _disputed(fact: Fact) -> bool:
    """Whether a fact is not known because the evidence disagrees, for it or for what it would be worked out from."""
    below = fact.working.missing if fact.working else (fact,)
    return not fact.known and any(one.how is How.DISPUTED for one in below)


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


def _after(after: Afterwards) -> dict[str, Any] | None:
    """A fact as an option leaves it, and whether its acts surely touch it; none where no act does."""
    return {"surely": after.surely, **_fact(after.fact)} if after.touched else None


def _answers(answers: Iterable[tuple[str, Said]]) -> dict[str, Any]:
    return {name: {"by": answer.by, "says": answer.says} for name, answer in answers}


def _evidence(facts: Facts, casebook: Casebook, roles: Mapping[str, bool]) -> dict[str, Any]:
    """Registered evidence about the part that answers something, and its standing reports."""
    part = facts.component.id
    here = [item for item in casebook.evidence.values() if part in item.about or "object" in item.about]
    return {
        "evidence": {item.id: {"kind": item.kind, "answers": list(item.answers)} for item in here if item.answers},
        "reports": {
            report.id: {
                "role": report.role,
                "competent": roles.get(report.role, False),
                "states": sorted(report.states),
                "answers": list(report.answers),
            }
            for report in standing_reports(casebook, facts.component, facts.on)
        },
    }


# ---- what is concluded --------------------------------------------------------------------------------


def _concluded(part: PartWeighing) -> dict[str, Any]:
    rules: dict[str, dict[str, str]] = {}
    for finding in part.findings.all:
        rules.setdefault(finding.rule.id, {})[finding.subject.id] = _state(finding)
    standing: dict[str, dict[str, str]] = {}
    for (rule, subject), (stands, _) in standings(part.findings.telling).items():
        standing.setdefault(rule, {})[subject] = stands.value
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
    return {Truth.YES: "applies", Truth.UNKNOWN: "open", Truth.NO: "silent"}[finding.truth]


def _outcome(one: OptionWeighing) -> dict[str, Any]:
    return {
        "needs": {outcome.need.id: _need_outcome(outcome) for outcome in one.needs},
        "acts": [call.call.value for call in one.calls],
        "answered": sorted({s.finding.rule.id for s in one.settled if _answered(s)}),
        "requirements": {
            r.id: "done" if not r.left else "routine" if r.routine else r.by.value for r in one.requirements
        },
        "on_its_own": _verdict(one.own.value, one.own_reason),
        "against_gentler": _verdict(one.verdict.value, one.reason),
        "gentler": sorted(one.gentler),
    }


def _answered(settled: Settled) -> bool:
    return settled.answer is not None or bool(settled.report)


def _need_outcome(outcome: NeedOutcome) -> str:
    """How an option leaves a need; of one that is met, also what is still owed for it."""
    if outcome.asked_of:
        return f"{outcome.state}, to be concluded by {outcome.asked_of}"
    return f"{outcome.state}, to be shown" if outcome.shown in (Shown.CLAIMED, Shown.PROMISED) else outcome.state.value


def _verdict(verdict: str, reason: Reason) -> dict[str, str]:
    return {"verdict": verdict, "step": reason.step.value, "names": named(reason)}


__all__ = ["FORMAT", "canonical_json", "proof"]
