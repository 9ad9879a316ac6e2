"""What may stand in a file. One description serves the reader and the JSON Schema.

A shape turns a node into a `Value`: what it says, and where. `None` means that there is nothing to use: a
problem was noted, here or by the YAML reader, or the long form of a fact says `unknown`. Lists and mappings
come back with what could be read of them; a record comes back only with all its required keys.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, NamedTuple, Protocol

from conserve.problem import Location, Problem, nearest
from conserve.quantity import QuantityProblem, parse_quantity
from conserve.yamlfile import READ_AS_YES_OR_NO, Entries, Items, Node, Text

LONGEST_LINE = 200
MOST_SUGGESTIONS = 200  # looking for the nearest word is slow, and a file this broken has another trouble

Schema = dict[str, object]

# Left-to-right and right-to-left controls can make a text read otherwise than it is stored.
_BIDI = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_NOT_IN_WORDS = re.compile(f"[\x00-\x08\x0b-\x1f\x7f-\x9f{_BIDI}]")
_NOT_IN_LINE = re.compile(f"[\x00-\x1f\x7f-\x9f\u2028\u2029{_BIDI}]")
_ID = r"[a-z0-9]+(?:-[a-z0-9]+)*"
_IDENTIFIER = re.compile(_ID)
_RULE_NAME = re.compile(f"{_ID}(?:/{_ID})+")
_DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
_COUNT = re.compile("0|[1-9][0-9]{0,14}")
_QUANTITY_NUMBERS: Final = {"not-a-quantity": 12, "wrong-dimension": 13, "no-unit": 14, "not-finite": 16}
_FLAG_MEANT: Final = {"true": "yes", "on": "yes", "y": "yes", "yes": "yes",
                      "false": "no", "off": "no", "n": "no", "no": "no"}  # fmt: skip
_UNKNOWN: Final[Schema] = {"const": "unknown"}
_NONE: Final[Schema] = {"const": "none"}


class Value(NamedTuple):  # made by the ten thousand, like nodes
    """Something read: its content, where it stands, and where its key stands if it has one."""

    content: Any
    where: Location
    key: Location | None = None


class Long(NamedTuple):
    """A fact with what is known about it: who measured it, when and with what."""

    value: Value
    more: Mapping[str, Value]


class Problems:
    """Collects problems on the way; the prefix makes the codes, "C" for a casebook and "R" for rules."""

    __slots__ = ("_found", "_prefix")

    def __init__(self, prefix: str) -> None:
        self._prefix = prefix
        self._found: list[Problem] = []

    def note(self, where: Location, number: int, message: str, hint: str = "") -> None:
        self._found.append(Problem(where, f"{self._prefix}{number:03}", message, hint))

    def extend(self, problems: Iterable[Problem]) -> None:
        self._found.extend(problems)

    @property
    def noted(self) -> int:
        """How many times something was noted so far."""
        return len(self._found)

    @property
    def crowded(self) -> bool:
        """Whether there are too many to suggest something for each."""
        return len(self._found) >= MOST_SUGGESTIONS

    @property
    def all(self) -> tuple[Problem, ...]:
        """Every problem so far, sorted by place, each once."""
        return tuple(sorted(set(self._found))) if self._found else ()


class Shape(Protocol):
    """What may stand at one place of a file."""

    def read(self, node: Node, into: Problems) -> Value | None:
        """Read a node, or note what is wrong with it."""

    def schema(self) -> Schema:
        """Describe the same in JSON Schema 2020-12."""


# ---- one value ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _One:
    """What the shapes of one value have in common."""

    def read(self, node: Node, into: Problems) -> Value | None:
        if type(node) is not Text:
            return _wrong_kind(node, into, "one value")
        return self._of(node, into) if node.value or node.quoted else None

    def _of(self, text: Text, into: Problems) -> Value | None:
        raise NotImplementedError


class Line(_One):
    """One line of text."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        line = text.value.strip()
        if not _is_clean(text, line, _NOT_IN_LINE, into):
            return None
        if len(line) <= LONGEST_LINE:
            return Value(line, text.where)
        message = f"{len(line)} characters are too long for one line"
        return _refused(text, into, 11, message, f"keep it to {LONGEST_LINE}")

    def schema(self) -> Schema:
        return {"type": ["string", "number"], "minLength": 1, "maxLength": LONGEST_LINE}


class Words(_One):
    """Free text, of one line or several. Space around it is dropped."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        words = text.value.strip()
        return Value(words, text.where) if _is_clean(text, words, _NOT_IN_WORDS, into) else None

    def schema(self) -> Schema:
        return {"type": ["string", "number"], "minLength": 1}


class Identifier(_One):
    """A name in kebab-case, such as `guide-bar`."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        if _IDENTIFIER.fullmatch(text.value):
            return Value(text.value, text.where)
        message = f"{_said(text)} is not an id: small letters a to z and digits, with single hyphens between"
        return _refused(text, into, 7, message, _as_id(text.value))

    def schema(self) -> Schema:
        return {"type": ["string", "integer"], "pattern": f"^{_ID}$"}


class RuleName(_One):
    """The id of a rule: its path, such as `record/hidden-first`."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        if _RULE_NAME.fullmatch(text.value):
            return Value(text.value, text.where)
        return _refused(text, into, 7, f"{_said(text)} is not the id of a rule", "write principle/rule")

    def schema(self) -> Schema:
        return {"type": "string", "pattern": f"^{_ID}(?:/{_ID})+$"}


class FileName(_One):
    """The path of a file, relative to the folder that is meant, and never out of it."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        name = text.value.strip()
        if not _is_clean(text, name, _NOT_IN_LINE, into):
            return None
        if "\\" not in name and name[1:2] != ":" and not {"", ".", ".."}.intersection(name.split("/")):
            return Value(name, text.where)
        hint = "write a plain relative path with forward slashes"
        return _refused(text, into, 30, f"{_said(text)} leads out of the casebook", hint)

    def schema(self) -> Schema:
        return {"type": "string", "pattern": r"^(?!/)(?!.*(?:^|/)\.{0,2}(?:/|$))[^\\]+$"}


class Day(_One):
    """A date such as `2026-03-02`; read as a `datetime.date`."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        try:
            if _DAY.fullmatch(text.value):
                return Value(date.fromisoformat(text.value), text.where)
        except ValueError:
            return _refused(text, into, 6, f"{_said(text)} is no day of the calendar", "check it")
        return _refused(text, into, 6, f"{_said(text)} is not a date", "write year-month-day: 2026-03-02")

    def schema(self) -> Schema:
        return {"type": "string", "format": "date", "examples": ["2026-03-02"]}


@dataclass(frozen=True, slots=True)
class Choice(_One):
    """One of a closed list of values; `what` names them for the reader."""

    values: tuple[str, ...]
    what: str = "value"

    def _of(self, text: Text, into: Problems) -> Value | None:
        if text.value in self.values:
            return Value(text.value, text.where)
        hint = "" if into.crowded else _instead(text.value, tuple(map(str, self.values)), "write one of")
        return _refused(text, into, 5, f"{_said(text)} is no {self.what} known here", hint)

    def schema(self) -> Schema:
        return {"enum": _as_editors_read(map(str, self.values))}


class Flag(_One):
    """`yes` or `no`, as text."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        if text.value in ("yes", "no"):
            return Value(text.value, text.where)
        word = _FLAG_MEANT.get(text.value.lower(), "yes or no")
        return _refused(text, into, 5, f"{_said(text)} is neither yes nor no", f"write {word}")

    def schema(self) -> Schema:
        return {"enum": _as_editors_read(("yes", "no"))}


@dataclass(frozen=True, slots=True)
class Amount(_One):
    """A quantity in this unit or another of its dimension; `exact`: a nominal size, which needs no ±."""

    unit: str
    exact: bool

    def _of(self, text: Text, into: Problems) -> Value | None:
        try:
            return Value(parse_quantity(text.value, self.unit, self.exact), text.where)
        except QuantityProblem as wrong:
            return _refused(text, into, _QUANTITY_NUMBERS[wrong.kind], wrong.message, wrong.hint)

    def schema(self) -> Schema:
        example = f"{'0.50' if self.exact else '0.12 ± 0.02'} {self.unit}"
        return {"type": ["string"], "pattern": "[0-9]", "examples": [example]}


class Count(_One):
    """A whole number, zero or more; read as an `int`."""

    __slots__ = ()

    def _of(self, text: Text, into: Problems) -> Value | None:
        if _COUNT.fullmatch(text.value):
            return Value(int(text.value), text.where)
        return _refused(text, into, 12, f"{_said(text)} is not a count", "write plain digits, such as 48")

    def schema(self) -> Schema:
        return {"type": ["integer", "string"], "minimum": 0, "pattern": f"^(?:{_COUNT.pattern})$"}


# ---- many values ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list; with `none`, the word `none` closes it empty; with `lone`, one item may stand by itself."""

    item: Shape
    none: bool = False
    lone: bool = False

    def read(self, node: Node, into: Problems) -> Value | None:
        if type(node) is Items:
            read, found = self.item.read, []
            for below in node.items:
                value = read(below, into)
                if value is not None:
                    found.append(value)
            return Value(tuple(found), node.where)
        if self.none and _is(node, "none"):
            return Value((), node.where)
        if self.lone:
            value = self.item.read(node, into)
            return None if value is None else Value((value,), node.where)
        hint = f"write [{node.value}]" if type(node) is Text else "put a dash before each item"
        return _wrong_kind(node, into, "a list", hint)

    def schema(self) -> Schema:
        item = self.item.schema()
        ways: list[Schema] = [{"type": "array", "items": item}]
        return _any_of(*ways, *([_NONE] if self.none else []), *([item] if self.lone else []))


@dataclass(frozen=True, slots=True)
class MapOf:
    """A mapping whose keys a person chooses; with `none`, the word `none` closes it empty."""

    key: Shape
    value: Shape
    none: bool = False

    def read(self, node: Node, into: Problems) -> Value | None:
        if type(node) is Entries:
            content: dict[str, Value] = {}
            for key, below in node.items:
                named = self.key.read(key, into)
                value = self.value.read(below, into)
                if named is not None and value is not None:
                    content[key.value] = Value(value.content, value.where, key.where)
            return Value(content, node.where)
        if self.none and _is(node, "none"):
            return Value({}, node.where)
        return _wrong_kind(node, into, "a mapping", "write 'name: …' lines")

    def schema(self) -> Schema:
        entries: Schema = {
            "type": "object",
            "propertyNames": self.key.schema(),
            "additionalProperties": self.value.schema(),
        }
        return _any_of(entries, _NONE) if self.none else entries


@dataclass(frozen=True, slots=True)
class Field:
    """A key of a record. A `fact` may be `unknown`, which is the same as leaving it out."""

    name: str
    shape: Shape
    required: bool = False
    fact: bool = False
    means: str = ""

    def schema(self) -> Schema:
        schema = self.shape.schema()
        if self.fact:
            schema = _any_of(schema, _UNKNOWN)
        return {**schema, "description": self.means} if self.means else schema


@dataclass(frozen=True, slots=True)
class Record:
    """A mapping with known keys; `extra` is the shape of any others, if there may be others."""

    fields: tuple[Field, ...]
    extra: Shape | None = None
    _known: dict[str, Field] = field(init=False, repr=False, compare=False)
    _required: tuple[str, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_known", {each.name: each for each in self.fields})
        object.__setattr__(self, "_required", tuple(each.name for each in self.fields if each.required))

    def read(self, node: Node, into: Problems) -> Value | None:
        if type(node) is not Entries:
            return _wrong_kind(node, into, "a mapping", "write 'key: value' lines")
        content: dict[str, Value] = {}
        known, extra = self._known, self.extra
        for key, below in node.items:
            each = known.get(key.value)
            shape = extra if each is None else each.shape
            if shape is None:
                self._unknown(key, into)
            elif each is None or not (each.fact and _is(below, "unknown")):
                value = shape.read(below, into)
                if value is not None:
                    content[key.value] = Value(value.content, value.where, key.where)
        lacking = [n for n in self._required if n not in content and not self._may_lack(n, node, into)]
        return None if lacking else Value(content, node.where)

    def schema(self) -> Schema:
        schema: Schema = {
            "type": "object",
            "properties": {each.name: each.schema() for each in self.fields},
            "additionalProperties": False if self.extra is None else self.extra.schema(),
        }
        return {**schema, "required": list(self._required)} if self._required else schema

    def _may_lack(self, name: str, node: Entries, into: Problems) -> bool:
        """Whether a required key that gave nothing is a fact said to be unknown; note one not written."""
        each = self._known[name]
        for key, below in node.items:
            if key.value == name:
                return each.fact and _is(below, "unknown")
        into.note(node.where, 2, f"the key '{name}' is missing", each.means or f"add '{name}: …'")
        return False

    def _unknown(self, key: Text, into: Problems) -> None:
        if not key.quoted and (not key.value or key.value.lower() in READ_AS_YES_OR_NO):
            return  # noted by the reader of YAML
        hint = "" if into.crowded else _instead(key.value, tuple(self._known), "the keys here are")
        into.note(key.where, 1, f"unknown key {_said(key)}", hint)


@dataclass(frozen=True, slots=True)
class LongOr:
    """A fact in its short form, or a mapping of `value` and what is known about it; read as `Long`."""

    shape: Shape
    extra: tuple[Field, ...]
    _long: Record = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        value = Field("value", self.shape, required=True, fact=True)
        object.__setattr__(self, "_long", Record((value, *self.extra)))

    def read(self, node: Node, into: Problems) -> Value | None:
        if type(node) is not Entries:
            short = self.shape.read(node, into)
            return None if short is None else Value(Long(short, {}), short.where)
        read = self._long.read(node, into)
        if read is None or "value" not in read.content:  # `value: unknown` says nothing, like leaving it out
            return None
        more = dict(read.content)
        return Value(Long(more.pop("value"), more), node.where)

    def schema(self) -> Schema:
        return _any_of(self.shape.schema(), self._long.schema())


@dataclass(frozen=True, slots=True)
class Either:
    """One shape for each kind of node: one value, a mapping, a list. A kind left out may not stand here."""

    text: Shape | None = None
    entries: Shape | None = None
    items: Shape | None = None

    def read(self, node: Node, into: Problems) -> Value | None:
        shape = self.text if type(node) is Text else self.entries if type(node) is Entries else self.items
        if shape is not None:
            return shape.read(node, into)
        named = ((self.text, "one value"), (self.entries, "a mapping"), (self.items, "a list"))
        return _wrong_kind(node, into, " or ".join(name for way, name in named if way is not None))

    def schema(self) -> Schema:
        return _any_of(*(way.schema() for way in (self.text, self.entries, self.items) if way is not None))


# ---- shared ---------------------------------------------------------------------------------------


def _refused(node: Node, into: Problems, number: int, message: str, hint: str = "") -> Value | None:
    into.note(node.where, number, message, hint)
    return None


def _wrong_kind(node: Node, into: Problems, expected: str, hint: str = "") -> Value | None:
    if type(node) is Text:
        if not node.value and not node.quoted:
            return None  # nothing was written: noted by the reader of YAML
        stands = f"{_said(node)} stands here"
    else:
        stands = "a mapping stands here" if type(node) is Entries else "a list stands here"
    return _refused(node, into, 4, f"{stands}; {expected} is expected", hint)


def _is(node: Node, word: str) -> bool:
    return type(node) is Text and node.value == word and not node.quoted


def _is_clean(text: Text, content: str, forbidden: re.Pattern[str], into: Problems) -> bool:
    if not content:
        into.note(text.where, 10, "nothing is written here", "write 'unknown', or take the line out")
        return False
    if content.isprintable():  # by far the commonest
        return True
    found = forbidden.search(content)
    if found is not None:
        message = (
            "a line break in what is one line"
            if found[0] == "\n"
            else (f"a hidden control character, U+{ord(found[0]):04X}")
        )
        into.note(text.where, 10, message, "take it out")
    return found is None


def _said(text: Text) -> str:
    """Quote what was written, cut short, for a message."""
    return f"'{text.value}'" if len(text.value) <= 60 else f"'{text.value[:59]}…'"


def _instead(word: str, known: tuple[str, ...], these: str) -> str:
    """Suggest the nearest of the known words, or all of them where they are few."""
    meant = nearest(word, known)
    if meant is not None:
        return f"did you mean '{meant}'?"
    return f"{these} {', '.join(known)}" if 0 < len(known) <= 8 else ""


def _as_id(text: str) -> str:
    """Suggest an id like this text; "" where none is."""
    like = "-".join(re.findall("[a-z0-9]+", text.lower()))
    return f"write {like}" if 0 < len(like) <= 60 else ""


def _any_of(*schemas: Schema) -> Schema:
    return schemas[0] if len(schemas) == 1 else {"anyOf": list(schemas)}


def _as_editors_read(values: Iterable[str]) -> list[object]:
    """Allow for editors that take yes and no for booleans, and digits for numbers."""
    allowed: list[object] = list(values)
    also: list[object] = [int(value) for value in map(str, allowed) if _COUNT.fullmatch(value)]
    also += [meaning for word, meaning in (("yes", True), ("no", False)) if word in allowed]
    return allowed + also
