"""YAML as this project reads it: every scalar is text, and every node knows where it stands.

Read from the parser's events, because a built document has lost what matters here: positions, repeated keys,
quotes, aliases. A scalar that nothing was written for becomes an empty unquoted `Text`; its problem is noted
here, so that shapes pass it over in silence.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final, NamedTuple

import yaml

from conserve.files import FileRefused, Folder
from conserve.problem import Location, Problem

DEEPEST = 40
LARGEST = 2_000_000  # bytes of a file
MOST_NODES = 200_000
READ_AS_YES_OR_NO: Final = frozenset(("on", "off", "yes", "no", "y", "n", "true", "false", "null", "~"))

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_Scalar, _Mapping, _Sequence, _Alias = (
    yaml.ScalarEvent,
    yaml.MappingStartEvent,
    yaml.SequenceStartEvent,
    yaml.AliasEvent,
)
_End = (yaml.MappingEndEvent, yaml.SequenceEndEvent)


# Made by the ten thousand, and so named tuples, which are made in half the time of a frozen dataclass.


class Text(NamedTuple):
    """A scalar, as written; block scalars count as quoted."""

    value: str
    where: Location
    quoted: bool


class Entries(NamedTuple):
    """A mapping: keys and what stands under them, in order, each key once."""

    items: tuple[tuple[Text, Node], ...]
    where: Location


class Items(NamedTuple):
    """A list."""

    items: tuple[Node, ...]
    where: Location


Node = Text | Entries | Items


def read_yaml(
    folder: Folder, name: str, prefix: str, shown: str | None = None
) -> tuple[Node | None, tuple[Problem, ...]]:
    """Read one YAML file of a folder; `shown` is its name in problems, if not its name in the folder."""
    file = name if shown is None else shown
    try:
        data = folder.read_bytes(name, LARGEST)
    except FileRefused as refused:
        number, hint = (24, "split it") if refused.kind == "too-large" else (29, "")
        return None, (Problem(Location(file), f"{prefix}{number:03}", refused.reason, hint),)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        line = before.count("\n") + 1
        where = Location(file, line, len(before) - (before.rfind("\n") + 1) + 1)
        return None, (Problem(where, f"{prefix}025", "this is not UTF-8 text", "save the file as UTF-8"),)
    return parse(text, file, prefix)


def parse(text: str, file: str, prefix: str) -> tuple[Node | None, tuple[Problem, ...]]:
    """Read YAML text whose top is a mapping, and say all that is wrong with it as YAML. Never raises.

    A node may come back along with problems; what is wrong is then left out of it. `None` is given where the
    file had to be given up. A list item's path counts from 1.
    """
    text = text.removeprefix("\ufeff")
    reader = _Reader(text, file, prefix)
    node: Node | None = None
    try:
        if len(text) > LARGEST:
            raise reader.stop(Location(file), 24, "the file is larger than 2 MB", "split it")
        node = reader.document(_Loader(text).get_event)
    except _GivenUp:
        pass
    except yaml.MarkedYAMLError as error:
        reader.note(*_syntax(error, text, file))
    except (yaml.YAMLError, ValueError, OverflowError):
        # An unreadable character: the parser counts its place in bytes or not at all, so find it here.
        reader.note(*_unreadable(text, file))
    return node, tuple(sorted(set(reader.problems)))


class _GivenUp(Exception):
    """The rest of the file is not read; the reason is noted."""


class _Reader:
    """Builds nodes from events, and notes what is wrong on the way."""

    __slots__ = ("_event", "_file", "_prefix", "_text", "nodes", "problems")

    def __init__(self, text: str, file: str, prefix: str) -> None:
        self._text = text
        self._file = file
        self._prefix = prefix
        self.nodes = 0
        self.problems: list[Problem] = []

    def note(self, where: Location, number: int, message: str, hint: str = "") -> None:
        self.problems.append(Problem(where, f"{self._prefix}{number:03}", message, hint))

    def stop(self, where: Location, number: int, message: str, hint: str = "") -> _GivenUp:
        self.note(where, number, message, hint)
        return _GivenUp()

    def document(self, event: Callable[[], Any]) -> Node | None:
        """Read the one document of a file, whose top is a mapping."""
        self._event = event
        event()  # the stream starts
        first = event()
        if type(first) is yaml.StreamEndEvent:
            raise self.stop(Location(self._file), 27, "the file is empty", "write 'key: value' lines")
        node = self._node(event(), "", 0)
        event()  # the document ends
        after = event()
        if type(after) is not yaml.StreamEndEvent:
            raise self.stop(self._at(after, ""), 26, "a second document starts here", "keep one in a file")
        if type(node) is Entries:
            return node
        self.note(node.where, 27, "a file is a mapping at its top", "write 'key: value' lines")
        return None

    def _node(self, event: Any, at: str, depth: int) -> Node:
        kind = type(event)
        if kind is _Scalar:
            return self._scalar(event, at)
        where = self._at(event, at)
        if kind is _Alias:
            self.note(where, 21, f"an alias, *{event.anchor}, is not read here", "write the value out")
            return Text("", where, False)
        self._count(where)
        if event.anchor is not None or event.tag is not None:
            self._refuse(event, where)
        if depth == DEEPEST:
            raise self.stop(where, 23, f"nested deeper than {DEEPEST}")
        return self._entries(event, where, depth + 1) if kind is _Mapping else self._items(where, depth + 1)

    def _scalar(self, event: Any, at: str) -> Text:
        start, end = event.start_mark, event.end_mark
        column = start.column
        width = end.column - column if start.line == end.line else self._first_line(start.index)
        where = Location(self._file, start.line + 1, column + 1, width or 1, at)
        self._count(where)
        if event.anchor is not None or event.tag is not None:
            self._refuse(event, where)
        return Text(event.value, where, bool(event.style))

    def _entries(self, opening: Any, where: Location, depth: int) -> Entries:
        found: dict[str, tuple[Text, Node]] = {}
        get, prefix = self._event, f"{where.at}." if where.at else ""
        while type(event := get()) not in _End:
            if type(event) is not _Scalar:
                key = self._node(event, where.at, depth)
                if type(key) is not Text:  # an alias: noted
                    self.note(key.where, 27, "a key is a word, not a list or a mapping")
                self._node(get(), where.at, depth)
                continue
            at = prefix + event.value
            key = self._scalar(event, at)
            name = key.value
            value = self._node(below := get(), at, depth)
            if not key.quoted and (not name or name.lower() in READ_AS_YES_OR_NO):
                self._doubtful(key)
            if type(value) is Text and not value.value and _unwritten(below):
                alone = opening.flow_style and _touch(event, below)
                self._nothing_after(key, alone)
            if name in found:
                line = found[name][0].where.line
                self.note(
                    key.where, 3, f"'{_short(name)}' is written twice; the first is on line {line}", "keep one of them"
                )
            else:
                found[name] = key, value
        return Entries(tuple(found.values()), where)

    def _items(self, where: Location, depth: int) -> Items:
        found: list[Node] = []
        get, prefix = self._event, f"{where.at}." if where.at else ""
        while type(event := get()) not in _End:
            item = self._node(event, f"{prefix}{len(found) + 1}", depth)
            if type(item) is Text and not item.value and _unwritten(event):
                self.note(item.where, 8, "nothing is written after the dash", "take the line out")
            found.append(item)
        return Items(tuple(found), where)

    def _at(self, event: Any, at: str) -> Location:
        mark = event.start_mark
        return Location(self._file, mark.line + 1, mark.column + 1, 1, at)

    def _first_line(self, index: int) -> int:
        """How much of a scalar of several lines stands on its first line."""
        lines = self._text[index : index + 1000].splitlines()
        return len(lines[0].rstrip()) if lines else 1

    def _count(self, where: Location) -> None:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            raise self.stop(where, 24, f"the file has more than {MOST_NODES:,} values", "split it")

    def _refuse(self, event: Any, where: Location) -> None:
        if event.anchor is not None:
            self.note(where, 21, f"an anchor, &{_short(event.anchor)}, is not read here", "take it out")
        if event.tag is not None:
            self.note(where, 22, f"a tag, {_short(event.tag)}, is not read here", "take it out")

    def _doubtful(self, key: Text) -> None:
        if not key.value:
            self.note(key.where, 27, "no key stands before the colon")
            return
        message = f"other readers of YAML take the key '{key.value}' for yes, no or nothing"
        self.note(key.where, 28, message, "choose another word for it")

    def _nothing_after(self, key: Text, alone: bool) -> None:
        name = _short(key.value)
        if alone:
            message = f"'{name}' stands in braces without a value"
            self.note(key.where, 9, message, "a sentence with a comma or a brace needs quotes, or lines of its own")
        else:
            message = f"nothing is written after '{name}'"
            self.note(key.where, 8, message, "write 'unknown', or take the line out")


def _unwritten(event: Any) -> bool:
    """Whether an empty scalar stands for nothing at all: not quoted, and with no other problem noted."""
    return type(event) is _Scalar and not event.style and event.anchor is None and event.tag is None


def _touch(key: Any, value: Any) -> bool:
    """Whether no colon was written between a key and the nothing after it."""
    return bool(key.end_mark.index == value.start_mark.index)


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:59]}…"


# What the parser says, what a reader can make of it, and one thing to try. The first that fits is used.
_SAID: Final = (
    ("mapping values are not allowed", "a colon stands where none is expected",
     "put the value in quotes, or see whether the line above lacks its colon"),
    ("mapping keys are not allowed", "a value cannot start with a question mark", "put it in quotes"),
    ("cannot start any token", "a value cannot start with this character", "put it in quotes"),
    ("alphabetic or numeric", "a value cannot start with * or &", "put it in quotes"),
    ("expected ',' or '}'", "the braces are not closed, or a comma is missing", "close them with }"),
    ("expected ',' or ']'", "the brackets are not closed, or a comma is missing", "close them with ]"),
    ("node content", "a value is missing", "write it, or take the comma or bracket out"),
    ("unexpected end of stream", "the quotes are not closed", "close them"),
    ("expected ':'", "a key without a colon", "write 'key: value'"),
    ("expected key", "this does not fit what stands above", "check its indent, and its quotes"),
    ("expected <block end>", "this does not fit what stands above", "check its indent, and its quotes"),
    ("expected '-' indicator", "this line does not fit the list above", "check its indent"),
    ("comment or line break", "text stands on the line of a > or |", "start it on the next line"),
    ("block sequence entries are not allowed", "a list cannot start here", "start it on a line of its own"),
    ("undefined tag", "a tag is not read here", "take it out"),
    ("escape", "a backslash in double quotes starts an escape", "use single quotes"),
)  # fmt: skip
_FORBIDDEN: Final = "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"  # rarely wanted


def _syntax(error: yaml.MarkedYAMLError, text: str, file: str) -> tuple[Location, int, str, str]:
    """Put the parser's words into a reader's."""
    said, lines = f"{error.problem or error.context or 'unreadable'}", text.splitlines()
    mark = error.problem_mark
    if error.context_mark and (mark is None or mark.line >= len(lines) or "expected ':'" in said):
        mark = error.context_mark  # where the quotes or the key began helps more than where parsing stopped
    where = Location(file) if mark is None else Location(file, mark.line + 1, mark.column + 1)
    if where.line > len(lines):  # past the end, where there is nothing to show
        where = Location(file, len(lines), len(lines[-1]) + 1) if lines else Location(file)
    if "nesting depth" in said:  # the parser looks ahead, and has a limit of its own
        return where, 23, f"nested deeper than {DEEPEST}", ""
    if where.line <= len(lines) and lines[where.line - 1][where.column - 1 : where.column] == "\t":
        return where, 20, "a tab cannot indent", "use spaces"
    for fragment, message, hint in _SAID:
        if fragment in said:
            return where, 20, message, hint
    return where, 20, f"this is not YAML: {said}", ""


def _unreadable(text: str, file: str) -> tuple[Location, int, str, str]:
    """Find the first character that YAML does not allow."""
    found = re.search(_FORBIDDEN, text)
    if found is None:
        return Location(file), 20, "this is not YAML", ""
    lines = f"{text[: found.start()]}|".splitlines()
    where = Location(file, len(lines), len(lines[-1]))
    return where, 20, f"an unprintable character, U+{ord(found[0]):04X}", "take it out"
