"""Proposals that could hurt somebody: none stands without a competent person's conclusion before use."""

from __future__ import annotations

import pytest
from helpers import OBJECT, casebook_of, fares, option, weighed

from conserve.weighing import OptionWeighing, Weighing

PART = """\
    name: Part
    role: [{role}]
    material: mild-steel
    material_known_by: test
    phase: as-built
    significance: some
    significance_reason: Made with the machine.
    examined: yes
    present: {present}
    hazards: {hazards}
    certificate: none
    made_to_be_renewed: no
    place_known: yes
    serviceable: yes
    surfaces: none
    repairs: {repairs}
    defects: {defects}
    """
PROPOSAL = """\
    title: What to do with the part
    component: part
    prompted_by: need
    asked: {{date: 2026-03-02, by: lead}}
    needs:
      there: {{kind: completeness, says: It is there., test: {{component.present: yes}}, set_by: lead}}
    options:
      leave: {{acts: []}}
      way:
        done_by: tradesperson
        competence: Twenty years at it.
        duty: {duty}
        acts: [{act}]
    preferred: way
    review: 2027-03-01
    """
CRACK = "{flaw: {kind: crack, seen: seen, active: no, affects_function: no, affects_safety: no, is_history: no}}"
WELD = "{neck: {technique: weld, period: working-life, soundness: not-examined}}"
SAID = "treats: none, takes: none, uses_banned: none, brings_back: no, drills_original: no, disturbs_repair: no"
NEW = f"{{technique: plain-substitute, specified_by: tradesperson, new_work_told_by: dated-mark, removed_parts: none-removed, {SAID}}}"


def case(
    tmp_path,
    *,
    role: str,
    duty: str,
    now: str = "demonstration",
    act: str = "",
    present: str = "yes",
    hazards: str = "none",
    defects: str = "none",
    repairs: str = "none",
) -> Weighing:
    part = PART.format(role=role, present=present, hazards=hazards, defects=defects, repairs=repairs)
    files = {
        "object.yaml": OBJECT.replace("duty_now: static", f"duty_now: {now}"),
        "components/part.yaml": part,
        "proposals/part.yaml": PROPOSAL.format(duty=duty, act=act),
    }
    return weighed(casebook_of(tmp_path, files))


def asked(option: OptionWeighing) -> set[str]:
    """The rules whose effect stands certain under an option."""
    return {s.finding.rule.id for s in option.settled if s.finding.certain}


@pytest.mark.parametrize("role", ["structure", "pressure", "lifting", "braking"])
def test_a_part_that_stays_under_its_load_cannot_be_called_stored(tmp_path, role):
    weighing = case(tmp_path, role=role, duty="stored", defects=CRACK)
    assert fares(weighing)["way"] == ("not justified", "forbidden")
    assert "safety/not-stored-in-its-place" in asked(option(weighing, "way"))


@pytest.mark.parametrize("role", ["lifting", "braking", "rotating"])
def test_a_cracked_part_left_at_rest_in_its_place_is_locked_and_tagged(tmp_path, role):
    weighing = case(tmp_path, role=role, duty="static", defects=CRACK)
    assert fares(weighing)["way"] == ("justified with requirements", "owed later")
    assert "safety/cracked-kept-idle" in asked(option(weighing, "way"))


@pytest.mark.parametrize("role", ["lifting", "braking"])
def test_a_part_mended_in_doubt_and_left_at_rest_is_locked_and_tagged(tmp_path, role):
    weighing = case(tmp_path, role=role, duty="static", repairs=WELD)
    assert fares(weighing)["way"] == ("justified with requirements", "owed later")
    assert "safety/doubtful-repair-kept-idle" in asked(option(weighing, "way"))


@pytest.mark.parametrize("role", ["rotating", "control"])
def test_a_new_wheel_or_governor_is_judged_by_somebody_competent_before_it_turns(tmp_path, role):
    weighing = case(tmp_path, role=role, duty="demonstration", act=NEW, present="no")
    assert "safety/turning-part-judged-after-work" in asked(option(weighing, "way"))
    assert fares(weighing)["way"][0] != "justified"


@pytest.mark.parametrize("role", ["rotating", "structure", "control"])
@pytest.mark.parametrize("now", ["stored", "static"])
def test_what_has_stood_is_judged_by_somebody_competent_before_it_moves(tmp_path, role, now):
    weighing = case(tmp_path, role=role, duty="demonstration", now=now)
    assert "safety/set-going-judged" in asked(option(weighing, "way"))


def test_what_runs_today_is_not_set_going(tmp_path):
    weighing = case(tmp_path, role="rotating", duty="demonstration")
    assert "safety/set-going-judged" not in asked(option(weighing, "way"))


@pytest.mark.parametrize(
    "technique", ["refitting", "dismantling", "wiping", "brush-cleaning", "adjustment", "turning-over", "warming"]
)
def test_a_part_with_asbestos_is_not_handled_before_a_surveyor_has_spoken(tmp_path, technique):
    heat = "heated_to: 60 °C, " if technique == "warming" else ""
    act = f"{{technique: {technique}, {heat}{SAID}}}"
    weighing = case(tmp_path, role="lagging", duty="demonstration", act=act, present="no", hazards="[asbestos]")
    assert "safety/asbestos-handled" in asked(option(weighing, "way"))
    assert fares(weighing)["way"][0] not in ("justified", "justified with requirements")


def test_a_wheel_mended_in_doubt_is_referred_before_it_turns_and_not_when_it_rests(tmp_path):
    assert fares(case(tmp_path / "a", role="rotating", duty="demonstration", repairs=WELD))["way"][1] == "referred"
    assert fares(case(tmp_path / "b", role="rotating", duty="static", repairs=WELD))["way"][1] != "referred"
