"""How uncertain a computed number is, against published examples and an independent library."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat, umath

from conserve.calculation.propagation import Reading, rounded, through
from conserve.quantity import Quantity, parse_quantity

PI = Decimal("3.141592653589793")


def q(text: str, unit: str = "mm") -> Quantity:
    return parse_quantity(text, unit, exact=False)


def read(text: str, instrument: str = "", shared: str = "") -> Reading:
    """A reading; without what it shares it is one that nobody has said that of."""
    return Reading(q(text), instrument=instrument, shared=parse_quantity(shared, "mm", exact=True) if shared else None)


def spread(found: Quantity) -> float:
    assert found.uncertainty is not None
    return float(found.uncertainty)


def less(one: Decimal, other: Decimal) -> Decimal:
    return one - other


def mean(*amounts: Decimal) -> Decimal:
    return sum(amounts, Decimal(0)) / len(amounts)


# ---- published examples ----------------------------------------------------------------------------


def end_gauge(standard: Decimal, gap: Decimal, expands: Decimal, more: Decimal, warmth: Decimal, apart: Decimal) -> Decimal:
    """JCGM 100, H.1: length = standard + gap - standard (more expansion × warmth + expansion × apart)."""
    return standard + gap - standard * (more * warmth + expands * apart)


# JCGM 100:2008, Annex H.1, here with k = 2: the standard 25 nm; the difference 5.8, 3.9 and 6.7 nm, which make
# 9.7 nm; its expansion ± 2e-6 and the difference of expansions ± 1e-6 a kelvin, both rectangular; the
# temperature -0.1 °C with 0.2 °C and a cycle of 0.5 °C (arcsine); the difference of temperatures ± 0.05 °C.
# The same numbers stand in the example of it that the library GTC carries.
_THIRD = Decimal(3).sqrt()
_GAP = (Decimal("5.8") ** 2 + Decimal("3.9") ** 2 + Decimal("6.7") ** 2).sqrt() / 10**6
_WARM = (Decimal("0.2") ** 2 + Decimal("0.5") ** 2 / 2).sqrt()
H1 = (
    Quantity(Decimal("50.000623"), Decimal("0.000050"), "mm"),
    Quantity(Decimal("0.000215"), 2 * _GAP, "mm"),
    Quantity(Decimal("0.0000115"), 2 * Decimal("0.000002") / _THIRD, "1"),
    Quantity(Decimal(0), 2 * Decimal("0.000001") / _THIRD, "1"),
    Quantity(Decimal("-0.1"), 2 * _WARM, "°C"),
    Quantity(Decimal(0), 2 * Decimal("0.05") / _THIRD, "°C"),
)


def test_the_end_gauge_of_the_guide_comes_to_its_published_length_and_uncertainty():
    # JCGM 100:2008, H.1: 50.000838 mm, 32 nm (31.7 before it is rounded).
    found = through(end_gauge, "mm", *H1)
    assert found.amount == Decimal("50.000838")
    assert spread(found) / 2 * 1e6 == pytest.approx(31.7, abs=0.05)


@pytest.mark.parametrize(("moved", "nanometres"), [(0, 25), (1, 9.7), (2, 0), (3, 2.9), (4, 0), (5, 16.6)])
def test_each_component_of_the_end_gauge_is_that_of_the_published_table(moved, nanometres):
    # JCGM 100:2008, Table H.1.
    alone = [one if n == moved else Quantity(one.amount, Decimal(0), one.unit) for n, one in enumerate(H1)]
    assert spread(through(end_gauge, "mm", *alone)) / 2 * 1e6 == pytest.approx(nanometres, abs=0.05)


def test_ten_sizes_held_against_one_standard_add_up_with_all_of_its_uncertainty():
    # JCGM 100:2008, 5.2.2: ten resistors of 1000 Ω, each 100 mΩ by comparison with one standard, in series: 1 Ω.
    # Told here in m and mm; independent they would come to 0.32.
    alike = [read("1000 ± 0.2 mm", "standard", "0.2 mm") for _ in range(10)]
    together = through(lambda *amounts: sum(amounts, Decimal(0)), "mm", *alike)
    assert spread(together) / 2 == pytest.approx(1.0)
    apart = through(lambda *amounts: sum(amounts, Decimal(0)), "mm", *[one.value for one in alike])
    assert spread(apart) / 2 == pytest.approx(0.316, abs=0.0005)


# ---- against the library `uncertainties` -----------------------------------------------------------

sizes = st.decimals(min_value=1, max_value=400, places=2)
widths = st.decimals(min_value="0.001", max_value="0.5", places=3)


@given(sizes, widths, sizes, widths)
def test_independent_inputs_propagate_as_an_independent_library_says(a, ua, b, ub):
    one, other = Quantity(a, ua, "mm"), Quantity(b, ub, "mm")
    x, y = ufloat(float(a), float(ua)), ufloat(float(b), float(ub))
    assert spread(through(lambda p, r: 3 * p - 2 * r, "mm", one, other)) == pytest.approx((3 * x - 2 * y).s, abs=1e-9)
    assert spread(through(lambda p, r: p * r, "mm2", one, other)) == pytest.approx((x * y).s, abs=1e-9)


@given(sizes, sizes, st.floats(0.001, 0.02), st.floats(0.001, 0.02))
def test_what_one_instrument_shares_falls_out_of_a_difference_and_stays_whole_in_a_mean(a, b, own, bias):
    wide = Decimal(str(math.hypot(own, bias)))
    shared = Quantity(min(Decimal(str(bias)), wide), Decimal(0), "mm")
    pair = [Reading(Quantity(one, wide, "mm"), instrument="micrometer", shared=shared) for one in (a, b)]
    zero, x, y = ufloat(0, bias), ufloat(float(a), own), ufloat(float(b), own)
    assert spread(through(less, "mm", *pair)) == pytest.approx(((x + zero) - (y + zero)).s, abs=1e-9)
    assert spread(through(mean, "mm", *pair)) == pytest.approx((((x + zero) + (y + zero)) / 2).s, abs=1e-9)


def test_two_instruments_do_not_share_a_bias():
    hole, shaft = read("20.05 ± 0.015 mm", "bore-gauge", "0.010 mm"), read("20.00 ± 0.010 mm", "micrometer", "0.006 mm")
    x, y = ufloat(20.05, 0.015), ufloat(20.00, 0.010)
    assert spread(through(less, "mm", hole, shaft)) == pytest.approx((x - y).s)


def test_three_readings_with_two_instruments_share_by_instrument():
    inputs = (
        read("20.05 ± 0.015 mm", "bore-gauge", "0.010 mm"),
        read("20.07 ± 0.015 mm", "bore-gauge", "0.010 mm"),
        read("20.00 ± 0.010 mm", "micrometer", "0.006 mm"),
    )
    zero, own = ufloat(0, 0.010), math.sqrt(0.015**2 - 0.010**2)
    x, y, z = ufloat(20.05, own) + zero, ufloat(20.07, own) + zero, ufloat(20.00, 0.010)
    found = through(lambda a, b, c: (a + b) / 2 - c, "mm", *inputs)
    assert spread(found) == pytest.approx(((x + y) / 2 - z).s)


def test_an_instrument_never_shares_more_than_all_of_the_uncertainty_of_a_reading():
    pair = [read("20.05 ± 0.004 mm", "micrometer", "0.006 mm"), read("20.01 ± 0.004 mm", "micrometer", "0.006 mm")]
    assert spread(through(less, "mm", *pair)) == 0
    assert spread(through(mean, "mm", *pair)) == pytest.approx(0.004)


@given(sizes, widths, sizes, widths)
def test_the_unit_of_an_input_changes_nothing(a, ua, b, ub):
    one, other = Quantity(a, ua, "mm"), Quantity(b, ub, "mm")
    there = [Reading(n.in_unit("in"), instrument="m", shared=Quantity(Decimal("0.001"), Decimal(0), "in")) for n in (one, other)]
    here = [Reading(n, instrument="m", shared=Quantity(Decimal("0.0254"), Decimal(0), "mm")) for n in (one, other)]
    inches, plain = through(less, "in", *there), through(less, "mm", *here)
    assert float(inches.in_unit("mm").amount) == pytest.approx(float(plain.amount), abs=1e-12)
    assert spread(inches.in_unit("mm")) == pytest.approx(spread(plain), abs=1e-12)


def test_what_is_shared_may_be_told_in_another_unit_than_the_readings():
    thou = Quantity(Decimal("0.4"), Decimal(0), "thou")
    pair = [Reading(q(text), instrument="m", shared=thou) for text in ("20.05 ± 0.0127 mm", "20.01 ± 0.0127 mm")]
    assert spread(through(less, "mm", *pair)) == pytest.approx(math.sqrt(2 * (0.0127**2 - 0.01016**2)))


# ---- curved formulas -------------------------------------------------------------------------------

# Each bends one way only in each of its inputs, and so the larger of the two moves is at least the slope's.
CURVED = {
    "a volume": (lambda d, w: PI / 4 * d * d * w, lambda d, w: math.pi / 4 * d * d * w),
    "a ratio": (lambda d, w: w / d, lambda d, w: w / d),
    "a root": (lambda d, w: (d * w).sqrt(), lambda d, w: umath.sqrt(d * w)),
    "an exponential": (lambda d, w: (d / 100).exp() + w, lambda d, w: umath.exp(d / 100) + w),
}


@pytest.mark.parametrize("name", CURVED)
@given(sizes, widths, sizes, widths)
def test_a_curved_formula_is_never_told_too_certain(name, a, ua, b, ub):
    mine, theirs = CURVED[name]
    found = through(mine, "mm", Quantity(a, ua, "mm"), Quantity(b, ub, "mm"))
    first_order = theirs(ufloat(float(a), float(ua)), ufloat(float(b), float(ub))).s
    assert spread(found) >= first_order * (1 - 1e-9)


def test_a_formula_without_slope_where_it_stands_is_not_told_as_certain():
    # Of x² at 0 the first-order law makes 0 ± 0; the true value lies up to U² away.
    found = through(lambda x: x * x, "mm2", q("0 ± 0.2 mm"))
    assert (ufloat(0, 0.2) ** 2).s == 0
    assert spread(found) == pytest.approx(0.04)


def test_a_formula_with_a_corner_is_moved_to_both_sides():
    # A wall that is thinner than a limit counts, one that is thicker does not.
    assert spread(through(lambda x: max(x - 5, Decimal(0)), "mm", q("5 ± 0.2 mm"))) == pytest.approx(0.2)


# ---- what nobody has said --------------------------------------------------------------------------


@pytest.mark.parametrize("blind", [0, 1])
def test_one_uncertainty_that_nobody_stated_leaves_the_results_unstated(blind):
    inputs = [q("3 ± 0.1 mm"), q("2 ± 0.1 mm")]
    inputs[blind] = q("3 mm")
    found = through(less, "mm", *inputs)
    assert found.uncertainty is None
    assert found.amount == inputs[0].amount - inputs[1].amount


def test_an_unstated_uncertainty_counts_even_where_the_formula_does_not_use_its_input():
    assert through(lambda a, b: a, "mm", q("3 ± 0.1 mm"), q("2 mm")).uncertainty is None


@pytest.mark.parametrize(
    ("formula", "wide"),
    [
        (less, 0.01 * math.sqrt(2)),  # independent is the worse: alike, it would fall out
        (mean, 0.01),  # alike is the worse: independent, it would be 0.007
    ],
)
def test_of_readings_without_an_instrument_the_worse_of_two_cases_counts(formula, wide):
    assert spread(through(formula, "mm", read("20.05 ± 0.01 mm"), read("20.01 ± 0.01 mm"))) == pytest.approx(wide)


def test_a_reading_without_an_instrument_shares_nothing_with_one_that_has_one():
    known, unknown = read("20.05 ± 0.01 mm", "micrometer", "0.006 mm"), read("20.01 ± 0.01 mm")
    assert spread(through(mean, "mm", known, unknown)) == pytest.approx(0.01 / math.sqrt(2))


def test_an_instrument_of_which_nobody_says_what_it_shares_counts_as_none():
    pair = [read("20.05 ± 0.01 mm", "own-gauge"), read("20.01 ± 0.01 mm", "own-gauge")]
    assert spread(through(less, "mm", *pair)) == pytest.approx(0.01 * math.sqrt(2))
    assert spread(through(mean, "mm", *pair)) == pytest.approx(0.01)


# ---- edges -----------------------------------------------------------------------------------------


def test_exact_inputs_give_an_exact_result():
    assert through(less, "mm", q("3 ± 0 mm"), q("2 ± 0 mm")) == Quantity(Decimal(1), Decimal(0), "mm")


def test_a_moved_input_outside_the_formula_refuses_as_the_formula_does():
    def root(x: Decimal) -> Decimal:
        if x < 0:
            raise ValueError("The size is below zero.")
        return x.sqrt()

    assert through(root, "mm", q("4 ± 0.1 mm")).amount == 2
    with pytest.raises(ValueError, match="below zero"):
        through(root, "mm", q("0.05 ± 0.1 mm"))


def test_a_number_from_floating_point_is_told_at_twelve_digits():
    assert rounded(math.pi) == Decimal("3.14159265359")
