from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from random import Random

import pytest
from helpers import doubt

from conserve.calculation.overhauls import cuts_before_and_after, cuts_left
from conserve.calculation.propagation import Reading
from conserve.quantity import Quantity, parse_quantity


def q(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "mm", exact=exact)


def read(*sizes: str) -> tuple[Reading, ...]:
    return tuple(Reading(q(size)) for size in sizes)


@pytest.mark.parametrize(
    ("now", "form", "limit", "cut", "cuts", "whole"),
    [
        # Worked by hand: (59.10 - 57.5) / 0.25, (63 - 62.5) / 0.5, (58.5 - 56) / 1.
        ("59.10 mm", "shaft", "57.5 mm", "0.25 mm", "6.4", 6),
        ("62.5 mm", "hole", "63 mm", "0.5 mm", "1", 1),
        ("58.5 mm", "face", "56 mm", "1 mm", "2.5", 2),
        ("57 mm", "shaft", "57.5 mm", "0.25 mm", "-2", 0),
        ("57.4 mm", "shaft", "57.5 mm", "0.25 mm", "-0.4", 0),
    ],
)
def test_cuts_left_are_those_worked_by_hand(now: str, form: str, limit: str, cut: str, cuts: str, whole: int):
    found = cuts_left(read(now), form, q(limit), q(cut))
    assert found.cuts == Quantity(Decimal(cuts), Decimal(0), "1")
    assert found.whole == whole


def test_the_uncertainty_covers_what_chance_makes_of_the_worked_pin():
    # A worked example (derived), drawn at random here: standard uncertainties 0.01, 0.1 and 0.05 mm give 4, 6 and 9
    # whole cuts at 5, 50 and 95 in a hundred.
    random = Random(1869)
    draws = sorted(
        math.floor((random.gauss(59.1, 0.01) - random.gauss(57.5, 0.1)) / random.gauss(0.25, 0.05)) for _ in range(50_000)
    )
    assert [draws[len(draws) * part // 100] for part in (5, 50, 95)] == [4, 6, 9]
    found = cuts_left(read("59.10 ± 0.02 mm"), "shaft", q("57.5 ± 0.2 mm"), q("0.25 ± 0.1 mm"))
    assert found.whole == 6
    assert float(found.cuts.amount) - doubt(found.cuts) <= 4
    assert float(found.cuts.amount) + doubt(found.cuts) >= 9


def test_a_small_uncertainty_agrees_with_the_uncertainties_library():
    import uncertainties
    now, limit, cut = (uncertainties.ufloat(*x) for x in ((59.1, 0.02), (57.5, 0.01), (0.25, 0.0005)))
    found = cuts_left(read("59.10 ± 0.02 mm"), "shaft", q("57.5 ± 0.01 mm"), q("0.25 ± 0.0005 mm"))
    assert doubt(found.cuts) == pytest.approx(((now - limit) / cut).std_dev, rel=1e-3)
    acted = cuts_before_and_after(read("59.10 ± 0.02 mm"), "shaft", q("57.5 ± 0.01 mm"), q("0.25 ± 0.0005 mm"), q("58.6 ± 0.02 mm"))
    after = uncertainties.ufloat(58.6, 0.02)
    assert doubt(acted.after) == pytest.approx(((after - limit) / cut).std_dev, rel=1e-3)
    assert doubt(acted.spent) == pytest.approx(((now - after) / cut).std_dev, rel=1e-3)


@pytest.mark.parametrize(("form", "limit", "cuts"), [("shaft", "58 mm", "2"), ("face", "58 mm", "2"), ("hole", "60 mm", "1")])
def test_the_worst_reading_counts(form: str, limit: str, cuts: str):
    # By hand: a shaft or a face from 59.0, its least; a hole from 59.5, its greatest; half a millimetre a cut.
    assert cuts_left(read("59.0 mm", "59.5 mm", "59.2 mm"), form, q(limit), q("0.5 mm")).cuts.amount == Decimal(cuts)


def test_an_act_spends_what_it_takes_and_the_limit_falls_out_of_it():
    # By hand: 1.6 / 0.25 = 6.4, 1.1 / 0.25 = 4.4, 0.5 / 0.25 = 2; the limit's ± 1 is in the first two only.
    found = cuts_before_and_after(read("59.10 mm"), "shaft", q("57.5 ± 1 mm"), q("0.25 mm"), q("58.60 mm"))
    assert [x.amount for x in found] == [Decimal("6.4"), Decimal("4.4"), Decimal(2)]
    assert [x.uncertainty for x in found] == [4, 4, 0]


def test_a_larger_bore_spends_cuts_and_a_built_up_shaft_gives_them_back():
    bored = cuts_before_and_after(read("62 mm"), "hole", q("63 mm"), q("0.5 mm"), q("62.5 mm"))
    assert [x.amount for x in bored] == [2, 1, 1]
    built_up = cuts_before_and_after(read("58 mm"), "shaft", q("57.5 mm"), q("0.5 mm"), q("59 mm"))
    assert [x.amount for x in built_up] == [1, 3, -2]


def test_inches_give_the_same_cuts():
    assert cuts_left(read("2 in"), "shaft", q("1.9 in"), q("0.02 in")) == cuts_left(read("50.8 mm"), "shaft", q("48.26 mm"), q("0.508 mm"))


def test_an_unstated_uncertainty_stays_unstated():
    vague = q("0.25 mm", exact=False)
    assert cuts_left(read("59.10 mm"), "shaft", q("57.5 mm"), vague).cuts.uncertainty is None
    acted = cuts_before_and_after(read("59.10 mm"), "shaft", q("57.5 mm"), q("0.25 mm"), q("58.6 mm", exact=False))
    assert [x.uncertainty for x in acted] == [0, None, None]


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: cuts_left((), "shaft", q("57.5 mm"), q("0.25 mm")), "At least one reading"),
        (lambda: cuts_left(read("59 mm"), "pin", q("57.5 mm"), q("0.25 mm")), "neither hole nor shaft nor face"),
        (lambda: cuts_left(read("0 mm"), "face", q("57.5 mm"), q("0.25 mm")), "size now is 0 mm"),
        (lambda: cuts_left(read("59 mm"), "shaft", q("0 mm"), q("0.25 mm")), "limit is 0 mm"),
        (lambda: cuts_left(read("59 mm"), "shaft", q("57.5 mm"), q("0 mm")), "cut is 0 mm"),
        (lambda: cuts_left(read("59 mm"), "shaft", q("57.5 mm"), q("0.25 ± 0.25 mm")), "more than its ±"),
        (lambda: cuts_before_and_after(read("59 mm"), "shaft", q("57 mm"), q("1 mm"), q("-1 mm")), "size after is"),
    ],
)
def test_cuts_that_make_no_sense_are_refused_in_a_sentence(attempt: Callable[[], object], words: str):
    with pytest.raises(ValueError, match=words) as refused:
        attempt()
    assert str(refused.value).endswith(".")
