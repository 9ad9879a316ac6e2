"""Put things on a screen: tables, colour where there is a terminal, JSON, progress."""

from __future__ import annotations

import json
import os
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import TypeVar

WIDEST = 100  # columns of running text
_LARGE = 64 << 20  # bytes of a file that takes a while
_COLOURS = {"good": "32", "doubt": "33", "bad": "31", "strong": "1"}

T = TypeVar("T")


def in_colour(text: str, colour: str) -> str:
    """Colour a text where it goes to a terminal and nobody has asked for none. It says the same without."""
    if not sys.stdout.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    return f"\x1b[{_COLOURS[colour]}m{text}\x1b[0m"


def colour_of(verdict: str) -> str:
    """The colour that goes with a verdict; its words carry the meaning."""
    if verdict.startswith("justified"):
        return "good"
    return "bad" if verdict == "not justified" else "doubt"


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], coloured: int | None = None) -> str:
    """Lay rows out in columns; the column `coloured` holds verdicts."""
    listed = [tuple(row) for row in rows]
    widths = [max(len(row[at]) for row in (tuple(heads), *listed)) for at in range(len(heads))]
    lines = [in_colour("  ".join(_padded(heads, widths)).rstrip(), "strong")]
    for row in listed:
        cells = _padded(row, widths)
        if coloured is not None:
            cells[coloured] = in_colour(cells[coloured], colour_of(row[coloured]))
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def _padded(cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    return [cell.ljust(width) for cell, width in zip(cells, widths, strict=True)]


def wrapped(text: str, indent: str = "", first: str | None = None) -> str:
    """Break running text to the screen's width; `first` stands before the first line in place of the indent."""
    return textwrap.fill(
        " ".join(text.split()),
        screen_width(),
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def wrapped_lines(text: str) -> str:
    """Break the lines of a text that are too long; what is broken off stands further in."""
    return "\n".join(
        textwrap.fill(
            line,
            screen_width(),
            subsequent_indent=" " * (8 if line.startswith("  ") else 0),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in text.split("\n")
    )


def screen_width() -> int:
    """How many columns there are for a text."""
    return min(WIDEST, max(40, shutil.get_terminal_size((WIDEST, 24)).columns))


def counted(number: int, noun: str, many: str = "") -> str:
    return f"{number} {noun if number == 1 else many or noun + 's'}"


def as_json(content: object) -> str:
    """JSON with sorted keys, the same every time."""
    return json.dumps(content, sort_keys=True, ensure_ascii=False, indent=2, default=str)


def blocks_with_progress(blocks: Iterable[bytes], size: int, doing: str) -> Iterator[bytes]:
    """Give the blocks of a file on; where it is large and standard error a terminal, say how far it has come."""
    shown = sys.stderr.isatty() and size >= _LARGE
    done, told = 0, -1
    try:
        for block in blocks:
            yield block
            done += len(block)
            if shown and done * 100 // size > told:
                told = done * 100 // size
                print(f"\r{doing} {told} %", end="", file=sys.stderr, flush=True)
    finally:
        if shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def with_progress(items: Sequence[T], doing: str) -> Iterator[T]:
    """Go through items; where standard error is a terminal, say there how far it has come."""
    shown = sys.stderr.isatty() and len(items) > 1
    try:
        for number, item in enumerate(items, 1):
            if shown:
                print(f"\r{doing} {number} of {len(items)}", end="", file=sys.stderr, flush=True)
            yield item
    finally:
        if shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
