from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from functools import cache
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from conserve.quantity import (
    EXACT,
    Quantity,
    QuantityProblem,
    above,
    at_least,
    at_most,
    below,
    between,
    canonical,
    dimension_of,
    parse_quantity,
    probability_between,
    propagated,
    settling_uncertainty,
    show,
    unit_named,
)
from conserve.truth import Truth

MINUS = "\N{MINUS SIGN}"


@cache
def pint_units() -> Any:
    import pint

    return pint.UnitRegistry()


def mm(text: str) -> Quantity:
    return parse_quantity(f"{text} mm", "mm", exact=True)


def numbers(low: int = -(10**6), high: int = 10**6) -> st.SearchStrategy[Decimal]:
    return st.decimals(low, high, places=4)


def spreads() -> st.SearchStrategy[Decimal]:
    return st.decimals(0, 1000, places=5)


def measured() -> st.SearchStrategy[Quantity]:
    return st.builds(Quantity, numbers(), spreads().filter(bool), st.just("mm"))


# reading


@pytest.mark.parametrize(
    ("text", "amount", "uncertainty", "unit"),
    [
        ("0.12 ± 0.02 mm", "0.12", "0.02", "mm"),
        ("0.12 +/- 0.02 mm", "0.12", "0.02", "mm"),
        ("0.12 mm ± 0.02 mm", "0.12", "0.02", "mm"),
        ("0.12 mm ± 20 µm", "0.12", "0.02", "mm"),
        ("0.12±0.02mm", "0.12", "0.02", "mm"),
        ("0.50 mm", "0.50", None, "mm"),
        ("3 1/2 in", "3.5", None, "in"),
        ("1/16 in", "0.0625", None, "in"),
        ("-3 1/2 in", "-3.5", None, "in"),
        ("2 in ± 1/64 in", "2", "0.015625", "in"),
        ("3 1/2 ± 1/32 in", "3.5", "0.03125", "in"),
        (".004 in", "0.004", None, "in"),
        ("4 thou", "4", None, "thou"),
        (MINUS + "0.5 ± 0.1 mm", "-0.5", "0.1", "mm"),
        ("0.12 ± 0.03 mm (k=3)", "0.12", "0.02", "mm"),
        ("0.12 ± 0.02 mm (k = 2)", "0.12", "0.02", "mm"),
        ("25 \N{GREEK SMALL LETTER MU}m", "25", None, "µm"),
        ("25 um", "25", None, "µm"),
    ],
)
def test_a_length_is_read_as_workshops_write_it(
    text: str, amount: str, uncertainty: str | None, unit: str
) -> None:
    spread = None if uncertainty is None else Decimal(uncertainty)
    assert parse_quantity(text, "mm", exact=False) == Quantity(Decimal(amount), spread, unit)


@pytest.mark.parametrize(
    ("text", "unit", "uncertainty"),
    [
        ("12 kg ± 5 %", "kg", "0.6"),
        ("-12 mm ± 5 %", "mm", "0.6"),
        ("50 % ± 2 %", "%", "2"),
        ("50 ± 2 %", "%", "2"),
    ],
)
def test_a_plus_minus_in_percent_is_a_share_of_the_value_unless_the_value_is_in_percent(
    text: str, unit: str, uncertainty: str
) -> None:
    assert parse_quantity(text, unit, exact=False).uncertainty == Decimal(uncertainty)


def test_a_value_without_a_plus_minus_is_exact_only_where_it_is_known_to_be() -> None:
    assert parse_quantity("0.50 mm", "mm", exact=True).uncertainty == 0
    assert parse_quantity("0.50 mm", "mm", exact=False).uncertainty is None


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("0.12 ± 0.02", "no-unit"),
        ("0.12", "no-unit"),
        ("0.12 mm ± 0.02", "no-unit"),
        ("0.12 ± 5 %", "no-unit"),
        ("0.12 ± 0.03 (k=3)", "no-unit"),
        ("0.12 kg", "wrong-dimension"),
        ("0.12 mm ± 0.02 kg", "wrong-dimension"),
        ("0.12 mm2", "wrong-dimension"),
        ("nan mm", "not-finite"),
        ("-Infinity mm", "not-finite"),
        ("0.12 ± inf mm", "not-finite"),
        ("1/0 in", "not-finite"),
        ("", "not-a-quantity"),
        ("thick", "not-a-quantity"),
        ("mm", "not-a-quantity"),
        ("0,12 mm", "not-a-quantity"),
        ("1,000 mm", "not-a-quantity"),
        ("1 000 mm", "not-a-quantity"),
        ("1'000 mm", "not-a-quantity"),
        ("1_000 mm", "not-a-quantity"),
        ("1e3 mm", "not-a-quantity"),
        ("1e999999999 mm", "not-a-quantity"),
        ("0.12 ± -0.02 mm", "not-a-quantity"),
        (f"0.12 ± {MINUS}0.02 mm", "not-a-quantity"),
        ('3 1/2"', "not-a-quantity"),
        ("3½ in", "not-a-quantity"),
        ("1² mm", "not-a-quantity"),
        ("1/3 in", "not-a-quantity"),
        ("3 5/4 in", "not-a-quantity"),
        ("1234567890123456 mm", "not-a-quantity"),
        ("0.1234567890123456 mm", "not-a-quantity"),
        ("9" * 100_000 + " mm", "not-a-quantity"),
        ("0 mm ± 5 %", "not-a-quantity"),
        ("0.12 ± 0.02 mm (k=0)", "not-a-quantity"),
        ("3 furlong", "not-a-quantity"),
        ("3 MM", "not-a-quantity"),
        ("\N{ARABIC-INDIC DIGIT THREE} mm", "not-a-quantity"),
    ],
)
def test_what_is_not_a_length_is_refused_with_one_short_hint(text: str, kind: str) -> None:
    with pytest.raises(QuantityProblem) as caught:
        parse_quantity(text, "mm", exact=False)
    assert caught.value.kind == kind
    assert 0 < len(caught.value.message) < 120
    assert 0 < len(caught.value.hint) < 120


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("0.12 ± 0.02", "write 0.12 ± 0.02 mm"),
        ("0.12 +/- 0.03 (k=3)", None),
        ("0.12 mm ± 0.02", "write 0.12 ± 0.02 mm"),
        ("12 ± 5 %", "write 12 mm ± 5 %"),
        ("3 1/2", "write 3 1/2 mm"),
    ],
)
def test_the_hint_for_a_missing_unit_can_be_pasted_in(text: str, hint: str | None) -> None:
    with pytest.raises(QuantityProblem) as caught:
        parse_quantity(text, "mm", exact=False)
    if hint is not None:
        assert caught.value.hint == hint
        parse_quantity(hint.removeprefix("write "), "mm", exact=False)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    with suppress(QuantityProblem):
        parse_quantity(text, "mm", exact=False)


def test_a_share_of_a_celsius_temperature_is_refused() -> None:
    with pytest.raises(QuantityProblem, match="is no ±"):
        parse_quantity("12 °C ± 5 %", "°C", exact=False)


# units


def test_the_inch_and_the_pound_are_exact() -> None:
    # International yard and pound agreement, 1959: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, exactly (NIST).
    assert parse_quantity("1 in", "mm", True).in_unit("mm").amount == Decimal("25.4")
    assert parse_quantity("1 lb", "kg", True).to_base().amount == Decimal("0.45359237")
    assert parse_quantity("4 thou", "mm", True).in_unit("mm") == mm("0.1016")


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("cm", "cm"), ("m", "m"), ("µm", "um"), ("in", "inch"), ("ft", "foot"), ("thou", "thou"),
        ("cm2", "cm**2"), ("m2", "m**2"), ("in2", "inch**2"),
        ("cm3", "cm**3"), ("m3", "m**3"), ("l", "liter"), ("in3", "inch**3"),
        ("g", "gram"), ("t", "metric_ton"), ("lb", "pound"),
        ("kPa", "kPa"), ("Pa", "Pa"), ("bar", "bar"), ("psi", "psi"), ("kN", "kN"),
        ("min", "minute"), ("h", "hour"), ("year", "year"),
    ],
)  # fmt: skip
def test_unit_factors_agree_with_pint(ours: str, theirs: str) -> None:
    pytest.importorskip("pint")
    base = Quantity(Decimal(1), EXACT, ours).to_base()
    others = {"mm2": "mm**2", "mm3": "mm**3"}
    expected = pint_units().Quantity(1.0, theirs).to(others.get(base.unit, base.unit)).magnitude
    assert float(base.amount) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("mm²", "mm2"),
        ("cm³", "cm3"),
        ("m^3", "m3"),
        ("Nm", "N·m"),
        ("N⋅m", "N·m"),
        ("degC", "°C"),
        ("kg/m³", "kg/m3"),
        ("lbf/in2", "psi"),
        ("lbf/in²", "psi"),
    ],
)
def test_common_spellings_mean_the_same_unit(spelling: str, name: str) -> None:
    assert unit_named(spelling) == name
    assert parse_quantity(f"3 {spelling}", name, exact=True) == Quantity(Decimal(3), EXACT, name)


@pytest.mark.parametrize("unit", ["K", "cwt", "ton", "gallon", '"', ""])
def test_units_that_would_need_a_guess_are_not_known(unit: str) -> None:
    with pytest.raises(ValueError, match="not a known unit"):
        dimension_of(unit)


def test_a_quantity_cannot_be_told_in_a_unit_of_another_kind() -> None:
    with pytest.raises(ValueError, match="cannot be told"):
        mm("1").in_unit("kg")
    with pytest.raises(ValueError, match="cannot be told"):
        at_most(mm("1"), Quantity(Decimal(1), EXACT, "kg"))


@pytest.mark.parametrize(
    ("amount", "spread", "unit"),
    [
        ("NaN", "0", "mm"),
        ("Infinity", "0", "mm"),
        ("1", "-1", "mm"),
        ("1", "NaN", "mm"),
        ("1", "0", "furlong"),
    ],
)
def test_an_impossible_quantity_cannot_be_made(amount: str, spread: str, unit: str) -> None:
    with pytest.raises(ValueError, match=r"finite|not a known unit"):
        Quantity(Decimal(amount), Decimal(spread), unit)


# reckoning


def test_packing_and_skimming_the_crosshead_slipper_leave_what_the_design_says() -> None:
    # The worked example of the design; the second ± is √(0.04² + 0.1²) = 0.1077 (derived).
    clearance = mm("0.70 ± 0.04")
    packed = clearance.minus(mm("0.50"))
    skimmed = clearance.plus(mm("1.2 ± 0.1")).minus(mm("1.60"))
    assert show(packed) == "0.20 ± 0.04 mm"
    assert show(skimmed) == "0.30 ± 0.11 mm"
    limits = mm("0.10"), mm("0.40")
    assert between(packed, *limits) is Truth.YES
    assert between(skimmed, *limits) is Truth.YES  # Φ(0.10 / 0.0539) = 0.968: within, though not by much
    assert probability_between(skimmed, *limits) == pytest.approx(0.968, abs=5e-4)
    assert between(clearance, *limits) is Truth.NO


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
@given(numbers(1), spreads(), numbers(1), spreads())
def test_sums_and_products_agree_with_the_uncertainties_library(
    x: Decimal, ux: Decimal, y: Decimal, uy: Decimal
) -> None:
    import uncertainties
    a, b = Quantity(x, ux, "mm"), Quantity(y, uy, "mm")
    p, q = uncertainties.ufloat(float(x), float(ux)), uncertainties.ufloat(float(y), float(uy))
    for ours, theirs in ((a.plus(b), p + q), (a.minus(b), p - q), (a.product(b), p * q)):
        assert float(ours.amount) == pytest.approx(theirs.nominal_value, rel=1e-9)
        assert ours.uncertainty is not None
        assert float(ours.uncertainty) == pytest.approx(theirs.std_dev, rel=1e-9)


@given(measured(), numbers())
def test_an_unstated_uncertainty_stays_unstated(quantity: Quantity, amount: Decimal) -> None:
    vague = Quantity(amount, None, "mm")
    results = (
        quantity.plus(vague),
        vague.minus(quantity),
        vague.product(quantity),
        vague.times(Decimal(0)),
        propagated(amount, "mm", (Decimal(0), vague)),
        vague.in_unit("in"),
    )
    assert {result.uncertainty for result in results} == {None}


def test_a_product_of_two_doubtful_zeros_is_not_called_exact() -> None:
    # The linear law gives 0 at zero sensitivity (JCGM 100, 5.1.2 note, asks for higher terms there).
    assert mm("0 ± 1").product(mm("0 ± 1")).uncertainty is None
    assert mm("0").product(mm("0 ± 1")).uncertainty == 0


def test_a_product_without_a_unit_here_is_refused() -> None:
    with pytest.raises(ValueError, match="no unit here"):
        Quantity(Decimal(1), EXACT, "kg").product(mm("1"))


@pytest.mark.parametrize(
    ("first", "second", "result"),
    [
        (("2", "m2"), ("3", "mm"), "6000000 ± 0 mm3"),
        (("1", "l"), ("7200", "kg/m3"), "7.2 ± 0 kg"),
        (("10", "bar"), ("100", "cm2"), "10000 ± 0 N"),
        (("2", "kN"), ("500", "mm"), "1000 ± 0 N·m"),
    ],
)
def test_products_come_in_the_base_unit_of_their_kind(
    first: tuple[str, str], second: tuple[str, str], result: str
) -> None:
    a, b = (Quantity(Decimal(amount), EXACT, unit) for amount, unit in (first, second))
    assert canonical(a.product(b)) == canonical(b.product(a)) == result


# judging


@pytest.mark.parametrize(
    ("y", "u", "low", "high", "probability"),
    [
        # JCGM 106:2012 examples: statements cited from memory, arithmetic checked. u is standard.
        ("-5.47", "0.05", None, "-5.40", 0.92),  # breakdown voltage of a Zener diode, V
        ("509.7", "8.6", "490", None, 0.99),  # breaking force, N
        ("13.6", "1.8", "12.5", "16.3", 0.66),  # kinematic viscosity of an oil, mm2/s
        # Derived: Φ((0.20 - 0.185) / 0.012) = Φ(1.25), a bush a little under its limit
        ("0.185", "0.012", None, "0.20", 0.894),
    ],
)
def test_conformity_probabilities_agree_with_published_examples(
    y: str, u: str, low: str | None, high: str | None, probability: float
) -> None:
    value = Quantity(Decimal(y), 2 * Decimal(u), "mm")
    far = Decimal(10) ** 6
    lower = Quantity(-far if low is None else Decimal(low), EXACT, "mm")
    upper = Quantity(far if high is None else Decimal(high), EXACT, "mm")
    assert probability_between(value, lower, upper) == pytest.approx(probability, abs=5e-3)


@given(measured(), numbers(), spreads())
def test_a_limits_own_uncertainty_is_combined_with_the_measurements(
    value: Quantity, amount: Decimal, spread: Decimal
) -> None:
    assert value.uncertainty is not None
    sd = (float(value.uncertainty) ** 2 + float(spread) ** 2) ** 0.5 / 2
    expected = NormalDist(float(value.amount), sd).cdf(float(amount))
    assert value.probability_at_most(Quantity(amount, spread, "mm")) == pytest.approx(expected, abs=1e-9)


def test_only_exact_values_tell_a_limit_from_just_below_it() -> None:
    on, limit = mm("0.40"), mm("0.4")
    assert (on.probability_at_most(limit), mm("0.41").probability_at_most(limit)) == (1.0, 0.0)
    assert (at_most(on, limit), at_least(on, limit)) == (Truth.YES, Truth.YES)
    assert (below(on, limit), above(on, limit)) == (Truth.NO, Truth.NO)
    near = mm("0.40 ± 0.01")
    assert {judge(near, limit) for judge in (at_most, at_least, below, above)} == {Truth.UNKNOWN}
    assert between(on, on, limit) is Truth.YES
    assert between(mm("0.41"), on, limit) is Truth.NO
    assert at_most(parse_quantity("1/4 in", "mm", True), mm("6.35")) is Truth.YES


@pytest.mark.parametrize(
    ("z", "truth"),
    [("1.65", Truth.YES), ("1.64", Truth.UNKNOWN), ("-1.64", Truth.UNKNOWN), ("-1.65", Truth.NO)],
)
def test_an_answer_needs_a_probability_of_at_least_0_95(z: str, truth: Truth) -> None:
    # Φ(1.6449) = 0.95 (standard normal table).
    assert at_most(mm("10 ± 2"), Quantity(10 + Decimal(z), EXACT, "mm")) is truth


@given(numbers(), numbers(), numbers(), st.booleans())
def test_a_measurement_with_no_stated_uncertainty_gives_no_answer(
    amount: Decimal, one: Decimal, other: Decimal, of_limit: bool
) -> None:
    low, high = (Quantity(limit, EXACT, "mm") for limit in sorted((one, other)))
    value = Quantity(amount, EXACT if of_limit else None, "mm")
    if of_limit:
        low, high = replace(low, uncertainty=None), replace(high, uncertainty=None)
    assert value.probability_at_most(high) is None
    assert {judge(value, high) for judge in (at_most, at_least, above, below)} == {Truth.UNKNOWN}
    assert between(value, low, high) is Truth.UNKNOWN
    assert settling_uncertainty(value, high) is None or not of_limit


@given(measured(), numbers(), st.decimals(0, 1000, places=3))
def test_a_larger_value_is_never_more_surely_at_most_a_limit(
    value: Quantity, limit: Decimal, more: Decimal
) -> None:
    bound, larger = Quantity(limit, EXACT, "mm"), replace(value, amount=value.amount + more)
    assert at_most(larger, bound) <= at_most(value, bound)
    assert at_least(larger, bound) >= at_least(value, bound)


JUDGES: tuple[Callable[[Quantity, Quantity, Quantity], Truth], ...] = (
    lambda value, low, high: at_most(value, low),
    lambda value, low, high: below(value, low),
    lambda value, low, high: at_least(value, high),
    lambda value, low, high: above(value, high),
    between,
)


@given(
    st.decimals(-10, 10, places=2),
    st.decimals(-10, 10, places=2),
    st.decimals(-10, 10, places=2),
    st.decimals(0, 20, places=2),
    st.decimals(0, 20, places=2),
    st.decimals(0, 3, places=2),
)
def test_widening_the_uncertainty_only_ever_turns_an_answer_into_no_answer(
    amount: Decimal, one: Decimal, other: Decimal, narrow: Decimal, more: Decimal, own: Decimal
) -> None:
    low, high = (Quantity(limit, own, "mm") for limit in sorted((one, other)))
    before = Quantity(amount, narrow, "mm")
    after = replace(before, uncertainty=narrow + more)
    for judge in JUDGES:
        assert judge(after, low, high) in (judge(before, low, high), Truth.UNKNOWN)


def test_a_hopeless_measurement_is_not_outside_merely_because_it_is_hardly_likely_to_be_inside() -> None:
    # With the chance of lying within alone (0.05 or less is *no*), the worst gauge would prove a fault.
    hopeless, low, high = mm("0.25 ± 5"), mm("0.10"), mm("0.40")
    assert probability_between(hopeless, low, high) == pytest.approx(0.048, abs=1e-3)
    assert between(hopeless, low, high) is Truth.UNKNOWN


def test_limits_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(ValueError, match="above the upper limit"):
        between(mm("1"), mm("3"), mm("2"))


def test_the_settling_uncertainty_says_how_well_to_measure() -> None:
    # Derived: 0.10 / 1.6449 = 0.0608 from one limit; at the middle of a band 0.30 / 1.9600 = 0.1531.
    assert settling_uncertainty(mm("0.35 ± 0.2"), mm("0.40")) == mm("0.060")
    assert settling_uncertainty(mm("0.25 ± 0.2"), mm("0.10"), mm("0.40")) == mm("0.15")
    in_thou = settling_uncertainty(parse_quantity("14 thou", "mm", False), mm("0.40"))
    assert in_thou is not None
    assert show(in_thou) == "2.1 thou"  # (15.748 - 14) 2 / 1.6449 = 2.125


def test_nothing_settles_a_value_on_its_limit_or_a_limit_that_is_too_vague() -> None:
    assert settling_uncertainty(mm("0.40 ± 0.01"), mm("0.40")) is None
    assert settling_uncertainty(mm("0.40 ± 0.01"), mm("0.10"), mm("0.40")) is None
    assert settling_uncertainty(mm("0.35 ± 0.01"), mm("0.40 ± 0.1")) is None


@given(
    st.decimals(-10, 10, places=2), st.decimals(-10, 10, places=2), st.decimals(-10, 10, places=2), spreads()
)
def test_the_settling_uncertainty_settles_and_a_ninth_more_does_not(
    amount: Decimal, one: Decimal, other: Decimal, own: Decimal
) -> None:
    limits = [Quantity(limit, own / 1000, "mm") for limit in sorted((one, other))]
    value = Quantity(amount, None, "mm")
    enough = settling_uncertainty(value, *limits)
    assume(enough is not None)
    assert enough is not None
    assert between(replace(value, uncertainty=enough.amount), *limits) is not Truth.UNKNOWN
    wider = replace(value, uncertainty=enough.amount * Decimal("1.112"))
    assert between(wider, *limits) is Truth.UNKNOWN


# showing


@pytest.mark.parametrize(
    ("amount", "spread", "shown"),
    [
        ("0.2", "0.04", "0.20 ± 0.04 mm"),
        ("20286.6", "387.82", "20290 ± 390 mm"),
        ("0.1", "0.0996", "0.10 ± 0.10 mm"),
        ("12", "0.05", "12.00 ± 0.05 mm"),
        ("-0.5", "0.1", MINUS + "0.5 ± 0.1 mm"),
        ("-0.001", "0.01", MINUS + "0.001 ± 0.010 mm"),
        ("0.051", "0.01", "0.051 ± 0.010 mm"),
        ("0.2", "300", "0 ± 300 mm"),
        ("0.50", "0", "0.50 mm"),
        ("-0.50", "0", MINUS + "0.50 mm"),
        ("0.20", None, "0.20 mm (± not stated)"),
        ("20286.58128477128871286127", "0", "20286.6 mm"),
    ],
)
def test_a_quantity_is_shown_with_at_most_two_digits_of_doubt(
    amount: str, spread: str | None, shown: str
) -> None:
    assert show(Quantity(Decimal(amount), None if spread is None else Decimal(spread), "mm")) == shown


@given(numbers(), st.one_of(st.none(), spreads()))
def test_what_is_shown_reads_back_as_the_same_value_within_its_rounding(
    amount: Decimal, spread: Decimal | None
) -> None:
    quantity = Quantity(amount, spread, "mm")
    text = show(quantity).removesuffix(" (± not stated)")
    again = parse_quantity(text, "mm", exact=spread is not None)
    if not spread:
        assert again == quantity
        return
    assert again.uncertainty is not None
    assert abs(again.amount - amount) <= again.uncertainty / 2
    assert abs(again.uncertainty - spread) <= spread / 20
    assert show(again) == text


@given(measured(), st.sampled_from(["in", "thou", "m", "µm"]))
def test_the_canonical_form_has_every_digit_and_no_exponent(quantity: Quantity, unit: str) -> None:
    text = canonical(quantity)
    assert parse_quantity(text, "mm", exact=False) == quantity
    assert canonical(replace(quantity, amount=quantity.amount * Decimal("1.00"))) == text
    assert "E" not in canonical(quantity.in_unit(unit))
    assert canonical(replace(quantity, uncertainty=None)).endswith(" ± unknown mm")
