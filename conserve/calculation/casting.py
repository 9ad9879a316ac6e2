"""A replica in cast metal: how large its pattern must be, and what is lost where a casting serves as one.

Sources disagree on contraction by nearly half or more, so it is held as a band; the founder knows the metal.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.casting_tables import CONTRACTIONS, STRENGTH
from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.calculation.validity import in_range, not_negative
from conserve.quantity import EXACT, Quantity

_ROOT_3 = Decimal(3).sqrt()
_GENERATIONS = 20  # more is a slip of the keyboard
_MOST = "5"  # %; the largest contraction that any of the sources prints for a metal is 2.6 %


class Contraction(NamedTuple):
    """What is printed for a metal, all sources together."""

    contraction: Quantity  # %, the middle of the band; every value of the band counts as likely as any other
    lowest: Quantity  # %
    highest: Quantity  # %
    sources: str


class PatternSize(NamedTuple):
    """The size of a pattern."""

    pattern: Quantity  # mm
    doubt: Quantity | None  # mm, half of what the contraction alone leaves open; None where its ± is not stated


class Copied(NamedTuple):
    """What is left of a size after it was cast from a casting."""

    size_after: Quantity  # mm
    lost: Quantity  # mm


def contraction(material: str) -> Contraction:
    """Look up the linear contraction of a cast metal as the band of what sources print.

    A material of the casebook's words; `mild-steel` stands for cast steel. % out. The ± of the middle is
    2 a / √3, a half of the band, as every value in it counts as likely as any other (JCGM 100, 4.3.7). Valid for
    sand castings free to contract; cores and long thin parts hold it back. `ValueError` for another material.
    Source: beside each value.
    """
    if material not in CONTRACTIONS:
        raise ValueError(f"No printed contraction is held here for {material}; ask the founder and give that figure.")
    told = CONTRACTIONS[material]
    low, high = min(Decimal(row[1]) for row in told), max(Decimal(row[2]) for row in told)
    said = (f"{who} {one if one == two else f'{one} to {two}'} %" for who, one, two in told)
    middle = Quantity((low + high) / 2, (high - low) / _ROOT_3, "%")
    return Contraction(middle, Quantity(low, EXACT, "%"), Quantity(high, EXACT, "%"), "; ".join(said))


def pattern_size(
    casting: Quantity, material: str | None = None, contraction: Quantity | None = None, double: str = "no"
) -> PatternSize:
    """Size of the pattern for a casting: casting / (1 - c); / (1 - c)² for the wooden master of a metal pattern.

    Length in, a material or the founder's contraction in % (which counts where both are given), mm out. The
    metal pattern is of the casting's own metal; for another reckon twice. Machined dimensions are those of the
    raw casting. Valid for free contraction up to 5 %. `ValueError` outside, or without a contraction.
    Source: geometry (derived); double contraction: a text-book of mechanical engineering of about 1900.
    """
    not_negative("dimension of the casting", casting, zero=False)
    size, (c, half) = casting.in_unit("mm"), _band(material, contraction)
    times = 2 if double == "yes" else 1
    pattern = through(lambda s, c: s / (1 - c / 100) ** times, "mm", size, c)
    if half is None:
        return PatternSize(pattern, None)
    ends = [size.amount / (1 - (c.amount + sign * half) / 100) ** times for sign in (1, -1)]
    return PatternSize(pattern, Quantity((ends[0] - ends[1]) / 2, EXACT, "mm"))


def survivor_as_pattern(
    size: Quantity, generations: int, material: str | None = None, contraction: Quantity | None = None
) -> Copied:
    """What is left of a size cast straight from an original, and again from its copy: s (1 - c)^n.

    Length in, a count of generations, a material or the founder's contraction in %; mm out. Valid as
    `pattern_size` is. `ValueError` outside, or for other than 1 to 20 generations. Source: geometry (derived).
    """
    not_negative("size", size, zero=False)
    if not 1 <= generations <= _GENERATIONS:
        raise ValueError(f"There must be 1 to {_GENERATIONS} generations, not {generations}.")
    s, (c, _) = size.in_unit("mm"), _band(material, contraction)
    after = through(lambda s, c: s * (1 - c / 100) ** generations, "mm", s, c)
    lost = through(lambda s, c: s * (1 - (1 - c / 100) ** generations), "mm", s, c)
    return Copied(after, lost)


def _band(material: str | None, given: Quantity | None) -> tuple[Quantity, Decimal | None]:
    """A contraction in %, and half of what it leaves open."""
    if given is not None:
        c = given.in_unit("%")
        in_range("contraction", c, "0", _MOST)
        return c, c.uncertainty
    if material is None:
        raise ValueError("Give the material, or the founder's contraction.")
    found = contraction(material)
    return found.contraction, (found.highest.amount - found.lowest.amount) / 2


_METAL = Input("material", "metal that is cast; mild-steel stands for cast steel", values=tuple(CONTRACTIONS))
_MAYBE_METAL = Input(_METAL.name, _METAL.means, values=_METAL.values, optional=True)
_FOUNDERS = Input("contraction", "the founder's own contraction", "%", optional=True)
_FREE = "Sand castings free to contract, 0 to 5 %. Cores and long thin parts hold it back: ask the founder."
_PRINTED = "Dooley, § 426; a text-book of about 1900; shrink rules; a web chart; teaching notes: see each value"
_NEVER = (
    "Never use the survivor as the pattern: oil, sand and the draw damage it, and the copy comes out small.",
    *STRENGTH,
)

CALCULATIONS = (
    Calculation(
        name="contraction",
        does="How much a cast metal contracts.",
        formula="the band from the lowest to the highest printed figure; ± = width / √3",
        inputs=(_METAL,),
        gives=(
            Answer("contraction", "middle of the band", "%"),
            Answer("lowest", "lowest printed figure", "%"),
            Answer("highest", "highest printed figure", "%"),
            Answer("sources", "who prints what"),
        ),
        valid=_FREE,
        source=_PRINTED,
        example={"material": "grey-cast-iron"},
        run=contraction,
    ),
    Calculation(
        name="pattern-size",
        does="How large a pattern must be.",
        formula="pattern = casting / (1 − contraction); for the wooden master of a metal pattern / (1 − contraction)²",
        inputs=(
            Input("casting", "dimension of the raw casting", "mm"),
            _MAYBE_METAL,
            _FOUNDERS,
            Input("double", "whether a metal pattern is cast from it first", values=("yes", "no"), optional=True),
        ),
        gives=(
            Answer("pattern", "dimension of the pattern", "mm"),
            Answer("doubt", "half of what the contraction leaves open", "mm"),
        ),
        valid=f"{_FREE} A metal pattern of another metal: reckon twice.",
        source=f"geometry (derived); contraction: {_PRINTED}",
        example={"casting": "300 ± 0.5 mm", "contraction": "1.05 ± 0.25 %"},
        run=pattern_size,
        cautions=_NEVER,
    ),
    Calculation(
        name="survivor-as-pattern",
        does="What a copy cast straight from a casting loses in size.",
        formula="size after = size × (1 − contraction)^generations",
        inputs=(
            Input("size", "dimension of the survivor", "mm"),
            Input("generations", "how many castings, one from the other", count=True),
            _MAYBE_METAL,
            _FOUNDERS,
        ),
        gives=(Answer("size_after", "dimension of the last copy", "mm"), Answer("lost", "what it lost", "mm")),
        valid=_FREE,
        source=f"geometry (derived); contraction: {_PRINTED}",
        example={"size": "300 ± 0.2 mm", "generations": "3", "material": "grey-cast-iron"},
        run=survivor_as_pattern,
        cautions=_NEVER,
    ),
)
