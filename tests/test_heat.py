"""Checks of how hot a hub must be, of what heat does to a fit and of where heating stops.

The check values are published, worked by hand, or come from the uncertainties library. Each test says which.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from helpers import doubt

from conserve.calculation.heat import heat_both, heat_to_assemble, may_heat_to, temperature_stop
from conserve.quantity import Quantity, parse_quantity
from conserve.truth import Truth


def q(text: str, unit: str = "mm", exact: bool = True) -> Quantity:
    return parse_quantity(text, unit, exact)


def degrees(text: str) -> Quantity:
    return q(f"{text} °C", "°C")


def test_an_aluminium_hub_of_one_inch_needs_the_published_rise() -> None:
    # Published (rivcut.com, shrink fits): 1.000 in hub, 0.0010 in interference, 0.0020 in clearance, 12.8 millionths
    # per °F: a rise of 234 °F, to 304 °F from 70 °F. That is 130.2 °C, to 151.3 °C from 21.1 °C.
    found = heat_to_assemble(q("0.001 in"), q("0.002 in"), q("1 in"), "aluminium", degrees("21.1"))
    assert float(found.rise.amount) == pytest.approx(234.4 / 1.8, rel=5e-3)
    assert float(found.temperature.amount) == pytest.approx((304.4 - 32) / 1.8, rel=5e-3)


def test_an_eye_of_eighty_millimetres_needs_a_hundred_and_forty_degrees_more() -> None:
    # Derived: (0.051 + 0.08) / (11.7e-6 × 80) = 139.96 °C.
    found = heat_to_assemble(q("0.051 mm"), q("0.08 mm"), q("80 mm"), "mild-steel", degrees("20"))
    assert float(found.rise.amount) == pytest.approx(140, rel=5e-3)
    assert float(found.temperature.amount) == pytest.approx(160, rel=5e-3)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
def test_doubt_of_the_heat_agrees_with_the_uncertainties_library() -> None:
    # The library works to first order. The rise is curved in the expansion, 11.7 ± 0.5 millionths, and the larger of
    # its two moves counts (JCGM 100, 5.1.3, note 2), so that its share is wider by 11.7 / (11.7 - 0.5).
    from uncertainties import ufloat as u
    found = heat_to_assemble(q("0.051 ± 0.01 mm"), q("0.08 mm"), q("80 mm"), "mild-steel", degrees("20 ± 2"))
    rise = (u(0.051, 0.01) + 0.08) / (u(11.7e-6, 0.5e-6 * 11.7 / 11.2) * 80)
    assert doubt(found.rise) == pytest.approx(rise.std_dev, rel=1e-9)
    assert doubt(found.temperature) == pytest.approx((rise + u(20, 2)).std_dev, rel=1e-9)


@pytest.mark.parametrize(("at", "expected"), [("120", 0.101), ("-20", 0.031), ("20", 0.051)])
def test_heating_both_parts_tightens_gunmetal_in_steel_and_cold_loosens_it(at: str, expected: float) -> None:
    # Derived: 0.051 + 80 × (18.0 - 11.7)e-6 × (T - 20).
    found = heat_both(q("0.051 mm"), q("80 mm"), "mild-steel", "gunmetal", degrees("20"), degrees(at))
    assert float(found.amount) == pytest.approx(expected, abs=6e-4)


def test_heating_both_parts_of_a_bronze_hub_on_a_steel_shaft_loosens_it() -> None:
    # By hand: 0.010 + 80 × (11.7 - 18.2)e-6 × 100 = -0.042 mm: below zero is an answer, the parts are loose.
    found = heat_both(q("0.010 mm"), q("80 mm"), "bronze", "mild-steel", degrees("20"), degrees("120"))
    assert float(found.amount) == pytest.approx(-0.042, abs=1e-9)


@pytest.mark.filterwarnings("ignore:Using UFloat objects")
def test_doubt_of_a_warmed_fit_agrees_with_the_uncertainties_library() -> None:
    from uncertainties import ufloat as u
    found = heat_both(
        q("0.051 ± 0.01 mm"), q("80 mm"), "mild-steel", "gunmetal", degrees("20 ± 2"), degrees("120 ± 5")
    )
    expected = u(0.051, 0.01) + 80 * (u(18e-6, 1.8e-6) - u(11.7e-6, 0.5e-6)) * (u(120, 5) - u(20, 2))
    assert float(found.amount) == pytest.approx(expected.nominal_value, rel=1e-9)
    assert doubt(found) == pytest.approx(expected.std_dev, rel=1e-9)


def test_one_metal_in_itself_keeps_its_interference_but_not_its_certainty() -> None:
    # Derived: equal expansions fall out; two castings of one word may still differ.
    found = heat_both(q("0.05 mm"), q("80 mm"), "bronze", "bronze", degrees("20"), degrees("120"))
    assert float(found.amount) == pytest.approx(0.05, abs=1e-12)
    assert doubt(found) > 0


def test_inches_and_millimetres_need_the_same_heat() -> None:
    inches = heat_to_assemble(q("0.002 in"), q("0.003 in"), q("3 in"), "grey-cast-iron", degrees("15"))
    assert inches == heat_to_assemble(q("0.0508 mm"), q("0.0762 mm"), q("76.2 mm"), "grey-cast-iron", degrees("15"))


def test_a_doubt_that_nobody_stated_stays_unstated() -> None:
    vague = q("0.051 mm", exact=False)
    found = heat_to_assemble(vague, q("0.08 mm"), q("80 mm"), "mild-steel", degrees("20"))
    assert (found.temperature.uncertainty, found.rise.uncertainty) == (None, None)
    assert heat_both(vague, q("80 mm"), "mild-steel", "bronze", degrees("20"), degrees("90")).uncertainty is None
    assert may_heat_to(q("20 °C", "°C", exact=False), "white-metal").within is Truth.UNKNOWN


@pytest.mark.parametrize(
    ("nearby", "limit", "harmed_at"),
    [
        # Published: what each does at a higher temperature. White metal 15 Brinell at 100 °C, from 35 at 21 °C (Materials
        # Handbook); tin-lead eutectic 183 °C; alkyd paint in service 90 °C; bearings 120 °C; tempering of
        # hardened steel, up to 200 °C; first tint 176 °C. Limits of 60, 150 (twice, solder and steel) and 200
        # °C are from memory.
        ("white-metal", 100, 100),
        ("soft-solder", 150, 183),
        ("paint-or-filler", 60, 90),
        ("rolling-bearing", 120, 120),
        ("hardened-steel", 150, 200),
        ("bright-steel", 170, 176),
        ("grey-cast-iron", 200, 300),
        ("none", 300, 300),
    ],
)
def test_heating_stops_before_it_harms_what_is_nearby(nearby: str, limit: int, harmed_at: int) -> None:
    stop = temperature_stop(nearby)
    assert (stop.limit.amount, stop.limit.uncertainty, stop.limit.unit) == (limit, 0, "°C")
    assert stop.limit.amount <= harmed_at
    assert "published" in stop.source or "from memory" in stop.source


@pytest.mark.parametrize(
    ("temperature", "within"),
    [
        # Normal law by hand: the limit is 100 °C, and 95 % needs 0.822 of the ± between.
        ("85 ± 18", Truth.YES),  # 99.8
        ("85 ± 19", Truth.UNKNOWN),  # 100.6
        ("115 ± 18", Truth.NO),
        ("115 ± 19", Truth.UNKNOWN),
        ("100", Truth.YES),
        ("100.1", Truth.NO),
    ],
)
def test_a_temperature_is_within_a_limit_only_at_ninety_five_per_cent(temperature: str, within: Truth) -> None:
    found = may_heat_to(degrees(temperature), "white-metal")
    assert (found.limit.amount, found.within) == (100, within)


def heating(clearance: str = "0.08 mm", diameter: str = "80 mm", hub: str = "mild-steel", start: str = "20") -> object:
    return heat_to_assemble(q("0.051 mm"), q(clearance), q(diameter), hub, degrees(start))


@pytest.mark.parametrize(
    ("attempt", "words"),
    [
        (lambda: heating(diameter="20 mm"), "must reach is 580 ± 25 °C"),  # 0.131 / (11.7e-6 × 20) and 20
        (lambda: heating(clearance="0.21 mm"), "its ± included"),  # 299 ± 12 °C
        (lambda: heating(start="-90"), "start is"),
        (lambda: heating(clearance="-0.1 mm"), "clearance is"),
        (lambda: heating(diameter="0 mm"), "diameter is 0 mm"),
        (lambda: heating(hub="lead"), "lead creeps"),
        (lambda: heat_both(q("-1 mm"), q("80 mm"), "brass", "brass", degrees("20"), degrees("90")), "interference is"),
        (lambda: heat_both(q("0 mm"), q("80 mm"), "brass", "brass", degrees("20"), degrees("301")), "temperature is 301"),
        (lambda: heat_both(q("0 mm"), q("1 ± 2 mm"), "brass", "brass", degrees("20"), degrees("90")), "diameter is"),
        (lambda: temperature_stop("butter"), "'butter'"),
        (lambda: may_heat_to(degrees("20"), "butter"), "'butter'"),
        (lambda: heat_both(q("0 mm"), q("80 mm"), "brass", "brass", q("20 mm"), degrees("90")), "cannot be told"),
    ],
)
def test_what_cannot_be_reckoned_is_refused_in_one_sentence(attempt: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words) as refused:
        attempt()
    told = str(refused.value)
    assert told.endswith(".") and ". " not in told
