"""Spreadsheets: a survey brought in, registers given back, and nothing run, lost or changed on the way."""

from __future__ import annotations

import io
import json
import re
import sys
import warnings
import zipfile
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

import openpyxl
import pytest
import yaml
from helpers import CLOCK, DEMO, OBJECT, demo, folder_of, shipped_rules
from hypothesis import example, given, settings
from hypothesis import strategies as st

from conserve.casebook import read_casebook
from conserve.casebook.surveys import COLUMNS
from conserve.cli import main
from conserve.cli.exporting import exported
from conserve.cli.importing import _write, brought_in
from conserve.cli.parser import parser_for
from conserve.cli.reading import Broken, Place, Read, shown_path
from conserve.files import FileRefused, Folder, WithMore
from conserve.problem import Location
from conserve.shape import Problems
from conserve.tables import Sheet, csv_text, read_csv, read_workbook, workbook_of
from conserve.tables.cells import guarded, letters, unguarded
from conserve.tables.layout import layout_from, target_of
from conserve.tables.scalar import scalar
from conserve.tables.writing import Text
from conserve.yamlfile import parse

WORDS = shipped_rules().vocabulary
BED = """\
    # The bed, as the first of us wrote it down.
    name: Bed
    phase: as-built
    material: grey-cast-iron   # a drop of acid said so
    surfaces:
      top:
        function: mating
        # nobody has cleaned this face yet
      end: {function: datum}

    # What is wrong with it.
    defects:
      crack:
        kind: crack
        extent: 12 ± 1 mm
        says: |
          Runs from the corner.
          # Not a comment, for it stands in a block.
    """
MAPPING = """\
    sheet: Survey 2026
    header: 3
    id: Ref
    ids:
      Ref: {E1: bed}
    unknown: ["?", not seen]
    by_column: Seen by
    date_column: Seen on
    columns:
      Part: component.name
      Joined: component.phase
      Made of:
        to: component.material
        means: {CI: grey-cast-iron, WI: wrought-iron}
      Face: surfaces.{Face}.name
      Work of it: surfaces.{Face}.function
      Wear:
        to: surfaces.{Face}.wear
        unit: mm
        instrument_column: Taken with
      Wrong: defects.{Wrong}.name
      Sort: defects.{Wrong}.kind
      Size: {to: "defects.{Wrong}.extent", unit: mm, plus_minus_column: "Size ±"}
    """
HEAD = ("Ref", "Part", "Joined", "Made of", "Face", "Work of it", "Wear", "Taken with",
        "Wrong", "Sort", "Size", "Size ±", "Seen by", "Seen on", "Photo")  # fmt: skip
DAY = datetime(2026, 5, 4)
ROD = ("P/7", "Pump rod: the upper", "as-built", "WI", "Working face", "sliding", 0.1 + 0.2, "depth-gauge",
       None, None, None, None, "S. Varley", DAY, "17")  # fmt: skip
ROD_AGAIN = ("P/7", None, None, None, None, None, None, None,
             "Rust at the eye", "active-corrosion", 1.5, 0.5, "S. Varley", DAY, "18")  # fmt: skip
CAP = ("P/8", "no", "as-built", "?", None, None, None, None, None, None, None, None, "S. Varley", DAY, None)


def book_of(tmp_path: Path, files: dict[str, str] | None = None) -> Path:
    """A small casebook; without files it has an object and nothing else."""
    return folder_of(tmp_path / "trial", {"object.yaml": OBJECT, **(files or {})}).root


def survey_of(path: Path, *rows: tuple[object, ...]) -> Path:
    """A survey as people keep them: a banner over its heading, and a sheet of notes."""
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "Survey 2026"
    sheet["A1"] = "Survey of the engine"
    sheet.merge_cells("A1:H1")
    for number, row in enumerate((HEAD, *rows), 3):
        for column, value in enumerate(row, 1):
            sheet.cell(number, column).value = value
    book.create_sheet("Notes")["A1"] = "=TODAY()"
    book.save(path)
    return path


def mapping_in(tmp_path: Path, text: str = MAPPING) -> str:
    folder_of(tmp_path, {"survey.yaml": text})
    return str(tmp_path / "survey.yaml")


def bytes_of(root: Path) -> dict[str, bytes]:
    return {str(path.relative_to(root)): path.read_bytes() for path in sorted(root.rglob("*")) if path.is_file()}


def read_of(book: Path) -> Read:
    """A casebook with the shipped rules, which are read once for all tests, as the demonstrations are."""
    return _shipped(book) if book in (DEMO, CLOCK) else _read(book)


@lru_cache(maxsize=2)
def _shipped(book: Path) -> Read:
    return _read(book)


def _read(book: Path) -> Read:
    rulebook = shipped_rules()
    casebook, problems = read_casebook(Folder(book), rulebook.vocabulary, book.name, shown_path(book))
    assert casebook is not None, problems
    return Read(Place(book), Folder(book), casebook, rulebook)


def imported(capsys, file: Path, book: Path, *more: str) -> tuple[int, dict]:
    """What `conserve import --json` does and says."""
    words = ["import", str(file), "--in", str(book), "--json", *more]
    try:
        code = brought_in(read_of(book), parser_for(words).parse_args(words))
    except Broken as broken:
        return 2, json.loads(broken.shown())
    return code, json.loads(capsys.readouterr().out)


def export(book: Path, kind: str, out: Path | None = None, *more: str) -> None:
    """What `conserve export` does."""
    words = ["export", str(book), "--as", kind, *more]
    assert exported(read_of(book), out, parser_for(words).parse_args(words)) == 0


def codes(told: dict) -> list[tuple[str, int, int]]:
    return [(one["code"], one["line"], one["column"]) for one in told["problems"]]


def sheet_file(path: Path, head: tuple[object, ...], *rows: tuple[object, ...]) -> Path:
    """A workbook in our own columns."""
    book = openpyxl.Workbook()
    for row in (head, *rows):
        book.worksheets[0].append(row)
    book.save(path)
    return path


# ---- the law: in, out and in again changes nothing ------------------------------------------------------


@pytest.mark.parametrize("book", [DEMO, CLOCK], ids=["marrow-fen", "sallow-wharf"])
@pytest.mark.parametrize("ending", ["xlsx", "csv"])
def test_what_is_exported_of_components_changes_nothing_when_it_is_brought_in(capsys, tmp_path, book, ending):
    kinds = ("components",) if ending == "xlsx" else ("components", "surfaces", "marks", "repairs", "defects")
    counted = 0
    for kind in kinds:
        out = tmp_path / f"{kind}.{ending}"
        export(book, kind, out)
        if len(out.read_text(encoding="latin-1").splitlines()) == 1:
            continue  # the clock has no repairs: headings alone
        capsys.readouterr()
        code, told = imported(capsys, out, book)
        assert (code, told["files"], told["changed"], told["remarks"]) == (0, [], [], [])
        counted += told["unchanged"]
    assert counted > 400


def test_a_foreign_survey_brought_in_given_back_and_brought_in_again_changes_nothing(capsys, tmp_path):
    book = book_of(tmp_path)
    survey = survey_of(tmp_path / "may.xlsx", ROD, ROD_AGAIN, CAP)
    code, told = imported(capsys, survey, book, "--mapping", mapping_in(tmp_path), "--write")
    assert (code, told["written"], sorted(told["new_components"])) == (0, True, ["p-7", "p-8"])
    assert main(["check", str(book)]) == 0
    before = bytes_of(book)
    export(book, "components", tmp_path / "back.xlsx")
    capsys.readouterr()
    for file, more in ((tmp_path / "back.xlsx", ()), (survey, ("--mapping", mapping_in(tmp_path)))):
        code, told = imported(capsys, file, book, *more, "--write")
        assert (code, told["files"], told["changed"]) == (0, [], [])
    assert bytes_of(book) == before


@pytest.mark.parametrize("ending", ["xlsx", "csv"])
def test_names_that_mean_mischief_go_out_and_come_back_as_they_are(capsys, tmp_path, ending):
    names = ("=1+1", "'=1+1", "@SUM(A1)", "-5", "+44 1", "=cmd|' /C calc'!A0", "none", "yes", "012", "a, b; \"c\"",
             "_x000D_", "# no", "{x: y}", "- a", "null", "<b>&amp;</b>", "\uff1d1", "unknown too", "'")  # fmt: skip
    book = book_of(tmp_path)
    rows = tuple((f"part-{number}", name) for number, name in enumerate(names))
    file = tmp_path / "in.xlsx"
    file.write_bytes(workbook_of((Sheet("Components", ("component", "component.name"), rows),)))
    assert imported(capsys, file, book, "--write")[0] == 0
    assert [part.name for _, part in sorted(read_of(book).casebook.components.items(), key=lambda p: int(p[0][5:]))] == list(names)
    before, out = bytes_of(book), tmp_path / f"out.{ending}"
    export(book, "components", out)
    capsys.readouterr()
    code, told = imported(capsys, out, book, "--write")
    assert (code, told["files"], told["changed"], told["unchanged"]) == (0, [], [], len(names))
    assert bytes_of(book) == before


# ---- what is written --------------------------------------------------------------------------------------


def test_a_new_component_has_a_file_with_who_found_what_when_and_with_what(capsys, tmp_path):
    book = book_of(tmp_path)
    survey = survey_of(tmp_path / "may.xlsx", ROD_AGAIN, CAP, ROD)
    told = imported(capsys, survey, book, "--mapping", mapping_in(tmp_path), "--write")[1]
    assert (book / "components/p-7.yaml").read_text(encoding="utf-8") == (
        "# Brought in from may.xlsx.\n"
        'name: "Pump rod: the upper"\n'
        "phase: as-built\n"
        "material: {value: wrought-iron, by: S. Varley, date: 2026-05-04}\n"
        "surfaces:\n"
        "  working-face:\n"
        "    name: Working face\n"
        "    function: {value: sliding, by: S. Varley, date: 2026-05-04}\n"
        "    wear: {value: 0.3 mm, instrument: depth-gauge, by: S. Varley, date: 2026-05-04}\n"
        "defects:\n"
        "  rust-at-the-eye:\n"
        "    name: Rust at the eye\n"
        "    kind: {value: active-corrosion, by: S. Varley, date: 2026-05-04}\n"
        "    extent: {value: 1.5 ± 0.5 mm, by: S. Varley, date: 2026-05-04}\n"
    )
    # 'no' is a name here; and what was not seen is left out, which is unknown and not none.
    assert (book / "components/p-8.yaml").read_text(encoding="utf-8") == (
        "# Brought in from may.xlsx.\nname: no\nphase: as-built\n"
    )
    assert told["remarks"] == ["Columns of sheet 'Survey 2026' that are not read: Photo."]


def test_nothing_is_written_unless_it_is_asked_for(capsys, tmp_path):
    book = book_of(tmp_path)
    before = bytes_of(book)
    survey = survey_of(tmp_path / "may.xlsx", ROD)
    code, told = imported(capsys, survey, book, "--mapping", mapping_in(tmp_path))
    assert (code, told["written"], len(told["files"])) == (0, False, 1)
    assert bytes_of(book) == before


def test_facts_of_what_is_there_go_on_a_survey_sheet_and_leave_peoples_files_alone(capsys, tmp_path):
    book = book_of(tmp_path, {"components/bed.yaml": BED})
    before = (book / "components/bed.yaml").read_bytes()
    head = ("component", "component.serviceable", "component.repairs", "surface", "surfaces.{surface}.wear")
    file = sheet_file(tmp_path / "June visit.xlsx", head, ("bed", True, "none", "top", "0.20 ± 0.04 mm"))
    code, told = imported(capsys, file, book, "--by", "S. Varley", "--on", "2026-06-01", "--write")
    assert code == 0
    assert (book / "components/bed.yaml").read_bytes() == before
    assert (book / "surveys/june-visit.csv").read_text(encoding="utf-8").splitlines()[1:] == [
        "bed,,repairs,,,none,,,,2026-06-01,S. Varley,\"from June visit.xlsx, sheet 'Sheet', cell C2\"",
        "bed,,component.serviceable,,,yes,,,,2026-06-01,S. Varley,\"from June visit.xlsx, sheet 'Sheet', cell B2\"",
        "bed,top,surface.wear,,,0.20,0.04,mm,,2026-06-01,S. Varley,\"from June visit.xlsx, sheet 'Sheet', cell E2\"",
    ]
    assert told["new_facts"][0]["cell"]["line"] == 2
    code, told = imported(capsys, file, book, "--by", "S. Varley", "--on", "2026-06-01")
    assert (code, told["files"], told["unchanged"]) == (0, [], 3)


def test_new_things_are_new_lines_and_every_old_line_stays(capsys, tmp_path):
    book = book_of(tmp_path, {"components/bed.yaml": BED})
    old = (book / "components/bed.yaml").read_text(encoding="utf-8").splitlines()
    head = ("component", "component.note", "defect", "defects.{defect}.kind", "surface", "surfaces.{surface}.finish",
            "mark", "surfaces.{surface}.marks.{mark}.kind")  # fmt: skip
    rows = (("bed", "Seen in rain.", "rust", "active-corrosion", "side", "as-cast", None, None),
            ("bed", None, None, None, "top", None, "dots", "centre-pop"))  # fmt: skip
    file = sheet_file(tmp_path / "a.xlsx", head, *rows)
    code, told = imported(capsys, file, book, "--write")
    assert (code, told["files"]) == (0, [told["files"][0]])
    new = (book / "components/bed.yaml").read_text(encoding="utf-8").splitlines()
    assert [line for line in new if line in old] == old
    assert "\n".join(new) == (
        "\n".join(old[:7])
        + "\n    # nobody has cleaned this face yet\n    marks:\n      dots:\n        kind: centre-pop\n"
        + "  end: {function: datum}\n  side:\n    finish: as-cast\n"
        + "\n".join(old[9:])
        + "\n  rust:\n    kind: active-corrosion\nnote: Seen in rain."
    )


@pytest.mark.parametrize(
    ("cell", "surface"),
    [("component.note", "x"), ("surfaces.{surface}.says", "end")],
    ids=["a file of parts that are alike", "a mapping in braces"],
)
def test_what_no_line_can_be_added_for_is_told_and_nothing_is_written(capsys, tmp_path, cell, surface):
    alike = "alike: stud-01..stud-03\nname: Stud\n"
    book = book_of(tmp_path, {"components/bed.yaml": BED, "components/studs.yaml": alike})
    before = bytes_of(book)
    part = "stud-02" if cell.startswith("component") else "bed"
    file = sheet_file(tmp_path / "a.xlsx", ("component", "surface", cell), (part, surface, "Words of ours."))
    head = file if cell.startswith("surf") else sheet_file(file, ("component", cell), (part, "Words of ours."))
    code, told = imported(capsys, head, book, "--write")
    assert (code, [one[0] for one in codes(told)]) == (2, ["C101"])
    assert bytes_of(book) == before


def test_the_order_of_rows_does_not_matter(capsys, tmp_path):
    written = []
    for number, rows in enumerate(((ROD, ROD_AGAIN, CAP), (CAP, ROD_AGAIN, ROD))):
        book = book_of(tmp_path / str(number))
        survey = survey_of(tmp_path / "may.xlsx", *rows)
        imported(capsys, survey, book, "--mapping", mapping_in(tmp_path), "--write")
        written.append(bytes_of(book))
    assert written[0] == written[1]


def test_either_every_file_is_written_or_none(tmp_path):
    (tmp_path / "kept.yaml").write_text("as: it was\n", encoding="utf-8")
    texts = (Text("new/a.yaml", "a: b\n"), Text("kept.yaml", "as: it is\n"), Text("kept.yaml/below.csv", "x\n"))
    with pytest.raises(FileRefused):
        _write(Folder(tmp_path), texts)
    assert bytes_of(tmp_path) == {"kept.yaml": b"as: it was\n"}


# ---- what is told otherwise -------------------------------------------------------------------------------


def changed_wear(tmp_path: Path) -> tuple[Path, Path]:
    book = book_of(tmp_path, {"components/bed.yaml": BED})
    head = ("component", "defect", "defects.{defect}.extent", "component.serviceable")
    return book, sheet_file(tmp_path / "a.xlsx", head, ("bed", "crack", "14 ± 1 mm", "yes"))


def test_what_is_told_otherwise_is_shown_with_both_places_and_nothing_is_written(capsys, tmp_path):
    book, file = changed_wear(tmp_path)
    before = bytes_of(book)
    code, told = imported(capsys, file, book, "--on", "2026-06-01", "--write")
    (one,) = told["changed"]
    assert (code, one["says"], one["was"], one["cell"]["at"]) == (2, "14 ± 1 mm", "12 ± 1 mm", "sheet 'Sheet', cell C2")
    assert one["written_at"].endswith("components/bed.yaml:15:13")
    assert bytes_of(book) == before
    assert main(["import", str(file), "--in", str(book), "--on", "2026-06-01"]) == 2
    assert "C100" in capsys.readouterr().out


def test_what_is_told_otherwise_may_be_left_as_it_is_written(capsys, tmp_path):
    book, file = changed_wear(tmp_path)
    code, told = imported(capsys, file, book, "--on", "2026-06-01", "--changed", "keep", "--write")
    assert (code, len(told["changed"])) == (0, 1)
    assert "extent" not in (book / "surveys/a.csv").read_text(encoding="utf-8")


def test_what_is_told_otherwise_may_stand_beside_what_is_written(capsys, tmp_path):
    book, file = changed_wear(tmp_path)
    code, told = imported(capsys, file, book, "--on", "2026-06-01", "--changed", "add", "--write")
    assert (code, told["changed"]) == (0, [])
    assert "bed,defects/crack,defect.extent,,,14,1,mm" in (book / "surveys/a.csv").read_text(encoding="utf-8")
    export(book, "defects")
    assert "extent is told as 12 ± 1 mm, 14 ± 1 mm" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("head", "row"),
    [
        (("component", "component.name"), ("bed", "Bedplate")),
        (("component", "component.defects"), ("bed", "none")),
        (("component", "mark", "surface", "surfaces.{surface}.marks.{mark}.kind"), ("lid", "x", "top", "stamp")),
    ],
    ids=["a name", "no defects where there is one", "a mark where there are none"],
)
def test_a_name_and_a_list_can_be_told_otherwise_too(capsys, tmp_path, head, row):
    lid = "name: Lid\nsurfaces:\n  top:\n    marks: none\n"
    book = book_of(tmp_path, {"components/bed.yaml": BED, "components/lid.yaml": lid})
    for more in ((), ("--changed", "add", "--on", "2026-06-01")):  # neither can be told in two ways
        code, told = imported(capsys, sheet_file(tmp_path / "a.xlsx", head, row), book, *more)
        assert (code, len(told["changed"]), told["files"]) == (2, 1, [])


def test_the_same_number_in_another_unit_is_no_change(capsys, tmp_path):
    book = book_of(tmp_path, {"components/bed.yaml": BED})
    head = ("component", "defect", "defects.{defect}.extent")
    file = sheet_file(tmp_path / "a.xlsx", head, ("bed", "crack", "1.2 ± 0.1 cm"))
    assert imported(capsys, file, book)[1]["unchanged"] == 1


# ---- cells that are not taken -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "value", ["=1+1", "=HYPERLINK(\"http://example.org\")", "#REF!"], ids=["a sum", "a link", "an error"]
)
def test_a_formula_or_an_error_in_a_column_that_is_read_is_refused(capsys, tmp_path, value):
    file = sheet_file(tmp_path / "a.xlsx", ("component", "component.note"), ("bed", value))
    book = book_of(tmp_path, {"components/bed.yaml": BED})
    code, told = imported(capsys, file, book)
    assert (code, codes(told)) == (2, [("C097", 2, 2)])
    assert told["problems"][0]["at"] == "sheet 'Sheet', cell B2"


def test_merged_cells_in_a_column_that_is_read_are_refused(capsys, tmp_path):
    survey = survey_of(tmp_path / "may.xlsx", ROD, CAP)
    book = openpyxl.load_workbook(survey)
    book["Survey 2026"].merge_cells("C4:C5")
    book.save(survey)
    code, told = imported(capsys, survey, book_of(tmp_path), "--mapping", mapping_in(tmp_path))
    assert (code, codes(told)) == (2, [("C097", 4, 3), ("C097", 5, 3)])


@pytest.mark.parametrize("cell", ["=1+1", "+cmd|' /C calc'!A0", "-2+3+x", "@SUM(1)", "\uff1d1", '"\t=1"'])
def test_a_cell_of_a_csv_file_that_would_run_is_refused(capsys, tmp_path, cell):
    (tmp_path / "a.csv").write_text(f"component,component.note\nbed,{cell}\n", encoding="utf-8")
    code, told = imported(capsys, tmp_path / "a.csv", book_of(tmp_path, {"components/bed.yaml": BED}))
    assert (code, codes(told)) == (2, [("C097", 2, 2)])


@pytest.mark.parametrize("cell", ["-5", "+0.5 mm", "-5 ± 1 °C", "-1/2 in", "-5 +/- 1 mm"])
def test_a_number_with_a_sign_is_no_formula(cell):
    grid = read_csv(f"a\n{cell}\n".encode(), "a.csv", "", Problems("C"))
    assert grid is not None
    assert (grid.rows[1][1][0].text, grid.rows[1][1][0].fault) == (cell, "")


def test_days_are_read_in_both_calendars_of_spreadsheets(tmp_path):
    # ECMA-376, 18.17.4.1: in the 1904 calendar day 0 is 1904-01-01; in the other day 61 is 1900-03-01.
    for epoch in (openpyxl.utils.datetime.CALENDAR_WINDOWS_1900, openpyxl.utils.datetime.CALENDAR_MAC_1904):
        book = openpyxl.Workbook()
        book.epoch = epoch
        sheet = book.worksheets[0]
        sheet["A1"], sheet["A2"], sheet["A3"] = date(2026, 3, 2), datetime(2026, 3, 2, 10, 30), 41
        sheet["A3"].number_format = "yyyy-mm-dd"
        book.save(tmp_path / "a.xlsx")
        (grid,) = read_workbook((tmp_path / "a.xlsx").read_bytes(), "a.xlsx", Problems("C"))
        cells = [row[0] for _, row in grid.rows]
        assert [cell.text for cell in cells[:2]] == ["2026-03-02", "2026-03-02 10:30:00"]
        assert (cells[2].text, bool(cells[2].fault)) == (
            ("1904-02-11", False) if epoch == openpyxl.utils.datetime.CALENDAR_MAC_1904 else ("", True)
        )


@given(st.decimals(allow_nan=False, allow_infinity=False, places=None).map(lambda d: d.normalize()))
@example(Decimal("0.12"))
@example(Decimal("1E+14"))
def test_a_number_of_up_to_fifteen_digits_comes_through_a_workbook_unharmed(number):
    # A double holds every decimal of 15 digits (IEEE 754; DBL_DIG in C), and a spreadsheet keeps no more.
    from conserve.tables.workbook import _text

    if len(number.as_tuple().digits) <= 15 and abs(number.adjusted()) < 200:
        assert Decimal(_text(float(number))) == number


def test_what_a_sum_of_floats_leaves_behind_is_not_read_as_a_digit():
    from conserve.tables.workbook import _text

    assert _text(0.1 + 0.2) == "0.3"
    assert _text(17.0) == "17"
    assert _text(1e21) == "1000000000000000000000"
    assert _text(0.00001) == "0.00001"


# ---- files that are not read ------------------------------------------------------------------------------


def a_workbook(change=None) -> bytes:
    made = io.BytesIO()
    openpyxl.Workbook().save(made)
    if change is None:
        return made.getvalue()
    packed = io.BytesIO()
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            new.writestr(entry.filename, old.read(entry))
        change(new)
    return packed.getvalue()


def far_cell() -> bytes:
    book = openpyxl.Workbook()
    book.worksheets[0]["XFD1048576"] = "x"
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


def entities() -> bytes:
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaa">]><x>&a;</x>'
    return a_workbook(lambda new: new.writestr("xl/other.xml", bomb.encode("utf-16")))


REFUSED = {
    "nothing": b"",
    "no zip": b"not a workbook at all",
    "encrypted": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
    "cut short": a_workbook()[:-300],
    "macros": a_workbook(lambda new: new.writestr("xl/vbaProject.bin", b"x")),
    "a bomb": a_workbook(lambda new: new.writestr("xl/media/a.bin", bytes(30_000_000))),
    "entities": entities(),
    "a cell far away": far_cell(),
}


@pytest.mark.parametrize("data", REFUSED.values(), ids=REFUSED)
def test_a_file_that_is_no_plain_workbook_is_refused_in_one_sentence(tmp_path, capsys, data):
    (tmp_path / "a.xlsx").write_bytes(data)
    code, told = imported(capsys, tmp_path / "a.xlsx", book_of(tmp_path))
    assert (code, [one[0] for one in codes(told)]) == (2, ["C096"])
    assert told["problems"][0]["hint"]


def test_a_zip_with_two_files_of_one_name_is_refused(tmp_path):
    into = Problems("C")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # zipfile warns of what is made here on purpose
        data = a_workbook(lambda new: new.writestr("xl/workbook.xml", b"<x/>"))
    assert read_workbook(data, "a.xlsx", into) == ()
    assert [problem.code for problem in into.all] == ["C096"]


@given(st.integers(0, 4000), st.integers(0, 255))
def test_a_damaged_workbook_never_makes_a_traceback(place, byte):
    data = bytearray(a_workbook_once())
    data[place % len(data)] = byte
    into = Problems("C")
    grids = read_workbook(bytes(data), "a.xlsx", into)
    assert grids or into.all


def a_workbook_once(made: list[bytes] = []) -> bytes:  # noqa: B006
    if not made:
        made.append(a_workbook(lambda new: None))
    return made[0]


@pytest.mark.parametrize(
    ("data", "line"),
    [(b"", 1), (b"a,b\n\xff,x\n", 2), ("a,b\n".encode("utf-16"), 1), (b"a;b,c\nx\n", 1), (b'a,b\n"x\n', 2)],
    ids=["nothing", "not UTF-8", "UTF-16", "two delimiters", "an open quote"],
)
def test_a_csv_file_that_cannot_be_read_is_refused_where_it_breaks(data, line):
    into = Problems("C")
    assert read_csv(data, "a.csv", "", into) is None
    assert [(problem.code, problem.where.line) for problem in into.all] == [("C096", line)]


def test_csv_is_read_with_its_mark_semicolons_and_line_ends_in_quotes():
    data = "\ufeffcomponent;component.note\r\nbed;\"one\r\ntwo\"\r\nlid;x\r\n".encode()
    grid = read_csv(data, "a.csv", "", Problems("C"))
    assert grid is not None
    assert [(number, [cell.text for cell in row]) for number, row in grid.rows] == [
        (1, ["component", "component.note"]), (2, ["bed", "one\ntwo"]), (4, ["lid", "x"]),
    ]  # fmt: skip


def test_hidden_sheets_are_passed_over_and_hidden_rows_are_told(capsys, tmp_path):
    file = sheet_file(tmp_path / "a.xlsx", ("component", "component.name"), ("bed", "Bed"))
    book = openpyxl.load_workbook(file)
    book.worksheets[0].row_dimensions[2].hidden = True
    hidden = book.create_sheet("Old")
    hidden.sheet_state = "hidden"
    hidden.append(("component", "component.name"))
    hidden.append(("bed", "Another name"))
    book.save(file)
    casebook = book_of(tmp_path, {"components/bed.yaml": BED})
    code, told = imported(capsys, file, casebook)
    assert (code, told["unchanged"], len(told["remarks"])) == (0, 1, 1)
    assert imported(capsys, file, casebook, "--sheet", "Old")[0] == 2


def test_links_to_other_workbooks_are_never_followed(tmp_path):
    data = a_workbook(lambda new: new.writestr("xl/externalLinks/externalLink1.xml", b"<externalLink/>"))
    assert len(read_workbook(data, "a.xlsx", Problems("C"))) == 1


# ---- mappings ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("id: Ref\ncolumns: {A: component.colour}\n", ("C098", 2, 14)),
        ("id: Ref\ncolumns: {A: surfaces.wear}\n", ("C098", 2, 14)),
        ("id: Ref\ncolumns:\n  A: {to: component.mass, unit: stone}\n", ("C012", 3, 33)),
        ("id: Ref\ncolumns:\n  A: {to: component.mass, instrument: nose}\n", ("C005", 3, 39)),
        ("columns: {A: component.name}\n", ("C002", 1, 1)),
        ("id: Ref\ncolumn: {}\ncolumns: {A: component.name}\n", ("C001", 2, 1)),
    ],
)  # fmt: skip
def test_a_mapping_that_makes_no_sense_says_where(text, found):
    node, _ = parse(text, "m.yaml", "C")
    into = Problems("C")
    assert node is not None and layout_from(node, WORDS, into) is None
    assert [(problem.code, problem.where.line, problem.where.column) for problem in into.all] == [found]


def test_the_mapping_that_help_shows_is_one():
    _, _, shown = parser_for(["import"])._subparsers._group_actions[0].choices["import"].epilog.partition("a mapping file:\n")
    node, problems = parse(shown.partition("\n\n")[0], "m.yaml", "C")
    into = Problems("C")
    assert node is not None and problems == ()
    layout = layout_from(node, WORDS, into)
    assert layout is not None and into.all == ()
    assert [str(column.target) for column in layout.columns][2:] == ["surfaces.{Face}.wear", "defects.{Defect}.extent"]


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("component.material", "component.material"),
        ("component.defects", "component.defects"),
        ("surfaces.top.wear", "surfaces.top.wear"),
        ("surfaces.{Face (outer).}.marks", "surfaces.{Face (outer).}.marks"),
        ("surfaces.{a}.marks.{b}.kind", "surfaces.{a}.marks.{b}.kind"),
        ("repairs.strap.says", "repairs.strap.says"),
        ("defects.top.wear", None),
        ("defects.top.marks.x.kind", None),
        ("component.mass_left", None),
        ("object.rarity", None),
    ],
)
def test_a_path_names_what_a_person_tells(path, told):
    target = target_of(path, WORDS)
    assert (None if target is None else str(target)) == told


@pytest.mark.parametrize(
    ("swap", "by", "found"),
    [
        ("Part: ", "Pt: ", ("C098", 10, 7)),  # no such column
        ("id: Ref", "id: Reference", ("C098", 1, 1)),
        ("CI: grey-cast-iron, WI: wrought-iron", "CI: grey-cast-iron", ("C005", 4, 4)),  # WI means nothing
        ("unit: mm\n    instr", "instr", ("C014", 4, 7)),
        ("instrument_column: Taken with", "instrument: bench-scale", ("C013", 4, 7)),
    ],
)
def test_a_table_that_does_not_fit_its_mapping_says_which_cell(capsys, tmp_path, swap, by, found):
    from textwrap import dedent

    text = dedent(MAPPING)
    assert swap in text
    survey = survey_of(tmp_path / "may.xlsx", ROD)
    mapping = mapping_in(tmp_path, text.replace(swap, by, 1))
    code, told = imported(capsys, survey, book_of(tmp_path), "--mapping", mapping)
    assert (code, codes(told)) == (2, [found])


def row_of(**given: object) -> tuple[object, ...]:
    return tuple(given.get(name.replace(" ", "_")) for name in HEAD)


@pytest.mark.parametrize(
    ("rows", "found"),
    [
        ([row_of(Part="Rod")], ("C098", 4, 1)),  # of no component
        ([row_of(Ref="P7")], None),  # an id alone says nothing
        ([row_of(Ref="P7", Joined="as-built")], ("C098", 4, 3)),  # a new one without a name
        ([row_of(Ref="P7", Part="Rod", Wear=0.2)], ("C098", 4, 5)),  # of no face
        ([row_of(Ref="P-7", Part="Rod"), row_of(Ref="P 7", Part="Rod")], ("C098", 5, 1)),  # one id of two names
        ([row_of(Ref="P7", Part="Rod"), row_of(Ref="P7", Part="Road")], ("C099", 5, 2)),  # told in two ways
        ([row_of(Ref="P7", Part="Rod", Joined="no-such-phase")], ("C068", 4, 3)),  # found when it is read again
    ],
)
def test_a_row_that_cannot_be_right_says_which_cell(capsys, tmp_path, rows, found):
    survey = survey_of(tmp_path / "may.xlsx", *rows)
    code, told = imported(capsys, survey, book_of(tmp_path), "--mapping", mapping_in(tmp_path))
    assert codes(told) == [found] if found else (code, told["files"]) == (0, [])


def test_a_thing_and_that_there_is_none_cannot_both_be_told(capsys, tmp_path):
    head = ("component", "component.name", "component.defects", "defect", "defects.{defect}.kind")
    file = sheet_file(tmp_path / "a.xlsx", head, ("lid", "Lid", "none", "rust", "active-corrosion"))
    assert codes(imported(capsys, file, book_of(tmp_path))[1]) == [("C099", 2, 5)]


def test_what_only_a_report_may_state_is_not_taken_from_a_sheet(capsys, tmp_path):
    file = sheet_file(tmp_path / "a.xlsx", ("component", "component.fit_to_run"), ("bed", "yes"))
    told = imported(capsys, file, book_of(tmp_path, {"components/bed.yaml": BED}))[1]
    assert codes(told) == [("C060", 2, 2)]


def test_a_new_fact_without_a_day_is_asked_for_one(capsys, tmp_path):
    file = sheet_file(tmp_path / "a.xlsx", ("component", "component.serviceable"), ("bed", "yes"))
    told = imported(capsys, file, book_of(tmp_path, {"components/bed.yaml": BED}))[1]
    assert codes(told) == [("C006", 2, 2)]


def test_decimal_commas_are_read_where_the_mapping_says_so(capsys, tmp_path):
    (tmp_path / "a.csv").write_text("Nr;Name;Masse\nlid;Lid;1,25\n", encoding="utf-8")
    text = "id: Nr\ndecimal_comma: yes\ncolumns: {Name: component.name, Masse: {to: component.mass, unit: kg, plus_minus: 0.05}}\n"
    code, told = imported(capsys, tmp_path / "a.csv", book_of(tmp_path), "--mapping", mapping_in(tmp_path, text))
    assert (code, [one["says"] for one in told["new_components"]["lid"]]) == (0, ["1.25 ± 0.05 kg", "Lid"])


# ---- what is not wrong, and a reader should know -----------------------------------------------------------

TERSE = """\
    id: Nr
    unknown: "?"
    date_column: Seen
    columns: {Name: component.name, Depth: {to: "defects.{Wrong}.extent", unit: mm}, Mass: {to: component.mass, unit: kg}}
    """
TERSE_HEAD = ("Nr", "Name", "Wrong", "Depth", "Mass", "Seen")


def terse(capsys, tmp_path: Path, *rows: tuple[object, ...], files: dict[str, str] | None = None) -> tuple[int, dict]:
    file = sheet_file(tmp_path / "a.xlsx", TERSE_HEAD, *rows)
    return imported(capsys, file, book_of(tmp_path, files), "--mapping", mapping_in(tmp_path, TERSE))


def test_what_is_named_and_told_nothing_of_is_not_passed_over_in_silence(capsys, tmp_path):
    rows = ("P7", "Rod", "pits", 2), ("P8", "Cap", "crack?", "?"), ("P9", "Pin", None, None)
    code, told = terse(capsys, tmp_path, *rows)
    assert code == 0
    assert [one for one in told["remarks"] if "Wrong" in one] == [
        "Under 'Wrong' stands 'crack?' (cell C3): no column tells anything of that, and it is not taken in."
    ]


def test_two_ids_that_differ_in_a_hyphen_only_are_pointed_out(capsys, tmp_path):
    code, told = terse(capsys, tmp_path, ("E 1", "Rod"), ("e1", "Rod"), ("B-ed", "Bed"), files={"components/bed.yaml": BED})
    assert code == 0
    assert "'e-1' is made from 'E 1' (cell A2)" in told["remarks"][0]
    assert "'bed' is there already" in told["remarks"][1]


def test_a_date_with_a_time_of_day_is_that_day_and_a_count_of_days_is_asked_to_be_a_date(capsys, tmp_path):
    code, told = terse(capsys, tmp_path, ("P7", "Rod", None, None, 3, datetime(2026, 5, 4, 14, 30)))
    assert (code, {one["on"] for one in told["new_components"]["p7"]}) == (0, {"2026-05-04"})
    told = terse(capsys, tmp_path, ("P7", "Rod", None, None, 3, 46146))[1]
    assert codes(told) == [("C006", 2, 6)] and "format" in told["problems"][0]["hint"]


def test_a_decimal_comma_says_that_a_mapping_may_allow_it(capsys, tmp_path):
    told = terse(capsys, tmp_path, ("P7", "Rod", None, None, "1,25", DAY))[1]
    assert codes(told) == [("C012", 2, 5)] and "decimal_comma" in told["problems"][0]["hint"]


def test_a_csv_file_that_is_given_says_that_it_is_utf_8(tmp_path):
    # Without the mark spreadsheets guess another encoding (RFC 3629, 6, on its use as a signature; from memory).
    export(CLOCK, "surfaces", tmp_path / "a.csv")
    assert (tmp_path / "a.csv").read_bytes().startswith(b"\xef\xbb\xbfcomponent,surface,")


# ---- what is given ----------------------------------------------------------------------------------------


HOSTILE = st.one_of(
    st.text(st.characters(exclude_categories=("Cs",)), max_size=30),
    st.builds("".join, st.lists(st.sampled_from(["'", "=", "+", "-", "@", "\t", "\r", "\n", '"', ",", ";", "1", "_x000D_",
                                                 "_x005F_", " ", "\uff1d", "x", "\ufffe", "\x0b", "\0"]), max_size=8)),
)  # fmt: skip


def as_kept(text: str) -> str:
    """A text as a casebook keeps it: no space around it, one sort of line end (`Words` in conserve.shape)."""
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


@given(HOSTILE)
@example("=1+1")
@example("'=1+1")
@example("''")
@example("_x005F_x000D_")
def test_any_text_comes_back_from_csv_as_it_was_and_no_cell_of_it_runs(text):
    kept = as_kept(text).replace("\0", "")
    data = csv_text(Sheet("x", ("a", "b"), ((kept, "y"),)))
    grid = read_csv(data.encode(), "a.csv", "comma", Problems("C"))
    assert grid is not None
    cell = grid.rows[1][1][0]
    assert (cell.text, cell.fault) == (kept, "")


@settings(max_examples=40)  # each makes a whole workbook
@given(HOSTILE)
@example("=1+1")
@example("'=1+1")
@example("_x000D_")
@example("a\ufffeb\x0bc")
def test_any_text_comes_back_from_a_workbook_as_it_was_and_no_cell_of_it_is_a_formula(text):
    kept = as_kept(text)
    data = workbook_of((Sheet("x", ("a", "b"), ((kept, "y"),)),))
    into = Problems("C")
    (grid,) = read_workbook(data, "a.xlsx", into)
    cell = grid.rows[1][1][0]
    assert (cell.text, cell.fault, into.all) == (kept, "", ())
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        assert b"<f>" not in packed.read("xl/worksheets/sheet1.xml")


@given(HOSTILE)
def test_what_guards_a_cell_is_taken_off_and_nothing_else(text):
    assert unguarded(guarded(text)) == text
    # OWASP, "CSV Injection": a cell must not begin with one of these; a plain number may.
    begins = guarded(text).lstrip()[:1]
    assert begins not in set("=+-@\uff1d\uff0b\uff0d\uff20") or re.fullmatch(r"[+-][0-9]+(\.[0-9]+)?", text)


@given(HOSTILE)
@example("yes")
@example("012")
@example("0x1F")
@example("- a")
@example("2026-05-04")
@example("null")
def test_a_scalar_is_read_as_the_same_text_by_another_reader_of_yaml(text):
    kept = as_kept(text)
    for written in (f"key: {scalar(kept)}\n", f"{{key: {scalar(kept)}}}\n"):
        assert yaml.load(written, yaml.BaseLoader) == {"key": kept}  # PyYAML, every scalar a text
        read = yaml.safe_load(written)["key"]  # PyYAML, types guessed at
        assert read == kept or (isinstance(read, bool | date) and re.fullmatch(r"yes|no|[0-9]{4}-[0-9-]+", kept))


def test_a_workbook_is_the_same_to_the_byte_whenever_it_is_made():
    sheets = (Sheet("One", ("a", "b"), (("=x", "1"), ("", "z"))), Sheet("Two", ("c",), ()))
    data = workbook_of(sheets)
    assert data == workbook_of(sheets)
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        assert {entry.date_time[0] for entry in packed.infolist()} == {1980}
        assert set(re.findall(rb"[12][0-9]{3}-[0-9]{2}-[0-9]{2}T", packed.read("docProps/core.xml"))) == {b"1980-01-01T"}


def test_a_cell_that_would_run_stays_a_text_when_it_is_edited():
    made = openpyxl.load_workbook(io.BytesIO(workbook_of((Sheet("One", ("a",), (("=1+1",), ("plain",))),))))
    cells = [made["One"].cell(row, 1) for row in (2, 3)]
    assert [(cell.value, cell.data_type, cell.quotePrefix) for cell in cells] == [("=1+1", "s", True), ("plain", "s", False)]
    assert made["One"].freeze_panes == "B2"


def test_a_text_longer_than_a_cell_is_refused_and_not_cut():
    # Microsoft, "Excel specifications and limits": 32,767 characters.
    with pytest.raises(ValueError, match="longer"):
        workbook_of((Sheet("One", ("a",), (("x" * 32_768,),)),))


@pytest.mark.parametrize("kind", ["components", "evidence", "due", "costs", "measurements", "survey"])
def test_another_reader_finds_the_same_in_workbook_and_csv(tmp_path, capsys, kind):
    calamine = pytest.importorskip("python_calamine")
    more = ["--on", "2026-06-01"] if kind in ("due", "survey") else []
    for ending in ("xlsx", "csv"):
        export(CLOCK, kind, tmp_path / f"a.{ending}", *more)
    book = calamine.CalamineWorkbook.from_path(str(tmp_path / "a.xlsx"))
    rows = [[str(cell) for cell in row] for row in book.get_sheet_by_index(0).to_python(skip_empty_area=False)]
    grid = read_csv((tmp_path / "a.csv").read_bytes(), "a.csv", "comma", Problems("C"))
    assert grid is not None and [[cell.text for cell in row] for _, row in grid.rows] == rows


def test_the_reader_of_workbooks_agrees_with_another(tmp_path):
    calamine = pytest.importorskip("python_calamine")
    file = survey_of(tmp_path / "may.xlsx", ROD, ROD_AGAIN, CAP)
    theirs = calamine.CalamineWorkbook.from_path(str(file)).get_sheet_by_name("Survey 2026").to_python(skip_empty_area=False)
    ours = read_workbook(file.read_bytes(), "may.xlsx", Problems("C"))[0]
    for (_, row), other in zip(ours.rows[2:], theirs[2:], strict=True):
        for cell, value in zip(row, other, strict=True):
            if isinstance(value, float):
                assert float(cell.text) == pytest.approx(value, rel=1e-14)
            else:
                assert cell.text == str(value)


def test_registers_say_what_the_casebook_says(capsys):
    casebook = demo()
    export(DEMO, "evidence")
    rows = read_csv(capsys.readouterr().out.encode(), "a.csv", "comma", Problems("C"))
    assert rows is not None
    assert [row[0].text for _, row in rows.rows[1:]] == list(casebook.evidence)
    head = [cell.text for cell in rows.rows[0][1]]
    register = yaml.safe_load((DEMO / "evidence/register.yaml").read_text(encoding="utf-8"))
    for _, row in rows.rows[1:]:
        said = dict(zip(head, (cell.text for cell in row), strict=True))
        about = register[said["evidence"]]["about"]
        assert said["date"] == str(register[said["evidence"]]["date"])
        assert said["about"] == "; ".join([about] if isinstance(about, str) else about)


def test_costs_are_told_and_so_is_that_nobody_has_said(capsys, tmp_path):
    proposal = """\
        title: Mend the bed
        component: bed
        preferred: leave
        needs: {sound: {kind: stability, says: It holds., test: {component.serviceable: yes}, set_by: us}}
        options:
          leave: {acts: none}
          clean:
            acts: [{technique: brush-cleaning}]
            resources:
              - {what: Brushes, money: 40 ± 5, hours: 90 ± 30 min, given: no, stage: first, basis: estimate}
        """
    budget = OBJECT.rstrip() + "\n    budget: {currency: EUR, stages: [first]}\n"
    book = book_of(tmp_path, {"components/bed.yaml": BED, "proposals/bed.yaml": proposal, "object.yaml": budget})
    export(book, "costs")
    assert capsys.readouterr().out.splitlines()[1:] == [
        "bed,leave,,,,,,,,,,,,nobody has written what it costs",
        "bed,clean,Brushes,40,5,EUR,1.5,0.5,,no,first,estimate,,",
    ]


def test_a_survey_sheet_that_comes_back_as_a_workbook_is_kept_with_its_answers_alone(capsys, tmp_path):
    casebook = book_of(tmp_path, {"components/bed.yaml": BED})
    empty = dict.fromkeys(COLUMNS, "") | {"component": "bed", "question": "Is it so?"}
    asked = [empty | {"term": "component.serviceable"}, empty | {"where": "top", "term": "surface.wear"}, empty | {"term": "component.examined"}]
    file = tmp_path / "may.xlsx"
    file.write_bytes(workbook_of((Sheet("Survey", COLUMNS, tuple(tuple(row.values()) for row in asked)),)))
    assert imported(capsys, file, casebook)[1]["files"] == []  # nothing is answered
    book = openpyxl.load_workbook(file)
    answers = {2: ("yes", None, None), 3: (0.2, 0.04, "mm"), 4: ("unknown", None, None)}
    for row, said in answers.items():
        for name, value in zip(("answer", "plus_minus", "unit", "date", "by"), (*said, DAY, "S. Varley"), strict=True):
            book.worksheets[0].cell(row, COLUMNS.index(name) + 1).value = value
    book.save(file)
    code, told = imported(capsys, file, casebook, "--write")
    assert (code, len(told["files"])) == (0, 1)
    assert (casebook / "surveys/may.csv").read_text(encoding="utf-8").splitlines()[1:] == [
        "bed,,component.serviceable,Is it so?,,yes,,,,2026-05-04,S. Varley,",
        "bed,top,surface.wear,Is it so?,,0.2,0.04,mm,,2026-05-04,S. Varley,",
    ]
    assert imported(capsys, file, casebook, "--write")[1]["files"] == []


# ---- at the command line ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ["import", "a.ods"],
        ["import", "absent.xlsx"],
        ["import", "foreign.csv"],
        ["export", "--as", "due", "--out", "a.pdf"],
        ["export", "--as", "due", "--out", "foreign.csv"],
        ["export", "--as", "due", "--out", "nowhere/a.csv"],
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(capsys, tmp_path, monkeypatch, words):
    monkeypatch.chdir(book_of(tmp_path))
    Path("foreign.csv").write_text("Ref,Part\n1,Rod\n", encoding="utf-8")
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.err.startswith("conserve: ") and told.out == ""


def test_without_the_library_for_workbooks_one_sentence_says_how_to_have_it(capsys, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    book = book_of(tmp_path)
    (tmp_path / "a.xlsx").write_bytes(b"")
    assert main(["import", str(tmp_path / "a.xlsx"), "--in", str(book)]) == 2
    assert main(["export", str(book), "--as", "components", "--out", str(tmp_path / "b.xlsx")]) == 2
    assert capsys.readouterr().err.count("pip install -e '.[spreadsheets]'") == 2
    export(book, "components")


def test_columns_are_called_by_letters():
    assert [letters(number) for number in (1, 26, 27, 702, 703, 16384)] == ["A", "Z", "AA", "ZZ", "AAA", "XFD"]


def test_a_folder_with_more_files_reads_as_if_they_were_written(tmp_path):
    folder = folder_of(tmp_path, {"components/a.yaml": "name: A\n", "components/b.yaml": "name: B\n"})
    supposed = WithMore(tmp_path, {"components/b.yaml": b"name: C\n", "surveys/s.csv": b"x"})
    assert supposed.names("components", ".yaml") == ("components/a.yaml", "components/b.yaml")
    assert supposed.names("", ".csv") == ("surveys/s.csv",)
    assert supposed.read_bytes("components/b.yaml") == b"name: C\n"
    assert supposed.digest("components/a.yaml") == folder.digest("components/a.yaml")
    assert supposed.digest("components/b.yaml") != folder.digest("components/b.yaml")


def test_a_problem_in_a_cell_is_told_with_its_sheet_and_name(capsys, tmp_path):
    file = sheet_file(tmp_path / "a.xlsx", ("component", "component.material"), ("bed", "grey-cast-irn"))
    book = book_of(tmp_path, {"components/bed.yaml": BED})
    assert main(["import", str(file), "--in", str(book)]) == 2
    told = capsys.readouterr().out
    assert "a.xlsx:2:2: C005" in told and "at sheet 'Sheet', cell B2" in told and "grey-cast-iron" in told
    assert Location("a", 1).at == ""
