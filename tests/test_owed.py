"""What is owed and by when: each kind by its smallest casebook, and the demonstration's own list."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from helpers import OBJECT, casebook_of, demo, rule, rulebook_of, shipped_rules

from conserve.record.owed import Owed, owed, render
from conserve.rule import Stage
from conserve.weighing import weigh_all

DAY = date(2026, 6, 1)

PART = """\
    name: Slide
    significance: some
    material: grey-cast-iron
    phase: as-built
    running_clearance: 0.70 ± 0.04 mm
    present: yes
    serviceable: yes
    surfaces:
      face: {function: sliding, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
      back: {function: mating, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
    repairs: none
    defects:
      slack: {kind: wear, seen: seen, active: no, affects_safety: no}
    history: none
    """
SHIM = "{technique: shimming, where: back, thickness: 0.50 mm, treats: slack, takes: none, disturbs_repair: no}"
DECIDED = "decision: {chosen: shim, by: me, date: 2026-03-09, reason: so}"
DONE = "work: {began: 2026-03-14, finished: 2026-03-20, measured: {component.running_clearance: 0.22 ± 0.04 mm}}"
STAGES = {
    stage.value.replace("-", "_"): rule("act", "{act.technique: shimming}", f"{{require: Do it., by: {stage.value}}}")
    for stage in Stage
}


def found(
    root: Path,
    *lines: str,
    rules: dict[str, str] | None = None,
    on: date = DAY,
    part: str = PART,
    register: str = "",
    heading: str = OBJECT,
    question: bool = True,
    kind: str = "function",
    after: str = "{}",
    extra: dict[str, str] | None = None,
) -> tuple[Owed, ...]:
    """What a casebook of one slide, with one question about it, owes on a day."""
    more = "".join(f"    {line}\n" for line in lines)
    proposal = f"""\
    title: Take up the slack
    component: slide
    needs:
      fit:
        kind: {kind}
        says: It runs.
        test: {{component.running_clearance: {{between: [0.10 mm, 0.40 mm]}}}}
        set_by: me
    options:
      leave: {{acts: []}}
      shim: {{acts: [{SHIM}], after: {after}}}
    preferred: shim
    asked: {{date: 2026-03-02, by: me}}
{more}"""
    files = {"object.yaml": heading, "components/slide.yaml": part, **(extra or {})}
    if question:
        files["proposals/slack.yaml"] = proposal
    if register:
        files["evidence/register.yaml"] = register
    rulebook = rulebook_of(root, **(rules or {}))
    casebook = casebook_of(root, files, rulebook)
    return owed(weigh_all(casebook, rulebook, on), casebook, on)


def stages(all_owed: tuple[Owed, ...]) -> list[tuple[str, str, bool]]:
    return [(one.stage, one.on.isoformat() if one.on else "", one.overdue(DAY)) for one in all_owed]


# ---- requirements ----------------------------------------------------------------------------------------


def test_nothing_is_owed_on_what_nobody_has_decided(tmp_path: Path):
    assert found(tmp_path, rules=STAGES) == ()


def test_before_the_work_only_the_decisions_own_requirement_is_late(tmp_path: Path):
    assert stages(found(tmp_path, DECIDED, rules=STAGES)) == [
        ("decision", "2026-03-09", True),
        ("before-work", "", False),
        ("during-work", "", False),
        ("after-work", "", False),
        ("before-use", "", False),
    ]


def test_once_work_began_what_was_wanted_before_it_is_late(tmp_path: Path):
    assert stages(found(tmp_path, DECIDED, "work: {began: 2026-03-14}", rules=STAGES)) == [
        ("decision", "2026-03-09", True),
        ("before-work", "2026-03-14", True),
        ("during-work", "", False),
        ("after-work", "", False),
        ("before-use", "", False),
    ]


def test_once_work_is_finished_only_what_is_wanted_before_use_has_time(tmp_path: Path):
    assert stages(found(tmp_path, DECIDED, DONE, rules=STAGES)) == [
        ("decision", "2026-03-09", True),
        ("before-work", "2026-03-14", True),
        ("during-work", "2026-03-20", True),
        ("after-work", "2026-03-20", True),
        ("before-use", "", False),
    ]


def test_on_the_first_day_of_the_work_it_is_late_and_the_day_before_it_is_not(tmp_path: Path):
    (one,) = found(tmp_path, DECIDED, "work: {began: 2026-06-01}", rules={"before": STAGES["before_work"]})
    assert one.overdue(DAY)
    assert not one.overdue(date(2026, 5, 31))


def test_on_a_day_before_the_decision_it_owes_nothing(tmp_path: Path):
    assert found(tmp_path, DECIDED, rules=STAGES, on=date(2026, 3, 8)) == ()


def test_what_is_met_is_not_owed(tmp_path: Path):
    met = "work: {began: 2026-03-14, met: [{requirement: r/before-work, date: 2026-03-13, by: S. Varley}]}"
    all_owed = found(tmp_path, DECIDED, met, rules=STAGES)
    assert "before-work" not in {one.stage for one in all_owed}


def test_a_requirement_says_what_where_and_for_which_proposal(tmp_path: Path):
    (one,) = found(tmp_path, DECIDED, rules={"one": STAGES["before_work"]})
    assert one == Owed(None, "before-work", "Do it. (r/one)", "slack", "slide")
    assert not one.routine


def test_what_every_such_job_owes_is_told_as_routine(tmp_path: Path):
    routine = rule("act", "{act.technique: shimming}", "{require: Do it., by: after-work, routine: yes}")
    (one,) = found(tmp_path, DECIDED, rules={"one": routine})
    assert one.what == "Do it. (r/one; every such job owes it)"
    assert one.routine


def test_a_requirement_that_may_apply_is_owed_as_a_question(tmp_path: Path):
    may = rule("act", "{act.technique: shimming, component.examined: no}", "{require: Do it., by: before-work}")
    (one,) = found(tmp_path, DECIDED, rules={"may": may})
    assert one.what == "Find out whether this is asked; if so, do it. (r/may)"


def test_work_without_a_decision_owes_the_decision(tmp_path: Path):
    (one,) = found(tmp_path, "work: {began: 2026-03-14}")
    assert (one.on, one.stage, one.overdue(DAY)) == (date(2026, 3, 14), "decision", True)
    assert "without a decision" in one.what


def test_work_that_is_only_planned_owes_no_decision_yet(tmp_path: Path):
    assert found(tmp_path, "work: {began: 2026-06-02}") == ()


def test_a_competent_persons_conclusion_is_owed_beside_the_measurement(tmp_path: Path):
    work = "work: {began: 2026-03-14, finished: 2026-03-20}"
    all_owed = found(tmp_path, DECIDED, work, kind="safety")
    assert [(one.stage, one.what.split(":")[0]) for one in all_owed] == [
        ("as-left", "Measure as left"),
        ("before-use", "A competent person concludes"),
    ]


def test_like_parts_owe_the_same_thing_once(tmp_path: Path):
    studs = PART.replace("    name: Slide\n", "    alike: slide-1..slide-5\n    name: Slide\n")
    files = {"components/slides.yaml": studs}
    rulebook = rulebook_of(tmp_path, before=STAGES["before_work"])
    files["proposals/q.yaml"] = f"""\
        title: Take up the slack
        components: slide-1..slide-5
        needs:
          fit:
            kind: function
            says: It runs.
            test: {{component.running_clearance: {{between: [0.10 mm, 0.40 mm]}}}}
            set_by: me
        options:
          leave: {{acts: []}}
          shim: {{acts: [{SHIM}]}}
        preferred: shim
        {DECIDED}
        """
    casebook = casebook_of(tmp_path, files, rulebook)
    (one,) = owed(weigh_all(casebook, rulebook, DAY), casebook, DAY)
    assert one.where == "slide-1 and 4 others"


# ---- superseding -----------------------------------------------------------------------------------------


def another(decision: str) -> dict[str, str]:
    return {
        "proposals/again.yaml": f"""\
            title: Leave it after all
            component: slide
            needs:
              there: {{kind: completeness, says: It is there., test: {{component.present: yes}}, set_by: me}}
            options:
              leave: {{acts: []}}
            preferred: leave
            supersedes: slack
            {decision}
            """
    }


DECIDED_AGAIN = "decision: {chosen: leave, by: me, date: 2026-04-01, reason: so}"


def test_what_a_decided_proposal_supersedes_owes_nothing_if_it_was_not_begun(tmp_path: Path):
    assert found(tmp_path, DECIDED, "review: 2026-05-01", rules=STAGES, extra=another(DECIDED_AGAIN)) == ()


def test_what_is_only_asked_supersedes_nothing(tmp_path: Path):
    assert len(found(tmp_path, DECIDED, rules=STAGES, extra=another("asked: {date: 2026-04-01, by: me}"))) == 5


def test_work_that_was_begun_is_owed_for_whatever_supersedes_it(tmp_path: Path):
    far = DONE.replace("0.22", "0.62")
    all_owed = found(tmp_path, DECIDED, far, "review: 2026-05-01", rules=STAGES, extra=another(DECIDED_AGAIN))
    assert [one.stage for one in all_owed] == [stage.value for stage in Stage]


# ---- as left ---------------------------------------------------------------------------------------------


def test_finished_work_owes_a_measurement_of_what_was_reckoned(tmp_path: Path):
    (one,) = found(tmp_path, DECIDED, "work: {began: 2026-03-14, finished: 2026-03-20}")
    assert (one.on, one.stage, one.overdue(DAY)) == (date(2026, 3, 20), "as-left", True)
    assert one.what == ("Measure as left: running clearance of the slide, promised 0.20 ± 0.04 mm, for 'It runs'.")


def test_unfinished_work_owes_no_measurement_yet(tmp_path: Path):
    assert found(tmp_path, DECIDED, "work: {began: 2026-03-14}") == ()


def test_measured_and_as_promised_owes_nothing(tmp_path: Path):
    assert found(tmp_path, DECIDED, DONE) == ()


@pytest.mark.parametrize(
    ("measured", "anew"),
    [("0.25 ± 0.04 mm", False), ("0.30 ± 0.04 mm", True), ("0.10 ± 0.04 mm", True), ("0.30 ± 0.20 mm", False)],
)
def test_a_real_difference_from_what_was_promised_is_weighed_anew(tmp_path: Path, measured: str, anew: bool):
    all_owed = found(tmp_path, DECIDED, DONE.replace("0.22 ± 0.04 mm", measured))
    assert [one.stage for one in all_owed] == (["weigh-anew"] if anew else [])
    if anew:
        assert all_owed[0].what == (
            f"Weigh anew: running clearance of the slide as left {measured}, promised 0.20 ± 0.04 mm."
        )


@pytest.mark.parametrize(("left", "anew"), [("yes", False), ("no", True)])
def test_a_word_that_is_not_the_one_promised_is_weighed_anew(tmp_path: Path, left: str, anew: bool):
    all_owed = found(
        tmp_path,
        DECIDED,
        DONE.replace("}}", f", component.serviceable: {left}}}}}"),
        after="{component.serviceable: yes, component.role: [bearing]}",
    )
    assert [one.stage for one in all_owed] == (["weigh-anew"] if anew else [])


def test_a_list_that_is_left_empty_is_another_answer_than_the_one_promised(tmp_path: Path):
    work = DONE.replace("}}", ", component.role: none}}")
    assert [
        one.stage
        for one in found(tmp_path, DECIDED, work, after="{component.serviceable: yes, component.role: [bearing]}")
    ] == ["weigh-anew"]


def test_a_claim_that_is_to_be_measured_is_told_once(tmp_path: Path):
    claim = {
        "proposals/slack.yaml": """\
            title: Ease it
            component: slide
            needs:
              beds:
                kind: function
                says: It beds.
                test: {surfaces.face.wear: {at_most: 0.08 mm}}
                set_by: me
            options:
              leave: {acts: []}
              scrape:
                acts: [{technique: scraping, where: face, depth: 0.05 ± 0.02 mm, treats: none, takes: none}]
                after: {surfaces.face.wear: 0.00 ± 0.02 mm}
            preferred: scrape
            decision: {chosen: scrape, by: me, date: 2026-03-09, reason: so}
            work: {began: 2026-03-14, finished: 2026-03-20}
            """
    }
    part = PART.replace("area: 400 ± 6 cm2, sets_clearance: yes, marks: none}", "wear: 0.12 ± 0.02 mm, marks: none}", 1)
    (one,) = found(tmp_path, part=part, question=False, extra=claim)
    assert (one.stage, one.what.split(",")[0]) == ("as-left", "Measure as left: wear of the face")


# ---- reviews, store, reports -----------------------------------------------------------------------------


def test_a_review_is_good_on_its_day_and_late_the_day_after(tmp_path: Path):
    (one,) = found(tmp_path, "review: 2026-06-01")
    assert (one.on, one.stage, one.where) == (DAY, "review", "slide")
    assert not one.overdue(DAY)
    assert one.overdue(date(2026, 6, 2))


def test_the_policy_is_looked_at_again(tmp_path: Path):
    policy = "    policy: {says: Keep it dry., routine_care: [wiping], holding_works: [drying], review: 2027-04-01}\n"
    (one,) = found(tmp_path, heading=OBJECT.rstrip(" ") + policy, question=False)
    assert one == Owed(date(2027, 4, 1), "review", "Look again at the object's policy.", "", "object")


def test_a_part_in_store_is_to_go_back(tmp_path: Path):
    stored = "    stored: {place: Rack 3, tag: T-1, since: 2026-02-14, return_by: 2026-05-01, why: so}\n"
    (one,) = found(tmp_path, part=PART.rstrip(" ") + stored, question=False)
    assert (one.stage, one.where, one.overdue(DAY)) == ("return", "slide", True)
    assert one.what == "Put back the slide, or set another day and say why. It is at: Rack 3, tag T-1."


REPORT = """\
    first:
      kind: report
      held: Office
      date: 2025-06-01
      by: A. Name
      about: [slide]
      role: competent-engineer
      competence: so
      answers: [needs/fit]
      lapses: LAPSES
      shows: Looked at.
    """


@pytest.mark.parametrize(
    ("lapses", "told"),
    [
        ("2026-05-31", "lapsed on 2026-05-31"),
        ("2026-06-01", "lapses on 2026-06-01"),
        ("2026-08-30", "lapses on 2026-08-30"),
        ("2026-08-31", ""),
        ("none", ""),
    ],
)
def test_a_report_is_asked_for_anew_ninety_days_before_it_lapses(tmp_path: Path, lapses: str, told: str):
    all_owed = found(tmp_path, register=REPORT.replace("LAPSES", lapses))
    assert [one.stage for one in all_owed] == (["report"] if told else [])
    if told:
        assert told in all_owed[0].what
        assert "Ask the competent engineer for a new one" in all_owed[0].what
        assert all_owed[0].overdue(DAY) == ("lapsed" in told)


@pytest.mark.parametrize(
    ("change", "renewed"),
    [
        ("", True),
        ("about: [slide]|about: [wheel]", False),
        ("needs/fit|needs/other", False),
        ("competent-engineer|engineer", False),
        ("2026-05-20|2025-05-20", False),
        ("kind: report|kind: survey", False),
        ("2027-06-01|2026-05-31", False),
    ],
)
def test_a_later_report_on_the_same_question_renews_it(tmp_path: Path, change: str, renewed: bool):
    later = REPORT.replace("first", "second").replace("2025-06-01", "2026-05-20").replace("LAPSES", "2027-06-01")
    old, _, new = change.partition("|")
    register = REPORT.replace("LAPSES", "2026-05-31").rstrip(" ") + later.replace(old, new)
    wheel = {"components/wheel.yaml": PART.replace("Slide", "Wheel")}
    all_owed = found(tmp_path, register=register, extra=wheel)
    assert (all_owed == ()) == renewed


# ---- order and telling -----------------------------------------------------------------------------------


def test_what_has_a_date_comes_first_by_date_and_then_by_stage(tmp_path: Path):
    all_owed = found(
        tmp_path, DECIDED, DONE.replace("0.22", "0.62"), "review: 2026-03-20", rules=STAGES
    )  # fmt: skip
    assert [one.stage for one in all_owed] == [
        "decision", "before-work", "during-work", "after-work", "weigh-anew", "review", "before-use",
    ]  # fmt: skip


def test_people_are_told_what_is_overdue_what_comes_next_and_what_stands(tmp_path: Path):
    routine = rule("act", "{act.technique: shimming}", "{require: Log it., by: before-use, routine: yes}")
    rules = {"before": STAGES["before_work"], "use": STAGES["before_use"], "log": routine}
    all_owed = found(tmp_path, DECIDED, "work: {began: 2026-05-31}", "review: 2026-06-03", rules=rules)
    assert render(all_owed, DAY) == (
        "Overdue on 2026-06-01\n"
        "  Since 2026-05-31, 1 day overdue, slack:\n"
        "    - Before the work: Do it. (r/before)\n"
        "\n"
        "Next\n"
        "  By 2026-06-03, in 2 days, slack:\n"
        "    - A review: Look again at the slide.\n"
        "\n"
        "Standing, without a date\n"
        "  slack:\n"
        "    - Before use: Do it. (r/use)\n"
        "    - And 1 thing that every such job owes; the record lists what.\n"
    )


def test_what_every_such_job_owes_is_told_in_full_once_it_is_late():
    late = Owed(date(2026, 5, 1), "after-work", "Do it. (r/one; every such job owes it)", "slack", "slide")
    assert "    - After the work: Do it. (r/one; every such job owes it)\n" in render((late,), DAY)


def test_the_day_itself_is_told_in_words():
    due = (Owed(DAY, "after-work", "Do it.", "slack", "slide"), Owed(DAY, "review", "Look again.", "", "object"))
    said = render(due, DAY)
    assert "Since 2026-06-01, overdue today, slack:" in said
    assert "By 2026-06-01, today, object:" in said


def test_nothing_owed_is_said_in_a_sentence():
    assert render((), DAY) == "Nothing is owed on 2026-06-01.\n"


# ---- the demonstration -----------------------------------------------------------------------------------


def demo_owes(on: date) -> tuple[Owed, ...]:
    return owed(weigh_all(demo(), shipped_rules(), on), demo(), on)


def test_the_demonstration_owes_what_its_casebook_says():
    all_owed = demo_owes(DAY)
    told = {(one.stage, one.where) for one in all_owed}
    assert {
        ("report", "pump-davit"),
        ("report", "pipe-lagging and steam-pipe"),
        ("return", "makers-plate"),
        ("review", "object"),
        ("before-work", "crosshead-slipper-top"),
    } <= told
    assert not any(one.stage in ("weigh-anew", "as-left") for one in all_owed)
    assert not any("without a decision" in one.what for one in all_owed)  # routine care is under the policy


def test_every_unmet_requirement_of_a_decided_demonstration_proposal_is_owed():
    said = " ".join(one.what for one in demo_owes(DAY))
    for weighing in weigh_all(demo(), shipped_rules(), DAY):
        if weighing.proposal.decision:
            for requirement in weighing.worst.option(weighing.chosen).requirements:
                assert requirement.met or requirement.id in said


def test_as_days_pass_nothing_that_is_overdue_is_forgotten():
    sooner, later = date(2026, 6, 1), date(2026, 12, 1)
    still = {(one.on, one.stage, one.where, one.proposal) for one in demo_owes(later) if one.overdue(later)}
    for one in demo_owes(sooner):
        assert not one.overdue(sooner) or (one.on, one.stage, one.where, one.proposal) in still


def test_the_list_stands_in_the_same_order_whatever_order_the_weighings_come_in():
    weighings = weigh_all(demo(), shipped_rules(), DAY)
    assert owed(weighings[::-1], demo(), DAY) == owed(weighings, demo(), DAY)
