"""Whether a press has a joint in hand: half of it for the joint, the other half kept."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.fabric import PI
from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.calculation.validity import above_zero
from conserve.quantity import Quantity, at_most, show
from conserve.truth import Truth, all_of

PRESSING = (
    "Press ejection kills: guard the work, keep the pusher square and solid, and stand clear of the line of force.",
    "Thin grey iron hubs burst without yielding; past a quarter of tensile strength at the bore, ask an engineer.",
    "If a joint has not moved at the force that was reckoned, stop. Never give it a bit more.",
    "Let a competent person decide how to press, and follow the law of the place.",
)
_JOINTS = ("clean", "oiled", "rusted", "galled", "not-known")
_TRUSTED = ("clean", "oiled")
_ELSE = "warm the hub, draw it hydraulically, or leave it"
_UPPER = Decimal("1.6449") / 2  # of an expanded uncertainty (k = 2), to the upper 95 % value of a normal distribution


class PressEnough(NamedTuple):
    """Whether half of a press is enough, and what to do."""

    share: Quantity  # % of the whole press
    enough: Truth
    stop_at: Quantity  # kN
    instead: str


def press_enough(force: Quantity, press: Quantity, joint: str) -> PressEnough:
    """Hold the force that a joint will take against half of the press; the other half is kept in hand.

    Forces in, share in %. Yes where the force is at most half the press at 0.95, no where it is above it at
    0.95. A joint that is rusted, galled or not known is never yes: no friction is known for it. Stop at the
    force that was reckoned (its upper 95 % value) or at half the press, whichever comes first: a joint that
    has not moved by then is not the joint that was taken. `ValueError` for a force or a press that is not
    above zero, or another word. Source: common practice, no published source.
    """
    if joint not in _JOINTS:
        raise ValueError(f"A joint is clean, oiled, rusted, galled or not-known, not '{joint}'.")
    if force.amount <= 0:
        raise ValueError(f"The force is {show(force)}; it must be above zero.")
    share = share_of(force, press)
    half = press.times(Decimal("0.5")).in_unit("kN")
    trusted = joint in _TRUSTED
    enough = all_of((at_most(force, half), Truth.YES if trusted else Truth.UNKNOWN))
    told = force.in_unit("kN")
    stop = half.amount
    if trusted and told.uncertainty is not None:
        stop = min(stop, told.amount + _UPPER * told.uncertainty)
    instead = "no other way is called for by this number" if enough is Truth.YES else _ELSE
    return PressEnough(share, enough, Quantity(stop, Decimal(0), "kN"), instead)


def seized_joint(diameter: Quantity, length: Quantity, bond: Quantity) -> Quantity:
    """Force to shear a joint that has rusted or grown together: F = π D L τ.

    Diameter and length in mm, shear strength of the bond in MPa, force in kN. Valid for a bond of one strength
    over the whole length. `ValueError` for an input that is not above zero. Source: geometry (derived); no
    published bond strength is known, so it must come from a trial on the joint or a like one.
    """
    for name, one in (("diameter", diameter), ("length", length), ("bond", bond)):
        above_zero(name, one)
    inputs = (diameter.in_unit("mm"), length.in_unit("mm"), bond.in_unit("MPa"))
    return through(lambda d, run, tau: PI * d * run * tau / 1000, "kN", *inputs)


def share_of(force: Quantity, press: Quantity) -> Quantity:
    """A force as a share of a press, in %: 100 F / P. `ValueError` for a press that is not above zero."""
    above_zero("press", press)
    return through(lambda taken, whole: 100 * taken / whole, "%", force.in_unit("kN"), press.in_unit("kN"))


CALCULATIONS = (
    Calculation(
        name="press-enough",
        does="Whether half of a press is enough for a joint, when to stop, and what to do instead.",
        formula="share = force / press; enough where the upper 95 % value of the force is at most half the press",
        inputs=(
            Input("force", "force that the joint will take", "kN"),
            Input("press", "force of the press at hand; twelve tonnes are 117.7 kN", "kN", exact=True),
            Input("joint", "what is known of the joint", values=_JOINTS),
        ),
        gives=(
            Answer("share", "force as a share of the press", "%"),
            Answer("enough", "whether half the press is enough"),
            Answer("stop_at", "force at which to stop", "kN"),
            Answer("instead", "what to do"),
        ),
        valid="A force worked out for the joint as it is. A rusted, galled or unknown joint is never answered yes.",
        source="common practice, no published source",
        cautions=PRESSING,
        example={"force": "29 ± 20 kN", "press": "117.7 kN", "joint": "clean"},
        run=press_enough,
    ),
    Calculation(
        name="seized-joint",
        does="Force that shears a joint which has rusted or grown together.",
        formula="F = π D L τ",
        inputs=(
            Input("diameter", "diameter of the joint", "mm"),
            Input("length", "length of the joint", "mm"),
            Input("bond", "shear strength of the bond", "MPa"),
        ),
        gives=(Answer("force", "force that shears the bond", "kN"),),
        valid="A bond of one strength over the whole length; its strength must come from a trial.",
        source="geometry (derived)",
        cautions=PRESSING,
        example={"diameter": "80 ± 0.1 mm", "length": "80 ± 0.5 mm", "bond": "20 ± 10 MPa"},
        run=seized_joint,
    ),
)
