"""Patterns, raw castings and worn sizes."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from helpers import amount, doubt
from hypothesis import given
from hypothesis import strategies as st

from conserve.calculation.casting import contraction, pattern_size, survivor_as_pattern
from conserve.calculation.casting_tables import CONTRACTIONS, TOLERANCES
from conserve.calculation.raw_casting import draft, raw_casting
from conserve.calculation.worn_size import nearest_fraction, wear_put_back
from conserve.quantity import EXACT, Quantity, parse_quantity
from conserve.truth import Truth


def mm(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "mm", exact)


def pc(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "%", exact)


def deg(text: str) -> Quantity:
    return parse_quantity(text, "°", True)


# contraction


@pytest.mark.parametrize(
    ("material", "per_foot"),
    [
        # Dooley, Applied Science for Metal Workers, § 426, inches per foot.
        ("grey-cast-iron", 3 / 32),
        ("mild-steel", 3 / 16),
        ("brass", 3 / 16),
        ("brass", 7 / 32),
        ("bronze", 5 / 32),
        ("aluminium", 7 / 32),
        # A text-book of mechanical engineering of about 1900, page 63.
        ("grey-cast-iron", 1 / 8),
        ("gunmetal", 1 / 6),
        # A list of shrink rules (nonesuchtools.com).
        ("mild-steel", 1 / 4),
        ("aluminium", 3 / 16),
    ],
)
def test_the_band_of_a_metal_holds_what_each_source_prints(material, per_foot):
    found = contraction(material)
    assert amount(found.lowest) - 0.005 <= per_foot / 12 * 100 <= amount(found.highest) + 0.005


@pytest.mark.parametrize(
    ("material", "lowest", "highest"),
    [("grey-cast-iron", 0.55, 1.04), ("mild-steel", 1.56, 2.08), ("brass", 1.3, 1.82), ("gunmetal", 1.39, 1.5)],
)
def test_a_contraction_is_told_as_the_middle_of_what_is_printed(material, lowest, highest):
    found = contraction(material)
    assert (amount(found.lowest), amount(found.highest)) == (lowest, highest)
    assert amount(found.contraction) == pytest.approx((lowest + highest) / 2)
    # A rectangular distribution of half-width a has the standard uncertainty a / √3 (JCGM 100, 4.3.7).
    assert doubt(found.contraction) == pytest.approx(2 * (highest - lowest) / 2 / math.sqrt(3))


def test_every_metal_has_two_sources_or_more_and_they_disagree():
    for material, told in CONTRACTIONS.items():
        found = contraction(material)
        assert len({who for who, _, _ in told}) > 1, material
        assert amount(found.lowest) < amount(found.highest), material
        assert all(who in found.sources for who, _, _ in told), material


def test_a_metal_that_no_source_prints_is_refused():
    with pytest.raises(ValueError, match="No printed contraction is held here for white-metal"):
        contraction("white-metal")


# pattern


def test_a_pattern_is_as_much_larger_as_was_worked_by_hand():
    # Worked by hand: 300 mm at 1 % is 303.03; at 0.8 to 1.3 % it is 302.42 to 303.95, ± 0.76.
    assert amount(pattern_size(mm("300 mm"), contraction=pc("1 %")).pattern) == pytest.approx(303.03, abs=0.005)
    found = pattern_size(mm("300 mm"), contraction=pc("1.05 ± 0.25 %"))
    assert amount(found.doubt) == pytest.approx(0.76, abs=0.01)
    assert amount(found.pattern) - doubt(found.pattern) == pytest.approx(302.42, abs=0.02)
    assert amount(found.pattern) + doubt(found.pattern) == pytest.approx(303.95, abs=0.01)


def test_a_shrink_rule_gives_the_same_pattern():
    # nonesuchtools.com: a pattern of 12 1/8 in gives an iron casting of 12 in; so 1 part in 97 of the pattern.
    share = Quantity(Decimal(100) / 97, EXACT, "%")
    found = pattern_size(parse_quantity("12 in", "mm", True), contraction=share)
    assert amount(found.pattern.in_unit("in")) == pytest.approx(12.125, rel=1e-12)


def test_the_wooden_master_of_a_metal_pattern_is_larger_twice():
    once = pattern_size(mm("300 mm"), contraction=pc("1 %")).pattern
    twice = pattern_size(mm("300 mm"), contraction=pc("1 %"), double="yes").pattern
    assert twice.amount == pytest.approx(pattern_size(once, contraction=pc("1 %")).pattern.amount)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
@pytest.mark.parametrize(("double", "times"), [("no", 1), ("yes", 2)])
def test_the_doubt_of_a_pattern_agrees_with_the_uncertainties_library(double, times):
    import uncertainties
    size, share = uncertainties.ufloat(412.5, 0.4), uncertainties.ufloat(1.4, 0.2)
    expected = size / (1 - share / 100) ** times
    found = pattern_size(mm("412.5 ± 0.4 mm"), contraction=pc("1.4 ± 0.2 %"), double=double).pattern
    assert amount(found) == pytest.approx(expected.nominal_value, rel=1e-12)
    assert doubt(found) == pytest.approx(expected.std_dev, rel=5e-3)


def test_a_pattern_by_material_is_in_doubt_by_half_the_band():
    found = pattern_size(mm("300 mm"), material="grey-cast-iron")
    # Printed: 0.55 to 1.04 %.
    assert amount(found.doubt) == pytest.approx((300 / 0.9896 - 300 / 0.9945) / 2, rel=1e-9)
    assert doubt(found.pattern) == pytest.approx(amount(found.doubt) * 2 / math.sqrt(3), rel=5e-3)


def test_what_the_founder_says_counts_before_the_table():
    both = pattern_size(mm("300 mm"), material="mild-steel", contraction=pc("1 ± 0.1 %"))
    assert both == pattern_size(mm("300 mm"), contraction=pc("1 ± 0.1 %"))


def test_a_contraction_of_unknown_doubt_leaves_the_pattern_in_unknown_doubt():
    found = pattern_size(mm("300 ± 0.1 mm"), contraction=pc("1 %", exact=False))
    assert found.pattern.uncertainty is None
    assert found.doubt is None


@pytest.mark.parametrize(
    ("casting", "given", "words"),
    [
        ("300 mm", {}, "Give the material"),
        ("0 mm", {"contraction": pc("1 %")}, "dimension of the casting is 0 mm"),
        ("300 mm", {"contraction": pc("6 %")}, "contraction is 6 %"),
        ("300 mm", {"contraction": pc("0.1 ± 0.2 %")}, "contraction is 0.1 ± 0.2 %"),
        ("300 mm", {"material": "lead"}, "ask the founder"),
    ],
)
def test_a_pattern_that_cannot_be_reckoned_is_refused_in_a_sentence(casting, given, words):
    with pytest.raises(ValueError, match=words):
        pattern_size(mm(casting), **given)


@pytest.mark.parametrize(("generations", "after"), [(1, "297.0"), (3, "291.1")])
def test_a_survivor_as_pattern_gives_a_small_copy_and_its_copies_smaller_ones(generations, after):
    # Worked by hand: 300 mm at 1 %.
    found = survivor_as_pattern(mm("300 mm"), generations, contraction=pc("1 %"))
    assert f"{found.size_after.amount:.1f}" == after
    assert found.size_after.amount + found.lost.amount == 300


@given(st.decimals(10, 900, places=1), st.decimals("0.1", 3, places=2), st.integers(1, 6))
def test_what_a_copy_loses_is_what_a_pattern_adds(size, share, generations):
    # Closed form: as many patterns as castings give the size back.
    given_share, grown = Quantity(share, EXACT, "%"), Quantity(size, EXACT, "mm")
    for _ in range(generations):
        grown = pattern_size(grown, contraction=given_share).pattern
    assert float(survivor_as_pattern(grown, generations, contraction=given_share).size_after.amount) == pytest.approx(float(size), rel=1e-12)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
def test_the_doubt_of_a_copy_agrees_with_the_uncertainties_library():
    import uncertainties
    size, share = uncertainties.ufloat(300, 0.2), uncertainties.ufloat(1, 0.15)
    found = survivor_as_pattern(mm("300 ± 0.2 mm"), 3, contraction=pc("1 ± 0.15 %"))
    assert doubt(found.size_after) == pytest.approx((size * (1 - share / 100) ** 3).std_dev, rel=5e-3)
    assert doubt(found.lost) == pytest.approx((size * (1 - (1 - share / 100) ** 3)).std_dev, rel=5e-3)


@pytest.mark.parametrize("generations", [0, 21, 10**9])
def test_a_copy_of_no_generation_or_of_absurdly_many_is_refused(generations):
    with pytest.raises(ValueError, match=f"1 to 20 generations, not {generations}"):
        survivor_as_pattern(mm("300 mm"), generations, contraction=pc("1 %"))


# raw casting


@pytest.mark.parametrize(
    ("finished", "kind", "machining", "raw", "tolerance"),
    [
        # Worked by hand with ISO 8062-3:2007, Table 2, grade 10: 3.2 from 63 to 100 mm, 2.8 from 40 to 63 mm.
        ("80 mm", "outside-both", "2.2 mm", "86.0", "3.2"),
        ("60 mm", "inside-both", "2.2 mm", "54.2", "2.8"),
        ("80 mm", "one-side", "2.2 mm", "83.8", "3.2"),
        # 62 mm finished is more than 63 mm raw, and takes the tolerance of that row.
        ("62 mm", "outside-both", "2.2 mm", "68.0", "3.2"),
        ("2 in", "outside-both", "2.2 mm", "56.6", "2.8"),
    ],
)
def test_a_raw_casting_has_the_size_that_was_worked_by_hand(finished, kind, machining, raw, tolerance):
    found = raw_casting(mm(finished), kind, 10, mm(machining))
    assert found == (mm(f"{raw} mm"), mm(f"{tolerance} mm"))


@given(st.integers(9, 14), st.decimals(30, 3000, places=1), st.decimals(0, 8, places=1))
def test_at_the_worst_end_of_the_tolerance_the_allowance_is_still_there(grade, finished, machining):
    # What the formulas are for: the smallest outside, or the largest hole, leaves the allowance on every face.
    size, left = Quantity(finished, EXACT, "mm"), Quantity(machining, EXACT, "mm")
    outside = raw_casting(size, "outside-both", grade, left)
    assert outside.raw.amount - outside.tolerance.amount / 2 == finished + 2 * machining
    one = raw_casting(size, "one-side", grade, left)
    assert one.raw.amount - one.tolerance.amount / 2 == finished + machining
    assert any(end >= outside.raw.amount and grades.get(grade) == outside.tolerance.amount for end, grades in TOLERANCES)
    if finished > 60:
        inside = raw_casting(size, "inside-both", grade, left)
        assert inside.raw.amount + inside.tolerance.amount / 2 == finished - 2 * machining


@pytest.mark.parametrize(
    ("grade", "column"),
    [
        # Founder's table of ISO 8062-3:2007 (deangroup-int.co.uk), from 10 to 6300 mm.
        (9, "1.5 1.6 1.7 1.8 2 2.2 2.5 2.8 3.2 3.6 4 4.6 5.4 6.2 7"),
        # Another founder's (chinametalcastings.com).
        (12, "4.2 4.4 4.6 5 5.6 6 7 8 9 10 11 13 15 17 20"),
        (14, "8 9 10 11 12 14 16 18 20 23 26 30 35"),
        # BS 6615:1996 as a third tells it (iron-foundry.com), its first rows.
        (7, "0.74 0.78 0.82 0.9 1 1.1"),
    ],
)
def test_the_tolerances_are_those_that_founders_print(grade, column):
    held = [grades[grade] for _, grades in TOLERANCES if grade in grades]
    printed = [Decimal(value) for value in column.split()]
    assert held[: len(printed)] == printed


def test_tolerances_grow_with_size_and_with_grade():
    # A slip of the pen would break the order.
    for _, grades in TOLERANCES:
        assert sorted(grades.values()) == list(grades.values())
    for grade in range(1, 17):
        column = [grades[grade] for _, grades in TOLERANCES if grade in grades]
        assert sorted(set(column)) == column
    steps = [grades[g + 1] / grades[g] for _, grades in TOLERANCES for g in grades if g + 1 in grades]
    assert min(steps) > 1.1 and max(steps) < 1.6


@pytest.mark.parametrize(
    ("finished", "kind", "grade", "machining", "words"),
    [
        ("7000 mm", "outside-both", 12, "5 mm", "table ends at a raw one of 6300 mm"),
        ("80 mm", "outside-both", 17, "2 mm", "holds no grade 17"),
        ("80 mm", "outside-both", 0, "2 mm", "holds no grade 0"),
        ("800 mm", "outside-both", 3, "2 mm", "holds no grade 3"),
        ("5 mm", "outside-both", 14, "1 mm", "holds no grade 14"),
        ("6 mm", "inside-both", 10, "3 mm", "too small to be cast"),
        ("0 mm", "outside-both", 10, "2 mm", "finished dimension is 0 mm"),
        ("80 mm", "outside-both", 10, "-2 mm", "machining allowance is"),
    ],
)
def test_a_raw_casting_outside_the_table_is_refused_in_a_sentence(finished, kind, grade, machining, words):
    with pytest.raises(ValueError, match=words):
        raw_casting(mm(finished), kind, grade, mm(machining))


@pytest.mark.parametrize(
    ("height", "angle", "lean", "within"),
    [
        # Published (toolcroze.com), in inches: 2 in at 1°, 4 in at 2.5°, 6 in at 3°.
        ("2 in", "1 °", 0.035 * 25.4, 0.013),
        ("4 in", "2.5 °", 0.175 * 25.4, 0.013),
        ("6 in", "3 °", 0.314 * 25.4, 0.013),
        # Closed form: tan 30° is 1/√3.
        ("100 mm", "30 °", 100 / math.sqrt(3), 1e-8),
        ("100 mm", "0 °", 0, 0),
    ],
)
def test_a_pattern_leans_as_printed(height, angle, lean, within):
    assert amount(draft(mm(height), deg(angle))) == pytest.approx(lean, abs=within)


def test_the_doubt_of_a_draft_comes_from_its_angle_too():
    # Derivative of h tan a: tan a, and h / cos² a in radians.
    expected = math.hypot(math.tan(math.radians(1.5)) * 1, 120 / math.cos(math.radians(1.5)) ** 2 * math.radians(0.2))
    assert doubt(draft(mm("120 ± 1 mm"), deg("1.5 ± 0.2 °"))) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("angle", ["31 °", "-1 °", "0.1 ± 0.2 °"])
def test_a_draft_outside_its_angles_is_refused(angle):
    with pytest.raises(ValueError, match="angle is"):
        draft(mm("100 mm"), deg(angle))


# worn sizes


def test_wear_put_back_makes_a_shaft_larger_and_a_hole_smaller():
    # By hand: 75.20 + 0.85 and 75.20 - 0.85; ± from 0.05 and 0.2 in squares.
    measured, wear = mm("75.20 ± 0.05 mm"), mm("0.85 ± 0.2 mm")
    shaft, hole = wear_put_back(measured, wear, "shaft"), wear_put_back(measured, wear, "hole")
    assert (shaft.amount, hole.amount) == (Decimal("76.05"), Decimal("74.35"))
    assert doubt(shaft) == pytest.approx(math.hypot(0.05, 0.2), rel=1e-12)
    assert shaft.uncertainty == hole.uncertainty


def test_rust_on_a_part_hides_wear():
    # By hand: rust makes a shaft read large and a hole small.
    measured, wear, rust = mm("75.20 ± 0.05 mm"), mm("0.85 ± 0.2 mm"), mm("0.3 ± 0.1 mm")
    assert wear_put_back(measured, wear, "shaft", rust).amount == Decimal("75.75")
    hole = wear_put_back(measured, wear, "hole", rust)
    assert hole.amount == Decimal("74.65")
    assert doubt(hole) == pytest.approx(math.hypot(0.05, 0.2, 0.1), rel=1e-12)


def test_wear_in_thousandths_is_put_back_alike():
    found = wear_put_back(parse_quantity("3 in", "mm", True), parse_quantity("20 thou", "mm", True), "shaft")
    assert found == mm("76.708 mm")


def test_wear_that_nobody_is_sure_of_leaves_the_size_in_unknown_doubt():
    assert wear_put_back(mm("75 ± 0.1 mm"), mm("1 mm", exact=False), "shaft").uncertainty is None


@pytest.mark.parametrize(
    ("measured", "wear", "rust", "words"),
    [("0 mm", "1 mm", "0 mm", "measured size"), ("9 mm", "-1 mm", "0 mm", "wear is"), ("9 mm", "1 mm", "-1 mm", "build-up is")],
)
def test_wear_below_zero_is_refused(measured, wear, rust, words):
    with pytest.raises(ValueError, match=words):
        wear_put_back(mm(measured), mm(wear), "shaft", mm(rust))


def test_a_size_near_three_inches_is_three_inches():
    # Worked by hand: 76.05 mm is 3 in less 0.15 mm.
    found = nearest_fraction(mm("76.05 ± 0.2 mm"))
    assert (found.fraction, found.size) == ("3 in", mm("76.2 mm"))
    assert found.residual == mm("-0.15 ± 0.2 mm")
    assert found.fits is Truth.YES
    # ± 0.2 mm is 0.4 of the 0.79375 mm between thirty-seconds.
    assert amount(found.by_chance) == pytest.approx(50.4, abs=0.05)


@pytest.mark.parametrize(
    ("size", "fits"),
    [
        ("76.05 ± 0.05 mm", Truth.NO),  # the residual of 0.15 mm is thrice its ±
        ("76.05 ± 0.7 mm", Truth.UNKNOWN),  # 2 31/32 in, 0.64 mm below, fits as well
        ("76.05 ± 0.6 mm", Truth.YES),
        ("76.2 mm", Truth.YES),  # exact
        ("76.05 ± 0.15 mm", Truth.YES),
    ],
)
def test_a_fraction_fits_where_it_alone_lies_within_the_doubt(size, fits):
    assert nearest_fraction(mm(size)).fits is fits


def test_a_size_of_unknown_doubt_may_or_may_not_be_a_fraction():
    found = nearest_fraction(mm("76.2 mm", exact=False))
    assert (found.fraction, found.fits, found.by_chance) == ("3 in", Truth.UNKNOWN, None)


@pytest.mark.parametrize(
    ("size", "denominator", "fraction"),
    [
        # Tables of inch fractions: 31/32 in is 24.606 mm, 5/8 in 15.875 mm, 2 3/16 in 55.563 mm, 1/64 in 0.397 mm.
        ("24.606 mm", 32, "31/32 in"),
        ("15.875 mm", 32, "5/8 in"),
        ("55.563 mm", 16, "2 3/16 in"),
        ("0.397 mm", 64, "1/64 in"),
        ("24.606 mm", 4, "1 in"),
        ("0.99 in", 32, "1 in"),
    ],
)
def test_fractions_are_told_in_their_lowest_terms(size, denominator, fraction):
    assert nearest_fraction(mm(size), denominator).fraction == fraction


@given(st.decimals(2, 900, places=2), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_no_other_fraction_lies_nearer(size, denominator):
    if float(size) < 25.4 / denominator / 2 + 0.01:
        return
    found = nearest_fraction(Quantity(size, EXACT, "mm"), denominator)
    nearest = min(abs(float(size) - count * 25.4 / denominator) for count in range(1, 36 * denominator + 36))
    assert abs(amount(found.residual)) == pytest.approx(nearest, abs=1e-9)
    assert float(parse_quantity(found.fraction, "mm", True).in_unit("mm").amount) == pytest.approx(amount(found.size))


@pytest.mark.parametrize(
    ("size", "denominator", "words"),
    [("76 mm", 10, "not by 10"), ("0.3 mm", 32, "less than half of 1/32 in"), ("-3 mm", 32, "size is")],
)
def test_a_size_that_is_no_fraction_at_all_is_refused(size, denominator, words):
    with pytest.raises(ValueError, match=words):
        nearest_fraction(mm(size), denominator)
