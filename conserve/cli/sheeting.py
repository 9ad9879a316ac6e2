"""The command that prints workshop sheets."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.parser import takes_casebook, takes_day, takes_json, takes_rules, takes_what, with_example
from conserve.cli.reading import Broken, Read, Refused, chosen_from, find, new_file, read_all, rules_folder, shown_path
from conserve.cli.showing import as_json, counted, in_colour, with_progress, wrapped
from conserve.cli.weighing import weigh_these
from conserve.files import Folder

if TYPE_CHECKING:
    from conserve.casebook import Proposal
    from conserve.sheet import Before, Sheet

DONE = 0
ENDINGS = (".html", ".md", ".txt")


def add_sheet(parser: argparse.ArgumentParser) -> None:
    takes_what(parser)
    parser.add_argument("--of", metavar="COMPONENT", help="only what is proposed about this component")
    parser.add_argument("--html", action="store_true", help="print a web page, each sheet on one side of A4")
    parser.add_argument(
        "--out", metavar="FILE", help="write it into this new file; its ending, .html, .md or .txt, says how"
    )
    takes_day(parser, "weigh as on this day; otherwise as on the latest day in the casebook")
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve sheet crosshead-slipper",
        "conserve sheet stud-17 --out stud-17.html",
        "conserve sheet casebook/marrow-fen --of crankshaft --html",
    )
    parser.set_defaults(run=sheet)


def sheet(given: argparse.Namespace) -> int:
    target = _target(given)
    read = read_all(find(given.what, given.inside), given.rules, json=given.json)
    sequence = _sequence(read, given)
    from conserve.sheet import sheet_of  # slow to load, and of no use where the input is broken

    proposals = _asked_for(read, given.of)
    weighings = with_progress(weigh_these(proposals, read, given.day), "putting on a sheet")
    code = _witness(read)
    sheets = tuple(replace(sheet_of(one, read.rulebook, sequence), witness=code) for one in weighings)
    said = as_json([asdict(one) for one in sheets]) if given.json else _written(sheets, read, _form(given))
    if target is None:
        print(said.rstrip("\n"))
    else:
        Folder(target.parent).add(target.name, f"{said.rstrip()}\n".encode())
        print(f"{shown_path(target)} is written: {counted(len(sheets), 'sheet')}.")
    return DONE


def _witness(read: Read) -> str:
    from conserve.seal import read_chain, witness

    return witness(read_chain(read.folder, read.place.shown))


def _target(given: argparse.Namespace) -> Path | None:
    """The new file to write, whose name must not promise what is not in it."""
    if given.out is None:
        return None
    ending = Path(given.out).suffix.lower()
    if ending not in ((".json",) if given.json else ENDINGS):
        hint = "end it in .json" if given.json else "end it in .html, .md or .txt; for paper or a PDF, print the .html"
        raise Refused(f"'{Path(given.out).name}' ends in nothing that a sheet is written as", hint)
    return new_file(given.out)


def _asked_for(read: Read, component: str | None) -> tuple[Proposal, ...]:
    if component is None:
        return tuple(read.proposals())
    chosen_from("component", component, read.casebook.components)
    found = tuple(one for one in read.proposals() if component in one.components)
    if not found:
        raise Refused(f"nothing is proposed about '{component}'", "name another component, or leave out --of")
    return found


def _sequence(read: Read, given: argparse.Namespace) -> tuple[Before, ...]:
    from conserve.sheet import read_sequence

    root = rules_folder(given.rules)
    sequence, problems = read_sequence(Folder(root), read.rulebook)
    if problems:
        raise Broken(problems, {"rules": Folder(root)}, given.json, answer=False)
    return sequence


def _form(given: argparse.Namespace) -> str:
    if given.html and given.out is None:
        return "html"
    return {".html": "html", ".md": "markdown"}.get(Path(given.out or "").suffix.lower(), "text")


def _written(sheets: tuple[Sheet, ...], read: Read, form: str) -> str:
    from conserve.sheet.telling import html_sheets, markdown_sheets

    if not sheets:
        return "No proposal has been written yet."
    if form == "html":
        return html_sheets(sheets, _title(sheets, read))
    return markdown_sheets(sheets) if form == "markdown" else "\n".join(_told(sheets))


def _title(sheets: tuple[Sheet, ...], read: Read) -> str:
    if len(sheets) == 1:
        return f"Workshop sheet: {sheets[0].title}"
    return f"Workshop sheets: {read.casebook.object.name}"


def _told(sheets: tuple[Sheet, ...]) -> Iterator[str]:
    from conserve.sheet.telling import lines_told, told

    for number, one in enumerate(sheets):
        if number:
            yield "\n" + "-" * 40 + "\n"
        for first, indent, said, weight in lines_told(told(one)):
            line = wrapped(said, indent, first)
            yield in_colour(line, weight) if weight else line
