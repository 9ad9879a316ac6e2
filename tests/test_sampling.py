"""Which decisions a person goes through: the gravest all, the rest by a draw that can be made again."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from hashlib import sha256

import pytest
from audited import ALTERED, LATE, decision, rich
from helpers import MORE
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve.audit.model import DecisionAudit, Kind, Point
from conserve.audit.sampling import Lots, draw, lots_of, sample

REASONS = ("cannot be undone: welding", "high significance", "objections answered by a person")


def made(name: str, *kinds: Kind, weighty: tuple[str, ...] = ()) -> DecisionAudit:
    return replace(decision(name, *(Point(kind, "So.", name) for kind in kinds)), weighty=weighty)


@st.composite
def decisions(draw: st.DrawFn) -> list[DecisionAudit]:
    names = draw(st.lists(st.from_regex("[a-z]{1,6}", fullmatch=True), min_size=1, max_size=12, unique=True))
    kinds, reasons = st.lists(st.sampled_from(list(Kind)), max_size=3), st.sets(st.sampled_from(REASONS))
    return [made(name, *draw(kinds), weighty=tuple(draw(reasons))) for name in names]


# ---- laws ----------------------------------------------------------------------------------------------------------


@settings(max_examples=60 * MORE)
@given(decisions(), st.integers(1, 14), st.integers(), st.randoms(use_true_random=False))
def test_the_order_of_decisions_and_of_what_was_found_of_them_makes_no_difference(some, size, seed, chance):
    found = sample(some, size, seed, "pump")
    shuffled = [
        replace(one, points=tuple(chance.sample(one.points, len(one.points))), weighty=tuple(reversed(one.weighty)))
        for one in chance.sample(some, len(some))
    ]
    assert sample(shuffled, size, seed, "pump") == found


@settings(max_examples=60 * MORE)
@given(decisions(), st.integers(1, 13), st.integers())
def test_a_larger_sample_begins_with_the_smaller(some, size, seed):
    small, large = (sample(some, number, seed) for number in (size, size + 1))
    assert [one.proposal for one in large[: len(small)]] == [one.proposal for one in small]
    assert len(small) == min(size, len(some)) and len({one.proposal for one in small}) == len(small)


@settings(max_examples=60 * MORE)
@given(decisions(), st.integers(1, 14), st.integers())
def test_nothing_is_drawn_while_one_of_the_gravest_is_left_out(some, size, seed):
    taken = {one.proposal for one in sample(some, size, seed)}
    gravest = {one.proposal for one in some if lots_of(one).gravest}
    assert taken <= gravest or gravest <= taken


@settings(max_examples=30 * MORE)
@given(decisions())
def test_every_decision_has_a_chance_wherever_the_gravest_leave_room(some):
    room = 1 + sum(bool(lots_of(one).gravest) for one in some)
    missing = {one.proposal for one in some}
    for seed in range(3000):
        missing -= {one.proposal for one in sample(some, room, seed)}
        if not missing:
            return
    raise AssertionError(missing)


# ---- the draw ------------------------------------------------------------------------------------------------------


def test_who_is_drawn_first_is_in_proportion_to_the_lots():
    # Lots 1, 3 and 6: of 4,000 draws one expects 400, 1,200 and 2,400, with a standard error below 32.
    some = [Lots("", name, name, (), (("so", lots),)) for name, lots in (("a", 1), ("b", 3), ("c", 6))]
    first = Counter(draw(some, 1, seed)[0].proposal for seed in range(4000))
    assert first["a"] == pytest.approx(400, abs=130)
    assert first["b"] == pytest.approx(1200, abs=130)
    assert first["c"] == pytest.approx(2400, abs=130)


def test_the_rest_is_drawn_as_if_the_first_had_not_been_there():
    # Of lots 1, 3 and 6 the pair (c, b) comes first in 6/10 of 3/4 of all draws: 1,800 of 4,000.
    some = [Lots("", name, name, (), (("so", lots),)) for name, lots in (("a", 1), ("b", 3), ("c", 6))]
    pairs = Counter(tuple(one.proposal for one in draw(some, 2, seed)) for seed in range(4000))
    assert pairs["c", "b"] == pytest.approx(1800, abs=130)


def test_anybody_can_make_the_draw_again_with_a_digest():
    some = [made(name) for name in ("slack", "stud", "bell", "rope", "pin")]
    by_hand = sorted(
        (one.proposal for one in some), key=lambda name: sha256(f"7/pump/{name}/1".encode()).hexdigest(), reverse=True
    )
    assert [one.proposal for one in sample(some, 5, 7, "pump")] == by_hand
    assert [one.proposal for one in sample(some, 2, 7, "pump")] == by_hand[:2]


def test_another_seed_and_another_casebook_draw_others():
    some = [made(f"stud-{number}") for number in range(40)]
    names = {tuple(one.proposal for one in sample(some, 5, seed, book)) for seed in (1, 2) for book in ("a", "b")}
    assert len(names) == 4


def test_a_sample_that_was_once_drawn_stays_so():
    # From this program itself: held so that no later version draws otherwise.
    some = [made(f"stud-{number:02d}", weighty=REASONS[: number % 4]) for number in range(20)]
    assert [one.proposal for one in sample(some, 5, 1, "pump")] == DRAWN


DRAWN = ["stud-03", "stud-01", "stud-11", "stud-02", "stud-09"]


def test_decisions_of_several_casebooks_are_drawn_from_together():
    lots = [lots_of(made("stud"), book) for book in ("mill", "pump", "press")]
    assert {one.casebook for one in draw(lots, 3, 1)} == {"mill", "pump", "press"}


# ---- why -----------------------------------------------------------------------------------------------------------


def test_what_was_altered_comes_before_any_draw_and_says_so():
    some = [made(f"stud-{number}", weighty=REASONS) for number in range(9)]
    (one,) = sample([*some, decision("slack", ALTERED)], 1, 1)
    assert (one.proposal, one.drawn) == ("slack", False)
    assert one.why == "To be looked at in any case: a fact was altered after the seal."


def test_work_against_a_referral_is_as_grave():
    some = [made(f"stud-{number}") for number in range(9)]
    assert sample([*some, made("slack", Kind.AGAINST_REFERRAL)], 1, 1)[0].proposal == "slack"


def test_each_lot_is_told_with_what_it_is_for():
    some = [made("slack", Kind.OVERDUE, Kind.OVERDUE, Kind.QUERY, weighty=REASONS[:1]), made("stud")]
    (one,) = (one for one in sample([*some, *(made(f"pin-{n}") for n in range(2))], 3, 5) if one.proposal == "slack")
    assert (one.drawn, one.lots) == (True, 6)
    assert one.why == (
        "Drawn with 6 lots: 1 as every decision has; 2 for 'cannot be undone: welding'; 2 for 'overdue'; "
        "1 for 'a query that nobody has answered'."
    )


def test_an_ordinary_decision_has_the_lot_that_every_decision_has():
    (one,) = sample([made("slack"), made("stud")], 1, 1)
    assert one.why == "Drawn with 1 lot, as every decision has."


def test_where_more_are_gravest_than_wanted_these_are_drawn_from():
    some = [made(f"stud-{number}", Kind.FACT_ALTERED) for number in range(4)]
    one, _ = sample([*some, made("slack")], 2, 1)
    assert one.drawn and one.why == (
        "To be looked at in any case: a fact was altered after the seal. "
        "Of such decisions it was drawn with 1 lot, as every decision has."
    )


def test_what_counts_as_weighty_is_not_counted_again_as_a_point():
    against = lots_of(made("slack", Kind.DECIDED_AGAINST, Kind.DISSENT, weighty=("decided against the verdict",)))
    assert against.because[1:] == (("decided against the verdict", 2),)


def test_where_there_are_no_more_than_wanted_all_are_taken():
    found = sample(rich().decisions, 20, 1)
    assert {one.proposal for one in found} == {"slack", "stud"} and not any(one.drawn for one in found)
    told = {one.proposal: one.why for one in found}
    assert told["stud"] == (
        "No more decisions are there than were asked for. It is to be looked at closely: "
        f"cannot be undone: welding; high significance; {LATE.kind}."
    )


def test_of_nothing_nothing_is_drawn():
    assert sample([], 3, 1) == ()


@pytest.mark.parametrize("size", [0, -1])
def test_a_sample_of_nothing_is_refused(size):
    with pytest.raises(ValueError, match="at least one"):
        sample([made("slack")], size, 1)
