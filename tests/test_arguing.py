"""What is told of an inquiry. Limits at 95 % are worked out here from the normal distribution (JCGM 106)."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import lru_cache
from statistics import NormalDist

import pytest
from helpers import clock, clock_rules, demo, every_weighing, shipped_rules

from conserve.explanation.arguing import argument, find_out, how_far, may_come_to, what_would_change
from conserve.rulebook import Rulebook
from conserve.truth import Truth
from conserve.weighing import Weighing, weigh
from conserve.whatif.inquiry import Inquiry, look_into
from conserve.whatif.model import Lack


@lru_cache(maxsize=64)
def looked_into(name: str) -> tuple[Inquiry, Weighing, Rulebook]:
    weighing = every_weighing()[name]
    rulebook = shipped_rules() if weighing.casebook is demo() else clock_rules()
    return look_into(weighing.worst, weighing.chosen, rulebook), weighing, rulebook


@pytest.mark.parametrize("name", every_weighing())
def test_the_argument_answers_why_not_of_every_other_option(name):
    inquiry, weighing, _ = looked_into(name)
    told = argument(inquiry.least, weighing.worst)
    assert told[0].startswith(f"'{weighing.chosen}' takes ")
    for option in weighing.proposal.options:
        if option.id != weighing.chosen:
            (said,) = [one for one in told if one.startswith((f"'{option.id}' ", f"Whether '{option.id}' "))]
            assert len(said) > len(f"'{option.id}' takes nothing either.")  # it says more than how they compare
    assert all(one.endswith((".", "?", ")")) for one in told)


def test_a_need_that_fails_is_told_with_its_number_and_its_chance():
    inquiry, weighing, _ = looked_into("crosshead-slipper")
    leave = argument(inquiry.least, weighing.worst)[1]
    assert "0.70 ± 0.04 mm, wanted between 0.10 mm and 0.40 mm: certainly not" in leave


def test_a_rule_that_forbids_is_told_with_its_source():
    inquiry, weighing, _ = looked_into("tray-bracket")
    told = " ".join(argument(inquiry.least, weighing.worst))
    assert "(new-work/survivor-is-no-pattern; common practice)" in told


def test_a_comparison_that_cannot_be_told_lays_out_the_trade():
    inquiry, weighing, _ = looked_into("pump-door")
    (braze,) = [said for said in argument(inquiry.least, weighing.worst) if said.startswith("Whether 'braze'")]
    assert "The trade: 'stitch' takes " in braze
    assert "'braze' takes no metal" in braze


def test_what_stands_is_not_called_the_least_while_a_gentler_option_may_do():
    told = argument(*(lambda i, w, _: (i.least, w.worst))(*looked_into("pump-outer-bearing")))
    assert told[-1] == "So 'bore-and-bush' is not the least: 'pack-shell' loses less and will do."


def test_what_would_change_the_answer_is_each_smallest_set_and_how_many_were_tried():
    inquiry, weighing, rulebook = looked_into("dial")
    told = what_would_change(inquiry, weighing.worst, rulebook)
    assert any("turret-clock/surface/dial-read-first" in said for said in told)
    assert re.fullmatch(r"All sets of up to 3 changes .*: \d+ weighings\.", told[-1])


def test_an_act_is_not_left_out_with_what_it_promised_left_standing():
    inquiry, weighing, rulebook = looked_into("dial")
    assert not any("leave out" in said.lower() for said in what_would_change(inquiry, weighing.worst, rulebook))


def test_a_refusal_is_never_taken_for_leave():
    inquiry, weighing, rulebook = looked_into("pipe-lagging")
    told = may_come_to(inquiry, weighing.worst, rulebook)
    assert "'bind-over' only as far as an asbestos surveyor allows it; what is refused must not be done." in told
    assert not any("whatever is found out" in said for said in told)


def test_what_needs_a_competent_person_says_so_where_it_may_stand():
    inquiry, weighing, rulebook = looked_into("strike-hook")
    best = next(said for said in may_come_to(inquiry, weighing.worst, rulebook) if "at best" in said)
    assert best.endswith("Before use a lifting examiner must still conclude that it is fit.")
    assert "cause is known, whatever it is" in best


def test_what_was_asked_and_answered_stands_in_the_argument():
    inquiry, weighing, _ = looked_into("slide-valve-face")
    told = " ".join(argument(inquiry.least, weighing.worst))
    assert "Packing does not make a hollow face flat. (machining/adjust-first)" in told


def test_a_proposal_that_nothing_saves_says_so():
    inquiry, weighing, rulebook = looked_into("third-pivot")
    assert what_would_change(inquiry, weighing.worst, rulebook)[0] == (
        "Nothing that can be changed in 'turn-pivot' leads to a better verdict."
    )


def test_what_stands_has_nothing_to_change():
    inquiry, weighing, rulebook = looked_into("crosshead-slipper")
    assert what_would_change(inquiry, weighing.worst, rulebook) == ()


def test_the_numbers_of_the_slipper_may_move_as_far_as_the_normal_distribution_says():
    inquiry, weighing, _ = looked_into("crosshead-slipper")
    first, *told = how_far(inquiry, weighing.worst)
    assert first == "This says where the rules would notice. It is no tolerance to work to."
    (said,) = [one for one in told if one.startswith("The top crosshead slipper, running clearance")]
    below, above = (float(number) for number in re.findall(r"(?:below|above) ([0-9.]+) mm", said))
    beyond = NormalDist().inv_cdf(0.95) * 0.04 / 2  # of 0.70 ± 0.04 mm, less packing of 0.50 mm
    assert below == math.ceil((0.10 + beyond + 0.50) * 1000) / 1000  # a figure finer than it is written, inward
    assert above == math.floor((0.40 - beyond + 0.50) * 1000) / 1000


def test_readings_are_told_by_how_much_all_of_them_may_be_out():
    inquiry, weighing, _ = looked_into("fly-pivot")
    (pivot,) = [one for one in how_far(inquiry, weighing.worst) if "readings moved together" in one and "pivot" in one]
    assert re.search(r"not yet shown if all were more than 0\.0\d+ mm lower; .* mm higher\.", pivot)


def test_no_margin_is_told_of_how_hot_an_act_may_be():
    inquiry, weighing, _ = looked_into("rocking-lever-eye")
    assert inquiry.margins
    assert not any("heated" in one for one in how_far(inquiry, weighing.worst))


def test_an_open_answer_is_told_at_its_best_and_at_its_worst():
    inquiry, weighing, rulebook = looked_into("governor-bush")
    told = may_come_to(inquiry, weighing.worst, rulebook)
    assert any(said.startswith("'leave', at best: justified, if bore, diameter: ") for said in told)
    assert any(said.startswith("'leave', at worst: not justified, if bore, diameter: ") for said in told)


def test_an_option_that_only_looks_is_told_no_prospect():
    inquiry, weighing, rulebook = looked_into("big-end-slack")
    told = may_come_to(inquiry, weighing.worst, rulebook)
    assert told
    assert not any(said.startswith("'measure-again'") for said in told)


def test_what_to_find_out_is_told_in_its_order_and_how_closely():
    inquiry, weighing, rulebook = looked_into("big-end-slack")
    told = find_out(inquiry, weighing.worst, rulebook)
    assert len(told) == len(inquiry.worths) == 1
    assert told[0].startswith("Measure the running clearance of the big end brass, cap half to within ± 0.036 mm")


def test_what_safety_asks_is_never_called_idle():
    casebook, rulebook = demo(), shipped_rules()
    asked = casebook.proposal("pump-davit")
    part = casebook.components["pump-davit"]
    bare = replace(part, facts={k: v for k, v in part.facts.items() if k != "component.hazards"})
    weighing = weigh(asked, replace(casebook, components={**casebook.components, part.id: bare}), rulebook)
    inquiry = look_into(weighing.worst, "leave", rulebook)
    assert inquiry.idle
    asked_by_safety = {
        (judgement.fact.subject, judgement.fact.term)
        for finding in weighing.worst.findings.telling
        if finding.rule.principle == "safety" or finding.rule.then.gate
        for judgement in finding.grounds
        if judgement.truth is Truth.UNKNOWN
    }
    assert ("component:pump-davit", "component.hazards") in asked_by_safety
    assert not {(unknown.subject, unknown.term) for unknown in inquiry.idle} & asked_by_safety


@pytest.mark.parametrize("name", every_weighing())
def test_nothing_idle_is_among_what_to_find_out(name):
    inquiry, _, _ = looked_into(name)
    assert not inquiry.idle & {worth.unknown for worth in inquiry.worths}
    assert all(unknown.lack is not Lack.REPORT for unknown in inquiry.idle)


def test_the_same_is_told_whatever_the_order_of_the_options():
    casebook, rulebook = clock(), clock_rules()
    asked = casebook.proposal("strike-hook")
    turned = replace(asked, options=asked.options[::-1])
    one, other = (weigh(proposal, casebook, rulebook) for proposal in (asked, turned))
    a, b = (look_into(w.worst, w.chosen, rulebook) for w in (one, other))
    assert find_out(a, one.worst, rulebook) == find_out(b, other.worst, rulebook)
    assert sorted(may_come_to(a, one.worst, rulebook)) == sorted(may_come_to(b, other.worst, rulebook))
    assert what_would_change(a, one.worst, rulebook) == what_would_change(b, other.worst, rulebook)
