"""Why it is so, or why not: a line, a paragraph, or the whole tree."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.explanation.data import as_json
from conserve.explanation.sentences import (
    STAGES,
    call_says,
    grounds,
    instead,
    lost_says,
    need_says,
    question_says,
    reason_says,
    requirement_says,
    rule_says,
    sources,
)
from conserve.explanation.words import (
    capital,
    day_in_words,
    full,
    listed,
    plain,
    quantity_in_words,
    subject_name,
    the,
    value_in_words,
)
from conserve.quantity import Quantity
from conserve.rule import EffectKind
from conserve.rulebook import Rulebook
from conserve.terms import Vocabulary
from conserve.truth import Truth
from conserve.weighing.model import (
    ORDER,
    Conclusion,
    NeedState,
    OptionWeighing,
    PartWeighing,
    Settled,
    Standing,
    Verdict,
    Weighing,
)


def line(weighing: Weighing) -> str:
    """The answer in one sentence."""
    part = weighing.worst
    option = part.option(weighing.chosen)
    return f"{weighing.proposal.title}: {weighing.verdict} ('{weighing.chosen}'). {reason_says(option, part)}"


def option_line(part: PartWeighing, option: OptionWeighing) -> str:
    """An option's one reason, and the needs it gives up."""
    needs = {need.id: need.says.rstrip(".") for need in part.findings.facts.proposal.needs}
    up = f" It gives up: {listed(needs[n] for n in option.gives_up)}." if option.gives_up else ""
    return reason_says(option, part) + up


def conclusion(weighing: Weighing) -> str:
    """What the proposal comes to, and what stands meanwhile."""
    part = weighing.worst
    standing = [f"'{name}'" for name, verdict in weighing.verdicts.items() if verdict.stands]
    if weighing.conclusion is Conclusion.DECIDED:
        whole = [f"'{o}'" for o, v in weighing.verdicts.items() if v.stands and not _gives_up(weighing, o)]
        return (
            f"An option that gives nothing up stands: {listed(whole)}." if whole else "Each part has one that stands."
        )
    meanwhile = f" Meanwhile {listed(standing)} {'stands' if len(standing) == 1 else 'stand'}." if standing else ""
    if weighing.conclusion is Conclusion.WAITING:
        waiting = [f"'{o.option.id}'" for o in part.options if o.verdict in (Verdict.REFER, Verdict.NOT_YET_SHOWN)]
        return f"It cannot be decided until more is known of {listed(waiting)}.{meanwhile}"
    near = nearest(part)
    tried = list(
        dict.fromkeys(
            filter(None, (instead(s.finding, part.findings.facts) for s in _counting(near, EffectKind.FORBID)))
        )
    )
    also = f" Practice would also try: {' '.join(tried)}" if tried else ""
    return f"Nothing put forward will do.{meanwhile} Nearest is '{near.option.id}': {reason_says(near, part)}{also}"


def _gives_up(weighing: Weighing, option: str) -> bool:
    """Whether an option gives a need up for any of the parts."""
    return any(part.option(option).gives_up for part in weighing.parts)


def nearest(part: PartWeighing) -> OptionWeighing:
    """The option that lacks least: the fewest things certainly against it."""

    def lacks(option: OptionWeighing) -> tuple[int, int, int]:
        against = len(_counting(option, EffectKind.FORBID))
        needs = sum(n.state in (NeedState.FAILED, NeedState.IN_DOUBT) for n in option.needs)
        calls = sum(c.call == "not called for" for c in option.calls)
        return against + needs + calls, -ORDER.index(option.own), not option.option.acts

    return min(part.options, key=lacks)


def _counting(option: OptionWeighing, kind: EffectKind) -> list[Settled]:
    return [s for s in option.settled if s.finding.rule.then.kind is kind and s.standing is Standing.IN]


def paragraph(weighing: Weighing) -> str:
    """The answer, what it comes to, and each other option in a sentence."""
    part = weighing.worst
    said = [line(weighing), conclusion(weighing)]
    if part.out_of_use:
        said.append(out_of_use(part))
    if len(weighing.parts) > 1:
        said.append(like_parts(weighing))
    said += [
        f"'{o.option.id}' is {o.verdict}: {option_line(part, o)}"
        for o in part.options
        if o.option.id != weighing.chosen
    ]
    return " ".join(said)


def out_of_use(part: PartWeighing) -> str:
    """The warning that opens a record where today's use is not shown to be met."""
    needs = listed(f"'{o.need.says.rstrip('.')}'" for o in part.out_of_use)
    return f"{capital(the(part.component.name))} stays out of that use until this is settled: {needs}."


def like_parts(weighing: Weighing) -> str:
    """How parts that are alike fare, with the exceptions by name."""
    names = [p.component.id for p in weighing.exceptions]
    alike = len(weighing.parts) - len(names)
    if not names:
        return f"All {len(weighing.parts)} parts fare alike."
    each = (f"{p.component.id} ({p.option(weighing.chosen).verdict})" for p in weighing.exceptions)
    return f"{alike} of {len(weighing.parts)} parts fare alike; the others are {listed(each)}."


def questions(part: PartWeighing, option: OptionWeighing, rulebook: Rulebook) -> tuple[str, ...]:
    """What is unknown and keeps an option from being shown, the most decisive first. None where nothing is open."""
    if option.verdict is not Verdict.NOT_YET_SHOWN:
        return ()
    told = [question_says(question, part.findings.facts, rulebook.vocabulary) for question in option.questions]
    return tuple(dict.fromkeys((*told, *option.account.untold)))


# ---- the whole tree -------------------------------------------------------------------------------------


def tree(weighing: Weighing, rulebook: Rulebook, option: str | None = None, component: str | None = None) -> str:
    """Everything that made the verdict: needs, acts, findings with grounds, requirements, questions."""
    part = next((p for p in weighing.parts if p.component.id == component), weighing.worst)
    options = [o for o in part.options if option in (None, o.option.id)]
    head = [line(weighing), conclusion(weighing)] if option is None else []
    return "\n".join([*head, *(text for o in options for text in _option_tree(o, part, rulebook.vocabulary))])


def _option_tree(option: OptionWeighing, part: PartWeighing, vocabulary: Vocabulary) -> Iterator[str]:
    facts = part.findings.facts
    yield f"\n{option.option.id}: {option.verdict}"
    yield f"  {option_line(part, option)}"
    for outcome in option.needs:
        yield f"  need  {full(outcome.need.says)} {need_says(outcome, facts)}"
    for call in option.calls:
        yield f"  act   {call_says(call, part)}"
    for settled in option.settled:
        if settled.finding.rule.then.kind in (EffectKind.FORBID, EffectKind.REFER, EffectKind.AGAINST, EffectKind.NOTE):
            yield from _finding_tree(settled, part)
    for requirement in option.requirements:
        if not requirement.routine:
            tick = f"[{'x' if requirement.met else ' '}]  "
            stage = capital(STAGES[requirement.by])
            yield f"  {tick} {stage}: {requirement_says(requirement, facts)} ({requirement.id})"
    for asked in dict.fromkeys(question_says(question, facts, vocabulary) for question in option.questions):
        yield f"  ask   {asked}"
    yield f"  takes {taken(option, part)}"
    for name in option.gentler:
        yield f"  '{name}' loses less: {option_line(part, part.option(name))}"


_WORDS = {
    (EffectKind.FORBID, Standing.IN): "forbids",
    (EffectKind.REFER, Standing.IN): "refers",
    (EffectKind.AGAINST, Standing.IN): "objects",
    (EffectKind.NOTE, Standing.IN): "notes",
}


def _finding_tree(settled: Settled, part: PartWeighing) -> Iterator[str]:
    facts, finding = part.findings.facts, settled.finding
    how = _WORDS.get(
        (finding.rule.then.kind, settled.standing), "may apply" if settled.standing is Standing.OPEN else "set aside"
    )
    yield f"  rule  {how}: {rule_says(finding, facts)} ({sources(finding)})"
    yield from (f"          {ground}" for ground in grounds(finding, facts))
    if settled.overridden_by:
        word = "set aside by" if settled.standing is Standing.OUT else "may be set aside by"
        yield f"          {capital(word)} {listed(settled.overridden_by)}."
    if settled.answer is not None:
        yield f"          Answered by {settled.answer.by}: {settled.answer.says}"
    if settled.report:
        yield f"          Answered by the report {settled.report}."


def taken(option: OptionWeighing, part: PartWeighing, metal: bool = True) -> str:
    """What an option takes, in words and numbers; nothing is said to be nothing only where it is known."""
    account = option.account
    things = list(lost_says(option, part.findings.facts))
    untold = f" Not told: {' '.join(account.untold)}" if account.untold else ""
    nothing = account.volume is not None and account.volume.amount == 0
    if metal and not nothing:
        things.append(amount_says(account.volume, account.mass))
    return f"{listed(things) or 'nothing'}.{untold}"


def amount_says(volume: Quantity | None, mass: Quantity | None) -> str:
    """An amount of metal in words."""
    if volume is None and mass is None:
        return "an amount of metal that nobody can tell yet"
    if volume is not None and volume.amount == 0:
        return "no metal"
    told = [quantity_in_words(volume.in_unit("cm3"))] if volume is not None else []
    told += [quantity_in_words(mass)] if mass is not None else []
    return f"{' or '.join(told)} of metal"


def why_rule(weighing: Weighing, rule: str) -> str:
    """Why a rule applies, is open, or is silent, for each subject it could be about."""
    said: list[str] = []
    for part in weighing.parts if len(weighing.parts) < 3 else (weighing.worst,):
        facts = part.findings.facts
        for finding in (f for f in part.findings.all if f.rule.id == rule):
            word = {Truth.YES: "applies to", Truth.UNKNOWN: "may apply to", Truth.NO: "does not apply to"}[
                finding.truth
            ]
            said.append(f"{rule} {word} {subject_name(facts, finding.subject.id)}.")
            shown = finding.grounds[-1:] if finding.truth is Truth.NO else finding.grounds
            said += [f"  {ground}" for ground in grounds(finding, facts)[-len(shown) or None :]]
    return "\n".join(said) or f"{rule} is about nothing that this proposal has."


__all__ = [
    "amount_says",
    "as_json",
    "capital",
    "conclusion",
    "day_in_words",
    "full",
    "like_parts",
    "line",
    "listed",
    "nearest",
    "option_line",
    "out_of_use",
    "paragraph",
    "plain",
    "question_says",
    "questions",
    "reason_says",
    "requirement_says",
    "rule_says",
    "taken",
    "the",
    "tree",
    "value_in_words",
    "why_rule",
]
