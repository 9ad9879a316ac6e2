"""What reviewers say of decisions: they agree, ask or dissent, and are answered. No note changes a weighing.

C110  a note is about no proposal, or about one that is neither decided nor begun
C111  an answer does not say what it answers, or a note that is no answer does
C112  a note answers one that is not there, is about something else, or asks nothing
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from conserve.casebook import Casebook
from conserve.evidence.entry import key_lines
from conserve.files import Folder
from conserve.problem import Location, Problem, nearest
from conserve.shape import Choice, Day, Field, Identifier, Line, Problems, Record, Value, Words
from conserve.yamlfile import Text, read_yaml

NOTES = "notes"


class Stand(StrEnum):
    """How somebody stands to a decision."""

    AGREE = "agree"
    QUERY = "query"
    DISSENT = "dissent"
    ANSWER = "answer"

    @property
    def asks(self) -> bool:
        """Whether it is told until somebody has answered it."""
        return self in (Stand.QUERY, Stand.DISSENT)


@dataclass(frozen=True, slots=True)
class Note:
    """One note: a file of its own, which is never edited. `digest` is the SHA-256 of that file."""

    id: str
    about: str  # a proposal
    stand: Stand
    by: str
    competence: str
    on: date
    says: str
    answers: str  # of an answer: the note that it answers
    where: Location
    digest: str

    @property
    def file(self) -> str:
        return file_of(self.id)


def file_of(name: str) -> str:
    """The name of a note's file, below the casebook's folder."""
    return f"{NOTES}/{name}.yaml"


SHAPE = Record(
    (
        Field("about", Identifier(), required=True, means="The proposal that it is about."),
        Field("stand", Choice(tuple(Stand), "stand"), required=True),
        Field("by", Line(), required=True),
        Field("competence", Line()),
        Field("date", Day(), required=True),
        Field("says", Words(), required=True, means="The reason."),
        Field("answers", Identifier(), means="Of an answer: the note that it answers."),
    )
)


def read_notes(folder: Folder, casebook: Casebook, shown: str) -> tuple[tuple[Note, ...], tuple[Problem, ...]]:
    """Every note that can be read, by the names of their files, and everything that is wrong with them.

    `shown` is the casebook's folder as places are told.
    """
    into = Problems("C")
    notes: dict[str, Note] = {}
    places: dict[str, Mapping[str, Value]] = {}
    for file in folder.names(NOTES, ".yaml"):
        node, problems = read_yaml(folder, file, "C", shown=f"{shown}/{file}")
        into.extend(problems)
        name = file.removeprefix(f"{NOTES}/").removesuffix(".yaml")
        named = Identifier().read(Text(name, Location(f"{shown}/{file}"), False), into)  # or nothing could answer it
        value = None if node is None or named is None else SHAPE.read(node, into)
        if value is not None:
            notes[name], places[name] = _note(name, value, folder.digest(file)), value.content
    for name, note in notes.items():
        _check(note, places[name], notes, casebook, into)
    return tuple(notes.values()), into.all


def _note(name: str, value: Value, digest: str) -> Note:
    said = {key: one.content for key, one in value.content.items()}
    return Note(
        name,
        said["about"],
        Stand(said["stand"]),
        said["by"],
        said.get("competence", ""),
        said["date"],
        said["says"].strip(),
        said.get("answers", ""),
        value.where,
        digest,
    )


def _check(
    note: Note, places: Mapping[str, Value], notes: Mapping[str, Note], casebook: Casebook, into: Problems
) -> None:
    proposal = casebook.proposal(note.about)
    if proposal is None:
        like = nearest(note.about, [one.id for one in casebook.proposals])
        hint = f"did you mean '{like}'?" if like else ""
        into.note(places["about"].where, 110, f"there is no proposal '{note.about}'", hint)
    elif not proposal.decision and not (proposal.work and (proposal.work.began or proposal.work.finished)):
        said = f"'{note.about}' is neither decided nor begun, so that there is nothing to agree or disagree with"
        into.note(places["about"].where, 110, said, "a need or an option of the proposal is the place for it")
    if note.stand is Stand.ANSWER and not note.answers:
        into.note(places["stand"].where, 111, "this does not say what it answers", "answers: NOTE")
    elif note.answers and note.stand is not Stand.ANSWER:
        hint = "stand: answer, or take 'answers:' out"
        into.note(places["answers"].where, 111, "only an answer answers another note", hint)
    elif note.answers and (wrong := _wrongly_answered(note, notes.get(note.answers))):
        into.note(places["answers"].where, 112, wrong, "name the note that is answered, by its file's name")


def _wrongly_answered(note: Note, other: Note | None) -> str:
    if other is None:
        return f"there is no note '{note.answers}'"
    if other.about != note.about:
        return f"'{other.id}' is about '{other.about}'"
    return "" if other.stand.asks else f"'{other.id}' asks nothing: it stands as '{other.stand}'"


def answers_to(notes: Iterable[Note]) -> Mapping[str, tuple[Note, ...]]:
    """Each note that was answered -> its answers, the earliest first."""
    found: dict[str, list[Note]] = {}
    for note in sorted(notes, key=lambda one: (one.on, one.id)):
        if note.stand is Stand.ANSWER:
            found.setdefault(note.answers, []).append(note)
    return {name: tuple(some) for name, some in found.items()}


def unanswered(notes: Iterable[Note]) -> tuple[Note, ...]:
    """Every query and dissent that nobody has answered, dissent first, then by date."""
    known = tuple(notes)
    answered = answers_to(known)
    left = (note for note in known if note.stand.asks and note.id not in answered)
    return tuple(sorted(left, key=lambda one: (one.stand is not Stand.DISSENT, one.on, one.id)))


def text_of(said: Mapping[str, str]) -> str:
    """A note's file: `said` by the keys of a note, in their order; what is empty is left out."""
    return "\n".join((*(line for key, value in said.items() if value for line in key_lines(key, value)), ""))
