"""How much of it is original, what is later and valued, what is new and how to tell, and where what came off is."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.casebook import Act, Component, Thing
from conserve.casebook.agreeing import word_of
from conserve.casebook.model import Event
from conserve.explanation import capital, full, plain
from conserve.explanation.words import dated
from conserve.statement.alike import alike, all_named
from conserve.statement.balance import balances
from conserve.statement.given import Given, file_of, graded, items, name_of, proposal_of, prose, record_of, row
from conserve.statement.model import Block, Grid, Prose, Row, Section
from conserve.weighing.model import Weighing

_NEW = ("preservation", "new")
_COMES_OFF = {
    "kept-and-tagged": "kept, with a tag",
    "kept": "kept",
    "handed-on": "handed on to another keeper",
    "discarded": "discarded",
    "melted": "melted down",
}


def fabric(given: Given) -> Section:
    """What it is made of, period by period, measure by measure; never one score."""
    return Section("fabric", "What is original, what is later, and what is new", tuple(_fabric(given)))


def _fabric(given: Given) -> Iterator[Block]:
    yield Grid("phases", "When its parts joined it", ("phase", "period", "parts"), tuple(_phases(given)))
    parts = given.casebook.components.values()
    undated = [part for part in parts if part.phase not in given.casebook.object.phases]
    if undated:
        says = f"Nobody has written when these joined it: {all_named(undated, given.casebook)}."
        yield prose("undated", says, *(file_of(part.where) for part in undated))
    yield from balances(given)
    repairs = tuple(_repairs(given))
    if repairs:
        yield Grid("repairs", "Earlier repairs on its parts", ("part", "repair", "period", "soundness"), repairs)
    yield from items("new", _new(given))


def _phases(given: Given) -> Iterator[Row]:
    casebook = given.casebook
    for phase in casebook.object.phases.values():
        parts = [part for part in casebook.components.values() if part.phase == phase.id]
        files = (file_of(part.where) for part in parts)
        told = f"{len(parts)}: {all_named(parts, casebook)}." if parts else "No part is written as of this phase."
        dates = f", {phase.dates}" if phase.dates else ""
        yield row(phase.id, (f"{phase.id}{dates}", plain(phase.period), told), given.object_file, files)


def _repairs(given: Given) -> Iterator[Row]:
    for group in alike(given.casebook.components.values(), lambda part: _told(part.repairs), given.casebook):
        for number, (name, technique, period, sound, says) in enumerate(group.told, 1):
            what = f"{capital(name)} ({technique}).{f' {full(says)}' if says else ''}"
            yield row(f"{group.id}-{number}", (group.name, what, period, sound), group.files)


def _told(repairs: tuple[Thing, ...] | None) -> tuple[tuple[str, str, str, str, str], ...]:
    return tuple(
        (thing.name, *(_word(thing, term) for term in ("technique", "period", "soundness")), thing.says)  # type: ignore[misc]
        for thing in repairs or ()
    )


def _word(thing: Thing, term: str) -> str:
    return plain(word_of(thing.facts, f"repair.{term}")) or "not known"


# ---- what is new ---------------------------------------------------------------------------------------


def _new(given: Given) -> Iterator[Prose]:
    """Each part that joined in preservation or since, and each thing that a decision adds, with how it is told."""
    casebook = given.casebook
    for part in casebook.components.values():
        phase = casebook.object.phases.get(part.phase)
        if phase is not None and phase.period in _NEW:
            note = full(part.note) if part.note else "Nobody has written how it is told from the old."
            says = f"{capital(name_of(part, casebook))} joined in the phase {phase.id}, {phase.dates}. {note}"
            yield prose(f"part-{part.id}", says, file_of(part.where), given.object_file)
    for weighing in given.decided:
        yield from _added(given, weighing)


def _added(given: Given, weighing: Weighing) -> Iterator[Prose]:
    option = weighing.worst.option(weighing.chosen).option
    techniques = given.rulebook.vocabulary.techniques
    parts = [given.casebook.components[name] for name in weighing.proposal.components]
    done = weighing.proposal.work is not None and weighing.proposal.work.finished is not None
    for act in option.acts:
        adds = techniques[act.technique].facts["technique.adds"]
        if adds != "nothing":
            state = f"done, {weighing.proposal.work.finished}" if done and weighing.proposal.work else "not yet done"
            what = f"{capital(all_named(parts, given.casebook))}: {_of(act)}{plain(adds)}, by {plain(act.technique)}"
            form = techniques[act.technique].facts.get("technique.makes_form") == "yes"
            after = f" {_form(act, given)}" if form else ""
            says = f"{what} ({state}). {_told_from_old(act)}{f' {full(act.says)}' if act.says else ''}{after}"
            files = given.part_files(weighing)
            yield prose(f"{weighing.proposal.id}-{act.number}", says, proposal_of(weighing), record_of(weighing), files)


def _form(act: Act, given: Given) -> str:
    shown = graded(given.casebook, act.evidence)
    return f"Its form rests on {shown}." if shown else "No evidence is named for its form."


def _of(act: Act) -> str:
    material = plain(word_of(act.facts, "act.new_material"))
    return f"{material}, " if material else ""


def _told_from_old(act: Act) -> str:
    told = word_of(act.facts, "act.new_work_told_by")
    return f"It is told from the old by: {plain(told)}." if told else "Nobody has written how it is told from the old."


# ---- what came off ---------------------------------------------------------------------------------------


def removed(given: Given) -> Section:
    """Parts that are off the object or gone, and what decisions say of what comes off."""
    return Section("removed", "What was taken off, and where it is", tuple(_removed(given)))


def _removed(given: Given) -> Iterator[Block]:
    casebook = given.casebook
    files = [file_of(part.where) for part in casebook.components.values()]
    stored = [part for part in casebook.components.values() if part.stored is not None]
    missing = [p for p in casebook.components.values() if p.stored is None and _present(p) == "no"]
    yield from items("stored", (_stored(part, given) for part in stored))
    if not stored:
        yield prose("none-stored", "Of no part a place in store is written today.", given.object_file, files)
    off = [part for part in casebook.components.values() if part.stored is None and _off(part)]
    yield from items("off", (_nowhere(part, given) for part in off))
    yield from items("missing", (_missing(part, given) for part in missing))
    unsaid = [p for p in casebook.components.values() if p.stored is None and not _present(p)]
    if unsaid:
        says = f"Nobody has written whether these are there: {all_named(unsaid, casebook)}."
        yield prose("not-said", says, *(file_of(part.where) for part in unsaid))
    yield from items("by-decision", (told for weighing in given.decided for told in _comes_off(given, weighing)))


def _present(part: Component) -> str:
    return word_of(part.facts, "component.present")


def _stored(part: Component, given: Given) -> Prose:
    kept = part.stored
    assert kept is not None
    said = [f"at {kept.place}" if kept.place else "nobody has written where"]
    said += [f"tag {kept.tag}"] if kept.tag else ["with no tag written"]
    said += [f"since {kept.since}"] if kept.since else []
    said += [f"to go back by {kept.return_by}"] if kept.return_by else []
    why = f" {full(kept.why)}" if kept.why else ""
    return prose(part.id, f"{capital(name_of(part, given.casebook))}: {', '.join(said)}.{why}", file_of(part.where))


def _off(part: Component) -> Event | None:
    """The event by which a part came off, if nothing written since has put it back or lost it."""
    moved = [one for one in part.history or () if one.kind in ("taken-off", "put-back", "lost")]
    last = max(moved, key=lambda one: (one.on, one.kind == "put-back"), default=None)
    return last if last and last.kind == "taken-off" and _present(part) != "no" else None


def _nowhere(part: Component, given: Given) -> Prose:
    off = _off(part)
    assert off is not None
    when = dated(off.on, off.year_only)
    name = capital(name_of(part, given.casebook))
    says = f"{name}: off since {when}. Nobody has written where it is, nor that it was put back. {full(off.says)}"
    return prose(part.id, says, file_of(part.where))


def _missing(part: Component, given: Given) -> Prose:
    last = [event for event in part.history or () if event.kind != "examined"]
    told = [f"{dated(event.on, event.year_only)}: {full(event.says)}" for event in last]
    known = " ".join(told) or "Nobody has written when or how it went."
    return prose(part.id, f"{capital(name_of(part, given.casebook))} is not there. {known}", file_of(part.where))


def _comes_off(given: Given, weighing: Weighing) -> Iterator[Prose]:
    option = weighing.worst.option(weighing.chosen).option
    parts = [given.casebook.components[name] for name in weighing.proposal.components]
    for act in option.acts:
        what = word_of(act.facts, "act.removed_parts")
        if what and what != "none-removed":
            off = [f"{dated(e.on, e.year_only)}: {full(e.says)}" for p in parts for e in p.history or ()
                   if e.kind == "taken-off"]  # fmt: skip
            happened = f" {' '.join(dict.fromkeys(off))}" if off else ""
            name = capital(all_named(parts, given.casebook))
            says = f"{name}: what comes off by {plain(act.technique)} is {_COMES_OFF.get(what, plain(what))}.{happened}"
            files = given.part_files(weighing)
            yield prose(f"{weighing.proposal.id}-{act.number}", says, proposal_of(weighing), files)
