from __future__ import annotations

from decimal import Decimal
from random import Random
from statistics import stdev
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from conserve.calculation.clearance import after_cut, after_diameter, after_packing
from conserve.quantity import Quantity, between, parse_quantity, show
from conserve.truth import Truth


def q(text: str) -> Quantity:
    return parse_quantity(text, "mm", exact=True)


def test_packing_takes_up_the_slack_of_the_crosshead_slipper() -> None:
    # The worked example of the design: exact packing adds no doubt (derived).
    packed = after_packing(q("0.70 ± 0.04 mm"), q("0.50 mm"))
    assert show(packed) == "0.20 ± 0.04 mm"
    assert between(packed, q("0.10 mm"), q("0.40 mm")) is Truth.YES


def test_skimming_and_packing_the_crosshead_slipper_ends_within_its_limits_too() -> None:
    # Derived: √(0.04² + 0.1²) = 0.108, and by chance, with a fixed seed.
    start, cut = q("0.70 ± 0.04 mm"), q("1.2 ± 0.1 mm")
    left = after_packing(after_cut(start, cut), q("1.60 mm"))
    assert show(left) == "0.30 ± 0.11 mm"
    assert between(left, q("0.10 mm"), q("0.40 mm")) is Truth.YES
    random = Random(1868)
    draws = [random.gauss(0.70, 0.02) + random.gauss(1.2, 0.05) - 1.60 for _ in range(100_000)]
    assert left.uncertainty is not None
    assert float(left.uncertainty) == pytest.approx(2 * stdev(draws), rel=1e-2)


def test_left_alone_the_crosshead_slipper_is_outside_its_limits() -> None:
    assert between(q("0.70 ± 0.04 mm"), q("0.10 mm"), q("0.40 mm")) is Truth.NO


def test_order_does_not_matter() -> None:
    start, cut, packing = q("0.70 ± 0.04 mm"), q("1.2 ± 0.1 mm"), q("1.60 mm")
    one, other = after_packing(after_cut(start, cut), packing), after_cut(after_packing(start, packing), cut)
    assert one.amount == other.amount
    assert show(one) == show(other)


@pytest.mark.parametrize(
    ("before", "after", "of", "left"),
    [
        ("63.50 mm", "63.60 mm", "hole", "0.30 mm"),  # bored
        ("63.50 mm", "63.40 mm", "shaft", "0.30 mm"),  # turned
        ("63.50 mm", "63.40 mm", "hole", "0.10 mm"),  # bushed
        ("63.50 mm", "63.60 mm", "shaft", "0.10 mm"),  # built up
        ("63.50 mm", "63.80 mm", "shaft", "\N{MINUS SIGN}0.10 mm"),  # it would not go in
    ],
)
def test_a_diameter_opens_or_closes_the_clearance_by_its_change(
    before: str, after: str, of: Literal["hole", "shaft"], left: str
) -> None:
    # Derived: diametral clearance is hole minus shaft.
    assert show(after_diameter(q("0.20 mm"), q(before), q(after), of)) == left


def test_the_answer_comes_in_the_unit_of_the_clearance() -> None:
    assert show(after_cut(q("4 thou"), q("0.0508 ± 0.0127 mm"))) == "6.0 ± 0.5 thou"


@given(st.decimals(0, 5, places=2), st.decimals(0, 5, places=2), st.decimals(0, 1, places=2))
def test_a_cut_opens_and_packing_closes_and_neither_makes_anything_surer(
    clearance: Decimal, change: Decimal, spread: Decimal
) -> None:
    start, by = Quantity(clearance, spread, "mm"), Quantity(change, spread, "mm")
    opened, closed = after_cut(start, by), after_packing(start, by)
    assert closed.amount <= clearance <= opened.amount
    assert opened.uncertainty is not None
    assert closed.uncertainty is not None
    assert min(opened.uncertainty, closed.uncertainty) >= spread


def test_an_unstated_doubt_stays_unstated() -> None:
    vague = parse_quantity("1.2 mm", "mm", exact=False)
    assert after_cut(q("0.70 ± 0.04 mm"), vague).uncertainty is None
    assert after_packing(vague, q("0.5 mm")).uncertainty is None
    assert after_diameter(q("0.2 mm"), q("60 mm"), vague, "hole").uncertainty is None


def test_impossible_numbers_are_refused_in_a_sentence() -> None:
    with pytest.raises(ValueError, match="depth of cut is"):
        after_cut(q("1 mm"), q("-1 mm"))
    with pytest.raises(ValueError, match="thickness of the packing is"):
        after_packing(q("1 mm"), q("-1 mm"))
    with pytest.raises(ValueError, match="diameter before is 0 mm; it must be above zero"):
        after_diameter(q("1 mm"), q("0 mm"), q("1 mm"), "hole")
