"""Whether the records of a decision, as people read them, are what was sealed or what would be written today."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

from conserve.audit.given import Given
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.audit.remaking import Remade, kept_proof
from conserve.casebook import Proposal
from conserve.explanation import listed
from conserve.files import FileRefused, digest_of
from conserve.record import records_of
from conserve.truth import Truth
from conserve.weighing import Weighing, weigh

_LARGEST = 100_000_000  # bytes of a record


def record_of(name: str, asked: Proposal | None, then: Remade | None, given: Given) -> tuple[Answer, tuple[Point, ...]]:
    """The answer about the record, its proof and its page in `records/`, and what was edited there."""
    answer, points = _record_of(name, asked, then, given)
    page = _read(f"records/{name}.html", given)
    if page is None or points:
        return answer, points  # of a page, nobody can tell more than of its record
    if isinstance(page, bytes) and page in _pages(name, asked, then, given):
        return answer, points
    why = page if isinstance(page, str) else "it is the page neither of what was sealed nor of what is so today"
    says = f"Whether 'records/{name}.html' was edited, nobody can tell: {why}."
    point = Point(Kind.CANNOT_TELL, says, name, f"records/{name}.html")
    return Answer(Asked.RECORD, Truth.UNKNOWN, f"{answer.says} {says}"), (*points, point)


def _pages(name: str, asked: Proposal | None, then: Remade | None, given: Given) -> Iterator[bytes]:
    """What a record's page may be: that of the sealed weighing, or of today's, as on the day of its proof."""
    made = [(then.weighing, then.then.rulebook)] if then and then.weighing and then.then else []
    if asked:
        proof = _read(f"records/{name}.json", given)
        day = _day(proof if isinstance(proof, bytes) else None) or given.casebook.as_at
        made.append((_weighed(asked, day, given), given.rulebook))
    for weighing, rulebook in made:
        texts = dict(records_of(given.folder, [weighing], rulebook, html=True))
        yield texts[f"records/{name}.html"].encode()


def _record_of(
    name: str, asked: Proposal | None, then: Remade | None, given: Given
) -> tuple[Answer, tuple[Point, ...]]:
    there = {
        file: data
        for file in (f"records/{name}.md", f"records/{name}.json")
        if (data := _read(file, given)) is not None
    }
    refused = [data for data in there.values() if isinstance(data, str)]
    if refused:
        point = Point(Kind.CANNOT_TELL, f"The record cannot be read: {refused[0]}.", name, "records")
        return Answer(Asked.RECORD, Truth.UNKNOWN, f"It cannot be read: {refused[0]}."), (point,)
    texts = {file: data for file, data in there.items() if isinstance(data, bytes)}
    if not texts:
        return Answer(Asked.RECORD, None, "No record of it is kept in records/."), ()
    sealed = _sealed(name, given)
    other = {file: data for file, data in texts.items() if digest_of((data,)) not in sealed}
    if not other:
        return Answer(Asked.RECORD, Truth.YES, "The record is the one that was sealed."), ()
    made = set(_made(name, asked, then, texts.get(f"records/{name}.json"), given))
    edited = sorted(file for file, data in other.items() if (file, digest_of((data,))) not in made)
    if not edited:
        return Answer(Asked.RECORD, Truth.YES, "The record is one that would be written today, or at its seal."), ()
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


def _made(
    name: str, asked: Proposal | None, then: Remade | None, proof: bytes | None, given: Given
) -> Iterator[tuple[str, str]]:
    """The files and digests of what would be written today or at the latest seal, as on the day that the record is of.

    A proof holds the name of the casebook's folder, which may have been given another since. Of what is sealed only
    the name of today counts, and a name with which it was sealed.
    """
    day, told, seals = _day(proof) or given.casebook.as_at, _told(proof).get("casebook"), given.of(name)
    names = {given.casebook.id, *((kept_proof(one, given) or {}).get("casebook") for one in seals)}
    called = told if isinstance(told, str) and (not seals or told in names) else given.casebook.id
    made = [(_weighed(asked, day, given), given.rulebook)] if asked else []
    old = then.then if then and then.weighing else None
    if old and (sealed := old.casebook.proposal(name)):
        made.append((weigh(sealed, old.casebook, old.rulebook, day), old.rulebook))
    for weighing, rulebook in made:
        weighing = replace(weighing, casebook=replace(weighing.casebook, id=called))
        for file, text in records_of(given.folder, [weighing], rulebook):
            yield file, digest_of((text.encode(),))


def _weighed(asked: Proposal, day: date, given: Given) -> Weighing:
    known = given.weighings.get(asked.id)
    return known if known and known.on == day else weigh(asked, given.casebook, given.rulebook, day)


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
    known = [
        (given.rulebook.digest, dict(given.casebook.digests)),
        *((one.what.rulebook, dict(given.listed(one.what.files))) for one in sealed),
    ]
    if not isinstance(files, dict) or not files or not isinstance(rules, str):
        return False
    return (rules, files) not in known
