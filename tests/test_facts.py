"""Facts in three values: as they stand today, and as an option leaves them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from helpers import casebook_of, places, shipped_rules

from conserve.facts import How, claims_that_disagree, facts_about, judge, standing_reports
from conserve.facts.fact import Fact
from conserve.quantity import Quantity, parse_quantity
from conserve.rule import Bound
from conserve.rule import Test as Reads
from conserve.truth import Truth

VOCABULARY = shipped_rules().vocabulary
PART = """\
    name: Slide
    phase: as-built
    running_clearance: 0.70 ± 0.04 mm
    serviceable: yes
    surfaces:
      face: {sets_clearance: yes, wear: 0.10 ± 0.02 mm, marks: none}
      back: {sets_clearance: yes, marks: {stamp: {kind: stamp}}}
      end: {sets_clearance: no, marks: none}
      bore: {sets_clearance: yes, diameter: 50.00 ± 0.03 mm, marks: none}
    repairs: {patch: {soundness: sound}}
    defects: {slack: {kind: wear, active: yes}, rust: {kind: active-corrosion, active: yes}}
    history: none
    """
PROPOSAL = """\
    title: T
    component: slide
    asked: {{date: 2026-03-02, by: me}}
    needs:
      fit:
        kind: function
        says: It runs.
        test: {{{test}}}
        set_by: me
    options:
      leave: {{acts: []}}
      work: {{acts: [{acts}], after: {{{after}}}}}
    preferred: leave
    """


def after(tmp_path, path: str, acts: str, claim: str = "", part: str = PART):
    """The state of one path once some acts are done, with what the option claims of it."""
    short = path.rpartition(".")[2]
    term = next(
        t
        for t in VOCABULARY.terms.values()
        if t.short == short and t.owner in (path.split(".")[0], path.split(".")[0][:-1])
    )
    test = f"{path}: {term.values[0]}" if term.values else f"{path}: {{at_most: 1 {term.unit}}}"
    text = PROPOSAL.format(test=test, acts=acts, after=f"{path}: {claim}" if claim else "")
    return facts(tmp_path, text, part).after["work", path]


def facts(tmp_path, proposal: str, part: str = PART, register: str = ""):
    files = {"components/slide.yaml": part, "proposals/q.yaml": proposal}
    if register:
        files["evidence/register.yaml"] = register
    casebook = casebook_of(tmp_path, files)
    return facts_about(casebook.proposals[0], casebook.components["slide"], casebook, VOCABULARY, casebook.as_at)


SHIM = "{technique: shimming, where: back, thickness: 0.50 mm}"
SKIM = "{technique: milling, where: face, depth: 0.30 ± 0.03 mm}"
CLEARANCE = "component.running_clearance"


def mm(text: str) -> Quantity:
    return parse_quantity(text, "mm", exact=False)


# ---- after an option -----------------------------------------------------------------------------


def test_what_no_act_touches_is_as_it_is_today(tmp_path):
    found = after(tmp_path, CLEARANCE, "{technique: drying}", "0.20 ± 0.04 mm")
    assert (found.touched, found.fact.how, found.fact.values) == (False, How.WRITTEN, (mm("0.70 ± 0.04 mm"),))


def test_packing_closes_the_clearance_and_a_cut_opens_it_in_their_order(tmp_path):
    shim = after(tmp_path / "a", CLEARANCE, SHIM).fact
    assert (shim.how, shim.values) == (How.COMPUTED, (mm("0.20 ± 0.04 mm"),))
    both = after(tmp_path / "b", CLEARANCE, f"{SKIM}, {SHIM}").fact
    # 0.70 + 0.30 - 0.50; the root of 0.04² and 0.03² is 0.05
    assert both.values[0].amount == Decimal("0.50")
    assert both.values[0].uncertainty == Decimal("0.05")


def test_boring_opens_the_clearance_by_the_change_of_diameter(tmp_path):
    found = after(tmp_path, CLEARANCE, "{technique: boring, where: bore, to_diameter: 50.4 ± 0 mm}").fact
    assert found.values[0].amount == Decimal("1.10")
    assert float(found.values[0].uncertainty) == pytest.approx(0.05)  # of 0.04 and 0.03


def test_a_face_that_does_not_set_the_clearance_leaves_it_as_it_is(tmp_path):
    found = after(tmp_path, CLEARANCE, SHIM.replace("back", "end"))
    assert (found.fact.how, found.fact.values) == (How.COMPUTED, (mm("0.70 ± 0.04 mm"),))


@pytest.mark.parametrize(
    ("old", "new"), [("back: {sets_clearance: yes, ", "back: {"), ("    running_clearance: 0.70 ± 0.04 mm\n", "")]
)
def test_a_claim_does_not_stand_in_for_what_could_be_computed(tmp_path, old, new):
    found = after(tmp_path, CLEARANCE, SHIM, "0.20 ± 0.04 mm", PART.replace(old, new))
    assert (found.fact.how, found.fact.values) == (How.SILENT, None)


def test_a_claim_stands_where_nobody_can_compute(tmp_path):
    metal = "{technique: re-metalling, where: face}"
    claimed = after(tmp_path / "a", CLEARANCE, metal, "0.20 ± 0.04 mm")
    assert (claimed.fact.how, claimed.fact.values) == (How.CLAIMED, (mm("0.20 ± 0.04 mm"),))
    silent = after(tmp_path / "b", CLEARANCE, metal)
    assert (silent.touched, silent.fact.how) == (True, How.SILENT)


def test_what_is_computed_counts_before_what_is_claimed(tmp_path):
    found = after(tmp_path, CLEARANCE, SHIM, "0.21 ± 0.04 mm")
    assert found.fact.values == (mm("0.20 ± 0.04 mm"),)


def test_a_technique_gives_what_it_gives(tmp_path):
    found = after(
        tmp_path,
        "component.present",
        "{technique: plain-substitute}",
        part=PART.replace("history:", "present: no\n    history:"),
    )
    assert (found.fact.how, found.fact.values) == (How.COMPUTED, ("yes",))


def test_a_conclusion_is_reopened_by_whatever_touches_the_part(tmp_path):
    assert after(tmp_path / "a", "component.fit_to_run", SHIM).touched
    assert not after(tmp_path / "b", "component.fit_to_run", "{technique: examination}").touched


@pytest.mark.parametrize(
    ("path", "act", "touched", "surely"),
    [
        ("defects.rust.active", "{technique: wax-coating, treats: rust}", True, True),
        ("defects.rust.active", "{technique: wax-coating, treats: slack}", False, True),
        ("defects.rust.active", "{technique: wax-coating, treats: none}", False, True),
        ("defects.rust.active", "{technique: wax-coating}", True, False),
        ("defects.rust.active", "{technique: replacement}", True, True),
        ("surfaces.face.wear", "{technique: milling, where: face, depth: 0.1 ± 0.01 mm}", True, True),
        ("surfaces.face.wear", "{technique: milling, where: back, depth: 0.1 ± 0.01 mm}", False, True),
        ("surfaces.face.wear", "{technique: blasting}", True, True),
        ("marks.stamp.recorded", "{technique: milling, where: back, depth: 0.1 ± 0.01 mm, takes: [stamp]}", True, True),
        ("marks.stamp.recorded", "{technique: milling, where: back, depth: 0.1 ± 0.01 mm}", True, False),
        ("repairs.patch.soundness", "{technique: welding, where: back, disturbs_repair: yes}", True, True),
        ("repairs.patch.soundness", "{technique: welding, where: back, disturbs_repair: no}", False, True),
        ("repairs.patch.soundness", "{technique: welding, where: back}", True, False),
        ("component.serviceable", "{technique: milling, where: face, depth: 0.1 ± 0.01 mm}", False, True),
        ("component.serviceable", "{technique: replacement}", True, True),
    ],
)  # fmt: skip
def test_what_an_act_touches_and_what_it_only_may(tmp_path, path, act, touched, surely):
    found = after(tmp_path, path, act)
    assert (found.touched, found.surely) == (touched, surely)


def test_a_claim_about_what_an_act_only_may_touch_is_not_believed(tmp_path):
    path = "defects.rust.active"
    assert after(tmp_path / "a", path, "{technique: wax-coating}", "no").fact.how is How.SILENT
    assert after(tmp_path / "b", path, "{technique: wax-coating, treats: rust}", "no").fact.values == ("no",)


# ---- claims that disagree ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("claim", "found"),
    [("0.20 ± 0.04 mm", []), ("0.24 ± 0.04 mm", []), ("0.30 ± 0.04 mm", [("C073", 13, 10)]), ("0.30 mm", [])],
)
def test_a_claim_that_the_acts_do_not_come_to_is_a_problem_at_its_place(tmp_path, claim, found):
    text = PROPOSAL.format(test=f"{CLEARANCE}: {{at_most: 1 mm}}", acts=SHIM, after="").replace(
        "after: {}}", f"after:\n            {{{CLEARANCE}: {claim}}}}}"
    )
    casebook = casebook_of(tmp_path, {"components/slide.yaml": PART, "proposals/q.yaml": text})
    assert places(claims_that_disagree(casebook, VOCABULARY)) == found


def test_what_no_act_changes_cannot_be_claimed(tmp_path):
    oiled = "{technique: lubrication, where: bore, takes: none}"
    text = PROPOSAL.format(test="surfaces.bore.diameter: {at_most: 50 mm}", acts=oiled, after="").replace(
        "after: {}}", "after:\n            {surfaces.bore.diameter: 49.90 ± 0.01 mm}}"
    )
    casebook = casebook_of(tmp_path, {"components/slide.yaml": PART, "proposals/q.yaml": text})
    assert places(claims_that_disagree(casebook, VOCABULARY)) == [("C073", 13, 10)]


# ---- today ---------------------------------------------------------------------------------------

LEAVE = PROPOSAL.format(test=f"{CLEARANCE}: {{at_most: 1 mm}}", acts="{technique: drying}", after="")


def today(tmp_path, term: str, part: str, subject: str = "component:slide"):
    return facts(tmp_path, LEAVE, part).today.facts.get((subject, term))


@pytest.mark.parametrize(
    ("repairs", "answer"),
    [
        ("repairs: none", ("no",)),
        ("repairs: {patch: {soundness: sound}}", ("no",)),
        ("repairs: {patch: {soundness: sound}, weld: {soundness: unsound}}", ("yes",)),
        ("repairs: {patch: {soundness: sound}, weld: {}}", None),
        ("repairs: {patch: {soundness: unsound}, weld: {}}", ("yes",)),
        ("", None),
    ],
)
def test_a_roll_up_is_yes_if_one_is_no_if_all_are_and_else_unknown(tmp_path, repairs, answer):
    part = PART.replace("repairs: {patch: {soundness: sound}}", repairs)
    assert today(tmp_path, "component.repair_in_doubt", part).values == answer


@pytest.mark.parametrize(
    ("old", "new", "answer"),
    [
        ("", "", ("yes",)),
        ("{stamp: {kind: stamp}}", "none", ("no",)),
        (", marks: {stamp: {kind: stamp}}", "", None),
    ],
)
def test_a_part_is_marked_if_any_face_is(tmp_path, old, new, answer):
    assert today(tmp_path, "component.marked", PART.replace(old, new)).values == answer


def test_the_period_of_a_part_is_that_of_its_phase(tmp_path):
    assert today(tmp_path / "a", "component.period", PART).values == ("as-made",)
    assert today(tmp_path / "b", "component.period", PART.replace("    phase: as-built\n", "")).values is None


def test_a_part_is_wanted_for_what_the_object_is_unless_it_says_otherwise(tmp_path):
    assert today(tmp_path / "a", "component.duty_wanted", PART).values == ("demonstration",)
    own = PART.replace("history:", "duty: {wanted: static}\n    history:")
    assert today(tmp_path / "b", "component.duty_wanted", own).values == ("static",)


def test_a_part_whose_faces_nobody_has_named_is_worked_on_at_some_face(tmp_path):
    part = PART[: PART.index("    surfaces:")] + PART[PART.index("    repairs:") :]
    text = LEAVE.replace("{technique: drying}", "{technique: blasting}")
    subjects = {s.id: s for s in facts(tmp_path, text, part).today.subjects}
    assert subjects["act:work/1@?"].sees["surface"] == "?"


@pytest.mark.parametrize("kind", ["surface", "mark", "repair", "defect"])
def test_a_list_that_nobody_has_written_may_hold_something(tmp_path, kind):
    bare = "    name: Slide\n    running_clearance: 0.7 ± 0.04 mm\n    history: none\n"
    assert f"{kind}:?" in [s.id for s in facts(tmp_path / "a", LEAVE, bare).today.subjects]
    assert f"{kind}:?" not in [s.id for s in facts(tmp_path / "b", LEAVE, PART).today.subjects]


def test_an_act_on_a_whole_part_is_weighed_again_at_each_face_and_mark(tmp_path):
    text = LEAVE.replace("{technique: drying}", "{technique: blasting, takes: [stamp], treats: none}")
    ids = [s.id for s in facts(tmp_path, text).today.subjects if s.kind == "act"]
    assert ids == [
        "act:work/1",
        *(f"act:work/1@{face}" for face in ("face", "back", "end", "bore")),
        "act:work/1+stamp",
    ]


# ---- reports that stand --------------------------------------------------------------------------

REPORT = """\
    report:
      kind: report
      held: Office
      date: 2026-02-01
      by: A. Name
      about: [slide]
      role: competent-engineer
      shows: Looked at.
      lapses: 2026-12-31
      states: {component.fit_to_run: yes}
    """


@pytest.mark.parametrize(
    ("history", "lapses", "on", "stands"),
    [
        ("history: none", "2026-12-31", date(2026, 3, 1), True),
        ("history: [{date: 2026-01-31, says: Used.}]", "2026-12-31", date(2026, 3, 1), True),
        ("history: [{date: 2026-02-01, says: Used.}]", "2026-12-31", date(2026, 3, 1), False),
        ("history: [{date: 2026-02-02, says: Used.}]", "2026-12-31", date(2026, 3, 1), False),
        ("history: [{date: 2026-02-02, kind: examined, says: Seen.}]", "2026-12-31", date(2026, 3, 1), True),
        ("history: none", "2026-12-31", date(2026, 12, 31), True),
        ("history: none", "2026-12-31", date(2027, 1, 1), False),
        ("history: none", "none", date(2099, 1, 1), True),
        ("note: Nobody has written what happened to it.", "2026-12-31", date(2026, 3, 1), False),
    ],
)
def test_a_report_stands_until_it_lapses_or_something_happens_to_the_part(tmp_path, history, lapses, on, stands):
    part = PART.replace("history: none", history)
    files = {"components/slide.yaml": part, "evidence/register.yaml": REPORT.replace("2026-12-31", lapses)}
    casebook = casebook_of(tmp_path, files)
    found = standing_reports(casebook, casebook.components["slide"], on)
    assert [item.id for item in found] == (["report"] if stands else [])


def test_a_report_about_another_part_does_not_stand_for_this_one(tmp_path):
    files = {"components/slide.yaml": PART, "components/bar.yaml": "    name: Bar\n    history: none\n",
             "evidence/register.yaml": REPORT.replace("[slide]", "[bar]")}  # fmt: skip
    casebook = casebook_of(tmp_path, files)
    assert standing_reports(casebook, casebook.components["slide"], date(2026, 3, 1)) == ()


def test_a_competent_persons_report_outranks_what_is_written_and_another_role_only_joins_it(tmp_path):
    stated = REPORT.replace("component.fit_to_run: yes", "component.serviceable: no")
    found = facts(tmp_path / "a", LEAVE, PART, stated).today.facts["component:slide", "component.serviceable"]
    assert (found.how, found.values) == (How.REPORTED, ("no",))
    plain = stated.replace("competent-engineer", "engineer")
    found = facts(tmp_path / "b", LEAVE, PART, plain).today.facts["component:slide", "component.serviceable"]
    assert (found.how, found.values) == (How.DISPUTED, None)


def test_two_competent_reports_that_disagree_leave_it_unknown(tmp_path):
    second = REPORT.replace("report:", "second:", 1).replace("fit_to_run: yes", "fit_to_run: no")
    found = facts(tmp_path, LEAVE, PART, REPORT.rstrip(" ") + second).today.facts[
        "component:slide", "component.fit_to_run"
    ]
    assert (found.how, found.values) == (How.DISPUTED, None)


# ---- judging -------------------------------------------------------------------------------------


def silent(term: str) -> Fact:
    return Fact(term, "x", None, How.SILENT)


def judged(term: str, test: Reads, values, how: How = How.WRITTEN, look=silent) -> Truth:
    return judge(test, VOCABULARY.terms[term], Fact(term, "x", values, how), look).truth


@pytest.mark.parametrize(
    ("values", "how", "truth"),
    [
        (("skim",), How.WRITTEN, Truth.YES),
        (("bore",), How.WRITTEN, Truth.NO),
        (None, How.SILENT, Truth.UNKNOWN),
        (None, How.DISPUTED, Truth.UNKNOWN),
        (None, How.ABSENT, Truth.NO),
        (("bore", "skim"), How.WRITTEN, Truth.YES),  # of many values one is enough
        (("bore", "skim"), How.ESTABLISHED, Truth.UNKNOWN),  # one of these, nobody knows which
        ((), How.WRITTEN, Truth.NO),
    ],
)
def test_words_are_judged_yes_no_or_unknown(values, how, truth):
    assert judged("technique.takes", Reads(("skim",)), values, how) is truth


ABOVE = Reads((), (Bound("above", parse_quantity("0.10 mm", "mm", exact=True)),))


@pytest.mark.parametrize(
    ("values", "truth"),
    [
        (("0.20 ± 0.02 mm",), Truth.YES),
        (("0.05 ± 0.02 mm",), Truth.NO),
        (("0.11 ± 0.02 mm",), Truth.UNKNOWN),
        (("0.20 mm",), Truth.UNKNOWN),
        (("0.20 ± 0.02 mm", "0.05 ± 0.02 mm"), Truth.YES),  # wear counts at its highest
    ],
)
def test_a_measurement_is_held_against_a_limit(values, truth):
    assert judged("surface.wear", ABOVE, tuple(map(mm, values))) is truth


def test_where_no_reading_is_the_worst_all_must_pass():
    values = (mm("0.20 ± 0.02 mm"), mm("0.05 ± 0.02 mm"))
    assert judged("component.running_clearance", ABOVE, values) is Truth.NO


def test_a_limit_may_be_another_fact():
    deeper = Reads((), (Bound("above", "surface.wear"),))

    def look(values, how=How.WRITTEN):
        return lambda term: Fact(term, "x", values, how)

    depth = (mm("0.30 ± 0.02 mm"),)
    assert judged("act.depth", deeper, depth, look=look((mm("0.10 ± 0.02 mm"),))) is Truth.YES
    assert judged("act.depth", deeper, depth, look=look(None, How.SILENT)) is Truth.UNKNOWN
    assert judged("act.depth", deeper, depth, look=look(None, How.ABSENT)) is Truth.NO


# ---- what the list of acts says by its order -----------------------------------------------------


def read_off(tmp_path, acts: str, subject: str, term: str):
    text = PROPOSAL.format(test="component.running_clearance: {at_most: 1 mm}", acts=acts, after="")
    found = facts(tmp_path, text).today.facts[subject, term]
    assert found.how is How.READ_OFF
    return found.values


STRIP, COAT, LOOK = "{technique: paint-stripping, where: face}", "{technique: painting}", "{technique: examination}"


@pytest.mark.parametrize(
    ("acts", "looked"),
    [
        ((STRIP, LOOK, COAT), "yes"),
        ((STRIP, LOOK), "yes"),
        ((STRIP, COAT, LOOK), "no"),  # too late
        ((LOOK, STRIP, COAT), "no"),  # too early
        ((STRIP, "{technique: wax-coating, where: face}", LOOK), "no"),
        ((STRIP, "{technique: painting, where: back}", LOOK), "yes"),  # a coat on another face hides nothing here
        ((STRIP, "{technique: examination, where: back}", COAT), "no"),
        ((STRIP,), "no"),
    ],
)
def test_a_look_counts_between_the_stripping_and_the_next_coat_on_the_same_face(tmp_path, acts, looked):
    number = acts.index(STRIP) + 1
    assert read_off(tmp_path, ", ".join(acts), f"act:work/{number}", "act.looked_at_bare") == (looked,)


@pytest.mark.parametrize(
    ("acts", "fitted", "hot"),
    [
        ((COAT,), "no", "no"),
        ((COAT, "{technique: welding, where: back}"), "yes", "yes"),
        (("{technique: welding, where: back}", COAT), "no", "no"),  # joined before the coat
        ((COAT, SHIM), "yes", "no"),
        ((COAT, "{technique: strapping, where: face}"), "yes", "no"),
        ((COAT, "{technique: wiping}"), "no", "no"),
        ((COAT, "{technique: warming, heated_to: 80 °C}"), "no", "yes"),
        (("{technique: painting, where: face}", SHIM), "no", "no"),  # at another place
        # heat spreads, and what is fitted does not
        (("{technique: painting, where: face}", "{technique: welding, where: back}"), "no", "yes"),
    ],
)
def test_what_is_still_to_be_fitted_and_heated_is_read_off_the_acts_after_a_coat(tmp_path, acts, fitted, hot):
    number = next(n for n, act in enumerate(acts, 1) if "painting" in act)
    there = f"act:work/{number}"
    assert read_off(tmp_path / "a", ", ".join(acts), there, "act.fitted_later") == (fitted,)
    assert read_off(tmp_path / "b", ", ".join(acts), there, "act.hot_work_later") == (hot,)


@pytest.mark.parametrize(
    ("acts", "listed"),
    [
        (SHIM, "yes"),
        ("{technique: adjustment}", "yes"),
        ("{technique: re-packing}", "yes"),
        (f"{SKIM}, {SHIM}", "no"),  # it takes metal as well
        ("{technique: re-metalling, where: bore}", "no"),  # it is hot
        ("{technique: lubrication}", "no"),
        (SKIM, "no"),
        ("", "no"),
    ],
)
def test_adjusting_is_listed_where_an_option_adjusts_or_packs_and_takes_nothing(tmp_path, acts, listed):
    assert read_off(tmp_path, acts, "proposal", "proposal.adjusting_listed") == (listed,)
