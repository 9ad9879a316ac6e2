"""What several readings of one part say together: their extremes, their planes, and a wave fitted around them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from functools import partial
from statistics import NormalDist
from typing import NamedTuple

from conserve.calculation.propagation import Reading, rounded, through
from conserve.calculation.validity import not_negative
from conserve.quantity import EXACT, Quantity

_BEYOND = math.erfc(math.sqrt(2)) / 2  # the chance that a normal error lies further than k = 2 to one side


def lengths(name: str, readings: Sequence[Reading], *, zero: bool = False) -> tuple[Reading, ...]:
    """The readings in mm. `ValueError` where there is none, or where one is below zero, or zero unless that may be."""
    if not readings:
        raise ValueError(f"At least one reading of the {name} is needed.")
    told = tuple(reading.in_unit("mm") for reading in readings)
    for reading in told:
        not_negative(name, reading.value, zero=zero)
    return told


def by_plane(readings: Sequence[Reading]) -> dict[str, tuple[Reading, ...]]:
    """The readings of each plane, by its name. `ValueError` where some name their plane and some do not."""
    names = sorted({reading.plane for reading in readings})
    if len(names) > 1 and not names[0]:
        raise ValueError("Some readings name their plane and some do not.")
    return {name: tuple(reading for reading in readings if reading.plane == name) for name in names}


def angles_of(readings: Sequence[Reading]) -> tuple[Decimal, ...]:
    """The angle of each reading, or `ValueError` where one has none."""
    found = tuple(reading.angle for reading in readings if reading.angle is not None)
    if len(found) < len(readings):
        raise ValueError("Every reading needs the angle at which it was taken.")
    return found


def distinct(angles: Sequence[Decimal], turn: int) -> int:
    """How many different angles there are, to a degree, where `turn` degrees come back to the same."""
    return len({round(angle) % turn for angle in angles})


def within(angle: Decimal, turn: Decimal) -> Decimal:
    """The angle from 0 up to `turn`; a remainder of a negative decimal would be negative."""
    return (angle % turn + turn) % turn


def least(readings: Sequence[Reading]) -> Reading:
    """The reading that is least, as uncertain as it is that the part is nowhere smaller."""
    return _extreme(readings, Decimal(-1))


def greatest(readings: Sequence[Reading]) -> Reading:
    """The reading that is greatest, as uncertain as it is that the part is nowhere larger."""
    return _extreme(readings, Decimal(1))


def standing_for(value: Quantity, readings: Sequence[Reading]) -> Reading:
    """A value worked out from readings, with the bias that they all share, as a reading again."""
    instruments = {(reading.instrument, reading.shared) for reading in readings}
    instrument, shared = instruments.pop() if len(instruments) == 1 else ("", None)
    return Reading(value, readings[0].plane, None, instrument, shared)


def _extreme(readings: Sequence[Reading], sign: Decimal) -> Reading:
    """The greatest reading (sign 1) or the least (sign -1), all in one unit.

    Where several readings may be the extreme, chance picks the one that is furthest out, so that it is
    likelier to be wrong than any one reading. Each of them is therefore widened until all hold at once
    with the probability of k = 2 (Bonferroni's inequality, whatever they have in common), and the one that
    then reaches furthest counts. A bias that all share is not widened. One that clearly stands alone keeps its own ±.
    """
    found = max(readings, key=lambda reading: sign * reading.value.amount)
    told = replace(standing_for(found.value, readings), plane=found.plane, angle=found.angle)
    spreads = [r.value.uncertainty for r in readings if r.value.uncertainty is not None]
    if len(spreads) < len(readings):
        return replace(told, value=replace(told.value, uncertainty=None))
    bias = min(max(spreads), _bias(told))
    own = [(spread**2 - min(spread, bias) ** 2).sqrt() for spread in spreads]
    behind = [abs(found.value.amount - reading.value.amount) for reading in readings]
    wide, mine = _widened(len(readings)), max(spread for gap, spread in zip(behind, own, strict=True) if not gap)
    rivals = [(gap, spread) for gap, spread in zip(behind, own, strict=True) if gap <= wide * (spread + mine)]
    reach = max(_widened(len(rivals)) * spread - gap for gap, spread in rivals)
    return replace(told, value=replace(told.value, uncertainty=(bias**2 + reach**2).sqrt() if bias else reach))


def _bias(reading: Reading) -> Decimal:
    """What all readings that it stands for share, in its unit; nothing that can be counted on without a name."""
    if reading.shared is None:
        return EXACT
    return reading.shared.in_unit(reading.value.unit).amount


def _widened(count: int) -> Decimal:
    """How much wider than k = 2 each of so many must be for all of them to hold as often as one does."""
    return rounded(-NormalDist().inv_cdf(_BEYOND / count) / 2)


class Wave(NamedTuple):
    """A size that goes up and down around a part: mean + cosine cos(mθ) + sine sin(mθ), m times a turn."""

    mean: Decimal
    cosine: Decimal
    sine: Decimal

    @property
    def height(self) -> Decimal:
        """How far it goes above its mean, and below."""
        return (self.cosine**2 + self.sine**2).sqrt()


def fitted(angles: Sequence[Decimal], times: int, *sizes: Decimal) -> Wave:
    """The wave, `times` around a turn, that is nearest to the sizes at the angles (degrees) by least squares.

    At least three angles must differ in the wave. Only differences from the first size are fitted, so that
    equal sizes give exactly no wave. Source: derived; at equal spacing it is the closed form of the
    NIST/SEMATECH e-Handbook, 2.3.4.4.
    """
    n = len(sizes)
    turns = [math.radians(float(angle * times)) for angle in angles]
    cosines, sines = [_even(math.cos(turn)) for turn in turns], [_even(math.sin(turn)) for turn in turns]
    rises = [size - sizes[0] for size in sizes]
    middle_c, middle_s, middle_d = sum(cosines, Decimal()) / n, sum(sines, Decimal()) / n, sum(rises, Decimal()) / n
    c, s = [x - middle_c for x in cosines], [x - middle_s for x in sines]
    cc, ss, cs = _dot(c, c), _dot(s, s), _dot(c, s)
    cd, sd = _dot(c, rises), _dot(s, rises)
    scale = cc * ss - cs * cs
    cosine, sine = (cd * ss - sd * cs) / scale, (sd * cc - cd * cs) / scale
    return Wave(sizes[0] + middle_d - cosine * middle_c - sine * middle_s, cosine, sine)


def crest(angles: Sequence[Decimal], times: int, readings: Sequence[Reading]) -> Quantity:
    """Where the fitted wave is highest, in degrees from 0 up to 360 / times, with its uncertainty.

    A moved crest is counted the short way round. It means nothing where there is no wave.
    """
    turn = Decimal(360) / times
    at = partial(_crest, angles, times)
    middle = at(*(reading.value.amount for reading in readings))

    def nearest(*sizes: Decimal) -> Decimal:
        return middle + within(at(*sizes) - middle + turn / 2, turn) - turn / 2

    return through(nearest, "°", *readings)


def _crest(angles: Sequence[Decimal], times: int, *sizes: Decimal) -> Decimal:
    wave = fitted(angles, times, *sizes)
    degrees = math.degrees(math.atan2(float(wave.sine), float(wave.cosine))) / times
    return within(rounded(degrees), Decimal(360) / times)


def _even(share: float) -> Decimal:
    """A sine or cosine at twelve places: that of a right angle is then nought, as it is."""
    return rounded(round(share, 12))


def _dot(one: Sequence[Decimal], other: Sequence[Decimal]) -> Decimal:
    return sum((a * b for a, b in zip(one, other, strict=True)), Decimal())
