"""A statement as a Word file, to go on writing in: real headings, lists and tables; the same bytes every time."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

from conserve.explanation.words import capital
from conserve.statement.closing import closing
from conserve.statement.model import Block, Document, Figure, Grid, Items, Prose, Section
from conserve.statement.numbering import (
    SOURCES,
    SOURCES_HEAD,
    SOURCES_SAYS,
    UNTITLED,
    column_widths,
    day_of,
    heading_levels,
    in_words,
    numbered,
    references,
)
from conserve.statement.signs import tidied

if TYPE_CHECKING:
    from docx.document import Document as Made
    from docx.table import Table
    from docx.text.paragraph import Paragraph

LANGUAGE = "en-GB"
_NO_DAY = date(1980, 1, 1)  # the file must tell one
_TABLE_MM, _PICTURE_MM, _PICTURE_HIGH_MM = 166, 160, 90
_LONGEST_TITLE = 255  # letters of a property of the file
_SOURCES_FROM = 10_000  # ids of bookmarks must differ


def docx(document: Document, pictures: Mapping[str, bytes]) -> bytes:
    """Write a statement. `pictures` are the files under `evidence/` by name; one that is not there is told in words.

    Needs the extra `word`: without it, ImportError. A drawing (SVG) is shown as a picture where the extra `pdf` is
    there to draw it, and otherwise told in words.
    """
    from docx import Document as new

    from conserve.statement import word_parts as parts

    made = new()
    parts.set_page(made)
    parts.set_language(made, LANGUAGE)
    parts.set_styles(made)
    parts.add_page_numbers(made)
    _tell_properties(made, document)
    _Writer(made, numbered(document), pictures).write(document)
    return parts.as_bytes(made)


def _tell_properties(made: Made, document: Document) -> None:
    day = day_of(document) or _NO_DAY
    told = made.core_properties
    told.title, told.language = _titled(document.title)[:_LONGEST_TITLE], LANGUAGE
    told.author = told.last_modified_by = told.comments = told.keywords = ""
    told.created = told.modified = datetime(day.year, day.month, day.day, tzinfo=UTC)
    told.revision = 1


class _Writer:
    """Writes a statement into a new file, from its first line to its last."""

    def __init__(self, made: Made, numbers: Mapping[str, int], pictures: Mapping[str, bytes]) -> None:
        self.made, self.numbers, self.pictures = made, numbers, pictures

    def write(self, document: Document) -> None:
        self.made.add_paragraph(_titled(document.title), style="Title")
        for name, value in document.front:
            line = self.made.add_paragraph()
            line.add_run(f"{tidied(capital(name))}: ").bold = True
            line.add_run(tidied(value))
        if document.cautions:
            self.made.add_heading("Cautions", 1)
            for caution in document.cautions:
                self.made.add_paragraph(tidied(caution), style="Caution")
        self._contents(document)
        for at, (section, level) in enumerate(zip(document.sections, heading_levels(document), strict=True)):
            self._heading(_titled(section.title), level, at)
            for block in section.blocks:
                self._block(block)
            self._close(section)
        self._sources(document)

    def _contents(self, document: Document) -> None:
        """The headings, each leading to its place. Word can make the list again; it needs not."""
        from conserve.statement.word_parts import add_link, begin_field, end_field

        headings = [
            (_titled(one.title), level) for one, level in zip(document.sections, heading_levels(document), strict=True)
        ]
        if document.sources:
            headings.append((SOURCES, 1))
        if not headings:
            return
        self.made.add_heading("Contents", 1)
        for at, (words, level) in enumerate(headings):
            line = self.made.add_paragraph(style=f"toc {min(level, 2)}")
            if at == 0:
                begin_field(line, r'TOC \o "1-2" \h \n')
            add_link(line, words, f"part_{at}")
        end_field(line)

    def _heading(self, words: str, level: int, at: int) -> None:
        from conserve.statement.word_parts import add_bookmark

        add_bookmark(self.made.add_heading(words, min(level, 9)), f"part_{at}", at)

    def _close(self, section: Section) -> None:
        from conserve.statement.word_parts import add_small

        add_small(self.made.add_paragraph(), closing(section))

    def _block(self, block: Block) -> None:
        match block:
            case Prose():
                self._said(block, "Normal")
            case Items():
                for item in block.items:
                    self._said(item, "List Bullet")
            case Grid():
                self._grid(block)
            case Figure():
                self._figure(block)

    def _said(self, one: Prose, style: str) -> None:
        self._refer(self.made.add_paragraph(tidied(one.says), style=style), one.made_from)

    def _refer(self, paragraph: Paragraph, made_from: tuple[str, ...]) -> None:
        """The numbers of what a paragraph rests on, each leading to its line in the list at the end."""
        from conserve.statement.word_parts import add_link, add_small

        numbers = references(made_from, self.numbers)
        for at, ends in enumerate(numbers):
            add_small(paragraph, ", " if at else " [")
            for number in ends:
                if number != ends[0]:
                    add_small(paragraph, "–")
                add_link(paragraph, str(number), f"source_{number}", small=True)
        if numbers:
            add_small(paragraph, "]")

    # ---- tables ----------------------------------------------------------------------------------------

    def _grid(self, grid: Grid) -> None:
        table = self._table(
            grid.title, grid.head, [row.cells for row in grid.rows], column_widths(grid), grid.made_from
        )
        for row, cells in zip(() if grid.made_from else grid.rows, table.rows[1:], strict=False):
            self._refer(cells.cells[-1].paragraphs[-1], row.made_from)

    def _table(
        self,
        title: str,
        head: tuple[str, ...],
        rows: Sequence[tuple[str, ...]],
        widths: list[int],
        made_from: tuple[str, ...] = (),
    ) -> Table:
        from docx.shared import Mm, Pt

        from conserve.statement.word_parts import head_table, shade

        caption = self.made.add_paragraph(tidied(title), style="Caption")
        caption.paragraph_format.keep_with_next = True
        self._refer(caption, made_from)
        table: Table = self.made.add_table(rows=1 + len(rows), cols=len(head))
        table.autofit = False
        head_table(table, tidied(title))
        sizes = [Mm(_TABLE_MM * width / sum(widths)) for width in widths]
        for column, size in zip(table.columns, sizes, strict=True):
            column.width = size
        for at, (cells, row) in enumerate(zip((head, *rows), table.rows, strict=True)):
            for words, cell, size in zip(cells, row.cells, sizes, strict=True):
                cell.width = size
                cell.paragraphs[0].paragraph_format.space_after = Pt(2)
                run = cell.paragraphs[0].add_run(tidied(capital(words) if at == 0 else words))
                run.font.size = Pt(8.5 if len(head) > 4 else 9.5)
                if at == 0:
                    run.bold = True
                    shade(cell._tc.get_or_add_tcPr())
        self.made.add_paragraph()
        return table

    def _sources(self, document: Document) -> None:
        if not document.sources:
            return
        from docx.shared import Pt

        from conserve.statement.word_parts import add_bookmark

        self._heading(SOURCES, 1, len(document.sections))
        rows = [(str(number), name, document.sources[name]) for name, number in self.numbers.items()]
        table = self._table(SOURCES_SAYS, SOURCES_HEAD, rows, [13, 32, 65])
        for (number, *_), row in zip(rows, table.rows[1:], strict=True):
            add_bookmark(row.cells[0].paragraphs[0], f"source_{number}", _SOURCES_FROM + int(number))
            row.cells[2].paragraphs[0].runs[0].font.size = Pt(7)

    # ---- figures ---------------------------------------------------------------------------------------

    def _figure(self, figure: Figure) -> None:
        if not self._picture(figure):
            self._refer(self.made.add_paragraph(tidied(in_words(figure))), figure.made_from)
            return
        caption = self.made.add_paragraph(tidied(figure.caption), style="Caption")
        self._refer(caption, figure.made_from)

    def _picture(self, figure: Figure) -> bool:
        """Put a picture where it can be read, and say what it shows for whoever does not see it."""
        from docx.image.exceptions import InvalidImageStreamError, UnexpectedEndOfFileError, UnrecognizedImageError
        from docx.shared import Length, Mm

        data = _as_picture(figure, self.pictures)
        if not data:
            return False
        paragraph = self.made.add_paragraph()
        try:
            shape = paragraph.add_run().add_picture(io.BytesIO(data), width=Mm(_PICTURE_MM))
        except (InvalidImageStreamError, UnexpectedEndOfFileError, UnrecognizedImageError):
            paragraph._p.getparent().remove(paragraph._p)
            return False
        if shape.height > Mm(_PICTURE_HIGH_MM):
            shape.width = Length(shape.width * Mm(_PICTURE_HIGH_MM) // shape.height)
            shape.height = Mm(_PICTURE_HIGH_MM)
        paragraph.paragraph_format.keep_with_next = True
        told = shape._inline.docPr
        told.set("name", tidied(figure.caption))
        told.set("descr", tidied(figure.told) or tidied(figure.caption))
        return True


def _titled(text: str) -> str:
    return tidied(text) or UNTITLED


def _as_picture(figure: Figure, pictures: Mapping[str, bytes]) -> bytes:
    """The bytes of a picture that Word can show; nothing where there is none."""
    from conserve.record.html import picture_kind
    from conserve.statement.typeset import can_be_set, drawing_of, png

    data = drawing_of(figure) if figure.svg else pictures.get(figure.file, b"")
    photographed = picture_kind(data) in ("png", "jpeg")
    try:
        if not can_be_set(data):
            return b""
        return data if photographed else png(data)
    except ImportError:  # without the extra that draws, a photograph stands as it is
        return data if photographed else b""
