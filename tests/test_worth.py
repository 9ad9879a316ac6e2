"""What to find out next: what an answer leaves open, in what order, and how close a number must be for an answer."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from helpers import MORE, clock_rules, demo, every_weighing, shipped_rules
from supposing import case_of, part_of
from test_laws import shuffled

from conserve.quantity import Quantity
from conserve.rulebook import Rulebook
from conserve.truth import Truth
from conserve.weighing import PartWeighing
from conserve.weighing.model import Question
from conserve.whatif.matters import matters
from conserve.whatif.suppose import setting_of, suppose, weigh_setting, with_facts
from conserve.whatif.worth import worths


@pytest.mark.parametrize("number", range(15 * MORE))
def test_what_an_answer_leaves_open_is_what_weighing_with_it_leaves_open(number):
    case = case_of(number)
    found = worths(case.part, case.rulebook)
    assert {one.unknown for one in found} == matters(case.part, case.rulebook)
    for one in found[:4]:
        assert one.of == len(found)
        left = []
        for values, told in one.answers:
            setting = suppose(setting_of(case.part), {one.unknown: values}, case.rulebook.vocabulary)
            left.append(len(matters(weigh_setting(setting, case.rulebook), case.rulebook) - {one.unknown}))
            assert told == left[-1], (one.unknown, values)
        if left:
            assert one.settles == pytest.approx(one.of - sum(left) / len(left))


@pytest.mark.parametrize("number", range(30 * MORE))
def test_what_settles_most_for_its_cost_comes_first(number):
    case = case_of(number)
    found = worths(case.part, case.rulebook)
    ranks = [one.settles / one.cost.weight for one in found]
    assert ranks == sorted(ranks, reverse=True)
    for one in found:  # of those that cost alike, one that settles all comes before any that does not
        if one.settles == one.of:
            alike = [other for other in found if other.cost == one.cost]
            assert all(other.settles == other.of for other in alike[: alike.index(one)])


@pytest.mark.parametrize("number", range(15 * MORE))
def test_the_order_in_which_a_file_is_written_changes_nothing(number):
    case = case_of(number)
    trees = shuffled(case.trees, random.Random(number))
    assert isinstance(trees, dict)
    there = part_of(trees, case.rulebook)
    assert there is not None
    assert worths(there, case.rulebook) == worths(case.part, case.rulebook)


# ---- how closely a number must be known ----------------------------------------------------------------------------


def doubts() -> list[tuple[PartWeighing, Rulebook]]:
    """Cases and proposals in which a known number is too rough for an answer."""
    parts = [(case_of(n).part, case_of(n).rulebook) for n in range(60 * MORE)]
    parts += [
        (part, shipped_rules() if w.casebook is demo() else clock_rules())
        for w in every_weighing().values()
        for part in w.parts
    ]
    return [(p, r) for p, r in parts if any(q.settle is not None for o in p.options for q in o.questions)]


def test_a_number_known_as_closely_as_is_asked_settles_the_question_and_a_little_less_so_does_not():
    tried = 0
    for part, rulebook in doubts():
        for option in part.options:
            for question in option.questions:
                if question.settle is not None and len(question.fact.values or ()) == 1 and question.fact.statements:
                    tried += 1
                    assert settled(part, rulebook, question, Decimal("1"))
                    assert not settled(part, rulebook, question, Decimal("1.12"))  # it is rounded down to two figures
    assert tried > 3


def settled(part: PartWeighing, rulebook: Rulebook, question: Question, times: Decimal) -> bool:
    """Whether the judgement in doubt is yes or no once the number is known to so many times what is asked."""
    (value,) = question.fact.values
    spread = question.settle.in_unit(value.unit).amount * times
    to = (Quantity(value.amount, spread, value.unit),)
    there = weigh_setting(with_facts(setting_of(part), question.fact.subject, question.fact.term, to), rulebook)
    judged = [j for finding in there.findings.all for j in finding.grounds]
    judged += [check.judgement for one in there.options for outcome in one.needs for check in outcome.checks]
    doubt = question.doubt
    same = [j.truth for j in judged if doubt and (j.fact.subject, j.term, j.test) == (doubt.fact.subject, doubt.term, doubt.test)]
    assert same
    return Truth.UNKNOWN not in same
