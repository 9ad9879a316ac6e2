"""A statement as a tagged PDF (ISO 14289-1, PDF/UA-1), set by typst: the same bytes for the same statement.

What the statement says goes to the typesetting program as data, in a folder of its own, and is never markup there.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from conserve.explanation.words import capital
from conserve.files import shipped
from conserve.record.html import picture_kind
from conserve.statement.closing import closing
from conserve.statement.model import Block, Document, Figure, Grid, Items, Prose
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
from conserve.statement.signs import printable, tidied

_LONG = 700  # letters: a row with a longer cell may run on to the next page
_DRAWN = "svg+xml"
_ENDING = {"png": "png", "jpeg": "jpg", _DRAWN: "svg"}
_ONE_PICTURE = """\
#set document(title: "A picture", date: none)
#set text(lang: "en", region: "GB")
#set page(width: auto, height: auto, margin: 0pt, fill: white)
#image("{name}", width: 16cm, alt: "A picture")
"""
_PPI = 200


@dataclass(frozen=True, slots=True)
class Picture:
    """A figure's picture as a file of the folder in which a statement is set."""

    name: str
    data: bytes
    drawn: bool  # made here, and so as wide as the page


def pdf(document: Document, pictures: Mapping[str, bytes]) -> bytes:
    """Set a statement. `pictures` are the files under `evidence/` by name; one that is not there is told in words.

    Needs the extra `pdf`: without it, ImportError.
    """
    import typst

    shown = _pictures_of(document, pictures)
    with TemporaryDirectory() as beside:
        folder = Path(beside)
        source = (shipped("templates") / "statement.typ").read_text(encoding="utf-8")
        (folder / "statement.typ").write_text(source, encoding="utf-8")
        told = json.dumps(_data_of(document, shown), ensure_ascii=False, sort_keys=True)
        (folder / "statement.json").write_text(told, encoding="utf-8")
        for picture in shown.values():
            (folder / picture.name).write_bytes(picture.data)
        return typst.compile(
            folder / "statement.typ", root=folder, ignore_system_fonts=True, format="pdf", pdf_standards=["ua-1"]
        )


def png(data: bytes) -> bytes:
    """Draw a picture as PNG, 16 cm wide; nothing where it cannot be read.

    Needs the extra `pdf`: without it, ImportError.
    """
    return _alone(data, "png")


def can_be_set(data: bytes) -> bool:
    """Whether a picture is one, and whole.

    Needs the extra `pdf`: without it, ImportError.
    """
    return bool(_alone(data, "pdf"))


def _alone(data: bytes, form: Literal["png", "pdf"]) -> bytes:
    """One picture by itself; nothing where it cannot be set: its bytes are not whole, or no font has its signs."""
    import typst

    kind = picture_kind(data)
    if not kind:
        return b""
    with TemporaryDirectory() as beside:
        folder, name = Path(beside), f"picture.{_ENDING[kind]}"
        (folder / name).write_bytes(data)
        source = folder / "picture.typ"
        source.write_text(_ONE_PICTURE.format(name=name), encoding="utf-8")
        try:
            return typst.compile(
                source,
                root=folder,
                ignore_system_fonts=True,
                format=form,
                ppi=_PPI,
                pdf_standards=["ua-1"] if form == "pdf" else [],
            )
        except typst.TypstError:
            return b""


def drawing_of(figure: Figure) -> bytes:
    """A figure's own drawing, with only signs that can be set."""
    return printable(figure.svg).encode("utf-8")


# ---- pictures ------------------------------------------------------------------------------------------


def _pictures_of(document: Document, pictures: Mapping[str, bytes]) -> dict[str, Picture]:
    """The picture of each figure that has one which can be read, by `SECTION/FIGURE`."""
    found: dict[str, Picture] = {}
    for at, one in _figures(document):
        data = drawing_of(one) if one.svg else pictures.get(one.file, b"")
        if can_be_set(data):
            ending = _ENDING[picture_kind(data)]
            found[at] = Picture(f"figure-{len(found) + 1}.{ending}", data, bool(one.svg))
    return found


def _figures(document: Document) -> Iterator[tuple[str, Figure]]:
    for section in document.sections:
        for block in section.blocks:
            if isinstance(block, Figure):
                yield f"{section.id}/{block.id}", block


# ---- what the page is made from ------------------------------------------------------------------------


def _data_of(document: Document, shown: Mapping[str, Picture]) -> dict[str, Any]:
    numbers = numbered(document)
    return {
        "title": _heading(document.title),
        "day": _parts(day_of(document)),
        "front": [[_text(capital(name)), _text(value)] for name, value in document.front],
        "cautions_title": "Cautions",
        "cautions": [_text(one) for one in document.cautions],
        "sections": [
            {
                "title": _heading(section.title),
                "closing": closing(section),
                "level": level,
                "blocks": [_block(one, shown.get(f"{section.id}/{one.id}"), numbers) for one in section.blocks],
            }
            for section, level in zip(document.sections, heading_levels(document), strict=True)
        ],
        "sources_title": SOURCES,
        "sources_says": SOURCES_SAYS,
        "sources_head": SOURCES_HEAD,
        "sources": [[number, _text(name), document.sources[name]] for name, number in numbers.items()],
    }


def _block(block: Block, shown: Picture | None, numbers: Mapping[str, int]) -> dict[str, Any]:
    match block:
        case Prose():
            return {"kind": "prose", **_said(block, numbers)}
        case Items():
            return {"kind": "items", "items": [_said(item, numbers) for item in block.items]}
        case Grid():
            return _grid(block, numbers)
        case Figure():
            return {
                "kind": "figure",
                "caption": _text(block.caption),
                "told": _text(block.told) or _text(block.caption),
                "in_words": _text(in_words(block)),
                "refs": references(block.made_from, numbers),
                "file": shown.name if shown else None,
                "drawn": bool(shown and shown.drawn),
            }


def _said(one: Prose, numbers: Mapping[str, int]) -> dict[str, Any]:
    return {"says": _text(one.says), "refs": references(one.made_from, numbers)}


def _grid(grid: Grid, numbers: Mapping[str, int]) -> dict[str, Any]:
    return {
        "kind": "grid",
        "title": _text(grid.title),
        "refs": references(grid.made_from, numbers),
        "head": [_text(capital(cell)) for cell in grid.head],
        "widths": column_widths(grid),
        "rows": [
            {
                "cells": [_text(cell) for cell in row.cells],
                "refs": () if grid.made_from else references(row.made_from, numbers),
                "long": any(len(cell) > _LONG for cell in row.cells),
            }
            for row in grid.rows
        ],
    }


def _text(text: str) -> str:
    return printable(tidied(text))


def _heading(text: str) -> str:
    return _text(text) or UNTITLED  # the standard allows no empty heading


def _parts(day: date | None) -> tuple[int, int, int] | None:
    return (day.year, day.month, day.day) if day else None
