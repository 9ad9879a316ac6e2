"""Whether the verdict, the referrals and the gates were heeded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from conserve.audit.given import Given, Sealed
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.audit.remaking import Remade
from conserve.audit.timing import began_on
from conserve.casebook import Casebook, Proposal
from conserve.explanation import full, option_line, plain, rule_says
from conserve.explanation.words import dated, role_in_words, the
from conserve.rule import EffectKind
from conserve.truth import Truth
from conserve.weighing.model import ORDER, PartWeighing, Settled, Standing, Verdict, Weighing


def reason_of(weighing: Weighing, option: str) -> str:
    """The one reason of an option's verdict, at the part where it fares worst."""
    part = min(weighing.parts, key=lambda p: ORDER.index(p.option(option).verdict))
    return option_line(part, part.option(option))


def person(name: str, casebook: Casebook) -> str:
    """A person by name and role, where the casebook knows them."""
    known = casebook.object.people.get(name)
    return f"{known.name}, {plain(known.role)}" if known else name


# ---- the verdict -------------------------------------------------------------------------------------------------


def with_verdict(
    asked: Proposal, today: Weighing, sealed: Sealed | None, then: Remade | None, given: Given
) -> tuple[Answer, tuple[Point, ...]]:
    """Whether what was decided stood when it was first sealed; or stands today, where it never was."""
    decision = asked.decision
    if decision is None:
        return Answer(Asked.WITH_VERDICT, None, "Nobody has decided."), ()
    verdict, when = _first_verdict(asked, today, given)
    if verdict.stands:
        says = f"'{decision.chosen}' was decided. Its verdict {when}: {verdict}."
        return Answer(Asked.WITH_VERDICT, Truth.YES, says), ()
    says = (
        f"Against the verdict '{decision.chosen}' was chosen on {decision.on} by "
        f"{person(decision.by, given.casebook).rstrip('.')}. "
        f"Its verdict {when}: {verdict}. {_why(decision.chosen, today, sealed, then)}"
        f"Reason given: {full(decision.reason)}"
    )
    point = Point(Kind.DECIDED_AGAINST, says, asked.id, given.where(decision.where))
    return Answer(Asked.WITH_VERDICT, Truth.NO, says), (point,)


def _first_verdict(asked: Proposal, today: Weighing, given: Given) -> tuple[Verdict, str]:
    """The verdict of what was chosen when it was first sealed, or today's; and when that was."""
    entries = given.of(asked.id)
    if entries and entries[0].what.verdict in ORDER:
        return Verdict(entries[0].what.verdict), f"when it was sealed (entry {entries[0].entry.sequence})"
    return today.verdict, "today"


def _why(chosen: str, today: Weighing, sealed: Sealed | None, then: Remade | None) -> str:
    """The one reason why it did not stand; or that it has stood since it was sealed again."""
    weighing = today if sealed is None else then.weighing if then else None
    if weighing is None or weighing.proposal.option(chosen) is None:
        return ""
    if weighing.verdicts[chosen].stands and sealed:
        return f"In entry {sealed.entry.sequence} it is {weighing.verdicts[chosen]}. "
    return f"{reason_of(weighing, chosen)} "


def today_of(asked: Proposal, today: Weighing, sealed: Sealed | None, given: Given) -> tuple[Answer, tuple[Point, ...]]:
    """Whether what was decided would stand with the facts and the rules of today."""
    if asked.decision is None:
        return Answer(Asked.TODAY, None, "Nobody has decided."), ()
    says = f"Today '{today.chosen}' is {today.verdict}."
    if today.verdict.stands:
        return Answer(Asked.TODAY, Truth.YES, says), ()
    says = f"{says} {reason_of(today, today.chosen)}"
    stood = sealed is not None and sealed.what.verdict in ORDER and Verdict(sealed.what.verdict).stands
    if sealed is None or not stood or asked.id in given.taken_by:
        return Answer(Asked.TODAY, Truth.NO, says), ()
    point = Point(
        Kind.NO_LONGER_STANDS,
        f"When it was sealed, '{sealed.what.chosen}' was {sealed.what.verdict}. {says}",
        asked.id,
        given.where(asked.decision.where),
    )
    return Answer(Asked.TODAY, Truth.NO, says), (point,)


# ---- referrals and gates -----------------------------------------------------------------------------------------


def referral(
    asked: Proposal,
    today: Weighing,
    sealed: Sealed | None,
    then: Remade | None,
    against: Iterable[Point],
    given: Given,
) -> tuple[Answer, tuple[Point, ...]]:
    """Whether anything was done while a competent person was still to be asked, or law or safety forbade it.

    `against` is what was done under it against advice.
    """
    points = list(against)
    done = _done(asked, given)
    as_sealed = then.weighing if then else None
    same_rules = sealed is None or sealed.what.rulebook == given.rulebook.digest
    weighings = [one for one in (as_sealed, today if same_rules or as_sealed is None else None) if one]
    on = done[0] if done else given.day
    stops = list(dict.fromkeys(said for weighing in weighings for said in _stops(weighing, on, given.casebook)))
    if stops and done:
        head = f"Work was begun on {on} all the same."
        points += [Point(Kind.AGAINST_REFERRAL, f"{said} {head}", asked.id, done[1]) for said in stops]
    if points:
        return Answer(Asked.REFERRAL, Truth.NO, " ".join(one.says for one in points)), tuple(points)
    if stops:
        return Answer(Asked.REFERRAL, Truth.YES, f"Nothing has been done. {' '.join(stops)}"), ()
    return Answer(Asked.REFERRAL, None, "Nobody has still to be asked, and no gate of law or safety forbids it."), ()


def against_advice(given: Given) -> tuple[Point, ...]:
    """Everything that a part's history says was done against advice, under a proposal or none."""
    return tuple(
        Point(
            Kind.AGAINST_REFERRAL,
            f"Done against advice, {dated(event.on, event.year_only)}, {part.name}: {full(event.says)}",
            event.under,
            given.where(event.where),
        )
        for part in given.casebook.components.values()
        for event in part.history or ()
        if event.kind == "done-against-advice"
    )


def _stops(weighing: Weighing, on: date, casebook: Casebook) -> Iterator[str]:
    """What stands against the chosen option and is no matter of opinion: a referral, a gate of law or safety."""
    for part in weighing.parts:
        name = the(part.component.name)
        for settled in part.option(weighing.chosen).settled:
            if settled.standing is not Standing.IN:
                continue
            then, rule = settled.finding.rule.then, settled.finding.rule.id
            said = rule_says(settled.finding, part.findings.facts)
            if then.kind is EffectKind.REFER and not _reported(settled, part, on, casebook):
                yield f"{role_in_words(then.to).capitalize()} was to answer for {name} first: {said} ({rule})"
            if then.kind is EffectKind.FORBID and then.gate:
                yield f"A gate of law or safety forbids it for {name}: {said} ({rule})"


def _reported(settled: Settled, part: PartWeighing, on: date, casebook: Casebook) -> bool:
    """Whether a report had answered a referral when work began: after the work it no longer stands."""
    return any(
        item.role == settled.finding.rule.then.to
        and settled.finding.rule.id in item.answers
        and bool(item.states)
        and part.component.id in item.about
        and item.on <= on
        and (item.lapses is None or item.lapses >= on)
        for item in casebook.evidence.values()
    )


def _done(asked: Proposal, given: Given) -> tuple[date, str] | None:
    """The first day on which something was done under it, and where that is written."""
    began = began_on(asked, given)
    events = (
        (event.on, given.where(event.where))
        for name in asked.components
        for event in given.casebook.components[name].history or ()
        if event.under == asked.id and event.kind != "examined"
    )
    return min((*events, *((began,) if began else ())), default=None)
