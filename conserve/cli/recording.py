"""The commands that write records and say what is owed: record, due."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING

from conserve.cli.parser import (
    takes_casebook,
    takes_day,
    takes_json,
    takes_one_casebook,
    takes_rules,
    takes_what,
    with_example,
)
from conserve.cli.reading import find, read_all
from conserve.cli.showing import as_json, counted, wrapped_lines
from conserve.cli.weighing import all_told, engines_told, weigh_these

if TYPE_CHECKING:
    from conserve.record.owed import Owed

DONE = 0


def add_record(parser: argparse.ArgumentParser) -> None:
    takes_what(parser)
    parser.add_argument("--html", action="store_true", help="write the records as web pages too")
    takes_day(parser, "weigh as on this day; otherwise as on the latest day in the casebook")
    takes_casebook(parser)
    takes_rules(parser)
    with_example(parser, "conserve record casebook/marrow-fen", "conserve record crosshead-slipper --html")
    parser.set_defaults(run=record)


def record(given: argparse.Namespace) -> int:
    read = read_all(find(given.what, given.inside), given.rules)
    from conserve.record import write_records  # slow to load, and of no use where the input is broken

    weighings = weigh_these(read.proposals(), read, given.day)  # all of them, before anything is written
    names = write_records(read.folder, weighings, read.rulebook, given.html)
    if len(weighings) == 1:
        print("\n".join(f"{read.place.shown}/{name}" for name in names))
        print(f"{counted(len(names), 'file')} written. {engines_told()}")
    else:
        print(all_told(weighings))
        print(f"{counted(len(names), 'file')} written to {read.place.shown}/records.")
    return DONE


def add_due(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    takes_day(parser, "what is owed on this day; otherwise today")
    takes_rules(parser)
    takes_json(parser)
    with_example(parser, "conserve due casebook/marrow-fen --on 2026-06-01")
    parser.set_defaults(run=due)


def due(given: argparse.Namespace) -> int:
    day = given.day or date.today()
    read = read_all(find(given.casebook), given.rules, json=given.json)
    from conserve.record.owed import owed, render  # slow to load, and of no use where the input is broken

    found = owed(weigh_these(read.proposals(), read, day), read.casebook, day)
    if given.json:
        print(as_json({"casebook": read.casebook.id, "on": day.isoformat(), "owed": [_as_json(one) for one in found]}))
    else:
        print(wrapped_lines(render(found, day)))
    return DONE


def _as_json(one: Owed) -> dict[str, str | None]:
    return {
        "on": one.on.isoformat() if one.on else None,
        "stage": str(one.stage),
        "what": one.what,
        "where": one.where,
        "proposal": one.proposal,
    }
