"""Whether the conservation statement is written, and what has overtaken it since."""

from __future__ import annotations

from dataclasses import dataclass

from conserve.explanation.words import full
from conserve.readiness.looking import Case, few, one
from conserve.readiness.model import WHOLE, Ask, Found, Mend
from conserve.statement.indexing import Overtaken, overtaken
from conserve.statement.kept import INDEX, read_index


@dataclass(frozen=True, slots=True)
class Stated:
    """The statement that was last written: its sections, and what of it would not be written so any more."""

    sections: frozenset[str]
    overtaken: tuple[Overtaken, ...]
    broken: str = ""  # why its index cannot be used


def stated(case: Case) -> Stated | None:
    """Read what is kept of the statement, and hold it against what would be written now; None where there is none."""
    index, problems = read_index(case.folder, case.casebook.id)
    if problems:
        return Stated(frozenset(), (), problems[0].message)
    if index is None:
        return None
    from conserve.seal import read_seals
    from conserve.statement import document_of  # slow to load, and of no use without a statement

    seals = read_seals(case.folder, case.casebook, case.casebook.id)
    now = document_of(case.weighings, case.casebook, case.rulebook, case.day, seals)
    sections = frozenset(str(paragraph["where"]).partition("/")[0] for paragraph in index["paragraphs"])
    return Stated(sections, overtaken(now, index))


def statement(ask: Ask, written: Stated | None) -> Found:
    """Whether the statement, or one section of it, is written and nothing has overtaken it."""
    again = "Write it again: conserve statement."
    if written is None:
        return one("No conservation statement is written.", Mend("Write it: conserve statement.", INDEX))
    if written.broken:
        told = f"The statement cannot be held against what is known now: {full(written.broken)}"
        return one(told, Mend(again, INDEX))
    if ask.word != WHOLE and ask.word not in written.sections:
        return one(f"The statement has no section '{ask.word}'.", Mend(again, INDEX))
    gone = [each for each in written.overtaken if ask.word in (WHOLE, each.where.partition("/")[0])]
    if gone:
        because = few(dict.fromkeys(name for each in gone for name in each.because)) or "the day"
        number = "1 of its paragraphs is" if len(gone) == 1 else f"{len(gone)} of its paragraphs are"
        told = f"{number} overtaken: {few(each.where for each in gone)}. What has changed since: {because}."
        return one(told, Mend(again, INDEX), stale=True)
    where = "" if ask.word == WHOLE else f" in '{ask.word}'"
    return one(f"The statement is written, and nothing has overtaken it{where}.")
