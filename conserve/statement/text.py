"""A statement in Markdown: what is kept beside the casebook and read without any program."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import partial

from conserve.explanation import listed
from conserve.record.markdown import Ready, escaped, path, row, rule, template
from conserve.statement.closing import closing
from conserve.statement.model import Block, Document, Figure, Grid, Items, Prose
from conserve.statement.numbering import SOURCES, heading_levels

_NAMED = 3  # things named under a paragraph; statement.json names them all
_FROM = "made from"


def markdown(document: Document) -> str:
    """The statement in Markdown. Nothing that a casebook says can start markup in it."""
    headings = [Ready("#" * (level + 1)) for level in heading_levels(document)]
    said = template("statement.md.j2").render(
        statement=document,
        sections=tuple(zip(headings, document.sections, strict=True)),
        block=partial(_block, traced=document.traced),
        closing=closing,
        sources_title=SOURCES,
    )
    return re.sub(r"\n{3,}", "\n\n", said).rstrip() + "\n"


def from_in_words(made_from: Sequence[str]) -> str:
    """The names of what a paragraph was made from; of many the first ones and their number."""
    more = len(made_from) - _NAMED
    if more < 2:
        return listed(made_from)
    return f"{', '.join(made_from[:_NAMED])} and {more} more"


def _block(block: Block, traced: bool) -> Ready:
    match block:
        case Prose():
            return _said(block)
        case Items():
            return Ready("\n".join(f"- {_said(item)}" for item in block.items))
        case Grid():
            return _grid(block, traced)
        case Figure():
            return _figure(block)


def _said(one: Prose) -> Ready:
    made = f" *({escaped(from_in_words(one.made_from))})*" if one.made_from else ""
    return Ready(f"{escaped(one.says)}{made}")


def _grid(grid: Grid, traced: bool) -> Ready:
    if grid.made_from or not traced:  # told once, for all rows; or not at all
        made = f" *({escaped(from_in_words(grid.made_from))})*" if grid.made_from else ""
        title = f"**{escaped(grid.title)}**{made}"
        return Ready("\n".join((title, "", row(grid.head), rule(grid.head), *(row(one.cells) for one in grid.rows))))
    head = (*grid.head, _FROM)
    rows = (row((*one.cells, from_in_words(one.made_from))) for one in grid.rows)
    return Ready("\n".join((f"**{escaped(grid.title)}**", "", row(head), rule(head), *rows)))


def _figure(figure: Figure) -> Ready:
    """A picture by its address, so that a reader of Markdown shows it; a drawing in words."""
    told = f"{escaped(figure.caption)} {escaped(figure.told)}"
    if not figure.file:
        return Ready(told)
    return Ready(f"![{told}](../evidence/{path(figure.file)})")
