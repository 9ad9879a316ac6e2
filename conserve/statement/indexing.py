"""The index of a statement: a digest for each paragraph and for what it was made from; and what has changed since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from conserve.explanation.pieces import canonical_json
from conserve.statement.model import Document, Told, told
from conserve.statement.numbering import day_of

SCHEMA = "conserve-statement-1"
CHANGED, NEW, GONE = "changed", "new", "gone"
_OWN = ("records/", "rules/", "rulebook")  # names of what is no file of the casebook


@dataclass(frozen=True, slots=True)
class Overtaken:
    """A paragraph of an earlier statement that would no longer be written so.

    `says` is what it says now, "" where it is gone. `because` names what it was made from that has changed since,
    the casebook's files before records and rules; where nothing has, only the day is another.
    """

    where: str
    how: str  # changed | new | gone
    says: str
    because: tuple[str, ...]


def index(document: Document) -> str:
    """The index as canonical JSON: what each paragraph was made from, and digests of it all; never what it says."""
    return canonical_json(index_of(document))


def index_of(document: Document) -> dict[str, Any]:
    """The same as plain data. `digest` is that of all the rest, so that a later change to the index shows."""
    day = day_of(document)
    said: dict[str, Any] = {
        "schema": SCHEMA,
        "title": document.title,
        "day": day.isoformat() if day else None,
        "sources": dict(document.sources),
        "paragraphs": [
            {"where": one.where, "digest": one.digest, "made_from": {n: document.sources[n] for n in one.made_from}}
            for one in told(document)
        ],
    }
    return {**said, "digest": sealed(said)}


def sealed(said: Mapping[str, Any]) -> str:
    """The digest of all that an index says but the digest."""
    rest = {name: value for name, value in said.items() if name != "digest"}
    return hashlib.sha256(canonical_json(rest).encode()).hexdigest()


def overtaken(document_now: Document, index_then: Mapping[str, Any]) -> tuple[Overtaken, ...]:
    """Each paragraph that says something else now, that is new, or that is gone, in the order of the statement."""
    then = {one["where"]: one for one in index_then["paragraphs"]}
    changed = _changed(document_now, index_then["sources"])
    now = {one.where: one for one in told(document_now)}
    found = [_compared(one, then.get(where), changed) for where, one in now.items()]
    gone = (
        Overtaken(where, GONE, "", _because(one["made_from"], changed))
        for where, one in then.items()
        if where not in now
    )
    return (*(one for one in found if one is not None), *gone)


def _compared(now: Told, then: Mapping[str, Any] | None, changed: frozenset[str]) -> Overtaken | None:
    if then is None:
        return Overtaken(now.where, NEW, in_words(now.says), _because(now.made_from, changed))
    if then["digest"] == now.digest:
        return None
    return Overtaken(now.where, CHANGED, in_words(now.says), _because({*now.made_from, *then["made_from"]}, changed))


def in_words(says: str) -> str:
    """What a paragraph says; of a row, its cells one after the other."""
    if not says.startswith("["):
        return says
    try:
        cells = json.loads(says)
    except ValueError:
        return says
    return " | ".join(map(str, cells))


# ---- what made the difference ----------------------------------------------------------------------------


def _changed(document: Document, then: Mapping[str, str]) -> frozenset[str]:
    now = document.sources
    return frozenset(name for name in {*now, *then} if now.get(name) != then.get(name))


def _because(made_from: Any, changed: frozenset[str]) -> tuple[str, ...]:
    """The files that made the difference. A record reads them all: where none that is named has changed, any has."""
    named = sorted(name for name in made_from if name in changed)
    files = [name for name in named if is_file(name)]
    if files or not named:
        return tuple(files)
    behind = sorted(name for name in changed if is_file(name)) if any(n.startswith("records/") for n in named) else []
    return (*behind, *(name for name in named if not name.startswith("records/"))) or tuple(named)


def is_file(name: str) -> bool:
    """Whether a name in an index is that of a casebook's file."""
    return not name.startswith(_OWN)


def still_as(index_then: Mapping[str, Any], files: Mapping[str, str], rulebook: str, day: date) -> bool:
    """Whether nothing that a statement is made from has changed, so that it need not be made to know that it holds."""
    then = index_then["sources"]
    same = {name: digest for name, digest in then.items() if is_file(name)} == dict(files)
    return same and then.get("rulebook") == rulebook and index_then["day"] == day.isoformat()
