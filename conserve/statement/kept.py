"""What is kept of statements in a casebook's folder: the index of the last one, and those of bundles already sent."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from conserve.casebook import Casebook
from conserve.files import FileRefused, Folder
from conserve.problem import Location, Problem
from conserve.statement.condition import shown_file
from conserve.statement.indexing import SCHEMA, sealed

INDEX = "statement/statement.json"
SENT = "sent"
SENT_SCHEMA = "conserve-sent-1"
_CODE = "C095"
_LARGEST = 20_000_000  # bytes
_AGAIN = "it is written by a command and not by hand: conserve statement"
_AS_SENT = "it tells what was sent, and cannot be written again: put the one that was written back"


@dataclass(frozen=True, slots=True)
class Sent:
    """A bundle that was sent: where that is written, what for, when, to whom, and the index of its statement."""

    file: str
    profile: str
    on: date
    to: str
    index: Mapping[str, Any]


class _Unsound(Exception):
    """What is wrong with a file, and where in it."""

    def __init__(self, says: str, line: int = 1, column: int = 1) -> None:
        super().__init__(says)
        self.line, self.column = line, column


def read_index(folder: Folder, shown: str) -> tuple[Mapping[str, Any] | None, tuple[Problem, ...]]:
    """The index of the statement that was last written, None where there is none; or what is wrong with it (C095).

    `shown` is the folder as a person would write it.
    """
    if INDEX not in folder.names("statement", ".json"):
        return None, ()
    try:
        data = _read(folder, INDEX)
        return _index(data), ()
    except _Unsound as wrong:
        return None, (_problem(shown, INDEX, wrong, _AGAIN),)


def read_sent(folder: Folder, shown: str) -> tuple[tuple[Sent, ...], tuple[Problem, ...]]:
    """Every bundle that was sent, by the names of its files; or what is wrong with what is written of one (C095)."""
    found, problems = [], []
    for name in folder.names(SENT, ".json"):
        try:
            found.append(_sent(name, _read(folder, name)))
        except _Unsound as wrong:
            problems.append(_problem(shown, name, wrong, _AS_SENT))
    return tuple(found), tuple(problems)


def _problem(shown: str, name: str, wrong: _Unsound, hint: str) -> Problem:
    return Problem(Location(f"{shown}/{name}", wrong.line, wrong.column), _CODE, str(wrong), hint)


def _read(folder: Folder, name: str) -> dict[str, Any]:
    try:
        data = json.loads(folder.read_bytes(name, limit=_LARGEST).decode("utf-8"))
    except FileRefused as refused:
        raise _Unsound(refused.reason) from None
    except UnicodeDecodeError:
        raise _Unsound("this is no text") from None
    except json.JSONDecodeError as error:
        raise _Unsound("this cannot be read as JSON", error.lineno, error.colno) from None
    except (ValueError, RecursionError):
        raise _Unsound("this cannot be read as JSON") from None
    if not isinstance(data, dict):
        raise _Unsound("this is no index of a statement")
    return data


def _sent(name: str, data: Mapping[str, Any]) -> Sent:
    texts = ("profile", "sent", "to", "manifest")
    if data.get("schema") != SENT_SCHEMA or not all(isinstance(data.get(text), str) for text in texts):
        raise _Unsound("this does not tell what was sent, when and to whom")
    if not isinstance(data.get("statement"), dict):
        raise _Unsound("this does not hold the index of the statement that was sent")
    try:
        on = date.fromisoformat(data["sent"])
    except ValueError:
        raise _Unsound(f"'{data['sent']}' is no date") from None
    return Sent(name, data["profile"], on, data["to"], _index(data["statement"]))


def _index(data: Mapping[str, Any]) -> Mapping[str, Any]:
    if data.get("schema") != SCHEMA:
        raise _Unsound("this is no index of a statement")
    try:
        own = sealed(data)
    except (ValueError, UnicodeEncodeError):  # no number is none, and half a sign is no sign
        raise _Unsound("this holds what no index holds") from None
    if data.get("digest") != own:
        raise _Unsound("this has been changed since it was written")
    if not _shaped(data):
        raise _Unsound("this is no whole index of a statement")
    return data


def _shaped(data: Mapping[str, Any]) -> bool:
    paragraphs, day = data.get("paragraphs"), data.get("day")
    if not _digests(data.get("sources")) or not isinstance(paragraphs, list):
        return False
    return _a_day(day) and all(
        isinstance(one, dict)
        and isinstance(one.get("where"), str)
        and isinstance(one.get("digest"), str)
        and _digests(one.get("made_from"))
        for one in paragraphs
    )


def _a_day(day: object) -> bool:
    try:
        return day is None or (isinstance(day, str) and date.fromisoformat(day) is not None)
    except ValueError:
        return False


def _digests(data: object) -> bool:
    return isinstance(data, dict) and all(isinstance(value, str) for value in data.values())


# ---- pictures ------------------------------------------------------------------------------------------


def shown_pictures(casebook: Casebook, folder: Folder) -> dict[str, bytes]:
    """The registered pictures that may be shown, by their names under evidence/; none that cannot be read."""
    found: dict[str, bytes] = {}
    for item in casebook.evidence.values():
        if file := shown_file(item):
            try:
                found[file] = folder.read_bytes(f"evidence/{file}", limit=_LARGEST)
            except FileRefused:  # told in words in its place
                continue
    return found
