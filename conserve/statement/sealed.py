"""What was sealed, and what others say of what was decided."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.explanation import capital, full, listed
from conserve.notes import Note, Stand, answers_to
from conserve.seal import CHAIN, Entry
from conserve.statement.given import Given, items, person, proposal_of, prose, row
from conserve.statement.model import Block, Grid, Prose, Section
from conserve.weighing.model import Weighing

_WHAT = (
    "A seal tells who had decided what and when, and from what it was weighed. Each entry of the chain names the one "
    "before, so that nothing in it can be changed alone. Whoever keeps the chain could write all of it anew: a code "
    "that was written down elsewhere before shows that."
)
_HEAD = ("question", "decided", "first sealed", "last sealed, and as what")
_STANDS = {Stand.AGREE: "agrees", Stand.QUERY: "asks", Stand.DISSENT: "dissents", Stand.ANSWER: "answers"}


def sealed(given: Given) -> Section:
    """The chain's witness code, each decision with its seals, and every note."""
    return Section("seals", "What was sealed, and what others say of it", tuple(_blocks(given)))


def _blocks(given: Given) -> Iterator[Block]:
    chain = given.seals.chain
    if chain.entries or chain.problems:
        yield prose("what", _WHAT)
        yield prose("witness", _witness(given), CHAIN)
    else:
        yield prose("none", "No decision has been sealed.", map(proposal_of, given.decided))
    rows = tuple(
        row(weighing.proposal.id, _row(weighing, entries), CHAIN, proposal_of(weighing))
        for weighing in given.decided
        if (entries := chain.decisions_on(weighing.proposal.id))
    )
    if rows:
        yield Grid("sealed", "Decisions that were sealed", _HEAD, rows)
    yield from items("unsealed", _unsealed(given))
    yield from items("places-taken", _places_taken(given))
    yield from items("unanswered", (said_of(note, given) for note in given.seals.not_answered))
    yield from items("notes", _others(given))


def _witness(given: Given) -> str:
    chain = given.seals.chain
    if chain.problems:
        first, more = chain.problems[0], len(chain.problems) - 1
        and_more = f", and {more} more" if more else ""
        return f"The chain is not whole, and no code is given: line {first.where.line}: {first.message}{and_more}."
    entries = "1 entry" if len(chain.entries) == 1 else f"{len(chain.entries)} entries"
    return f"The chain has {entries}. Its witness code is {given.seals.witness}."


def _row(weighing: Weighing, entries: tuple[Entry, ...]) -> tuple[str, ...]:
    decision, last = weighing.proposal.decision, entries[-1]
    assert decision is not None and last.decision is not None
    verdict = f"{last.at[:10]} by {last.by}, entry {last.sequence}: '{last.decision.chosen}', {last.decision.verdict}"
    return (
        weighing.proposal.title,
        decision.on.isoformat(),
        f"{entries[0].at[:10]}, entry {entries[0].sequence}",
        verdict,
    )


def _unsealed(given: Given) -> Iterator[Prose]:
    chain = given.seals.chain
    if not chain.entries or chain.problems:
        return
    for weighing in given.decided:
        if not chain.decisions_on(weighing.proposal.id):
            says = f"Decided and not sealed: {full(weighing.proposal.title)}"
            yield prose(weighing.proposal.id, says, CHAIN, proposal_of(weighing))


def _places_taken(given: Given) -> Iterator[Prose]:
    for entry in given.seals.chain.entries:
        if entry.decision and (old := entry.decision.supersedes):
            says = f"Entry {entry.sequence}, '{entry.decision.proposal}', takes the place of entry {old.sequence}, "
            yield prose(str(entry.sequence), f"{says}'{old.proposal}'.", CHAIN)


# ---- notes ---------------------------------------------------------------------------------------------


def said_of(note: Note, given: Given) -> Prose:
    """A note that nobody has answered, in full."""
    what = "Dissent" if note.stand is Stand.DISSENT else "Query"
    return prose(note.id, f"{what} about '{note.about}', not answered: {_in_full(note, given)}", *_from(note, given))


def left_open(given: Given, proposal: str) -> Iterator[Prose]:
    """What is said of one decision and not answered."""
    for note in given.seals.not_answered:
        if note.about == proposal:
            said = said_of(note, given)
            yield prose(f"note-{note.id}", said.says, *said.made_from)


def in_short(given: Given) -> Iterator[Prose]:
    """How much is not answered, before everything else is told."""
    left = given.seals.not_answered
    for stand, what in ((Stand.DISSENT, "Dissent"), (Stand.QUERY, "Queries")):
        notes = [note for note in left if note.stand is stand]
        if notes:
            about = listed(f"'{name}'" for name in sorted({note.about for note in notes}))
            files = (note.file for note in notes)
            yield prose(f"{stand}-open", f"{what} that nobody has answered ({len(notes)}): about {about}.", files)


def _others(given: Given) -> Iterator[Prose]:
    """Who agrees, and what was asked and answered, each in a line."""
    answers = answers_to(given.seals.notes)
    for note in sorted(given.seals.notes, key=lambda one: (one.on, one.id)):
        if note.stand is Stand.AGREE or note.id in answers:
            said = [f"About '{note.about}': {_in_full(note, given)}"]
            said += [f"Answered by {_in_full(answer, given)}" for answer in answers.get(note.id, ())]
            files = (name for one in answers.get(note.id, ()) for name in _from(one, given))
            yield prose(note.id, " ".join(said), *_from(note, given), files)


def _in_full(note: Note, given: Given) -> str:
    who = capital(person(given.casebook, note.by)) + (f" ({note.competence.rstrip('.')})" if note.competence else "")
    seal = "" if note.id in given.seals.sealed_notes else " This note is not sealed."
    if note.stand is Stand.ANSWER:
        return f"{who} on {note.on}: {full(note.says)}{seal}"
    return f"{who} {_STANDS[note.stand]}, {note.on}: {full(note.says)}{seal}"


def _from(note: Note, given: Given) -> tuple[str, ...]:
    return (note.file, *((CHAIN,) if CHAIN in given.seals.files else ()), given.object_file)
