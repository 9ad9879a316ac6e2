"""The command that says what to find out next, writes it as a sheet, and takes the filled sheet in."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.parser import takes_casebook, takes_day, takes_json, takes_rules, takes_what, with_example
from conserve.cli.reading import Broken, Read, Refused, find, new_file, read_all, shown_path
from conserve.cli.showing import as_json, counted, in_colour, table, with_progress, wrapped
from conserve.cli.weighing import weigh_these
from conserve.files import Folder, WithMore

if TYPE_CHECKING:
    from conserve.survey import Survey
    from conserve.survey.telling import Line
    from conserve.weighing import Weighing

DONE = 0
FORMATS = ("text", "markdown", "html", "csv")
_BY_ENDING = {".md": "markdown", ".html": "html", ".csv": "csv"}
_SHEETS = (".csv", ".md")  # what is read back
MOST_TOLD = 5  # questions told on a screen; a sheet has them all


def add_survey(parser: argparse.ArgumentParser) -> None:
    takes_what(parser)
    parser.add_argument("--format", choices=FORMATS, help="how to write it; otherwise by the name of FILE, or as text")
    parser.add_argument("--out", metavar="FILE", help="write it into this new file")
    parser.add_argument("--read", metavar="FILE", help="take in a sheet that has been filled in, .csv or .md")
    takes_day(parser, "weigh as on this day; otherwise as on the latest day in the casebook")
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve survey governor-bush",
        "conserve survey casebook/marrow-fen --out sheet.html",
        "conserve survey casebook/marrow-fen --out may.csv",
        "conserve survey casebook/marrow-fen --read may.csv",
    )
    parser.set_defaults(run=survey)


def survey(given: argparse.Namespace) -> int:
    if given.read is not None:
        return _take_in(given)
    target = new_file(given.out) if given.out is not None else None
    read = read_all(find(given.what, given.inside), given.rules, json=given.json)
    from conserve.survey import merged, survey_of  # slow to load, and of no use where the input is broken

    weighings = weigh_these(read.proposals(), read, given.day)
    surveys = tuple(survey_of(one, read.rulebook) for one in with_progress(weighings, "looking into"))
    if not surveys:
        print(as_json({"about": [], "nothing_open": True}) if given.json else "No proposal has been written yet.")
        return DONE
    found = merged(surveys)
    said = _as_json(found) if given.json else _written(found, _format(given))
    if target is None:
        print(said.rstrip("\n"))
    else:
        Folder(target.parent).add(target.name, f"{said.rstrip()}\n".encode())
        print(f"{shown_path(target)} is written: {counted(len(found.asks), 'question')}.")
    return DONE


def _format(given: argparse.Namespace) -> str:
    return given.format or _BY_ENDING.get(Path(given.out or "").suffix.lower(), "text")


def _written(found: Survey, form: str) -> str:
    from conserve.survey import sheets

    if form == "text":
        return "\n".join(_told(found))
    return {"markdown": sheets.markdown_sheet, "html": sheets.html_sheet, "csv": sheets.csv_sheet}[form](found)


def _as_json(found: Survey) -> str:
    return as_json({**asdict(found), "nothing_open": found.nothing_open})


# ---- on a screen --------------------------------------------------------------------------------------


def _told(found: Survey) -> Iterator[str]:
    """What there is to know before going out: cautions, how far each proposal may come, and the first questions."""
    from conserve.survey.telling import line_of, sheet_of

    sheet = sheet_of(found)
    yield in_colour(sheet.title, "strong")
    yield from (in_colour(wrapped(said, "  ", "! "), "bad") for said in sheet.cautions)
    if sheet.may_apply:
        yield in_colour(wrapped("Not known whether these apply:", "  ", "! "), "bad")
        yield from (in_colour(wrapped(said, "    ", "!   "), "bad") for said in sheet.may_apply)
    for title, told in sheet.about:
        yield f"\n{wrapped(title)}"
        yield from (wrapped(said, "      ", "    ") for said in told)
    if sheet.nothing_open:
        yield sheet.nothing_open
        return
    if found.asks:
        yield f"\n{in_colour('What to find out', 'strong')}"
    for number, ask in enumerate(found.asks[:MOST_TOLD], 1):
        yield from _line_told(number, line_of(ask))
    if len(found.asks) > MOST_TOLD:
        yield f"    And {len(found.asks) - MOST_TOLD} more, on the sheet."
    for title, _, told in sheet.lists[:-1]:
        if told:
            yield f"\n{in_colour(title, 'strong')}"
            yield from (wrapped(said, "      ", "    ") for said in told)
    yield f"\n{sheet.as_at} For a sheet: --out FILE, ending in .csv, .md or .html"


def _line_told(number: int, line: Line) -> Iterator[str]:
    yield wrapped(f"{line.question} {line.precise}", "      ", f"{number:>3} ")
    yield wrapped(f"{line.how} {line.does} Cost: {line.cost}.", "      ")


# ---- a sheet that is handed back ------------------------------------------------------------------------


def _take_in(given: argparse.Namespace) -> int:
    if given.out is not None or given.format is not None:
        raise Refused("a sheet is either written or read", "leave out --read, or --out and --format")
    path = Path(given.read)
    name, data = _sheet(path)
    place = find(given.what, given.inside)
    _must_be_new(place.root / name)
    try:
        after = read_all(place, given.rules, json=given.json, folder=WithMore(place.root, {name: data}))
    except Broken as broken:
        shown = path.parent / path.name
        raise broken.moved(f"{place.shown}/{name}", f"{shown_path(shown.parent)}/{shown.name}") from None
    before = read_all(place, given.rules, json=given.json)
    answers = after.casebook.components != before.casebook.components or after.casebook.object != before.casebook.object
    changed = list(_changed(before, after, given)) if answers else []
    if answers:
        Folder(place.root).add(name, data)
    told = {"sheet": f"{place.shown}/{name}" if answers else None, "changed": changed}
    print(as_json(told) if given.json else "\n".join(_taken_in(f"{place.shown}/{name}", answers, changed)))
    return DONE


def _sheet(path: Path) -> tuple[str, bytes]:
    """The name under which a casebook keeps a sheet, and what is in it."""
    ending = path.suffix.lower()
    if ending not in _SHEETS or path.name.startswith(".") or not path.name.isprintable():
        raise Refused(f"'{path.name}' is no sheet that can be read", "a sheet is a file that ends in .csv or .md")
    data = Folder(path.parent).read_bytes(path.name)
    return f"surveys/{path.stem}{ending}", data


def _must_be_new(path: Path) -> None:
    if path.exists() or path.is_symlink():
        raise Refused(f"'{shown_path(path)}' is there already, and is left as it is", "give the sheet another name")


def _changed(before: Read, after: Read, given: argparse.Namespace) -> Iterator[dict[str, str]]:
    """The proposals whose verdict or option is another with the sheet than without."""
    was = weigh_these(before.proposals(), before, given.day)
    now = weigh_these(after.proposals(), after, given.day)
    for one, other in zip(was, now, strict=True):
        if _fares(one) != _fares(other):
            yield {"proposal": one.proposal.id, "was": _fares(one), "is": _fares(other), "verdict": str(other.verdict)}


def _fares(weighing: Weighing) -> str:
    return f"{weighing.verdict} ({weighing.chosen})"


def _taken_in(name: str, answers: bool, changed: list[dict[str, str]]) -> Iterator[str]:
    if not answers:
        yield "No question is answered on this sheet. Nothing was taken in."
        return
    yield f"{name} is taken in."
    if not changed:
        yield "No verdict is changed by it."
        return
    yield table(("proposal", "was", "is now"), [(one["proposal"], one["was"], one["is"]) for one in changed])
