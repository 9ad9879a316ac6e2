"""Survey sheets read back: what a row comes to, and everything that can be wrong with it, at its cell."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from decimal import Decimal
from itertools import permutations

import pytest
from helpers import OBJECT, casebook_of, folder_of, places, problems_of, shipped_rules, weighed
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conserve.casebook import Casebook, Stated, read_casebook
from conserve.casebook.agreeing import agreed
from conserve.casebook.measurements import COLUMNS as READING_COLUMNS
from conserve.casebook.surveys import COLUMNS
from conserve.problem import Location
from conserve.quantity import Quantity

HEAD = ",".join(COLUMNS)
BAR = """\
    name: Guide bar
    phase: as-built
    role: [bearing]
    surfaces:
      face:
        function: sliding
        marks:
          stamp: {kind: stamp}
      back: {finish: as-cast}
    repairs:
      strap: {technique: strap}
    defects:
      slack: {kind: looseness, seen: seen}
    """
LEAVE = """\
    title: Take up the slack
    component: bar
    needs:
      fit:
        kind: function
        says: It runs.
        test: {component.running_clearance: {between: [0.10 mm, 0.40 mm]}}
        set_by: the sheet
    options:
      leave:
        acts: []
      skim:
        acts:
          - {technique: milling, where: face, depth: 0.20 ± 0.05 mm}
      skim-back:
        acts:
          - {technique: milling, where: back, depth: 0.20 ± 0.05 mm}
    preferred: leave
    """


def row(component: str, where: str, term: str, answer: str, **more: str) -> dict[str, str]:
    """One row; it says who filled it in and when unless told otherwise."""
    cells = {"component": component, "where": where, "term": term, "answer": answer, "date": "2026-04-02", "by": "A. Name"}
    return {**dict.fromkeys(COLUMNS, ""), **cells, **more}


def as_csv(*rows: dict[str, str]) -> str:
    written = io.StringIO()
    sheet = csv.DictWriter(written, COLUMNS, lineterminator="\n")
    sheet.writeheader()
    sheet.writerows(rows)
    return written.getvalue()


def as_markdown(*rows: dict[str, str]) -> str:
    lines = [COLUMNS, ["---"] * len(COLUMNS), *(one.values() for one in rows)]
    table = ["| " + " | ".join(cell.replace("|", r"\|") for cell in line) + " |" for line in lines]
    return "\n".join(["# A sheet", "", "To be filled in.", "", *table, "", "That is all.", ""])


def files(**sheets: str) -> dict[str, str]:
    named = {f"surveys/{name.replace('_', '.')}": text for name, text in sheets.items()}
    return {"components/bar.yaml": BAR, "proposals/leave.yaml": LEAVE, **named}


def surveyed(root, *rows: dict[str, str]) -> Casebook:
    return casebook_of(root, files(one_csv=as_csv(*rows)))


def faults(root, *rows: dict[str, str]) -> list[tuple[str, int, str]]:
    """What is wrong with a sheet: code, line and column by its name."""
    found = problems_of(root, files(one_csv=as_csv(*rows)))
    assert {p.where.file for p in found} <= {"trial/surveys/one.csv"}
    return [(p.code, p.where.line, p.where.at) for p in found]


def unplaced(told: object) -> str:
    """What something comes to, but for where it was read."""
    return re.sub(r"Location\(file=.*?, at='[^']*'\)", "here", repr(told))


# ---- what a row comes to --------------------------------------------------------------------------


def test_a_filled_row_becomes_a_statement_of_who_found_it_when_and_with_what(tmp_path):
    sheet = row("bar", "", "component.running_clearance", "0.30", unit="mm", instrument="feeler-gauges")
    (stated,) = surveyed(tmp_path, sheet).components["bar"].facts["component.running_clearance"]
    assert stated == Stated(
        (Quantity(Decimal("0.30"), Decimal("0.04"), "mm"),),
        Location("trial/surveys/one.csv", 2, 1, stated.where.width, "component.running_clearance"),
        by="A. Name",
        on=date(2026, 4, 2),
        instrument="feeler-gauges",
    )


def test_a_row_is_about_the_object_a_component_or_a_thing_on_it(tmp_path):
    casebook = surveyed(
        tmp_path,
        row("object", "", "object.state_shown", "all-periods"),
        row("bar", "", "component.examined", "yes"),
        row("bar", "face", "surface.finish", "scraped"),
        row("bar", "marks/stamp", "mark.recorded", "no"),
        row("bar", "repairs/strap", "repair.soundness", "sound"),
        row("bar", "defects/slack", "defect.active", "yes"),
    )
    bar = casebook.components["bar"]
    facts = [casebook.object.facts, bar.facts, *(thing.facts for thing in bar.known_things())]
    stated = [(term, one) for some in facts for term, found in some.items() for one in found]
    found = {term: one.values for term, one in stated if one.where.file.endswith("one.csv")}
    assert found == {
        "object.state_shown": ("all-periods",),
        "component.examined": ("yes",),
        "surface.finish": ("scraped",),
        "mark.recorded": ("no",),
        "repair.soundness": ("sound",),
        "defect.active": ("yes",),
    }
    assert "surface.finish" in bar.thing("surface", "face").facts


@pytest.mark.parametrize(
    ("answer", "values"),
    [("braking; guard", ("braking", "guard")), ("braking", ("braking",)), ("none", ())],
)
def test_several_answers_stand_with_a_semicolon_between_them_and_none_is_an_answer(tmp_path, answer, values):
    text = BAR.replace("    role: [bearing]\n", "")
    sheet = as_csv(row("bar", "", "component.role", answer))
    casebook = casebook_of(tmp_path, files(one_csv=sheet) | {"components/bar.yaml": text})
    assert casebook.components["bar"].facts["component.role"][0].values == values


@pytest.mark.parametrize(
    ("more", "uncertainty"),
    [
        ({"plus_minus": "0.02"}, "0.02"),
        ({"plus_minus": "0.02", "instrument": "depth-gauge"}, "0.02"),
        ({"instrument": "depth-gauge"}, "0.05"),
        ({}, None),
    ],
)
def test_a_number_has_its_own_uncertainty_or_that_of_its_instrument_or_none(tmp_path, more, uncertainty):
    sheet = row("bar", "face", "surface.wear", "0.12", unit="mm", **more)
    (stated,) = surveyed(tmp_path, sheet).components["bar"].thing("surface", "face").facts["surface.wear"]
    assert stated.values == (Quantity(Decimal("0.12"), uncertainty and Decimal(uncertainty), "mm"),)


def test_a_row_of_a_sheet_and_a_row_of_readings_come_to_the_same(tmp_path):
    readings = f"{','.join(READING_COLUMNS)}\n2026-04-02,A. Name,depth-gauge,bar,face,,,wear,0.12,,mm\n"
    sheet = as_csv(row("bar", "face", "surface.wear", "0.12", unit="mm", instrument="depth-gauge"))
    casebook = casebook_of(tmp_path, files(one_csv=sheet) | {"measurements.csv": readings})
    one, other = casebook.components["bar"].thing("surface", "face").facts["surface.wear"]
    assert unplaced(one) == unplaced(other)


def test_an_exact_size_needs_no_uncertainty(tmp_path):
    sheet = row("bar", "face", "surface.nominal_thickness", "12", unit="mm")
    (stated,) = surveyed(tmp_path, sheet).components["bar"].thing("surface", "face").facts["surface.nominal_thickness"]
    assert stated.values == (Quantity(Decimal(12), Decimal(0), "mm"),)


def test_a_list_that_nobody_has_written_is_closed_by_none(tmp_path):
    text = "    name: Bar\n    surfaces: {face: {function: sliding}}\n"
    sheet = as_csv(*(row("bar", "", name, "none") for name in ("repairs", "defects")), row("bar", "face", "marks", "none"))
    before = casebook_of(tmp_path / "a", {"components/bar.yaml": text}).components["bar"]
    after = casebook_of(tmp_path / "b", {"components/bar.yaml": text, "surveys/one.csv": sheet}).components["bar"]
    assert (before.repairs, before.defects, before.things("mark")) == (None, None, None)
    assert (after.repairs, after.defects, after.things("mark")) == ((), (), ())
    assert after.places["repairs"].file == "trial/surveys/one.csv"


def test_a_component_without_faces_is_said_to_have_none(tmp_path):
    sheet = as_csv(row("bar", "", "surfaces", "none"))
    bar = casebook_of(tmp_path, {"components/bar.yaml": "    name: Bar\n", "surveys/one.csv": sheet}).components["bar"]
    assert bar.surfaces == ()


def test_two_sheets_may_close_the_same_list(tmp_path):
    sheet = as_csv(row("bar", "", "repairs", "none"))
    told = {"components/bar.yaml": "    name: Bar\n", "surveys/a.csv": sheet, "surveys/b.csv": sheet}
    assert casebook_of(tmp_path, told).components["bar"].repairs == ()


@pytest.mark.parametrize("answer", ["", "unknown"])
def test_an_unanswered_row_changes_nothing(tmp_path, answer):
    blank = as_csv(
        row("bar", "", "component.running_clearance", answer, question="How much, and by what?", cost="measure", unit="mm"),
        row("gone", "nowhere", "no.term", answer, date="", by=""),
        row("bar", "", "component.fit_to_run", answer),
        row("bar", "", "repairs", answer),
    )
    with_sheet = casebook_of(tmp_path / "a", files(one_csv=blank))
    without = casebook_of(tmp_path / "b", files())
    assert with_sheet.components == without.components
    assert with_sheet.as_at == without.as_at


def test_statements_that_disagree_with_a_sheet_make_the_fact_unknown(tmp_path):
    casebook = surveyed(tmp_path, row("bar", "back", "surface.finish", "machined"))
    found = agreed(casebook.components["bar"].thing("surface", "back").facts["surface.finish"])
    assert (found.values, found.disputed) == (None, True)


def test_the_date_of_a_row_counts_in_that_of_the_casebook(tmp_path):
    for number, sheet in enumerate(
        (
            row("bar", "", "component.examined", "yes", date="2031-01-02"),
            row("object", "", "object.state_shown", "one-date", date="2031-01-02"),
            row("bar", "back", "marks", "none", date="2031-01-02"),
        )
    ):
        assert surveyed(tmp_path / str(number), sheet).as_at == date(2031, 1, 2)


def test_the_digest_of_every_sheet_is_kept(tmp_path):
    sheet = row("bar", "", "component.examined", "yes")
    casebook = casebook_of(tmp_path, files(one_csv=as_csv(sheet), two_md=as_markdown(sheet)))
    assert {name for name in casebook.digests if name.startswith("surveys/")} == {"surveys/one.csv", "surveys/two.md"}


# ---- the same as in a component's file ------------------------------------------------------------

ALIKE = [
    (
        "    role: [bearing]\n",
        "    running_clearance: {value: 0.30 mm, instrument: feeler-gauges, by: A. Name, date: 2026-04-02}\n",
        [row("bar", "", "component.running_clearance", "0.30", unit="mm", instrument="feeler-gauges")],
    ),
    (
        "        function: sliding\n",
        "        relief: {value: 0.05 ± 0.01 mm, by: A. Name, date: 2026-04-02}\n",
        [row("bar", "face", "surface.relief", "0.05", plus_minus="0.01", unit="mm")],
    ),
    (
        "        function: sliding\n",
        "        sets_clearance: {value: yes, by: A. Name, date: 2026-04-02}\n",
        [row("bar", "face", "surface.sets_clearance", "yes")],
    ),
    (
        "    role: [bearing]\n",
        "    hazards: {value: [lead-paint, height], by: A. Name, date: 2026-04-02}\n",
        [row("bar", "", "component.hazards", "lead-paint; height")],
    ),
    (
        "    role: [bearing]\n",
        "    hazards: {value: none, by: A. Name, date: 2026-04-02}\n",
        [row("bar", "", "component.hazards", "none")],
    ),
    ("      back: {finish: as-cast", "", [row("bar", "back", "marks", "none")]),
]


@pytest.mark.parametrize(("above", "line", "rows"), ALIKE)
def test_a_filled_row_gives_the_same_weighing_as_the_same_fact_in_the_components_file(tmp_path, above, line, rows):
    assert above in BAR
    text = BAR.replace(above, above + line) if line else BAR.replace(above, f"{above}, marks: none")
    # An event on the day of the survey, so that the date of both casebooks is the same.
    history = "history: [{date: 2026-04-02, says: Looked at., kind: examined}]\n"
    written = casebook_of(tmp_path / "a", files() | {"components/bar.yaml": text + history})
    filled = casebook_of(tmp_path / "b", files(one_csv=as_csv(*rows)) | {"components/bar.yaml": BAR + history})
    silent = casebook_of(tmp_path / "c", files() | {"components/bar.yaml": BAR + history})
    told = [unplaced(weighed(casebook).parts[0].options) for casebook in (written, filled, silent)]
    assert told[0] == told[1]
    assert told[1] != told[2]


def test_a_fact_of_the_object_on_a_sheet_weighs_as_it_does_in_its_file(tmp_path):
    the_object = OBJECT + "state_shown: {value: one-date, by: A. Name, date: 2026-04-02}\n"
    written = casebook_of(tmp_path / "a", files() | {"object.yaml": the_object})
    filled = surveyed(tmp_path / "b", row("object", "", "object.state_shown", "one-date"))
    assert written.as_at == filled.as_at
    assert unplaced(weighed(written).parts[0].options) == unplaced(weighed(filled).parts[0].options)


ROWS = (
    row("bar", "face", "surface.wear", "0.12", plus_minus="0.02", unit="mm"),
    row("bar", "face", "surface.wear", "0.13", plus_minus="0.02", unit="mm", date="2026-04-03"),
    row("bar", "", "component.hazards", "lead-paint; height"),
    row("bar", "", "component.hazards", "height; lead-paint"),
)


def test_the_order_of_rows_and_of_sheets_changes_nothing(tmp_path):
    told = set()
    for number, order in enumerate(permutations(ROWS)):
        casebook = surveyed(tmp_path / str(number), *order)
        told.add(unplaced((casebook.components["bar"], weighed(casebook).parts[0].options)))
    one, two = as_csv(*ROWS[:2]), as_csv(*ROWS[2:])
    for name, pair in (("x", {"a_csv": one, "b_csv": two}), ("y", {"a_csv": two, "b_csv": one})):
        casebook = casebook_of(tmp_path / name, files(**pair))
        told.add(unplaced((casebook.components["bar"], weighed(casebook).parts[0].options)))
    assert len(told) == 1


def test_a_sheet_in_markdown_and_one_in_csv_read_alike(tmp_path):
    rows = (*ROWS, row("bar", "face", "surface.finish", "scraped", note="worn | bright, at one end", by="B | C"))
    one = casebook_of(tmp_path / "a", files(one_csv=as_csv(*rows)))
    two = casebook_of(tmp_path / "b", files(one_md=as_markdown(*rows)))
    assert unplaced(one.components) == unplaced(two.components)
    assert one.as_at == two.as_at
    (stated,) = two.components["bar"].thing("surface", "face").facts["surface.finish"]
    assert (stated.by, stated.where.line) == ("B | C", 11)


def test_a_markdown_file_may_hold_several_tables_and_words_between_them(tmp_path):
    text = as_markdown(ROWS[0]) + as_markdown(row("bar", "", "component.examined", "yes"))
    bar = casebook_of(tmp_path, files(one_md=text)).components["bar"]
    assert "surface.wear" in bar.thing("surface", "face").facts
    assert "component.examined" in bar.facts


# ---- what is wrong with a row ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sheet", "code", "column"),
    [
        (row("baar", "", "component.examined", "yes"), "C061", "component"),
        (row("bar", "side", "surface.finish", "bare"), "C062", "where"),
        (row("bar", "marks/gone", "mark.kind", "stamp"), "C062", "where"),
        (row("bar", "repairs/gone", "repair.period", "preservation"), "C062", "where"),
        (row("bar", "defects/strap", "defect.active", "yes"), "C062", "where"),
        (row("object", "face", "object.kind", "crane"), "C062", "where"),
        (row("bar", "", "component.exmined", "yes"), "C069", "term"),
        (row("bar", "", "examined", "yes"), "C069", "term"),
        (row("bar", "", "surface.finish", "bare"), "C069", "term"),
        (row("bar", "face", "component.examined", "yes"), "C069", "term"),
        (row("bar", "", "component.marked", "yes"), "C069", "term"),
        (row("bar", "", "component.period", "as-made"), "C069", "term"),
        (row("bar", "", "act.weather", "measured"), "C069", "term"),
        (row("bar", "", "component.fit_to_run", "yes"), "C060", "term"),
        (row("bar", "face", "surface.finish", "shiny"), "C005", "answer"),
        (row("bar", "face", "surface.finish", "bare; bright"), "C005", "answer"),
        (row("bar", "", "component.examined", "Yes"), "C005", "answer"),
        (row("bar", "", "component.examined", "none"), "C005", "answer"),
        (row("bar", "", "component.hazards", "height; ghosts"), "C005", "answer"),
        (row("bar", "", "component.hazards", "height;"), "C005", "answer"),
        (row("bar", "", "component.hazards", ";"), "C005", "answer"),
        (row("bar", "", "component.hazards", "none; height"), "C005", "answer"),
        (row("bar", "face", "surface.wear", "much", unit="mm"), "C012", "answer"),
        (row("bar", "face", "surface.wear", "none", unit="mm"), "C012", "answer"),
        (row("bar", "face", "surface.wear", "NaN", unit="mm"), "C016", "answer"),
        (row("bar", "face", "surface.wear", "0.1", unit="kg"), "C013", "unit"),
        (row("bar", "face", "surface.wear", "0.1"), "C014", "unit"),
        (row("bar", "face", "surface.wear", "0.1", unit="mm", instrument="bench-scale"), "C013", "unit"),
        (row("bar", "face", "surface.wear", "0.1", unit="mm", instrument="thumb"), "C005", "instrument"),
        (row("bar", "", "component.examined", "yes", date="2 April"), "C006", "date"),
        (row("bar", "", "component.examined", "yes", date=""), "C006", "date"),
        (row("bar", "", "component.examined", "yes", date="2026-02-30"), "C006", "date"),
        (row("bar", "", "component.examined", "yes", by="A\u202eB"), "C010", "by"),
        (row("bar", "", "component.examined", "yes", by="A\x07B"), "C010", "by"),
        (row("bar", "", "component.examined", "yes", by="A\nB"), "C010", "by"),
        (row("bar", "", "component.examined", "yes", by="A" * 201), "C011", "by"),
        (row("bar", "", "component.examined", "yes", note="=HYPERLINK(1)"), "C083", "note"),
        (row("bar", "", "component.examined", "", note="\t=1+1"), "C083", "note"),
        (row("bar", "", "component.examined", "yes", by="@lead"), "C083", "by"),
        (row("bar", "", "component.examined", "yes", cost="-"), "C083", "cost"),
        (row("bar", "", "component.examined", "yes", question="+cmd|' /C calc'!A0"), "C083", "question"),
        (row("bar", "", "component.examined", "yes", note="\uff1d1+1"), "C083", "note"),
        (row("bar", "", "component.examined", "yes", plus_minus="1"), "C086", "plus_minus"),
        (row("bar", "", "component.examined", "yes", unit="mm"), "C086", "unit"),
        (row("bar", "", "repairs", "none"), "C084", "term"),
        (row("bar", "", "surfaces", "none"), "C084", "term"),
        (row("bar", "", "defects", "none"), "C084", "term"),
        (row("bar", "face", "marks", "none"), "C084", "term"),
        (row("bar", "back", "marks", "a stamp"), "C085", "answer"),
        (row("bar", "back", "marks", "yes"), "C085", "answer"),
        (row("bar", "", "marks", "none"), "C069", "term"),
        (row("bar", "back", "repairs", "none"), "C069", "term"),
        (row("object", "", "surfaces", "none"), "C069", "term"),
    ],
)  # fmt: skip
def test_a_fault_in_a_row_is_told_at_its_cell(tmp_path, sheet, code, column):
    assert faults(tmp_path, ROWS[0], sheet) == [(code, 3, column)]


@pytest.mark.parametrize("where", ["surfaces/face", "part/face", "repairs/", "/face", "/", "marks/stamp/x"])
def test_a_place_that_is_written_otherwise_is_a_problem(tmp_path, where):
    found = faults(tmp_path, row("bar", where, "surface.finish", "bare"))
    assert ("C062", 2, "where") in found


def test_numbers_with_a_sign_are_no_formulas(tmp_path):
    sheet = row("object", "", "object.store_humidity", "+60.5", plus_minus="2", unit="%")
    assert surveyed(tmp_path, sheet).object.facts["object.store_humidity"][0].values[0].amount == Decimal("60.5")
    assert faults(tmp_path / "b", row("bar", "face", "surface.wear", "-0.5 mm")) == [("C083", 2, "answer")]


def test_a_fault_is_told_at_its_line_and_character_in_a_quoted_cell(tmp_path):
    text = f'{HEAD}\nbar,,component.examined,"Who, and\n""when""?",ask,perhaps,,,,2026-04-02,me,\n'
    assert places(problems_of(tmp_path, files(one_csv=text))) == [("C005", 3, 16)]


def test_a_fault_in_markdown_is_told_at_its_line_and_character(tmp_path):
    text = f"| {' | '.join(COLUMNS)} |\n|{'---|' * 12}\n  | bar || component.examined | a \\| b | ask | perhaps |||| 2026-04-02 | me ||\n"
    (place,) = places(problems_of(tmp_path, {"components/bar.yaml": BAR} | {"surveys/one.md": text}))
    assert place == ("C005", 3, text.splitlines()[2].index("perhaps") + 1)


def test_all_that_is_wrong_is_told_at_once(tmp_path):
    sheets = {
        "one_csv": as_csv(
            row("baar", "", "component.exmined", "yes", date="soon"),
            row("bar", "side", "surface.wear", "much", unit="mm", instrument="thumb", note="=1"),
        ),
        "two_md": as_markdown(row("bar", "face", "surface.finish", "shiny")),
    }
    found = problems_of(tmp_path, files(**sheets) | {"measurements.csv": "date;by\n"})
    assert [(p.where.file.removeprefix("trial/"), p.where.line, p.code) for p in found] == [
        ("measurements.csv", 1, "C075"),
        ("surveys/one.csv", 2, "C061"),
        ("surveys/one.csv", 2, "C069"),
        ("surveys/one.csv", 2, "C006"),
        ("surveys/one.csv", 3, "C062"),
        ("surveys/one.csv", 3, "C012"),
        ("surveys/one.csv", 3, "C005"),
        ("surveys/one.csv", 3, "C083"),
        ("surveys/two.md", 7, "C005"),
    ]


@pytest.mark.parametrize(
    ("sheet", "like"),
    [
        (row("barr", "", "component.examined", "yes"), "'bar'"),
        (row("bar", "fase", "surface.finish", "bare"), "'face'"),
        (row("bar", "", "component.exmined", "yes"), "'component.examined'"),
        (row("bar", "", "surface.finish", "bare"), "surface"),
        (row("bar", "back", "marks", "a stamp"), "components/bar.yaml"),
    ],
)
def test_a_hint_says_what_may_be_meant(tmp_path, sheet, like):
    (problem,) = problems_of(tmp_path, files(one_csv=as_csv(sheet)))
    assert like in problem.hint


# ---- what is wrong with a sheet -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "text", "place"),
    [
        ("one.csv", "component;where\nbar;\n", ("C075", 1, 1)),
        ("one.csv", f"{HEAD},more\n", ("C075", 1, 1)),
        ("one.csv", f"{HEAD}\nbar,,component.examined\n", ("C075", 2, 1)),
        ("one.csv", f"{HEAD}\nbar,,component.examined,Who, and when?,,yes,,,,2026-04-02,me,\n", ("C075", 2, 1)),
        ("one.csv", f"{HEAD}\n\rbar\n", ("C075", 3, 1)),
        ("one.csv", f"{HEAD}\n{'x' * 140_000}\n", ("C075", 2, 1)),  # longer than the reader takes
        ("one.md", "Nothing here.\n", ("C075", 1, 1)),
        ("one.md", "| component | where |\n| --- | --- |\n| bar | |\n", ("C075", 1, 1)),
        ("one.md", f"| {' | '.join(COLUMNS)} |\n| --- | --- |\n| bar |\n", ("C075", 3, 1)),
        ("one.md", f"| {' | '.join(COLUMNS)} |\nbar | | component.examined\n", ("C075", 2, 1)),
    ],
)
def test_a_sheet_that_is_no_table_of_these_columns_is_a_problem(tmp_path, name, text, place):
    assert places(problems_of(tmp_path, files() | {f"surveys/{name}": text})) == [place]


def test_a_sheet_that_is_not_text_or_stands_behind_a_link_is_a_problem(tmp_path):
    (tmp_path / "surveys").mkdir()
    (tmp_path / "surveys/odd.csv").write_bytes(b"\xff\xfe")
    (tmp_path / "surveys/away.md").symlink_to("/etc/hostname")
    found = problems_of(tmp_path, files())
    assert [(p.where.file, p.code) for p in found] == [("trial/surveys/away.md", "C029"), ("trial/surveys/odd.csv", "C025")]


def test_a_sheet_from_a_spreadsheet_may_begin_with_its_mark_and_end_lines_in_its_way(tmp_path):
    folder_of(tmp_path, {"object.yaml": OBJECT, **files()})
    (tmp_path / "surveys").mkdir()
    text = as_csv(row("bar", "", "component.examined", "yes", note="two\nlines")).replace("\n", "\r\n")
    (tmp_path / "surveys/one.csv").write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert "component.examined" in casebook_of(tmp_path, {}).components["bar"].facts


_BYTES = st.one_of(
    st.binary(max_size=200),
    st.text(alphabet='bar,"|\\\n\r-;=@ \x00\u202e', max_size=200).map(str.encode),
)


@pytest.mark.parametrize("head", ["", f"{HEAD}\n", f"| {' | '.join(COLUMNS)} |\n| --- |\n|"])
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=_BYTES)
def test_whatever_stands_in_a_sheet_or_in_readings_nothing_breaks(tmp_path, head, data):
    folder = folder_of(tmp_path, {"object.yaml": OBJECT, "components/bar.yaml": BAR})
    (tmp_path / "surveys").mkdir(exist_ok=True)
    for name in ("surveys/one.csv", "surveys/one.md", "measurements.csv"):
        (tmp_path / name).write_bytes(head.encode() + data)
    casebook, problems = read_casebook(folder, shipped_rules().vocabulary, "trial")
    assert (casebook is None) == bool(problems)
    assert all(p.where.line >= 1 and p.where.column >= 1 for p in problems)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cells=st.lists(st.text(max_size=30), min_size=12, max_size=12))
def test_whatever_stands_in_the_cells_of_a_row_nothing_breaks(tmp_path, cells):
    sheet = dict(zip(COLUMNS, cells, strict=True))
    found = problems_of(tmp_path, files(one_csv=as_csv(sheet), two_md=as_markdown(sheet)))
    assert all(p.where.line >= 1 and p.where.column >= 1 for p in found)
