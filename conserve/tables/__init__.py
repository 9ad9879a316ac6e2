"""Spreadsheets: a survey of components brought in, registers and survey sheets given back."""

from conserve.tables.cells import Cell, Grid, Sheet
from conserve.tables.changes import Changes, changes_of, note_changed, with_added
from conserve.tables.delimited import csv_text, read_csv
from conserve.tables.giving import workbook_of
from conserve.tables.layout import Layout, layout_from, own_layout
from conserve.tables.saying import Saying, sayings
from conserve.tables.workbook import read_workbook

__all__ = [
    "Cell",
    "Changes",
    "Grid",
    "Layout",
    "Saying",
    "Sheet",
    "changes_of",
    "csv_text",
    "layout_from",
    "note_changed",
    "own_layout",
    "read_csv",
    "read_workbook",
    "sayings",
    "with_added",
    "workbook_of",
]
