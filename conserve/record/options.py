"""What was put forward: the options, why not less, what each takes, and what is asked of the chosen one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from conserve.explanation import (
    amount_says,
    capital,
    full,
    listed,
    option_line,
    plain,
    requirement_says,
    rule_says,
    taken,
    value_in_words,
)
from conserve.explanation.sentences import STAGES, act_says, call_says
from conserve.record.model import Item, Objection, StageList, Table
from conserve.rule import EffectKind, Stage
from conserve.rulebook import Rulebook
from conserve.weighing.model import OptionWeighing, PartWeighing, Requirement, Settled, Standing

MAY_APPLY = {Standing.IN: "", Standing.OPEN: "Not known whether this applies: ", Standing.OUT: ""}


def options(part: PartWeighing) -> Table:
    facts = part.findings.facts
    rows = []
    for option in part.options:
        acts = listed(act_says(c, facts) for c in option.calls) or "nothing is done"
        says = f" {full(option.option.says)}" if option.option.says else ""
        rows.append(
            (
                option.option.id,
                f"{capital(acts)}.{says}",
                option.duty or "not known",
                option.verdict.value,
                option_line(part, option),
            )
        )
    return Table("", ("option", "what is done", "use it leaves", "verdict", "because"), tuple(rows))


def fabric(part: PartWeighing) -> Table:
    rows = []
    for option in part.options:
        account = option.account
        kept = "the part itself, in store" if account.kept else ""
        added = listed(f"{plain(a.partition(':')[2])} ({plain(a.partition(':')[0])})" for a in account.added)
        rows.append(
            (
                option.option.id,
                capital(taken(option, part, metal=False)),
                amount_says(account.volume, account.mass),
                kept,
                added or "nothing",
            )
        )
    return Table("", ("option", "lost from its place", "metal taken", "kept in store", "added"), tuple(rows))


_UNDONE = {"readily": "can be undone readily", "with-effort": "can be undone with effort", "never": "cannot be undone"}


def undoing(chosen: OptionWeighing, part: PartWeighing, rulebook: Rulebook) -> Iterator[str]:
    facts = part.findings.facts
    for call in chosen.calls:
        technique = rulebook.vocabulary.techniques[call.act.technique]
        if technique.touches:
            told = facts.today.facts.get((f"act:{chosen.option.id}/{call.act.number}", "act.new_work_told_by"))
            new = f" New work is told from old by: {value_in_words(told.values)}." if told and told.known else ""
            yield f"{capital(act_says(call, facts))}: this {_UNDONE[technique.facts['technique.undone']]}.{new}"
    for call in chosen.calls:
        yield call_says(call, part)


def objections(chosen: OptionWeighing, part: PartWeighing) -> Iterator[Objection]:
    for settled in one_each(chosen.settled):
        if settled.finding.rule.then.kind is EffectKind.AGAINST and settled.standing is not Standing.OUT:
            answer = settled.answer
            said = rule_says(settled.finding, part.findings.facts)
            yield Objection(
                f"{MAY_APPLY[settled.standing]}{said} ({settled.finding.rule.id})",
                f"Answered by {answer.by}: {full(answer.says)}" if answer else "Nobody has answered it.",
            )


def one_each(settled: Iterable[Settled]) -> list[Settled]:
    return list({(s.finding.rule.id, s.standing): s for s in settled}.values())


def requirements(chosen: OptionWeighing, part: PartWeighing) -> Iterator[StageList]:
    for stage in Stage:
        asked = sorted((r for r in chosen.requirements if r.by is stage), key=lambda r: (r.routine, r.id))
        if asked:
            yield StageList(capital(STAGES[stage]), tuple(Item(_requirement(r, part), r.met) for r in asked))


def _requirement(requirement: Requirement, part: PartWeighing) -> str:
    said = requirement_says(requirement, part.findings.facts)
    if requirement.answer is not None:
        return f"{said} {requirement.answer.by}: {full(requirement.answer.says)} ({requirement.id})"
    met = f" Met on {requirement.met_on}" if requirement.met_on else ""
    shown = f", shown by {listed(requirement.evidence)}" if met and requirement.evidence else ""
    routine = "; every such job owes it" if requirement.routine else ""
    return f"{said}{met}{shown}{'.' if met else ''} ({requirement.id}{routine})"
