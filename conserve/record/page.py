"""The sentences of a record, in the order in which a trustee reads them."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.explanation import (
    capital,
    conclusion,
    full,
    like_parts,
    listed,
    option_line,
    out_of_use,
    value_in_words,
)
from conserve.explanation.arguing import argument, how_far, may_come_to, not_worth_it, what_would_change
from conserve.explanation.sentences import referral_says
from conserve.explanation.words import day_in_words, path_in_words, test_in_words
from conserve.record.after import as_left, evidence, sources, unknown, who, work
from conserve.record.left import left, left_says
from conserve.record.model import Page
from conserve.record.options import MAY_APPLY, fabric, objections, options, requirements, undoing
from conserve.record.part import pictures, tables, there
from conserve.record.workings import cautions, workings
from conserve.rulebook import Rulebook
from conserve.weighing.model import OptionWeighing, PartWeighing, Settled, Standing, Weighing
from conserve.weighing.whole import BeforeAndAfter, whole_before_and_after
from conserve.whatif.inquiry import look_into


def page_of(weighing: Weighing, rulebook: Rulebook, whole: BeforeAndAfter | None = None) -> Page:
    """Put a weighing into the sentences of its record. Like parts are told by the one that fares worst.

    `whole` is what is left of the object, where that has been worked out already.
    """
    part = weighing.worst
    chosen = part.option(weighing.chosen)
    policy = weighing.casebook.object.policy
    whole = whole or whole_before_and_after(weighing, rulebook.vocabulary)
    inquiry = look_into(part, weighing.chosen, rulebook)
    return Page(
        front=_front(weighing, rulebook),
        title=weighing.proposal.title,
        verdict=f"{capital(weighing.verdict)} ({weighing.chosen})",
        answer=option_line(part, chosen),
        conclusion=conclusion(weighing),
        opening=tuple(_opening(weighing, part)),
        hazards=hazards(part),
        asked=_asked(weighing),
        needs=tuple(_needs(weighing)),
        policy=policy.says if policy else "none is written.",
        there=tuple(there(weighing, part)),
        tables=tuple(tables(part.component)),
        pictures=tuple(pictures(weighing, part)),
        options=options(part),
        why_not_less=argument(inquiry.least, part),
        would_change=what_would_change(inquiry, part, rulebook),
        how_far=how_far(inquiry, part),
        fabric=fabric(part),
        left=left(chosen),
        left_says=tuple(left_says(whole, chosen, part, rulebook)),
        undoing=tuple(undoing(chosen, part, rulebook)),
        objections=tuple(objections(chosen, part)),
        requirements=tuple(requirements(chosen, part)),
        workings=workings(chosen, part),
        work=tuple(work(weighing)),
        as_left=as_left(chosen, part),
        evidence=evidence(weighing),
        sources=tuple(sources(chosen, part, rulebook)),
        may_come_to=may_come_to(inquiry, part, rulebook),
        unknown=tuple(unknown(chosen, inquiry, part, rulebook)),
        not_worth_it=not_worth_it(inquiry.idle, part),
        who=tuple(who(weighing, chosen)),
    )


# ---- the head ------------------------------------------------------------------------------------------


def _front(weighing: Weighing, rulebook: Rulebook) -> tuple[tuple[str, str], ...]:
    decision, taker = weighing.proposal.decision, weighing.casebook.superseded.get(weighing.proposal.id)
    return (
        ("record", weighing.proposal.id),
        ("object", weighing.casebook.object.name),
        ("components", ", ".join(weighing.proposal.components)),
        ("verdict", weighing.verdict.value),
        ("option", weighing.chosen),
        ("conclusion", weighing.conclusion.value),
        ("as_at", day_in_words(weighing.on)),
        ("decided_by", decision.by if decision else "nobody yet"),
        ("decided_on", decision.on.isoformat() if decision else "not yet"),
        ("supersedes", weighing.proposal.supersedes or "nothing"),
        *((("superseded_by", taker),) if taker else ()),
        ("rulebook", rulebook.digest),
        ("overlays", ", ".join(overlay.name for overlay in rulebook.overlays) or "none"),
        ("proof", f"{weighing.proposal.id}.json"),
    )


def _opening(weighing: Weighing, part: PartWeighing) -> Iterator[str]:
    decision = weighing.proposal.decision
    if part.out_of_use:
        yield out_of_use(part)
    if taker := weighing.casebook.superseded.get(weighing.proposal.id):
        yield f"'{taker}' has taken its place, and this record stands as it was."
    if decision and not weighing.verdict.stands:
        yield f"It was decided against the verdict, by {decision.by} on {decision.on}: {full(decision.reason)}"
    if len(weighing.parts) > 1:
        yield f"{like_parts(weighing)} What follows tells of {part.component.id}."


def hazards(part: PartWeighing, of: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Every caution, of all options or of those that are named, and of the calculations: before any method."""
    facts = part.findings.facts
    said = [
        f"{MAY_APPLY[s.standing]}{referral_says(s.finding, facts)}"
        for option in part.options
        if not of or option.option.id in of
        for s in option.settled
        if s.finding.rule.principle == "safety" and s.standing is not Standing.OUT and not _looked_into(s, option)
    ]
    return tuple(dict.fromkeys((*said, *cautions(part, of))))


def _looked_into(settled: Settled, option: OptionWeighing) -> bool:
    """Whether a rule only asks that something be known, and it is."""
    then = settled.finding.rule.then
    return bool(then.known) and all(r.id != settled.finding.rule.id for r in option.requirements)


def _asked(weighing: Weighing) -> str:
    proposal = weighing.proposal
    asked = (
        f"Asked by {proposal.asked_by} on {proposal.asked_on}."
        if proposal.asked_on
        else "Nobody has said who asks, or when."
    )
    facts = weighing.worst.findings.facts.today.facts
    prompted = facts.get(("proposal", "proposal.prompted_by"))
    return f"{asked} Prompted by {value_in_words(prompted.values)}." if prompted and prompted.known else asked


def _needs(weighing: Weighing) -> Iterator[str]:
    facts = weighing.worst.findings.facts
    for need in weighing.proposal.needs:
        tests = listed(
            f"{path_in_words(c.path, facts, bool(c.test.bounds))} {test_in_words(c.test)}" for c in need.checks
        )
        at = f" Asked at: {listed(need.at)}." if need.at else ""
        yield f"{capital(need.kind)}: {full(need.says)} Tested by {tests}.{at} Set by: {full(need.set_by)}"
