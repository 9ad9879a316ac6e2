"""The command that puts a bundle of evidence together: pack."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.parser import (
    a_day,
    own_version,
    takes_day,
    takes_json,
    takes_one_casebook,
    takes_rules,
    with_example,
)
from conserve.cli.reading import Read, Refused, chosen_from, find, how_to_install, read_all, rules_folder, shown_path
from conserve.cli.readying import read_one
from conserve.cli.showing import as_json, counted, wrapped
from conserve.cli.weighing import weigh_these
from conserve.files import Folder

if TYPE_CHECKING:
    from datetime import date

    from conserve.casebook import Casebook
    from conserve.pack import Packed
    from conserve.rulebook import Rulebook
    from conserve.weighing import Weighing

DONE = 0


def add_pack(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    said = "what it is for: a profile, as 'conserve readiness --list' names them"
    parser.add_argument("--for", dest="profile", metavar="PROFILE", required=True, help=said)
    parser.add_argument("--to", metavar="FOLDER", default=".", help="where it will stand; otherwise here")
    parser.add_argument("--word", action="store_true", help="put the statement in as a Word document too")
    parser.add_argument("--pdf", action="store_true", help="put the statement in as a PDF too")
    said = "note in the casebook that it was sent on this day, so that 'conserve check' can tell when it is overtaken"
    parser.add_argument("--sent", metavar="DATE", type=a_day, help=said)
    parser.add_argument("--recipient", metavar="NAME", help="to whom it was sent")
    takes_day(parser, "put it together as on this day; otherwise as on the latest day in the casebook")
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve pack casebook/marrow-fen --for repair-grant --to ..",
        "conserve pack casebook/marrow-fen --for repair-grant --to .. --sent 2026-05-11 --recipient 'The fund'",
    )
    parser.set_defaults(run=pack)


def pack(given: argparse.Namespace) -> int:
    if (given.sent is None) is not (given.recipient is None):
        raise Refused("a bundle is sent on a day and to somebody", "give both --sent DATE and --recipient NAME")
    if given.recipient is not None and not (given.recipient.strip() and given.recipient.isprintable()):
        raise Refused("that is no name of a recipient", "--recipient NAME, on one line")
    for asked, library, extra in ((given.word, "docx", "word"), (given.pdf, "typst", "pdf")):
        if asked and find_spec(library) is None:
            raise Refused(f"--{extra} needs what is not installed here", how_to_install(extra))
    read = read_all(find(given.casebook), given.rules, json=given.json)
    from conserve import pack as packing  # slow to load, and of no use where the input is broken

    day = given.day or read.casebook.as_at
    try:
        packed, note = _packed(given, read, day)
    except packing.NotPacked as why:
        raise Refused(str(why), why.hint) from None
    print(as_json(_as_json(packed, note)) if given.json else _told(packed, note, read))
    return DONE


def _packed(given: argparse.Namespace, read: Read, day: date) -> tuple[Packed, str]:
    from conserve import pack as packing
    from conserve.readiness.profiles import profiles_of

    rules = Folder(rules_folder(given.rules))
    name = chosen_from("profile", given.profile, profiles_of(read.folder, rules))
    profile = read_one(read, given.rules, name, json=given.json)
    to = Path(given.to)
    packing.check_place(read.folder.root, rules.root, to, f"{read.casebook.id}-{profile.id}-{day.isoformat()}")
    if given.sent is not None:
        packing.check_unsent(read.folder, profile.id, given.sent, day)

    def weigh(casebook: Casebook, rulebook: Rulebook) -> tuple[Weighing, ...]:
        return weigh_these(casebook.proposals, replace(read, casebook=casebook, rulebook=rulebook), day)

    asked = packing.Asked(
        folder=read.folder,
        casebook=read.casebook,
        rules=rules,
        rulebook=read.rulebook,
        weighings=weigh(read.casebook, read.rulebook),
        profile=profile,
        day=day,
        to=to,
        version=own_version(),
        word=given.word,
        pdf=given.pdf,
    )
    meter = _Meter()
    try:
        packed = packing.pack(asked, weigh, meter.more, lambda name: meter.say(f"making {name}"))
    finally:
        meter.end()
    note = "" if given.sent is None else packing.note_sent(asked, packed, given.sent, given.recipient)
    return packed, note


class _Meter:
    """Says how far it has come, where standard error is a terminal."""

    __slots__ = ("_done", "_shown")

    def __init__(self) -> None:
        self._done = 0
        self._shown = ""

    def more(self, size: int) -> None:
        self._done += size
        if self._done >= 10_000_000:  # less is copied before anyone has read of it
            self.say(f"copying: {self._done // 10_000_000 * 10:,} MB")

    def say(self, what: str) -> None:
        if sys.stderr.isatty() and what != self._shown:
            self._shown = what
            print(f"\r\x1b[K{what}", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        if self._shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def _told(packed: Packed, note: str, read: Read) -> str:
    folder = shown_path(packed.folder)
    withheld = counted(len(packed.withheld), "piece of evidence is", "pieces of evidence are")
    lines = [
        f"{folder} and {shown_path(packed.zip)} are written: {counted(packed.files, 'file')}, {_size(packed.size)}.",
        wrapped(f"{withheld} withheld; {folder}/data/GUIDE.txt says which, and why." if packed.withheld else ""),
        wrapped("It certifies nothing. Read data/GUIDE.txt before you send it: it is what the reader sees first."),
        f"SHA-256 of tagmanifest-sha256.txt, to be told by another way:\n  {packed.seal}",
    ]
    if note:
        lines.append(f"{read.place.shown}/{note} says that it was sent.")
    return "\n".join(filter(None, lines))


def _size(size: int) -> str:
    return f"{size / 1_000_000:,.1f} MB" if size >= 100_000 else f"{size:,} bytes"


def _as_json(packed: Packed, note: str) -> dict[str, object]:
    return {
        "folder": str(packed.folder),
        "zip": str(packed.zip),
        "files": packed.files,
        "bytes": packed.size,
        "withheld": [{"id": one.id, "why": one.why} for one in packed.withheld],
        "manifest": packed.manifest,
        "seal": packed.seal,
        "sent": note or None,
    }
