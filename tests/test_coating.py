"""Dew, film, blasting and storage. CoolProp 8.0.0 (HAPropsSI, 101 325 Pa) made the dew points written down here."""

from __future__ import annotations

import math

import pytest
from helpers import amount, doubt

from conserve.calculation.coating import blasting_loss, coating_window, dew_point, film_over_profile
from conserve.calculation.storage import storage_humidity
from conserve.quantity import Quantity, parse_quantity
from conserve.truth import Truth


def c(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "°C", exact)


def pc(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "%", exact)


def um(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "µm", exact)


def cm2(text: str) -> Quantity:
    return parse_quantity(text, "cm2", True)


def iron(text: str = "7200 kg/m3") -> Quantity:
    return parse_quantity(text, "kg/m3", True)


# dew


@pytest.mark.parametrize(
    ("air", "humidity", "dew"),
    [(5, 90, 3.4987), (10, 80, 6.7135), (15, 85, 12.5017), (18, 62, 10.6203), (20, 50, 9.2744), (25, 60, 16.7035), (35, 40, 19.3914)],
)
def test_the_dew_point_agrees_with_the_properties_of_humid_air(air, humidity, dew):
    # CoolProp 8.0.0; the Magnus formula may differ by some hundredths.
    assert amount(dew_point(c(f"{air} °C"), pc(f"{humidity} %"))) == pytest.approx(dew, abs=0.03)


def test_the_dew_point_agrees_with_psychrolib_wherever_paint_is_put_on():
    import psychrolib
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air in range(0, 41, 2):
        for humidity in range(5, 101, 5):
            found = amount(dew_point(c(f"{air} °C"), pc(f"{humidity} %")))
            if found > 0:
                assert found == pytest.approx(psychrolib.GetTDewPointFromRelHum(air, humidity / 100), abs=0.04)


@pytest.mark.parametrize(
    ("air", "humidity", "dew", "within"),
    [
        ("30 °C", "55 %", 20, 0.05),  # published example (doerken.de, glossary: dew point)
        ("20 °C", "50 %", 9.26, 0.005),  # from memory, for these coefficients
    ],
)
def test_the_dew_point_is_the_published_one(air, humidity, dew, within):
    assert amount(dew_point(c(air), pc(humidity))) == pytest.approx(dew, abs=within)


def test_at_full_humidity_dew_settles_at_the_temperature_of_the_air():
    assert amount(dew_point(c("12.5 °C"), pc("100 %"))) == pytest.approx(12.5, abs=1e-20)


def test_the_doubt_of_a_dew_point_comes_from_both_instruments():
    # Closed form: dTd/dg = A B / (A - g)², dg/dRH = 1/RH, dg/dt = A B / (B + t)².
    gamma = math.log(0.62) + 17.62 * 18 / (243.12 + 18)
    slope = 17.62 * 243.12 / (17.62 - gamma) ** 2
    expected = slope * math.hypot(3 / 62, 17.62 * 243.12 / (243.12 + 18) ** 2 * 0.5)
    assert doubt(dew_point(c("18 ± 0.5 °C"), pc("62 ± 3 %"))) == pytest.approx(expected, rel=0.03)


def test_a_dew_point_from_a_hygrometer_of_unknown_doubt_has_an_unknown_doubt():
    assert dew_point(c("18 ± 0.5 °C"), pc("62 %", exact=False)).uncertainty is None


@pytest.mark.parametrize(
    ("air", "humidity", "words"),
    [
        ("61 °C", "50 %", "temperature of the air is 61 °C"),
        ("59.8 ± 0.5 °C", "50 %", "temperature of the air is 59.8 ± 0.5 °C"),
        ("-46 °C", "50 %", "temperature of the air"),
        ("20 °C", "0.5 %", "humidity is 0.5 %"),
        ("20 °C", "98 ± 3 %", "humidity is 98 ± 3 %"),
        ("20 °C", "101 %", "humidity is 101 %"),
        ("-20 °C", "2 %", "dew point is"),
    ],
)
def test_air_outside_the_formula_is_refused_in_a_sentence(air, humidity, words):
    with pytest.raises(ValueError, match=words) as refused:
        dew_point(c(air), pc(humidity))
    assert str(refused.value).endswith(".")


# the window for painting


def test_a_shed_that_looks_dry_enough_cannot_be_told_to_be_so():
    # Worked by hand: 18 °C, 62 %, metal of 13 °C: 2.4 ± 1.0 °C above the dew; the metal sees 85 %.
    found = coating_window(c("18 ± 0.5 °C"), pc("62 ± 3 %"), c("13 ± 0.5 °C"))
    assert amount(found.gap) == pytest.approx(2.4, abs=0.05)
    assert doubt(found.gap) == pytest.approx(1.0, abs=0.05)
    assert amount(found.humidity_at_metal) == pytest.approx(85, abs=0.5)
    assert (found.three_above, found.dry_enough) == (Truth.UNKNOWN, Truth.YES)


@pytest.mark.parametrize(
    ("humidity", "metal", "three_above", "dry_enough"),
    [
        ("62 ± 3 %", "18 ± 0.5 °C", Truth.YES, Truth.YES),
        ("62 ± 3 %", "11 ± 0.5 °C", Truth.NO, Truth.YES),
        ("92 ± 3 %", "17 ± 0.5 °C", Truth.NO, Truth.NO),
        ("84 ± 3 %", "25 ± 0.5 °C", Truth.YES, Truth.UNKNOWN),
    ],
)
def test_both_rules_for_painting_are_judged(humidity, metal, three_above, dry_enough):
    found = coating_window(c("18 ± 0.5 °C"), pc(humidity), c(metal))
    assert (found.three_above, found.dry_enough) == (three_above, dry_enough)


def test_exactly_three_degrees_and_85_per_cent_are_within_the_rules():
    dew = dew_point(c("20 °C"), pc("85 %"))
    metal = Quantity(dew.amount + 3, dew.uncertainty, "°C")
    found = coating_window(c("20 °C"), pc("85 %"), metal)
    assert found.gap.amount == 3
    assert (found.three_above, found.dry_enough) == (Truth.YES, Truth.YES)


def test_the_humidity_that_metal_sees_agrees_with_saturation_pressures_of_psychrolib():
    import psychrolib
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air, humidity, metal in ((18, 62, 13), (5, 80, 2), (30, 40, 24), (25, 70, 35)):
        expected = humidity * psychrolib.GetSatVapPres(air) / psychrolib.GetSatVapPres(metal)
        found = coating_window(c(f"{air} °C"), pc(f"{humidity} %"), c(f"{metal} °C"))
        assert amount(found.humidity_at_metal) == pytest.approx(expected, rel=2e-3)


def test_metal_below_the_dew_point_sees_more_than_all_the_water_air_can_hold():
    found = coating_window(c("18 ± 0.5 °C"), pc("80 ± 3 %"), c("10 ± 0.5 °C"))
    assert amount(found.gap) < 0 < amount(found.humidity_at_metal) - 100


def test_metal_of_unknown_doubt_cannot_be_judged():
    found = coating_window(c("18 ± 0.5 °C"), pc("40 ± 3 %"), c("18 °C", exact=False))
    assert found.gap.uncertainty is None
    assert (found.three_above, found.dry_enough) == (Truth.UNKNOWN, Truth.YES)


def test_metal_hotter_than_the_formula_allows_is_refused():
    with pytest.raises(ValueError, match="temperature of the metal is 70 °C"):
        coating_window(c("18 °C"), pc("62 %"), c("70 °C"))


# film


@pytest.mark.parametrize(("grade", "over"), [("fine", 190), ("medium", 175), ("coarse", 160)])
def test_the_profile_takes_its_share_of_a_film(grade, over):
    # Corrections of 10, 25 and 40 µm: ISO 19840, from memory.
    found = film_over_profile(um("200 ± 8 µm"), profile=grade)
    assert found.over_peaks is not None
    assert (found.grade, found.over_peaks.amount, found.over_peaks.uncertainty) == (grade, over, 8)


@pytest.mark.parametrize(
    ("abrasive", "roughness", "grade"),
    [
        # ISO 8503-1 as data sheets of comparators tell it: grit 25, 60, 100, 150 µm; shot 25, 40, 70, 100 µm.
        # ISO 8503-2: a grade begins at its segment and ends below the next.
        ("grit", "25 µm", "fine"),
        ("grit", "59.9 µm", "fine"),
        ("grit", "60 µm", "medium"),
        ("grit", "100 µm", "coarse"),
        ("shot", "40 µm", "medium"),
        ("shot", "59.9 µm", "medium"),
        ("shot", "70 µm", "coarse"),
        ("grit", "0.075 mm", "medium"),
        ("grit", "62 ± 5 µm", None),
    ],
)
def test_a_roughness_has_the_grade_of_its_segment_on_the_comparator(abrasive, roughness, grade):
    assert film_over_profile(um("200 µm"), roughness=um(roughness), abrasive=abrasive).grade == grade


def test_a_roughness_of_unknown_doubt_has_no_grade_and_no_film_over_it():
    assert film_over_profile(um("200 µm"), roughness=um("80 µm", exact=False), abrasive="grit") == (None, None, None)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "grade of the profile or its roughness"),
        ({"profile": "fine", "roughness": um("30 µm")}, "one of the two"),
        ({"profile": "smooth"}, "'smooth' is not a grade"),
        ({"roughness": um("30 µm")}, "whether grit or shot"),
        ({"roughness": um("20 µm"), "abrasive": "grit"}, "roughness is 20 µm"),
        ({"roughness": um("95 ± 10 µm"), "abrasive": "shot"}, "roughness is 95 ± 10 µm"),
        ({"profile": "coarse", "film": um("40 µm")}, "thicker than the correction of 40 µm"),
        ({"profile": "coarse", "film": um("-40 µm")}, "film is"),
    ],
)
def test_a_film_that_cannot_be_corrected_is_refused_in_a_sentence(given, words):
    with pytest.raises(ValueError, match=words):
        film_over_profile(**{"film": um("200 µm"), **given})


# blasting


def test_blasting_takes_little_metal_and_the_whole_surface():
    # Worked by hand: 25 µm off 540 cm2 of grey iron is 1.35 cm3, 9.72 g.
    found = blasting_loss(cm2("540 cm2"), um("25 ± 4 µm"), iron(), um("12 ± 3 µm"))
    assert (found.volume.unit, amount(found.volume)) == ("cm3", pytest.approx(1.35, rel=1e-12))
    assert (found.mass.unit, amount(found.mass)) == ("g", pytest.approx(9.72, rel=1e-12))
    assert found.surface_gone is Truth.YES


def test_the_doubt_of_blasting_is_that_of_a_product():
    # Relative uncertainties of a product add in squares (JCGM 100, 5.1.6).
    found = blasting_loss(cm2("540 ± 10 cm2"), um("25 ± 5 µm"), iron("7200 ± 150 kg/m3"))
    assert doubt(found.mass) == pytest.approx(9.72 * math.hypot(10 / 540, 5 / 25, 150 / 7200), rel=1e-9)


@pytest.mark.parametrize(
    ("relief", "gone"),
    [(None, Truth.UNKNOWN), ("26 ± 3 µm", Truth.UNKNOWN), ("0.2 ± 0.01 mm", Truth.NO), ("25 µm", Truth.UNKNOWN)],
)
def test_whether_a_surface_is_gone_depends_on_its_relief(relief, gone):
    told = None if relief is None else um(relief)
    assert blasting_loss(cm2("540 cm2"), um("25 ± 4 µm"), iron(), told).surface_gone is gone


def test_a_cut_just_as_deep_as_the_relief_does_not_exceed_it():
    assert blasting_loss(cm2("540 cm2"), um("25 µm"), iron(), um("25 µm")).surface_gone is Truth.NO


def test_blasting_of_unknown_depth_takes_an_unknown_share():
    found = blasting_loss(cm2("540 cm2"), um("25 µm", exact=False), iron(), um("5 ± 1 µm"))
    assert found.mass.uncertainty is None
    assert found.surface_gone is Truth.UNKNOWN


def test_square_inches_and_thousandths_blast_alike():
    inches = blasting_loss(parse_quantity("100 in2", "cm2", True), um("1 thou"), iron())
    assert amount(inches.volume) == pytest.approx(0.1 * 16.387064, rel=1e-12)


@pytest.mark.parametrize(
    ("area", "depth", "density", "relief", "words"),
    [
        ("-1 cm2", "25 µm", "7200 kg/m3", "5 µm", "area is"),
        ("1 cm2", "-25 µm", "7200 kg/m3", "5 µm", "depth of cut is"),
        ("1 cm2", "25 µm", "0 kg/m3", "5 µm", "density is"),
        ("1 cm2", "25 µm", "7200 kg/m3", "-5 µm", "relief is"),
    ],
)
def test_blasting_with_numbers_below_zero_is_refused(area, depth, density, relief, words):
    with pytest.raises(ValueError, match=words):
        blasting_loss(cm2(area), um(depth), iron(density), um(relief))


# storage


@pytest.mark.parametrize(
    ("material", "salts", "limit", "not_below"),
    [
        # Western Australian Museum, Conservation and Care of Collections (2017), Metals, Wood, Leather, Appendix 2.
        ("grey-cast-iron", "no", 35, None),
        ("wrought-iron", "yes", 15, None),
        ("lead", "no", 45, None),
        ("brass", "no", 45, None),
        ("timber", None, 60, 40),
        ("leather", None, 65, 45),
        ("textile", None, 55, 45),
        # Scott, JAIC 29 (1990): 42 to 46 %.
        ("bronze", "yes", 42, None),
    ],
)
def test_the_damp_that_a_material_stands_is_the_published_one(material, salts, limit, not_below):
    found = storage_humidity(material, salts)
    assert found.limit == pc(f"{limit} %")
    assert found.not_below == (None if not_below is None else pc(f"{not_below} %"))


def test_a_metal_that_nobody_has_tried_for_salts_has_no_limit_yet():
    found = storage_humidity("mild-steel")
    assert found.limit is None
    assert "35 %" in found.source
    assert "15 %" in found.source


def test_no_limit_is_as_damp_as_what_is_wrong_for_everything():
    # Above 75 %: Michalski, Canadian Conservation Institute.
    told = [storage_humidity(m, "no").limit for m in ("grey-cast-iron", "copper", "timber", "leather", "textile")]
    assert all(amount(limit) < 75 for limit in told)


@pytest.mark.parametrize(("material", "salts"), [("rubber", None), ("glass", "no"), ("lead", "yes")])
def test_a_material_of_which_nothing_is_published_is_refused(material, salts):
    with pytest.raises(ValueError, match=f"No published limit of humidity is held here for {material}"):
        storage_humidity(material, salts)
