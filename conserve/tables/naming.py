"""Ids made from what stands in a table, and what a reader should know of them though nothing is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from conserve.tables.cells import Cell, Grid
from conserve.tables.layout import FOR_PEOPLE, Layout

_FEW = 4  # cells that are named


def id_for(layout: Layout, heading: str, said: str) -> str:
    """The id that is meant by what stands under a heading; "" where no letter or digit of it can stand in one."""
    given = layout.ids.get(heading, {}).get(said)
    return given or (said if layout.own else "-".join(re.findall("[a-z0-9]+", said.lower())))


def unread(grid: Grid, layout: Layout) -> tuple[str, ...]:
    """The headings of the columns that are not read, but for those of ours that are for people."""
    return tuple(cell.text for cell in _head(grid, layout) if cell.text and cell.text not in _known(layout))


def named_alone(grid: Grid, layout: Layout) -> Iterator[str]:
    """A sentence for each column of ids in which something is named of which its row tells nothing."""
    own = {column.heading for column in layout.columns}
    for heading in dict.fromkeys(name for column in layout.columns for name in column.target.headings):
        about = [column.heading for column in layout.columns if heading in column.target.headings]
        alone = [
            row[heading]
            for row in _rows(grid, layout)
            if heading not in own
            and _says(row, heading, layout)
            and not any(_says(row, name, layout) for name in about)
        ]
        if alone:
            stand = "stands" if len(alone) == 1 else "stand"
            named = ", ".join(f"'{cell.text}' ({_place(cell)})" for cell in alone[:_FEW])
            more = f" and {len(alone) - _FEW} more" if len(alone) > _FEW else ""
            yield f"Under '{heading}' {stand} {named}{more}: no column tells anything of that, and it is not taken in."


def alike(grid: Grid, layout: Layout, there: Iterable[str]) -> Iterator[str]:
    """A sentence for each two components whose ids differ in hyphens only: one part may be meant by both."""
    if layout.own:
        return
    known = {name.replace("-", ""): (name, "is there already") for name in there}
    for row in _rows(grid, layout):
        if not _says(row, layout.id, layout):
            continue
        cell = row[layout.id]
        name = id_for(layout, layout.id, cell.text)
        other, where = known.setdefault(name.replace("-", ""), (name, f"is made from '{cell.text}' ({_place(cell)})"))
        if other != name:
            said = f"'{cell.text}' ({_place(cell)}) becomes '{name}', and '{other}' {where}"
            yield f"{said}. If they are one part, say so under 'ids:' of the mapping."


def _known(layout: Layout) -> tuple[str, ...]:
    return (*layout.needs, *FOR_PEOPLE)


def _head(grid: Grid, layout: Layout) -> tuple[Cell, ...]:
    return next((cells for number, cells in grid.rows if number == layout.header), ())


def _rows(grid: Grid, layout: Layout) -> Iterator[dict[str, Cell]]:
    """The rows below the header, each cell by the heading it stands under."""
    head = [cell.text for cell in _head(grid, layout)]
    for number, cells in grid.rows:
        if number > layout.header:
            yield dict(zip(head, cells, strict=False))


def _says(row: dict[str, Cell], heading: str, layout: Layout) -> bool:
    return heading in row and row[heading].text not in ("", "unknown", *layout.unknown)


def _place(cell: Cell) -> str:
    return cell.where.at.rpartition(", ")[2] if cell.where.at.startswith("sheet") else f"line {cell.where.line}"
