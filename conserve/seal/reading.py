"""What is sealed in a casebook and what others say of its decisions, read together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass

from conserve.casebook import Casebook
from conserve.files import FileRefused, Folder
from conserve.notes import Note, Stand, read_notes, unanswered
from conserve.problem import Problem
from conserve.seal.chain import read_chain
from conserve.seal.model import CHAIN, Chain
from conserve.seal.witness import witness


@dataclass(frozen=True, slots=True)
class Seals:
    """A casebook's chain and its reviewers' notes, with everything that is wrong with either.

    `files` has the digest of each file that they were read from.
    """

    chain: Chain
    notes: tuple[Note, ...]
    problems: tuple[Problem, ...]
    files: Mapping[str, str]

    @property
    def witness(self) -> str:
        """The witness code of the chain; "" where it is empty or not whole."""
        return witness(self.chain)

    @property
    def not_answered(self) -> tuple[Note, ...]:
        """Every query and dissent that nobody has answered."""
        return not_answered(self.notes, self.chain)

    @property
    def sealed_notes(self) -> frozenset[str]:
        """The notes that were sealed as they stand now."""
        sealed = {(one.note.note, one.note.file) for one in self.chain.entries if one.note}
        return frozenset(note.id for note in self.notes if (note.id, note.digest) in sealed)


def not_answered(notes: Iterable[Note], chain: Chain) -> tuple[Note, ...]:
    """Every query and dissent that nobody has answered: what was sealed only by what was sealed and stands so still."""
    sealed = {(entry.note.note, entry.note.file) for entry in chain.entries if entry.note}
    names = {name for name, _ in sealed}
    return unanswered(
        note
        for note in notes
        if note.stand is not Stand.ANSWER or note.answers not in names or (note.id, note.digest) in sealed
    )


NOTHING_SEALED = Seals(Chain((), ()), (), (), {})


def read_seals(folder: Folder, casebook: Casebook, shown: str) -> Seals:
    """Read a casebook's chain and notes. `shown` is its folder as places are told. What is wrong is never raised."""
    chain = read_chain(folder, shown)
    notes, problems = read_notes(folder, casebook, shown)
    files = {note.file: note.digest for note in notes}
    with suppress(FileRefused):  # told among the problems of the chain
        files |= {CHAIN: folder.digest(CHAIN)} if folder.has(CHAIN) else {}
    return Seals(chain, notes, (*chain.problems, *problems), dict(sorted(files.items())))
