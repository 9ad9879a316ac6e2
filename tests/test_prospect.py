"""What an option may come to: held against every completion, where all can be tried, and against many where not."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace

import pytest
from helpers import MORE, clock_rules, demo, every_weighing, shipped_rules
from supposing import Case, case_of, completions, last_word, settled_by_people, size_of

from conserve.casebook import Thing
from conserve.casebook.model import Facts
from conserve.rulebook import Rulebook
from conserve.weighing import PartWeighing, Verdict
from conserve.weighing.model import ORDER, Standing
from conserve.whatif.answers import answers, covers_all
from conserve.whatif.answers import tests_on as asked_by
from conserve.whatif.bounds import spans
from conserve.whatif.matters import idle, matters
from conserve.whatif.model import Prospect, Span
from conserve.whatif.prospect import MOST, prospect
from conserve.whatif.suppose import setting_of, suppose, weigh_setting

ALL = 200  # completions that are all tried, where there are no more


def looked_into(case: Case) -> dict[str, Prospect]:
    return {name: prospect(case.part, name, case.rulebook) for name in case.options}


def within(verdict: Verdict, span: Span) -> bool:
    return ORDER.index(span.worst) <= ORDER.index(verdict) <= ORDER.index(span.best)


def missed(case: Case, most: int) -> list[object]:
    """Completions in which an option comes to a verdict outside what was told."""
    told = looked_into(case)
    return [
        (one.option.id, supposed, one.verdict)
        for supposed, part in completions(case, most, random.Random(str(case.unsaid)))
        for one in part.options
        if last_word(one.verdict) and not within(one.verdict, told[one.option.id].span)
    ]


def broken(case: Case, most: int) -> Iterator[object]:
    """Cases told that do not come to their verdict, whatever the rest is said to be."""
    draw = random.Random(str(case.unsaid))
    for name, told in looked_into(case).items():
        assert told.exact is (told.to_worst is not None and told.to_best is not None)
        for end, reached in ((told.span.worst, told.to_worst), (told.span.best, told.to_best)):
            if reached is not None:
                assert reached.verdict is end is reached.part.option(name).verdict
                for supposed, part in completions(case, most, draw, reached.supposed):
                    verdict = part.option(name).verdict
                    if last_word(verdict) and verdict is not end:
                        yield name, reached.supposed, supposed, verdict


@pytest.mark.parametrize("number", range(12 * MORE))
def test_no_completion_lies_outside_what_is_told(number):
    assert missed(case_of(number), 40) == []


@pytest.mark.parametrize("number", range(12 * MORE))
def test_a_case_comes_to_its_verdict_whatever_the_rest_turns_out_to_be(number):
    assert list(broken(case_of(number), 12)) == []


@pytest.mark.parametrize("number", range(6 * MORE))
def test_it_does_so_of_many_things_unsaid(number):
    case = case_of(number, 10)
    assert missed(case, 20) == []
    assert list(broken(case, 8)) == []


# ---- where everything can be tried ----------------------------------------------------------------------------


def true_span(case: Case, name: str) -> Span | None:
    """The ends that some completion comes to, of all; None where one of them leaves the option open."""
    found = set()
    for _, part in completions(case, ALL, random.Random(0)):
        found.add(part.option(name).verdict)
        if any(s.standing is Standing.OPEN for o in part.options for s in o.settled):
            return None
    if not all(map(last_word, found)):
        return None
    return Span(min(found, key=ORDER.index), max(found, key=ORDER.index))


PLAIN = range(35 * MORE)


@pytest.mark.parametrize("number", PLAIN)
def test_where_every_completion_is_tried_the_ends_are_the_true_ones(number):
    case = case_of(number, 4, True)
    if size_of(case) <= ALL:
        for name, told in looked_into(case).items():
            true = true_span(case, name)
            if true is not None and all_can_be_tried(case):
                assert told.span == true, name
                assert told.weighed < MOST and told.exact, name


def all_can_be_tried(case: Case) -> bool:
    """Whether of all that matters every answer is tried: no numbers, lists or reports are among it."""
    return all(covers_all(unknown, case.part, case.rulebook) for unknown in matters(case.part, case.rulebook))


def test_enough_of_those_cases_are_open():
    tried = [
        number
        for number in PLAIN[:35]
        for name, span in spans(case_of(number, 4, True).part).items()
        if not span.settled and all_can_be_tried(case_of(number, 4, True)) and size_of(case_of(number, 4, True)) <= ALL
    ]
    assert len(tried) > 5


# ---- the demonstration, with much of it left unsaid -----------------------------------------------------------------


def thinned(part: PartWeighing, share: float, rulebook: Rulebook, draw: random.Random) -> PartWeighing:
    """A part of which so large a share of the facts is taken out. What its lists hold stays."""
    setting = setting_of(part)

    def fewer(facts: Facts) -> Facts:
        return {term: said for term, said in sorted(facts.items()) if draw.random() > share}

    def bare(things: tuple[Thing, ...] | None) -> tuple[Thing, ...] | None:
        return None if things is None else tuple(replace(t, facts=fewer(t.facts), marks=bare(t.marks)) for t in things)

    there = setting.component
    there = replace(
        there, facts=fewer(there.facts), surfaces=bare(there.surfaces), repairs=bare(there.repairs), defects=bare(there.defects)
    )
    parts = {**setting.casebook.components, there.id: there}
    return weigh_setting(replace(setting, casebook=replace(setting.casebook, components=parts)), rulebook)


def at_random(part: PartWeighing, rulebook: Rulebook, draw: random.Random) -> PartWeighing:
    """The part once all that is asked has been said, at random, and all is answered."""
    tests = asked_by(rulebook, part)
    for _ in range(8):
        asked = sorted(matters(part, rulebook) | idle(part, rulebook))
        said = {one: draw.choice(found) for one in asked if (found := answers(one, part, rulebook, tests))}
        if not said:
            break
        part = weigh_setting(suppose(setting_of(part), said, rulebook.vocabulary), rulebook)
    return settled_by_people(part, rulebook)


@pytest.mark.parametrize("share", [0, 1 / 2, 1, *([1 / 3] if MORE > 1 else [])], ids=lambda share: f"{share:.0%}")
@pytest.mark.parametrize("name", sorted(every_weighing()))
def test_no_completion_of_the_demonstration_lies_outside_what_is_told(name, share):
    weighing, draw = every_weighing()[name], random.Random(f"{name} {share}")
    rulebook = shipped_rules() if weighing.casebook is demo() else clock_rules()
    part = thinned(weighing.parts[0], share, rulebook, draw)
    told = spans(part)
    chosen = weighing.chosen
    told[chosen] = prospect(part, chosen, rulebook, 60).span
    for _ in range(MORE):
        there = at_random(part, rulebook, draw)
        for option in there.options:
            if last_word(option.verdict):
                assert within(option.verdict, told[option.option.id]), option.option.id
