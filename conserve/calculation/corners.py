"""Sharp corners: how much a notch raises the stress at its root, to rank corners and no more.

Screening only. A crack has no radius and is not worked out at all: it is left, looked at and referred.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.quantity import EXACT, ONE, Quantity, at_most, show
from conserve.truth import Truth

TO_WHOM = {  # what the part does -> who judges it
    "pressure": "pressure examiner",
    "lifting": "lifting examiner",
    "structure": "structural engineer",
    "rotating": "competent engineer",
    "other": "competent engineer",
}
UNTOLD = "competent engineer"  # where nobody has said what the part does
LOOKED = ("none-found", "found", "not-looked-for")
STEELS = ("mild-steel", "alloy-steel")
IRONS = ("grey-cast-iron", "malleable-iron", "wrought-iron")

SHARPEST = Decimal("0.1")  # mm; engineering judgement, no published source
WEAKEST, STRONGEST = Decimal(345), Decimal(1700)  # MPa; Shigley, as kept in public code: 50 kpsi, and 1700 MPa
# √a in √in from the tensile strength in kpsi, bending or axial: Shigley, eq. 6-35a.
_NEUBER = (Decimal("0.246"), Decimal("-0.00308"), Decimal("0.0000151"), Decimal("-0.0000000267"))


class Notch(NamedTuple):
    """How many times the stress beside a notch rises at its root."""

    factor: Quantity
    refer: str


class RadiusGain(NamedTuple):
    """What a larger radius would do to the stress at a corner."""

    before: Quantity
    after: Quantity
    share: Quantity  # %, stress at the corner afterwards of that before
    refer: str


class NotchSensitivity(NamedTuple):
    """How far a steel feels a notch when the load comes and goes."""

    sensitivity: Quantity
    fatigue_factor: Quantity
    refer: str


def notch(depth: Quantity, radius: Quantity, crack: str, role: str | None = None) -> Notch:
    """Stress at the root of a notch over the stress beside it: Kt = 1 + 2 √(depth / radius), a plain number.

    Lengths in. Exact for an elliptical hole in a wide plate under tension, half its length being the depth;
    for other notches a ranking. `ValueError` where a crack was found or none was looked for, for a radius
    that may be below 0.1 mm, or a depth that may be zero. Source: Inglis 1913, as quoted by Britannica and
    by a published benchmark (an ellipse of 2 to 1 gives 5, a circle 3).
    """
    _check(depth, crack, radius)
    return Notch(_factor(depth, radius), _to_whom(role))


def radius_gain(
    depth: Quantity, radius_now: Quantity, radius_after: Quantity, crack: str, role: str | None = None
) -> RadiusGain:
    """Kt of a corner before and after its radius is made larger, and the share of the stress that stays, in %.

    Lengths in. Valid, and refused, as `notch`; also `ValueError` for a radius that does not get larger.
    The depth is taken not to change. Source: as `notch`.
    """
    _check(depth, crack, radius_now, radius_after)
    if at_most(radius_after, radius_now) is Truth.YES:
        raise ValueError(f"The radius would go from {show(radius_now)} to {show(radius_after)}; it must get larger.")
    given = (depth.in_unit("mm"), radius_now.in_unit("mm"), radius_after.in_unit("mm"))
    share = through(lambda a, now, after: 100 * _kt(a, after) / _kt(a, now), "%", *given)
    return RadiusGain(_factor(depth, radius_now), _factor(depth, radius_after), share, _to_whom(role))


def notch_sensitivity(
    material: str, strength: Quantity, radius: Quantity, factor: Quantity, crack: str, role: str | None = None
) -> NotchSensitivity:
    """Neuber's q = 1 / (1 + √a / √r) and Kf = 1 + q (Kt − 1), plain numbers, for steel in bending or tension.

    Tensile strength, length and Kt in; √a = 0.246 − 3.08e-3 S + 1.51e-5 S² − 2.67e-8 S³ in √in, S in kpsi.
    A ranking: Peterson's q differs by 30 % at small radii. `ValueError` for iron, a strength that may lie
    outside 345 to 1700 MPa, a Kt that may be below 1, and what `notch` refuses. Source: Budynas & Nisbett,
    Shigley's Mechanical Engineering Design, eq. 6-33 to 6-35a.
    """
    if material not in STEELS:
        raise ValueError(f"The formula holds for steel and not for {material}.")
    _check_crack(crack)
    _check_radius(radius)
    s, kt = strength.in_unit("MPa"), factor.in_unit(ONE)
    wide = s.uncertainty or EXACT
    if s.amount - wide < WEAKEST or s.amount + wide > STRONGEST:
        raise ValueError(f"The strength is {show(s)}; the formula holds from {WEAKEST} to {STRONGEST} MPa.")
    if kt.amount - (kt.uncertainty or EXACT) < 1:
        raise ValueError(f"The stress factor is {show(kt)}; it must be 1 or more, its ± taken off.")
    kpsi = Quantity(*_thousandth(s.in_unit("psi")), "psi")
    r = radius.in_unit("in")
    fatigue = through(lambda s, r, kt: 1 + _q(s, r) * (kt - 1), ONE, kpsi, r, kt)
    return NotchSensitivity(through(_q, ONE, kpsi, r), fatigue, _to_whom(role))


def _kt(depth: Decimal, radius: Decimal) -> Decimal:
    return 1 + 2 * (depth / radius).sqrt()


def _q(strength: Decimal, radius: Decimal) -> Decimal:
    root = sum((factor * strength**power for power, factor in enumerate(_NEUBER)), EXACT)
    return 1 / (1 + root / radius.sqrt())


def _thousandth(quantity: Quantity) -> tuple[Decimal, Decimal | None]:
    spread = quantity.uncertainty
    return quantity.amount / 1000, None if spread is None else spread / 1000


def _factor(depth: Quantity, radius: Quantity) -> Quantity:
    return through(_kt, ONE, depth.in_unit("mm"), radius.in_unit("mm"))


def _check(depth: Quantity, crack: str, *radii: Quantity) -> None:
    _check_crack(crack)
    if depth.amount <= (depth.uncertainty or EXACT):
        raise ValueError(f"The depth of the notch is {show(depth)}; it must be above zero, its ± taken off.")
    for radius in radii:
        _check_radius(radius)


def _check_crack(crack: str) -> None:
    if crack == "found":
        raise ValueError("A crack was found: stop, leave it as it is, and have a competent engineer look at it.")
    if crack != "none-found":
        raise ValueError("Nobody has looked for a crack at this corner; that comes first, by a competent person.")


def _check_radius(radius: Quantity) -> None:
    r = radius.in_unit("mm")
    if r.amount - (r.uncertainty or EXACT) < SHARPEST:
        raise ValueError(
            f"The radius is {show(radius)}, and may be below {SHARPEST} mm: so sharp a corner counts as a crack,"
            " for a competent engineer to look at."
        )


def _to_whom(role: str | None) -> str:
    return UNTOLD if role is None else TO_WHOM[role]


CAUTIONS = (
    "A crack in a spoke, a rod, a crank web, a lifting point or a pressure wall is a stop, not a number.",
    "A ranking of corners, not a strength and not a life: a competent engineer judges what carries load.",
)
_ON_FABRIC = (
    "A corner inside a shape cannot be radiused without cutting parent metal or adding weld; both are fabric.",
    "Square corners of openings in plate frames are where cracks start (common practice): have them looked at first.",
)
_DEPTH = Input("depth", "the depth of the notch, or half the length of an opening across the pull", "mm")
_CRACK = Input("crack", "whether a crack was looked for at the corner, and found", values=LOOKED)
_ROLE = Input("role", "what the part does", values=tuple(TO_WHOM), optional=True)
_REFER = Answer("refer", "to whom the number goes")
_VALID = "A notch in a wide plate under tension, no crack, radius 0.1 mm or more, elastic; elsewhere a ranking only."
_INGLIS = "Inglis 1913, as quoted by Britannica and by a published benchmark"

CALCULATIONS = (
    Calculation(
        name="notch",
        does="How many times the stress rises at the root of a notch.",
        formula="Kt = 1 + 2 √(depth / radius)",
        inputs=(_DEPTH, Input("radius", "the radius at its root", "mm"), _CRACK, _ROLE),
        gives=(Answer("factor", "stress at the root over the stress beside the notch", ONE), _REFER),
        valid=_VALID,
        source=_INGLIS,
        example={"depth": "20 ± 0.5 mm", "radius": "3 ± 0.25 mm", "crack": "none-found", "role": "structure"},
        run=notch,
        cautions=CAUTIONS,
    ),
    Calculation(
        name="radius-gain",
        does="What a larger radius would do to the stress at a corner.",
        formula="Kt = 1 + 2 √(depth / radius), with either radius; share = Kt after / Kt before × 100 %",
        inputs=(
            _DEPTH,
            Input("radius_now", "the radius of the corner now", "mm"),
            Input("radius_after", "the radius proposed", "mm", exact=True),
            _CRACK,
            _ROLE,
        ),
        gives=(
            Answer("before", "stress factor of the corner now", ONE),
            Answer("after", "stress factor with the new radius", ONE),
            Answer("share", "stress at the corner afterwards, of that before", "%"),
            _REFER,
        ),
        valid=_VALID,
        source=_INGLIS,
        example={
            "depth": "20 ± 0.5 mm",
            "radius_now": "0.5 ± 0.2 mm",
            "radius_after": "3 mm",
            "crack": "none-found",
        },
        run=radius_gain,
        cautions=(*CAUTIONS, *_ON_FABRIC),
    ),
    Calculation(
        name="notch-sensitivity",
        does="How far a steel feels a notch when the load comes and goes.",
        formula="q = 1 / (1 + √a / √r); Kf = 1 + q (Kt − 1); √a = 0.246 − 0.00308 S + 0.0000151 S² − 0.0000000267 S³, "
        "r in inches, S in thousands of psi",
        inputs=(
            Input("material", "what the part is made of", values=(*STEELS, *IRONS)),
            Input("strength", "the tensile strength", "MPa"),
            Input("radius", "the radius at the root", "mm"),
            Input("factor", "the stress factor Kt of the notch", ONE),
            _CRACK,
            _ROLE,
        ),
        gives=(
            Answer("sensitivity", "notch sensitivity q", ONE),
            Answer("fatigue_factor", "stress factor Kf under a load that comes and goes", ONE),
            _REFER,
        ),
        valid="Steel of 345 to 1700 MPa in bending or tension; a ranking: Peterson's q differs by 30 %.",
        source="Budynas & Nisbett, Shigley's Mechanical Engineering Design, eq. 6-33 to 6-35a",
        example={
            "material": "mild-steel",
            "strength": "430 ± 40 MPa",
            "radius": "3 ± 0.25 mm",
            "factor": "6.2 ± 0.4",
            "crack": "none-found",
        },
        run=notch_sensitivity,
        cautions=CAUTIONS,
    ),
)
