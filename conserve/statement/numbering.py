"""What every printed form of a statement needs to know of it: its day, and a number for each thing it rests on."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from math import isqrt

from conserve.explanation.words import full
from conserve.statement.model import Document, Figure, Grid

SOURCES = "What this was made from"
SOURCES_SAYS = "Each number in brackets above leads to its line here."
UNTITLED = "Without a title"
SOURCES_HEAD = ("Number", "What", "SHA-256 of what stood there")
_PAGE, _WIDEST, _LONGEST_WORD = 110, 300, 22  # letters: of a page, and of a column where it is shared out
_BREAKS = re.compile(r"\s+|(?<=[^\W\d]-)(?=[^\W\d])")
_DAY = re.compile(r"(?<![0-9])[0-9]{4}-[0-9]{2}-[0-9]{2}(?![0-9])")


def day_of(document: Document) -> date | None:
    """The day as at which a statement is made: the first that its front tells. None where it tells none."""
    for _, value in document.front:
        for found in _DAY.findall(value):
            try:
                return date.fromisoformat(found)
            except ValueError:  # written like a day, but not one
                continue
    return None


def numbered(document: Document) -> dict[str, int]:
    """A number for each thing that the statement rests on, from 1, in the order of their names."""
    return {name: number for number, name in enumerate(sorted(document.sources), 1)}


def references(made_from: Iterable[str], numbers: Mapping[str, int]) -> tuple[tuple[int, ...], ...]:
    """The numbers of what one paragraph rests on, in rising order; the ends alone of three or more in a row."""
    return _runs(sorted({numbers[name] for name in made_from if name in numbers}))


def _runs(numbers: Iterable[int]) -> tuple[tuple[int, ...], ...]:
    found: list[list[int]] = []
    for number in numbers:
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    return tuple(
        part for run in found for part in ([(run[0], run[-1])] if len(run) > 2 else [(number,) for number in run])
    )


def heading_levels(document: Document) -> tuple[int, ...]:
    """The level of each section's heading, from 1 (below the title) and never more than one below the last."""
    levels: list[int] = []
    for section in document.sections:
        deepest = levels[-1] + 1 if levels else 1
        levels.append(min(max(1, section.level - 1), deepest))
    return tuple(levels)


def in_words(figure: Figure) -> str:
    """What stands in the place of a figure that cannot be shown."""
    kept = f" It is kept as evidence/{figure.file}." if figure.file else ""
    return f"A picture belongs here, and is not shown: {full(figure.caption)} {full(figure.told)}{kept}"


def column_widths(grid: Grid) -> list[int]:
    """Share the width of a page among the columns of a table: room for a word in each, the rest by what stands there.

    In letters, of which a page holds some 110.
    """
    columns = list(zip(grid.head, *(row.cells for row in grid.rows), strict=True))
    least = [min(_LONGEST_WORD, max(len(word) for cell in column for word in unbroken(cell))) + 3 for column in columns]
    wanted = [min(_WIDEST, max(1, _usual(column))) for column in columns]
    spare = max(0, _PAGE - sum(least))
    return [room + spare * want // sum(wanted) for room, want in zip(least, wanted, strict=True)]


def unbroken(cell: str) -> list[str]:
    """What of a cell stands on one line: its words, and of an id the pieces between its hyphens."""
    return _BREAKS.split(cell)


def _usual(column: tuple[str, ...]) -> int:
    """How long the cells of a column are: the square root of their mean square, so that a long one counts."""
    return isqrt(sum(len(cell) ** 2 for cell in column[1:]) // max(1, len(column) - 1))
