"""The command that says how ready a casebook is for a purpose: readiness."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

from conserve.cli.parser import takes_day, takes_json, takes_one_casebook, takes_rules, with_example
from conserve.cli.reading import (
    Broken,
    Place,
    Read,
    Refused,
    at_their_place,
    chosen_from,
    find,
    read_all,
    rules_folder,
    shown_path,
)
from conserve.cli.showing import as_json, in_colour, screen_width, table, wrapped
from conserve.cli.weighing import weigh_these
from conserve.files import Folder
from conserve.problem import InvalidInput

if TYPE_CHECKING:
    from conserve.readiness.bills import Table
    from conserve.readiness.model import Profile, Readiness
    from conserve.readiness.telling import Told

DONE = 0
_COLOURS = {"[x]": "good", "[~]": "doubt", "[ ]": "bad"}


def add_readiness(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    parser.add_argument("--for", dest="purpose", metavar="PROFILE", help="the purpose, such as repair-grant")
    parser.add_argument("--list", action="store_true", help="list the purposes there are")
    takes_day(parser, "as on this day; otherwise as on the latest day in the casebook")
    parser.add_argument("--markdown", action="store_true", help="print Markdown, for a page")
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve readiness casebook/marrow-fen --for repair-grant",
        "conserve readiness casebook/marrow-fen --for trustee-approval --on 2026-06-01",
        "conserve readiness casebook/marrow-fen --list",
    )
    parser.set_defaults(run=readiness)


def readiness(given: argparse.Namespace) -> int:
    if given.list:
        return _list(given)
    place = find(given.casebook)
    if given.purpose is None:
        known = ", ".join(_names(place, given.rules))
        raise Refused("say what it is to be ready for", f"--for PROFILE, one of {known}")
    chosen_from("profile", given.purpose, _names(place, given.rules))
    read = read_all(place, given.rules, json=given.json)
    profile = read_one(read, given.rules, given.purpose, json=given.json)
    found = ready_for(profile, read, given)
    from conserve.readiness import telling

    if given.json:
        print(as_json(telling.as_data(found)))
    elif given.markdown:
        print(telling.markdown(found).rstrip("\n"))
    else:
        print("\n".join(_told(telling.told(found))))
    return DONE


def ready_for(profile: Profile, read: Read, given: argparse.Namespace) -> Readiness:
    from conserve.readiness import readiness as looked_into  # slow to load, and of no use where the input is broken

    weighings = weigh_these(read.casebook.proposals, read, given.day)
    day = given.day or read.casebook.as_at
    return looked_into(profile, weighings, read.casebook, read.rulebook, read.folder, day)


def read_one(read: Read, rules: str | None, name: str, *, json: bool = False) -> Profile:
    """Read a profile, or raise every problem in it."""
    from conserve.readiness.profiles import read_profile

    root = rules_folder(rules)
    try:
        return read_profile(read.folder, name, read.rulebook, Folder(root), read.place.shown)
    except InvalidInput as wrong:
        folders = {shown_path(root): Folder(root), read.place.shown: read.folder}
        own = [one for one in wrong.problems if not one.where.file.startswith("rules/")]
        along = at_their_place((one for one in wrong.problems if one not in own), root)
        raise Broken((*own, *along), folders, json, answer=False) from None


def _names(place: Place, rules: str | None) -> dict[str, bool]:
    from conserve.readiness.profiles import profiles_of

    return profiles_of(Folder(place.root), Folder(rules_folder(rules)))


def _list(given: argparse.Namespace) -> int:
    read = read_all(find(given.casebook), given.rules, json=given.json)
    names = _names(read.place, given.rules)
    profiles = [(read_one(read, given.rules, name, json=given.json), own) for name, own in names.items()]
    if given.json:
        listed = [
            {"profile": p.id, "title": p.title, "own": own, "audience": str(p.audience), "requires": len(p.wanted)}
            for p, own in profiles
        ]
        print(as_json({"profiles": listed}))
    else:
        rows = [(p.id, p.title, "this casebook's" if own else "came along", str(len(p.wanted))) for p, own in profiles]
        print(table(("profile", "title", "whose", "asks for"), rows))
        print("For one: conserve readiness --for PROFILE. A new one is a file under the casebook's profiles/.")
    return DONE


# ---- on a screen --------------------------------------------------------------------------------------


def _told(said: Told) -> Iterator[str]:
    yield in_colour(said.title, "strong")
    yield from (in_colour(wrapped(line, "  ", "! "), "bad") for line in said.cautions)
    yield from (wrapped(line, "  ") for line in said.head)
    if said.first:
        yield f"\n{in_colour('What to mend first', 'strong')}"
        yield from (wrapped(one, "     ", f"{number:>3}. ") for number, one in enumerate(said.first, 1))
    yield f"\n{in_colour('What is asked for', 'strong')}"
    for sign, head, found, mends in said.wanted:
        yield wrapped(head, " " * 15, f"  {in_colour(sign, _COLOURS[sign[:3]])}  ")
        yield from (wrapped(one, " " * 15, " " * 15) for one in found)
        yield from (wrapped(one, " " * 17, f"{' ' * 15}> ") for one in mends)
    if said.strays:
        yield f"\n{in_colour('Answers to nothing', 'strong')}"
        yield from (wrapped(one, "    ", "  - ") for one in said.strays)
    yield f"\n{in_colour('What it costs and what it changes', 'strong')}"
    yield from (wrapped(line, "  ") for line in said.money)
    for each in said.tables:
        yield f"\n{in_colour(each.title, 'strong')}"
        yield _table(each)


def _table(given: Table) -> str:
    """A table on the screen; where it is too wide, each row on two lines."""
    said = table(given.head, given.rows)
    if max(map(len, said.split("\n"))) <= screen_width():
        return said
    lines = []
    for first, second, *rest in given.rows:
        below = "; ".join(f"{name}: {cell}" for name, cell in zip(given.head[2:], rest, strict=True))
        lines += [wrapped(f"{first}: {second}", "      ", "  "), wrapped(below, "      ")]
    return "\n".join(lines)
