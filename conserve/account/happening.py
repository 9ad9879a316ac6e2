"""What happened to one part, in order: how it joined, each event, and what this project has decided to do to it.

An event that names the proposal it carried out stands for that proposal's own reckoning, in whatever it tells.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from conserve.account.acts import account_of
from conserve.account.before import ADDING, TAKEN_OFF, TAKING, Step, steps_of
from conserve.account.held import Effect, Where, where_now
from conserve.account.phases import phase_on, years_of
from conserve.casebook import Casebook, Component, Option, Proposal
from conserve.casebook.model import Change, Event
from conserve.problem import Location
from conserve.quantity import EXACT, ONE, Quantity
from conserve.terms import Vocabulary

Amounts = Mapping[str, Quantity | None]  # measure -> how much; None: nobody can tell
ZERO: Amounts = {"parts": Quantity(EXACT, EXACT, ONE), "marks": Quantity(EXACT, EXACT, ONE),
                 "surface": Quantity(EXACT, EXACT, "cm2"), "metal": Quantity(EXACT, EXACT, "kg")}  # fmt: skip
_RANKS = (
    "made",
    "",
    "altered",
    "damaged",
    "repaired",
    "done-against-advice",
    "used",
    "examined",
    TAKEN_OFF,
    "put-back",
)
_PLACED = (TAKEN_OFF, "put-back", "lost")


class Sure(StrEnum):
    """How well what happened is known."""

    WRITTEN = "written"  # in the part's history
    RECKONED = "reckoned"  # from what was decided, for work that is finished
    PLANNED = "planned"  # decided, and not finished


@dataclass(frozen=True, slots=True)
class Added:
    """Fabric that was added to a part, or put in its place; it belongs to the phase in which that was done."""

    phase: str
    amounts: Amounts
    beside: bool  # it stands in the part's place, and does not go with it
    made_room: bool = False  # it stood there, and nobody can say where it went


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened to a part. `on` sets it in order; a day that nobody has written is not `dated`."""

    on: date
    dated: bool
    year_only: bool
    says: str
    where: Location
    sure: Sure = Sure.WRITTEN
    under: str = ""
    joined: bool = False
    kind: str = ""  # of the event
    to: Where | None = None  # where the part goes; None: it stays where it is
    step: Step | None = None
    effect: Effect | None = None
    added: tuple[Added, ...] = ()


def happenings_of(part: Component, casebook: Casebook, vocabulary: Vocabulary) -> tuple[Happening, ...]:
    """Everything that happened to a part or is decided, in order, joining first. Order in the files does not matter."""
    steps = {id(step.event): step for step in steps_of(part, vocabulary) or ()}
    events = sorted(part.history or (), key=_in_order)
    joined = _joining(part, casebook, events)
    found = [_event(event, on, steps.get(id(event)), casebook) for on, event in _in_their_year(events)]
    found += _projected(part, casebook, vocabulary)
    found.sort(key=lambda one: one.on)
    found += _as_the_file_says(part, casebook, found, joined.on)
    return (joined, *sorted(found, key=lambda one: one.on))


def _in_order(event: Event) -> tuple[date, bool, int, str]:
    rank = _RANKS.index(event.kind) if event.kind in _RANKS else len(_RANKS)
    return (event.on, not event.year_only, rank, event.says)


def _in_their_year(events: list[Event]) -> list[tuple[date, Event]]:
    """Each event with the day that sets it in order.

    A return or a loss of which only the year is written comes after what it can only follow in that year.
    """
    found = [(event.on, event.on, event) for event in events]
    off = False
    for at, event in enumerate(events):
        dated = [e for e in events if not e.year_only and e.on.year == event.on.year]
        if event.year_only and event.kind == "lost":
            found[at] = (max((e.on for e in dated), default=event.on), date.max, event)
        elif event.year_only and event.kind == "put-back" and not off:
            found[at] = (min((e.on for e in dated if e.kind == TAKEN_OFF), default=event.on), date.max, event)
        off = event.kind in (TAKEN_OFF, "lost") or (off and event.kind != "put-back")
    return [(on, event) for on, _, event in sorted(found, key=lambda one: one[:2])]


def _joining(part: Component, casebook: Casebook, events: list[Event]) -> Happening:
    """When a part joined: as it was made, by its history, or else with its phase."""
    made = next((event for event in events if event.kind == "made"), None)
    earliest = events[0].on if events else casebook.as_at
    if made:
        return Happening(min(made.on, earliest), True, made.year_only, made.says, made.where, joined=True)
    years = years_of(casebook.object.phases.get(part.phase))
    where = part.places.get("phase", part.where)
    if years is None or years.first is None:
        return Happening(date.min, False, False, "Joined at a date that nobody has written.", where, joined=True)
    day = date(years.first, 1, 1)
    return Happening(min(day, earliest), True, True, "Joined with its phase.", where, joined=True)


def _event(event: Event, on: date, step: Step | None, casebook: Casebook) -> Happening:
    to = {TAKEN_OFF: Where.STORE, "put-back": Where.PLACE, "lost": Where.MISSING}.get(event.kind)
    return Happening(
        on,
        True,
        event.year_only,
        event.says,
        event.where,
        under=event.under,
        kind=event.kind,
        to=to,
        step=step,
        added=_added_by(event, step, casebook),
    )


def _added_by(event: Event, step: Step | None, casebook: Casebook) -> tuple[Added, ...]:
    if step is None or (step.added is not None and not step.added.amount):
        return ()
    return (_added(event.on, step.added, event.kind == TAKEN_OFF, casebook),)


def _added(on: date, metal: Quantity | None, beside: bool, casebook: Casebook) -> Added:
    """A new part in the place of another is one part, with marks and faces that nobody has written yet."""
    new = {"parts": Quantity(EXACT + 1, EXACT, ONE), "marks": None, "surface": None}
    return Added(phase_on(on, casebook.object.phases), {**ZERO, **(new if beside else {}), "metal": metal}, beside)


# ---- what is decided --------------------------------------------------------------------------------


def _projected(part: Component, casebook: Casebook, vocabulary: Vocabulary) -> Iterator[Happening]:
    superseded = casebook.superseded
    for proposal in sorted(casebook.proposals, key=lambda one: one.id):
        decision = proposal.decision
        option = proposal.option(decision.chosen) if decision else None
        if decision and option and part.id in proposal.components and proposal.id not in superseded:
            done = [event for event in part.history or () if event.under == proposal.id]
            found = _projection(part, proposal, option, done, casebook, vocabulary)
            if found.effect or found.added:
                yield found


def _projection(
    part: Component, proposal: Proposal, option: Option, done: list[Event], casebook: Casebook, vocabulary: Vocabulary
) -> Happening:
    """What a decided option takes and adds, but for what an event that carried it out tells.

    It is planned until its work is finished, whatever has been done under it so far.
    """
    assert proposal.decision is not None
    finished = proposal.work.finished if proposal.work else None
    on = finished or max((event.on for event in done), default=proposal.decision.on)
    effect = account_of(option, part, vocabulary).effect
    moved = effect.where is not where_now(part)
    takes = moved or effect.lost or effect.unsure or effect.cut is None or effect.cut.amount
    over = finished is not None
    tells_taken = any(tells(e.took, e.kind in TAKING, over) or (moved and e.kind in _PLACED) for e in done)
    tells_added = any(tells(e.added, e.kind in ADDING, over) for e in done)
    return Happening(
        on,
        True,
        False,
        option.says or f"{proposal.title}: {option.id.replace('-', ' ')}.",
        option.where,
        Sure.RECKONED if over else Sure.PLANNED,
        proposal.id,
        effect=effect if takes and not tells_taken else None,
        to=effect.where if moved and not tells_taken else None,
        added=() if tells_added else tuple(_adds(option, on, casebook, vocabulary)),
    )


def tells(change: Change | None, may: bool, over: bool) -> bool:
    """Whether an event stands for what the work it was under took, or added.

    `may`: its kind takes or adds, unless it says that it did not. Nothing so far is no answer until the work is `over`.
    """
    if change is None:
        return may
    nothing = change.mass is not None and not change.mass.amount and not change.surfaces and not change.marks
    return over or not nothing


def _adds(option: Option, on: date, casebook: Casebook, vocabulary: Vocabulary) -> Iterator[Added]:
    """What an option adds, of a weight that nobody has told. Paint, wax and oil are no fabric of the ledger's."""
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if technique.facts["technique.adds"] not in ("nothing", "coating"):
            beside = technique.takes == "whole-part" or technique.gives.get("component.present") == "yes"
            yield _added(on, None, beside, casebook)


# ---- what the file says of where it is today ---------------------------------------------------------


def _as_the_file_says(part: Component, casebook: Casebook, found: list[Happening], joined: date) -> list[Happening]:
    """Where the file says that a part is, if nothing that happened to it has brought it there."""
    written = [one for one in found if one.to and one.sure is Sure.WRITTEN]
    last, known = (written[-1].to, written[-1].on) if written else (Where.PLACE, joined)
    now = where_now(part)
    if now is last or now is Where.NOT_SAID or (now is Where.PLACE and last is Where.STORE):
        return []
    if part.stored and part.stored.since:
        return [Happening(part.stored.since, True, False, "Put in store.", part.places["stored"], to=now)]
    says = {Where.STORE: "Put in store", Where.MISSING: "Lost", Where.PLACE: "There again"}[now]
    where = part.places.get("stored" if now is Where.STORE else "present", part.where)
    # Between the last thing known and today, nobody can say where it was.
    unknown = Happening(known, False, False, "", where, to=Where.NOT_SAID)
    return [unknown, Happening(casebook.as_at, False, False, f"{says}; nobody has written when.", where, to=now)]
