"""A survey as a sheet: in CSV and in Markdown, which are read back when they are filled in, and as a page to print."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

from conserve.casebook.surveys import COLUMNS
from conserve.record.html import page_template
from conserve.record.markdown import Ready, escaped, template
from conserve.survey.model import Survey
from conserve.survey.telling import Line, sheet_of

_FOR_PEOPLE = ("question", "cost", "note")


def csv_sheet(survey: Survey) -> str:
    """The questions a row each, in the columns in which `surveys/*.csv` is read; the answers are empty."""
    written = io.StringIO()
    sheet = csv.DictWriter(written, COLUMNS, lineterminator="\n")
    sheet.writeheader()
    sheet.writerows(line.cells for group in sheet_of(survey).groups for line in group.lines)
    return written.getvalue()


def markdown_sheet(survey: Survey) -> str:
    """The sheet in Markdown: a table a component, in the columns in which `surveys/*.md` is read."""
    said = template("survey.md.j2").render(sheet=sheet_of(survey), head=_row(COLUMNS), line=_line)
    return re.sub(r"\n{3,}", "\n\n", said).rstrip() + "\n"


def html_sheet(survey: Survey) -> str:
    """The sheet as one page that stands alone, to print and to write on."""
    return page_template("survey.html.j2").render(sheet=sheet_of(survey))


def _line(line: Line) -> Ready:
    """A row; what is read back stands as it is, for what may stand there holds no markup."""
    return _row(escaped(cell) if column in _FOR_PEOPLE else cell for column, cell in line.cells.items())


def _row(cells: Iterable[str]) -> Ready:
    return Ready(f"| {' | '.join(cells)} |")
