"""Every decision beside the rules that bind it, the sources of those, and the evidence: with its gaps in words."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.explanation import capital, full, listed
from conserve.explanation.sentences import need_says, requirement_says, rule_says
from conserve.rule import COMMON_PRACTICE, EffectKind
from conserve.statement.alike import all_named
from conserve.statement.given import (
    Given,
    file_of,
    graded,
    items,
    person,
    proposal_of,
    prose,
    record_of,
    row,
    rule_named,
)
from conserve.statement.model import Block, Grid, Prose, Row, Section
from conserve.weighing.model import NeedState, OptionWeighing, Requirement, Settled, Standing, Weighing

NO_EVIDENCE = "No evidence is registered."
_UNANSWERED = "Nobody has answered."
_BINDS = {EffectKind.FORBID: "Forbids", EffectKind.REFER: "Refers", EffectKind.AGAINST: "Objects"}
_HEAD = ("rule", "what it says", "source", "answer and evidence")


def matrix(given: Given) -> Section:
    """A table for each proposal, the decided first: a row for each rule that binds what is chosen or put forward."""
    return Section("matrix", "Decisions, rules, sources and evidence", tuple(_matrix(given)))


def _matrix(given: Given) -> Iterator[Block]:
    if not given.weighings:
        yield prose("none", "Nothing has been put forward, so that no rule binds anything yet.", given.object_file)
        return
    yield prose("left-out", "Rules that only list what every such job owes are left out; the records have them.")
    free: list[Prose] = []
    for weighing in sorted(given.weighings, key=lambda one: one.proposal.decision is None):
        rows = tuple(_rows(given, weighing))
        if rows:
            yield Grid(f"of-{weighing.proposal.id}", _lead(given, weighing), _HEAD, rows)
        else:
            free.append(prose(weighing.proposal.id, _lead(given, weighing), *_basis(given, weighing)))
    if free:
        says = "No rule stands against these, and they are asked only what every such job owes:"
        yield prose("not-bound", says, *(one.made_from for one in free))
    yield from items("free", free)


def _basis(given: Given, weighing: Weighing) -> tuple[str, ...]:
    return (record_of(weighing), proposal_of(weighing), *given.part_files(weighing), given.object_file)


def _rows(given: Given, weighing: Weighing) -> Iterator[Row]:
    option = weighing.worst.option(weighing.chosen)
    found = (*_findings(given, weighing, option), *_requirements(given, weighing, option), *_needs(weighing, option))
    for name, told, from_ in found:
        yield row(name.replace("/", "-"), (name, *told), *_basis(given, weighing), from_)


_Found = tuple[str, tuple[str, str, str], tuple[str, ...]]  # what binds; its cells; what else it was made from


def _lead(given: Given, weighing: Weighing) -> str:
    parts = all_named((given.casebook.components[name] for name in weighing.proposal.components), given.casebook)
    return f"{capital(parts)}. {full(weighing.proposal.title)} {_decision(given, weighing)}"


def _decision(given: Given, weighing: Weighing) -> str:
    name = weighing.proposal.id
    if name in given.superseded:
        return f"'{name}' is superseded by '{given.superseded[name]}'."
    if weighing.proposal.decision:
        return f"Decided: '{weighing.chosen}'."
    if weighing.proposal.kind != "intervention":
        return f"Care under the owner's policy: '{name}'."
    said = "put forward" if weighing.proposal.preferred else "weighed"
    return f"Nobody has decided; {said}: '{weighing.chosen}'."


def _source(given: Given, settled: Settled) -> str:
    cited = (
        "common practice, no published source"
        if clause.source == COMMON_PRACTICE
        else f"{given.rulebook.sources[clause.source].title}, {clause.clause}"
        for clause in settled.finding.rule.sources
    )
    return full("; ".join(cited))


def _findings(given: Given, weighing: Weighing, option: OptionWeighing) -> Iterator[_Found]:
    """Rules that forbid, refer or object: each once, the certain before the open."""
    facts = weighing.worst.findings.facts
    seen: set[str] = set()
    for settled in sorted(option.settled, key=lambda s: (s.finding.rule.id, s.standing is not Standing.IN)):
        rule = settled.finding.rule
        if rule.then.kind not in _BINDS or settled.standing is Standing.OUT or rule.id in seen:
            continue
        seen.add(rule.id)
        whether = "" if settled.standing is Standing.IN else " (not known whether it applies)"
        says = f"{_BINDS[rule.then.kind]}{whether}: {rule_says(settled.finding, facts)}"
        shown = _shown(given, settled)
        yield rule.id, (says, _source(given, settled), shown), (rule_named(rule.id), *_register(given, shown))


def _shown(given: Given, settled: Settled) -> str:
    """What answers a rule, or what its premises rest on."""
    if settled.finding.rule.then.kind is EffectKind.AGAINST:
        said = settled.answer
        return f"Answered by {person(given.casebook, said.by)}: {full(said.says)}" if said else _UNANSWERED
    if settled.finding.rule.then.kind is EffectKind.REFER:
        return f"Answered by the report {graded(given.casebook, (settled.report,))}." if settled.report else _UNANSWERED
    stated = [s for judgement in settled.finding.grounds for s in judgement.fact.statements]
    names = dict.fromkeys(name for s in stated for name in (*s.evidence, s.report) if name)
    files = listed(dict.fromkeys(f"{file_of(s.where)}" for s in stated))
    if names:
        return f"It rests on {graded(given.casebook, names)}."
    return f"{NO_EVIDENCE}{f' It rests on {files}.' if files else ''}"


def _register(given: Given, shown: str) -> tuple[str, ...]:
    return tuple({file_of(item.where) for item in given.casebook.evidence.values() if item.id in shown})


def _requirements(given: Given, weighing: Weighing, option: OptionWeighing) -> Iterator[_Found]:
    facts = weighing.worst.findings.facts
    for requirement in sorted(option.requirements, key=lambda r: r.id):
        if requirement.routine:
            continue
        says = f"Requires: {requirement_says(requirement, facts)}"
        shown = _met(given, requirement)
        source = _of_rule(given, option, requirement)
        rule = (rule_named(requirement.id),) if requirement.finding else ()
        yield requirement.id, (says, source, shown), (*rule, *_register(given, shown))


def _of_rule(given: Given, option: OptionWeighing, requirement: Requirement) -> str:
    found = (s for s in option.settled if s.finding is requirement.finding)
    settled = next(found, None)
    return _source(given, settled) if settled else "The need itself, as the proposal has it."


def _met(given: Given, requirement: Requirement) -> str:
    if requirement.answer is not None:
        return f"Answered by {person(given.casebook, requirement.answer.by)}: {full(requirement.answer.says)}"
    if requirement.met:
        names = graded(given.casebook, requirement.evidence)
        by = f", shown by {names}" if names else f". {NO_EVIDENCE}"
        return full(f"Met{f' on {requirement.met_on}' if requirement.met_on else ''}{by}")
    return f"Not met yet. {NO_EVIDENCE}"


def _needs(weighing: Weighing, option: OptionWeighing) -> Iterator[_Found]:
    """Needs that the option certainly does not meet, or leaves in doubt."""
    facts = weighing.worst.findings.facts
    for outcome in option.needs:
        if outcome.state in (NeedState.FAILED, NeedState.IN_DOUBT):
            says = f"the need '{outcome.need.says.rstrip('.')}': {need_says(outcome, facts)}"
            told = (capital(says), f"Set by: {full(outcome.need.set_by)}", NO_EVIDENCE)
            yield f"need-{outcome.need.id}", told, ()
