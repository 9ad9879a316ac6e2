"""A measurement against its limits: the published examples, and what would settle it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from conserve.calculation.decision import against_limits
from conserve.quantity import Quantity, parse_quantity
from conserve.truth import Truth


def q(text: str, unit: str = "mm") -> Quantity:
    return parse_quantity(text, unit, exact=False)


def limit(text: str, unit: str = "mm") -> Quantity:
    return parse_quantity(text, unit, exact=True)


def chance(measured: Quantity, low: Quantity | None = None, high: Quantity | None = None) -> float:
    found = against_limits(measured, low, high).probability
    assert found is not None
    assert found.unit == "%"
    return float(found.amount) / 100


# ---- published examples ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measured", "low", "high", "published", "within"),
    [
        # JCGM 106:2012, the Zener diode: -5.47 V, u 0.05 V, at most -5.40 V. Statement from memory; 0.92.
        (q("-5.47 ± 0.10 V", "V"), None, limit("-5.40 V", "V"), 0.92, Truth.UNKNOWN),
        # JCGM 106:2012, the metal container: 509.7 kPa, u 8.6 kPa, at least 490 kPa. Statement from memory; 0.99.
        (q("509.7 ± 17.2 kPa", "kPa"), limit("490 kPa", "kPa"), None, 0.99, Truth.YES),
        # JCGM 106:2012, the engine oil: 13.6 mm²/s, u 1.8, from 12.5 to 16.3; told in mm, for there is no unit of
        # viscosity here. Statement from memory; 0.66.
        (q("13.6 ± 3.6 mm"), limit("12.5 mm"), limit("16.3 mm"), 0.66, Truth.UNKNOWN),
        # A worn bush, computed apart: 0.185 mm, u 0.012 mm, at most 0.20 mm; Φ(1.25).
        (q("0.185 ± 0.024 mm"), None, limit("0.20 mm"), 0.894, Truth.UNKNOWN),
    ],
)
def test_a_published_example_comes_to_its_published_probability(measured, low, high, published, within):
    digits = len(str(published)) - 2
    assert round(chance(measured, low, high), digits) == published
    assert against_limits(measured, low, high).within is within


@given(st.floats(-3, 3), st.floats(0.01, 2), st.floats(-2, 2), st.floats(0, 2))
def test_the_probability_is_the_normal_distributions(value, u, low, gap):
    measured = Quantity(Decimal(str(value)), Decimal(str(2 * u)), "mm")
    below, above = (Quantity(Decimal(str(one)), Decimal(0), "mm") for one in (low, low + gap))
    # scipy.stats.norm
    within = norm.cdf(low + gap, value, u) - norm.cdf(low, value, u)
    assert chance(measured, below, above) == pytest.approx(within, rel=1e-3, abs=1e-6)
    assert chance(measured, None, above) == pytest.approx(norm.cdf(low + gap, value, u), rel=1e-3, abs=1e-6)
    assert chance(measured, below) == pytest.approx(norm.sf(low, value, u), rel=1e-3, abs=1e-6)


# ---- yes, no, and cannot be told -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measured", "within"),
    [
        ("0.18 ± 0.024 mm", Truth.YES),  # 0.9522
        ("0.181 ± 0.024 mm", Truth.UNKNOWN),  # 0.9433
        ("0.219 ± 0.024 mm", Truth.UNKNOWN),
        ("0.22 ± 0.024 mm", Truth.NO),
        ("0.20 ± 0 mm", Truth.YES),
        ("0.18 mm", Truth.UNKNOWN),
    ],
)
def test_nineteen_in_twenty_is_needed_either_way(measured, within):
    assert against_limits(q(measured), None, limit("0.20 mm")).within is within


def test_an_uncertainty_that_nobody_stated_gives_no_probability():
    found = against_limits(q("0.18 mm"), None, limit("0.20 mm"))
    assert found.probability is None
    assert found.within is Truth.UNKNOWN


@given(st.decimals("-1", "1", places=2), st.decimals("0.01", "0.9", places=2))
def test_what_would_settle_it_does_and_a_little_more_does_not(value, spread):
    measured, high = Quantity(value, spread, "mm"), limit("0.20 mm")
    found = against_limits(measured, None, high)
    assume(found.within is Truth.UNKNOWN and value != Decimal("0.20"))
    assert found.settled_by is not None
    better = found.settled_by.in_unit("mm").amount
    assert better < spread
    assert against_limits(replace(measured, uncertainty=better), None, high).within is not Truth.UNKNOWN
    # It is rounded down to two digits, so a tenth more is beyond it.
    assert against_limits(replace(measured, uncertainty=better * Decimal("1.11")), None, high).within is Truth.UNKNOWN


def test_a_value_on_its_limit_is_settled_by_nothing():
    found = against_limits(q("0.20 ± 0.02 mm"), None, limit("0.20 mm"))
    assert (found.within, found.settled_by) == (Truth.UNKNOWN, None)


def test_what_is_settled_needs_no_better_measurement():
    assert against_limits(q("0.10 ± 0.02 mm"), None, limit("0.20 mm")).settled_by is None


@pytest.mark.parametrize("unit", ["in", "thou", "µm", "m"])
def test_the_units_change_neither_the_probability_nor_the_answer(unit):
    plain = against_limits(q("0.185 ± 0.024 mm"), limit("0.10 mm"), limit("0.20 mm"))
    other = against_limits(q("0.185 ± 0.024 mm").in_unit(unit), limit("0.10 mm"), limit("0.20 mm").in_unit("in"))
    assert (other.probability, other.within) == (plain.probability, plain.within)


@given(st.decimals("0", "0.4", places=3), st.decimals("0.001", "0.2", places=3), st.integers(2, 10))
def test_a_poorer_measurement_never_answers_what_a_better_one_does_not(value, spread, times):
    limits = (limit("0.10 mm"), limit("0.20 mm"))
    measured = Quantity(value, spread, "mm")
    better = against_limits(measured, *limits).within
    poorer = against_limits(replace(measured, uncertainty=spread * times), *limits).within
    assert poorer in (better, Truth.UNKNOWN)


# ---- refused ---------------------------------------------------------------------------------------


def test_without_a_limit_there_is_nothing_to_hold_it_against():
    with pytest.raises(ValueError, match=r"^A limit is needed.*\.$"):
        against_limits(q("0.18 ± 0.02 mm"))


def test_limits_the_wrong_way_round_are_refused_with_both():
    with pytest.raises(ValueError, match=r"^The lower limit 0\.20 mm is above the upper limit 0\.10 mm\.$"):
        against_limits(q("0.18 ± 0.02 mm"), limit("0.20 mm"), limit("0.10 mm"))
