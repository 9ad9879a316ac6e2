"""The commands of the evidence register: add a file, check the files against it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.parser import Parser, takes_casebook, takes_json, takes_one_casebook, takes_rules, with_example
from conserve.cli.reading import Broken, Place, Refused, find, problem_as_json, read_again, read_all, read_words
from conserve.cli.showing import as_json, blocks_with_progress, counted, in_colour, wrapped
from conserve.files import Folder, in_turn

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from conserve.evidence import Addition, Remark
    from conserve.problem import Problem

DONE, BROKEN = 0, 2
_ONE = (
    ("kind", "KIND", "what it is, such as photograph or report; otherwise by the ending of its name"),
    ("date", "DATE", "the day it was made; otherwise the one on which a camera says it was taken"),
    ("by", "NAME", "who made it"),
    ("shows", "WORDS", "what is to be seen on it or read in it"),
    ("method", "WORDS", "how it was made or measured"),
    ("instrument", "INSTRUMENT", "what it was measured with, such as dial-indicator"),
    ("serial", "NUMBER", "which one of its kind the instrument was"),
    ("calibrated", "DATE", "when the instrument had last been calibrated, or none"),
    ("rights", "WORDS", "whose it is, and on what terms it may be used"),
    ("show", "WHOM", "who may be shown it: anyone, reviewers or nobody"),
)
_MANY = (
    ("about", "COMPONENT", "the component it is about, or object; may be said more than once"),
    ("answers", "RULE", "a requirement or question that it answers; may be said more than once"),
)


def add_evidence(parser: argparse.ArgumentParser) -> None:
    with_example(parser, "conserve evidence check casebook/marrow-fen")
    below = parser.add_subparsers(title="what to do with it", metavar="WHAT", required=True, parser_class=Parser)
    said = "Copy a file into the casebook, byte for byte, and enter it in the register."
    _add(below.add_parser("add", help="take a file in as evidence", description=said))
    said = "Read every registered file and say what does not fit between the files and the register."
    _check(below.add_parser("check", help="hold the register against its files", description=said))


def _add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the file, which stays where it is")
    parser.add_argument("--id", default="", metavar="ID", help="the name of its entry; otherwise after the file's name")
    for name, word, does in _ONE:
        parser.add_argument(f"--{name}", metavar=word, help=does)
    for name, word, does in _MANY:
        parser.add_argument(f"--{name}", metavar=word, action="append", default=[], help=does)
    said = "show a copy without the metadata that may say where it was taken (JPEG and PNG)"
    parser.add_argument("--hide-location", action="store_true", help=said)
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve evidence add bracket.jpg --about tray-bracket-left --by 'L. Fearn'"
        " --shows 'Left bracket from below, with a scale' --show reviewers --hide-location",
    )
    parser.set_defaults(run=add)


def _check(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(parser, "conserve evidence check casebook/marrow-fen")
    parser.set_defaults(run=check)


# ---- add ----------------------------------------------------------------------------------------------------------


def add(given: argparse.Namespace) -> int:
    from conserve.evidence import CannotHide, NotAdded

    place = find(None, given.inside)
    try:
        with in_turn(place.root):
            added = _taken_in(given, place)
    except (NotAdded, CannotHide) as refused:
        raise Refused(str(refused), refused.hint) from None
    told = {
        "entry": added.id,
        "file": f"{place.shown}/{added.name}",
        "shown_as": f"{place.shown}/{added.shown}" if added.shown else None,
        "digest": added.facts.digest,
        "size": added.facts.size,
        "said": added.said,
        "told": added.told,
    }
    print(as_json(told) if given.json else "\n".join(_added(added, place)))
    return DONE


def _taken_in(given: argparse.Namespace, place: Place) -> Addition:
    from conserve.evidence import addition, take_in

    before = read_all(place, given.rules, json=given.json)
    said = {name: getattr(given, name) or "" for name, *_ in _ONE}
    many = {name: tuple(getattr(given, name)) for name, *_ in _MANY}
    told = addition(
        Path(given.file),
        place.root,
        before.casebook.evidence,
        {**said, **many},
        given.id,
        given.hide_location,
        blocks_with_progress,
    )
    try:
        after = read_again(before, told.seen_with(place.root), json=given.json)
    except Broken as broken:
        raise (broken if given.json else _does_not_fit(broken, told.id)) from None
    others = {name: item for name, item in after.casebook.evidence.items() if name != told.id}
    if others != before.casebook.evidence or told.id not in after.casebook.evidence:
        raise Refused("the register is written so that no entry can be put at its end", "write the entry by hand")
    take_in(place.root, told, blocks_with_progress)
    return told


def _does_not_fit(broken: Broken, entry: str) -> Exception:
    """Problems of the entry that is to be, told of the options that say it."""
    known = {name for name, *_ in (*_ONE, *_MANY)}
    lines = []
    for problem in broken.problems:
        head, _, tail = problem.where.at.partition(".")
        key = tail.partition(".")[0]
        if problem.where.at == entry or (head == entry and not key):
            key = "id"
        elif head != entry or key not in known:
            return broken
        hint = f" ({problem.hint})" if problem.hint else ""
        lines.append(f"\n  --{key}: {problem.code} {problem.message}{hint}")
    return Refused(f"what is said of it does not fit, and nothing was added:{''.join(lines)}")


def _added(added: Addition, place: Place) -> Iterator[str]:
    did = "is copied in and registered" if added.copied else "is registered where it is"
    yield f"{place.shown}/{added.name} {did}, as '{added.id}'."
    if added.shown:
        yield f"{place.shown}/{added.shown} is what is shown of it."
    yield from (wrapped(told, "    ", "  ") for told in added.told)


# ---- check --------------------------------------------------------------------------------------------------------


def check(given: argparse.Namespace) -> int:
    from conserve.evidence import Remark, checked, held_against

    place = find(given.casebook)
    broken = Broken((), {place.shown: Folder(place.root)}, False, answer=True)
    try:
        read = read_all(place, given.rules)
        entries = read.casebook.evidence
        found = list(checked(read.casebook, read.folder, blocks_with_progress))
    except Broken as of_casebook:  # the register may be sound where the rest is not
        from conserve.casebook import read_register

        broken, folder = of_casebook, Folder(place.root)
        entries, of_register = read_register(folder, read_words(given.rules), place.shown)
        found = [*broken.problems, *of_register, *held_against(entries, folder, place.shown, blocks_with_progress)]
    problems = sorted({one for one in found if not isinstance(one, Remark)})
    remarks = sorted({one for one in found if isinstance(one, Remark)})
    if given.json:
        print(as_json(_as_json(place, len(entries), problems, remarks)))
    else:
        print("\n".join(_told(broken.with_these(problems), len(entries), problems, remarks)))
    return BROKEN if problems else DONE


def _as_json(place: Place, entries: int, problems: Iterable[Problem], remarks: Iterable[Remark]) -> dict[str, object]:
    return {
        "casebook": place.name,
        "entries": entries,
        "problems": [problem_as_json(one) for one in problems],
        "remarks": [{**one.where._asdict(), "says": one.says} for one in remarks],
    }


def _told(broken: Broken, entries: int, problems: list[Problem], remarks: list[Remark]) -> Iterator[str]:
    if problems:
        yield broken.shown().removesuffix(" Nothing was weighed.")
    for one in remarks:
        yield wrapped(f"{one.where.file}:{one.where.line}: {one.says}", "    ", "  ")
    if not problems:
        counts = f"{counted(entries, 'entry', 'entries')} and their files fit together"
        yield in_colour(f"{counts}; {counted(len(remarks), 'remark')}." if remarks else f"{counts}.", "good")
