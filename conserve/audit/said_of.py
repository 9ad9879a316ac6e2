"""What reviewers have said of decisions, and whether their notes are as they were sealed."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.audit.given import Given, day_of
from conserve.audit.heeded import person
from conserve.audit.model import Kind, Point
from conserve.explanation import full
from conserve.files import FileRefused
from conserve.notes import Note, Stand
from conserve.problem import Problem
from conserve.seal import not_answered

_KINDS = {Stand.DISSENT: Kind.DISSENT, Stand.QUERY: Kind.QUERY}


def note_points(given: Given, problems: tuple[Problem, ...]) -> Iterator[Point]:
    """Every point about notes: altered, never sealed, unanswered, or unreadable."""
    for problem in problems:
        yield Point(Kind.CANNOT_TELL, f"A note: {problem.message}. ({problem.code})", where=given.where(problem.where))
    yield from _altered(given)
    sealed = {entry.note.note for entry in given.chain.entries if entry.note}
    for note in given.notes:
        if note.id not in sealed:
            yield Point(Kind.NOT_SEALED, f"The note '{note.id}' was never sealed.", note.about, given.where(note.where))
    for note in not_answered(given.notes, given.chain):
        yield Point(_KINDS[note.stand], f"{_who(note, given)}: {full(note.says)}", note.about, given.where(note.where))


def _who(note: Note, given: Given) -> str:
    competence = f" ({note.competence.rstrip('.')})" if note.competence else ""
    verb = "dissents" if note.stand is Stand.DISSENT else "asks"
    return f"{person(note.by, given.casebook)}{competence} {verb}, {note.on}"


def _altered(given: Given) -> Iterator[Point]:
    for entry in given.chain.entries:
        note = entry.note
        if note is None:
            continue
        file = f"notes/{note.note}.yaml"
        try:
            same = given.folder.digest(file) == note.file
        except FileRefused as refused:
            says = f"The note '{note.note}', sealed in entry {entry.sequence}, is gone: {refused.reason}."
            yield Point(Kind.NOTE_ALTERED, says, note.proposal, file)
            continue
        if not same:
            says = f"The note '{note.note}' is not what was sealed in entry {entry.sequence}."
            yield Point(Kind.NOTE_ALTERED, says, note.proposal, file)
        found = next((one for one in given.notes if one.id == note.note), None)
        if found and same and day_of(entry.at) < found.on:
            says = f"Entry {entry.sequence} is dated {day_of(entry.at)}, before the note that it seals, {found.on}."
            yield Point(Kind.BACK_DATED, says, note.proposal, given.line_of(entry))
