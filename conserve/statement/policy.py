"""What the object is used for now, what is wanted of it, who may permit that, and what its owner has agreed."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.casebook import Component
from conserve.explanation import capital, full, listed, option_line, plain
from conserve.explanation.words import role_in_words
from conserve.rule import EffectKind
from conserve.statement.alike import alike
from conserve.statement.given import Given, behind, items, proposal_of, prose, record_of, row, rule_named
from conserve.statement.identity import known
from conserve.statement.model import Block, Grid, Prose, Section
from conserve.weighing.model import Settled, Standing, Weighing

_REASONS = {
    "": "Nobody has said whether a reason to run it is written down.",
    "written": "Why it is to run is written down, with what the public gains and who keeps it up.",
    "none": "No reason to run it is written down.",
}


def use(given: Given) -> Section:
    """Its use today and the use that is wanted; who has to allow it."""
    return Section("use", "What it is used for", tuple(_use(given)))


def _use(given: Given) -> Iterator[Block]:
    facts = given.casebook.object.facts
    files = (given.object_file, *behind(facts))
    now, wanted = known(facts, "object.duty_now"), known(facts, "object.duty_wanted")
    yield prose("now", f"Use today: {now}." if now else "Nobody has written how it is used today.", files)
    yield prose(
        "wanted", f"Use that is wanted: {wanted}." if wanted else "Nobody has written what use is wanted of it.", files
    )
    reason = known(facts, "object.reason_to_run")
    yield prose("reason", _REASONS.get(reason, f"Why it is to run, as written: {reason}."), files)
    parts = alike(given.casebook.components.values(), _duties, given.casebook)
    rows = tuple(row(g.id, (g.name, *g.told), g.files) for g in parts if any(g.told))
    if rows:
        told = tuple(row(r.id, (cell or "as the whole" for cell in r.cells), r.made_from) for r in rows)
        yield Grid("parts", "Parts whose use is not that of the whole", ("part", "use today", "use wanted"), told)
    yield from items("who-may-permit", _permits(given))


def _duties(part: Component) -> tuple[str, str]:
    return known(part.facts, "component.duty_now"), known(part.facts, "component.duty_wanted")


def _permits(given: Given) -> Iterator[Prose]:
    """Each competent person whose word a use or an act still waits for."""
    for weighing in given.weighings:
        roles = waiting_for(weighing)
        if weighing.proposal.id in given.superseded or not roles:
            continue
        asked = listed(role_in_words(role) for role in roles)
        says = f"{capital(weighing.proposal.title)}: {asked} must say so before it is used or done."
        rules = [rule_named(s.finding.rule.id) for s in _referring(weighing)]
        yield prose(weighing.proposal.id, says, record_of(weighing), proposal_of(weighing), rules)


def waiting_for(weighing: Weighing) -> tuple[str, ...]:
    """The roles whose conclusion the chosen or preferred option still waits for."""
    option = weighing.worst.option(weighing.chosen)
    referred = (s.finding.rule.then.to for s in _referring(weighing))
    required = (r.role for r in option.requirements if r.role and r.left and not r.met)
    return tuple(dict.fromkeys(role for role in (*referred, *required) if role))


def _referring(weighing: Weighing) -> list[Settled]:
    option = weighing.worst.option(weighing.chosen)
    return [
        s
        for s in option.settled
        if s.finding.rule.then.kind is EffectKind.REFER and s.standing is not Standing.OUT and not s.report
    ]


# ---- policy --------------------------------------------------------------------------------------------


def policy(given: Given) -> Section:
    """What the owner has agreed, in the owner's words."""
    return Section("policy", "What its owner has agreed", tuple(_policy(given)))


def _policy(given: Given) -> Iterator[Block]:
    agreed, file = given.casebook.object.policy, given.object_file
    if agreed is None:
        yield prose("none", "Nobody has written a policy for its care.", file)
    else:
        yield prose("words", full(agreed.says), file)
        for name, what, done in (
            ("routine-care", "Routine care that needs no decision of its own", agreed.routine_care),
            ("holding-works", "Holding works that need no decision of their own", agreed.holding_works),
        ):
            yield prose(name, f"{what}: {listed(plain(one) for one in done) or 'none'}.", file)
        review = (
            f"It is to be looked at again by {agreed.review}." if agreed.review else "No day is set for its review."
        )
        yield prose("review", review, file)
    for overlay in given.rulebook.overlays:
        yield prose(f"overlay-{overlay.name}", f"It asks to be weighed by more: {full(overlay.title)}", file)
    yield from items("care", (_care(given, weighing) for weighing in given.care))


def _care(given: Given, weighing: Weighing) -> Prose:
    told = option_line(weighing.worst, weighing.worst.option(weighing.chosen))
    says = f"{capital(plain(weighing.proposal.kind))}, {weighing.proposal.title}: {weighing.verdict}. {told}"
    return prose(weighing.proposal.id, says, record_of(weighing), proposal_of(weighing), given.part_files(weighing))
