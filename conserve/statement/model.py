"""What a conservation statement says, and what each paragraph of it was made from. Nothing here is worked out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Prose:
    """One paragraph. `made_from` names the casebook's files, `records/ID` and `rules/ID` that it rests on."""

    id: str  # within its section
    says: str
    made_from: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Items:
    """A list: one thing an item."""

    id: str
    items: tuple[Prose, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table."""

    id: str
    cells: tuple[str, ...]
    made_from: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table with a heading of its own."""

    id: str
    title: str
    head: tuple[str, ...]
    rows: tuple[Row, ...]

    @property
    def made_from(self) -> tuple[str, ...]:
        """What each of several rows was made from, where that is the same: it is then told once for the table."""
        first = self.rows[0].made_from if len(self.rows) > 1 else ()
        return first if all(row.made_from == first for row in self.rows) else ()


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing made here (`svg`), or a registered picture (`file`, below evidence/), with its caption."""

    id: str
    caption: str
    told: str  # the same in words, for whoever does not see it
    made_from: tuple[str, ...]
    svg: str = ""
    file: str = ""


Block = Prose | Items | Grid | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the statement under one heading. A section below another has `level` 3."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    level: int = 2


@dataclass(frozen=True, slots=True)
class Document:
    """The whole statement: what is told before everything else, then its sections."""

    title: str
    front: tuple[tuple[str, str], ...]  # what it is of, as at which day, by which rules
    cautions: tuple[str, ...]  # told before any section
    sections: tuple[Section, ...]
    sources: Mapping[str, str]  # each name in a `made_from` -> the SHA-256 of what stood there

    @property
    def traced(self) -> bool:
        """Whether it says what each paragraph was made from. A report, which says where things stand, does not."""
        return bool(self.sources)

    @property
    def called(self) -> str:
        """What it is called on its own pages."""
        return "statement" if self.traced else "report"


@dataclass(frozen=True, slots=True)
class Told:
    """One paragraph, item, row or figure of a statement: what it says, and what it was made from."""

    where: str  # SECTION/BLOCK or SECTION/BLOCK/PART
    says: str
    made_from: tuple[str, ...]

    @property
    def digest(self) -> str:
        """The SHA-256 of what it says."""
        return hashlib.sha256(self.says.encode()).hexdigest()


def told(document: Document) -> Iterator[Told]:
    """Every paragraph, item, row and figure, in the order in which they are read."""
    for section in document.sections:
        for block in section.blocks:
            at = f"{section.id}/{block.id}"
            match block:
                case Prose():
                    yield Told(at, block.says, block.made_from)
                case Items():
                    yield from (Told(f"{at}/{item.id}", item.says, item.made_from) for item in block.items)
                case Grid():
                    yield from (
                        Told(f"{at}/{row.id}", json.dumps(row.cells, ensure_ascii=False), row.made_from)
                        for row in block.rows
                    )
                case Figure():
                    yield Told(at, f"{block.caption}\n{block.told}", block.made_from)
