"""Reading a casebook: what it comes to, and everything that can be wrong with it, at its place, in one go."""

from datetime import date
from decimal import Decimal
from itertools import permutations

import pytest
from helpers import DEMO, casebook_of, demo, folder_of, places, problems_of, shipped_rules

from conserve.casebook import read_casebook
from conserve.casebook.agreeing import agreed
from conserve.files import Folder
from conserve.quantity import Quantity

HEADER = "date,by,instrument,component,where,plane,angle,quantity,reading,plus_minus,unit\n"
BAR = """\
    name: Guide bar
    role: [bearing]
    phase: as-built
    running_clearance: 0.30 ± 0.04 mm
    surfaces:
      face:
        function: sliding
        wear: 0.12 ± 0.02 mm
        marks: none
      back:
        marks:
          stamp: {kind: stamp, recorded: yes}
    repairs: none
    """
LEAVE = """\
    title: Leave the bar
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
    preferred: leave
    """
SHEET = """\
    sheet:
      kind: measurement-sheet
      held: Office
      date: 2026-03-01
      by: A. Name
      about: [bar]
      shows: Readings.
    """


def sound(**more: str) -> dict[str, str]:
    return {"components/bar.yaml": BAR, "proposals/leave.yaml": LEAVE, "evidence/register.yaml": SHEET, **more}


# ---- what reading comes to -----------------------------------------------------------------------


def test_the_demonstration_reads_without_a_problem():
    assert read_casebook(Folder(DEMO), shipped_rules().vocabulary, "marrow-fen")[1] == ()


def test_a_written_list_is_closed_and_an_absent_one_is_unknown(tmp_path):
    bar = casebook_of(tmp_path, sound()).components["bar"]
    assert bar.repairs == ()
    assert bar.defects is None
    face, back = bar.surfaces
    assert face.marks == ()
    assert [mark.id for mark in back.marks] == ["stamp"]


def test_one_unwritten_list_of_marks_makes_the_marks_of_the_part_unknown(tmp_path):
    text = BAR.replace("        marks: none\n", "")
    bar = casebook_of(tmp_path, sound(**{"components/bar.yaml": text})).components["bar"]
    assert bar.things("mark") is None


def test_unknown_is_the_same_as_leaving_out(tmp_path):
    text = BAR.replace("0.30 ± 0.04 mm", "unknown")
    bar = casebook_of(tmp_path, sound(**{"components/bar.yaml": text})).components["bar"]
    assert "component.running_clearance" not in bar.facts


def test_every_fact_knows_its_line_and_column(tmp_path):
    face = casebook_of(tmp_path, sound()).components["bar"].thing("surface", "face")
    (stated,) = face.facts["surface.wear"]
    assert (stated.where.line, stated.where.column) == (8, 11)
    assert stated.where.at == "surfaces.face.wear"


def test_a_reading_without_its_own_uncertainty_has_that_of_its_instrument(tmp_path):
    text = BAR.replace(
        "wear: 0.12 ± 0.02 mm", "wear: {value: 0.12 mm, instrument: depth-gauge, by: me, date: 2026-02-14}"
    )
    face = casebook_of(tmp_path, sound(**{"components/bar.yaml": text})).components["bar"].thing("surface", "face")
    (stated,) = face.facts["surface.wear"]
    assert stated.values == (Quantity(Decimal("0.12"), Decimal("0.05"), "mm"),)
    assert (stated.by, stated.on) == ("me", date(2026, 2, 14))


def test_the_uncertainty_of_an_instrument_is_told_in_the_unit_of_the_reading(tmp_path):
    rows = HEADER + "2026-03-01,me,depth-gauge,bar,face,,,wear,0.010,,in\n"
    text = BAR.replace("wear: 0.12 ± 0.02 mm", "wear: unknown")
    files = sound(**{"components/bar.yaml": text, "measurements.csv": rows})
    (stated,) = casebook_of(tmp_path, files).components["bar"].thing("surface", "face").facts["surface.wear"]
    assert stated.values[0].uncertainty == Decimal("0.05") / Decimal("25.4")


def test_leaving_alone_is_always_an_option(tmp_path):
    text = LEAVE.replace("leave:\n        acts: []", "drying:\n        acts:\n          - {technique: drying}")
    proposal = casebook_of(
        tmp_path, sound(**{"proposals/leave.yaml": text.replace("preferred: leave", "preferred: drying")})
    ).proposals[0]
    assert [(option.id, option.listed) for option in proposal.options] == [("leave", False), ("drying", True)]


def test_an_act_with_one_need_is_for_it(tmp_path):
    text = LEAVE.replace("preferred", "  dry:\n        acts:\n          - {technique: drying}\n    preferred")
    (act,) = casebook_of(tmp_path, sound(**{"proposals/leave.yaml": text})).proposals[0].option("dry").acts
    assert act.needs == ("fit",)


def test_the_date_of_a_casebook_is_that_of_the_latest_thing_that_has_happened(tmp_path):
    assert casebook_of(tmp_path, sound()).as_at == date(2026, 3, 1)
    assert demo().as_at > date(2026, 4, 1)


# ---- like parts ----------------------------------------------------------------------------------

STUDS = """\
    alike: stud-08..stud-11
    name: Stud
    material: wrought-iron
    surfaces:
      thread: {function: mating, marks: none}
    each:
      stud-10:
        material: mild-steel
        surfaces: none
    """


def test_like_parts_are_written_once_and_differ_where_they_say(tmp_path):
    parts = casebook_of(tmp_path, {"components/studs.yaml": STUDS}).components
    assert list(parts) == ["stud-08", "stud-09", "stud-10", "stud-11"]
    assert parts["stud-09"].facts["component.material"][0].values == ("wrought-iron",)
    assert parts["stud-10"].facts["component.material"][0].values == ("mild-steel",)
    assert parts["stud-10"].surfaces == ()


def test_a_proposal_may_name_a_range_of_like_parts(tmp_path):
    text = LEAVE.replace("component: bar", "components: stud-08..stud-10")
    casebook = casebook_of(tmp_path, {"components/studs.yaml": STUDS, "proposals/leave.yaml": text})
    assert casebook.proposals[0].components == ("stud-08", "stud-09", "stud-10")


@pytest.mark.parametrize("written", ["stud-11..stud-08", "stud-08..bolt-11", "stud-08", "a-1..a-5000"])
def test_what_is_no_range_of_like_parts_is_a_problem_at_its_place(tmp_path, written):
    text = STUDS.replace("stud-08..stud-11", written).partition("    each:")[0]
    assert places(problems_of(tmp_path, {"components/studs.yaml": text})) == [("C072", 1, 8)]


def test_a_difference_of_a_part_that_is_not_among_the_like_ones_is_a_problem(tmp_path):
    text = STUDS.replace("stud-10:", "stud-12:")
    assert places(problems_of(tmp_path, {"components/studs.yaml": text})) == [("C072", 7, 3)]


def test_a_part_written_in_two_files_is_a_problem(tmp_path):
    files = {"components/studs.yaml": STUDS, "components/stud-09.yaml": "    name: Stud\n"}
    assert [code for code, *_ in places(problems_of(tmp_path, files))] == ["C072"]


# ---- statements that disagree --------------------------------------------------------------------


def readings(tmp_path, *rows: str):
    text = HEADER + "".join(f"2026-03-01,me,,bar,face,{row}\n" for row in rows)
    bare = BAR.replace("        wear: 0.12 ± 0.02 mm\n", "")
    casebook = casebook_of(tmp_path, sound(**{"components/bar.yaml": bare, "measurements.csv": text}))
    return agreed(casebook.components["bar"].thing("surface", "face").facts["surface.wear"])


def test_readings_at_one_place_that_lie_too_far_apart_make_the_fact_unknown(tmp_path):
    found = readings(tmp_path, "A,,wear,0.10,0.02,mm", "A,,wear,0.20,0.02,mm")
    assert found.values is None
    assert found.disputed
    assert found.counted == ()


def test_readings_at_one_place_within_their_uncertainties_agree(tmp_path):
    found = readings(tmp_path, "A,,wear,0.10,0.02,mm", "A,,wear,0.12,0.02,mm")
    assert not found.disputed
    assert len(found.values) == 2


def test_readings_at_different_planes_are_different_readings(tmp_path):
    found = readings(tmp_path, "A,,wear,0.10,0.02,mm", "B,,wear,0.30,0.02,mm")
    assert [str(v.amount) for v in found.values] == ["0.10", "0.30"]


def test_a_file_and_a_reading_that_disagree_make_the_fact_unknown(tmp_path):
    rows = HEADER + "2026-03-01,me,,bar,face,,,wear,0.30,0.02,mm\n"
    bar = casebook_of(tmp_path, sound(**{"measurements.csv": rows})).components["bar"]
    assert agreed(bar.thing("surface", "face").facts["surface.wear"]).disputed


# ---- everything that is wrong, in one go ---------------------------------------------------------

TWENTY = {
    "components/bar.yaml": """\
        name: "Guide\u202ebar"
        role: [baering]
        materiel: wrought-iron
        phase: as-built
        running_clearance: 0.30 ± 0.04
        mass: nan kg
        volume: &v 4 cm3
        examined: !!bool yes
        present: maybe
        surfaces:
          face: {function: sliding, wear: 0.12 ± 0.02 kg, says: clean, dry and bright}
          face: {function: mating}
        """,
    "components/old.yaml": """\
        name: Old bar
        phase: as-rebuilt
        fit_to_run: yes
        surfaces:
          face:
            wear: {value: 0.1 ± 0.02 mm, evidence: [lost-sheet]}
        """,
    "proposals/cut.yaml": """\
        title: Cut it
        component: oldd
        needs:
          fit:
            kind: function
            says: It runs.
            test: {component.runing_clearance: {between: [0.10 mm, 0.40 mm]}}
            set_by: me
          sure:
            kind: safety
            says: It is safe.
            test: {component.fit_to_run: yes}
            set_by: me
        options:
          mill:
            acts:
              - technique: miling
              - {technique: milling, where: back, for: [sure]}
              - {technique: drying}
              - {technique: drying, for: [fitt]}
        preferred: leave-it
        """,
    "proposals/other.yaml": """\
        title: Other
        component: old
        needs:
          fit:
            kind: function
            says: It runs.
            test: {component.present: yes}
            set_by: me
        options:
          mill:
            acts:
              - {technique: milling, where: back}
        preferred: mill
        """,
    "evidence/register.yaml": """\
        out:
          kind: photograph
          file: ../../secret.jpg
          date: 2026-03-01
          by: me
          about: [old]
          shows: It.
        root:
          kind: photograph
          file: /etc/passwd
          date: 2026-02-30
          by: me
          about: [old]
          shows: It.
        linked:
          kind: photograph
          file: link.jpg
          date: 2026-03-01
          by: me
          about: [old]
          shows: It.
        """,
    "measurements.csv": HEADER
    + "2026-03-01,me,ruler,old,face,A,,wear,0.1,,mm\n"
    + "2026-13-01,me,,old,side,A,,wear,0.1,0.02,mm\n"
    + "2026-03-01,me,,old,face,A,,wear,0.1,0.02,kg\n"
    + "2026-03-01,me,,old,face,A,,waer,0.1,0.02,mm\n"
    + "2026-03-01,me,,old,face,A,,wear,0.1\n",
}
FOUND = """\
components/bar.yaml:1:7 C010
components/bar.yaml:2:8 C005
components/bar.yaml:3:1 C001
components/bar.yaml:5:20 C014
components/bar.yaml:6:7 C016
components/bar.yaml:7:9 C021
components/bar.yaml:8:11 C022
components/bar.yaml:9:10 C005
components/bar.yaml:11:35 C013
components/bar.yaml:11:64 C009
components/bar.yaml:12:3 C003
components/old.yaml:3:13 C060
components/old.yaml:6:19 C065
evidence/register.yaml:3:9 C030
evidence/register.yaml:10:9 C030
evidence/register.yaml:11:9 C006
measurements.csv:2:15 C005
measurements.csv:3:1 C006
measurements.csv:3:20 C062
measurements.csv:4:42 C013
measurements.csv:5:28 C069
measurements.csv:6:1 C075
evidence/register.yaml:17:9 C070
proposals/cut.yaml:2:12 C061
proposals/cut.yaml:7:12 C069
proposals/cut.yaml:17:20 C005
proposals/cut.yaml:18:21 C066
proposals/cut.yaml:19:9 C067
proposals/cut.yaml:20:34 C063
proposals/cut.yaml:21:12 C064
proposals/other.yaml:12:37 C062
"""
# What names something that is not there, told at the thing that names it.
LEADS_NOWHERE = {
    "components/old.yaml": {"C068"},  # a phase
}


def test_every_fault_of_a_casebook_is_told_in_one_go_at_its_line_and_column(tmp_path):
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence/link.jpg").symlink_to("/etc/hostname")
    found = problems_of(tmp_path, TWENTY)
    told = {f"{p.where.file.removeprefix('trial/')}:{p.where.line}:{p.where.column} {p.code}" for p in found}
    assert set(FOUND.splitlines()) - told == set()
    for file, codes in LEADS_NOWHERE.items():
        assert codes <= {p.code for p in found if p.where.file == f"trial/{file}"}
    assert len({p.where.file for p in found}) == 6
    assert list(found) == sorted(found)


def test_a_fault_in_one_file_does_not_hide_those_in_another(tmp_path):
    files = sound(**{"components/bar.yaml": "    name: [", "evidence/register.yaml": "    a: {kind: photo}\n"})
    found = problems_of(tmp_path, files)
    assert {p.where.file for p in found} >= {"trial/components/bar.yaml", "trial/evidence/register.yaml"}


# ---- one fault at a time -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("role: [bearing]", "rôle: [bearing]", ("C001", 2, 1)),
        ("    name: Guide bar\n", "", ("C002", 1, 1)),
        ("phase: as-built", "phase: [as-built]", ("C004", 3, 8)),
        ("role: [bearing]", "role: none\n    examined: 'on'", ("C005", 3, 11)),
        ("0.30 ± 0.04 mm", "0,30 mm", ("C012", 4, 20)),
        ("0.30 ± 0.04 mm", "3 kg", ("C013", 4, 20)),
        ("0.30 ± 0.04 mm", "0.3", ("C014", 4, 20)),
        ("0.30 ± 0.04 mm", "inf mm", ("C016", 4, 20)),
        ("function: sliding", "function:", ("C008", 7, 5)),
        ("repairs: none", "repairs: none\n    repairs: none", ("C003", 14, 1)),
        ("repairs: none", "on: yes", ("C028", 13, 1)),
        ("stamp: {", "Stamp: {", ("C007", 12, 7)),
    ],
)
def test_a_fault_in_a_component_is_told_at_its_place(tmp_path, old, new, place):
    assert old in BAR
    found = places(problems_of(tmp_path, {"components/bar.yaml": BAR.replace(old, new)}))
    assert found == [place]


@pytest.mark.parametrize(
    ("row", "place"),
    [
        ("2026-03-01,me,,bar,face,A,,wear,0.1,0.02,mm", None),
        ("1 March,me,,bar,face,A,,wear,0.1,0.02,mm", ("C006", 2, 1)),
        ("2026-03-01,m⁦e,,bar,face,A,,wear,0.1,0.02,mm", ("C010", 2, 12)),
        ("2026-03-01,me,thumb,bar,face,A,,wear,0.1,,mm", ("C005", 2, 15)),
        ("2026-03-01,me,bench-scale,bar,face,A,,wear,0.1,,mm", ("C013", 2, 49)),
        ("2026-03-01,me,,baar,face,A,,wear,0.1,0.02,mm", ("C061", 2, 16)),
        ("2026-03-01,me,,bar,side,A,,wear,0.1,0.02,mm", ("C062", 2, 20)),
        ("2026-03-01,me,,bar,face,A,,function,0.1,0.02,mm", ("C069", 2, 28)),
        ("2026-03-01,me,,bar,face,A,,wear,0.1,0.02,", ("C014", 2, 42)),
        ("2026-03-01,me,,bar,face,A,,wear,0.1,0.02,kg", ("C013", 2, 42)),
        ("2026-03-01,me,,bar,face,A,,wear,NaN,0.02,mm", ("C016", 2, 33)),
        ("2026-03-01,me,,bar,face,A,,wear,much,0.02,mm", ("C012", 2, 33)),
        ("2026-03-01,me,,bar,face,A,,wear,0.1,0.02", ("C075", 2, 1)),
        ('2026-03-01,"me, and you",,bar,face,A,,wear,0.1,0.02,mm', None),
    ],
)
def test_a_fault_in_a_row_of_readings_is_told_at_its_cell(tmp_path, row, place):
    found = places(problems_of(tmp_path, sound(**{"measurements.csv": f"{HEADER}{row}\n"})))
    assert found == ([] if place is None else [place])


def test_readings_whose_columns_are_not_named_are_not_read(tmp_path):
    files = sound(**{"measurements.csv": "date;by\n2026-03-01;me\n"})
    assert places(problems_of(tmp_path, files)) == [("C075", 1, 1)]


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("set_by: the sheet", "set_by: the sheet\n        at: [running]", "C005"),
        ("component: bar", "component: bart", "C061"),
        ("component: bar\n", "\n", "C002"),
        ("preferred: leave", "preferred: left", "C064"),
        ("preferred: leave", "", "C064"),
        ("preferred: leave", "preferred: leave\n    supersedes: gone", "C064"),
        ("component.running_clearance:", "surfaces.side.wear:", "C062"),
        ("component.running_clearance:", "surface.wear:", "C069"),
        ("[0.10 mm, 0.40 mm]", "[0.40 mm, 0.10 mm]", "C042"),
        ("{component.running_clearance: {between: [0.10 mm, 0.40 mm]}}", "{}", "C087"),  # anything would meet it
        ("acts: []", "acts: none\n        after: {component.fit_to_run: yes}", "C060"),
        ("acts: []", "acts: none\n        rather_than: {strap: {by: me, says: so}}", "C064"),
        ("acts: []", "acts:\n          - {technique: milling, depth: 0.1 mm, where: side}", "C062"),
        ("acts: []", "acts:\n          - {technique: milling, where: face}", "C066"),
        ("acts: []", "acts:\n          - {technique: drying, evidence: [gone]}", "C065"),
        ("acts: []", "acts:\n          - {technique: drying, takes: [stamp]}", "C078"),
        ("acts: []", "acts:\n          - {technique: drying, treats: gone}", "C062"),
        ("acts: []", "acts:\n          - {technique: paint-stripping, takes: [gone]}", "C062"),
        ("acts: []", "acts:\n          - {technique: drying, for: [gone]}", "C063"),
    ],
)
def test_what_does_not_fit_in_a_proposal_is_told(tmp_path, old, new, code):
    assert old in LEAVE
    found = problems_of(tmp_path, sound(**{"proposals/leave.yaml": LEAVE.replace(old, new)}))
    assert [p.code for p in found] == [code]


def test_an_intervention_without_a_need_is_a_problem(tmp_path):
    text = LEAVE.partition("    needs:")[0] + "    preferred: leave\n"
    assert places(problems_of(tmp_path, sound(**{"proposals/leave.yaml": text}))) == [("C071", 1, 1)]


def test_care_under_the_policy_needs_its_acts(tmp_path):
    text = "    title: Care\n    component: bar\n    kind: routine-care\n"
    assert places(problems_of(tmp_path, sound(**{"proposals/leave.yaml": text}))) == [("C071", 1, 1)]


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("kind: measurement-sheet", "kind: hearsay", "C005"),
        ("about: [bar]", "about: [bart]", "C061"),
        ("shows: Readings.", "shows: Readings.\n      file: ../sheet.svg", "C030"),
        ("shows: Readings.", "shows: Readings.\n      file: evidence\\sheet.svg", "C030"),
        ("shows: Readings.", "shows: Readings.\n      file: sheet.svg", "C070"),
        ("shows: Readings.", "shows: Readings.\n      lapses: none\n      states: {component.fit_to_run: yes}", "C060"),
        ("shows: Readings.", "shows: Readings.\n      states: {component.examined: yes}", "C077"),
        ("shows: Readings.", "shows: Readings.\n      lapses: none\n      states: {surfaces.side.wear: 1 mm}", "C062"),
    ],
)
def test_what_does_not_fit_in_the_register_is_told(tmp_path, old, new, code):
    found = problems_of(tmp_path, sound(**{"evidence/register.yaml": SHEET.replace(old, new)}))
    assert [p.code for p in found] == [code]


def test_a_file_behind_a_link_is_not_opened(tmp_path):
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence/sheet.svg").symlink_to("/etc/hostname")
    text = SHEET.replace("shows: Readings.", "shows: Readings.\n      file: sheet.svg")
    assert [p.code for p in problems_of(tmp_path, sound(**{"evidence/register.yaml": text}))] == ["C070"]


def test_a_casebook_without_its_object_is_not_read(tmp_path):
    folder = folder_of(tmp_path, {"components/bar.yaml": BAR})
    casebook, problems = read_casebook(folder, shipped_rules().vocabulary, "trial")
    assert casebook is None
    assert [(p.code, p.where.file) for p in problems] == [("C029", "trial/object.yaml")]


# ---- the face that a face runs on ----------------------------------------------------------------


def runs_on(mate: str) -> dict[str, str]:
    return sound(
        **{
            "components/bar.yaml": BAR.replace("        function: sliding\n", f"        function: sliding\n        mate: {mate}\n"),
            "components/slipper.yaml": "    name: Slipper\n    surfaces: {sole: {marks: none}}\n",
            "components/bare.yaml": "    name: Bare\n",
        }
    )


def test_a_face_knows_the_face_that_it_runs_on(tmp_path):
    casebook = casebook_of(tmp_path, runs_on("slipper/sole"))
    assert casebook.components["bar"].thing("surface", "face").mate == "slipper/sole"
    assert casebook.components["bar"].thing("surface", "back").mate == ""


@pytest.mark.parametrize(
    ("mate", "code"),
    [
        ("sliper/sole", "C061"),  # no such component
        ("slipper/soul", "C062"),  # no such face on it
        ("bare/sole", "C062"),  # nobody has written its faces
        ("slipper", "C007"),  # a component is no face
        ("slipper/sole/left", "C007"),
        ("/sole", "C007"),
        ("Slipper/sole", "C007"),
        ("[slipper/sole]", "C007"),
    ],
)
def test_a_face_that_runs_on_nothing_is_a_problem_at_its_place(tmp_path, mate, code):
    assert places(problems_of(tmp_path, runs_on(mate))) == [(code, 8, 11)]


def test_a_misspelt_mate_is_told_with_what_may_be_meant(tmp_path):
    for number, (mate, like) in enumerate((("sliper/sole", "slipper"), ("slipper/sol", "sole"))):
        (problem,) = problems_of(tmp_path / str(number), runs_on(mate))
        assert like in problem.hint


# ---- the most certain reading --------------------------------------------------------------------

ROUGH, FINE = "A,,wear,0.13,0.05,mm", "A,,wear,0.10,0.02,mm"


def amounts(found) -> list[str]:
    return [str(value.amount) for value in found.values]


def test_of_readings_at_one_place_that_agree_the_most_certain_counts(tmp_path):
    found = readings(tmp_path, ROUGH, FINE)
    assert amounts(found) == ["0.10"]
    assert [stated.values[0].uncertainty for stated in found.counted] == [Decimal("0.02")]


def test_readings_that_are_equally_certain_all_count(tmp_path):
    found = readings(tmp_path, FINE, FINE.replace("0.10", "0.11"), ROUGH)
    assert amounts(found) == ["0.10", "0.11"]


def test_a_certain_reading_at_one_place_does_not_stand_for_another_place(tmp_path):
    found = readings(tmp_path, FINE, ROUGH.replace("A,", "B,"))
    assert amounts(found) == ["0.10", "0.13"]


def test_an_angle_is_a_place_as_a_plane_is(tmp_path):
    found = readings(tmp_path, "A,0,wear,0.10,0.02,mm", "A,90,wear,0.13,0.05,mm", "A,90,wear,0.12,0.03,mm")
    assert amounts(found) == ["0.10", "0.12"]


def test_the_most_certain_is_found_whatever_the_units(tmp_path):
    found = readings(tmp_path, "A,,wear,0.0039,0.001,in", "A,,wear,0.11,0.02,mm")  # 0.001 in is 0.0254 mm
    assert [value.unit for value in found.values] == ["mm"]


def test_a_reading_whose_uncertainty_nobody_stated_is_never_the_most_certain(tmp_path):
    found = readings(tmp_path, "A,,wear,0.10,,mm", "A,,wear,0.10,0.05,mm")
    assert [value.uncertainty for value in found.values] == [Decimal("0.05")]


def test_a_certain_reading_does_not_silence_one_that_it_disagrees_with(tmp_path):
    assert readings(tmp_path, FINE, "A,,wear,0.30,0.05,mm").disputed


@pytest.mark.parametrize(
    "rows",
    [
        (FINE, ROUGH, "A,,wear,0.11,0.02,mm"),
        (FINE, ROUGH, "B,,wear,0.30,0.02,mm"),
        (FINE, ROUGH, "A,,wear,0.40,0.02,mm"),
        ("A,0,wear,0.10,0.02,mm", "A,60,wear,0.12,0.02,mm", ",,wear,0.11,0.05,mm"),
        (FINE, "A,,wear,0.14,0.02,mm", "A,,wear,0.12,0.05,mm"),
    ],
)
def test_the_order_of_the_rows_changes_nothing(tmp_path, rows):
    told = set()
    for number, order in enumerate(permutations(rows)):
        found = readings(tmp_path / str(number), *order)
        told.add((found.disputed, frozenset(found.values or ()), len(found.counted)))
    assert len(told) == 1


def test_a_reading_that_does_not_say_where_it_was_taken_counts_beside_those_that_do(tmp_path):
    found = readings(tmp_path, "A,,wear,0.180,0.020,mm", ",,wear,0.205,0.016,mm")
    assert [value.amount for value in found.values] == [Decimal("0.180"), Decimal("0.205")]


# ---- instruments and tables ----------------------------------------------------------------------


def test_an_instrument_that_measures_something_else_is_a_problem_at_its_place(tmp_path):
    text = BAR.replace("wear: 0.12 ± 0.02 mm", "wear: {value: 0.12 mm, instrument: bench-scale}")
    assert places(problems_of(tmp_path, sound(**{"components/bar.yaml": text}))) == [("C013", 8, 40)]


def test_a_quoted_cell_moves_what_is_marked_behind_it(tmp_path):
    row = '2026-03-01,"me, and you",,bar,face,A,,wear,much,0.02,mm\n'
    assert places(problems_of(tmp_path, sound(**{"measurements.csv": HEADER + row}))) == [("C012", 2, 44)]


def test_a_file_of_readings_that_is_no_csv_is_a_problem(tmp_path):
    text = f"{HEADER}{'x' * 140_000}\n"  # one cell, longer than the reader takes
    assert places(problems_of(tmp_path, sound(**{"measurements.csv": text}))) == [("C075", 2, 1)]


def test_a_reading_that_states_its_own_uncertainty_keeps_it(tmp_path):
    rows = HEADER + "2026-03-01,me,depth-gauge,bar,face,,,wear,0.13 ± 0.01,,mm\n"
    text = BAR.replace("        wear: 0.12 ± 0.02 mm\n", "")
    casebook = casebook_of(tmp_path, sound(**{"components/bar.yaml": text, "measurements.csv": rows}))
    (stated,) = casebook.components["bar"].thing("surface", "face").facts["surface.wear"]
    assert stated.values == (Quantity(Decimal("0.13"), Decimal("0.01"), "mm"),)
