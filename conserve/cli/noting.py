"""The command by which a reviewer says what they think of a decision: note."""

from __future__ import annotations

import argparse
from datetime import datetime
from itertools import count
from typing import TYPE_CHECKING

from conserve.cli.parser import takes_casebook, takes_json, takes_rules, takes_seal, with_example
from conserve.cli.reading import Read, Refused, find, read_all
from conserve.cli.sealing import key_of, refused, when, witness_told
from conserve.cli.showing import as_json
from conserve.files import WithMore

if TYPE_CHECKING:
    from collections.abc import Callable

    from conserve.seal import Entry, Signature

DONE = 0
_STANDS = ("agree", "query", "dissent", "answer")


def add_note(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("proposal", metavar="PROPOSAL", help="the proposal whose decision it is about")
    parser.add_argument("--stand", choices=_STANDS, required=True, help=f"how you stand to it: {', '.join(_STANDS)}")
    parser.add_argument("--says", metavar="TEXT", required=True, help="the reason")
    parser.add_argument("--competence", metavar="WORDS", default="", help="what lets you judge it")
    parser.add_argument("--answers", metavar="NOTE", default="", help="of an answer: the note that it answers")
    parser.add_argument("--id", metavar="ID", help="the note's name; otherwise the proposal's with a number")
    takes_seal(parser, always=True)
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve note bell-blow --stand query --by 'A. Reeve' --says 'Was the weight of the hammer read?'",
        "conserve note bell-blow --stand answer --answers bell-blow-1 --by 'N. Garrow' --says 'Yes, on 2 March.'",
    )
    parser.set_defaults(run=note)


def note(given: argparse.Namespace) -> int:
    from conserve.files import in_turn

    place, sign, at = find(given.proposal, given.inside), key_of(given), when(given)
    if not place.proposal:
        raise Refused("a note is about one proposal", "name it")
    with in_turn(place.root):
        read = read_all(place, given.rules, json=given.json)
        read.proposal(place.proposal)
        name = given.id or _free(read, place.proposal)
        entry = _sealed(name, _text(given, place.proposal, at), read, given, at, sign)
    if given.json:
        from conserve.seal import witness_of

        print(as_json({"note": name, "entry": entry.sequence, "at": entry.at, "witness": witness_of(entry)}))
    else:
        print(f"{place.shown}/notes/{name}.yaml is written, and sealed as entry {entry.sequence}.")
        print("\n".join(witness_told(entry)))
    return DONE


def _free(read: Read, proposal: str) -> str:
    """The first name after the proposal's that no note has."""
    there = set(read.folder.names("notes", ".yaml"))
    return next(f"{proposal}-{n}" for n in count(1) if f"notes/{proposal}-{n}.yaml" not in there)


def _text(given: argparse.Namespace, proposal: str, at: str) -> bytes:
    from conserve.notes import text_of

    try:
        day = datetime.fromisoformat(at).date().isoformat()
    except ValueError:
        raise Refused(f"'{at}' is no moment", "write it with its zone: 2026-03-01T14:05:00+01:00") from None
    said = {"about": proposal, "stand": given.stand, "by": given.by, "competence": given.competence, "date": day}
    return text_of({**said, "says": given.says, "answers": given.answers}).encode("utf-8")


def _sealed(
    name: str, data: bytes, read: Read, given: argparse.Namespace, at: str, sign: Callable[[bytes], Signature] | None
) -> Entry:
    """Write a note and seal it, or neither; it is read as it would stand before it does."""
    from conserve.notes import file_of, read_notes
    from conserve.seal import NotSealed, seal_note

    folder = WithMore(read.place.root, {file_of(name): data})
    _, problems = read_notes(folder, read.casebook, read.place.shown)
    own = [one for one in problems if one.where.file == f"{read.place.shown}/{file_of(name)}"]
    if own:
        said = "".join(f"\n  - {one.message}{f' ({one.hint})' if one.hint else ''}" for one in own)
        raise Refused(f"what the note says does not fit, and nothing was written:{said}")
    try:
        return seal_note(read.folder, name, read.place.proposal, data, at, given.by, sign)
    except NotSealed as error:
        raise refused(error) from None
