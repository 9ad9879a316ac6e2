"""A statement as one web page that stands alone: no script, nothing fetched, the same bytes every time."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from functools import partial
from html import escape
from typing import TYPE_CHECKING

from conserve.record.drawing import Drawing, figure
from conserve.record.html import page_template, picture_kind
from conserve.statement.closing import closing
from conserve.statement.model import Document, Figure, Grid
from conserve.statement.numbering import SOURCES, column_widths, heading_levels, in_words, numbered, references

_MADE_FROM = 11  # letters: of the column that tells what each row was made from

if TYPE_CHECKING:
    from markupsafe import Markup


def html(document: Document, pictures: Mapping[str, bytes]) -> str:
    """The statement as a page. `pictures` are the files under evidence/ that may be shown, by name."""
    from markupsafe import Markup

    numbers = numbered(document)

    def linked(made_from: Sequence[str]) -> Markup:
        runs = references(made_from, numbers)
        return Markup(", ".join(" to ".join(map(_link, run)) for run in runs))

    def drawn(one: Figure) -> Markup:
        return Markup(_figure(one, pictures))

    levels = heading_levels(document)
    return page_template("statement.html.j2").render(
        statement=document,
        sections=tuple(zip((level + 1 for level in levels), document.sections, strict=True)),
        numbers=numbers,
        linked=linked,
        drawn=drawn,
        shares=partial(_shares, traced=document.traced),
        closing=closing,
        kind=lambda block: type(block).__name__,
        sources_title=SOURCES,
    )


def _shares(grid: Grid, traced: bool) -> list[int]:
    """The share of the page that each column of a table has, in %; the last is that of what each row was made from."""
    letters = [*column_widths(grid), *([] if grid.made_from or not traced else [_MADE_FROM])]
    return [round(100 * width / sum(letters)) for width in letters]


def _link(number: int) -> str:
    return f'<a href="#source-{number}" aria-label="source {number}">{number}</a>'


def _figure(one: Figure, pictures: Mapping[str, bytes]) -> str:
    if one.svg:
        return figure(Drawing(one.svg, one.caption))
    data = pictures.get(one.file, b"")
    kind = picture_kind(data)
    if not kind:
        return f"<p>{escape(in_words(one))}</p>"
    address = f"data:image/{kind};base64,{b64encode(data).decode('ascii')}"
    caption = f"<figcaption>{escape(one.caption)}</figcaption>"
    return f'<figure><img src="{address}" alt="{escape(one.told)}">{caption}</figure>'
