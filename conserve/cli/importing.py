"""The command that brings a spreadsheet in: it shows what would change, and writes it when it is told to."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli import imported
from conserve.cli.imported import Found
from conserve.cli.parser import takes_casebook, takes_day, takes_json, takes_rules, with_example
from conserve.cli.reading import Broken, Read, Refused, find, how_to_install, read_again, read_all, shown_path
from conserve.files import Folder, WithMore

if TYPE_CHECKING:
    from conserve.problem import Problem
    from conserve.shape import Problems
    from conserve.tables import Grid, Layout, Saying
    from conserve.tables.writing import Text
    from conserve.terms import Vocabulary

DONE, BROKEN = 0, 2
ENDINGS = (".xlsx", ".csv")
LARGEST = 20_000_000  # bytes of a file
_MAPPING = """
a mapping file:
  sheet: Survey
  header: 3                     # the row that names the columns
  id: Ref                       # the column that names the component
  ids: {Ref: {E1: bed-frame}}   # where a name is not simply made into an id
  unknown: ["?", not seen]      # an empty cell is unknown anyway, and never 'no'
  none: [nil]
  by_column: Seen by            # or  by: S. Varley
  date_column: Seen on          # or  date: 2026-05-04
  decimal_comma: yes            # where numbers are written as 0,12
  columns:
    Part: component.name
    Made of: {to: component.material, means: {CI: grey-cast-iron}}
    Wear: {to: "surfaces.{Face}.wear", unit: mm, instrument_column: Taken with}
    Depth: {to: "defects.{Defect}.extent", unit: mm, plus_minus: 0.5}

What stands after a column is a path: the keys of a component's file, as
'conserve start component ID' lists them. A cell of {Face} gives the id of the
thing. What is told otherwise than is written is shown with both places, and
nothing is written until --changed says what to do."""


def add_import(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the spreadsheet: .xlsx, or .csv in UTF-8")
    said = "a file that says which column tells what; not wanted for a sheet that conserve export wrote"
    parser.add_argument("--mapping", metavar="FILE.yaml", help=said)
    parser.add_argument("--sheet", metavar="NAME", help="read this sheet of a workbook")
    parser.add_argument("--by", metavar="WHO", default="", help="who found it out, where the sheet does not say")
    takes_day(parser, "the day on which it was found out, where the sheet does not say")
    said = "what is told otherwise than is written: keep what is written, or add it beside as a further statement"
    parser.add_argument("--changed", choices=("keep", "add"), help=said)
    parser.add_argument("--write", action="store_true", help="take it in; without this, only show what would change")
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve import survey.xlsx --mapping survey.yaml --in casebook/marrow-fen",
        "conserve import components.xlsx --in casebook/marrow-fen --by 'S. Varley' --on 2026-05-04 --write",
    )
    parser.epilog = f"{parser.epilog}\n{_MAPPING}"
    parser.set_defaults(run=bring_in)


def bring_in(given: argparse.Namespace) -> int:
    return brought_in(read_all(find(None, given.inside), given.rules, json=given.json), given)


def brought_in(read: Read, given: argparse.Namespace) -> int:
    """Bring a spreadsheet into a casebook that has been read, and give the exit code."""
    path, place = Path(given.file), read.place
    found = _found(path, read, given)
    if found.texts and _found(path, _as_it_would_be(read, found, given), given).texts:
        raise Refused("what would be written does not read back as the sheet says it", "report this as a fault")
    blocked = bool(found.clashes) and given.changed != "keep"
    written = given.write and not blocked
    if written:
        _write(Folder(place.root), found.texts)
    print(imported.as_data(found, place, written) if given.json else imported.told(found, place, written, blocked))
    return BROKEN if blocked else DONE


# ---- reading -------------------------------------------------------------------------------------------


def _found(path: Path, read: Read, given: argparse.Namespace) -> Found:
    """What the spreadsheet comes to against a casebook; every problem in it is raised at once."""
    from conserve.shape import Problems
    from conserve.tables import changes_of, note_changed, sayings, with_added
    from conserve.tables.naming import alike, named_alone, unread
    from conserve.tables.taking import is_survey_sheet, survey_text, texts_of

    into, clashing = Problems("C"), Problems("C")
    words = read.rulebook.vocabulary
    layout = _mapping(given.mapping, words) if given.mapping else None
    grids = _grids(path, layout.delimiter if layout else "", into)
    _stop_at(into.all, given)
    said: list[Saying] = []
    texts: list[Text] = []
    remarks: list[str] = []
    for grid, laid in _meant(grids, layout, words, given):
        remarks += grid.remarks
        if laid is None and is_survey_sheet(grid):
            texts += filter(None, [survey_text(grid, path.name, read.folder, into)])
        elif laid is not None:
            said += sayings(grid, laid, words, into, given.by, given.day)
            remarks += _not_read(grid, unread(grid, laid))
            remarks += [*named_alone(grid, laid), *alike(grid, laid, read.casebook.components)]
    _stop_at(into.all, given)
    found = changes_of(said, read.casebook, into)
    found = with_added(found) if given.changed == "add" else found
    note_changed(found, clashing)
    _stop_at(into.all, given)
    texts += texts_of(found, read.casebook, read.folder, path.name, words, into)
    _stop_at(into.all, given)
    return Found(found, tuple(texts), tuple(remarks), clashing.all)


def _not_read(grid: Grid, headings: Sequence[str]) -> Iterator[str]:
    if headings:
        of = f" of sheet '{grid.name}'" if grid.name else ""
        yield f"Columns{of} that are not read: {', '.join(headings)}."


def _stop_at(problems: Sequence[Problem], given: argparse.Namespace) -> None:
    if problems:
        raise Broken(problems, {}, given.json, answer=True)


def _grids(path: Path, delimiter: str, into: Problems) -> tuple[Grid, ...]:
    from conserve.tables import read_csv, read_workbook

    if path.suffix.lower() not in ENDINGS:
        hint = "save it as .xlsx without macros, or as .csv"
        raise Refused(f"'{path.name}' is no spreadsheet that can be read: it ends in neither .xlsx nor .csv", hint)
    data = Folder(path.parent).read_bytes(path.name, LARGEST)
    if path.suffix.lower() == ".csv":
        grid = read_csv(data, shown_path(path), delimiter, into)
        return (grid,) if grid else ()
    needs_workbooks()
    return read_workbook(data, shown_path(path), into)


def needs_workbooks() -> None:
    """Refuse in a sentence where the library for workbooks is not there."""
    from importlib.util import find_spec

    if find_spec("openpyxl") is None:
        hint = f"{how_to_install('spreadsheets')}; or save the sheet as .csv"
        raise Refused("workbooks need the library openpyxl, which is not installed", hint)


def _mapping(name: str, words: Vocabulary) -> Layout:
    from conserve.shape import Problems
    from conserve.tables import layout_from
    from conserve.yamlfile import read_yaml

    path, into = Path(name), Problems("C")
    folder, shown = Folder(path.parent), shown_path(path)
    node, problems = read_yaml(folder, path.name, "C", shown)
    into.extend(problems)
    layout = layout_from(node, words, into) if node is not None else None
    if layout is None or into.all:
        raise Broken(into.all, {shown_path(path.parent): folder}, False, answer=True)
    return layout


def _meant(
    grids: tuple[Grid, ...], layout: Layout | None, words: Vocabulary, given: argparse.Namespace
) -> Iterator[tuple[Grid, Layout | None]]:
    """The sheets that are meant, each with how it is laid out; None for a survey sheet that came back."""
    from conserve.tables.taking import is_survey_sheet

    wanted = given.sheet or (layout.sheet if layout else "")
    seen = [grid for grid in grids if (grid.name == wanted if wanted else not grid.hidden)]
    names = ", ".join(f"'{grid.name}'{' (hidden)' if grid.hidden else ''}" for grid in grids)
    if not seen:
        raise Refused(f"there is no sheet '{wanted}'" if wanted else "no sheet is in view", f"there is {names}")
    if layout is not None:
        if len(seen) > 1:
            raise Refused("there are several sheets", f"say 'sheet:' in the mapping, or --sheet: {names}")
        yield seen[0], layout
        return
    laid = [(grid, _own(grid, words)) for grid in seen]
    ours = [(grid, one) for grid, one in laid if one is not None or is_survey_sheet(grid)]
    if not ours:
        sentence = (
            "its first row does not name paths such as component.material, so it is not known what its columns tell"
        )
        hint = "say so in a mapping file: --mapping FILE.yaml; registers, of evidence or of costs, are not read back"
        raise Refused(sentence, hint)
    yield from ours


def _own(grid: Grid, words: Vocabulary) -> Layout | None:
    from conserve.tables import own_layout

    head = tuple(cell.text for cell in grid.rows[0][1]) if grid.rows else ()
    return own_layout(head, grid.where, words)


# ---- taking in -----------------------------------------------------------------------------------------


def _as_it_would_be(read: Read, found: Found, given: argparse.Namespace) -> Read:
    """Read the casebook as it would be, or raise what would be wrong with it, at the cell that it comes from."""
    shown = read.place.shown
    folder = WithMore(read.place.root, {text.name: text.text.encode() for text in found.texts})
    try:
        return read_again(read, folder, json=given.json)
    except Broken as broken:
        cells = {(f"{shown}/{text.name}", line): at for text in found.texts for line, at in text.lines.items()}
        problems = (replace(p, where=cells.get((p.where.file, p.where.line), p.where)) for p in broken.problems)
        raise Broken(problems, {shown: folder}, given.json, answer=True) from None


def _write(folder: Folder, texts: Sequence[Text]) -> None:
    """Write every file, or none."""
    from contextlib import suppress

    before = {text.name: folder.read_bytes(text.name) for text in texts if (folder.root / text.name).exists()}
    done: list[str] = []
    try:
        for text in texts:
            if text.name in before:
                folder.write(text.name, text.text)
            else:
                folder.add(text.name, text.text.encode())
            done.append(text.name)
    except BaseException:
        for name in done:
            with suppress(OSError):
                if name in before:
                    folder.write(name, before[name].decode())
                else:
                    (folder.root / name).unlink()
        raise
