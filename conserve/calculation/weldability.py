"""Carbon equivalents of a steel: a reason to stop and ask, never a preheat and never a licence to weld.

Preheat is not worked out on purpose: published pages give formulae that disagree. Phosphorus, sulphur and
nitrogen, which make early steels crack, are in none of these numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.calculation.validity import highest, lowest
from conserve.quantity import EXACT, Quantity, show

REFER = "competent engineer"
STEELS = ("mild-steel", "alloy-steel")
ELEMENTS = (
    "carbon", "manganese", "chromium", "molybdenum", "vanadium", "nickel", "copper", "silicon", "boron",
)  # fmt: skip
IRONS = ("grey-cast-iron", "malleable-iron", "wrought-iron")

Range = Mapping[str, tuple[Decimal, Decimal]]


def _divisors(**told: str) -> dict[str, Decimal]:
    return {element: Decimal(number) for element, number in told.items()}


def _range(**told: tuple[str, str]) -> dict[str, tuple[Decimal, Decimal]]:
    return {element: (Decimal(low), Decimal(high)) for element, (low, high) in told.items()}


# What each element's % is divided by. The three formulae stand alike on many public pages (EN 1011-2 Annex C
# for the first and the last, Ito and Bessyo 1968 for the second). 5 B is B / 0.2.
CE_IIW = _divisors(carbon="1", manganese="6", chromium="5", molybdenum="5", vanadium="5", nickel="15", copper="15")
PCM = _divisors(
    carbon="1", silicon="30", manganese="20", copper="20", chromium="20", nickel="60", molybdenum="15",
    vanadium="10", boron="0.2",
)  # fmt: skip
CET = _divisors(carbon="1", manganese="10", molybdenum="10", chromium="20", copper="20", nickel="40")

# % in which each is used here. Carbon and manganese of the first, and carbon of the second, from a metallurgist's
# web page; the alloying elements of the first from memory (EN 1011-2, method A); the third from a trade page.
CE_IIW_RANGE = _range(
    carbon=("0.08", "0.60"), manganese=("0", "1.6"), chromium=("0", "0.9"), molybdenum=("0", "0.75"),
    vanadium=("0", "0.20"), nickel=("0", "2.5"), copper=("0", "1.0"),
)  # fmt: skip
PCM_RANGE = _range(carbon=("0", "0.18"))
CET_RANGE = _range(
    carbon=("0.05", "0.32"), silicon=("0", "0.8"), manganese=("0.5", "1.9"), chromium=("0", "1.5"),
    copper=("0", "0.7"), molybdenum=("0", "0.75"), nickel=("0", "2.5"), vanadium=("0", "0.18"),
    boron=("0", "0.005"),
)  # fmt: skip
# Cast iron: carbon from 2 %, as handbooks part it from steel; the rest common practice, no published source.
CAST_IRON_RANGE = _range(carbon=("2", "4.5"), silicon=("0", "3.5"), phosphorus=("0", "1.5"))


class CarbonEquivalent(NamedTuple):
    """Three carbon equivalents in %; None where an element is not analysed or outside the formula's range."""

    ce_iiw: Quantity | None
    pcm: Quantity | None
    cet: Quantity | None
    ce_iiw_at_least: Quantity  # from what was analysed: the true one is this or more
    refer: str


class CastIronEquivalent(NamedTuple):
    """The carbon equivalent of cast iron: another number, on another scale."""

    equivalent: Quantity
    refer: str


def carbon_equivalent(
    material: str,
    carbon: Quantity,
    manganese: Quantity,
    chromium: Quantity | None = None,
    molybdenum: Quantity | None = None,
    vanadium: Quantity | None = None,
    nickel: Quantity | None = None,
    copper: Quantity | None = None,
    silicon: Quantity | None = None,
    boron: Quantity | None = None,
) -> CarbonEquivalent:
    """CE_IIW = C + Mn/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15, with Pcm and CET, in %, of an analysed steel.

    Pcm = C + Si/30 + (Mn + Cu + Cr)/20 + Ni/60 + Mo/15 + V/10 + 5B; CET = C + (Mn + Mo)/10 + (Cr + Cu)/20
    + Ni/40. Each element in %. An element not analysed is unknown, not zero: a formula that holds it gives
    None, and what was analysed gives a lower bound of CE_IIW. `ValueError` for iron, or an element below zero
    or outside the range of CE_IIW; outside the range of Pcm or CET that one is None. Source: EN 1011-2
    Annex C and Ito & Bessyo 1968, as quoted on public pages; ranges beside the tables.
    """
    if material not in STEELS:
        raise ValueError(f"The formulae hold for steel and not for {material}.")
    shares = (carbon, manganese, chromium, molybdenum, vanadium, nickel, copper, silicon, boron)
    known = {element: share.in_unit("%") for element, share in zip(ELEMENTS, shares, strict=True) if share is not None}
    for element, share in known.items():
        _check(element, share, *CE_IIW_RANGE.get(element, (EXACT, Decimal(100))))
    analysed = {element: divisor for element, divisor in CE_IIW.items() if element in known}
    return CarbonEquivalent(
        _whole(CE_IIW, CE_IIW_RANGE, known),
        _whole(PCM, PCM_RANGE, known),
        _whole(CET, CET_RANGE, known),
        _sum(analysed, known),
        REFER,
    )


def cast_iron_equivalent(carbon: Quantity, silicon: Quantity, phosphorus: Quantity) -> CastIronEquivalent:
    """CE = C + (Si + P)/3 of grey iron, in %: shows only that the formulae for steel mean nothing there.

    Each element in %. `ValueError` for carbon that may be outside 2 to 4.5 %, silicon above 3.5 %, phosphorus
    above 1.5 %, or one below zero. Source: the composition table of a published metallographic note.
    """
    known = {"carbon": carbon.in_unit("%"), "silicon": silicon.in_unit("%"), "phosphorus": phosphorus.in_unit("%")}
    for element, share in known.items():
        _check(element, share, *CAST_IRON_RANGE[element])
    return CastIronEquivalent(_sum(_divisors(carbon="1", silicon="3", phosphorus="3"), known), REFER)


def _whole(divisors: Mapping[str, Decimal], limits: Range, known: Mapping[str, Quantity]) -> Quantity | None:
    complete = divisors.keys() <= known.keys()
    fits = all(_inside(known[element], *limits[element]) for element in limits.keys() & known.keys())
    return _sum(divisors, known) if complete and fits else None


def _sum(divisors: Mapping[str, Decimal], known: Mapping[str, Quantity]) -> Quantity:
    return through(_weighted(tuple(divisors.values())), "%", *(known[element] for element in divisors))


def _weighted(divisors: tuple[Decimal, ...]) -> Callable[..., Decimal]:
    return lambda *shares: sum((share / by for share, by in zip(shares, divisors, strict=True)), EXACT)


def _inside(share: Quantity, low: Decimal, high: Decimal) -> bool:
    # A trace of nothing is still inside where the range begins at zero.
    return share.amount >= low and (low == 0 or lowest(share) >= low) and highest(share) <= high


def _check(element: str, share: Quantity, low: Decimal, high: Decimal) -> None:
    if not _inside(share, low, high):
        raise ValueError(f"The {element} is {show(share)}; the formula holds from {low} to {high} %, the ± included.")


CAUTIONS = (
    "Welding of what lifts, turns or may hold pressure needs a qualified procedure and a competent engineer.",
    "Lead paint, zinc and old linings give poisonous fumes; oil, gas or dust shut up in a hollow part explodes.",
    "Look first at a cold mechanical repair: a plate, a sleeve, a clamp or stitching can be taken off again.",
    "Phosphorus, sulphur and nitrogen of early steels are not in the number at all: have them analysed too.",
)
TO_WHOM = Answer("refer", "to whom the number goes")
MATERIAL = Input("material", "what the part is made of", values=(*STEELS, *IRONS))


def _element(name: str, optional: bool) -> Input:
    return Input(name, f"{name}, by mass", "%", optional=optional)


CALCULATIONS = (
    Calculation(
        name="carbon-equivalent",
        does="The carbon equivalents of a steel, from its analysis.",
        formula="CE_IIW = C + Mn/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15; Pcm = C + Si/30 + (Mn + Cu + Cr)/20 + Ni/60 "
        "+ Mo/15 + V/10 + 5 B; CET = C + (Mn + Mo)/10 + (Cr + Cu)/20 + Ni/40",
        inputs=(
            MATERIAL,
            *(_element(element, optional=element not in ("carbon", "manganese")) for element in ELEMENTS),
        ),
        gives=(
            Answer("ce_iiw", "carbon equivalent CE(IIW)", "%"),
            Answer("pcm", "carbon equivalent Pcm, for low carbon", "%"),
            Answer("cet", "carbon equivalent CET", "%"),
            Answer("ce_iiw_at_least", "CE(IIW) of what was analysed; the true one is this or more", "%"),
            TO_WHOM,
        ),
        valid="Wrought steel, 0.08 to 0.60 % C, up to 1.6 % Mn, low alloy. What is not analysed is unknown, not zero.",
        source="EN 1011-2 Annex C, and Ito and Bessyo 1968, as quoted on public pages; limits of alloying from memory",
        example={
            "material": "mild-steel",
            "carbon": "0.16 ± 0.01 %",
            "manganese": "0.70 ± 0.03 %",
            "chromium": "0.05 ± 0.01 %",
            "molybdenum": "0.01 ± 0.005 %",
            "vanadium": "0.004 ± 0.002 %",
            "nickel": "0.06 ± 0.01 %",
            "copper": "0.12 ± 0.02 %",
            "silicon": "0.08 ± 0.02 %",
            "boron": "0.0003 ± 0.0002 %",
        },
        run=carbon_equivalent,
        cautions=CAUTIONS,
    ),
    Calculation(
        name="cast-iron-equivalent",
        does="The carbon equivalent of grey iron, which shows that the numbers for steel mean nothing there.",
        formula="CE = C + (Si + P)/3",
        inputs=tuple(_element(element, optional=False) for element in ("carbon", "silicon", "phosphorus")),
        gives=(Answer("equivalent", "carbon equivalent of cast iron, which is no measure of welding", "%"), TO_WHOM),
        valid="Grey iron of 2 to 4.5 % C. Near 4.3 it pours well; it says nothing for welding.",
        source="the composition table of a published metallographic note",
        example={"carbon": "3.3 ± 0.1 %", "silicon": "1.9 ± 0.1 %", "phosphorus": "0.5 ± 0.05 %"},
        run=cast_iron_equivalent,
        cautions=CAUTIONS,
    ),
)
