"""Problems: what is wrong in a text file, where, and one thing to try.

A problem is a value. Readers collect problems; only the public door raises, once, with all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import NamedTuple

WIDEST_LINE = 110  # characters of a source line that are shown
_TAB = 4
_LONGEST_WORD = 80


class Location(NamedTuple):
    """A place in a text file: 1-based line and column, the width of the marked text in characters.

    `at` is the dotted path inside the file, such as `surfaces.working-face.wear`.
    """

    file: str
    line: int = 1
    column: int = 1
    width: int = 1
    at: str = ""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """Something a person can fix in a text file."""

    where: Location
    code: str  # stable, never reused: "C014"
    message: str  # what is wrong, in the reader's words
    hint: str = ""  # one thing to try

    def __str__(self) -> str:
        return f"{self.where}: {self.code} {self.message}"


class InvalidInput(Exception):
    """The input is broken: carries every problem found, sorted by place, each once."""

    problems: tuple[Problem, ...]

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Give the known word most like this one, or None where none is like it."""
    if len(word) > _LONGEST_WORD:
        return None  # a sentence where a word belongs: comparing it would only cost time
    import difflib  # only wanted when something is already wrong

    # Sorted, because the order of the known words must not choose between two that are as near.
    close = difflib.get_close_matches(word, sorted(set(known)), n=1, cutoff=0.6)
    return close[0] if close else None


def show(problem: Problem, line_text: str | None) -> str:
    """Lay a problem out for a person: place, path, the line itself with a marker, a hint."""
    where = problem.where
    block = [_printable(str(problem))]
    if where.at:
        block.append(f"     at {_printable(where.at)}")
    if line_text is not None:
        text, start, width = _marked(line_text.rstrip("\r\n"), where.column, where.width)
        block.append(f"{where.line:>5} | {text}")
        block.append(f"      | {' ' * start}{'^' * width}")
    if problem.hint:
        block.append(f"    hint: {_printable(problem.hint)}")
    return "\n".join(block)


def show_all(problems: Iterable[Problem], line_of: Callable[[str, int], str | None]) -> str:
    """Lay out all problems, sorted by place, and count them.

    `line_of` gives the text of a line of a file, or None where it cannot be shown.
    """
    found = sorted(set(problems))
    if not found:
        return "No problems."
    blocks = [show(problem, line_of(problem.where.file, problem.where.line)) for problem in found]
    files = len({problem.where.file for problem in found})
    count = f"{_counted(len(found), 'problem')} in {_counted(files, 'file')}."
    return "\n".join([*blocks, f"{count} Nothing was weighed."])


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _printable(text: str) -> str:
    """Write control characters as escapes, so that a file cannot rearrange the terminal it is shown on."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == " " else f"\\u{ord(c):04x}" for c in text)


def _marked(line: str, column: int, width: int) -> tuple[str, int, int]:
    """Give the line as shown, and where the marker starts and how wide it is, counted in code points."""
    before = _plain(line[: column - 1], 0)
    inside = _plain(line[column - 1 : column - 1 + width], len(before))
    after = _plain(line[column - 1 + width :], len(before) + len(inside))
    text = before + inside + after
    start = len(before) + max(0, column - 1 - len(line))  # a place past the end stays past the end
    start, wide = min(start, len(text) + 1), max(1, len(inside))
    if len(text) <= WIDEST_LINE:
        return text, start, wide
    first = max(0, min(start - WIDEST_LINE // 3, len(text) - WIDEST_LINE))
    last = first + WIDEST_LINE
    head, tail = "… " if first else "", " …" if last < len(text) else ""
    wide = max(1, min(wide, last - start))
    return f"{head}{text[first:last]}{tail}", start - first + len(head), wide


def _plain(text: str, at: int) -> str:
    """Expand tabs from position `at`, and stand one `?` for whatever would not print as one character."""
    shown: list[str] = []
    for char in text:
        if char == "\t":
            shown.append(" " * (_TAB - (at + sum(map(len, shown))) % _TAB))
        else:
            shown.append(char if char.isprintable() or char == " " else "?")
    return "".join(shown)
