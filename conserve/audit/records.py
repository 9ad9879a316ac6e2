"""Whether the records of a decision, as people read them, are what was sealed or what would be written today."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

from conserve.audit.given import Given
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.casebook import Proposal
from conserve.explanation import listed
from conserve.files import FileRefused, digest_of
from conserve.record import records_of
from conserve.truth import Truth
from conserve.weighing import weigh

_LARGEST = 100_000_000  # bytes of a record


def record_of(name: str, asked: Proposal | None, given: Given) -> tuple[Answer, tuple[Point, ...]]:
    """The answer about the record and the proof in `records/`, and what was edited there."""
    there = {file: data for file in (f"records/{name}.md", f"records/{name}.json") if (data := _read(file, given))}
    refused = [data for data in there.values() if isinstance(data, str)]
    if refused:
        return Answer(Asked.RECORD, Truth.UNKNOWN, f"It cannot be read: {refused[0]}."), ()
    texts = {file: data for file, data in there.items() if isinstance(data, bytes)}
    if not texts:
        return Answer(Asked.RECORD, None, "No record of it is kept in records/."), ()
    sealed = _sealed(name, given)
    other = {file: data for file, data in texts.items() if digest_of((data,)) not in sealed}
    if not other:
        return Answer(Asked.RECORD, Truth.YES, "The record is the one that was sealed."), ()
    today = _today(asked, texts, given) if asked else {}
    edited = sorted(file for file, data in other.items() if digest_of((data,)) != today.get(file))
    if not edited:
        return Answer(Asked.RECORD, Truth.YES, "The record is the one that would be written today."), ()
    if says := _older(edited, texts, name, given):
        point = Point(Kind.CANNOT_TELL, f"The record: {says[:1].lower()}{says[1:]}", name, edited[0])
        return Answer(Asked.RECORD, Truth.UNKNOWN, says), (point,)
    return _edited(edited, name, bool(sealed))


def _edited(edited: list[str], name: str, sealed: bool) -> tuple[Answer, tuple[Point, ...]]:
    otherwise = "neither what was sealed nor what would be written today" if sealed else "not what would be written"
    points = tuple(Point(Kind.RECORD_ALTERED, f"'{file}' is {otherwise}.", name, file) for file in edited)
    verb = "is" if len(edited) == 1 else "are"
    return Answer(Asked.RECORD, Truth.NO, f"{listed(edited)} {verb} {otherwise}."), points


def _read(file: str, given: Given) -> bytes | str | None:
    """A file's bytes; why it cannot be read, in words; None where there is none."""
    try:
        return given.folder.read_bytes(file, _LARGEST)
    except FileRefused as refused:
        return None if refused.kind == "missing" else refused.reason


def _sealed(name: str, given: Given) -> set[str]:
    return {digest for one in given.of(name) for digest in (one.what.proof, one.what.record)}


def _today(asked: Proposal, texts: dict[str, bytes], given: Given) -> dict[str, str]:
    """The digests of what would be written today, weighed as on the day that the record is of.

    A proof holds the name of the casebook's folder, which may have been given another since; a sealed one need not
    be made again for that.
    """
    proof = texts.get(f"records/{asked.id}.json")
    day = _day(proof) or given.casebook.as_at
    known = given.weighings.get(asked.id)
    weighing = known if known and known.on == day else weigh(asked, given.casebook, given.rulebook, day)
    name = _told(proof).get("casebook")
    if isinstance(name, str) and not given.of(asked.id):
        weighing = replace(weighing, casebook=replace(weighing.casebook, id=name))
    return {file: digest_of((text.encode(),)) for file, text in _made(weighing, given)}


def _made(weighing: Any, given: Given) -> Iterator[tuple[str, str]]:
    yield from records_of(given.folder, [weighing], given.rulebook)


def _day(proof: bytes | None) -> date | None:
    try:
        return date.fromisoformat(_told(proof)["on"])
    except (KeyError, ValueError, TypeError):
        return None


def _told(proof: bytes | None) -> dict[str, Any]:
    try:
        found = json.loads(proof or b"{}")
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _older(edited: list[str], texts: dict[str, bytes], name: str, given: Given) -> str:
    """Why nobody can tell an edited record from one that is older than what it was written from; "" where one can."""
    proof = f"records/{name}.json"
    if proof not in texts and not given.of(name):
        return "It is not what would be written today. Without a seal or a proof nobody can tell why."
    if proof in edited and _of_another_day(texts[proof], name, given):
        return "It was written from files or rules that were neither sealed nor are those of today."
    return ""


def _of_another_day(proof: bytes, name: str, given: Given) -> bool:
    """Whether a proof says that it was made from files or rules that are neither those of today nor those of a seal.

    Its record may be the same to the byte on both days, where those files bear on other decisions only.
    """
    told, sealed = _told(proof), given.of(name)
    files, rules = told.get("casebook_files"), told.get("rulebook")
    known = [dict(given.casebook.digests), *(dict(given.listed(one.what.files)) for one in sealed)]
    if isinstance(rules, str) and rules not in {given.rulebook.digest, *(one.what.rulebook for one in sealed)}:
        return True
    return isinstance(files, dict) and bool(files) and files not in known
