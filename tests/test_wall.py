"""Walls that may hold pressure, and the pits in them."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from helpers import amount, doubt
from scipy import stats

from conserve.calculation import Reading, calculation_named
from conserve.calculation.pits import deepest_pit
from conserve.calculation.wall import barlow, remaining_wall, thinning
from conserve.quantity import Quantity, parse_quantity, show

EXAMINER = "pressure examiner"
BLOCKS = [1.1, 0.8, 1.6, 1.3, 2.9, 1.0, 1.9, 0.7, 1.4, 2.2, 1.2, 0.9, 1.7, 1.5, 1.1, 2.0, 0.6, 1.3, 1.0, 1.5]
WHOLE = 60
VARIATE = -math.log(-math.log(1 - 1 / WHOLE))


def q(text: str, unit: str = "mm", exact: bool = True) -> Quantity:
    return parse_quantity(text, unit, exact=exact)


def readings(*texts: str, instrument: str = "", shared: str = "") -> tuple[Reading, ...]:
    bias = q(shared) if shared else None
    return tuple(Reading(q(text, exact=False), instrument=instrument, shared=bias) for text in texts)


def pits(spread: str = "0 mm", depths: list[float] = BLOCKS) -> tuple[Reading, ...]:
    return readings(*(f"{depth} mm ± {spread}" for depth in depths))


def fitted(sample: np.ndarray, axis: int = -1) -> tuple[np.ndarray, np.ndarray]:
    """Gumbel's location and scale from SciPy's own L-moments (Hosking 1990)."""
    scale = stats.lmoment(sample, order=2, axis=axis) / math.log(2)
    return stats.lmoment(sample, order=1, axis=axis) - np.euler_gamma * scale, scale


def fitted_fast(samples: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The same for many samples at once, by Gini's mean difference, which is twice the second L-moment."""
    count = samples.shape[1]
    ranks = 2 * np.arange(1, count + 1) - count - 1
    scale = (np.sort(samples, axis=1) * ranks).sum(axis=1) / (count * (count - 1)) / math.log(2)
    return samples.mean(axis=1) - np.euler_gamma * scale, scale


# what is left


def test_the_deepest_pit_is_taken_off_the_least_wall() -> None:
    # By hand: a wall of 12.7 mm with pits to 2.9 mm leaves 9.8 mm, 77.2 % of half an inch.
    found = remaining_wall(
        readings("12.9 ± 0.2 mm", "12.7 ± 0.2 mm"), readings("1.1 ± 0.05 mm", "2.9 ± 0.05 mm"), q("1/2 in")
    )
    assert amount(found.left) == pytest.approx(9.8)
    assert amount(found.share) == pytest.approx(100 * 9.8 / 12.7)
    assert found.refer == EXAMINER


def test_what_is_left_is_as_doubtful_as_the_wall_and_the_pit_together() -> None:
    # Law of propagation, JCGM 100, 5.1.2: hypot(0.2, 0.05).
    found = remaining_wall(readings("12.7 ± 0.2 mm"), readings("2.9 ± 0.05 mm"), q("12.7 mm"))
    assert doubt(found.left) == pytest.approx(math.hypot(0.2, 0.05))
    assert doubt(found.share) == pytest.approx(100 * math.hypot(0.2, 0.05) / 12.7)


def test_without_pits_the_least_wall_is_left_and_without_a_nominal_there_is_no_share() -> None:
    found = remaining_wall(readings("12.7 ± 0.2 mm", "11.9 ± 0.1 mm"))
    assert show(found.left) == "11.9 ± 0.1 mm"
    assert found.share is None
    assert found.refer == EXAMINER


def test_one_gauge_for_wall_and_pit_does_not_make_the_difference_exact() -> None:
    found = remaining_wall(
        readings("12.7 ± 0.2 mm", instrument="gauge"), readings("2.9 ± 0.2 mm", instrument="gauge")
    )
    assert doubt(found.left) >= math.hypot(0.2, 0.2) - 1e-9


def test_what_a_gauge_shares_falls_out_of_the_difference_where_somebody_said_so() -> None:
    # JCGM 100, 5.2: the shared 0.16 goes, sqrt(0.2² - 0.16²) = 0.12 stays of each.
    gauge = {"instrument": "gauge", "shared": "0.16 mm"}
    found = remaining_wall(readings("12.7 ± 0.2 mm", **gauge), readings("2.9 ± 0.2 mm", **gauge))
    assert doubt(found.left) == pytest.approx(math.hypot(0.12, 0.12))


def test_an_unstated_doubt_of_a_wall_stays_unstated() -> None:
    found = remaining_wall(readings("12.7 mm"), readings("2.9 ± 0.05 mm"), q("12.7 mm"))
    assert found.left.uncertainty is None
    assert found.share is not None and found.share.uncertainty is None


def test_inches_leave_the_same_wall() -> None:
    inches = remaining_wall(readings("0.5 ± 0.01 in"), readings("0.1 ± 0.002 in"))
    metric = remaining_wall(readings("12.7 ± 0.254 mm"), readings("2.54 ± 0.0508 mm"))
    assert amount(inches.left) == pytest.approx(amount(metric.left))
    assert doubt(inches.left) == pytest.approx(doubt(metric.left))


# the deepest pit


def test_the_expected_pit_is_the_return_value_of_gumbels_distribution() -> None:
    # SciPy: L-moments by stats.lmoment, the quantile by stats.gumbel_r.
    location, scale = fitted(np.array(BLOCKS))
    found = deepest_pit(pits(), WHOLE)
    assert amount(found.expected) == pytest.approx(stats.gumbel_r.ppf(1 - 1 / WHOLE, location, scale), rel=1e-9)
    seldom = stats.gumbel_r.ppf(0.95 ** (1 / WHOLE), location, scale)
    assert amount(found.one_in_twenty) == pytest.approx(seldom, rel=1e-9)
    assert found.refer == EXAMINER


def test_l_moments_agree_with_likelihood_as_far_as_twenty_blocks_allow() -> None:
    # SciPy's maximum likelihood fit is another estimator: 15 % for so few blocks.
    location, scale = stats.gumbel_r.fit(BLOCKS)
    expected = stats.gumbel_r.ppf(1 - 1 / WHOLE, location, scale)
    assert amount(deepest_pit(pits(), WHOLE).expected) == pytest.approx(expected, rel=0.15)


def test_the_upper_bound_agrees_with_scipys_bootstrap() -> None:
    def deepest(sample: np.ndarray, axis: int = -1) -> np.ndarray:
        location, scale = fitted(sample, axis)
        return location + VARIATE * scale

    drawn = stats.bootstrap(
        (np.array(BLOCKS),), deepest, vectorized=True, confidence_level=0.9, n_resamples=4000, method="BCa",
        rng=np.random.default_rng(5),
    )  # fmt: skip
    found = deepest_pit(pits(), WHOLE)
    assert amount(found.upper) == pytest.approx(drawn.confidence_interval.high, rel=0.05)
    assert doubt(found.expected) / 2 == pytest.approx(drawn.standard_error, rel=0.15)


@pytest.mark.parametrize(("count", "whole"), [(15, 60), (20, 60), (20, 500), (40, 400)])
def test_the_upper_bound_holds_nineteen_times_in_twenty(count: int, whole: int) -> None:
    # Drawn at random with NumPy. Location and scale of a sample shift and stretch with it, so how many scales
    # the bound lies above the location depends only on the counts, and one call tells it for every sample.
    generator = np.random.default_rng(1868)
    sample = 1 + generator.gumbel(size=count).round(4) * 0.1
    found = deepest_pit(pits(depths=[float(round(depth, 6)) for depth in sample]), whole)
    location, scale = fitted(np.round(sample, 6))
    factor = (amount(found.upper) - location) / scale
    locations, scales = fitted_fast(generator.gumbel(size=(40_000, count)))
    true = stats.gumbel_r.ppf(1 - 1 / whole)
    assert 0.95 <= (locations + factor * scales >= true).mean() <= 0.975


def test_the_scatter_of_the_fit_is_the_one_that_drawing_at_random_gives() -> None:
    # NumPy, 20 000 samples of 400 blocks: n times the variances and the covariance of location and scale fitted
    # to a distribution of scale one. The ± at three sizes of surface tells those that were used:
    # n u²/β² = v(location) + 2 cov y + v(scale) y².
    count, wholes = 400, (20, 100, 500)
    drawn = fitted_fast(np.random.default_rng(7).gumbel(size=(20_000, count)))
    covariance = count * np.cov(np.array(drawn))
    _, scale = fitted(np.array(BLOCKS))
    variates = [-math.log(-math.log(1 - 1 / whole)) for whole in wholes]
    told = [20 * (doubt(deepest_pit(pits(), whole).expected) / 2 / scale) ** 2 for whole in wholes]
    location, both, spread = np.linalg.solve([[1, 2 * y, y * y] for y in variates], told)
    assert location == pytest.approx(covariance[0, 0], rel=0.04)
    assert both == pytest.approx(covariance[0, 1], abs=0.02)
    assert spread == pytest.approx(covariance[1, 1], rel=0.04)


def test_the_deepest_pit_of_all_passes_the_expected_depth_two_times_in_three() -> None:
    # Closed form: 1 − (1 − 1/T)^T, about 1 − 1/e; and drawn with NumPy as the deepest of 60 blocks.
    location, scale = fitted(np.array(BLOCKS))
    found = deepest_pit(pits(), WHOLE)
    deepest = np.random.default_rng(3).gumbel(location, scale, size=(40_000, WHOLE)).max(axis=1)
    assert (deepest > amount(found.expected)).mean() == pytest.approx(1 - (1 - 1 / WHOLE) ** WHOLE, abs=0.01)
    assert (deepest > amount(found.one_in_twenty)).mean() == pytest.approx(0.05, abs=0.005)


def test_more_blocks_make_a_deeper_pit() -> None:
    few, many = deepest_pit(pits(), 60), deepest_pit(pits(), 500)
    assert few.expected.amount < few.upper.amount < many.upper.amount
    assert few.expected.amount < many.expected.amount < many.one_in_twenty.amount


def test_no_estimate_is_shallower_than_the_deepest_pit_seen() -> None:
    deep = [*BLOCKS[:-1], 6.0]
    assert amount(deepest_pit(pits(depths=deep), 20).expected) == 6.0


def test_doubtful_readings_make_a_more_doubtful_pit_and_unstated_ones_an_unstated_one() -> None:
    plain, rough = deepest_pit(pits(), WHOLE), deepest_pit(pits("0.4 mm"), WHOLE)
    assert doubt(rough.expected) > doubt(plain.expected) > 0
    assert doubt(plain.upper) == 0 < doubt(rough.upper)
    unstated = deepest_pit(readings(*(f"{depth} mm" for depth in BLOCKS)), WHOLE)
    assert unstated.expected.uncertainty is unstated.upper.uncertainty is unstated.one_in_twenty.uncertainty is None


def test_pits_in_thou_give_the_same_estimate() -> None:
    inches = deepest_pit(readings(*(f"{depth * 100:.0f} thou ± 2 thou" for depth in BLOCKS)), WHOLE)
    metric = deepest_pit(readings(*(f"{depth * 2.54:.4f} mm ± 0.0508 mm" for depth in BLOCKS)), WHOLE)
    assert amount(inches.upper) == pytest.approx(amount(metric.upper), rel=1e-9)
    assert doubt(inches.expected) == pytest.approx(doubt(metric.expected), rel=1e-9)


# Barlow


def test_barlow_gives_the_published_thickness() -> None:
    # Published worked example of a pipe calculator's page: 1000 psi, 10 in, 20000 psi -> 0.25 in, 6.35 mm.
    found = barlow(q("1000 psi", "MPa"), q("10 in"), q("20000 psi", "MPa"))
    assert amount(found.thickness) == pytest.approx(6.35)
    assert found.thickness.uncertainty == 0
    assert found.refer == EXAMINER


@pytest.mark.parametrize(("ratio", "excess"), [(0.02, 2.0), (0.05, 5.0), (0.1, 9.8), (0.2, 17.6)])
def test_barlow_is_more_careful_than_lame(ratio: float, excess: float) -> None:
    # Closed form: Lamé's hoop stress at the bore, p (D² + d²) / (D² − d²), of the wall that Barlow gives.
    pressure, outside = 200 * ratio, 100.0
    thickness = amount(barlow(q(f"{pressure} MPa", "MPa"), q("100 mm"), q("100 MPa", "MPa")).thickness)
    inside = outside - 2 * thickness
    lame = pressure * (outside**2 + inside**2) / (outside**2 - inside**2)
    assert 100 * (100 / lame - 1) == pytest.approx(excess, abs=0.05)


def test_an_unstated_diameter_gives_an_unstated_thickness() -> None:
    found = barlow(q("0.7 MPa", "MPa"), q("762 mm", exact=False), q("60 MPa", "MPa"))
    assert show(found.thickness) == "4.445 mm (± not stated)"


# thinning


def test_the_long_term_rate_is_the_published_one() -> None:
    # Published inspection sheet after API 570: (7.8 − 3.24) mm in 15 years, 0.304 mm a year.
    found = thinning(q("7.8 mm"), q("3.24 mm"), q("15 year", "year"))
    assert amount(found.long_term) == pytest.approx(0.304)
    assert found.short_term is None
    assert found.refer == EXAMINER


def test_the_short_term_rate_is_told_beside_the_long_one() -> None:
    # By hand: 0.8 mm in 20 years; 0.2 mm in 5 years; doubts hypot(0.2, 0.2) over the years (JCGM 100, 5.1.2).
    found = thinning(
        q("12.7 ± 0.2 mm"), q("11.9 ± 0.2 mm"), q("20 year", "year"), q("12.2 ± 0.2 mm"), q("5 year", "year")
    )
    assert (amount(found.long_term), amount(found.short_term)) == pytest.approx((0.04, 0.06))
    assert doubt(found.long_term) == pytest.approx(math.hypot(0.2, 0.2) / 20)
    assert doubt(found.short_term) == pytest.approx(math.hypot(0.2, 0.2) / 5)


def test_a_wall_that_may_not_have_thinned_gives_a_rate_about_zero() -> None:
    found = thinning(q("12.0 ± 0.2 mm"), q("12.1 ± 0.2 mm"), q("5 year", "year"))
    assert amount(found.long_term) < 0 < amount(found.long_term) + doubt(found.long_term)


def test_an_unstated_thickness_gives_an_unstated_rate() -> None:
    assert thinning(q("12.7 mm", exact=False), q("11.9 ± 0.2 mm"), q("20 year", "year")).long_term.uncertainty is None


def test_hours_and_inches_give_the_same_rate() -> None:
    hours = thinning(q("0.5 in"), q("0.4 in"), q("87660 h", "year"))  # ten years of 365.25 days
    assert amount(hours.long_term) == pytest.approx(0.254)


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: remaining_wall(()), "reading of the wall"),
        (lambda: remaining_wall(readings("0 ± 0.1 mm")), "wall is 0"),
        (lambda: remaining_wall(readings("0.1 ± 0.2 mm")), "above zero by more than its ±"),
        (lambda: remaining_wall(readings("12 ± 0.1 mm"), readings("-1 ± 0.1 mm")), "depth of a pit"),
        (lambda: remaining_wall(readings("3 ± 0.1 mm"), readings("3 ± 0.1 mm")), "stop, and refer it to a pressure"),
        (lambda: remaining_wall(readings("3 ± 0.1 mm"), (), q("0 mm")), "nominal thickness is 0 mm"),
        (lambda: remaining_wall(readings("3 ± 0.1 mm"), (), q("1 kg", "kg")), "cannot be told"),
        (lambda: deepest_pit(pits(depths=BLOCKS[:14]), WHOLE), "15 blocks or more"),
        (lambda: deepest_pit(pits(depths=[1.5] * 20), WHOLE), "are alike"),
        (lambda: deepest_pit(pits(depths=[*BLOCKS, 0.0]), WHOLE), "depth of a pit"),
        (lambda: deepest_pit(pits(), 19), "between 20 and 500"),
        (lambda: deepest_pit(pits(depths=BLOCKS * 2), 501), "between 40 and 500"),
        (lambda: barlow(q("0 MPa", "MPa"), q("762 mm"), q("60 MPa", "MPa")), "pressure is 0"),
        (lambda: barlow(q("0.7 MPa", "MPa"), q("1 ± 2 mm"), q("60 MPa", "MPa")), "outside diameter"),
        (lambda: barlow(q("0.7 MPa", "MPa"), q("762 mm"), q("0 MPa", "MPa")), "stress is 0"),
        (lambda: barlow(q("30 MPa", "MPa"), q("762 mm"), q("60 MPa", "MPa")), "used here to 0.2"),
        (lambda: barlow(q("23 ± 2 MPa", "MPa"), q("762 mm"), q("60 MPa", "MPa")), "used here to 0.2"),
        (lambda: thinning(q("12 ± 0.1 mm"), q("13 ± 0.1 mm"), q("5 year", "year")), "got thicker"),
        (lambda: thinning(q("12 mm"), q("11 mm"), q("0 year", "year")), "time between is 0"),
        (lambda: thinning(q("12 mm"), q("0.1 ± 0.2 mm"), q("5 year", "year")), "thickness now"),
        (lambda: thinning(q("12 mm"), q("11 mm"), q("5 year", "year"), q("11.5 mm")), "go together"),
        (lambda: thinning(q("12 mm"), q("11 mm"), q("5 year", "year"), None, q("1 year", "year")), "go together"),
        (lambda: thinning(q("12 mm"), q("11 mm"), q("5 year", "year"), q("11.5 mm"), q("6 year", "year")), "older"),
    ],
)
def test_what_cannot_be_reckoned_is_refused_in_a_sentence(attempt: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words) as refused:
        attempt()
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize("name", ["remaining-wall", "deepest-pit", "barlow", "thinning"])
def test_every_number_about_a_wall_comes_with_a_referral_and_cautions_and_nothing_passes_it(name: str) -> None:
    found = calculation_named(name)
    assert found is not None
    assert found.gives[-1].name == "refer"
    assert all(answer.unit for answer in found.gives[:-1])  # numbers only: no yes, no verdict
    assert any("certifies nothing" in caution for caution in found.cautions)
