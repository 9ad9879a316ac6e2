from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

import pytest
from helpers import doubt

from conserve.calculation.propagation import Reading
from conserve.calculation.refitting import rebush, regrind, running_clearance
from conserve.quantity import Quantity, parse_quantity


def q(text: str, exact: bool = True) -> Quantity:
    return parse_quantity(text, "mm", exact=exact)


def read(*sizes: str, angles: tuple[float, ...] = (), instrument: str = "", shared: str = "") -> tuple[Reading, ...]:
    places = [Decimal(str(angle)) for angle in angles] or [None] * len(sizes)
    bias = q(shared) if shared else None
    return tuple(Reading(q(size), "A", place, instrument, bias) for size, place in zip(sizes, places, strict=True))


# A pin of nominal 63.5 mm worn to 63.31 by 63.42 mm, oval by 0.11 mm at 93 degrees, in a bush of 63.62 to
# 63.70 mm: loosest clearance 0.39 mm, 6.1 thousandths of the diameter; it cleans up at 63.26 mm, and its bush
# at one thousandth is bored to 63.323 mm. A worked example (derived).
PIN = read("63.31 ± 0.01 mm", "63.36 ± 0.01 mm", "63.42 ± 0.01 mm", "63.37 ± 0.01 mm", angles=(0, 45, 90, 135))
BUSH = read("63.62 ± 0.02 mm", "63.70 ± 0.02 mm", angles=(0, 90))


# clearance


def test_the_worked_pair_has_the_clearance_of_the_example():
    found = running_clearance(PIN, "shaft", BUSH)
    assert [limit.amount for limit in found.clearance] == [Decimal("0.20"), Decimal("0.39")]
    assert round(1000 * float(found.per_diameter.amount), 1) == 6.1
    assert (found.clearance[0].unit, found.per_diameter.unit) == ("mm", "1")


def test_the_same_pair_seen_from_its_hole_has_the_same_clearance():
    assert running_clearance(BUSH, "hole", PIN) == running_clearance(PIN, "shaft", BUSH)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
@pytest.mark.parametrize("shared", [0, 0.003, 0.01])
def test_one_instrument_on_both_faces_shares_its_bias(shared: float):
    # The library `uncertainties`, with the bias as one variable.
    import uncertainties
    bias, own = uncertainties.ufloat(0, shared), math.sqrt(0.01**2 - shared**2)
    hole, shaft = uncertainties.ufloat(63.70, own) + bias, uncertainties.ufloat(63.31, own) + bias
    named = {"instrument": "gauge", "shared": f"{shared} mm"}
    found = running_clearance(read("63.31 ± 0.01 mm", **named), "shaft", read("63.70 ± 0.01 mm", **named))
    assert found.clearance[0] == found.clearance[1]
    assert doubt(found.clearance[1]) == pytest.approx((hole - shaft).std_dev, rel=1e-9, abs=1e-15)
    assert doubt(found.per_diameter) == pytest.approx(((hole - shaft) / hole).std_dev, rel=1e-3)


def test_two_instruments_do_not_share_their_bias():
    # Closed form, JCGM 100, 5.1.2: independent inputs, U = hypot.
    shaft = read("63.31 ± 0.01 mm", instrument="micrometer", shared="0.01 mm")
    hole = read("63.70 ± 0.02 mm", instrument="bore gauge", shared="0.02 mm")
    assert doubt(running_clearance(shaft, "shaft", hole).clearance[0]) == pytest.approx(math.hypot(0.01, 0.02), rel=1e-9)


def test_nothing_cancels_while_nobody_says_what_an_instrument_shares():
    shaft, hole = read("63.31 ± 0.01 mm", instrument="gauge"), read("63.70 ± 0.01 mm", instrument="gauge")
    assert doubt(running_clearance(shaft, "shaft", hole).clearance[0]) == pytest.approx(0.01 * math.sqrt(2), rel=1e-9)


def test_a_pair_that_does_not_go_together_has_a_clearance_below_zero():
    assert running_clearance(read("50.02 mm"), "shaft", read("50.00 mm")).clearance[0].amount == Decimal("-0.02")


def test_a_clearance_from_a_size_of_unstated_uncertainty_is_of_unstated_uncertainty():
    found = running_clearance((Reading(q("50 mm", exact=False)),), "shaft", read("50.1 mm"))
    assert [x.uncertainty for x in (*found.clearance, found.per_diameter)] == [None] * 3


def test_a_clearance_in_inches_is_the_same():
    inches = running_clearance(read("2 in"), "shaft", read("2.004 in"))
    assert inches == running_clearance(read("50.8 mm"), "shaft", read("50.9016 mm"))


# regrind


def test_the_worked_pin_cleans_up_and_its_bush_is_bored_as_in_the_example():
    found = regrind(PIN, q("0.05 mm"), q("0.06326 mm"))
    assert round(found.journal.amount, 2) == Decimal("63.26")
    assert round(found.bush_bore.amount, 3) == Decimal("63.323")


def test_an_oval_that_is_least_between_the_readings_cleans_up_below_the_least_reading():
    # Closed form: D = 50 + 0.1 cos 2(φ - 112.5°) is least, 49.90, at 22.5°, between the readings.
    angles = (0, 45, 90, 135)
    sizes = [f"{50 + 0.1 * math.cos(2 * math.radians(t - 112.5)):.6f} ± 0.001 mm" for t in angles]
    found = regrind(read(*sizes, angles=angles), q("0.02 mm"), q("0.05 mm")).journal
    assert float(found.amount) == pytest.approx(49.88, abs=1e-5)
    # From two of the angles alone only the readings are known.
    two = regrind(read(*sizes[:2], angles=angles[:2]), q("0.02 mm"), q("0.05 mm")).journal
    assert two.amount == Decimal(sizes[0].split()[0]) - Decimal("0.02")


def test_a_bias_shared_by_all_readings_stays_whole_in_the_journal():
    # Closed form: journal = least - exact allowance; the bore adds an independent ± 0.004.
    readings = read("50.00 ± 0.01 mm", "50.00 ± 0.01 mm", instrument="gauge", shared="0.01 mm")
    found = regrind(readings, q("0.1 mm"), q("0.05 ± 0.004 mm"))
    assert found.journal == Quantity(Decimal("49.90"), Decimal("0.01"), "mm")
    assert doubt(found.bush_bore) == pytest.approx(math.hypot(0.01, 0.004), rel=1e-9)


def test_a_regrind_in_inches_is_the_same_and_an_unstated_uncertainty_stays_so():
    assert regrind(read("2 in"), q("0.01 in"), q("0.002 in")) == regrind(read("50.8 mm"), q("0.254 mm"), q("0.0508 mm"))
    found = regrind((Reading(q("50 mm", exact=False)),), q("0.1 mm"), q("0.05 mm"))
    assert (found.journal.uncertainty, found.bush_bore.uncertainty) == (None, None)


# rebush


def test_a_worn_hole_with_metal_enough_is_bored_to_where_it_cleans_up():
    # By hand: 66.40 + 0.20 = 66.60; 59.90 + 0.06 = 59.96; wall (66.60 - 59.96) / 2 = 3.32.
    found = rebush(read("66.30 ± 0.02 mm", "66.40 ± 0.02 mm"), q("0.20 mm"), q("3 mm"), q("59.90 ± 0.01 mm"), q("0.06 mm"))
    assert [x.amount for x in found] == [Decimal(x) for x in ("66.60", "66.60", "59.96", "3.32")]
    # The library `uncertainties`, from the greatest reading (it stands alone) and the shaft.
    import uncertainties
    hole, shaft = uncertainties.ufloat(66.40, 0.02), uncertainties.ufloat(59.90, 0.01)
    assert doubt(found.wall) == pytest.approx(((hole + 0.2 - shaft - 0.06) / 2).std_dev, rel=1e-9)
    assert doubt(found.bush_inside) == pytest.approx(0.01, rel=1e-9)


def test_a_hole_with_too_little_metal_for_the_wall_is_bored_further():
    # By hand: 59.96 + 2 × 4 = 67.96, more than the 60.62 where it cleans up.
    found = rebush(read("60.30 mm", "60.42 mm"), q("0.20 mm"), q("4 mm"), q("59.90 mm"), q("0.06 mm"))
    assert [x.amount for x in found] == [Decimal(x) for x in ("67.96", "67.96", "59.96", "4")]


@pytest.mark.parametrize("angles", [(0, 45, 90, 135), (0, 50, 70, 150)])
def test_an_oval_hole_cleans_up_above_its_greatest_reading(angles: tuple[float, ...]):
    # Closed form: D = 66 + 0.1 cos 2(φ - 22.5°) is greatest, 66.10, between the readings.
    sizes = [f"{66 + 0.1 * math.cos(2 * math.radians(t - 22.5)):.6f} mm" for t in angles]
    found = rebush(read(*sizes, angles=angles), q("0.1 mm"), q("1 mm"), q("60 mm"), q("0.06 mm"))
    assert float(found.bore_to.amount) == pytest.approx(66.20, abs=1e-5)


def test_a_rebush_in_inches_is_the_same_and_an_unstated_uncertainty_stays_so():
    inches = rebush(read("2.5 in"), q("0.01 in"), q("0.1 in"), q("2 in"), q("0.002 in"))
    assert inches == rebush(read("63.5 mm"), q("0.254 mm"), q("2.54 mm"), q("50.8 mm"), q("0.0508 mm"))
    vague = rebush(read("63.5 mm"), q("0.2 mm"), q("2 mm"), q("50.8 mm", exact=False), q("0.05 mm"))
    assert [x.uncertainty for x in vague] == [None] * 4


# refusals


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: running_clearance(PIN, "face", BUSH), "neither hole nor shaft"),
        (lambda: running_clearance(PIN, "shaft", ()), "diameter of the mate"),
        (lambda: running_clearance(read("1 ± 0.1 mm"), "shaft", read("2 ± 2 mm")), "may be zero"),
        (lambda: regrind((), q("0.1 mm"), q("0.1 mm")), "At least one reading"),
        (lambda: regrind(PIN, q("-0.1 mm"), q("0.1 mm")), "allowance is"),
        (lambda: regrind(PIN, q("0.1 mm"), q("0 mm")), "clearance is 0 mm"),
        (lambda: regrind(PIN, q("0.1 mm"), q("0.05 ± 0.05 mm")), "clearance is 0.05 ± 0.05 mm"),
        (lambda: regrind(PIN, q("70 mm"), q("0.1 mm")), "journal is"),
        (lambda: rebush(BUSH, q("0.1 mm"), q("0 mm"), q("63 mm"), q("0.1 mm")), "wall is 0 mm"),
        (lambda: rebush(BUSH, q("0.1 mm"), q("3 mm"), q("0 mm"), q("0.1 mm")), "shaft is 0 mm"),
        (lambda: rebush(BUSH, q("0.1 mm"), q("3 mm"), q("63 mm"), q("-0.1 mm")), "clearance is"),
    ],
)
def test_a_refit_that_makes_no_sense_is_refused_in_a_sentence(attempt: Callable[[], object], words: str):
    with pytest.raises(ValueError, match=words) as refused:
        attempt()
    assert str(refused.value).endswith(".")
