"""New lines in a component's file. What people wrote stays as it is, comments and order too: lines are only added."""

from __future__ import annotations

from collections.abc import Iterable

from conserve.files import Folder
from conserve.problem import Location
from conserve.shape import Problems
from conserve.tables.saying import Saying
from conserve.tables.writing import Branch, Text, lines_of, tree_of
from conserve.terms import Vocabulary
from conserve.yamlfile import Entries, read_yaml

BY_HAND = 101  # the problem's number: no line can be added there
Lines = list[tuple[str, Location | None]]  # each with where it comes from, if it is new
Added = list[tuple[int, Lines]]  # after which line, and which lines


def with_lines(
    folder: Folder, name: str, said: Iterable[Saying], vocabulary: Vocabulary, into: Problems
) -> Text | None:
    """A component's file with what is said added to it, or note why that has to be done by hand."""
    said = tuple(said)
    node, _ = read_yaml(folder, name, "C")
    hint = f"write it into {name}, then bring the table in again"
    if not isinstance(node, Entries) or any(key.value == "alike" for key, _ in node.items):
        for one in said:
            into.note(one.where, BY_HAND, f"is new, and {name} holds several parts that are alike", hint)
        return None
    text = folder.read_bytes(name).decode("utf-8-sig")
    if not text.endswith("\n"):
        text += "\n"
    written: Lines = [(line, None) for line in text.split("\n")[:-1]]
    added = _added(tree_of(said, vocabulary), node, len(written), written)
    if added is None:
        for one in said:
            into.note(one.where, BY_HAND, f"is new, and {name} is so written that no line can be added", hint)
        return None
    added.sort(key=lambda place: place[0])
    for after, lines in reversed(added):  # from below; at one place what is further in comes first in the end
        written[after:after] = lines
    lines_from = {number: where for number, (_, where) in enumerate(written, 1) if where is not None}
    return Text(name, "".join(f"{line}\n" for line, _ in written), lines_from)


def _added(tree: Branch, node: Entries, end: int, text: Lines) -> Added | None:
    """The lines to add to a mapping that ends on a line; None where its way of writing leaves no place."""
    if not node.items or node.items[0][0].where[:3] != node.where[:3]:
        return None  # in braces
    indent = " " * (node.where.column - 1)
    found: Added = []
    fresh = Branch()
    for key, below in tree.below.items():
        there = next((value for name, value in node.items if name.value == key), None)
        if there is None:
            fresh.below[key] = below
        elif isinstance(below, Branch) and isinstance(there, Entries):
            inside = _added(below, there, _end(node, key, end, text), text)
            if inside is None:
                return None
            found += inside
        elif not isinstance(below, Branch) or below.below:
            return None  # something is written there that is no mapping
    return [*found, (end, lines_of(fresh, indent))] if fresh.below else found


def _end(node: Entries, name: str, end: int, text: Lines) -> int:
    """The last line of what stands below a key. What is said before the next key belongs to that."""
    lines = [key.where.line for key, _ in node.items]
    place = next(number for number, (key, _) in enumerate(node.items) if key.value == name)
    last = lines[place + 1] - 1 if place + 1 < len(lines) else end
    while last > lines[place] and _belongs_below(text[last - 1][0], node.where.column - 1):
        last -= 1
    return last


def _belongs_below(line: str, indent: int) -> bool:
    """Whether a line is empty, or a comment on what comes next; one further in may be words in a block."""
    return not line.strip() or (line.lstrip().startswith("#") and len(line) - len(line.lstrip()) <= indent)
