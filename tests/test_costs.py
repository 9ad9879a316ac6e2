"""Costs: sums against closed forms, what is unknown told as unknown, and needs before and after."""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache
from math import sqrt
from pathlib import Path

import pytest
from helpers import OBJECT, casebook_of, demo, places, problems_of, rulebook_of, shipped_rules
from hypothesis import given
from hypothesis import strategies as st

from conserve.quantity import ONE, Quantity
from conserve.readiness.bills import amount_in_words, cost_says, cost_tables, sum_in_words
from conserve.readiness.changes import Change, changes_of
from conserve.readiness.costs import Costs, Footing, Sum, added, costs_of
from conserve.weighing import Weighing, weigh_all

BUDGET = "    budget: {currency: EUR, contingency: 15 %, stages: [repair, trial]}\n"
PART = """\
    name: Slide
    significance: some
    material: grey-cast-iron
    phase: as-built
    running_clearance: 0.70 ± 0.04 mm
    surfaces:
      face: {function: sliding, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
      back: {function: mating, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
    repairs: none
    defects:
      slack: {kind: wear, seen: seen, active: no, affects_safety: no}
    history: none
    """
ENOUGH, TOO_LITTLE = "0.50", "0.10"  # mm of packing: it stands, or it does not


def proposal(resources: str = "", packing: str = ENOUGH, decision: str = "", preferred: str = "shim") -> str:
    costs = f"        resources: {resources}\n" if resources else ""
    decided = f"    decision: {decision}\n" if decision else ""
    return f"""\
    title: Take up the slack
    component: slide
    needs:
      fit:
        kind: function
        says: It runs.
        test: {{component.running_clearance: {{between: [0.10 mm, 0.40 mm]}}}}
        set_by: me
    options:
      leave: {{acts: []}}
      shim:
        acts:
          - {{technique: shimming, where: back, thickness: {packing} mm, treats: slack, takes: none}}
{costs}    preferred: {preferred}
{decided}"""


def costed(root: Path, *resources: str, budget: str = BUDGET, **more: str) -> Costs:
    """The costs of a casebook of one slide, with a proposal for each of these lists of resources."""
    proposals = {f"proposals/p{n}.yaml": text for n, text in enumerate(resources, 1)}
    files = {"object.yaml": OBJECT.rstrip(" ") + budget, "components/slide.yaml": PART, **proposals, **more}
    rulebook = rulebook_of(root)
    casebook = casebook_of(root / "book", files, rulebook)
    return costs_of(weigh_all(casebook, rulebook), casebook)


def lines(*said: str) -> str:
    return f"[{', '.join(f'{{{one}}}' for one in said)}]"


PAID = "what: a, money: 300 ± 40, given: no, stage: repair"
FITTED = "what: b, money: 100 ± 30, hours: 6 ± 3 h, skill: fitter, given: no, stage: trial"
GIVEN = "what: c, hours: 8 ± 4 h, skill: fitter, given: yes, stage: repair"
IN_KIND = "what: d, money: 55, basis: quotation, given: yes"


def test_money_hours_and_gifts_are_added_apart_and_their_spread_in_quadrature(tmp_path):
    """JCGM 100:2008, 5.1.2, for a sum of independent quantities: 300 + 100 = 400, sqrt(40² + 30²) = 50."""
    found = costed(tmp_path, proposal(lines(PAID, FITTED, GIVEN, IN_KIND))).whole
    assert found.asked == Sum(Quantity(Decimal(400), Decimal(50), ONE), 2)
    assert found.in_kind == Sum(Quantity(Decimal(55), Decimal(0), ONE), 1)
    assert found.paid == Sum(Quantity(Decimal(6), Decimal(3), "h"), 1)
    assert found.given == Sum(Quantity(Decimal(8), Decimal(4), "h"), 1)
    (fitter,) = found.skills
    assert (fitter.name, fitter.paid.amount.amount, fitter.given.amount.amount) == ("fitter", 6, 8)


def test_the_contingency_is_a_share_of_the_money_asked_for_and_moves_with_it(tmp_path):
    """15 % of 400 ± 50 is 60 ± 7.5; with it 460 ± 57.5, since both are the same money (from the definition)."""
    found = costed(tmp_path, proposal(lines(PAID, FITTED, IN_KIND)))
    assert found.set_aside is not None
    assert found.set_aside.amount == Quantity(Decimal(60), Decimal("7.5"), ONE)
    assert found.total.amount == Quantity(Decimal(460), Decimal("57.5"), ONE)
    assert found.total.lacks == ()


def test_what_stands_in_a_stage_is_added_there_and_the_rest_by_itself(tmp_path):
    found = costed(tmp_path, proposal(lines(PAID, FITTED, GIVEN, IN_KIND)))
    assert [(stage, one.asked.amount.amount, one.given.amount.amount) for stage, one in found.stages] == [
        ("repair", 300, 8), ("trial", 100, 0), ("", 0, 0),
    ]  # fmt: skip
    assert found.stages[-1][1].in_kind.amount.amount == 55
    assert sum(one.asked.amount.amount for _, one in found.stages) == found.whole.asked.amount.amount


def test_a_quoted_price_is_exact_and_an_estimate_without_its_spread_is_not(tmp_path):
    quoted = costed(tmp_path / "a", proposal(lines("what: a, money: 90, given: no, basis: quotation")))
    assert quoted.whole.asked.amount.uncertainty == 0
    guessed = costed(tmp_path / "b", proposal(lines("what: a, money: 90, given: no, basis: estimate", PAID)))
    assert guessed.whole.asked.amount == Quantity(Decimal(390), None, ONE)
    assert guessed.whole.asked.loose == ("p1, a",)
    assert any("how firm" in one and "p1, a" in one for one in cost_says(guessed))


@pytest.mark.parametrize(
    ("line", "lacks"),
    [
        ("what: a, money: 90 ± 5", "p1, a: nobody has said whether it is given"),
        ("what: a, given: no", "p1, a: no price"),
        ("what: a, hours: 5 ± 1 h, given: no", "p1, a: no price"),
    ],
)
def test_a_line_that_does_not_say_enough_makes_the_sum_the_least_that_it_can_be(tmp_path, line, lacks):
    found = costed(tmp_path, proposal(lines(line, PAID))).whole.asked
    assert (found.amount.amount, found.lacks) == (300, (lacks,))
    assert sum_in_words(found, "EUR ") == "at least EUR 300 ± 40"


def test_a_proposal_that_nobody_has_costed_is_unknown_and_not_free(tmp_path):
    found = costed(tmp_path, proposal(lines(PAID)), proposal())
    assert found.uncosted == ("p2",)
    assert found.whole.asked.lacks == ("p2: not costed",)
    assert found.total.lacks == ("p2: not costed",)
    free = costed(tmp_path / "free", proposal(lines(PAID)), proposal("none"))
    assert (free.uncosted, free.whole.asked.lacks) == ((), ())


def test_nothing_costed_at_all_is_not_said_and_never_nothing(tmp_path):
    found = costed(tmp_path, proposal())
    assert sum_in_words(found.whole.asked) == "not said"
    assert "Contingency, 15 % of the money asked for: not said." in list(cost_says(found))
    assert not any(" 0" in one for one in cost_says(found))


def test_only_the_choice_counts_and_what_does_not_stand_is_told_apart(tmp_path):
    dear = lines("what: a, money: 1000 ± 10, given: no")
    decided = "{chosen: shim, by: me, date: 2026-03-01, reason: so}"
    found = costed(
        tmp_path,
        proposal(lines(PAID)),
        proposal(dear, packing=TOO_LITTLE),
        proposal(lines(FITTED), packing=TOO_LITTLE, decision=decided),
        proposal(dear, preferred="leave"),
    )
    assert {bill.proposal: (bill.footing, bill.against_verdict) for bill in found.bills} == {
        "p1": (Footing.STANDS, False), "p2": (Footing.DOES_NOT_STAND, False), "p3": (Footing.DECIDED, True),
    }  # fmt: skip
    assert found.whole.asked.amount.amount == 400
    assert found.apart.asked.amount.amount == 1000
    assert any("p2" in one and "1000 ± 10" in one for one in cost_says(found))


def test_hours_given_are_never_given_a_price(tmp_path):
    found = costed(tmp_path, proposal(lines(GIVEN)))
    assert (found.whole.asked.amount.amount, found.whole.in_kind.amount.amount) == (0, 0)
    assert found.whole.in_kind.lacks == ()


def test_without_a_contingency_the_total_says_so(tmp_path):
    found = costed(tmp_path, proposal(lines(PAID)), budget="    budget: {currency: EUR, stages: [repair]}\n")
    assert (found.set_aside, found.total.lacks) == (None, ("no contingency is written",))
    assert "Nobody has written a contingency." in list(cost_says(found))


def test_money_without_a_budget_is_refused_where_it_stands(tmp_path):
    files = {"components/slide.yaml": PART, "proposals/p.yaml": proposal(lines(PAID))}
    assert places(problems_of(tmp_path, files)) == [("C088", 14, 17)]


@given(st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 10**4)), max_size=8), st.randoms())
def test_a_sum_does_not_depend_on_the_order_of_its_lines(pairs, shuffled):
    amounts = [Quantity(Decimal(money), Decimal(spread), ONE) for money, spread in pairs]
    again = list(amounts)
    shuffled.shuffle(again)
    one, other = added(amounts, ONE), added(again, ONE)
    assert one == other
    assert one.amount == sum(money for money, _ in pairs)
    assert float(one.uncertainty or 0) == pytest.approx(sqrt(sum(spread**2 for _, spread in pairs)))


@given(st.lists(st.integers(0, 1000), min_size=1, max_size=6), st.data())
def test_taking_a_spread_out_never_makes_a_sum_firmer(spreads, data):
    amounts = [Quantity(Decimal(10), Decimal(spread), ONE) for spread in spreads]
    at = data.draw(st.integers(0, len(amounts) - 1))
    amounts[at] = Quantity(Decimal(10), None, ONE)
    assert added(amounts, ONE).uncertainty is None


@pytest.mark.parametrize(
    ("amount", "spread", "told"),
    [
        ("1240", "92.2", "1240 ± 92"),
        ("1240", "0.4", "1240 ± 0"),
        ("587.55", "7.53", "587.55 ± 7.5"),
        ("12.5", "0.256", "12.50 ± 0.26"),
        ("40", None, "40 (± not stated)"),
        ("40", "0", "40"),
    ],
)
def test_money_is_told_to_the_cent_and_its_spread_to_two_figures(amount, spread, told):
    assert amount_in_words(Quantity(Decimal(amount), None if spread is None else Decimal(spread), ONE)) == told


# ---- what it changes ----------------------------------------------------------------------------------


def test_a_need_is_told_before_and_after(tmp_path):
    rulebook = rulebook_of(tmp_path)
    files = {"components/slide.yaml": PART, "proposals/p.yaml": proposal(), "proposals/q.yaml": proposal(packing=TOO_LITTLE)}
    casebook = casebook_of(tmp_path / "book", files, rulebook)
    assert changes_of(weigh_all(casebook, rulebook)) == (
        Change("p", "shim", "fit", "It runs.", ("slide",), "fails", "met, as computed"),
        Change("q", "shim", "fit", "It runs.", ("slide",), "fails", "not met"),
    )


@lru_cache(maxsize=1)
def weighed() -> tuple[Weighing, ...]:
    return weigh_all(demo(), shipped_rules())


def test_parts_that_fare_alike_are_told_once():
    found = [one for one in changes_of(weighed()) if one.proposal == "cover-studs"]
    assert len(found) < 4
    assert sum(len(one.components) for one in found) == 48


def test_the_demonstration_is_costed_in_part_and_says_so():
    found = costs_of(weighed(), demo())
    assert found.uncosted == ("cover-studs", "slide-lubricator")
    by_hand = 34 + 1105 + 1570 + 120 + 358 + 540 + 190  # of the lines that are paid for, proposal by proposal
    assert found.whole.asked.amount.amount == by_hand
    assert found.apart.asked.amount.amount == 2150
    assert all(len(row) == len(table.head) for table in cost_tables(found) for row in table.rows)
