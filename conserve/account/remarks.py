"""Where what is written of a part cannot be so, or leaves its balance untold: each with its reason and its place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from conserve.account.before import ADDING, TAKEN_OFF, TAKING
from conserve.account.happening import Happening, Sure, tells
from conserve.account.held import Where, where_now
from conserve.account.metal import mass_of, total
from conserve.account.phases import years_of
from conserve.casebook import Casebook, Component, Proposal
from conserve.casebook.agreeing import word_of
from conserve.casebook.model import Event
from conserve.problem import Location
from conserve.terms import Vocabulary


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing that does not balance, or that keeps a balance from being told."""

    part: str
    says: str
    where: Location


def remarks_on(
    part: Component, casebook: Casebook, vocabulary: Vocabulary, happened: Sequence[Happening]
) -> Iterator[Remark]:
    """All that does not balance about one part."""
    events = [one for one in happened if one.sure is Sure.WRITTEN and one.kind != "made" and not one.joined]
    said = (
        *_phase(part, casebook),
        *_before_it_joined(part, casebook, events),
        *_moves(events),
        *_at_the_end(part, events),
        *_taken_twice(events),
        *_untold(part, events),
        *_added(happened),
        *_made_room(happened),
        *_metal(part, happened),
        *_more_than_there_is(part, vocabulary, happened),
        *_under(part, casebook),
    )
    for says, where in said:
        yield Remark(part.id, says, where)


Said = Iterator[tuple[str, Location]]


def _phase(part: Component, casebook: Casebook) -> Said:
    phase = casebook.object.phases.get(part.phase)
    if phase is None:
        yield "No phase is written, so nobody can say whose fabric it is.", part.where
    elif years_of(phase) is None:
        yield f"Its phase, {part.phase}, has no year in its dates.", part.places.get("phase", part.where)


def _before_it_joined(part: Component, casebook: Casebook, events: Sequence[Happening]) -> Said:
    years = years_of(casebook.object.phases.get(part.phase))
    made = [event.on.year for event in part.history or () if event.kind == "made"]
    first = min(made, default=years.first if years else None)
    for one in events:
        if first is not None and one.dated and one.kind and one.on.year < first:
            yield f"This is dated {one.on.year}, and the part joined in {first}.", one.where
    for event in part.history or ():
        if event.kind == "made" and years and not years.hold(event.on.year):
            yield f"Made in {event.on.year}, which lies outside its phase, {part.phase}.", event.where


def _moves(events: Sequence[Happening]) -> Said:
    """Moves from where the part was not."""
    where = Where.PLACE
    for one in events:
        if one.kind == "put-back" and where is Where.PLACE:
            yield "Put back, and nothing says that it had been taken off.", one.where
        elif one.kind == TAKEN_OFF and where is Where.STORE:
            yield "Taken off, and it had not been put back since it was last taken off.", one.where
        elif where is Where.MISSING and (one.kind == TAKEN_OFF or (one.step and one.step.event.took)):
            yield "This took something from a part that was lost.", one.where
        where = one.to or where


def _at_the_end(part: Component, events: Sequence[Happening]) -> Said:
    """Where the history leaves the part, and where the file says that it is."""
    moves = [one for one in events if one.kind and one.to]
    last = moves[-1] if moves else None
    now = where_now(part)
    if now is Where.NOT_SAID:
        yield "Nobody has written whether it is there.", part.where
    elif last and last.to is Where.STORE and now is Where.PLACE:
        yield "Taken off; nobody has written under 'stored:' where it is, nor that it was put back.", last.where
    elif now is Where.STORE and not any(one.to is Where.STORE and one.dated for one in events):
        yield "In store, and nobody has written since when.", part.places.get("stored", part.where)
    elif last and now is Where.STORE and last.to is not Where.STORE and events[-1].to is not Where.STORE:
        yield f"The last event leaves it {last.to}; the file says that it is in store.", last.where
    elif now is Where.MISSING and not any(one.to is Where.MISSING and one.dated for one in events):
        where = part.places.get("present", part.where)
        yield "Lost, and nobody has written by when: an event of kind 'lost' would say so.", where
    elif last and last.to is Where.MISSING and now is Where.PLACE:
        yield "Lost, by this event; the file says that it is there.", last.where


def _taken_twice(events: Sequence[Happening]) -> Said:
    """Faces and marks that went more than once."""
    gone: dict[tuple[str, str], int] = {}
    for step in (one.step for one in events if one.step):
        for kind, names in (("original surface of the face", step.surfaces), ("mark", step.marks)):
            for name in names or ():
                if (kind, name) in gone:
                    words = name.replace("-", " ")
                    yield (
                        f"The {kind} {words} had gone in {gone[kind, name]} already; it is counted once.",
                        step.event.where,
                    )
                gone.setdefault((kind, name), step.event.on.year)


def _untold(part: Component, events: Sequence[Happening]) -> Said:
    """Events after which a balance cannot be told."""
    for step in (one.step for one in events if one.step):
        lacking = [
            name
            for name, said in (("metal", step.metal), ("surfaces", step.surfaces), ("marks", step.marks))
            if said is None
        ]
        if lacking and (step.event.took or step.event.kind in TAKING):
            yield (
                f"It does not say what it took of: {', '.join(lacking)}. From then on the balance cannot be told.",
                step.event.where,
            )
        if step.added is None:
            yield "It does not say how much it added.", step.event.where
    if part.history is None:
        yield "No history is written, so nobody can say what went.", part.where
    elif part.repairs and not any(one.step for one in events):
        yield "It carries an earlier repair, and no event says what that took and added.", part.where


def _added(happened: Sequence[Happening]) -> Said:
    for one in happened:
        if any(not added.phase for added in one.added):
            yield "It added something, and no phase alone holds its date.", one.where


def _made_room(happened: Sequence[Happening]) -> Said:
    """What stood in the part's place, and had to go from there."""
    stands = False
    for one in happened:
        beside = any(added.beside for added in one.added)
        if stands and (beside or one.to is Where.PLACE):
            yield "What stood in its place made room, and nobody has written where that went.", one.where
        stands = beside or (stands and one.to is not Where.PLACE)


def _metal(part: Component, happened: Sequence[Happening]) -> Said:
    """Metal that cannot have been there, and what the file says of metal that went."""
    steps = [one.step for one in happened if one.step]
    lost = [step for step in steps if step.metal is not None and step.metal.amount]
    before = word_of(part.facts, "component.lost_before")
    where = part.places.get("lost_before", part.where)
    if before == "no" and lost:
        yield "The file says that no metal went before; this event says how much did.", lost[0].event.where
    if before == "yes" and not lost and not any(step.metal is None for step in steps):
        yield "The file says that metal went before, and no event says how much.", where


def _more_than_there_is(part: Component, vocabulary: Vocabulary, happened: Sequence[Happening]) -> Said:
    """More added than the part weighs today, or more cut by what was decided than there is."""
    weight = mass_of(part, vocabulary)
    fills = [one for one in happened if one.step and one.step.added and one.step.added.amount and one.kind != TAKEN_OFF]
    if weight is None:
        return
    left = total((weight, *(one.step.added.times(Decimal(-1)) for one in fills if one.step and one.step.added)), "kg")
    if fills and left is not None and left.amount < 0:
        yield "With this, more was added to the part than it weighs today.", fills[-1].where
    cuts = [one for one in happened if one.effect and one.effect.cut is not None]
    rest = total((left, *(one.effect.cut.times(Decimal(-1)) for one in cuts if one.effect and one.effect.cut)), "kg")
    if cuts and rest is not None and rest.amount < 0:
        yield "With this, more is reckoned to be cut from the part than there is of it.", cuts[-1].where


def _under(part: Component, casebook: Casebook) -> Said:
    """Events under a proposal that does not bear them out, or that do not tell all of its work."""
    gone = casebook.superseded
    for event in part.history or ():
        proposal = casebook.proposal(event.under) if event.under else None
        if proposal is None:
            continue
        if proposal.decision is None:
            yield f"It is under '{event.under}', which nobody has decided.", event.where
        elif part.id not in proposal.components:
            yield f"It is under '{event.under}', which is not about this part.", event.where
        elif proposal.id not in gone and not _finished(proposal) and _tells_of_work(event):
            yield f"The work under '{event.under}' is not finished: what may follow this is not reckoned.", event.where
    told = {event.under for event in part.history or ()}
    for proposal in casebook.proposals:
        superseded = proposal.id in gone and proposal.id not in told and part.id in proposal.components
        if superseded and proposal.decision and _finished(proposal):
            says = f"'{proposal.id}' was superseded, and its work is finished: what it took is told by no event."
            yield says, proposal.where


def _finished(proposal: Proposal) -> bool:
    return proposal.work is not None and proposal.work.finished is not None


def _tells_of_work(event: Event) -> bool:
    return tells(event.took, event.kind in TAKING, False) or tells(event.added, event.kind in ADDING, False)
