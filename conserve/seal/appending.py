"""Put one more entry at the end of a chain: in one write, and only where all that is there already is sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from conserve.files import FileRefused, Folder, digest_of
from conserve.seal.chain import read_chain
from conserve.seal.entry import as_said, digest_of_entry, line_of, read_line, to_be_signed
from conserve.seal.keeping import TORN
from conserve.seal.model import CHAIN, FIRST, Chain, Entry, SealedDecision, SealedNote, Signature
from conserve.seal.refused import NotSealed
from conserve.seal.values import NotAnEntry, moment

Sign = Callable[[bytes], Signature]


def append(folder: Folder, what: SealedDecision | SealedNote, at: str, by: str, sign: Sign | None = None) -> Entry:
    """Seal something: write its entry, flushed to the disk, and give it. The caller holds `files.in_turn`.

    A torn last line is set aside first. Raises `NotSealed` where the chain has other problems, where `at` is earlier
    than the last entry, and where there would be no sound entry; then nothing is written.
    """
    chain = chain_to_seal_in(folder)
    next_entry(chain, what, at, by)
    return appended(folder, mended(folder, chain), what, at, by, sign).entries[-1]


def appended(
    folder: Folder, chain: Chain, what: SealedDecision | SealedNote, at: str, by: str, sign: Sign | None = None
) -> Chain:
    """The same for one who holds the turn and knows the chain as it stands, mended; gives it with its new entry."""
    entry = next_entry(chain, what, at, by)
    if sign is not None:
        entry = replace(entry, signature=sign(to_be_signed(as_said(entry))))
    entry = replace(entry, digest=digest_of_entry(as_said(entry)))
    folder.append(CHAIN, line_of(entry))
    return Chain((*chain.entries, entry), ())


def next_entry(chain: Chain, what: SealedDecision | SealedNote, at: str, by: str) -> Entry:
    """The next entry, as yet without signature and digest; `NotSealed` where it could not be read again."""
    must_be_later(chain, at)
    entry = Entry(len(chain.entries) + 1, chain.head, at, by, what, None, FIRST)
    try:
        read_line(line_of(entry)[:-1])
    except NotAnEntry as reason:
        raise NotSealed(f"no entry can be made of it: {reason}", "write it with plain signs") from None
    return entry


def must_be_later(chain: Chain, at: str) -> None:
    """Raise `NotSealed` where a moment is none, or is earlier than the last entry."""
    try:
        when = moment(at)
    except NotAnEntry as reason:
        raise NotSealed(f"{at!a} cannot be when it is sealed: {reason}", "such as 2026-03-01T14:05:00+01:00") from None
    last = chain.entries[-1] if chain.entries else None
    if last is not None and when < moment(last.at):
        said = f"{at} is before the last seal, entry {last.sequence} at {last.at}"
        raise NotSealed(said, "a seal is never dated back: seal without naming a moment, or look at the clock")


def chain_to_seal_in(folder: Folder) -> Chain:
    """The chain as it stands; `NotSealed` where it has a problem other than a last line without its end."""
    chain = read_chain(folder, ".")
    wrong = [one for one in chain.problems if one.code != "C105"]
    if wrong:
        first, more = wrong[0], f", and {len(wrong) - 1} more" if len(wrong) > 1 else ""
        said = f"the chain is not whole, and nothing is sealed in it: line {first.where.line}: {first.message}{more}"
        raise NotSealed(said, first.hint)
    return chain


def mended(folder: Folder, chain: Chain) -> Chain:
    """The chain ending with a whole line: what is torn off is set aside in `sealed/` before it is cut."""
    if not chain.problems:
        return chain
    if chain.torn:
        try:
            folder.add(f"{TORN}{digest_of((chain.torn,))}", chain.torn)
        except FileRefused as refused:
            if refused.kind != "there":
                raise
        folder.cut(CHAIN, sum(len(line_of(entry)) for entry in chain.entries))
    else:
        folder.append(CHAIN, b"\n")
    return Chain(chain.entries, ())
