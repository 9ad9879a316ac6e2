from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from random import Random
from statistics import fmean, stdev

import pytest
from helpers import doubt
from hypothesis import given
from hypothesis import strategies as st

from conserve.calculation import calculation_named
from conserve.calculation.fabric import bored, drilled, let_in, mass, prepared, skimmed, threaded, turned, volume
from conserve.calculation.metal import CALCULATIONS
from conserve.quantity import EXACT, Quantity, parse_quantity, show


def q(text: str, unit: str = "mm") -> Quantity:
    return parse_quantity(text, unit, exact=True)


def lengths() -> st.SearchStrategy[Decimal]:
    return st.decimals("0.5", 500, places=3)


def spreads() -> st.SearchStrategy[Decimal]:
    return st.decimals(0, "0.4", places=4)


def by_chance(reckon: Callable[..., float], *inputs: Quantity) -> tuple[float, float]:
    """Mean and expanded uncertainty of a formula when its inputs are drawn at random."""
    random = Random(1868)
    draws = [reckon(*(random.gauss(float(x.amount), doubt(x) / 2) for x in inputs)) for _ in range(100_000)]
    return fmean(draws), 2 * stdev(draws)


def test_skimming_a_cover_takes_the_mass_that_was_worked_by_hand() -> None:
    # Derived: face of 300 by 180 mm, 1.5 ± 0.1 mm, iron of 7200 kg/m3 ± 1 %: 0.58 ± 0.04 kg.
    area, depth, density = q("54000 mm2", "mm2"), q("1.5 ± 0.1 mm"), q("7200 kg/m3 ± 1 %", "kg/m3")
    lost = mass(skimmed(area, depth), density)
    assert (lost.unit, round(float(lost.amount), 2), round(doubt(lost), 2)) == ("kg", 0.58, 0.04)
    mean, spread = by_chance(lambda d, r: 54000 * d * r * 1e-9, depth, density)
    assert float(lost.amount) == pytest.approx(mean, rel=5e-3)
    assert doubt(lost) == pytest.approx(spread, rel=2e-2)


def test_boring_a_bush_takes_the_volume_that_was_worked_by_hand_and_by_chance() -> None:
    # Derived, and drawn at random below: 60.00 to 63.00 mm by 70 mm long, standard uncertainties 0.02,
    # 0.02 and 0.1 mm: 20 287 mm3, standard uncertainty 194 mm3, 0.159 kg of steel at 7850 kg/m3.
    before, after, length = q("60.00 ± 0.04 mm"), q("63.00 ± 0.04 mm"), q("70 ± 0.2 mm")
    taken = bored(before, after, length)
    in_mm3 = taken.in_unit("mm3")
    assert float(in_mm3.amount) == pytest.approx(math.pi / 4 * (63**2 - 60**2) * 70, rel=1e-9)
    assert float(in_mm3.amount) == pytest.approx(20287, abs=0.5)
    assert doubt(in_mm3) / 2 == pytest.approx(194, abs=1)
    assert show(taken) == "20.29 ± 0.39 cm3"
    assert float(mass(taken, q("7850 kg/m3", "kg/m3")).amount) == pytest.approx(0.159, abs=5e-4)
    mean, spread = by_chance(lambda b, a, run: math.pi / 4 * (a * a - b * b) * run, before, after, length)
    assert float(in_mm3.amount) == pytest.approx(mean, rel=5e-3)
    assert doubt(in_mm3) == pytest.approx(spread, rel=2e-2)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
@given(lengths(), lengths(), lengths(), spreads(), spreads(), spreads())
def test_ring_volumes_agree_with_the_uncertainties_library(
    one: Decimal, grown: Decimal, run: Decimal, u1: Decimal, u2: Decimal, u3: Decimal
) -> None:
    import uncertainties
    small, large = Quantity(one, u1, "mm"), Quantity(one + grown, u2, "mm")
    length = Quantity(run, u3, "mm")
    d0, d1, long = (uncertainties.ufloat(float(x.amount), doubt(x)) for x in (small, large, length))
    expected = math.pi / 4 * (d1**2 - d0**2) * long / 1000
    for taken in (bored(small, large, length), turned(large, small, length)):
        assert taken.unit == "cm3"
        assert float(taken.amount) == pytest.approx(expected.nominal_value, rel=1e-9)
        assert doubt(taken) == pytest.approx(expected.std_dev, rel=1e-9)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
@given(lengths(), lengths(), spreads(), spreads(), st.integers(1, 60))
def test_holes_share_their_drill_and_so_their_doubt(
    wide: Decimal, deep: Decimal, u1: Decimal, u2: Decimal, holes: int
) -> None:
    import uncertainties
    diameter, depth = Quantity(wide, u1, "mm"), Quantity(deep, u2, "mm")
    d, h = (uncertainties.ufloat(float(x.amount), doubt(x)) for x in (diameter, depth))
    expected = holes * math.pi / 4 * d**2 * h / 1000
    taken = drilled(diameter, depth, holes)
    assert float(taken.amount) == pytest.approx(expected.nominal_value, rel=1e-9)
    assert doubt(taken) == pytest.approx(expected.std_dev, rel=1e-9)


# ---- threads, weld preparations and pockets --------------------------------------------------------

INCH_THREAD = {"major": q("1 in"), "pitch": q("1/8 in"), "angle": q("55 °", "°"), "length": q("30 mm")}


def test_tapping_an_inch_whitworth_hole_takes_the_ring_up_to_its_effective_diameter() -> None:
    # Tables of Whitworth's threads: 1 in, 8 to the inch, effective diameter 0.9200 in, core 0.8400 in
    # (trfastenings.com, British Standard Whitworth). The effective diameter lies midway between core and full.
    taken = threaded(q("0.8400 in"), **INCH_THREAD)
    assert float(taken.amount) == pytest.approx(math.pi / 4 * (2.3368**2 - 2.1336**2) * 3, rel=2e-3)


def test_tapping_a_metric_hole_takes_the_ring_up_to_midway_between_its_diameters() -> None:
    # A nut's smallest diameter is D - 1.0826 P: M10 x 1.5 has 8.376 mm (tables of ISO metric threads).
    angle, middle = q("60 °", "°"), (10 + (10 - 1.0826 * 1.5)) / 2
    taken = threaded(q("8.4 mm"), q("10 mm"), q("1.5 mm"), angle, q("20 mm"), 2).in_unit("mm3")
    assert float(taken.amount) == pytest.approx(2 * math.pi / 4 * (middle**2 - 8.4**2) * 20, rel=1e-3)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
@given(st.decimals(5, 20, places=2), spreads(), spreads())
def test_threads_and_grooves_agree_with_the_uncertainties_library(size: Decimal, u1: Decimal, u2: Decimal) -> None:
    import uncertainties
    hole, run = Quantity(size, u1, "mm"), Quantity(Decimal(30), u2, "mm")
    h, long = (uncertainties.ufloat(float(x.amount), doubt(x)) for x in (hole, run))
    expected = math.pi / 4 * ((25.4 - 0.640327 * 3.175) ** 2 - h**2) * long / 1000
    taken = threaded(hole, **{**INCH_THREAD, "length": run})
    assert float(taken.amount) == pytest.approx(expected.nominal_value, rel=1e-9)
    assert doubt(taken) == pytest.approx(expected.std_dev, rel=1e-6, abs=1e-12)
    expected = (25 - 2) ** 2 * math.tan(math.radians(30)) * long / 1000
    taken = prepared(q("25 mm"), q("2 mm"), q("60 °", "°"), run, q("0 mm"), 1)
    assert float(taken.amount) == pytest.approx(expected.nominal_value, rel=1e-9)
    assert doubt(taken) == pytest.approx(expected.std_dev, rel=1e-9)


def test_preparing_a_joint_takes_the_volume_that_was_worked_by_hand() -> None:
    # Derived: 25 mm plate, 60° groove, 2 mm root face, 200 mm long: 61 084 mm3 for a V, 30 542 for a double V.
    plate = (q("25 mm"), q("2 mm"), q("60 °", "°"), q("200 mm"))
    single, double = (prepared(*plate, q("0 mm"), sides).in_unit("mm3") for sides in (1, 2))
    assert float(single.amount) == pytest.approx(61084, abs=0.5)
    assert float(double.amount) == pytest.approx(30542, abs=0.5)
    # A gap takes its own slab, 3 by 25 by 200 mm, whichever way the groove is cut.
    for sides, groove in ((1, single), (2, double)):
        gapped = prepared(*plate, q("3 mm"), sides).in_unit("mm3")
        assert float(gapped.amount - groove.amount) == pytest.approx(15000)


def test_a_groove_of_a_right_angle_takes_half_a_square_on_each_parent() -> None:
    # tan 45° is 1: h² L for both parents together, 10 by 10 by 100 mm (derived).
    taken = prepared(q("10 mm"), q("0 mm"), q("90 °", "°"), q("100 mm"), q("0 mm"), 1)
    assert float(taken.amount) == pytest.approx(10)


def test_a_pocket_takes_its_area_times_its_depth_with_the_doubt_of_a_product() -> None:
    # 12 cm2 by 0.6 cm; relative uncertainties of a product add in squares (JCGM 100, 5.1.6).
    taken = let_in(q("12 ± 0.5 cm2", "cm2"), q("6 ± 0.2 mm"))
    assert float(taken.amount) == pytest.approx(7.2)
    assert doubt(taken) == pytest.approx(7.2 * math.hypot(0.5 / 12, 0.2 / 6))
    assert let_in(q("12 cm2", "cm2"), parse_quantity("6 mm", "mm", exact=False)).uncertainty is None


@pytest.mark.parametrize("calculation", CALCULATIONS, ids=lambda c: c.name)
def test_each_calculation_of_metal_is_found_by_name_and_runs_its_example(calculation) -> None:
    assert calculation_named(calculation.name) is calculation
    given_ = {
        one.name: int(text) if one.count else parse_quantity(text, one.unit, one.exact)
        for one in calculation.inputs
        if (text := calculation.example.get(one.name)) is not None
    }
    (answer,) = calculation.gives
    found = calculation.reckon(given_)[answer.name]
    assert isinstance(found, Quantity)
    assert found.in_unit(answer.unit).amount > 0
    assert found.uncertainty is not None


@given(lengths(), lengths(), st.decimals("0.01", 50, places=2))
def test_a_deeper_cut_never_takes_less(size: Decimal, depth: Decimal, more: Decimal) -> None:
    face, drill = Quantity(size, EXACT, "cm2"), Quantity(size, EXACT, "mm")
    shallow, deep = Quantity(depth, EXACT, "mm"), Quantity(depth + more, EXACT, "mm")
    assert skimmed(face, deep).amount > skimmed(face, shallow).amount
    assert drilled(drill, deep, 2).amount > drilled(drill, shallow, 2).amount


def test_inches_and_millimetres_take_the_same_metal() -> None:
    inches = bored(q("2 in"), q("2 1/2 in"), q("3 in"))
    metric = bored(q("50.8 mm"), q("63.5 mm"), q("76.2 mm"))
    assert inches == metric


def test_a_cut_with_an_unstated_doubt_takes_an_amount_with_an_unstated_doubt() -> None:
    vague = parse_quantity("70 mm", "mm", exact=False)
    taken = bored(q("60 mm"), q("63 mm"), vague)
    assert taken.uncertainty is None
    assert mass(taken, q("7850 kg/m3", "kg/m3")).uncertainty is None
    assert show(taken) == "20.2868 cm3 (± not stated)"


def test_a_cut_with_exact_numbers_is_exact() -> None:
    assert bored(q("60 mm"), q("63 mm"), q("70 mm")).uncertainty == 0
    assert skimmed(q("412 cm2", "cm2"), q("0 mm")) == q("0 cm3", "cm3")


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: bored(q("63 ± 0.1 mm"), q("60 ± 0.1 mm"), q("70 mm")), "cannot be bored to a smaller"),
        (lambda: turned(q("60 mm"), q("63 mm"), q("70 mm")), "cannot be turned to a larger"),
        (lambda: bored(q("0 mm"), q("60 mm"), q("70 mm")), "smaller diameter is 0 mm"),
        (lambda: bored(q("60 mm"), q("63 mm"), q("-70 mm")), "length is"),
        (lambda: skimmed(q("4 cm2", "cm2"), q("-1 mm")), "depth of cut is"),
        (lambda: skimmed(q("-4 cm2", "cm2"), q("1 mm")), "area is"),
        (lambda: skimmed(q("4 mm"), q("1 mm")), "cannot be told"),
        (lambda: drilled(q("8 mm"), q("-1 mm"), 2), "depth of the hole is"),
        (lambda: drilled(q("0 ± 1 mm"), q("1 mm"), 2), "diameter is"),
        (lambda: drilled(q("8 mm"), q("1 mm"), 0), "one hole or more"),
        (lambda: mass(q("4 cm3", "cm3"), q("0 kg/m3", "kg/m3")), "density is"),
        (lambda: let_in(q("-4 cm2", "cm2"), q("1 mm")), "area of the pocket is"),
        (lambda: let_in(q("4 cm2", "cm2"), q("-1 mm")), "depth of the pocket is"),
        (lambda: threaded(q("20 mm"), **{**INCH_THREAD, "angle": q("47.5 °", "°")}), "only 55° or 60°"),
        (lambda: threaded(q("20 mm"), **{**INCH_THREAD, "pitch": q("0 mm")}), "pitch is"),
        (lambda: threaded(q("25 mm"), **INCH_THREAD), "cannot be bored to a smaller"),
        (lambda: threaded(q("20 mm"), **INCH_THREAD, holes=0), "one hole or more"),
        (lambda: prepared(q("9 mm"), q("10 mm"), q("60 °", "°"), q("9 mm"), q("0 mm"), 1), "root face of"),
        (lambda: prepared(q("10 ± 1 mm"), q("9.5 mm"), q("60 °", "°"), q("9 mm"), q("0 mm"), 1), "or may be, more"),
        (lambda: prepared(q("9 mm"), q("0 mm"), q("130 °", "°"), q("9 mm"), q("0 mm"), 1), "between 0 and 120°"),
        (lambda: prepared(q("9 mm"), q("0 mm"), q("60 °", "°"), q("9 mm"), q("0 mm"), 3), "one side or from two"),
        (lambda: prepared(q("9 mm"), q("0 mm"), q("60 °", "°"), q("9 mm"), q("-1 mm"), 1), "gap is"),
    ],
)
def test_an_impossible_cut_is_refused_in_a_sentence(attempt: Callable[[], Quantity], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        attempt()


def test_a_hole_that_may_not_have_grown_gives_a_volume_about_zero() -> None:
    taken = bored(q("60.00 ± 0.04 mm"), q("59.99 ± 0.04 mm"), q("70 mm"))
    assert taken.amount < 0 < doubt(taken) + float(taken.amount)


def test_the_volume_of_a_part_is_its_mass_over_its_density():
    # Definition of density; 7.2 kg of grey iron at 7200 kg/m3 fill one litre (derived).
    found = volume(q("7.2 ± 0.1 kg", "kg"), q("7200 ± 150 kg/m3", "kg/m3")).in_unit("cm3")
    assert found.amount == 1000
    # u(V)/V = hypot(0.1/7.2, 150/7200), relative uncertainties of a quotient (JCGM 100, 5.1.6).
    assert abs(float(found.uncertainty) - 1000 * math.hypot(0.1 / 7.2, 150 / 7200)) < 1e-9


def test_a_density_that_is_not_above_zero_has_no_volume():
    with pytest.raises(ValueError, match="above zero"):
        volume(q("1 ± 0.1 kg", "kg"), q("0 kg/m3", "kg/m3"))
