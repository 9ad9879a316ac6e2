"""What does not fit in a chain itself: its lines, its order in time, what is kept beside it, the codes given away."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import UTC, date, datetime

from conserve.audit.given import Given, day_of
from conserve.audit.model import Kind, Point
from conserve.files import FileRefused
from conserve.problem import Problem
from conserve.seal import all_kept, read_witness, verify, where_witnessed
from conserve.seal.model import CHAIN, Chain, Entry
from conserve.truth import Truth

_EARLIER = "C104"  # sealed earlier than the entry before it
_LONGEST_NOTE = 50_000_000  # bytes of a note that a bundle was sent


def chain_points(given: Given, witnesses: Sequence[str] = ()) -> Iterator[Point]:
    """Every point about the chain as a whole. `witnesses` are codes that left the house on paper."""
    yield from (_of(problem, given) for problem in given.chain.problems)
    for entry in given.chain.entries:
        yield from _dated(entry, given)
        yield from _superseding(entry, given)
    yield from _unverified(given)
    yield from _kept_for_nobody(given)
    for code in witnesses:
        yield from _witnessed(code, "", "a code on paper", given.chain)
    for file, code in _sent(given):
        yield from _witnessed(code, file, "the bundle that was sent", given.chain)


def _of(problem: Problem, given: Given) -> Point:
    kind = Kind.BACK_DATED if problem.code == _EARLIER else Kind.CHAIN
    return Point(kind, f"The chain: {problem.message}. ({problem.code})", where=given.where(problem.where))


def _dated(entry: Entry, given: Given) -> Iterator[Point]:
    """A seal that is dated before its own decision, or after the day of the audit."""
    sealed, where = day_of(entry.at), given.line_of(entry)
    what = f"Entry {entry.sequence} is dated {sealed}"
    if entry.decision and sealed.isoformat() < entry.decision.on:
        says = f"{what}, before the decision that it seals was made, on {entry.decision.on}."
        yield Point(Kind.BACK_DATED, says, entry.decision.proposal, where)
    if entry.decision and entry.decision.weighed_on < entry.decision.on:
        says = f"Entry {entry.sequence} seals what was decided on {entry.decision.on} as it was weighed on "
        says += f"{entry.decision.weighed_on}, before that."
        yield Point(Kind.BACK_DATED, says, entry.decision.proposal, where)
    if _earliest_day(entry.at) > given.day:
        about = entry.decision or entry.note
        assert about is not None
        yield Point(Kind.BACK_DATED, f"{what}, after the day of this audit, {given.day}.", about.proposal, where)


def _earliest_day(at: str) -> date:
    """The day of a seal where it was made or at Greenwich: east of an audit, the day after has begun already."""
    try:
        return min(day_of(at), datetime.fromisoformat(at).astimezone(UTC).date())
    except OverflowError:
        return day_of(at)


def _superseding(entry: Entry, given: Given) -> Iterator[Point]:
    """An entry that takes the place of one which the chain does not have."""
    over = entry.decision.supersedes if entry.decision else None
    before = [(one.entry.sequence, one.entry.digest) for one in given.of(over.proposal)] if over else []
    if over and (over.sequence, over.entry) not in before:
        says = (
            f"Entry {entry.sequence} takes the place of entry {over.sequence}, and that is not in the chain as named."
        )
        yield Point(Kind.CHAIN, says, over.proposal, given.line_of(entry))


def _unverified(given: Given) -> Iterator[Point]:
    """That signatures cannot be checked here. Those that do not fit are among the problems of the chain."""
    signed = [entry for entry in given.chain.entries if entry.signature]
    if signed and verify(signed[0]) is Truth.UNKNOWN:
        says = f"{len(signed)} of its entries are signed, and no signature can be checked: a library is not installed."
        yield Point(Kind.CANNOT_TELL, says, where=CHAIN)


def named(entry: Entry, lists: Mapping[str, Mapping[str, str]]) -> Iterator[tuple[str, str]]:
    """Everything that an entry says is kept: what it is, in words, and its digest. `lists` are those that are kept."""
    if entry.decision:
        name = entry.decision.proposal
        yield f"the proof of '{name}'", entry.decision.proof
        yield f"the record of '{name}'", entry.decision.record
        yield f"the list of files behind '{name}'", entry.decision.files
        yield f"the list of evidence behind '{name}'", entry.decision.evidence
        yield from ((f"'{file}'", digest) for file, digest in lists.get(entry.decision.files, {}).items())
    if entry.note:
        yield f"the note '{entry.note.note}'", entry.note.file


def _kept_for_nobody(given: Given) -> Iterator[Point]:
    """What was kept for a seal that no entry holds: perhaps its entry was taken off the end."""
    known = {digest for entry in given.chain.entries for _, digest in named(entry, given.lists)}
    try:
        stray = [digest for digest in all_kept(given.folder) if digest not in known]
    except FileRefused as refused:
        yield Point(Kind.SEALED_ALTERED, f"What was kept cannot be read: {refused.reason}.", where="sealed")
        return
    if stray:
        what = "a kept file that no entry names" if len(stray) == 1 else f"{len(stray)} kept files that no entry names"
        says = f"There is {what}: entries may have been taken off the chain, or a machine stopped while it was sealing."
        says = says if len(stray) == 1 else says.replace("There is", "There are")
        yield Point(Kind.CHAIN, says, where=f"sealed/{stray[0]}.gz")


def witnessed(given: Given, witnesses: Sequence[str]) -> tuple[int, ...]:
    """The entries that codes which left the house are of: up to these the chain is as it was then."""
    found = set()
    for code in (*witnesses, *(code for _, code in _sent(given))):
        with suppress(ValueError):
            if entry := where_witnessed(code, given.chain):
                found.add(entry.sequence)
    return tuple(sorted(found))


# ---- codes that left the house -----------------------------------------------------------------------------------


def _sent(given: Given) -> Iterator[tuple[str, str]]:
    """The codes that went along with bundles, by the file that says so."""
    try:
        names = given.folder.names("sent", ".json")
    except FileRefused:
        return
    for name in names:
        try:
            told = json.loads(given.folder.read_bytes(name, _LONGEST_NOTE))
        except (FileRefused, ValueError, RecursionError):
            continue  # told by those who read bundles
        code = told.get("witness") if isinstance(told, dict) else None
        if isinstance(code, str) and code:
            yield name, code


def _witnessed(code: str, file: str, what: str, chain: Chain) -> Iterator[Point]:
    try:
        number, _ = read_witness(code)
    except ValueError as error:
        yield Point(Kind.CANNOT_TELL, f"'{code}' on {what} cannot be read as a code: {error}", where=file)
        return
    if where_witnessed(code, chain) is None:
        says = f"{what[:1].upper()}{what[1:]} says '{code}', and this chain never came to that with {number} entries: "
        yield Point(Kind.CHAIN, f"{says}it was cut short, or written anew.", where=file)
