"""How metals stretch and grow: E, Poisson's ratio and expansion, by the words for materials.

A word covers many metals, old ones among them that nobody has tested. Each ± is half of what published
tables give for that kind of metal, and is taken as expanded (k = 2).
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.quantity import Quantity


class Elastic(NamedTuple):
    """What a metal does under load and heat, at room temperature up to about 300 °C."""

    modulus: Quantity  # E, GPa
    poisson: Quantity
    expansion: Quantity  # a share of length per °C


# Word: E and ± in GPa, Poisson's ratio and ±, expansion and ± in millionths per °C. "Shigley" is table A-5 of
# Shigley's Mechanical Engineering Design, "Callister" tables B.2 and B.6 of Callister's Materials Science and
# Engineering; "ranges" is a university's table of ranges by family (Missouri S&T, strength of materials).
# All were read as quoted on open pages, not in the books.
_METALS = {
    # Callister: 66-97, 90-113, 110-138 GPa by grade; ranges: 0.2-0.3 and 9.9-12. Its curve has no straight part.
    "grey-cast-iron": ("102", "36", "0.25", "0.05", "11.0", "1.1"),
    # 165, 172 and 180 GPa, 0.27 and 0.29 (three open tables); 10.6-13.5 and 14 (two).
    "malleable-iron": ("172", "8", "0.28", "0.02", "12.3", "1.8"),
    # 193 GPa, 0.278 (two open tables); 11.3, 12.6 and 13.3 (three, one of the nineteenth century).
    "wrought-iron": ("193", "10", "0.28", "0.02", "12.3", "1.1"),
    # Callister and Shigley: 207 GPa, others 200; 0.292, ranges 0.27-0.30; Callister 11.3-11.7, 1010 steel 12.2.
    "mild-steel": ("205", "7", "0.29", "0.02", "11.7", "0.5"),
    # Callister, 4140 and 4340: 207 GPa and 12.3; Shigley, nickel steel: 0.291.
    "alloy-steel": ("206", "6", "0.29", "0.02", "12.3", "0.9"),
    # C90300 and C90500 data sheets: 96.5, 103 and 110 GPa, 0.34; 17.3, 18 and 19.8.
    "gunmetal": ("104", "8", "0.34", "0.02", "18.0", "1.8"),
    # Ranges: 96-117 GPa; Shigley, phosphor bronze: 111 GPa, 0.349, others 0.34; Callister, C93200: 18.0.
    "bronze": ("107", "11", "0.345", "0.015", "18.2", "1.2"),
    # Ranges: 96-110 GPa, 0.34 and 19.1-21.2; Shigley: 106 GPa, 0.324; data sheets from 18.4.
    "brass": ("103", "7", "0.335", "0.02", "19.8", "1.5"),
    # Ranges: 110-124 GPa, 0.33-0.36 and 16.6-17.6; Shigley: 119 GPa, 0.326; Callister: 17.0.
    "copper": ("117", "7", "0.34", "0.02", "17.0", "0.6"),
    # Callister: 69-72 GPa and 21.5-23.6; Shigley: 71 GPa, 0.334.
    "aluminium": ("71", "4", "0.33", "0.01", "23.0", "1.5"),
}
CREEPS = ("white-metal", "lead")
WORDS = (*_METALS, *CREEPS)


def elastic(word: str) -> Elastic:
    """E, Poisson's ratio and expansion of a metal by its word.

    `ValueError` for white metal and lead, which creep, and for any other word. Source: see the table.
    """
    if word in CREEPS:
        metal = word.replace("-", " ")
        raise ValueError(f"A fit in {metal} is not reckoned, because {metal} creeps and keeps no elastic grip.")
    if word not in _METALS:
        raise ValueError(f"No E, Poisson's ratio and expansion are kept for '{word}'.")
    e, u_e, nu, u_nu, alpha, u_alpha = (Decimal(number) for number in _METALS[word])
    millionth = Decimal("0.000001")
    return Elastic(
        Quantity(e, u_e, "GPa"),
        Quantity(nu, u_nu, "1"),
        Quantity(alpha * millionth, u_alpha * millionth, "1"),
    )
