"""Carbon equivalents: a reason to stop and ask."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from helpers import amount, doubt
from scipy import integrate, optimize, stats

from conserve.calculation import calculation_named
from conserve.calculation.old_steel import old_steel
from conserve.calculation.weldability import CET, carbon_equivalent, cast_iron_equivalent
from conserve.quantity import Quantity, at_most, parse_quantity
from conserve.truth import Truth

ENGINEER = "competent engineer"


def q(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "%", exact=exact)


def analysed(material: str = "mild-steel", **shares: str):
    return carbon_equivalent(material, **{element: q(share) for element, share in shares.items()})


STRUCTURAL = {
    "carbon": "0.18 %", "manganese": "1.4 %", "chromium": "0.1 %", "molybdenum": "0.02 %", "vanadium": "0.01 %",
    "nickel": "0.1 %", "copper": "0.2 %", "silicon": "0.35 %", "boron": "0 %",
}  # fmt: skip


def test_a_structural_steel_has_the_three_equivalents_worked_by_hand() -> None:
    # By hand: 0.18 + 1.4/6 + 0.13/5 + 0.3/15; 0.18 + 0.35/30 + 1.7/20 + 0.1/60 + 0.02/15 + 0.01/10;
    # 0.18 + 1.42/10 + 0.3/20 + 0.1/40.
    found = analysed(**STRUCTURAL)
    assert amount(found.ce_iiw) == pytest.approx(0.459333, abs=1e-6)
    assert amount(found.pcm) == pytest.approx(0.280667, abs=1e-6)
    assert amount(found.cet) == pytest.approx(0.3395, abs=1e-6)
    assert found.ce_iiw_at_least == found.ce_iiw
    assert found.refer == ENGINEER


@pytest.mark.parametrize(
    ("shares", "published"),
    [
        # A welding calculator's page, a plate of 50 ksi: 0.431.
        ((0.15, 1.20, 0.10, 0.05, 0.02, 0.50, 0.20), 0.431),
        # A page on line pipe, worked step by step to 0.70.
        ((0.25, 1.40, 0.50, 0.25, 0.05, 0.50, 0.40), 0.70),
    ],
)
def test_the_first_equivalent_agrees_with_published_examples(shares: tuple[float, ...], published: float) -> None:
    names = ("carbon", "manganese", "chromium", "molybdenum", "vanadium", "nickel", "copper")
    found = analysed("alloy-steel", **{name: f"{share} %" for name, share in zip(names, shares, strict=True)})
    assert amount(found.ce_iiw) == pytest.approx(published, abs=5e-3)
    assert found.pcm is None  # silicon and boron were not analysed


# Test values of a public welding library (welding-utils), for a metal that does not exist.
ODD = {
    "carbon": 1, "manganese": 1.3, "chromium": 0.4, "molybdenum": 2, "vanadium": 2.1, "nickel": 0.8, "copper": 1.1,
    "silicon": 2.8, "boron": 3,
}  # fmt: skip


def test_the_formulae_agree_with_the_test_values_of_a_welding_library() -> None:
    # The formulae are linear, so a tenth less than a tenth of the odd metal has as much less of each.
    found = analysed(**{element: f"{0.09 * share:.4f} %" for element, share in ODD.items()})
    assert amount(found.ce_iiw) == pytest.approx(0.09 * 2.243333333333333, rel=1e-9)
    assert amount(found.pcm) == pytest.approx(0.09 * 16.59, rel=1e-9)
    assert found.cet is None  # too little manganese for it
    assert sum(ODD[element] / float(by) for element, by in CET.items()) == pytest.approx(1.425, rel=1e-9)


def test_an_element_that_was_not_analysed_is_unknown_and_not_zero() -> None:
    found = analysed(carbon="0.18 %", manganese="0.6 %")
    assert found.ce_iiw is found.pcm is found.cet is None
    assert amount(found.ce_iiw_at_least) == pytest.approx(0.28)
    full = analysed(**{**STRUCTURAL, "carbon": "0.18 %", "manganese": "0.6 %"})
    assert amount(full.ce_iiw) > amount(found.ce_iiw_at_least)


@pytest.mark.parametrize("missing", ["chromium", "molybdenum", "nickel", "copper", "vanadium", "silicon", "boron"])
def test_each_formula_needs_its_own_elements(missing: str) -> None:
    found = analysed(**{element: share for element, share in STRUCTURAL.items() if element != missing})
    assert (found.ce_iiw is None) == (missing not in ("silicon", "boron"))
    assert found.pcm is None
    assert (found.cet is None) == (missing not in ("silicon", "boron", "vanadium"))


def test_outside_the_range_of_one_formula_only_that_one_is_silent() -> None:
    found = analysed(**{**STRUCTURAL, "carbon": "0.35 %"})
    assert found.ce_iiw is not None
    assert found.pcm is found.cet is None
    # 0.18 % is the edge of Pcm: a ± that may cross it is refused too.
    assert analysed(**{**STRUCTURAL, "carbon": "0.175 ± 0.01 %"}).pcm is None
    assert analysed(**{**STRUCTURAL, "carbon": "0.165 ± 0.01 %"}).pcm is not None


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
def test_the_doubt_of_an_equivalent_agrees_with_the_uncertainties_library() -> None:
    import uncertainties
    c, mn, cr = (uncertainties.ufloat(*one) for one in ((0.16, 0.01), (0.7, 0.04), (0.05, 0.02)))
    mo, v, ni, cu = (uncertainties.ufloat(*one) for one in ((0.02, 0.01), (0.01, 0.005), (0.1, 0.02), (0.2, 0.03)))
    si, b = uncertainties.ufloat(0.1, 0.03), uncertainties.ufloat(0.0004, 0.0002)
    found = analysed(
        carbon="0.16 ± 0.01 %", manganese="0.7 ± 0.04 %", chromium="0.05 ± 0.02 %", molybdenum="0.02 ± 0.01 %",
        vanadium="0.01 ± 0.005 %", nickel="0.1 ± 0.02 %", copper="0.2 ± 0.03 %", silicon="0.1 ± 0.03 %",
        boron="0.0004 ± 0.0002 %",
    )  # fmt: skip
    for told, expected in (
        (found.ce_iiw, c + mn / 6 + (cr + mo + v) / 5 + (ni + cu) / 15),
        (found.pcm, c + si / 30 + (mn + cu + cr) / 20 + ni / 60 + mo / 15 + v / 10 + 5 * b),
        (found.cet, c + (mn + mo) / 10 + (cr + cu) / 20 + ni / 40),
    ):
        assert amount(told) == pytest.approx(expected.nominal_value, rel=1e-9)
        assert doubt(told) == pytest.approx(expected.std_dev, rel=1e-9)


def test_an_unstated_analysis_gives_an_unstated_equivalent() -> None:
    found = carbon_equivalent("mild-steel", q("0.18 %", exact=False), q("0.6 ± 0.03 %"))
    assert found.ce_iiw_at_least.uncertainty is None


def test_a_plain_share_is_read_as_a_hundred_times_as_many_per_cent() -> None:
    assert amount(analysed(carbon="0.0018 1", manganese="0.6 %").ce_iiw_at_least) == pytest.approx(0.28)


# old steel


def test_an_old_steel_spreads_as_numerical_integration_says() -> None:
    # SciPy: the triangular distribution of carbon integrated over the even one of manganese / 6.
    carbon = stats.triang(c=0.12 / 0.35, loc=0.10, scale=0.35)

    def below(limit: float) -> float:
        return integrate.quad(lambda share: carbon.cdf(limit - share), 0.05, 0.15, points=(limit - 0.22,))[0] / 0.1

    found = old_steel("mild-steel")
    for told, part in ((found.low, 0.05), (found.middle, 0.5), (found.high, 0.95)):
        expected = optimize.brentq(lambda limit, part=part: below(limit) - part, 0.16, 0.59)
        assert amount(told) == pytest.approx(expected, abs=1e-4)


def test_an_old_steel_spreads_as_drawing_at_random_says() -> None:
    # NumPy; the judged spread was first drawn at random, .24, .35 and .49.
    generator = np.random.default_rng(1868)
    drawn = generator.triangular(0.10, 0.22, 0.45, 400_000) + generator.uniform(0.3, 0.9, 400_000) / 6
    found = old_steel("mild-steel")
    told = [amount(one) for one in found[:3]]
    assert told == pytest.approx(np.quantile(drawn, [0.05, 0.5, 0.95]), abs=2e-3)
    assert [round(one, 2) for one in told] == [0.24, 0.35, 0.49]
    assert found.refer == ENGINEER


def test_a_judged_spread_meets_no_limit() -> None:
    found = old_steel("mild-steel")
    assert at_most(found.high, q("10 %")) is Truth.UNKNOWN


# cast iron


@pytest.mark.parametrize(
    ("carbon", "silicon", "phosphorus", "published"),
    [("2.8", "1.85", "0.04", 3.43), ("3.3", "1.64", "1.42", 4.32), ("3.3", "1.9", "0.49", 4.10), ("3.5", "2.95", "0.08", 4.51)],
)
def test_cast_irons_have_their_published_equivalents(carbon: str, silicon: str, phosphorus: str, published: float) -> None:
    # The composition table of a published metallographic note on cast iron, which tells CE to two places.
    found = cast_iron_equivalent(q(f"{carbon} %"), q(f"{silicon} %"), q(f"{phosphorus} %"))
    assert amount(found.equivalent) == pytest.approx(published, abs=6e-3)
    assert found.refer == ENGINEER


def test_an_unstated_analysis_of_cast_iron_stays_unstated() -> None:
    assert cast_iron_equivalent(q("3.3 %", exact=False), q("1.9 %"), q("0.5 %")).equivalent.uncertainty is None


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        *(
            (lambda iron=iron: analysed(iron, carbon="0.2 %", manganese="0.5 %"), f"not for {iron}")
            for iron in ("grey-cast-iron", "malleable-iron", "wrought-iron", "gunmetal")
        ),
        (lambda: analysed(carbon="0.07 %", manganese="0.5 %"), "carbon is 0.07 %"),
        (lambda: analysed(carbon="0.085 ± 0.01 %", manganese="0.5 %"), "0.08 to 0.60 %"),
        (lambda: analysed(carbon="0.65 %", manganese="0.5 %"), "carbon is 0.65 %"),
        (lambda: analysed(carbon="0.2 %", manganese="1.7 %"), "manganese is 1.7 %"),
        (lambda: analysed(carbon="0.2 %", manganese="-0.1 %"), "manganese is"),
        (lambda: analysed(carbon="0.2 %", manganese="0.5 %", chromium="5 %"), "chromium is 5 %"),
        (lambda: analysed(carbon="0.2 %", manganese="0.5 %", silicon="-1 %"), "silicon is"),
        (lambda: old_steel("alloy-steel"), "have a sample analysed"),
        (lambda: old_steel("wrought-iron"), "not for wrought-iron"),
        (lambda: cast_iron_equivalent(q("1.9 %"), q("1.9 %"), q("0.5 %")), "carbon is 1.9 %"),
        (lambda: cast_iron_equivalent(q("2.05 ± 0.1 %"), q("1.9 %"), q("0.5 %")), "2 to 4.5 %"),
        (lambda: cast_iron_equivalent(q("3.3 %"), q("4 %"), q("0.5 %")), "silicon is 4 %"),
        (lambda: cast_iron_equivalent(q("3.3 %"), q("1.9 %"), q("-0.5 %")), "phosphorus is"),
    ],
)
def test_what_the_formulae_do_not_hold_for_is_refused_in_a_sentence(attempt: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words) as refused:
        attempt()
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize("name", ["carbon-equivalent", "old-steel", "cast-iron-equivalent"])
def test_every_equivalent_comes_with_a_referral_and_cautions_and_no_preheat(name: str) -> None:
    found = calculation_named(name)
    assert found is not None
    assert found.gives[-1].name == "refer"
    assert all(answer.unit == "%" for answer in found.gives[:-1])
    told = " ".join(found.cautions)
    assert "qualified procedure" in told and "explodes" in told and "cold mechanical repair" in told
