from __future__ import annotations

import math
from decimal import Decimal
from itertools import combinations

import pytest

from conserve.calculation.galvanic import METALS, galvanic_flag, galvanic_pair
from conserve.quantity import Quantity, parse_quantity
from conserve.truth import Truth


def ratio(text: str) -> Quantity:
    return parse_quantity(text, "1", exact=False)


# Anodic index, volts: table at vk6ysf.com; aluminium and zinc as ideambox.com prints them too.
INDEX = {
    "copper": 0.35, "bronze": 0.40, "gunmetal": 0.40, "brass": 0.45, "stainless-steel": 0.50, "lead": 0.70,
    "grey-cast-iron": 0.85, "malleable-iron": 0.85, "wrought-iron": 0.85, "mild-steel": 0.85, "aluminium": 0.90,
    "zinc": 1.25,
}  # fmt: skip

# Potentials in flowing sea water, volts below calomel (l-36.com): another kind of measurement altogether.
SEA_WATER = {
    "stainless-steel": 0.08, "bronze": 0.31, "copper": 0.36, "brass": 0.40, "mild-steel": 0.61,
    "grey-cast-iron": 0.61, "aluminium": 0.79, "zinc": 1.03,
}  # fmt: skip


@pytest.mark.parametrize(("one", "other"), list(combinations(INDEX, 2)))
def test_the_gap_is_the_difference_of_published_indices(one: str, other: str) -> None:
    assert float(galvanic_pair(one, other).gap.amount) == pytest.approx(abs(INDEX[one] - INDEX[other]), abs=1e-9)


@pytest.mark.parametrize(("one", "other"), list(combinations(SEA_WATER, 2)))
def test_the_gap_with_its_doubt_takes_in_the_gap_measured_in_sea_water(one: str, other: str) -> None:
    found = galvanic_pair(one, other)
    assert abs(SEA_WATER[one] - SEA_WATER[other]) <= float(found.gap.amount + found.gap.uncertainty)
    assert abs(SEA_WATER[one] - SEA_WATER[other]) >= float(found.gap.amount - found.gap.uncertainty)
    if found.loses is not None:
        assert found.loses == max(one, other, key=SEA_WATER.__getitem__)


@pytest.mark.parametrize(
    ("one", "other", "gap", "loses"),
    [
        ("bronze", "grey-cast-iron", 0.45, "grey-cast-iron"),
        ("stainless-steel", "wrought-iron", 0.35, "wrought-iron"),
        ("zinc", "mild-steel", 0.40, "zinc"),
        # A museum's conservation manual (Western Australian Museum, appendix 8, after Singley 1988) puts lead below
        # the bronzes, a boatbuilders' series above them, and MIL-STD-889B below steel: nobody can tell.
        ("lead", "bronze", 0.30, None),
        ("lead", "mild-steel", 0.15, None),
        ("aluminium", "mild-steel", 0.05, None),
        ("wrought-iron", "mild-steel", 0, None),
        ("white-metal", "bronze", 0.25, "white-metal"),
    ],
)
def test_what_is_eaten_is_told_where_published_values_agree(one: str, other: str, gap: float, loses: str | None) -> None:
    found = galvanic_pair(one, other)
    assert float(found.gap.amount) == pytest.approx(gap, abs=1e-9)
    assert found.loses == loses
    assert galvanic_pair(other, one) == found


def test_the_doubts_of_two_indices_add_as_independent() -> None:
    # JCGM 100, 5.1.2: bronze ± 0.10 and iron ± 0.12 V.
    found = galvanic_pair("bronze", "grey-cast-iron").gap
    assert found.uncertainty is not None
    assert float(found.uncertainty) == pytest.approx(math.hypot(0.10, 0.12), rel=1e-9)


def test_every_metal_has_a_gap_to_every_other() -> None:
    for one, other in combinations(METALS, 2):
        assert galvanic_pair(one, other).gap.unit == "V"


@pytest.mark.parametrize(
    ("metal", "other", "wet", "greased", "area", "flag"),
    [
        # Every engine has this one.
        ("bronze", "grey-cast-iron", "no", "yes", None, Truth.NO),
        ("bronze", "grey-cast-iron", "no", "no", None, Truth.NO),
        ("bronze", "grey-cast-iron", "yes", "no", None, Truth.YES),
        ("bronze", "grey-cast-iron", "yes", "yes", "0.5 ± 0.1", Truth.NO),
        ("bronze", "grey-cast-iron", "yes", "yes", "25 ± 3", Truth.YES),
        ("bronze", "grey-cast-iron", "yes", "yes", "10 ± 3", Truth.UNKNOWN),
        ("bronze", "grey-cast-iron", "yes", "yes", "25", Truth.UNKNOWN),  # ± not stated
        ("bronze", "grey-cast-iron", "yes", "yes", None, Truth.UNKNOWN),
        # New stainless fixings in old iron, 0.35 V.
        ("stainless-steel", "wrought-iron", "yes", "no", None, Truth.YES),
        ("stainless-steel", "wrought-iron", "yes", "no", "0.01 ± 0.001", Truth.YES),
        ("wrought-iron", "mild-steel", "yes", "no", None, Truth.UNKNOWN),
        ("gunmetal", "bronze", "yes", "no", "50 ± 1", Truth.NO),
        ("lead", "mild-steel", "yes", "no", None, Truth.UNKNOWN),
    ],
)
def test_a_joint_is_flagged_where_it_is_wet_and_bare_or_far_out_of_proportion(
    metal: str, other: str, wet: str, greased: str, area: str | None, flag: Truth
) -> None:
    found = galvanic_flag(metal, other, wet, greased, None if area is None else ratio(area))
    assert found.flag is flag
    assert found[:2] == galvanic_pair(metal, other)


def test_two_parts_of_one_metal_stand_no_further_apart_than_two_such_parts_do() -> None:
    pair = galvanic_pair("bronze", "bronze")
    assert pair.gap.amount == 0 and pair.gap.uncertainty > 0
    assert pair.loses is None


def test_a_ratio_in_percent_is_the_same_ratio() -> None:
    percent = Quantity(Decimal(2500), Decimal(300), "%")
    assert galvanic_flag("bronze", "mild-steel", "yes", "yes", percent).flag is Truth.YES


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (("gold", "bronze", "yes", "no"), "'gold' is not a listed metal; there are grey-cast-iron"),
        (("bronze", "zinc", "damp", "no"), "joint is wet is told by yes or no, not 'damp'"),
        (("bronze", "zinc", "yes", "a little"), "greased is told by yes or no"),
        (("bronze", "zinc", "yes", "no", ratio("0")), "area ratio is 0"),
    ],
)
def test_what_is_not_listed_is_refused_in_a_sentence(given: tuple, words: str) -> None:
    with pytest.raises(ValueError, match=words) as caught:
        galvanic_flag(*given)
    assert str(caught.value).endswith(".")
