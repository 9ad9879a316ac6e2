"""The command that gives a casebook's registers and survey sheets as spreadsheets."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.importing import ENDINGS, needs_workbooks
from conserve.cli.parser import takes_day, takes_one_casebook, takes_rules, with_example
from conserve.cli.reading import Read, Refused, find, new_file, read_all, shown_path
from conserve.cli.showing import counted
from conserve.cli.weighing import weigh_these
from conserve.files import Folder

if TYPE_CHECKING:
    from conserve.tables import Sheet

DONE = 0
OF_PARTS = ("components", "surfaces", "marks", "repairs", "defects")
KINDS = (*OF_PARTS, "evidence", "due", "costs", "measurements", "survey")


def add_export(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    said = "what to give; a workbook of components has their surfaces, marks, repairs and defects on further sheets"
    parser.add_argument("--as", dest="kind", choices=KINDS, required=True, help=said)
    parser.add_argument("--out", metavar="FILE", help="write it into this new file, .xlsx or .csv; otherwise print CSV")
    takes_day(parser, "due: what is owed on this day, otherwise today; survey: weigh as on this day")
    takes_rules(parser)
    with_example(
        parser,
        "conserve export casebook/marrow-fen --as components --out components.xlsx",
        "conserve export casebook/marrow-fen --as due --on 2026-06-01 --out due.csv",
    )
    parser.set_defaults(run=export)


def export(given: argparse.Namespace) -> int:
    target = new_file(given.out) if given.out is not None else None
    if target is not None and target.suffix.lower() not in ENDINGS:
        raise Refused(f"'{target.name}' ends in neither .xlsx nor .csv", "name a file that does")
    return exported(read_all(find(given.casebook), given.rules), target, given)


def exported(read: Read, target: Path | None, given: argparse.Namespace) -> int:
    """Give the sheets of a casebook that has been read, into a file or on the screen."""
    sheets = _sheets(read, given)
    from conserve.tables import csv_text

    if target is None or target.suffix.lower() == ".csv":
        text = csv_text(sheets[0])
        if target is None:
            print(text.rstrip("\n"))
            return DONE
        marked = text.encode("utf-8-sig")  # without the mark, spreadsheets take ± and ° for something else
        return _given(target, marked, sheets[:1])
    return _given(target, _workbook(sheets), sheets)


def _given(target: Path, data: bytes, sheets: tuple[Sheet, ...]) -> int:
    Folder(target.parent).add(target.name, data)
    told = ", ".join(f"{sheet.name} {counted(len(sheet.rows), 'row')}" for sheet in sheets)
    print(f"{shown_path(target)} is written: {told}.")
    return DONE


def _workbook(sheets: tuple[Sheet, ...]) -> bytes:
    needs_workbooks()
    from conserve.tables import workbook_of

    try:
        return workbook_of(sheets)
    except ValueError as wrong:
        raise Refused(str(wrong).rstrip("."), "give it as .csv") from None


def _sheets(read: Read, given: argparse.Namespace) -> tuple[Sheet, ...]:
    """The sheets that are asked for; of components all that belong to them, the one asked for first."""
    from conserve.tables import registers

    casebook = read.casebook
    if given.kind in OF_PARTS:
        from conserve.tables.parts import component_sheets

        sheets = component_sheets(casebook, read.rulebook.vocabulary)
        return sheets if given.kind == OF_PARTS[0] else (sheets[OF_PARTS.index(given.kind)],)
    if given.kind == "survey":
        return (_survey(read, given),)
    if given.kind == "due":
        return (_due(read, given.day or date.today()),)
    if given.kind == "measurements":
        return (registers.measurement_sheet(read.folder),)
    return (registers.evidence_sheet(casebook) if given.kind == "evidence" else registers.costs_sheet(casebook),)


def _due(read: Read, day: date) -> Sheet:
    from conserve.record.owed import owed
    from conserve.tables.registers import due_sheet

    return due_sheet(owed(weigh_these(read.proposals(), read, day), read.casebook, day), day)


def _survey(read: Read, given: argparse.Namespace) -> Sheet:
    """What to find out next, as the survey command has it."""
    from conserve.casebook.surveys import COLUMNS
    from conserve.survey import merged, survey_of
    from conserve.survey.telling import sheet_of
    from conserve.tables import Sheet

    weighings = weigh_these(read.proposals(), read, given.day)
    surveys = tuple(survey_of(one, read.rulebook) for one in weighings)
    groups = sheet_of(merged(surveys)).groups if surveys else ()
    rows = tuple(tuple(line.cells[name] for name in COLUMNS) for group in groups for line in group.lines)
    return Sheet("Survey", COLUMNS, rows)
