"""The files that taking a table in would write: components' files, new and with new lines, and one survey sheet."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import count

from conserve.casebook import Casebook
from conserve.casebook.surveys import COLUMNS
from conserve.files import Folder
from conserve.shape import Problems
from conserve.tables.cells import Grid, Sheet
from conserve.tables.changes import Changes
from conserve.tables.delimited import NOT_READ, csv_text
from conserve.tables.inserting import with_lines
from conserve.tables.saying import NOT_TAKEN, Saying
from conserve.tables.writing import Text, component_file, survey_sheet
from conserve.terms import Vocabulary

_SAYS_NOTHING = ("", "unknown")


def texts_of(
    found: Changes, casebook: Casebook, folder: Folder, source: str, vocabulary: Vocabulary, into: Problems
) -> tuple[Text, ...]:
    """The files for what is new, or note what cannot be written. `source` is the table's file, as people call it."""
    there = set(folder.names("components", ".yaml"))
    texts = []
    for name, said in found.parts.items():
        text = component_file(name, said, source, vocabulary)
        if text.name in there:
            into.note(said[0].where, NOT_READ, f"{text.name} is there already", "choose another id")
        texts.append(text)
    texts += [text for text in _longer(found, casebook, folder, vocabulary, into) if text is not None]
    if found.facts:
        texts.append(survey_sheet(_free(source, folder), found.facts, into))
    return tuple(texts)


def _longer(
    found: Changes, casebook: Casebook, folder: Folder, vocabulary: Vocabulary, into: Problems
) -> list[Text | None]:
    """Components' files with new lines in them."""
    by_file: dict[str, list[Saying]] = {}
    for one in found.lines:
        part = casebook.components[one.component]
        by_file.setdefault(f"components/{part.where.file.rpartition('/components/')[2]}", []).append(one)
    return [with_lines(folder, name, said, vocabulary, into) for name, said in sorted(by_file.items())]


def _free(source: str, folder: Folder) -> str:
    """A name for a sheet that none has yet, after the table it comes from."""
    taken = set(folder.names("surveys", ".csv"))
    stem = "-".join(re.findall("[a-z0-9]+", source.rpartition(".")[0].lower())) or "survey"
    names = (stem if number == 1 else f"{stem}-{number}" for number in count(1))
    return next(name for name in names if f"surveys/{name}.csv" not in taken)


# ---- a survey sheet that comes back ----------------------------------------------------------------------


def is_survey_sheet(grid: Grid) -> bool:
    """Whether a table has the columns of a survey sheet."""
    return bool(grid.rows) and tuple(cell.text for cell in grid.rows[0][1])[: len(COLUMNS)] == COLUMNS


def survey_text(grid: Grid, source: str, folder: Folder, into: Problems) -> Text | None:
    """The answered rows of a survey sheet that was filled in, as the casebook keeps it; None where it has them all."""
    rows, lines = [], {}
    for _, cells in grid.rows[1:]:
        cells = cells[: len(COLUMNS)]
        answer = cells[COLUMNS.index("answer")].text if len(cells) == len(COLUMNS) else ""
        for cell in cells:
            if cell.fault:
                into.note(cell.where, NOT_TAKEN, cell.fault, cell.hint)
        if answer not in _SAYS_NOTHING:
            rows.append(tuple(cell.text for cell in cells))
            lines[len(rows) + 1] = cells[0].where
    text = csv_text(Sheet("", COLUMNS, tuple(rows)))
    same: Callable[[str], bool] = lambda name: folder.read_bytes(name) == text.encode()  # noqa: E731
    if not rows or any(same(name) for name in folder.names("surveys", ".csv")):
        return None
    return Text(f"surveys/{_free(source, folder)}.csv", text, lines)
