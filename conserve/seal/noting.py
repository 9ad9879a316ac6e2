"""Seal a reviewer's note: its file is written, what it says is kept, and its line of the chain comes last."""

from __future__ import annotations

from conserve.files import FileRefused, Folder, digest_of
from conserve.notes import file_of
from conserve.seal.appending import Sign, appended, chain_to_seal_in, mended, next_entry
from conserve.seal.keeping import KEPT, keep
from conserve.seal.model import Chain, Entry, SealedNote
from conserve.seal.refused import NotSealed


def seal_note(
    folder: Folder, name: str, proposal: str, data: bytes, at: str, by: str, sign: Sign | None = None
) -> Entry:
    """Write a note as `notes/NAME.yaml` and seal it. The caller holds `files.in_turn` and has read the note.

    A note that was written and not sealed, because a machine stopped in between, is sealed if it says the same.
    Raises `NotSealed` where the chain is not whole, where `at` is earlier than the last entry, and where the name is
    taken; then nothing is written.
    """
    chain = chain_to_seal_in(folder)
    for under in (KEPT, "notes"):
        folder.sweep(under)
    whole = [one.sequence for one in chain.entries if one.decision and one.decision.proposal == proposal]
    what = SealedNote(name, digest_of((data,)), proposal, max(whole, default=None))
    next_entry(chain, what, at, by)
    _must_be_free(folder, chain, name, data)
    keep(folder, data)
    if not folder.has(file_of(name)):
        folder.add(file_of(name), data)
    return appended(folder, mended(folder, chain), what, at, by, sign).entries[-1]


def _must_be_free(folder: Folder, chain: Chain, name: str, data: bytes) -> None:
    hint = "give this one another name with --id; a note is answered, never edited"
    if any(one.note and one.note.note == name for one in chain.entries):
        raise NotSealed(f"a note '{name}' was sealed already", hint)
    try:
        other = folder.has(file_of(name)) and folder.read_bytes(file_of(name)) != data
    except FileRefused as refused:
        raise NotSealed(refused.reason, hint) from None
    if other:
        raise NotSealed(f"there is a note '{name}' already, and it says something else", hint)
