"""The bounds of a verdict hold in every completion of what is unsaid. Completions are made and weighed without them."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest
from helpers import MORE
from supposing import Case, case_of, completions, last_word, verdicts

from conserve.weighing import Verdict
from conserve.weighing.model import ORDER
from conserve.whatif.bounds import own_spans, spans
from conserve.whatif.model import Span


def outside(span: Span, verdict: Verdict) -> bool:
    return last_word(verdict) and not ORDER.index(span.worst) <= ORDER.index(verdict) <= ORDER.index(span.best)


def breaches(case: Case, most: int) -> list[object]:
    """Completions in which an option comes to a verdict that its span rules out, on its own or against the others."""
    span, own = spans(case.part), own_spans(case.part)
    return [
        (one.option.id, supposed, one.own, one.verdict)
        for supposed, part in completions(case, most, random.Random(str(case.unsaid)))
        for one in part.options
        if outside(span[one.option.id], one.verdict) or (one.own.stands and outside(own[one.option.id], one.own))
    ]


@pytest.mark.parametrize("number", range(40 * MORE))
def test_no_completion_takes_an_option_out_of_its_span(number):
    assert breaches(case_of(number), 40) == []


@pytest.mark.parametrize("number", range(12 * MORE))
def test_nor_does_one_of_many_things_unsaid(number):
    assert breaches(case_of(number, 12), 40) == []


def test_the_cases_are_open_and_are_closed_by_what_completes_them():
    """That most completions leave nothing open, and that verdicts of every sort are reached, or the rest tests little."""
    found, open_ = Counter(), 0
    for number in range(60):
        case = case_of(number)
        open_ += sum(not span.settled for span in spans(case.part).values())
        for _, part in completions(case, 8, random.Random(number)):
            found.update(verdicts(part).values())
    assert open_ > 30
    assert sum(found[v] for v in ORDER if last_word(v)) > 0.9 * found.total()
    assert all(found[v] > 15 for v in (Verdict.NOT_JUSTIFIED, Verdict.WITH_REQUIREMENTS, Verdict.JUSTIFIED))


@pytest.mark.parametrize("number", range(30))
def test_the_order_of_the_options_makes_no_difference(number):
    part = case_of(number).part
    assert spans(replace(part, options=part.options[::-1])) == spans(part)
