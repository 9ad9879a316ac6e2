"""Parts held in one another by interference: how tight, what force they take, and how far a bore closes.

Interference is always **diametral**: outside diameter of the inner part less the bore of the hub, both free.
Some textbooks write the formula for radial interference; the two differ by a factor of two.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.elastic import WORDS, Elastic, elastic
from conserve.calculation.fabric import PI
from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.pressing import PRESSING, share_of
from conserve.calculation.propagation import through
from conserve.calculation.validity import above_zero, highest, lowest
from conserve.quantity import Quantity, show

# Published figures run from 0.05 to 0.2: steel on yellow metal dry 0.05-0.1, steel on steel oiled 0.05-0.1 and
# dry 0.1-0.15 (tribology-abc.com, interference fit); 0.15-0.20 for shrink fits (lecture notes on thick cylinders).
# Any value of the band counts as likely as any other: ± 2 (0.075 / √3) = ± 0.087 (JCGM 100, 4.3.7).
FRICTION = Quantity(Decimal("0.125"), Decimal("0.087"), "1")
# Interference is commonly about a thousandth of the diameter (tribology-abc.com). Twice that is where the
# metals of the table cease to be elastic: from memory.
_STEEPEST = Decimal("0.002")


class PressFit(NamedTuple):
    """What an interference does to the two parts, and what it takes to move them."""

    pressure: Quantity  # MPa
    force: Quantity  # kN
    hub_hoop: Quantity  # MPa, tension at the bore of the hub
    bore_hoop: Quantity | None  # MPa, below zero for compression; None for a solid part
    bore_closure: Quantity | None  # mm on the diameter; None for a solid part
    press_share: Quantity | None  # %; None without a press


def press_fit(
    interference: Quantity, diameter: Quantity, length: Quantity, hub_outside: Quantity, bore: Quantity,
    hub: str, inner: str, friction: Quantity | None = None, press: Quantity | None = None,
) -> PressFit:  # fmt: skip
    """Pressure, force and hoop stresses of an inner part pressed into a hub, and how far its bore closes.

    Lengths in mm (the interference DIAMETRAL), materials as words, the press in kN; friction has no unit, by
    default 0.05 to 0.2. Lamé's thick cylinders of two materials:
    p = δ / (D (Ah/Eh + Ai/Ei)), Ah = (Do² + D²)/(Do² - D²) + Poisson's ratio of the hub, Ai = (D² + d²)/(D² - d²)
    less that of the inner part; F = π D L p µ.
    Valid for round parts of equal length that stay elastic, without flange, step or crack. Roughness that is
    pressed flat takes some of the interference: 0.4 (Rz1 + Rz2) by DIN 7190-1:2017, 0.8 by its former edition,
    0.12 by others; it is not taken off here, so pressure and force are told too high. `ValueError` for an
    interference that may be none or is above 0.002 of the diameter, for diameters that do not follow one
    another, and for a metal that creeps. Source: Budynas & Nisbett, Shigley's Mechanical Engineering Design,
    8th edition, tutorial 3-16 (as quoted).
    """
    return fitted(interference, diameter, length, hub_outside, bore, elastic(hub), elastic(inner), friction, press)


def fitted(
    interference: Quantity, diameter: Quantity, length: Quantity, hub_outside: Quantity, bore: Quantity,
    hub: Elastic, inner: Elastic, friction: Quantity | None = None, press: Quantity | None = None,
) -> PressFit:  # fmt: skip
    """As `press_fit`, for metals whose E and Poisson's ratio are known."""
    sizes = tuple(one.in_unit("mm") for one in (interference, diameter, hub_outside, bore))
    long, rubbing = length.in_unit("mm"), (friction or FRICTION).in_unit("1")
    _check_parts(*sizes)
    _check_grip(long, rubbing)
    fit = (*sizes, hub.modulus.in_unit("MPa"), hub.poisson, inner.modulus.in_unit("MPa"), inner.poisson)
    force = through(_force, "kN", *fit, long, rubbing)
    hollow = sizes[3].amount > 0
    return PressFit(
        through(_pressure, "MPa", *fit),
        force,
        through(_hub_hoop, "MPa", *fit),
        through(_bore_hoop, "MPa", *fit) if hollow else None,
        through(_closure, "mm", *fit) if hollow else None,
        None if press is None else share_of(force, press),
    )


def _check_parts(interference: Quantity, diameter: Quantity, outside: Quantity, bore: Quantity) -> None:
    above_zero("interference", interference)
    above_zero("diameter", diameter)
    if lowest(outside) <= highest(diameter):
        raise ValueError(f"A hub of {show(outside)} outside is not certainly larger than a joint of {show(diameter)}.")
    if lowest(bore) < 0 or highest(bore) >= lowest(diameter):
        reach = f"zero to less than the joint's {show(diameter)}, its ± included"
        raise ValueError(f"The bore of the inner part is {show(bore)}; it must be {reach}.")
    if highest(interference) / lowest(diameter) > _STEEPEST:
        told = f"{show(interference)} on {show(diameter)}"
        raise ValueError(f"An interference of {told} is above 0.002 of the diameter, where metal ceases to be elastic.")


def _check_grip(length: Quantity, friction: Quantity) -> None:
    above_zero("length", length)
    above_zero("friction", friction)
    if highest(friction) > 1:
        raise ValueError(f"The friction is {show(friction)}; it must not reach above 1.")


def _pressure(*fit: Decimal) -> Decimal:
    delta, d, outside, bore, e_hub, nu_hub, e_inner, nu_inner = fit
    hub = (_ratio(outside, d) + nu_hub) / e_hub
    inner = (_ratio(d, bore) - nu_inner) / e_inner
    return delta / (d * (hub + inner))


def _force(*fit: Decimal) -> Decimal:
    *rest, length, friction = fit
    return PI * rest[1] * length * _pressure(*rest) * friction / 1000


def _hub_hoop(*fit: Decimal) -> Decimal:
    return _pressure(*fit) * _ratio(fit[2], fit[1])


def _bore_hoop(*fit: Decimal) -> Decimal:
    return -2 * _pressure(*fit) * fit[1] ** 2 / (fit[1] ** 2 - fit[3] ** 2)


def _closure(*fit: Decimal) -> Decimal:
    return -_bore_hoop(*fit) * fit[3] / fit[6]


def _ratio(larger: Decimal, smaller: Decimal) -> Decimal:
    return (larger**2 + smaller**2) / (larger**2 - smaller**2)


CALCULATIONS = (
    Calculation(
        name="press-fit",
        does="Pressure, force and stresses of a part pressed into a hub, and how far its bore closes.",
        formula="p = δ / (D (Ah/Eh + Ai/Ei)), Ah = (Do² + D²)/(Do² − D²) + Poisson's ratio of the hub, "
        "Ai = (D² + d²)/(D² − d²) − Poisson's ratio of the inner part; force = π D L p µ; hub hoop = "
        "p (Do² + D²)/(Do² − D²); bore hoop = −2 p D²/(D² − d²); closure = 2 p D² d/((D² − d²) Ei)",
        inputs=(
            Input("interference", "the diametral interference: inner part's outside less the hub's bore", "mm"),
            Input("diameter", "nominal diameter of the joint", "mm", exact=True),
            Input("length", "length of the joint", "mm"),
            Input("hub_outside", "outside diameter of the hub", "mm"),
            Input("bore", "bore of the inner part, 0 if solid", "mm", exact=True),
            Input("hub", "metal of the hub", values=WORDS),
            Input("inner", "metal of the inner part", values=WORDS),
            Input("friction", "friction in the joint, 0.05 to 0.2 if left out", "1", optional=True),
            Input("press", "force of the press at hand", "kN", exact=True, optional=True),
        ),
        gives=(
            Answer("pressure", "pressure in the joint", "MPa"),
            Answer("force", "force that moves the joint", "kN"),
            Answer("hub_hoop", "tension round the bore of the hub", "MPa"),
            Answer("bore_hoop", "stress round the bore of the inner part, below zero for compression", "MPa"),
            Answer("bore_closure", "how much smaller the inner part's bore becomes", "mm"),
            Answer("press_share", "force as a share of the press", "%"),
        ),
        valid="Clean, round, parallel parts of equal length that stay elastic; not flanged, stepped or cracked ones. "
        "Roughness pressed flat is not taken off.",
        source="Budynas & Nisbett, Shigley's Mechanical Engineering Design, 8th edition, tutorial 3-16; friction from "
        "tribology-abc.com and lecture notes on shrink fits",
        cautions=(
            *PRESSING,
            "Ream or bore a bush after it is pressed in, not before: a bush reamed first closes and will bind.",
            "Hold the stress round the bore against what the metal of the bush bears: a thin bush may be crushed.",
        ),
        example={
            "interference": "0.051 ± 0.010 mm",
            "diameter": "80 mm",
            "length": "80 ± 0.5 mm",
            "hub_outside": "128 ± 1 mm",
            "bore": "64 mm",
            "hub": "mild-steel",
            "inner": "gunmetal",
            "press": "117.7 kN",
        },
        run=press_fit,
    ),
)
