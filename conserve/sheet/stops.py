"""What stops the work: that it is not decided, that it does not stand, that it must not be done or used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from conserve.explanation import full, listed, option_line, out_of_use, rule_says
from conserve.explanation.words import lowered
from conserve.record.options import MAY_APPLY
from conserve.record.page import hazards
from conserve.rule import EffectKind, Stage
from conserve.sheet.model import Line
from conserve.sheet.people import named
from conserve.sheet.together import of_each
from conserve.weighing.model import PartWeighing, Standing, Verdict, Weighing


def superseded_by(weighing: Weighing) -> str:
    """The decided proposal that has taken this one's place; "" where none has."""
    return weighing.casebook.superseded.get(weighing.proposal.id, "")


def stops(weighing: Weighing) -> Iterator[str]:
    """Why the work is not to be started, or is to go no further."""
    proposal, part = weighing.proposal, weighing.worst
    head = _head(weighing)
    taker = superseded_by(weighing)
    if taker:
        yield f"{head}: '{taker}' has taken its place."
    if not weighing.verdict.stands:
        reason = of_each(option_line(part, part.option(weighing.chosen)), part, len(weighing.parts) > 1)
        yield f"{head}: {_VERDICTS[weighing.verdict]}. {reason}"
        if proposal.decision:
            by = named(proposal.decision.by, weighing.casebook)
            yield f"It was decided all the same, on {proposal.decision.on} by {by}: {full(proposal.decision.reason)}"
    if proposal.decision is None and proposal.kind == "intervention":
        preferred = f" '{weighing.chosen}' is only preferred." if proposal.preferred else ""
        yield f"{head}: nobody has decided.{preferred}"


_VERDICTS = {
    Verdict.NOT_JUSTIFIED: "it is not justified",
    Verdict.REFER: "a competent person is to be asked first",
    Verdict.NOT_YET_SHOWN: "it is not yet shown to be justified",
}


def passed_unsigned(weighing: Weighing, lines: Iterable[Line]) -> Iterator[str]:
    """That the work went past what it is held for before the work, and nobody has signed that."""
    work = weighing.proposal.work
    if work is None or not (work.began or work.finished):
        return
    owed = [one for one in lines if one.hold and one.done is None and one.stage in _BEFORE]
    if owed:
        told = listed(f"'{(one.short or one.says).rstrip('.')}'" for one in owed)
        when = f"the work began on {work.began}" if work.began else "the work is finished"
        yield f"Held for and not signed, though {when}: {told}. Settle it before anyone goes on."


_BEFORE = (Stage.DECISION, Stage.BEFORE_WORK)


def _head(weighing: Weighing) -> str:
    work = weighing.proposal.work
    if work and work.finished:
        return "Go no further"
    if work and work.began:
        return "Stop the work, and leave it safe"
    option = weighing.worst.option(weighing.chosen).option
    return "Not to be started" if option.acts or option.says else "Nothing is to be started"


def not_to_do(weighing: Weighing) -> tuple[str, ...]:
    """What the part is not to be used for, and what is not to be done to it."""
    return _once(weighing, (said for part in weighing.parts for said in _not_to_do(weighing, part)))


def _not_to_do(weighing: Weighing, part: PartWeighing) -> Iterator[str]:
    chosen, many = part.option(weighing.chosen), len(weighing.parts) > 1
    if part.out_of_use:
        yield of_each(out_of_use(part), part, many)
    needs = {need.id: need.says.rstrip(".") for need in weighing.proposal.needs}
    for name in chosen.gives_up:
        yield f"Not to be used where this is asked, which '{weighing.chosen}' gives up: '{needs[name]}'."
    for settled in chosen.settled:
        rule = settled.finding.rule
        if rule.then.kind is EffectKind.FORBID and settled.standing is not Standing.OUT:
            said = rule_says(settled.finding, part.findings.facts)
            may = settled.standing is Standing.OPEN
            yield of_each(f"Find out whether this holds: {lowered(said)}" if may else said, part, many)


def cautions(weighing: Weighing) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What can hurt somebody under the option that is chosen: what holds, and what may."""
    may = MAY_APPLY[Standing.OPEN]
    said = [
        of_each(one, part, len(weighing.parts) > 1)
        for part in weighing.parts
        for one in hazards(part, (weighing.chosen,))
    ]
    holds = (one for one in said if not one.startswith(may))
    opens = (one.removeprefix(may) for one in said if one.startswith(may))
    return tuple(dict.fromkeys(holds)), tuple(dict.fromkeys(opens))


def _once(weighing: Weighing, said: Iterable[str]) -> tuple[str, ...]:
    """Each sentence once, and none that the reason of the verdict has told already."""
    told = list(stops(weighing))
    return tuple(one for one in dict.fromkeys(said) if not any(one in stop for stop in told))
