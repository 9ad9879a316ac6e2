"""Paint on metal: whether the air lets it be put on, how much covers the peaks, and what blasting takes.

Nothing here says how long bare steel stays free of rust, or what an abrasive does to a metal by its
hardness: no formula for either holds.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.fabric import mass, skimmed
from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.calculation.validity import in_range, not_negative
from conserve.quantity import EXACT, Quantity, above, at_least, at_most, show
from conserve.truth import Truth

# Magnus formula over water, -45 to 60 °C: WMO Guide to Instruments and Methods of Observation (WMO-No. 8),
# Annex 4.B, as its coefficients and range are told in the manuals of pvlib 0.16 and of a weather station.
_A, _B = Decimal("17.62"), Decimal("243.12")
_COLDEST, _WARMEST = "-45", "60"
# ISO 8502-4 and ISO 12944-7 as suppliers of paint and of instruments tell them; neither standard was read.
_GAP, _DAMPEST = Quantity(Decimal(3), EXACT, "°C"), Quantity(Decimal(85), EXACT, "%")

# ISO 19840, what to take off a reading on a rough surface: from memory, found in no source.
_CORRECTIONS = {"fine": Decimal(10), "medium": Decimal(25), "coarse": Decimal(40)}
# ISO 8503-1, µm: where fine, medium and coarse begin, and where coarse ends (data sheets of the comparators).
_SEGMENTS = {"grit": ("25", "60", "100", "150"), "shot": ("25", "40", "70", "100")}


class CoatingWindow(NamedTuple):
    """How far the metal is from dew, and how the two rules of the trade stand."""

    dew_point: Quantity  # °C
    gap: Quantity  # °C, metal less dew point
    humidity_at_metal: Quantity  # %; above 100 water settles on it
    three_above: Truth
    dry_enough: Truth


class FilmOverProfile(NamedTuple):
    """What of a film stands over the peaks; None where the grade of the profile cannot be told."""

    grade: str | None
    correction: Quantity | None  # µm
    over_peaks: Quantity | None  # µm


class BlastingLoss(NamedTuple):
    """What an abrasive takes from a surface."""

    volume: Quantity  # cm3
    mass: Quantity  # g
    surface_gone: Truth


def dew_point(air: Quantity, humidity: Quantity) -> Quantity:
    """Temperature at which dew settles: Td = 243.12 g / (17.62 - g), g = ln(RH/100) + 17.62 t / (243.12 + t).

    °C and % in, °C out. Valid from -45 to 60 °C, also of the dew point, and from 1 to 100 %, about one
    atmosphere; below 0 °C it is the dew point over water, and frost settles a little sooner. `ValueError`
    outside, or where a ± reaches outside. Source: WMO-No. 8, Annex 4.B. Within 0.04 °C of the full formulae
    from 0 to 40 °C.
    """
    t, rh = _checked(air, humidity)
    return _not_too_cold(through(_dew, "°C", t, rh))


def coating_window(air: Quantity, humidity: Quantity, metal: Quantity) -> CoatingWindow:
    """Hold metal against the dew: gap = ts - Td, and the humidity that the metal sees, RH es(t) / es(ts).

    °C, % and °C in. The rules: metal at least 3 °C above the dew point, air of at most 85 %, each judged at
    0.95. Valid where `dew_point` is, for metal of one temperature, dry and free of salts. `ValueError` outside.
    Source: WMO-No. 8, Annex 4.B; the rules as quoted from ISO 8502-4 and ISO 12944-7, which were not read.
    """
    t, rh = _checked(air, humidity)
    ts = metal.in_unit("°C")
    in_range("temperature of the metal", ts, _COLDEST, _WARMEST)
    dew = _not_too_cold(through(_dew, "°C", t, rh))
    gap = through(lambda t, rh, ts: ts - _dew(t, rh), "°C", t, rh, ts)
    seen = through(lambda t, rh, ts: rh * _pressure(t) / _pressure(ts), "%", t, rh, ts)
    return CoatingWindow(dew, gap, seen, at_least(gap, _GAP), at_most(rh, _DAMPEST))


def film_over_profile(
    film: Quantity, profile: str | None = None, roughness: Quantity | None = None, abrasive: str | None = None
) -> FilmOverProfile:
    """Thickness over the peaks of a blasted surface: the reading less 10, 25 or 40 µm.

    Lengths in, µm out. The film is the mean reading of a gauge set on smooth steel. The grade is given, or
    told from a roughness and the abrasive by the segments of the comparator; it cannot be told where the
    roughness has no ±, or its ± reaches across two grades. Valid for blast-cleaned steel. `ValueError` for
    a roughness beyond the comparator, for a film thinner than the correction, or without one way to the grade.
    Source: correction from ISO 19840, from memory; grades from ISO 8503-1 and -2, as told in data sheets.
    """
    not_negative("film", film)
    if (profile is None) == (roughness is None):
        raise ValueError("Give the grade of the profile or its roughness, one of the two.")
    grade = profile if roughness is None else _grade(roughness.in_unit("µm"), abrasive)
    if grade is None:
        return FilmOverProfile(None, None, None)
    if grade not in _CORRECTIONS:
        raise ValueError(f"'{grade}' is not a grade of profile; it is fine, medium or coarse.")
    correction = Quantity(_CORRECTIONS[grade], EXACT, "µm")
    over = through(lambda f, c: f - c, "µm", film.in_unit("µm"), correction)
    if over.amount <= 0:
        raise ValueError(f"The film is {show(film)}; it must be thicker than the correction of {show(correction)}.")
    return FilmOverProfile(grade, correction, over)


def blasting_loss(area: Quantity, depth: Quantity, density: Quantity, relief: Quantity | None = None) -> BlastingLoss:
    """Metal that blasting takes, V = A d and m = density times V, and whether the surface is gone.

    Area, length and density in, cm3 and g out. All of the original surface is gone once the depth exceeds its
    relief, the height of its tool marks and writing; without a relief that cannot be told. Valid for an even
    depth, measured on a trial panel of the same metal. `ValueError` for a number below zero. Source: geometry
    (derived).
    """
    volume = skimmed(area, depth)
    if relief is not None:
        not_negative("relief", relief)
    gone = Truth.UNKNOWN if relief is None else above(depth, relief)
    return BlastingLoss(volume, mass(volume, density).in_unit("g"), gone)


def _pressure(t: Decimal) -> Decimal:
    """Saturation pressure over that at 0 °C."""
    return (_A * t / (_B + t)).exp()


def _dew(t: Decimal, rh: Decimal) -> Decimal:
    gamma = (rh / 100).ln() + _A * t / (_B + t)
    return _B * gamma / (_A - gamma)


def _checked(air: Quantity, humidity: Quantity) -> tuple[Quantity, Quantity]:
    t, rh = air.in_unit("°C"), humidity.in_unit("%")
    in_range("temperature of the air", t, _COLDEST, _WARMEST)
    in_range("humidity", rh, "1", "100")
    return t, rh


def _not_too_cold(dew: Quantity) -> Quantity:
    in_range("dew point", dew, _COLDEST, _WARMEST)
    return dew


def _grade(roughness: Quantity, abrasive: str | None) -> str | None:
    if abrasive not in _SEGMENTS:
        raise ValueError("To tell a grade from a roughness, say whether grit or shot made it.")
    limits = _SEGMENTS[abrasive]
    rough, spread = in_range("roughness", roughness, limits[0], limits[3]), roughness.uncertainty
    if spread is None:
        return None
    found = {sum(end >= Decimal(limit) for limit in limits[1:3]) for end in (rough - spread, rough + spread)}
    return tuple(_CORRECTIONS)[found.pop()] if len(found) == 1 else None


_AIR = Input("air", "temperature of the air", "°C")
_HUMIDITY = Input("humidity", "relative humidity of the air", "%")
_HOLDS = "From −45 to 60 °C and 1 to 100 %, about one atmosphere; below 0 °C over water, not ice."
_WMO = "WMO-No. 8, Annex 4.B, as quoted in manuals"
_HAZARDS = (
    "Before any abrasive, stop and test: old paint may hold lead or chromate, lagging and gaskets asbestos.",
    "Dust of sand is silica and kills slowly. A competent person decides, under local law, what is used and how.",
    "Never use grit on bearing metal, or on plated, machined, scraped or stamped surfaces.",
)

CALCULATIONS = (
    Calculation(
        name="dew-point",
        does="The temperature at which dew settles.",
        formula="dew point = 243.12 g / (17.62 − g), g = ln(humidity/100) + 17.62 air / (243.12 + air)",
        inputs=(_AIR, _HUMIDITY),
        gives=(Answer("dew_point", "temperature at which dew settles", "°C"),),
        valid=_HOLDS,
        source=_WMO,
        example={"air": "18 ± 0.5 °C", "humidity": "62 ± 3 %"},
        run=dew_point,
    ),
    Calculation(
        name="coating-window",
        does="Air and metal against the two rules for painting.",
        formula="gap = metal − dew point; humidity at the metal = humidity × es(air) / es(metal), "
        "es(t) = exp(17.62 t / (243.12 + t)); rules: gap at least 3 °C, humidity at most 85 %",
        inputs=(_AIR, _HUMIDITY, Input("metal", "temperature of the metal's surface", "°C")),
        gives=(
            Answer("dew_point", "temperature at which dew settles", "°C"),
            Answer("gap", "metal less dew point", "°C"),
            Answer("humidity_at_metal", "humidity that the metal sees", "%"),
            Answer("three_above", "whether the metal is at least 3 °C above the dew point"),
            Answer("dry_enough", "whether the air is at most 85 % humid"),
        ),
        valid=f"{_HOLDS} The coldest spot of the metal counts. Salts on it draw water sooner. "
        "What the maker of the paint asks comes first.",
        source=f"{_WMO}; rules of ISO 8502-4 and ISO 12944-7 as quoted by suppliers, the standards not read",
        example={"air": "18 ± 0.5 °C", "humidity": "62 ± 3 %", "metal": "13 ± 0.5 °C"},
        run=coating_window,
        cautions=(
            "Measure again immediately before painting: conditions change within the hour.",
            "Blasted bare steel is commonly primed within an hour or two (common practice, no published source).",
            "Vapours of solvents burn and harm; ventilate, and keep flames away.",
        ),
    ),
    Calculation(
        name="film-over-profile",
        does="How much of a paint film stands over the peaks of a blasted surface.",
        formula="over the peaks = mean reading − correction of 10 (fine), 25 (medium) or 40 (coarse) µm",
        inputs=(
            Input("film", "mean reading of a gauge set on smooth steel", "µm"),
            Input("profile", "grade of the profile", values=tuple(_CORRECTIONS), optional=True),
            Input("roughness", "height of the profile", "µm", optional=True),
            Input("abrasive", "what made the profile", values=tuple(_SEGMENTS), optional=True),
        ),
        gives=(
            Answer("grade", "grade of the profile"),
            Answer("correction", "what the profile adds to a reading", "µm"),
            Answer("over_peaks", "film over the peaks", "µm"),
        ),
        valid="Blast-cleaned steel between fine and coarse: 25 to 150 µm for grit, 25 to 100 µm for shot.",
        source="correction: ISO 19840, from memory; grades: ISO 8503-1 and -2, as told in data sheets",
        example={"film": "205 ± 10 µm", "roughness": "75 ± 10 µm", "abrasive": "grit"},
        run=film_over_profile,
    ),
    Calculation(
        name="blasting-loss",
        does="What blasting takes from a surface.",
        formula="volume = area × depth; mass = density × volume; the surface is gone if depth exceeds relief",
        inputs=(
            Input("area", "area that is blasted", "cm2"),
            Input("depth", "mean depth taken, from a trial panel", "µm"),
            Input("density", "density of the metal", "kg/m3"),
            Input("relief", "height of the tool marks or writing of the surface", "µm", optional=True),
        ),
        gives=(
            Answer("volume", "metal taken", "cm3"),
            Answer("mass", "metal taken", "g"),
            Answer("surface_gone", "whether all of the original surface is gone"),
        ),
        valid="An even depth. The mass is small even where the whole surface is lost: look at both.",
        source="geometry (derived)",
        example={"area": "540 ± 10 cm2", "depth": "25 ± 5 µm", "density": "7200 ± 150 kg/m3", "relief": "12 ± 3 µm"},
        run=blasting_loss,
        cautions=_HAZARDS,
    ),
)
