"""Cells, and tables of them: as they are read from a spreadsheet, and as they are given to one."""

from __future__ import annotations

import re
from dataclasses import dataclass

from conserve.problem import Location

# A spreadsheet takes a cell that begins so for a formula, the wide forms too (OWASP, "CSV Injection").
RUNS = re.compile(r"'*\s*[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
_MEASURED = re.compile(
    r"[+-]?[0-9][0-9./, ]*(?:[A-Za-zµμ°%][A-Za-z0-9µ°²³·/%]*)?"
    r"(?: *(?:±|\+/-) *[0-9.]+ *(?:[A-Za-zµμ°%][A-Za-z0-9µ°²³·/%]*)?)?"
)


@dataclass(frozen=True, slots=True)
class Cell:
    """What one cell says, as text; with a `fault`, why it is not to be taken, and one thing to try."""

    text: str
    where: Location
    fault: str = ""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet as it is read: its rows of cells, each as long as it is written, by their numbers from 1."""

    name: str  # of the sheet; "" in CSV, which has none
    where: Location
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]
    hidden: bool = False
    remarks: tuple[str, ...] = ()  # what a reader should know, and is no fault


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet to give: its headings and its rows, all of them text."""

    name: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def letters(column: int) -> str:
    """The letters by which spreadsheets call a column, the first being 1: `A`, `Z`, `AA`."""
    found = ""
    while column:
        column, rest = divmod(column - 1, 26)
        found = chr(ord("A") + rest) + found
    return found


def guarded(text: str) -> str:
    """A cell of a CSV file that no spreadsheet runs: an apostrophe stands before what would be a formula.

    Plain numbers are left as they are. `unguarded` takes off what was put on, and nothing else.
    """
    return f"'{text}" if RUNS.match(text) and not _NUMBER.fullmatch(text) else text


def unguarded(text: str) -> str:
    """A cell as it was before `guarded`."""
    return text[1:] if text.startswith("'") and RUNS.match(text) else text


def would_run(text: str) -> bool:
    """Whether a spreadsheet may take a cell of a CSV file for a formula; a number or a measurement it does not."""
    return bool(RUNS.match(text)) and not text.startswith("'") and not _MEASURED.fullmatch(text)
