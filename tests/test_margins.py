"""How far numbers may move: against the closed form for one number, and by weighing on either side for all."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from functools import cache
from math import ceil, floor
from statistics import NormalDist

import pytest
from helpers import clock_rules, demo, every_weighing, shipped_rules

from conserve.casebook import Stated
from conserve.quantity import Quantity
from conserve.rulebook import Rulebook
from conserve.weighing import PartWeighing, Verdict
from conserve.whatif.margins import Margin, Number, margins
from conserve.whatif.suppose import retold, setting_of, weigh_setting, with_option

STANDING = [name for name, w in every_weighing().items() if w.parts[0].option(w.chosen).verdict.stands]


def of(name: str) -> tuple[PartWeighing, str, Rulebook]:
    weighing = every_weighing()[name]
    rulebook = shipped_rules() if weighing.casebook is demo() else clock_rules()
    return weighing.parts[0], weighing.chosen, rulebook


@cache
def margins_of(name: str) -> tuple[Margin, ...]:
    return tuple(margins(*of(name)))


def at(part: PartWeighing, number: Number, to: Decimal, option: str, rulebook: Rulebook) -> Verdict:
    """The verdict where a number is another, in the unit of its first reading; all readings move alike."""
    by = Quantity(to - number.first.amount, Decimal(0), number.first.unit)

    def told(said: tuple[Stated, ...]) -> tuple[Stated, ...]:
        return tuple(replace(one, values=tuple(map(other, one.values))) for one in said)

    def other(value: Quantity) -> Quantity:
        return replace(value, amount=value.amount + by.in_unit(value.unit).amount)

    setting = setting_of(part)
    if number.claimed:
        setting = with_option(setting, option, lambda o: replace(o, after={**o.after, number.claimed: told(o.after[number.claimed])}))
    else:
        setting = retold(setting, number.fact.subject, number.fact.term, told)
    return weigh_setting(setting, rulebook).option(option).verdict


@pytest.mark.parametrize("name", STANDING)
def test_the_verdict_holds_as_far_as_is_told_and_no_further(name):
    part, option, rulebook = of(name)
    now = part.option(option).verdict
    for margin in margins_of(name):
        first = margin.number.first.amount
        for turn, sign in ((margin.down, -1), (margin.up, 1)):
            if turn is not None:
                there = turn.holds_to.amount
                finer = Decimal(1).scaleb(first.as_tuple().exponent - 1)
                assert turn.verdict is not now
                assert (there - first) * sign >= 0
                assert at(part, margin.number, there, option, rulebook) is now
                assert at(part, margin.number, (there + first) / 2, option, rulebook) is now
                assert at(part, margin.number, there + 2 * sign * finer, option, rulebook) is turn.verdict


def test_the_clearance_of_the_slipper_turns_where_the_closed_form_says():
    """JCGM 106:2012: a reading passes where it lies within the limits with 0.95 probability, of a normal distribution.

    0.70 ± 0.04 mm (k = 2, so u = 0.02 mm) less a shim of 0.50 mm must lie between 0.10 and 0.40 mm. The limits lie 15 u
    apart, so each is held against by itself: the clearance turns 1.6449 u inside each of 0.60 and 0.90 mm.
    """
    part, option, rulebook = of("crosshead-slipper")
    assert option == "shim"
    (margin,) = [m for m in margins(part, option, rulebook) if m.number.fact.term == "component.running_clearance" and not m.number.claimed]
    inside = NormalDist().inv_cdf(0.95) * 0.02
    assert margin.down is not None and margin.up is not None
    # Told to a figure finer than it is written, and rounded back towards where it was.
    assert float(margin.down.holds_to.amount) == ceil(1000 * (0.60 + inside)) / 1000 == 0.633
    assert float(margin.up.holds_to.amount) == floor(1000 * (0.90 - inside)) / 1000 == 0.867


def test_most_of_the_demonstration_has_numbers_to_move():
    turns = [m for name in STANDING for m in margins_of(name) if m.down or m.up]
    assert len(turns) > 8


@pytest.mark.parametrize("name", STANDING)
def test_what_an_act_leaves_is_never_moved_as_if_it_had_been_read(name):
    part, _, _ = of(name)
    today = part.findings.facts.today.facts
    for number in (margin.number for margin in margins_of(name) if not margin.number.claimed):
        fact = number.fact
        term = fact.term.replace("surface.", "mate.", 1) if fact.subject.startswith("mate:") else fact.term
        same = [f for (_, name), f in today.items() if f.subject == fact.subject and name in (term, fact.term)]
        assert fact.values in [f.values for f in same]
