from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from random import Random

import pytest
from helpers import doubt

from conserve.calculation.journals import eccentric_wear, ovality, sizes, taper
from conserve.calculation.propagation import Reading
from conserve.calculation.readings import least
from conserve.quantity import Quantity, parse_quantity, show


def read(text: str, instrument: str = "", shared: str = "", exact: bool = True) -> tuple[Reading, ...]:
    """`A@0 63.31 ± 0.01 mm; ...` as readings; the plane or the whole place may be left out."""
    found = []
    for one in text.split(";"):
        place, _, size = one.strip().rpartition("|") if "|" in one else ("", "", one.strip())
        plane, _, angle = place.partition("@")
        value = parse_quantity(size.strip(), "mm", exact=exact)
        bias = parse_quantity(shared, "mm", exact=True) if shared else None
        found.append(Reading(value, plane, Decimal(angle) if angle else None, instrument, bias))
    return tuple(found)


def around(size: Callable[[float], float], angles: tuple[float, ...], u: str = "0.01", plane: str = "A", **named: object):
    """Readings of a shape at angles, six decimals."""
    told = (f"{plane}@{angle}|{size(math.radians(angle)):.6f} ± {u} mm" for angle in angles)
    return read("; ".join(told), **named)


# A journal of 63.5 mm worn to 63.31 by 63.42 mm, greatest at 93 degrees: a worked example (derived).
WORN = "A@0|63.31 ± 0.01 mm; A@45|63.36 ± 0.01 mm; A@90|63.42 ± 0.01 mm; A@135|63.37 ± 0.01 mm"


# diameters


def test_the_least_the_greatest_and_the_mean_are_those_worked_by_hand():
    found = sizes(read(WORN))
    assert [q.amount for q in found] == [Decimal("63.31"), Decimal("63.42"), Decimal("63.365")]
    assert {q.unit for q in found} == {"mm"}


def test_what_readings_share_stays_whole_in_their_mean():
    # Closed form, and the library `uncertainties` with the bias as one variable: U² = shared² + own² / n.
    import uncertainties
    found = sizes(read(WORN, "micrometer", "0.008 mm")).mean
    assert doubt(found) == pytest.approx(math.sqrt(0.008**2 + 0.006**2 / 4), rel=1e-12)
    bias = uncertainties.ufloat(0, 0.008)
    mean = sum(uncertainties.ufloat(d, 0.006) + bias for d in (63.31, 63.36, 63.42, 63.37)) / 4
    assert doubt(found) == pytest.approx(mean.std_dev, rel=1e-9)


def test_a_mean_of_readings_of_which_nobody_knows_what_they_share_is_no_surer_than_one():
    assert sizes(read(WORN)).mean.uncertainty == Decimal("0.01")
    assert sizes(read(WORN, "micrometer")).mean.uncertainty == Decimal("0.01")


def test_a_least_reading_that_stands_alone_keeps_its_own_uncertainty():
    assert sizes(read("50.00 ± 0.01 mm; 50.30 ± 0.02 mm; 50.31 ± 0.02 mm")).least.uncertainty == Decimal("0.01")


def test_a_vague_reading_that_may_be_less_makes_the_least_one_vaguer():
    # scipy: two readings hold at once, as often as one within k = 2; the vague one then reaches furthest below.
    from scipy import stats
    found = sizes(read("50.00 ± 0.01 mm; 50.02 ± 0.10 mm")).least
    assert found.amount == 50
    assert doubt(found) == pytest.approx(0.10 * stats.norm.isf(stats.norm.sf(2) / 2) / 2 - 0.02, rel=1e-9)


def test_like_readings_widen_their_extreme_by_the_inequality_of_bonferroni():
    # scipy: the quantile at which twelve errors stay within at once with the probability of k = 2.
    from scipy import stats
    found = sizes(read("; ".join(["50.00 ± 0.01 mm"] * 12)))
    beyond = stats.norm.sf(2) / 12
    assert doubt(found.least) == pytest.approx(0.01 * stats.norm.isf(beyond) / 2, rel=1e-9)
    assert found.least == found.greatest


def test_the_least_of_twelve_readings_of_a_round_journal_covers_its_size_as_often_as_it_says():
    random, hits, bare = Random(1871), 0, 0
    for _ in range(1500):
        values = [Quantity(Decimal(f"{random.gauss(50, 0.005):.6f}"), Decimal("0.01"), "mm") for _ in range(12)]
        found = least([Reading(value, instrument="gauge", shared=Quantity(Decimal(0), Decimal(0), "mm")) for value in values])
        off = abs(float(found.value.amount) - 50)
        hits, bare = hits + (off <= doubt(found.value)), bare + (off <= 0.01)
    assert 0.95 <= hits / 1500 < 0.995
    assert bare / 1500 < 0.85  # the ± of a single reading would claim too much


def test_what_is_all_shared_does_not_widen_an_extreme():
    text = "; ".join(["50.00 ± 0.01 mm"] * 12)
    assert sizes(read(text, "micrometer", "0.01 mm")).least.uncertainty == Decimal("0.01")


def test_one_unstated_uncertainty_leaves_all_three_unstated():
    vague = read("50.30 mm", exact=False)
    assert [q.uncertainty for q in sizes((*read("50.00 ± 0.01 mm"), *vague))] == [None, None, None]


def test_inches_and_millimetres_are_told_alike():
    assert sizes(read("2 in ± 0.001 in; 2 1/8 in ± 0.001 in")) == sizes(read("50.8 ± 0.0254 mm; 53.975 ± 0.0254 mm"))


# ovality


def test_the_worked_journal_is_oval_by_eleven_hundredths_at_93_degrees():
    found = ovality(read(WORN))
    assert found.axis is not None
    assert (round(float(found.ovality.amount), 2), round(float(found.axis.amount)), found.plane) == (0.11, 93, "A")


@pytest.mark.parametrize("angles", [(0, 60, 120), (0, 45, 90, 135), (10, 35, 80, 100, 171), (-20, 200, 30, 75)])
def test_ovality_and_axis_agree_with_least_squares_and_propagation_by_libraries(angles: tuple[float, ...]):
    # numpy.linalg.lstsq for the fit, `uncertainties` for the spread.
    import numpy
    import uncertainties
    from uncertainties import umath
    random = Random(sum(map(int, angles)))
    readings = around(lambda t: 63.3 + 0.06 * math.cos(2 * t - 1) + random.uniform(-0.01, 0.01), angles, "0.0004",
                      instrument="gauge", shared="0 mm")  # fmt: skip
    design = numpy.array([[1, math.cos(math.radians(2 * t)), math.sin(math.radians(2 * t))] for t in angles])
    seen = [uncertainties.ufloat(float(r.value.amount), 0.0004) for r in readings]
    weights = numpy.linalg.lstsq(design, numpy.eye(len(angles)), rcond=None)[0]
    a, b = (sum(w * d for w, d in zip(row, seen, strict=True)) for row in weights[1:])
    expected, axis = 2 * umath.sqrt(a**2 + b**2), umath.atan2(b, a) * 90 / math.pi
    found = ovality(readings)
    assert found.axis is not None
    assert float(found.ovality.amount) == pytest.approx(expected.nominal_value, rel=1e-9)
    assert doubt(found.ovality) == pytest.approx(expected.std_dev, rel=0.02)
    assert float(found.axis.amount) == pytest.approx(axis.nominal_value % 180, rel=1e-9)
    assert doubt(found.axis) == pytest.approx(axis.std_dev, rel=0.02)


@pytest.mark.parametrize("axis", [0, 0.2, 90, 179.9])
def test_an_axis_near_half_a_turn_is_no_less_certain_than_another(axis: float):
    # Closed form: an oval read without error gives back its axis; U = U(b) / 2A, U(b) = u √(2/n).
    found = ovality(around(lambda t: 50 + 0.5 * math.cos(2 * (t - math.radians(axis))), (0, 45, 90, 135), "0.002",
                           instrument="gauge", shared="0 mm")).axis  # fmt: skip
    assert found is not None
    off = (float(found.amount) - axis + 90) % 180 - 90
    assert off == pytest.approx(0, abs=1e-3) and 0 <= found.amount < 180
    assert doubt(found) == pytest.approx(math.degrees(0.002 * math.sqrt(2 / 4) / (2 * 0.5)), rel=0.01)


def test_what_readings_share_falls_out_of_ovality():
    alone, alike = (ovality(read(WORN, "micrometer", shared)).ovality for shared in ("0 mm", "0.01 mm"))
    assert alike.uncertainty == 0
    assert alike.amount == alone.amount
    assert doubt(alone) > 0.01


def test_an_instrument_of_which_nobody_said_what_it_shares_does_not_make_ovality_exact():
    assert doubt(ovality(read(WORN, "micrometer")).ovality) == doubt(ovality(read(WORN)).ovality) > 0.01


def test_a_round_journal_has_no_ovality_and_no_axis():
    for u in ("0", "0.01"):
        found = ovality(around(lambda t: 63.31, (0, 50, 100, 150), u))
        assert found.ovality.amount == 0 and found.axis is None


def test_an_ovality_within_its_uncertainty_has_no_axis():
    assert ovality(around(lambda t: 63.31 + 0.003 * math.cos(2 * t), (0, 45, 90, 135), "0.01")).axis is None


def test_an_ovality_whose_uncertainty_is_not_stated_has_no_axis():
    found = ovality(read("@0|63.31 mm; @45|63.36 mm; @90|63.42 mm; @135|63.37 mm", exact=False))
    assert (found.ovality.uncertainty, found.axis, found.plane) == (None, None, None)


def test_a_three_lobed_journal_is_out_of_round_and_its_diameters_do_not_show_it():
    # Closed form: a curve of support h = R + A cos 3θ has the width h(θ) + h(θ + π) = 2R in every direction,
    # while its points lie between R - A and R + A from the middle. The width is taken from points of the
    # curve here, as a micrometer with flat faces takes it.
    middle, lobe = 31.75, 0.015
    points = []
    for step in range(3600):
        t = step * math.pi / 1800
        h, dh = middle + lobe * math.cos(3 * t), -3 * lobe * math.sin(3 * t)
        points.append((h * math.cos(t) - dh * math.sin(t), h * math.sin(t) + dh * math.cos(t)))
    radii = [math.hypot(*point) for point in points]
    assert max(radii) - min(radii) == pytest.approx(0.030, abs=1e-4)

    def width(t: float) -> float:
        along = [x * math.cos(t) + y * math.sin(t) for x, y in points]
        return max(along) - min(along)

    readings = around(width, (0, 20, 45, 70, 90, 110, 135, 160), "0.001")
    found, told = ovality(readings), sizes(readings)
    assert told.greatest.amount - told.least.amount < Decimal("0.0001")
    assert found.ovality.amount < Decimal("0.0001") and found.axis is None


def test_the_worst_plane_is_told():
    other = "B@0|63.30 ± 0.01 mm; B@60|63.31 ± 0.01 mm; B@120|63.30 ± 0.01 mm"
    found = ovality(read(f"{other}; {WORN}"))
    assert (found.plane, found.ovality.amount) == ("A", ovality(read(WORN)).ovality.amount)


def test_a_plane_with_two_angles_may_be_the_worst_and_is_not_passed_over():
    with pytest.raises(ValueError, match="plane C has 2") as refused:
        ovality(read(f"{WORN}; C@0|60 ± 0.01 mm; C@90|64 ± 0.01 mm"))
    assert str(refused.value).endswith(".")


# taper


def test_taper_is_the_difference_of_plane_means_worked_by_hand():
    found = taper(read("A@0|50.02 ± 0.01 mm; A@90|50.00 ± 0.01 mm; M@0|49.99 ± 0.01 mm; M@90|49.97 ± 0.01 mm;"
                       "B@180|49.95 ± 0.01 mm; B@-90|49.93 ± 0.01 mm"))  # fmt: skip
    assert (found.taper.amount, found.thin_plane) == (Decimal("0.07"), "B")
    # Closed form: two means of two independent readings, U = √(2 × 0.01² / 2).
    assert doubt(found.taper) == pytest.approx(0.01, rel=1e-12)


def test_what_readings_share_falls_out_of_taper():
    # The library `uncertainties`, with the bias as one variable, sees it fall out too.
    import uncertainties
    bias = uncertainties.ufloat(0, 0.008)
    a, b, c, d = (uncertainties.ufloat(x, 0.006) + bias for x in (50.02, 50.00, 49.95, 49.93))
    text = "A@0|50.02 ± 0.01 mm; A@90|50.00 ± 0.01 mm; B@0|49.95 ± 0.01 mm; B@90|49.93 ± 0.01 mm"
    assert doubt(taper(read(text, "micrometer", "0.008 mm")).taper) == pytest.approx(((a + b - c - d) / 2).std_dev, rel=1e-9)


def test_a_taper_within_its_uncertainty_has_no_thin_plane():
    assert taper(read("A@0|50.00 ± 0.01 mm; B@0|50.01 ± 0.01 mm")).thin_plane is None
    vague = taper(read("A@0|50.00 mm; B@0|50.50 mm", exact=False))
    assert (vague.taper.uncertainty, vague.thin_plane) == (None, None)


# eccentric wear


@pytest.mark.parametrize("towards", [0, 37, 200, 359.9])
def test_a_bore_off_the_middle_of_its_bush_is_found_from_the_wall(towards: float):
    # Closed form: the wall between a circle of radius 30 and one of radius 25 that lies 0.4 mm off, along rays from
    # the middle of the larger, is 30 - e cos(θ - θ0) - √(25² - e² sin²(θ - θ0)); the root has even waves only.
    def wall(t: float) -> float:
        turned = t - math.radians(towards)
        return 30 - 0.4 * math.cos(turned) - math.sqrt(25**2 - (0.4 * math.sin(turned)) ** 2)

    found = eccentric_wear(around(wall, (0, 60, 120, 180, 240, 300), "0.01", instrument="gauge", shared="0 mm"))
    assert found.direction is not None
    assert float(found.eccentricity.amount) == pytest.approx(0.4, abs=1e-6)
    assert doubt(found.eccentricity) == pytest.approx(0.01 * math.sqrt(2 / 6), rel=0.02)
    assert (float(found.direction.amount) - towards + 180) % 360 - 180 == pytest.approx(0, abs=1e-3)
    assert doubt(found.direction) == pytest.approx(math.degrees(0.01 * math.sqrt(2 / 6) / 0.4), rel=0.02)


def test_eccentricity_is_the_least_squares_circle_of_the_nist_handbook_and_of_numpy():
    # NIST/SEMATECH e-Handbook 2.3.4.4: a = 2/n Σ t cos θ, b = 2/n Σ t sin θ at equal spacing.
    import numpy
    walls, angles = (5.00, 4.87, 4.63, 4.66, 4.91), (0, 72, 144, 216, 288)
    found = eccentric_wear(read("; ".join(f"@{a}|{t} ± 0.01 mm" for a, t in zip(angles, walls, strict=True))))
    turns = [math.radians(angle) for angle in angles]
    a = 2 / 5 * sum(t * math.cos(turn) for t, turn in zip(walls, turns, strict=True))
    b = 2 / 5 * sum(t * math.sin(turn) for t, turn in zip(walls, turns, strict=True))
    assert float(found.eccentricity.amount) == pytest.approx(math.hypot(a, b), rel=1e-9)
    assert found.direction is not None
    assert float(found.direction.amount) == pytest.approx(math.degrees(math.atan2(-b, -a)) % 360, rel=1e-9)
    design = numpy.array([[1, math.cos(turn), math.sin(turn)] for turn in turns])
    fit = numpy.linalg.lstsq(design, numpy.array(walls), rcond=None)[0]
    assert float(found.eccentricity.amount) == pytest.approx(math.hypot(fit[1], fit[2]), rel=1e-9)


def test_an_oval_bore_looks_worn_to_one_side_from_three_angles_and_not_from_four():
    # Closed form: at three equal angles cos 2θ and cos θ are the same numbers.
    def oval(t: float) -> float:
        return 5 + 0.1 * math.cos(2 * t)

    assert float(eccentric_wear(around(oval, (0, 120, 240))).eccentricity.amount) == pytest.approx(0.1, abs=1e-6)
    four = eccentric_wear(around(oval, (0, 90, 180, 270)))
    assert four.eccentricity.amount == 0 and four.direction is None


def test_what_readings_share_falls_out_of_eccentric_wear():
    text = "@0|5.00 ± 0.01 mm; @90|4.80 ± 0.01 mm; @180|4.60 ± 0.01 mm; @270|4.80 ± 0.01 mm"
    found = eccentric_wear(read(text, "calliper", "0.01 mm"))
    assert (show(found.eccentricity), found.direction) == ("0.20 mm", Quantity(Decimal(180), Decimal(0), "°"))
    assert eccentric_wear(read(text.replace(" ± 0.01", ""), exact=False)).eccentricity.uncertainty is None


# refusals


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: sizes(()), "At least one reading"),
        (lambda: sizes(read("0 ± 1 mm")), "diameter is 0 ± 1 mm"),
        (lambda: sizes((Reading(parse_quantity("1 kg", "kg", exact=True)),)), "cannot be told in mm"),
        (lambda: ovality(read("A@0|50 mm; A@90|50 mm; A@180|50 mm")), "three or more different angles"),
        (lambda: ovality(read("A@0|50 mm; A@60|50 mm; B@120|50 mm")), "three or more different angles"),
        (lambda: ovality(read("A@0|50 mm; A@60|50 mm; A@120|50 mm; A|50 mm")), "needs the angle"),
        (lambda: ovality(read("A@0|50 mm; A@60|50 mm; A@120|50 mm; @0|50 mm")), "some do not"),
        (lambda: taper(read("A@0|50 mm; A@90|50 mm")), "two or more planes"),
        (lambda: taper(read("A@0|50 mm; B@90|50 mm")), "different angles"),
        (lambda: taper(read("A@0|50 mm; A@90|50 mm; B@0|50 mm")), "different angles"),
        (lambda: taper(read("A|50 mm; B|50 mm")), "needs the angle"),
        (lambda: eccentric_wear(read("@0|5 mm; @180|5 mm")), "three or more angles, not 2"),
        (lambda: eccentric_wear(read("@0|5 mm; @90|5 mm; @180|5 mm")), "equal spacing around, here every 120 degrees"),
        (lambda: eccentric_wear(read("@0|5 mm; @0|5 mm; @120|5 mm; @240|5 mm")), "equal spacing"),
        (lambda: eccentric_wear(read("A@0|5 mm; A@120|5 mm; B@240|5 mm")), "one plane only"),
        (lambda: eccentric_wear(read("@0|5 mm; @120|-5 mm; @240|5 mm")), "wall is"),
    ],
)
def test_readings_that_cannot_tell_are_refused_in_a_sentence(attempt: Callable[[], object], words: str):
    with pytest.raises(ValueError, match=words) as refused:
        attempt()
    assert str(refused.value).endswith(".")
