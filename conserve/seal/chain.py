"""Read a chain and hold each of its entries against the one before; whatever is wrong with it is told with its line.

C102  a line is no entry
C103  an entry was altered, or does not follow the one before
C104  an entry is sealed earlier than the one before
C105  the last line has no end: a machine stopped while writing it
C106  a signature does not fit its entry
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime

from conserve.files import FileRefused, Folder
from conserve.problem import Location
from conserve.seal.entry import LONGEST, read_line
from conserve.seal.model import CHAIN, FIRST, Chain, Entry
from conserve.seal.values import NotAnEntry, moment
from conserve.shape import Problems
from conserve.truth import Truth

LARGEST = 500_000_000  # bytes of a chain
_RESTORE = "put back chain.jsonl as it was, from a copy"


@dataclass(slots=True)
class _Link:
    """How far a chain has been followed, and what the next entry must be."""

    into: Problems
    signatures: bool
    entries: list[Entry] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)
    sequence: int = 1  # of the entry after the last that could be read
    previous: str = FIRST  # the digest of that last one
    unread: int = 0  # lines since then that say nothing for certain
    latest: tuple[datetime, Entry] | None = None


def read_chain(folder: Folder, shown: str, signatures: bool = False) -> Chain:
    """Read the chain of a casebook, whose folder is told as `shown`. Whatever stands in it, nothing is raised.

    Where there is no chain yet, it is empty and sound. `signatures` are held against their entries only on request;
    where the library for that is not installed, none of them is a problem.
    """
    into = Problems("C")
    link = _Link(into, signatures)
    torn = b""
    where = Location(f"{shown}/{CHAIN}")
    try:
        for number, (line, ended) in enumerate(_lines(folder), 1):
            at = where._replace(line=number)
            if ended:
                _take(link, at, line)
            elif not _takes_unended(link, at, line):
                torn = line
    except FileRefused as refused:
        if refused.kind != "missing":
            into.note(where, 102, f"the chain cannot be read: {refused.reason}", _RESTORE)
    return Chain(tuple(link.entries), into.all, torn)


def _lines(folder: Folder) -> Iterator[tuple[bytes, bool]]:
    """Each line without its end, and whether it has one; a file whose last line has an end has no more after it."""
    held, size = b"", 0
    for block in folder.blocks(CHAIN):
        size += len(block)
        if size > LARGEST:
            raise FileRefused("too-large", f"'{CHAIN}' is larger than {LARGEST:,} bytes")
        *whole, held = (held + block).split(b"\n")
        for line in whole:
            yield line, True
        if len(held) > LONGEST:
            raise FileRefused("too-large", f"'{CHAIN}' has a line of more than {LONGEST:,} bytes")
    if held:
        yield held, False


def _takes_unended(link: _Link, at: Location, line: bytes) -> bool:
    """Take a last line that has no end if it is a whole entry; otherwise it is only told."""
    try:
        whole = read_line(line)[1]
    except NotAnEntry:
        whole = False
    if whole:
        said = "the last entry is whole, but its line has no end: a machine stopped while writing it; nothing is lost"
        link.into.note(at, 105, said, "the next seal ends the line")
        _take(link, at, line)
    else:
        said = "the last line is torn: a machine stopped while writing it, or it was cut. It seals nothing"
        hint = "seal again: the torn line is set aside in sealed/, and nothing is lost of the entries before it"
        link.into.note(at, 105, said, hint)
    return whole


def _take(link: _Link, at: Location, line: bytes) -> None:
    """Hold one line against what must come next."""
    try:
        entry, whole = read_line(line)
    except NotAnEntry as reason:
        link.into.note(at, 102, f"this line is no entry: {reason}", _RESTORE)
        link.unread += 1
        return
    if not whole:
        said = f"entry {entry.sequence} was altered: its digest is not that of what it says"
        link.into.note(at, 103, said, _RESTORE)
        link.unread += 1
        return
    if _follows(link, at, entry):
        _in_time(link, at, entry)
    if entry.digest not in link.seen:
        link.seen.add(entry.digest)
        link.entries.append(entry)
        _signed(link, at, entry)


def _follows(link: _Link, at: Location, entry: Entry) -> bool:
    """Note what is wrong with the place of an entry, and say whether the next one is to follow it.

    One that stands too late is passed over, so that what was moved or repeated is told once, and so is what is gone.
    """
    due, number = link.sequence + link.unread, entry.sequence
    if number < link.sequence:
        said = f"entry {number} stands after entry {link.sequence - 1}: it was moved, or is there twice"
        link.into.note(at, 103, said, _RESTORE)
        return False
    if number > due:
        gone = f"entry {due} is" if number == due + 1 else f"entries {due} to {number - 1} are"
        link.into.note(at, 103, f"{gone} missing, or out of order: entry {number} stands here", _RESTORE)
    elif number == link.sequence and entry.previous != link.previous:
        said = f"entry {number} does not follow entry {number - 1} as it stands here: one of them was altered"
        if number == 1:
            said = "entry 1 names an entry before it, and there is none"
        link.into.note(at, 103, said, _RESTORE)
    link.sequence, link.previous, link.unread = number + 1, entry.digest, 0
    return True


def _in_time(link: _Link, at: Location, entry: Entry) -> None:
    when = moment(entry.at)
    if link.latest is not None and when < link.latest[0]:
        other = link.latest[1]
        said = f"entry {entry.sequence} is sealed at {entry.at}, before entry {other.sequence} at {other.at}"
        link.into.note(at, 104, said, "a clock was wrong, or an entry was dated back: ask who sealed it")
    link.latest = (when, entry)


def _signed(link: _Link, at: Location, entry: Entry) -> None:
    if not link.signatures or entry.signature is None:
        return
    from conserve.seal.signing import verify

    if verify(entry) is Truth.NO:
        said = f"the signature of entry {entry.sequence} does not fit what it says"
        link.into.note(at, 106, said, "ask whose key it is, and who altered the entry after it was signed")
