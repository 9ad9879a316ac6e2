"""Sharp corners: a ranking, and never of a crack."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from helpers import doubt

from conserve.calculation import calculation_named
from conserve.calculation.corners import notch, notch_sensitivity, radius_gain
from conserve.quantity import ONE, Quantity, parse_quantity

SOUND = "none-found"


def q(text: str, unit: str = "mm", exact: bool = True) -> Quantity:
    return parse_quantity(text, unit, exact=exact)


def felt(strength: str = "690 MPa", radius: str = "3 mm", factor: str = "1.65", steel: str = "mild-steel"):
    return notch_sensitivity(steel, q(strength, "MPa"), q(radius), q(f"{factor} 1", ONE), SOUND)


@pytest.mark.parametrize(
    ("depth", "radius", "factor"),
    [
        ("5 mm", "5 mm", 3.0),  # a round hole: Kirsch 1898, as told by Britannica
        ("10 mm", "2.5 mm", 5.0),  # an ellipse of 2 to 1, b²/a at its end: a published benchmark of Inglis's solution
        ("20 mm", "0.2 mm", 21.0),  # closed form: 1 + 2 √100
        ("20 mm", "3 mm", 6.163977794943222),  # closed form: 1 + 2 √(20/3)
    ],
)
def test_a_notch_raises_the_stress_as_inglis_found(depth: str, radius: str, factor: float) -> None:
    found = notch(q(depth), q(radius), SOUND)
    assert (found.factor.unit, float(found.factor.amount)) == (ONE, pytest.approx(factor, rel=1e-9))
    assert found.factor.uncertainty == 0


def test_a_corner_with_a_larger_radius_is_eased_and_not_cured() -> None:
    # Closed form: 21.0 before, 6.16 after, 29.4 % of the stress stays.
    found = radius_gain(q("20 mm"), q("0.2 mm"), q("3 mm"), SOUND)
    assert float(found.before.amount) == pytest.approx(21.0)
    assert float(found.after.amount) == pytest.approx(6.164, abs=5e-4)
    assert float(found.share.amount) == pytest.approx(100 * (1 + 2 * math.sqrt(20 / 3)) / 21, rel=1e-9)
    assert found.after.amount > 1


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
def test_the_doubt_of_a_factor_agrees_with_the_uncertainties_library() -> None:
    import uncertainties
    from uncertainties import umath
    a, now = uncertainties.ufloat(20, 0.5), uncertainties.ufloat(2, 0.05)
    before, after = 1 + 2 * umath.sqrt(a / now), 1 + 2 * umath.sqrt(a / 6)
    found = radius_gain(q("20 ± 0.5 mm"), q("2 ± 0.05 mm"), q("6 mm"), SOUND)
    single = notch(q("20 ± 0.5 mm"), q("2 ± 0.05 mm"), SOUND)
    assert doubt(single.factor) == doubt(found.before) == pytest.approx(before.std_dev, rel=0.03)
    assert doubt(found.after) == pytest.approx(after.std_dev, rel=0.03)
    # The depth is in both factors and mostly falls out of their ratio.
    assert doubt(found.share) == pytest.approx((100 * after / before).std_dev, rel=0.03)


def test_a_steel_feels_a_notch_as_the_textbook_works_it_out() -> None:
    # Shigley, example 6-6, as worked in a published sheet: 690 MPa, which it takes as 100.1451 kpsi, r 3 mm,
    # Kt 1.65 -> q 0.8468, Kf 1.55.
    found = felt("100145.1 psi")
    assert float(found.sensitivity.amount) == pytest.approx(0.8468, abs=5e-5)
    assert float(found.fatigue_factor.amount) == pytest.approx(1.55, abs=5e-3)


@pytest.mark.parametrize("strength", [345, 430, 690, 1000, 1400, 1700])
@pytest.mark.parametrize("radius", [0.2, 1.0, 3.0])
def test_the_inch_formula_agrees_with_the_metric_fit_of_a_later_edition(strength: int, radius: float) -> None:
    # √a in √mm = 1.24 − 2.25e-3 S + 1.60e-6 S² − 4.11e-10 S³, S in MPa: Shigley, 11th edition, as kept in public
    # code, where it stands rounded to three digits.
    root = 1.24 - 2.25e-3 * strength + 1.60e-6 * strength**2 - 4.11e-10 * strength**3
    expected = 1 / (1 + root / math.sqrt(radius))
    found = felt(f"{strength} MPa", f"{radius} mm")
    assert float(found.sensitivity.amount) == pytest.approx(expected, rel=0.02)


def test_a_better_radius_helps_a_soft_steel_by_about_half() -> None:
    # Worked apart: 400 MPa, Kt 21.0 at 0.2 mm -> Kf 9.8; Kt 6.16 at 3 mm -> Kf 4.9.
    sharp, eased = felt("400 MPa", "0.2 mm", "21.0"), felt("400 MPa", "3 mm", "6.164")
    assert float(sharp.fatigue_factor.amount) == pytest.approx(9.8, abs=0.05)
    assert float(eased.fatigue_factor.amount) == pytest.approx(4.9, abs=0.05)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
def test_the_doubt_of_the_fatigue_factor_agrees_with_the_uncertainties_library() -> None:
    import uncertainties
    from uncertainties import umath
    s = uncertainties.ufloat(430, 10) / 6.894757293168361  # kpsi
    r, kt = uncertainties.ufloat(3, 0.1) / 25.4, uncertainties.ufloat(6.2, 0.2)
    sensitivity = 1 / (1 + (0.246 - 3.08e-3 * s + 1.51e-5 * s**2 - 2.67e-8 * s**3) / umath.sqrt(r))
    expected = 1 + sensitivity * (kt - 1)
    found = felt("430 ± 10 MPa", "3 ± 0.1 mm", "6.2 ± 0.2")
    assert float(found.sensitivity.amount) == pytest.approx(sensitivity.nominal_value, rel=1e-6)
    assert doubt(found.sensitivity) == pytest.approx(sensitivity.std_dev, rel=0.03)
    assert float(found.fatigue_factor.amount) == pytest.approx(expected.nominal_value, rel=1e-6)
    assert doubt(found.fatigue_factor) == pytest.approx(expected.std_dev, rel=0.03)


def test_inches_rank_a_corner_alike() -> None:
    inches, metric = notch(q("1 in"), q("1/8 in"), SOUND), notch(q("25.4 mm"), q("3.175 mm"), SOUND)
    assert float(inches.factor.amount) == pytest.approx(float(metric.factor.amount), rel=1e-12)
    psi, mpa = felt("100000 psi"), felt("689.475729316836 MPa")
    assert float(psi.fatigue_factor.amount) == pytest.approx(float(mpa.fatigue_factor.amount), rel=1e-12)


def test_an_unstated_radius_gives_an_unstated_factor() -> None:
    vague = q("3 mm", exact=False)
    assert notch(q("20 ± 0.5 mm"), vague, SOUND).factor.uncertainty is None
    gain = radius_gain(q("20 ± 0.5 mm"), vague, q("6 mm"), SOUND)
    assert gain.before.uncertainty is gain.share.uncertainty is None
    assert doubt(gain.after) > 0
    found = notch_sensitivity("mild-steel", q("430 ± 10 MPa", "MPa"), vague, q("6.2 ± 0.2", ONE), SOUND)
    assert found.sensitivity.uncertainty is found.fatigue_factor.uncertainty is None


@pytest.mark.parametrize(
    ("role", "whom"),
    [
        (None, "competent engineer"),
        ("pressure", "pressure examiner"),
        ("lifting", "lifting examiner"),
        ("structure", "structural engineer"),
        ("rotating", "competent engineer"),
        ("other", "competent engineer"),
    ],
)
def test_every_corner_is_referred_to_someone(role: str | None, whom: str) -> None:
    assert notch(q("20 mm"), q("3 mm"), SOUND, role).refer == whom
    assert radius_gain(q("20 mm"), q("3 mm"), q("6 mm"), SOUND, role).refer == whom
    strength, factor = q("690 MPa", "MPa"), q("1.65 1", ONE)
    assert notch_sensitivity("alloy-steel", strength, q("3 mm"), factor, SOUND, role).refer == whom


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: notch(q("20 mm"), q("3 mm"), "found"), "A crack was found: stop"),
        (lambda: notch(q("20 mm"), q("3 mm"), "not-looked-for"), "Nobody has looked"),
        (lambda: radius_gain(q("20 mm"), q("1 mm"), q("3 mm"), "found"), "A crack was found: stop"),
        (lambda: notch(q("20 mm"), q("0.09 mm"), SOUND), "counts as a crack"),
        (lambda: notch(q("20 mm"), q("0.2 ± 0.15 mm"), SOUND), "counts as a crack"),
        (lambda: notch(q("0 mm"), q("3 mm"), SOUND), "depth of the notch"),
        (lambda: notch(q("0.1 ± 0.2 mm"), q("3 mm"), SOUND), "depth of the notch"),
        (lambda: notch(q("20 mm"), q("3 kg", "kg"), SOUND), "cannot be told"),
        (lambda: radius_gain(q("20 mm"), q("3 mm"), q("3 mm"), SOUND), "must get larger"),
        (lambda: radius_gain(q("20 mm"), q("3 mm"), q("2 mm"), SOUND), "must get larger"),
        (lambda: felt(steel="grey-cast-iron"), "not for grey-cast-iron"),
        (lambda: felt(steel="wrought-iron"), "not for wrought-iron"),
        (lambda: felt("344 MPa"), "345 to 1700 MPa"),
        (lambda: felt("350 ± 10 MPa"), "345 to 1700 MPa"),
        (lambda: felt("1695 ± 10 MPa"), "345 to 1700 MPa"),
        (lambda: felt(factor="0.9"), "1 or more"),
        (lambda: felt(factor="1.1 ± 0.2"), "1 or more"),
        (lambda: felt(radius="0.05 mm"), "counts as a crack"),
    ],
)
def test_what_cannot_be_ranked_is_refused_in_a_sentence(attempt: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words) as refused:
        attempt()
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize("name", ["notch", "radius-gain", "notch-sensitivity"])
def test_every_ranking_comes_with_a_referral_and_cautions_and_nothing_passes_it(name: str) -> None:
    found = calculation_named(name)
    assert found is not None
    assert found.gives[-1].name == "refer"
    assert all(answer.unit for answer in found.gives[:-1])
    assert found.cautions


def test_a_new_radius_is_told_to_cost_fabric() -> None:
    found = calculation_named("radius-gain")
    assert found is not None and any("fabric" in caution for caution in found.cautions)
