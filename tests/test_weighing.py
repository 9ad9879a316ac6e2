"""Weighing: every step by its smallest case, and the standing example from text to verdict."""

from __future__ import annotations

from pathlib import Path

import pytest
from helpers import casebook_of, demo, fares, option, rule, rulebook_of, shipped_rules, weighed

from conserve.weighing import Weighing
from conserve.weighing.model import Call, Conclusion, NeedState, Shown, Standing, Step

PART = """\
    name: Slide
    significance: some
    material: grey-cast-iron
    phase: as-built
    running_clearance: 0.70 ± 0.04 mm
    present: yes
    serviceable: yes
    surfaces:
      face: {function: sliding, area: 400 ± 6 cm2, relief: 0.03 ± 0.01 mm, sets_clearance: yes, marks: none}
      back: {function: mating, area: 400 ± 6 cm2, relief: 0.03 ± 0.01 mm, sets_clearance: yes, marks: none}
    repairs: none
    defects:
      slack: {kind: wear, seen: seen, active: no, affects_safety: no}
    history: none
    """
SNUG = "{component.running_clearance: {between: [0.10 mm, 0.40 mm]}}"
FIT = f"fit: {{kind: function, says: It runs., test: {SNUG}, set_by: me}}"
SHIM = "{technique: shimming, where: back, thickness: 0.50 mm, treats: slack, takes: none, disturbs_repair: no}"
SKIM = "{technique: milling, where: face, depth: 0.20 ± 0.02 mm, treats: slack, takes: none, disturbs_repair: no}"
THICK = SHIM.replace("0.50", "0.70")


def case(
    root: Path, *, part: str = PART, needs: str = FIT, rules: dict[str, str] | None = None, more: str = "",
    register: str = "", extra: dict[str, str] | None = None, **options: str,
) -> Weighing:  # fmt: skip
    """Weigh a proposal whose options are written in flow style, leaving alone being one, under a few rules."""
    listed = "".join(f"      {name.replace('_', '-')}: {text}\n" for name, text in options.items())
    proposal = f"""\
    title: Take up the slack
    component: slide
    needs:
      {needs}
    options:
      leave: {{acts: []}}
{listed}    preferred: leave
    asked: {{date: 2026-03-02, by: me}}
    {more}
    """
    files = {"components/slide.yaml": part, "proposals/q.yaml": proposal, **(extra or {})}
    if register:
        files["evidence/register.yaml"] = register
    rulebook = rulebook_of(root, **(rules or {}))
    return weighed(casebook_of(root, files, rulebook), rulebook=rulebook)


def step(weighing: Weighing, name: str) -> tuple[str, Step]:
    weighed_option = option(weighing, name)
    return str(weighed_option.verdict), weighed_option.reason.step


def acts(*those: str, more: str = "") -> str:
    return f"{{acts: [{', '.join(those)}]{', ' if more else ''}{more}}}"


# ---- the steps, each by its smallest case --------------------------------------------------------

FORBID = rule("act", "{act.technique: shimming}", "{forbid: Do not.}")
MAY_FORBID = rule("act", "{act.technique: shimming, component.examined: no}", "{forbid: Do not.}")
REFER = rule("act", "{act.technique: shimming}", "{refer: Ask., to: competent-engineer}")
MAY_REFER = rule("act", "{act.technique: shimming, component.examined: no}", "{refer: Ask., to: lead}")
AGAINST = rule("act", "{act.technique: shimming}", "{against: A pity.}")
DECIDE = rule("act", "{act.technique: shimming}", "{require: Say why., by: decision, answer: yes}")
LATER = rule("act", "{act.technique: shimming}", "{require: Photograph it., by: before-work, evidence: photograph}")
ROUTINE = rule("act", "{act.technique: shimming}", "{require: Photograph it., by: after-work, routine: yes}")
NOTE = rule("act", "{act.technique: shimming}", "{note: Look.}")
ANSWERED = "answers: {r/against: {by: me, says: so}, r/decide: {by: me, says: so}}"


@pytest.mark.parametrize(
    ("rules", "shim", "verdict", "reason"),
    [
        ({"forbid": FORBID}, acts(SHIM), "not justified", Step.FORBIDDEN),
        ({}, acts(SHIM.replace("0.50", "0.10")), "not justified", Step.NEED_FAILED),
        ({}, acts(SHIM, "{technique: drying, for: none}"), "not justified", Step.NOT_CALLED_FOR),
        ({"refer": REFER}, acts(SHIM), "refer to a competent person", Step.REFERRED),
        ({"may": MAY_FORBID}, acts(SHIM), "not yet shown", Step.SOMETHING_OPEN),
        ({}, acts("{technique: re-metalling, where: face}"), "not yet shown", Step.SOMETHING_OPEN),
        ({"may": MAY_REFER}, acts(SHIM), "not yet shown", Step.SOMETHING_OPEN),
        ({"against": AGAINST}, acts(SHIM), "not yet shown", Step.OBJECTION),
        ({"against": AGAINST}, acts(SHIM, more=ANSWERED), "justified", Step.NOTHING_AGAINST),
        ({"decide": DECIDE}, acts(SHIM), "not yet shown", Step.OWED_NOW),
        ({"decide": DECIDE}, acts(SHIM, more=ANSWERED), "justified", Step.NOTHING_AGAINST),
        ({"later": LATER}, acts(SHIM), "justified with requirements", Step.OWED_LATER),
        ({"routine": ROUTINE}, acts(SHIM), "justified", Step.NOTHING_AGAINST),
        ({"note": NOTE}, acts(SHIM), "justified", Step.NOTHING_AGAINST),
        ({}, acts(SHIM), "justified", Step.NOTHING_AGAINST),
        ({"draft": FORBID.replace("adopted", "draft"), "gone": FORBID.replace("adopted", "withdrawn")},
         acts(SHIM), "justified", Step.NOTHING_AGAINST),
    ],
)  # fmt: skip
def test_a_step_by_its_smallest_case(tmp_path, rules, shim, verdict, reason):
    assert step(case(tmp_path, rules=rules, shim=shim), "shim") == (verdict, reason)


def test_the_first_step_that_applies_gives_the_verdict_and_the_rest_is_still_told(tmp_path):
    rules = {"forbid": FORBID, "refer": REFER, "against": AGAINST, "decide": DECIDE, "later": LATER}
    weighing = case(tmp_path, rules=rules, shim=acts(SHIM))
    assert step(weighing, "shim") == ("not justified", Step.FORBIDDEN)
    shim = option(weighing, "shim")
    assert {s.finding.rule.id for s in shim.settled} == {f"r/{name}" for name in rules}
    assert {r.id for r in shim.requirements} == {"r/decide", "r/later"}


def test_a_refusal_by_a_need_comes_before_a_referral(tmp_path):
    weighing = case(tmp_path, rules={"refer": REFER}, shim=acts(SHIM.replace("0.50", "0.10")))
    assert step(weighing, "shim")[1] is Step.NEED_FAILED


def test_an_open_objection_needs_an_answer_as_a_certain_one_does(tmp_path):
    may = MAY_FORBID.replace("forbid: Do not.", "against: A pity.").replace("expect: forbid", "expect: against")
    weighing = case(tmp_path, rules={"against": may}, shim=acts(SHIM), shim_said=acts(SHIM, more=ANSWERED))
    assert step(weighing, "shim") == ("not yet shown", Step.OBJECTION)
    assert step(weighing, "shim-said")[0] == "justified"


def test_an_open_requirement_is_owed_as_a_certain_one_is(tmp_path):
    may = LATER.replace("act.technique: shimming", "component.examined: no")
    weighing = case(tmp_path, rules={"later": may}, shim=acts(SHIM))
    assert step(weighing, "shim") == ("justified with requirements", Step.OWED_LATER)
    (requirement,) = option(weighing, "shim").requirements
    assert not requirement.certain


def test_a_requirement_to_know_something_falls_away_when_it_is_known(tmp_path):
    know = rule("act", "{}", "{require: Find out., by: decision, known: component.material}")
    assert step(case(tmp_path / "a", rules={"know": know}, shim=acts(SHIM)), "shim")[0] == "justified"
    unknown = PART.replace("    material: grey-cast-iron\n", "")
    weighing = case(tmp_path / "b", part=unknown, rules={"know": know}, shim=acts(SHIM))
    assert step(weighing, "shim") == ("not yet shown", Step.OWED_NOW)
    assert [q.fact.term for q in option(weighing, "shim").questions] == ["component.material"]


def test_what_the_work_has_met_is_ticked_off_and_the_verdict_stays(tmp_path):
    work = "work: {began: 2026-03-03, met: [{requirement: r/later, date: 2026-03-03, evidence: [photo]}]}"
    register = """\
    photo: {kind: photograph, date: 2026-03-03, by: me, about: [slide], held: Office, shows: It.}
    """
    weighing = case(tmp_path, rules={"later": LATER}, shim=acts(SHIM), more=work, register=register)
    (requirement,) = option(weighing, "shim").requirements
    assert requirement.met
    assert step(weighing, "shim")[0] == "justified with requirements"


@pytest.mark.parametrize(
    ("about", "kind", "met"),
    [("slide", "photograph", True), ("slide", "drawing", False), ("other", "photograph", False)],
)
def test_only_evidence_of_the_kind_asked_for_and_about_this_part_meets_a_requirement(tmp_path, about, kind, met):
    register = (
        f"    photo: {{kind: {kind}, date: 2026-03-01, by: me, about: [{about}], held: Office, shows: It., answers: [r/later]}}\n"
    )
    other = {"components/other.yaml": "    name: Other\n"}
    weighing = case(tmp_path, rules={"later": LATER}, shim=acts(SHIM), register=register, extra=other)
    assert option(weighing, "shim").requirements[0].met is met
    assert step(weighing, "shim")[0] == ("justified" if met else "justified with requirements")


# ---- gentler ones --------------------------------------------------------------------------------


def test_a_gentler_option_that_stands_and_meets_the_needs_leaves_the_other_unjustified(tmp_path):
    weighing = case(tmp_path, shim=acts(SHIM), skim=acts(SKIM, THICK))
    assert step(weighing, "skim") == ("not justified", Step.GENTLER_STANDS)
    assert option(weighing, "skim").reason.option == "shim"
    assert option(weighing, "skim").own.stands
    assert option(weighing, "skim").gentler == ("leave", "shim")


SAID = "rather_than: {shim: {by: me, says: so}}"


def test_a_gentler_option_that_may_yet_do_is_waited_for_until_a_person_says_why_not(tmp_path):
    only_alone = rule("option", "{option.done_by: volunteer}", "{against: A pity.}")
    shim = acts(SHIM, more="done_by: volunteer")
    options = {
        "shim": shim,
        "skim": acts(SKIM, THICK, more="done_by: engineer"),
        "skim_said": acts(SKIM, THICK, more=f"done_by: engineer, {SAID}"),
    }
    weighing = case(tmp_path, rules={"alone": only_alone}, **options)
    assert step(weighing, "shim") == ("not yet shown", Step.OBJECTION)
    assert step(weighing, "skim") == ("not yet shown", Step.GENTLER_WAITED_FOR)
    # Skimming and skimming with an answer lose alike, so neither is waited for.
    assert step(weighing, "skim-said")[0] == "justified"


def test_a_gentler_option_that_fails_a_need_is_not_waited_for(tmp_path):
    weighing = case(tmp_path, shim=acts(SHIM.replace("0.50", "0.10")), skim=acts(SKIM, THICK))
    assert step(weighing, "skim")[0] == "justified"


def test_options_that_lose_different_things_are_not_ranked_and_a_person_answers(tmp_path):
    back = SKIM.replace("face", "back"), THICK.replace("back", "face")
    one = "rather_than: {back: {by: me, says: so}}"
    weighing = case(tmp_path, face=acts(SKIM, THICK), back=acts(*back), face_said=acts(SKIM, THICK, more=one))
    assert step(weighing, "face") == ("not yet shown", Step.LOSES_OTHER_THINGS)
    assert step(weighing, "back") == ("not yet shown", Step.LOSES_OTHER_THINGS)
    assert step(weighing, "face-said")[0] == "justified"


def test_where_a_list_that_matters_is_not_written_the_comparison_waits_for_a_person(tmp_path):
    part = PART.replace("repairs: none\n    ", "")
    bare = SKIM.replace(", disturbs_repair: no", "")
    weighing = case(
        tmp_path,
        part=part,
        less=acts(bare, THICK),
        deeper=acts(bare.replace("0.20", "0.40"), THICK.replace("0.70", "0.90")),
    )
    assert step(weighing, "deeper") == ("not yet shown", Step.GENTLER_WAITED_FOR)


def test_an_option_that_loses_other_things_is_waited_for_while_it_may_yet_stand(tmp_path):
    may = rule("act", "{surface.function: mating, technique.takes: skim, component.examined: no}", "{forbid: Do not.}")
    back = SKIM.replace("face", "back"), THICK.replace("back", "face")
    weighing = case(tmp_path, rules={"may": may}, face=acts(SKIM, THICK), back=acts(*back))
    assert step(weighing, "back") == ("not yet shown", Step.SOMETHING_OPEN)
    assert step(weighing, "face") == ("not yet shown", Step.LOSES_OTHER_THINGS)


def test_a_gentler_option_refused_only_for_doubt_is_waited_for(tmp_path):
    part = PART.replace("    serviceable: yes\n", "").replace("affects_safety: no", "affects_safety: yes")
    safe = "whole: {kind: safety, says: It holds., test: {component.serviceable: yes}, set_by: me}"
    fit, hold = SHIM.replace("slack", "none, for: [fit]"), STRAP.replace("treats", "for: [whole], treats")
    cut = acts(SKIM.replace("treats", "for: [fit], treats"), THICK.replace("treats", "for: [fit], treats"), hold)
    weighing = case(tmp_path, part=part, needs=f"{FIT}\n      {safe}", rules={"safe": SAFE}, shim=acts(fit), cut=cut)
    assert step(weighing, "shim") == ("not justified", Step.NEED_IN_DOUBT)
    assert option(weighing, "cut").own.stands
    assert step(weighing, "cut") == ("not yet shown", Step.GENTLER_WAITED_FOR)


@pytest.mark.parametrize("takes", ["takes: [stamp], ", ""])
def test_a_hole_may_take_a_mark_that_nobody_has_said_it_spares(tmp_path, takes):
    part = PART.replace("marks: none}\n      back", "marks: {stamp: {kind: stamp}}}\n      back")
    drill = f"{{technique: drilling, where: face, hole_diameter: 6 mm, hole_depth: 9 mm, holes: 2, {takes}for: [fit]}}"
    spared = rule("act", "{technique.takes: drill, mark.kind: stamp}", "{against: A pity.}")
    weighing = case(tmp_path, part=part, rules={"spared": spared}, drill=acts(SHIM, drill))
    assert standing(weighing, "drill", "r/spared") == [Standing.IN if takes else Standing.OPEN]


# ---- needs ---------------------------------------------------------------------------------------

AT_WORK = FIT.replace("set_by", "at: [demonstration, service], set_by")


def test_a_need_asked_only_at_a_duty_that_is_not_kept_is_given_up(tmp_path):
    weighing = case(tmp_path, needs=AT_WORK, rest="{acts: [], duty: static}")
    assert option(weighing, "rest").gives_up == ("fit",)
    assert step(weighing, "rest")[0] == "justified"
    assert step(weighing, "leave") == ("not justified", Step.NEED_FAILED)
    assert weighing.conclusion is Conclusion.NOTHING_WILL_DO  # none that gives nothing up stands, and none may yet


def test_an_act_for_a_need_that_is_given_up_is_not_called_for(tmp_path):
    weighing = case(tmp_path, needs=AT_WORK, rest=acts(SHIM, more="duty: static"))
    assert step(weighing, "rest") == ("not justified", Step.NOT_CALLED_FOR)


@pytest.mark.parametrize(
    ("clearance", "state"),
    [("0.30 ± 0.04 mm", NeedState.MET), ("0.70 ± 0.04 mm", NeedState.FAILED), ("0.41 ± 0.04 mm", NeedState.OPEN),
     ("0.30 mm", NeedState.OPEN), ("unknown", NeedState.OPEN)],
)  # fmt: skip
def test_a_need_under_leaving_alone_is_judged_on_what_is_so_today(tmp_path, clearance, state):
    weighing = case(tmp_path, part=PART.replace("0.70 ± 0.04 mm", clearance))
    assert option(weighing, "leave").need("fit").state is state


def test_a_question_says_how_small_the_uncertainty_must_be(tmp_path):
    weighing = case(tmp_path, part=PART.replace("0.70 ± 0.04 mm", "0.38 ± 0.04 mm"))
    (question,) = option(weighing, "leave").questions
    assert question.blocks == ("needs/fit",)
    # 0.02 mm from the limit: at k = 2, 0.95 one way asks for no more than 0.02 x 2 / 1.645
    assert str(question.settle.amount) == "0.024"


def test_a_claim_meets_a_need_and_is_to_be_measured(tmp_path):
    claimed = acts(
        "{technique: re-metalling, where: face}", more="after: {component.running_clearance: 0.20 ± 0.04 mm}"
    )
    weighing = case(tmp_path, metal=claimed)
    assert option(weighing, "metal").need("fit").shown is Shown.CLAIMED
    assert [(r.id, r.routine) for r in option(weighing, "metal").requirements] == [("needs/fit", True)]


def test_what_is_computed_is_shown_so_and_asks_for_nothing(tmp_path):
    weighing = case(tmp_path, shim=acts(SHIM))
    assert option(weighing, "shim").need("fit").shown is Shown.COMPUTED
    assert option(weighing, "shim").requirements == ()


PROMISE = rule("act", "{act.technique: re-packing}", "{establish: {act.promises: function}}")
SERVES = "serves: {kind: function, says: It serves., test: {defects.slack.active: no}, set_by: me}"
LEAKS = PART.replace("active: no", "active: yes")


@pytest.mark.parametrize(
    ("treats", "verdict"),
    [("treats: slack", "justified"), ("treats: none", "not justified"), ("where: face", "not yet shown")],
)
def test_an_act_promises_only_what_it_certainly_changes(tmp_path, treats, verdict):
    act = f"{{technique: re-packing, {treats}, takes: none}}"
    weighing = case(tmp_path, part=LEAKS, needs=SERVES, rules={"promise": PROMISE}, pack=acts(act))
    assert step(weighing, "pack")[0] == verdict


# ---- safety --------------------------------------------------------------------------------------

TURN = "turn: {kind: safety, says: It may turn., test: {component.fit_to_run: yes}, set_by: me}"
HARMLESS = "harmless: {kind: safety, says: It hurts nobody., test: {defects.slack.affects_safety: no}, set_by: me}"
REPORT = """\
    report:
      kind: report
      held: Office
      date: 2026-03-01
      by: A. Name
      about: [slide]
      role: competent-engineer
      shows: Looked at.
      lapses: 2027-01-01
      answers: [needs/turn]
      states: {component.fit_to_run: yes}
    """
USED = PART.replace("history: none", "history: [{date: 2026-02-01, kind: used, says: Used.}]")


@pytest.mark.parametrize(
    ("part", "register", "state", "shown"),
    [
        (USED, REPORT, NeedState.MET, Shown.CONCLUDED),
        (USED, REPORT.replace("fit_to_run: yes", "fit_to_run: no"), NeedState.FAILED, None),
        (USED, "", NeedState.OPEN, None),
        (USED.replace("2026-02-01", "2026-03-02"), REPORT, NeedState.OPEN, None),
        (USED, REPORT.replace("2027-01-01", "2026-03-01"), NeedState.OPEN, None),
        (
            USED.replace("    history: [{date: 2026-02-01, kind: used, says: Used.}]\n", ""),
            REPORT,
            NeedState.OPEN,
            None,
        ),
        (USED.replace("affects_safety: no", "affects_safety: yes"), "", NeedState.IN_DOUBT, None),
        (USED.replace("affects_safety: no", "affects_safety: yes"), REPORT, NeedState.MET, Shown.CONCLUDED),
    ],
    ids=["in-hand", "against", "none", "event-since", "lapsed", "no-history", "doubtful-defect", "report-on-defect"],
)
def test_a_safety_need_is_met_only_by_a_conclusion_that_stands(tmp_path, part, register, state, shown):
    found = option(case(tmp_path, part=part, needs=TURN, register=register), "leave").need("turn")
    assert (found.state, found.shown) == (state, shown)


def test_a_report_on_the_part_as_it_is_concludes_nothing_about_what_an_act_makes_of_it(tmp_path):
    mend = acts("{technique: re-packing, treats: slack, takes: none}", more="after: {defects.slack.affects_safety: no}")
    part = USED.replace("affects_safety: no", "affects_safety: yes")
    register = REPORT.replace("needs/turn", "needs/harmless")
    found = option(case(tmp_path, part=part, needs=HARMLESS, register=register, mend=mend), "mend").need("harmless")
    assert (found.state, found.shown, found.asked_of) == (NeedState.MET, Shown.CLAIMED, "competent-person")


def test_a_report_in_the_wrong_role_cannot_state_it(tmp_path):
    with pytest.raises(AssertionError, match="C060"):
        case(tmp_path, needs=TURN, register=REPORT.replace("competent-engineer", "engineer"))


def test_an_examination_is_no_event_that_makes_a_report_stale(tmp_path):
    part = USED.replace("2026-02-01, kind: used", "2026-03-02, kind: examined")
    assert option(case(tmp_path, part=part, needs=TURN, register=REPORT), "leave").need("turn").state is NeedState.MET


def test_what_is_written_as_safe_still_waits_for_a_competent_person_before_use(tmp_path):
    weighing = case(tmp_path, needs=HARMLESS)
    assert step(weighing, "leave") == ("justified with requirements", Step.OWED_LATER)
    (requirement,) = option(weighing, "leave").requirements
    assert (requirement.id, str(requirement.by), requirement.role) == (
        "needs/harmless",
        "before-use",
        "competent-person",
    )


def test_a_measurement_that_straddles_puts_a_safety_need_in_doubt(tmp_path):
    need = "snug: {kind: safety, says: Snug., test: {component.running_clearance: {at_most: 0.70 mm}}, set_by: me}"
    weighing = case(tmp_path, needs=need)
    assert step(weighing, "leave") == ("not justified", Step.NEED_IN_DOUBT)
    assert option(weighing, "leave").need("snug").bears == ("component.running_clearance",)
    assert [o.need.id for o in weighing.parts[0].out_of_use] == ["snug"]


def test_a_need_not_asked_at_todays_duty_puts_nothing_out_of_use(tmp_path):
    need = HARMLESS.replace("set_by", "at: [demonstration], set_by")
    part = PART.replace("affects_safety: no", "affects_safety: yes")
    weighing = case(tmp_path, part=part, needs=need)
    assert option(weighing, "leave").need("harmless").state is NeedState.FAILED
    assert weighing.parts[0].out_of_use == ()


def test_a_safety_need_that_touching_reopens_is_not_met_by_the_old_report(tmp_path):
    weighing = case(
        tmp_path,
        part=USED,
        needs=f"{FIT}\n      {TURN}",
        register=REPORT,
        shim=acts(SHIM.replace("treats", "for: [fit], treats")),
    )
    assert option(weighing, "leave").need("turn").state is NeedState.MET
    assert option(weighing, "shim").need("turn").state is NeedState.OPEN


SAFE = rule("act", "{act.technique: strapping}", "{establish: {act.promises: safety}}")
STRAP = "{technique: strapping, where: face, treats: slack, takes: none}"
DOUBT = PART.replace("affects_safety: no", "affects_safety: yes")


def test_a_promise_of_safety_is_a_requirement_before_use(tmp_path):
    weighing = case(tmp_path, part=DOUBT, needs=TURN, rules={"safe": SAFE}, strap=acts(STRAP))
    assert option(weighing, "leave").need("turn").state is NeedState.IN_DOUBT
    assert step(weighing, "strap") == ("justified with requirements", Step.OWED_LATER)
    assert [r.role for r in option(weighing, "strap").requirements] == ["competent-engineer"]


# ---- called for ----------------------------------------------------------------------------------


def calls(weighing: Weighing, name: str) -> list[Call]:
    return [call.call for call in option(weighing, name).calls]


@pytest.mark.parametrize(
    ("clearance", "skim", "shim", "look"),
    [
        ("0.70 ± 0.04 mm", Call.CALLED_FOR, Call.CALLED_FOR, Call.CALLED_FOR),
        ("0.30 ± 0.04 mm", Call.NOT_CALLED_FOR, Call.NOT_CALLED_FOR, Call.NOT_CALLED_FOR),
        ("0.41 ± 0.04 mm", Call.OPEN, Call.OPEN, Call.CALLED_FOR),
    ],
)
def test_an_act_is_called_for_by_what_leaving_alone_fails(tmp_path, clearance, skim, shim, look):
    part = PART.replace("0.70 ± 0.04 mm", clearance)
    weighing = case(tmp_path, part=part, skim=acts(SKIM), shim=acts(SHIM), look=acts("{technique: examination}"))
    assert [calls(weighing, name) for name in ("skim", "shim", "look")] == [[skim], [shim], [look]]


def test_doubt_of_safety_calls_for_holding_and_looking_but_never_spends_fabric(tmp_path):
    hold, skim = STRAP, SKIM
    weighing = case(
        tmp_path, part=DOUBT, needs=TURN, hold=acts(hold), skim=acts(skim), look=acts("{technique: examination}")
    )
    assert calls(weighing, "hold") == [Call.CALLED_FOR]
    assert calls(weighing, "look") == [Call.CALLED_FOR]
    assert calls(weighing, "skim") == [Call.OPEN]


def test_an_examination_is_called_for_by_the_open_question_that_it_answers(tmp_path):
    part = PART.replace("0.70 ± 0.04", "0.30 ± 0.04")
    look = "{{technique: examination, finds: {}}}"
    weighing = case(
        tmp_path, part=part, open=acts(look.format("component.examined")), known=acts(look.format("component.present"))
    )
    assert calls(weighing, "open") == [Call.CALLED_FOR]
    assert calls(weighing, "known") == [Call.NOT_CALLED_FOR]


# ---- overrides -----------------------------------------------------------------------------------


def standing(weighing: Weighing, name: str, rule_id: str) -> list[Standing]:
    return [s.standing for s in option(weighing, name).settled if s.finding.rule.id == rule_id]


@pytest.mark.parametrize(
    ("by", "found", "verdict"),
    [
        ("{component.present: yes}", Standing.OUT, "justified"),
        ("{component.present: no}", Standing.IN, "not justified"),
        ("{component.examined: yes}", Standing.OPEN, "not yet shown"),
    ],
)
def test_a_finding_is_out_in_or_open_as_what_overrides_it_is_in_silent_or_open(tmp_path, by, found, verdict):
    rules = {"forbid": FORBID, "spare": rule("act", by, "{note: It is spared.}", "r/forbid")}
    weighing = case(tmp_path, rules=rules, shim=acts(SHIM))
    assert standing(weighing, "shim", "r/forbid") == [found]
    assert step(weighing, "shim")[0] == verdict


def test_what_overrides_an_override_restores_the_rule(tmp_path):
    rules = {
        "forbid": FORBID,
        "spare": rule("act", "{component.present: yes}", "{note: Spared.}", "r/forbid"),
        "after_all": rule("act", "{component.serviceable: yes}", "{note: Not spared.}", "r/spare"),
    }
    assert standing(case(tmp_path, rules=rules, shim=acts(SHIM)), "shim", "r/forbid") == [Standing.IN]


def test_an_override_about_an_owner_reaches_what_it_owns(tmp_path):
    rules = {"forbid": FORBID, "spare": rule("component", "{component.present: yes}", "{note: Spared.}", "r/forbid")}
    assert standing(case(tmp_path, rules=rules, shim=acts(SHIM)), "shim", "r/forbid") == [Standing.OUT]


def test_an_override_about_one_place_does_not_reach_another(tmp_path):
    rules = {
        "forbid": rule("act", "{technique.takes: skim}", "{forbid: Do not.}"),
        "spare": rule("act", "{surface.function: mating}", "{note: Spared.}", "r/forbid"),
    }
    both = acts(SKIM, SKIM.replace("face", "back"))
    assert standing(case(tmp_path, rules=rules, both=both), "both", "r/forbid") == [Standing.IN, Standing.OUT]


def test_an_override_about_what_is_owned_does_not_reach_its_owner(tmp_path):
    rules = {
        "forbid": rule("option", "{option.acts_on_part: yes}", "{forbid: Do not.}"),
        "spare": rule("act", "{act.technique: shimming}", "{note: Spared.}", "r/forbid"),
    }
    assert standing(case(tmp_path, rules=rules, shim=acts(SHIM)), "shim", "r/forbid") == [Standing.IN]


# ---- referrals -----------------------------------------------------------------------------------

ANSWERS = REPORT.replace("needs/turn", "r/refer")
ASKED = "refer to a competent person"


@pytest.mark.parametrize(
    ("part", "register", "verdict"),
    [
        (USED, ANSWERS, "justified"),
        (USED, ANSWERS.replace("states: {component.fit_to_run: yes}", "note: Nothing."), ASKED),
        (USED, ANSWERS.replace("competent-engineer", "lifting-examiner").replace("to_run", "for_lifting"), ASKED),
        (USED, ANSWERS.replace("answers: [r/refer]", "answers: []"), ASKED),
        (USED.replace("2026-02-01", "2026-03-02"), ANSWERS, ASKED),
    ],
    ids=["answered", "states-nothing", "other-role", "other-question", "stale"],
)  # fmt: skip
def test_a_referral_is_answered_only_by_a_standing_report_of_that_role_on_that_question(
    tmp_path, part, register, verdict
):
    weighing = case(tmp_path, part=part, rules={"refer": REFER}, register=register, shim=acts(SHIM))
    assert step(weighing, "shim")[0] == verdict


# ---- care under a policy, like parts, conclusions ------------------------------------------------


@pytest.mark.parametrize(
    ("policy", "verdict", "reason"),
    [
        ("policy: {says: Keep it dry., routine_care: [drying]}", "justified", Step.NOTHING_AGAINST),
        ("policy: {says: Keep it dry., routine_care: [wiping]}", "not justified", Step.NOT_CALLED_FOR),
        ("policy: {says: Keep it dry., holding_works: [drying]}", "not justified", Step.NOT_CALLED_FOR),
        ("note: No policy.", "not yet shown", Step.SOMETHING_OPEN),
    ],
)
def test_care_is_called_for_by_the_policy_that_lists_it(tmp_path, policy, verdict, reason):
    files = {
        "object.yaml": f"    name: It\n    duty_wanted: static\n    {policy}\n",
        "components/slide.yaml": "    name: Slide\n",
        "proposals/care.yaml": "title: Care\ncomponent: slide\nkind: routine-care\nacts: [{technique: drying}]\n",
    }
    rulebook = rulebook_of(tmp_path)
    weighing = weighed(casebook_of(tmp_path, files, rulebook), rulebook=rulebook)
    assert step(weighing, "as-policy") == (verdict, reason)


def test_like_parts_are_weighed_each_and_the_worst_gives_the_verdict(tmp_path):
    studs = """\
    alike: stud-1..stud-3
    name: Stud
    defects: {rust: {kind: active-corrosion, active: no}}
    each:
      stud-2: {defects: {rust: {kind: active-corrosion, active: yes}}}
    """
    proposal = """\
    title: Leave the studs
    components: stud-1..stud-3
    needs:
      rest: {kind: stability, says: They rest., test: {defects.rust.active: no}, set_by: me}
    options:
      leave: {acts: []}
    preferred: leave
    """
    rulebook = rulebook_of(tmp_path)
    files = {"components/studs.yaml": studs, "proposals/q.yaml": proposal}
    weighing = weighed(casebook_of(tmp_path, files, rulebook), rulebook=rulebook)
    assert [str(part.option("leave").verdict) for part in weighing.parts] == ["justified", "not justified", "justified"]
    assert str(weighing.verdict) == "not justified"
    assert weighing.worst.component.id == "stud-2"
    assert [part.component.id for part in weighing.exceptions] == ["stud-2"]


@pytest.mark.parametrize(
    ("rules", "conclusion"),
    [
        ({}, Conclusion.DECIDED),
        ({"refer": REFER}, Conclusion.WAITING),
        ({"forbid": FORBID}, Conclusion.NOTHING_WILL_DO),
    ],
)
def test_a_proposal_is_decided_waits_or_has_nothing_that_will_do(tmp_path, rules, conclusion):
    assert case(tmp_path, rules=rules, shim=acts(SHIM)).conclusion is conclusion


def test_the_verdict_is_that_of_the_chosen_option_once_a_person_has_chosen(tmp_path):
    assert str(case(tmp_path / "a", shim=acts(SHIM)).verdict) == "not justified"
    decided = "decision: {chosen: shim, by: me, date: 2026-03-03, reason: So.}"
    assert str(case(tmp_path / "b", shim=acts(SHIM), more=decided).verdict) == "justified"


# ---- the standing example ------------------------------------------------------------------------


def test_the_crosshead_slipper_of_the_demonstration_comes_out_as_its_story_says():
    weighing = weighed(demo(), "crosshead-slipper", shipped_rules())
    assert fares(weighing) == {
        "leave": ("not justified", "need failed"),
        "shim": ("justified with requirements", "owed later"),
        "skim-working-face": ("not justified", "a gentler option stands"),
    }
    assert option(weighing, "skim-working-face").reason.option == "shim"
    assert option(weighing, "shim").need("running-clearance").shown is Shown.COMPUTED
    owed = {r.id for r in option(weighing, "shim").requirements if not r.routine}
    assert owed == {"record/hidden-first"}
