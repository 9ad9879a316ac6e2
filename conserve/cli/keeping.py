"""The command that tells how much of the fabric of each phase is left, through time: ledger."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.account import UNITS
from conserve.cli.parser import takes_day, takes_json, takes_one_casebook, takes_rules, with_example
from conserve.cli.reading import chosen_from, find, new_file, read_all, shown_path
from conserve.cli.showing import as_json, counted, in_colour, table, wrapped
from conserve.files import Folder

if TYPE_CHECKING:
    from conserve.ledger import Ledger, Measure

DONE = 0


def add_ledger(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    parser.add_argument("--of", metavar="COMPONENT", help="of this component, with all that belongs to it")
    parser.add_argument("--by", choices=tuple(UNITS), help="one measure alone; otherwise all four")
    takes_day(parser, "how it stood on this day; otherwise on the latest day in the casebook")
    parser.add_argument("--svg", metavar="FILE", help="write it as a drawing into this new file")
    parser.add_argument("--entries", action="store_true", help="tell every entry")
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve ledger casebook/marrow-fen",
        "conserve ledger casebook/marrow-fen --of guide-bar-top --entries",
        "conserve ledger casebook/marrow-fen --by metal --svg metal.svg",
    )
    parser.set_defaults(run=ledger)


def ledger(given: argparse.Namespace) -> int:
    target = new_file(given.svg) if given.svg is not None else None
    read = read_all(find(given.casebook), given.rules, json=given.json)
    from conserve.ledger import ledger_of  # slow to load, and of no use where the input is broken
    from conserve.ledger.telling import data

    of = chosen_from("component", given.of, read.casebook.components) if given.of is not None else ""
    found = ledger_of(read.casebook, read.rulebook.vocabulary, of, given.day)
    if given.by:
        found = found.only(given.by)
    if target is not None:
        _draw(found, target)
    if given.json:
        print(as_json({"casebook": read.casebook.id, **data(found)}))
    else:
        print("\n".join(_told(found, given.entries)))
        if target is not None:
            print(f"\n{shown_path(target)} is written.")
    return DONE


def _draw(found: Ledger, target: Path) -> None:
    from conserve.ledger import drawing

    Folder(target.parent).add(target.name, f"{drawing(found).svg}\n".encode())


# ---- on a screen --------------------------------------------------------------------------------------


def _told(found: Ledger, entries: bool) -> Iterator[str]:
    """The balances, how the shares came about, what is decided, and what does not balance."""
    from conserve.ledger import telling

    yield in_colour(f"Fabric ledger of {found.title}, as at {found.on.isoformat()}", "strong")
    yield wrapped(f"{counted(found.parts, 'part')}. {telling.NEVER_ONE}")
    for measure in found.measures:
        yield from _measure(found, measure)
    for title, lines in (
        ("Entries", [telling.entry_says(one, found) for one in found.entries] if entries else []),
        ("Decided and not done, and in no balance above", list(telling.planned_says(found))),
        ("What does not balance, or keeps a balance from being told", list(telling.remarks_say(found))),
    ):
        if lines:
            yield f"\n{in_colour(title, 'strong')}"
            yield from (wrapped(said, "      ", "    ") for said in lines)
    if not entries and found.entries:
        yield f"\n{counted(len(found.entries), 'entry', 'entries')}: told with --entries"


def _measure(found: Ledger, measure: Measure) -> Iterator[str]:
    from conserve.ledger import telling

    yield f"\n{in_colour(telling.MEASURES[measure.name], 'strong')}, {telling.HOW[measure.name]}"
    rows = list(telling.rows_of(measure, found))
    yield table(telling.HEAD, rows) if rows else wrapped("No part had joined by then.", "  ", "  ")
    if telling.untold_says(measure):
        yield wrapped(telling.untold_says(measure), "  ", "  ")
    changes = list(telling.through_time(measure, found))
    if changes:
        yield f"\n{table(('from', 'fabric', 'share in place'), changes)}"
