"""How much metal a cut takes: volumes in cm3, masses in kg, each with its uncertainty.

The inputs of one cut count as independent (JCGM 100, 5.1.2). One gauge used before and after shares its
bias, so the uncertainty of a difference of diameters is then overstated, never understated. Cuts must
not overlap one another. The amount of metal says nothing about strength.
"""

from __future__ import annotations

import math
from decimal import Decimal

from conserve.calculation.propagation import rounded, through
from conserve.calculation.validity import not_negative
from conserve.quantity import Quantity, below, propagated, show
from conserve.truth import Truth

PI = Decimal("3.141592653589793238462643383")

# Angle of the thread -> half the difference of its diameters over its pitch. 60°: the nut's smallest diameter is
# D - 1.0826 P (tables of the ISO and unified threads). 55°: two thirds of the sharp triangle are left, 0.640327 P
# (tables of Whitworth's threads: 1 in, 8 to the inch, 0.9200 in across the flanks).
THREAD_DEPTHS = {Decimal(60): Decimal("0.541266"), Decimal(55): Decimal("0.640327")}


def skimmed(area: Quantity, depth: Quantity) -> Quantity:
    """Metal taken by a cut of even depth over a flat face: V = A d.

    Area and length in, cm3 out. Valid for a flat face; for a curved one while the depth is small beside
    its radius. `ValueError` for an area or a depth below zero. Source: geometry (derived).
    """
    return _slab(("area", area), ("depth of cut", depth))


def bored(diameter_before: Quantity, diameter_after: Quantity, length: Quantity) -> Quantity:
    """Metal taken by opening a round hole: V = π/4 (d1² - d0²) L.

    Lengths in, cm3 out. Valid for a parallel hole, the two diameters measured apart. A hole that may not
    have grown gives a volume about zero, or below. `ValueError` where it certainly gets smaller, for a
    diameter that is not above zero, or a length below zero. Source: geometry (derived).
    """
    if below(diameter_after, diameter_before) is Truth.YES:
        raise ValueError(f"A hole of {show(diameter_before)} cannot be bored to a smaller {show(diameter_after)}.")
    return _ring(diameter_after, diameter_before, length)


def turned(diameter_before: Quantity, diameter_after: Quantity, length: Quantity) -> Quantity:
    """Metal taken by turning a shaft down: V = π/4 (d0² - d1²) L.

    Lengths in, cm3 out. Valid for a parallel length without fillets, the two diameters measured apart. A
    shaft that may not have shrunk gives a volume about zero, or below. `ValueError` where it certainly
    gets larger, for a diameter that is not above zero, or a length below zero. Source: geometry (derived).
    """
    if below(diameter_before, diameter_after) is Truth.YES:
        raise ValueError(f"A shaft of {show(diameter_before)} cannot be turned to a larger {show(diameter_after)}.")
    return _ring(diameter_before, diameter_after, length)


def drilled(diameter: Quantity, depth: Quantity, holes: int) -> Quantity:
    """Metal taken by like holes drilled in the solid: V = n π/4 d² h, plain cylinders.

    Lengths and a count in, cm3 out. The cone at the bottom of a blind hole is left out. The holes share
    one diameter and one depth, so their uncertainties add in full. `ValueError` for a diameter that is
    not above zero, a depth below zero, or fewer holes than one. Source: geometry (derived).
    """
    not_negative("diameter", diameter, zero=False)
    not_negative("depth of the hole", depth)
    if holes < 1:
        raise ValueError(f"There must be one hole or more, not {holes}.")
    d, h = diameter.in_unit("mm"), depth.in_unit("mm")
    face = holes * PI / 4 * d.amount**2
    by_diameter = holes * PI / 2 * d.amount * h.amount
    return propagated(face * h.amount, "mm3", (by_diameter, d), (face, h)).in_unit("cm3")


def threaded(
    hole: Quantity, major: Quantity, pitch: Quantity, angle: Quantity, length: Quantity, holes: int = 1
) -> Quantity:
    """Metal taken by tapping like holes: V = n π/4 (dm² - d0²) L, with dm midway between the thread's diameters.

    Lengths, an angle and a count in, cm3 out. dm = D - 0.541266 P for a thread of 60°, D - 0.640327 P for 55°.
    Valid for a full thread. The groove of a 60° thread is narrower than its land, so that this tells about a tenth
    too much for it (8 to 12 % from M6 to M24, by integrating the basic profile). A hole that was tapped before
    counts at its own middle diameter. `ValueError` for another angle, fewer holes than one, a pitch or diameter
    that is not above zero, or a hole that is certainly as wide as the new thread. Source: geometry (derived) on
    the basic profiles of ISO 68-1 and BS 84, as told in thread tables.
    """
    not_negative("pitch", pitch, zero=False)
    if holes < 1:
        raise ValueError(f"There must be one hole or more, not {holes}.")
    return bored(hole, thread_middle(major, pitch, angle), length).times(Decimal(holes)).in_unit("cm3")


def thread_middle(major: Quantity, pitch: Quantity, angle: Quantity) -> Quantity:
    """The diameter midway between a thread's largest and smallest, in mm. `ValueError` for an unknown angle."""
    depth = THREAD_DEPTHS.get(angle.in_unit("°").amount.normalize())
    if depth is None:
        known = " or ".join(f"{degrees}°" for degrees in sorted(THREAD_DEPTHS))
        raise ValueError(f"The angle of the thread is {show(angle)}; only {known} can be reckoned.")
    return through(lambda d, p: d - depth * p, "mm", major.in_unit("mm"), pitch.in_unit("mm"))


def prepared(
    thickness: Quantity, root_face: Quantity, angle: Quantity, length: Quantity, gap: Quantity, sides: int
) -> Quantity:
    """Metal taken to prepare a butt joint for welding, from both parents: V = h² tan(A/2) L / n + g t L.

    h is the thickness less the root face, A the angle of the whole groove, n the sides it is cut from: one
    (single V) or two (double V, half as much). g is the gap where metal is taken out at the root. Lengths and
    an angle in, cm3 out. Valid for a straight groove with flat faces. `ValueError` for other than one or two
    sides, an angle not between 0 and 120°, a number below zero, or a root face that is or may be thicker than
    the plate. Source: geometry (derived).
    """
    numbers = (("thickness", thickness), ("root face", root_face), ("length of the joint", length), ("gap", gap))
    for name, number in numbers:
        not_negative(name, number)
    if sides not in (1, 2):
        raise ValueError(f"A groove is cut from one side or from two, not from {sides}.")

    def groove(t: Decimal, f: Decimal, degrees: Decimal, run: Decimal, g: Decimal) -> Decimal:
        if not 0 < degrees <= 120:
            raise ValueError(f"The angle of the groove is {show(angle)}; it must lie between 0 and 120°.")
        if f > t:
            raise ValueError(
                f"The root face of {show(root_face)} is, or may be, more than the {show(thickness)} of plate."
            )
        return (t - f) ** 2 * rounded(math.tan(math.radians(degrees) / 2)) * run / sides + g * t * run

    lengths = (
        thickness.in_unit("mm"),
        root_face.in_unit("mm"),
        angle.in_unit("°"),
        length.in_unit("mm"),
        gap.in_unit("mm"),
    )
    return through(groove, "mm3", *lengths).in_unit("cm3")


def let_in(area: Quantity, depth: Quantity) -> Quantity:
    """Metal taken by the pocket for a piece that is let in: V = A h.

    Area and length in, cm3 out. Valid for a pocket with upright walls and a flat floor. `ValueError` for an
    area or a depth below zero. Source: geometry (derived).
    """
    return _slab(("area of the pocket", area), ("depth of the pocket", depth))


def mass(volume: Quantity, density: Quantity) -> Quantity:
    """Mass of a volume of one material: m = density times V.

    Volume and density in, kg out. Valid for sound metal of one kind. A volume about zero may be below it.
    `ValueError` for a density that is not above zero. Source: definition of density.
    """
    not_negative("density", density, zero=False)
    return volume.product(density)


def volume(weight: Quantity, density: Quantity) -> Quantity:
    """Metal in a part of known weight, V = m / density, in mm3, for a weight in mass and a density.

    Valid for one material without hollows counted as metal. `ValueError` where the density is not above zero.
    Source: definition of density.
    """
    not_negative("weight", weight)
    not_negative("density", density, zero=False)
    m, rho = weight.to_base(), density.to_base()
    metal = m.amount / rho.amount * 10**9
    return propagated(metal, "mm3", (10**9 / rho.amount, m), (metal / rho.amount, rho))


def _slab(area: tuple[str, Quantity], depth: tuple[str, Quantity]) -> Quantity:
    """Area times depth in cm3, each with its name, for a sentence where it is below zero."""
    for name, number in (area, depth):
        not_negative(name, number)
    return area[1].product(depth[1]).in_unit("cm3")


def _ring(larger: Quantity, smaller: Quantity, length: Quantity) -> Quantity:
    not_negative("larger diameter", larger, zero=False)
    not_negative("smaller diameter", smaller, zero=False)
    not_negative("length", length)
    big, small, run = larger.in_unit("mm"), smaller.in_unit("mm"), length.in_unit("mm")
    ring = PI / 4 * (big.amount**2 - small.amount**2)
    half = PI / 2 * run.amount  # dV/dd = π/2 d L
    parts = ((half * big.amount, big), (half * small.amount, small), (ring, run))
    return propagated(ring * run.amount, "mm3", *parts).in_unit("cm3")
