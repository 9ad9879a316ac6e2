"""Facts that a calculation gives: today, after an option, and where something that it needs is not known."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from helpers import casebook_of, places, problems_of, rulebook_of, shipped_rules, weighed

from conserve.calculation import calculation_named
from conserve.cli.reckoning import _inputs
from conserve.facts import Fact, How, claims_that_disagree
from conserve.quantity import Quantity, show
from conserve.record import markdown_record
from conserve.truth import Truth
from conserve.weighing import Weighing
from conserve.weighing.model import NeedState, Shown, Step

HEADER = "date,by,instrument,component,where,plane,angle,quantity,reading,plus_minus,unit\n"
BUSH = """\
    name: Bush
    material: bronze
    phase: as-built
    significance: some
    surfaces:
      bore: {function: bearing, form: hole, mate: pin/body, length: 60 ± 0.1 mm, hub_outside: 96 ± 1 mm,
             sets_clearance: yes, marks: none}
      end: {function: non-functional, marks: none}
    repairs: none
    defects: {slack: {kind: wear, active: no}}
    history: none
    """
PIN = """\
    name: Pin
    material: mild-steel
    phase: as-built
    surfaces:
      body: {function: bearing, form: shaft, marks: none}
      head: {marks: none}
    history: none
    """
# Hole 40.10 and 40.12, pin 40.00 and 39.99: tightest 0.10, loosest 0.13.
HOLE = ("A@0 40.10 bore-gauge", "A@90 40.12 bore-gauge")
SHAFT = ("A@0 40.00 outside-micrometer", "A@90 39.99 outside-micrometer")
CLEARANCE = "surfaces.bore.running_clearance"


def rows(part: str, where: str, *readings: str, term: str = "diameter") -> str:
    """Rows of a measurements file, from `PLANE@ANGLE VALUE INSTRUMENT`; in place of an instrument, `±0.01`, or `-`."""
    found = []
    for text in readings:
        place, value, how = text.split(" ")
        plane, _, angle = place.partition("@")
        wide = how.removeprefix("±") if how.startswith("±") else ""
        instrument = "" if how[0] in "±-" else how
        found.append(f"2026-03-01,me,{instrument},{part},{where},{plane},{angle},{term},{value},{wide},mm\n")
    return "".join(found)


PRESSED = (
    "{technique: bushing, where: bore, to_diameter: 48 ± 0 mm, fitted_by: pressed, joint_state: clean, "
    "press_at_hand: 10 kN, bush_bore: 39.6 mm, new_material: bronze, treats: slack, takes: none}"
)
BOTH = rows("bush", "bore", *HOLE) + rows("pin", "body", *SHAFT)


def question(test: str, options: str = "", part: str = "bush", kind: str = "function") -> str:
    return f"""\
    title: Is it slack?
    component: {part}
    asked: {{date: 2026-03-02, by: me}}
    needs:
      snug: {{kind: {kind}, says: It runs without shake., test: {{{test}}}, set_by: me}}
    options:
      leave: {{acts: []}}
{options}
    preferred: leave
    """


def case(
    root: Path, test: str = f"{CLEARANCE}: {{at_most: 0.20 mm}}", options: str = "", *, bush: str = BUSH, pin: str = PIN,
    read: str = BOTH, kind: str = "function", rules: dict[str, str] | None = None, register: str = "",
) -> Weighing:  # fmt: skip
    """Weigh a question about the bush under no rules but those given."""
    files = {
        "components/bush.yaml": bush,
        "components/pin.yaml": pin,
        "proposals/q.yaml": question(test, options, kind=kind),
        **({"evidence/register.yaml": register} if register else {}),
    }
    rulebook = rulebook_of(root, **(rules or {}))
    # As it stands: not dedented.
    (root / "measurements.csv").write_text(HEADER + read, encoding="utf-8")
    return weighed(casebook_of(root, files, rulebook), rulebook=rulebook)


def fact(weighing: Weighing, option: str = "leave") -> Fact:
    """The fact that the need was judged on."""
    (part,) = weighing.parts
    (need,) = part.option(option).needs
    (check,) = need.checks
    return check.judgement.fact


def state(weighing: Weighing, option: str = "leave") -> NeedState:
    (part,) = weighing.parts
    (need,) = part.option(option).needs
    return need.state


def verdict(weighing: Weighing, option: str = "leave") -> str:
    return str(weighing.parts[0].option(option).own)


def asked(weighing: Weighing, option: str = "leave") -> set[tuple[str, str]]:
    """What is asked: of what, and which word."""
    return {(q.fact.subject, q.fact.term) for q in weighing.parts[0].option(option).questions}


def told(one: Fact) -> list[str]:
    return [show(value) for value in one.values or () if isinstance(value, Quantity)]


# ---- from readings to a verdict ------------------------------------------------------------------------


def test_a_clearance_is_worked_out_from_two_faces_and_meets_its_need(tmp_path):
    weighing = case(tmp_path)
    found = fact(weighing)
    assert found.how is How.COMPUTED
    assert [float(value.amount) for value in found.values] == pytest.approx([0.10, 0.13])
    assert state(weighing) is NeedState.MET
    assert weighing.parts[0].option("leave").needs[0].shown is Shown.COMPUTED
    assert verdict(weighing) == "justified"


@pytest.mark.parametrize(
    ("test", "state_of_it"),
    [
        ("{at_most: 0.20 mm}", NeedState.MET),
        ("{at_most: 0.11 mm}", NeedState.FAILED),  # the loosest is 0.13
        ("{at_most: 0.13 mm}", NeedState.OPEN),
        ("{at_least: 0.05 mm}", NeedState.MET),
        ("{at_least: 0.12 mm}", NeedState.FAILED),  # the tightest is 0.10
        ("{between: [0.05 mm, 0.20 mm]}", NeedState.MET),
        ("{between: [0.05 mm, 0.11 mm]}", NeedState.FAILED),
    ],
)
def test_both_the_tightest_and_the_loosest_must_pass(tmp_path, test, state_of_it):
    assert state(case(tmp_path, f"{CLEARANCE}: {test}")) is state_of_it


def test_a_word_that_is_worked_out_is_judged_as_a_word_is(tmp_path):
    act = PRESSED.replace("fitted_by: pressed", "interference: 0.055 ± 0.01 mm").replace("10 kN", "PRESS")
    rule = (
        "title: A rule\nstatus: adopted\nsince: 2026-01-01\nabout: act\nsources: [common-practice]\nbecause: So.\n"
        "when: {act.press_enough: no}\nthen: {forbid: Do not press.}\nexamples:\n"
        "- {name: no, given: {act.press_enough: no}, expect: forbid}\n"
        "- {name: yes, given: {act.press_enough: yes}, expect: silent}\n- {name: unknown, given: {}, expect: open}\n"
    )
    for press, step in (("10 kN", Step.FORBIDDEN), ("10000 kN", Step.NEED_FAILED)):
        options = f"      press: {{acts: [{act.replace('PRESS', press)}], after: {{surfaces.bore.wear: 0.5 ± 0.01 mm}}}}"
        weighing = case(
            tmp_path / press.replace(" ", ""), "surfaces.bore.wear: {at_most: 0.1 mm}", options, rules={"press": rule},
            bush=BUSH.replace("form: hole", "wear: 0.5 ± 0.01 mm, form: hole"),
        )  # fmt: skip
        assert weighing.parts[0].option("press").own_reason.step is step


def test_a_computed_number_may_stand_as_a_limit(tmp_path):
    bush = BUSH.replace("form: hole", "wear: 0.02 ± 0.001 mm, form: hole")
    rule_ = (
        "title: A rule\nstatus: adopted\nsince: 2026-01-01\nabout: surface\nsources: [common-practice]\nbecause: So.\n"
        "when: {surface.wear: {above: {term: surface.running_clearance}}}\nthen: {forbid: Do not.}\nexamples:\n"
        "- {name: a, given: {surface.wear: 1 mm, surface.running_clearance: 0.1 mm}, expect: forbid}\n"
        "- {name: b, given: {surface.wear: 0 mm, surface.running_clearance: 0.1 mm}, expect: silent}\n"
        "- {name: c, given: {}, expect: open}\n"
    )
    weighing = case(tmp_path, bush=bush, rules={"limit": rule_})
    truths = {f.subject.id: f.truth for f in weighing.parts[0].findings.all}
    assert truths["surface:bore"] is Truth.NO


# ---- what is missing ------------------------------------------------------------------------------------

MATE = "mate:pin/body"


@pytest.mark.parametrize(
    ("bush", "pin", "read", "wanted"),
    [
        (BUSH, PIN, rows("pin", "body", *SHAFT), {("surface:bore", "surface.diameter")}),
        (BUSH.replace("form: hole, ", ""), PIN, BOTH, {("surface:bore", "surface.form")}),
        (BUSH, PIN, rows("bush", "bore", *HOLE), {(MATE, "surface.diameter")}),
        (BUSH.replace("mate: pin/body, ", ""), PIN, BOTH, {("surface:bore", "mate.diameter"), ("surface:bore", "mate.form")}),
        (
            BUSH.replace("form: hole, ", ""), PIN, "",
            {("surface:bore", "surface.diameter"), ("surface:bore", "surface.form"), (MATE, "surface.diameter")},
        ),
    ],
)  # fmt: skip
def test_what_is_asked_for_is_the_input_that_is_missing_and_not_the_result(tmp_path, bush, pin, read, wanted):
    weighing = case(tmp_path, bush=bush, pin=pin, read=read)
    found = fact(weighing)
    assert (found.how, found.values) == (How.SILENT, None)
    assert state(weighing) is NeedState.OPEN
    assert verdict(weighing) == "not yet shown"
    assert asked(weighing) == wanted
    assert {(f.subject, f.term) for f in found.working.missing} == wanted
    assert markdown_record(weighing, rulebook_of(tmp_path))  # it can be told


def test_far_inputs_are_asked_for_and_not_what_is_worked_out_on_the_way(tmp_path):
    # press-enough needs press_force, which needs sizes.
    files = {
        "components/bush.yaml": BUSH,
        "components/pin.yaml": PIN,
        "proposals/q.yaml": question(f"{CLEARANCE}: {{at_most: 0.11 mm}}", f"      press: {{acts: [{PRESSED}]}}"),
    }
    (tmp_path / "measurements.csv").write_text(HEADER + BOTH, encoding="utf-8")
    weighing = weighed(casebook_of(tmp_path, files))
    blocked = {q.fact.term: q.blocks for q in weighing.parts[0].option("press").questions}
    assert "machining/half-the-press" in blocked["act.interference"]
    assert not {"act.press_force", "act.press_enough"} & set(blocked)


def test_a_mate_of_which_nobody_has_written_anything_is_asked_for_by_its_name(tmp_path):
    weighing = case(tmp_path, read=rows("bush", "bore", *HOLE))
    text = " ".join(markdown_record(weighing, rulebook_of(tmp_path)).split())
    assert "the diameter of the body of the pin" in text


def test_a_number_outside_the_formula_is_refused_unknown_and_told(tmp_path):
    weighing = case(tmp_path, "surfaces.bore.ovality: {at_most: 0.05 mm}")  # two angles
    found = fact(weighing)
    assert (found.how, found.values) == (How.SILENT, None)
    assert found.working.refused.startswith("Ovality needs diameters at three or more different angles")
    assert state(weighing) is NeedState.OPEN
    assert asked(weighing) == {("surface:bore", "surface.ovality")}
    assert "three or more different angles" in markdown_record(weighing, rulebook_of(tmp_path))


def test_readings_at_which_the_angle_is_a_word_are_refused_where_angles_count(tmp_path):
    read = rows("bush", "bore", "A@top 40.10 bore-gauge", "A@side 40.12 bore-gauge", "A@low 40.11 bore-gauge")
    weighing = case(tmp_path, "surfaces.bore.ovality: {at_most: 0.05 mm}", read=read)
    assert "angle" in fact(weighing).working.refused
    # The clearance needs no angles.
    assert fact(case(tmp_path / "b", read=read + rows("pin", "body", *SHAFT))).known


def test_an_uncertainty_that_nobody_stated_leaves_the_need_open(tmp_path):
    read = rows("bush", "bore", "A@0 40.10 -") + rows("pin", "body", *SHAFT)
    weighing = case(tmp_path, read=read)
    assert [value.uncertainty for value in fact(weighing).values] == [None, None]
    assert state(weighing) is NeedState.OPEN
    assert verdict(weighing) == "not yet shown"


def test_an_input_on_which_evidence_disagrees_leaves_the_result_unknown_and_is_what_is_asked(tmp_path):
    read = BOTH + rows("bush", "bore", "A@0 40.30 bore-gauge")
    weighing = case(tmp_path, read=read)
    found = fact(weighing)
    assert found.values is None
    assert [one.how for one in found.working.missing] == [How.DISPUTED]
    assert asked(weighing) == {("surface:bore", "surface.diameter")}
    assert "disagree" in markdown_record(weighing, rulebook_of(tmp_path))


def test_a_word_on_which_statements_disagree_leaves_the_result_unknown(tmp_path):
    sheet = """\
    sheet: {kind: report, date: 2026-03-01, by: X, about: [bush], held: Office, role: engineer, shows: It., lapses: none,
            states: {surfaces.bore.form: shaft}}
    """
    weighing = case(tmp_path, register=sheet)
    assert fact(weighing).values is None
    assert asked(weighing) == {("surface:bore", "surface.form")}


# ---- what one instrument shares -------------------------------------------------------------------------


def test_the_bias_that_two_faces_share_through_one_instrument_falls_out_of_their_clearance(tmp_path):
    # outside-micrometer: 0.01 mm, of which 0.006 mm is shared; one reading a face.
    one = rows("bush", "bore", "A@0 40.10 outside-micrometer") + rows("pin", "body", "A@0 40.00 outside-micrometer")
    alike = fact(case(tmp_path / "a", read=one)).values[0].uncertainty
    assert float(alike) == pytest.approx((2 * (0.01**2 - 0.006**2)) ** 0.5)
    two = rows("bush", "bore", "A@0 40.10 ±0.01") + rows("pin", "body", "A@0 40.00 outside-micrometer")
    apart = fact(case(tmp_path / "b", read=two)).values[0].uncertainty
    assert float(apart) == pytest.approx((2 * 0.01**2) ** 0.5)


def test_of_two_readings_at_one_place_the_more_certain_is_reckoned_with(tmp_path):
    rough = rows("bush", "bore", "A@0 40.13 vernier-caliper")
    weighing = case(tmp_path, read=rough + BOTH)
    assert [float(value.amount) for value in fact(weighing).values] == pytest.approx([0.10, 0.13])
    assert fact(weighing).values == fact(case(tmp_path / "b")).values
    only = case(tmp_path / "c", read=rough + rows("bush", "bore", HOLE[1]) + rows("pin", "body", *SHAFT))
    assert fact(only).values != fact(weighing).values


# ---- after an option ------------------------------------------------------------------------------------


def acts(*those: str, after: str = "") -> str:
    listed = ", ".join(f"{{{act}, treats: slack, takes: none}}" for act in those)
    return f"      work: {{acts: [{listed}], after: {{{after}}}}}"


BORE = "technique: boring, where: bore, to_diameter: 40.30 ± 0 mm"
BUSHED = "technique: bushing, where: bore, to_diameter: 48.00 ± 0 mm, finish_diameter: 40.08 ± 0.02 mm"


@pytest.mark.parametrize(
    ("act", "clearances"),
    [
        (BORE, [0.30, 0.31]),  # 40.30 less 40.00, and less 39.99
        (BUSHED, [0.08, 0.09]),  # the bush as it is finished, and not the hole it sits in
    ],
)
def test_the_clearance_after_a_cut_is_that_of_the_size_it_is_cut_to(tmp_path, act, clearances):
    found = fact(case(tmp_path, options=acts(act)), "work")
    assert found.how is How.COMPUTED
    assert [float(value.amount) for value in found.values] == pytest.approx(clearances)


def test_the_clearance_after_a_shaft_is_turned_is_reckoned_from_the_hole_it_runs_in(tmp_path):
    files = {
        "components/bush.yaml": BUSH,
        "components/pin.yaml": PIN.replace("form: shaft", "form: shaft, mate: bush/bore"),
        "proposals/q.yaml": question(
            "surfaces.body.running_clearance: {at_most: 0.20 mm}",
            "      turn: {acts: [{technique: turning, where: body, to_diameter: 39.80 ± 0 mm, treats: none, takes: none}]}",
            "pin",
        ),
    }
    (tmp_path / "measurements.csv").write_text(HEADER + BOTH, encoding="utf-8")
    weighing = weighed(casebook_of(tmp_path, files))
    assert [float(v.amount) for v in fact(weighing).values] == pytest.approx([0.10, 0.13])
    assert [float(v.amount) for v in fact(weighing, "turn").values] == pytest.approx([0.30, 0.32])


def test_of_two_cuts_the_last_size_counts(tmp_path):
    twice = acts(BORE, BORE.replace("40.30", "40.50"))
    assert [float(v.amount) for v in fact(case(tmp_path, options=twice), "work").values] == pytest.approx([0.50, 0.51])


def test_a_bush_whose_finished_size_nobody_has_said_leaves_the_clearance_unknown(tmp_path):
    act = BUSHED.partition(", finish_diameter")[0]
    weighing = case(tmp_path, options=acts(act))
    found = fact(weighing, "work")
    assert found.values is None
    assert asked(weighing, "work") >= {("act:work/1", "act.finish_diameter")}


def test_an_act_elsewhere_leaves_the_clearance_as_it_is_today(tmp_path):
    there = acts("technique: milling, where: end, depth: 0.5 ± 0.1 mm")
    weighing = case(tmp_path, options=there)
    assert fact(weighing, "work").values == fact(weighing).values


def test_a_new_part_has_sizes_that_nobody_knows_yet(tmp_path):
    weighing = case(tmp_path, options=acts("technique: replacement"))
    assert fact(weighing, "work").values is None
    assert state(weighing, "work") is NeedState.OPEN


@pytest.mark.parametrize(
    ("old", "new"), [("form: hole, ", ""), ("mate: pin/body, ", "")]
)
def test_a_claim_does_not_stand_in_for_a_calculation_of_which_something_is_unknown(tmp_path, old, new):
    weighing = case(tmp_path, options=acts(BUSHED, after=f"{CLEARANCE}: 0.08 ± 0.02 mm"), bush=BUSH.replace(old, new))
    found = fact(weighing, "work")
    assert (found.how, found.values) == (How.SILENT, None)
    assert state(weighing, "work") is NeedState.OPEN


def test_what_is_worked_out_counts_before_what_is_claimed(tmp_path):
    weighing = case(tmp_path, options=acts(BUSHED, after=f"{CLEARANCE}: 0.085 ± 0.02 mm"))
    assert fact(weighing, "work").how is How.COMPUTED


@pytest.mark.parametrize(
    ("claim", "codes"),
    [("0.08 ± 0.02 mm", []), ("0.10 ± 0.02 mm", []), ("0.20 ± 0.02 mm", ["C073"]), ("0.01 ± 0.01 mm", ["C073"])],
)
def test_a_claim_that_the_calculation_does_not_come_to_is_a_problem_at_its_place(tmp_path, claim, codes):
    files = {
        "components/bush.yaml": BUSH,
        "components/pin.yaml": PIN,
        "proposals/q.yaml": question(f"{CLEARANCE}: {{at_most: 0.20 mm}}", acts(BUSHED, after=f"{CLEARANCE}: {claim}")),
    }
    (tmp_path / "measurements.csv").write_text(HEADER + BOTH, encoding="utf-8")
    found = claims_that_disagree(casebook_of(tmp_path, files), shipped_rules().vocabulary)
    lines = (tmp_path / "proposals/q.yaml").read_text(encoding="utf-8").splitlines()
    number, line = next((n, line) for n, line in enumerate(lines, 1) if claim in line)
    assert places(found) == [(code, number, line.index(f"{CLEARANCE}: {claim}") + 1) for code in codes]


def test_a_word_that_lasts_stays_as_it_is_whatever_is_done(tmp_path):
    bush = BUSH.replace("form: hole", "cut_each: 0.4 ± 0.1 mm, size_limit: {value: 42 mm, by: X}, form: hole")
    weighing = case(tmp_path, "surfaces.bore.cuts_left: {at_least: 1}", acts(BORE), bush=bush)
    # (42 - 40.12) / 0.4, and then (42 - 40.30) / 0.4
    assert [float(v.amount) for v in fact(weighing).values] == pytest.approx([4.7])
    assert [float(v.amount) for v in fact(weighing, "work").values] == pytest.approx([4.25])
    assert {one.how for _, one in fact(weighing, "work").working.given} == {How.WRITTEN, How.COMPUTED}


@pytest.mark.parametrize("act", [BORE, "technique: blasting", "technique: replacement", "technique: painting"])
@pytest.mark.parametrize("term", ["size_limit: {at_least: 41 mm}", "form: hole"])
def test_no_act_touches_a_limit_or_a_form(tmp_path, act, term):
    bush = BUSH.replace("form: hole", "size_limit: {value: 42 mm, by: X}, form: hole")
    weighing = case(tmp_path, f"surfaces.bore.{term}", acts(act), bush=bush)
    (part,) = weighing.parts
    assert not part.option("work").needs[0].checks[0].after.touched
    assert fact(weighing, "work").values == fact(weighing).values


def test_a_wall_with_pits_is_reckoned_from_the_deepest(tmp_path):
    bush = BUSH.replace("end: {", "end: {thickness: 10 ± 0.2 mm, nominal_thickness: 12 mm, ")
    read = rows("bush", "end", "A@ 1.0 ±0.1", "B@ 2.5 ±0.1", "C@ 0.5 ±0.1", term="pit_depth")
    weighing = case(tmp_path, "surfaces.end.wall_left: {at_least: 7 mm}", bush=bush, read=read)
    assert [float(v.amount) for v in fact(weighing).values] == pytest.approx([7.5])


# ---- safety ---------------------------------------------------------------------------------------------


def test_a_calculation_may_fail_a_safety_need_and_never_meets_one_alone(tmp_path):
    fails = case(tmp_path / "a", f"{CLEARANCE}: {{at_most: 0.05 mm}}", kind="safety")
    assert (state(fails), verdict(fails)) == (NeedState.FAILED, "not justified")
    passes = case(tmp_path / "b", kind="safety")
    (need,) = passes.parts[0].option("leave").needs
    assert need.asked_of == "competent-person"
    assert [r.id for r in passes.parts[0].option("leave").requirements] == ["needs/snug"]
    doubts = case(tmp_path / "c", f"{CLEARANCE}: {{at_most: 0.13 mm}}", kind="safety")
    assert (state(doubts), verdict(doubts)) == (NeedState.IN_DOUBT, "not justified")


# ---- silence is unknown ----------------------------------------------------------------------------------

WHOLE = acts(BUSHED, after="surfaces.bore.wear: 0.00 ± 0.01 mm")
DELETIONS = {
    **{word: (BUSH.replace(word, ""), PIN, BOTH) for word in ("form: hole, ", "mate: pin/body, ", "    material: bronze\n")},
    "the faces of the pin": (BUSH.replace("mate: pin/body, ", ""), PIN.replace(PIN[PIN.index("    surfaces"): PIN.index("    history")], ""),
                             rows("bush", "bore", *HOLE)),
    "the readings of the hole": (BUSH, PIN, rows("pin", "body", *SHAFT)),
    "the readings of the shaft": (BUSH, PIN, rows("bush", "bore", *HOLE)),
    "every reading": (BUSH, PIN, ""),
    "the instruments of the hole": (BUSH, PIN, BOTH.replace("bore-gauge", "")),
    "the instruments of the shaft": (BUSH, PIN, BOTH.replace("outside-micrometer", "")),
    "the planes": (BUSH, PIN, BOTH.replace(",A,", ",,")),
    "the angles": (BUSH, PIN, re.sub(r",A,\d+,", ",A,,", BOTH)),
    "the angles and planes": (BUSH, PIN, re.sub(r",A,\d+,", ",,,", BOTH)),
}  # fmt: skip
LIMITS = ("{at_most: 0.11 mm}", "{at_most: 0.13 mm}", "{at_least: 0.12 mm}", "{at_least: 0.10 mm}")


@pytest.mark.parametrize("limit", LIMITS)
@pytest.mark.parametrize("gone", DELETIONS)
def test_leaving_out_what_a_calculation_needs_lets_nothing_pass(tmp_path, gone, limit):
    bush, pin, read = DELETIONS[gone]
    test = f"{CLEARANCE}: {limit}"
    whole = case(tmp_path / "whole", test, WHOLE)
    less = case(tmp_path / "less", test, WHOLE, bush=bush, pin=pin, read=read)
    for option in ("leave", "work"):
        before, after = (w.parts[0].option(option).own for w in (whole, less))
        assert before.stands or not after.stands, (option, before, after)


# ---- the face it runs on ---------------------------------------------------------------------------------


def test_a_mate_is_seen_from_one_side_without_the_other_saying_so(tmp_path):
    assert "mate:" not in PIN
    assert fact(case(tmp_path)).known


def test_only_the_face_that_is_named_counts(tmp_path):
    read = BOTH + rows("pin", "head", "A@0 60.00 outside-micrometer")
    assert fact(case(tmp_path / "a", read=read)).values == fact(case(tmp_path / "b")).values


def test_a_casebook_whose_mate_is_not_there_is_not_weighed(tmp_path):
    assert [p.code for p in problems_of(tmp_path, {"components/bush.yaml": BUSH})] == ["C061"]


# ---- words that a calculation does not know -----------------------------------------------------------------


def word_inputs():
    for term in shipped_rules().vocabulary.terms.values():
        calculation = calculation_named(term.calculation) if term.inputs else None
        for one in calculation.inputs if calculation else ():
            if one.name in term.inputs and not one.unit and not one.count:
                yield pytest.param(term, calculation, one, id=f"{term.name}-{one.name}")


@pytest.mark.parametrize(("term", "calculation", "one"), list(word_inputs()))
def test_a_word_that_a_calculation_does_not_know_is_refused_in_a_sentence_and_is_no_fault(term, calculation, one):
    words = shipped_rules().vocabulary
    given, _ = _inputs([f"{key}={value}" for key, value in calculation.example.items()], calculation, "", words)
    known, refusals = 0, []
    for word in words.terms[term.inputs[one.name].replace("mate.", "surface.")].values:
        try:
            calculation.reckon({**given, one.name: word})
            known += 1
        except ValueError as refused:
            refusals.append(str(refused))
    assert known
    assert all(sentence.endswith(".") for sentence in refusals)


# ---- two faces of one part -------------------------------------------------------------------------------

HINGE = BUSH.replace("mate: pin/body", "mate: bush/stud").replace(
    "      end: {", "      stud: {function: bearing, form: shaft, marks: none}\n      end: {"
)
OWN = rows("bush", "bore", *HOLE) + rows("bush", "stud", *SHAFT)


def test_a_face_may_run_on_another_face_of_its_own_part(tmp_path):
    weighing = case(tmp_path, bush=HINGE, read=OWN)
    assert [float(value.amount) for value in fact(weighing).values] == pytest.approx([0.10, 0.13])


@pytest.mark.parametrize(
    ("act", "clearances"),
    [
        ("technique: turning, where: stud, to_diameter: 39.80 ± 0 mm", [0.30, 0.32]),
        ("technique: grinding, where: stud, depth: 0.1 ± 0.01 mm", None),
        ("technique: blasting", None),
    ],
)
def test_an_act_on_the_face_that_a_face_runs_on_changes_the_clearance(tmp_path, act, clearances):
    found = fact(case(tmp_path, options=acts(act), bush=HINGE, read=OWN), "work")
    assert (None if found.values is None else [float(v.amount) for v in found.values]) == (
        clearances and pytest.approx(clearances)
    )


@pytest.mark.parametrize("act", ["technique: milling, where: end, depth: 0.5 ± 0.1 mm", "technique: blasting"])
def test_a_wall_that_an_act_thins_is_not_told_as_it_was(tmp_path, act):
    bush = BUSH.replace("end: {", "end: {thickness: 10 ± 0.2 mm, nominal_thickness: 12 mm, pit_depth: 1 ± 0.1 mm, ")
    weighing = case(tmp_path, "surfaces.end.wall_left: {at_least: 7 mm}", acts(act), bush=bush)
    assert [float(v.amount) for v in fact(weighing).values] == pytest.approx([9])
    assert fact(weighing, "work").values is None


# ---- what only looks known -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("other", "how"),
    [
        ("B@ 0.11 dial-indicator", NeedState.MET),
        ("B@ 0.11 -", NeedState.OPEN),  # nobody knows how far it may be off
        ("B@ 0.11 ±0.90", NeedState.OPEN),  # it may well be the worst of all
    ],
)
def test_a_vague_reading_beside_the_worst_one_does_not_pass_unseen(tmp_path, other, how):
    read = rows("bush", "bore", "A@ 0.12 dial-indicator", other, term="wear")
    assert state(case(tmp_path, "surfaces.bore.wear: {at_most: 0.25 mm}", read=read)) is how


@pytest.mark.parametrize(
    ("other", "how"),
    [("B@ 0.05 -", NeedState.MET), ("B@ 0.05 dial-indicator", NeedState.MET)],
)
def test_one_reading_that_is_certainly_above_a_limit_is_enough_for_the_highest(tmp_path, other, how):
    read = rows("bush", "bore", "A@ 0.40 dial-indicator", other, term="wear")
    assert state(case(tmp_path, "surfaces.bore.wear: {above: 0.25 mm}", read=read)) is how


def test_what_is_worked_out_from_a_claim_is_a_claim_and_is_to_be_measured_before_use(tmp_path):
    new = acts("technique: replacement", after="surfaces.bore.diameter: 40.06 ± 0.01 mm")
    weighing = case(tmp_path, options=new)
    assert fact(weighing, "work").how is How.CLAIMED
    assert state(weighing, "work") is NeedState.MET
    assert weighing.parts[0].option("work").needs[0].shown is Shown.CLAIMED
    assert "needs/snug" in {r.id for r in weighing.parts[0].option("work").requirements}


@pytest.mark.parametrize(
    "later",
    [
        "technique: metal-spraying, where: bore",
        "technique: scraping, where: bore, depth: 1 ± 0.1 mm",
        "technique: re-metalling",
        "technique: blasting, where: bore",
    ],
)
def test_a_size_that_a_later_act_changes_is_no_longer_known(tmp_path, later):
    weighing = case(tmp_path, options=acts("technique: boring, where: bore, to_diameter: 40.15 ± 0 mm", later))
    assert fact(weighing, "work").values is None


def test_an_oil_hole_or_a_cut_elsewhere_leaves_a_size_as_it_was_cut(tmp_path):
    cut, hole = "technique: boring, where: bore, to_diameter: 40.15 ± 0 mm", "technique: drilling, where: bore, hole_depth: 5 mm, hole_diameter: 4 mm, holes: 1"
    weighing = case(tmp_path, options=acts(cut, hole, "technique: milling, where: end, depth: 1 ± 0.1 mm"))
    assert [float(v.amount) for v in fact(weighing, "work").values] == pytest.approx([0.15, 0.16])


def test_oil_wax_and_paint_leave_a_size_as_it_is(tmp_path):
    for technique in ("lubrication", "wax-coating", "painting"):
        weighing = case(tmp_path / technique, options=acts(f"technique: {technique}, where: bore"))
        assert fact(weighing, "work").values == fact(weighing, "leave").values is not None


PART = "component.running_clearance"
SLACK = BUSH.replace("    significance: some\n", "    significance: some\n    running_clearance: 0.10 ± 0.02 mm\n")


def test_metal_put_on_a_running_face_leaves_no_clearance_as_it_is_today(tmp_path):
    weighing = case(tmp_path, f"{PART}: {{at_most: 0.20 mm}}", acts("technique: metal-spraying, where: bore"), bush=SLACK)
    assert state(weighing) is NeedState.MET
    assert fact(weighing, "work").values is None


def test_a_clearance_that_was_read_somewhere_on_a_tapered_bore_is_opened_by_the_least_and_by_the_most(tmp_path):
    read = rows("bush", "bore", "A@0 40.00 bore-gauge", "B@0 40.20 bore-gauge")
    cut = acts("technique: boring, where: bore, to_diameter: 40.30 ± 0 mm")
    weighing = case(tmp_path, f"{PART}: {{at_most: 0.25 mm}}", cut, bush=SLACK, read=read)
    assert [float(v.amount) for v in fact(weighing, "work").values] == pytest.approx([0.20, 0.40])
    assert state(weighing, "work") is NeedState.FAILED


def test_the_clearance_after_a_cut_starts_from_the_diameter_that_a_report_states_and_not_from_an_older_one(tmp_path):
    register = """\
    again: {kind: report, about: [bush], held: Office, date: 2026-03-01, lapses: 2027-03-01, by: X, role: competent-engineer,
            shows: Measured again., states: {surfaces.bore.diameter: 39.90 ± 0.01 mm}}
    """
    cut = acts("technique: boring, where: bore, to_diameter: 40.30 ± 0 mm")
    bush = SLACK.replace("history: none", "history: []")
    weighing = case(
        tmp_path, f"{PART}: {{at_most: 0.25 mm}}", cut, bush=bush, read=rows("bush", "bore", HOLE[0]), register=register
    )
    assert [float(v.amount) for v in fact(weighing, "work").values] == pytest.approx([0.50])
