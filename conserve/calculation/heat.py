"""Heat used to part or join: how hot a hub must be, what heat does to a fit, and where to stop.

Heat both parts of bronze in steel and the fit tightens, for bronze grows more: warm the hub, chill the bush.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.elastic import WORDS, elastic
from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.calculation.validity import above_zero, highest, lowest, not_negative
from conserve.quantity import Quantity, at_most, show
from conserve.truth import Truth

# The figures for expansion are means from room temperature to between 100 and 300 °C; down to -80 °C (dry ice)
# they fall by about a tenth: from memory.
_COLDEST, _HOTTEST = Decimal(-80), Decimal(300)

# What is near the heat: its limit in °C, and where that comes from.
_STOPS = {
    # Materials Handbook, white metals; ASTM B23 grades 2 and 7 on makeitfrom.com; all as quoted.
    "white-metal": ("100", "White metal has lost half its hardness at 100 °C, and melts at 240 °C (published)."),
    # ISO solder alloy 101 and others.
    "soft-solder": ("150", "Tin-lead solder melts from 183 °C (published); the margin of 33 °C is from memory."),
    # A paint maker's page on service temperatures.
    "paint-or-filler": ("60", "Alkyd paint serves to 90 °C (published); 60 °C for old coats is from memory."),
    # A page on shrink fits, which also gives 150 to 200 °C for most hardened steels.
    "rolling-bearing": ("120", "Rolling bearings must not pass 120 °C (published)."),
    "hardened-steel": ("150", "Hardened steel begins to temper between 100 and 200 °C (published)."),
    # A page on tempering colours: 350 °F. Another begins at 210 °C.
    "bright-steel": ("170", "Bright steel takes its first yellow tint at about 176 °C (published)."),
    "grey-cast-iron": ("200", "Uneven heat cracks grey iron; 200 °C, slow and even, is from memory."),
    "none": ("300", "With nothing else near, 300 °C, to which the figures for expansion hold, is from memory."),
}  # fmt: skip


class HeatToAssemble(NamedTuple):
    """How hot, and how much hotter than at the start."""

    temperature: Quantity  # °C
    rise: Quantity  # °C


class TemperatureStop(NamedTuple):
    """A limit and where it comes from."""

    limit: Quantity  # °C
    source: str


class MayHeatTo(NamedTuple):
    """A limit and whether a temperature stays within it."""

    limit: Quantity  # °C
    within: Truth


def heat_to_assemble(
    interference: Quantity, clearance: Quantity, diameter: Quantity, hub: str, start: Quantity
) -> HeatToAssemble:
    """How hot a hub must be to slide over its inner part, which stays cold: ΔT = (δ + c) / (a D).

    Interference δ (DIAMETRAL), clearance wanted c and diameter D in mm, temperatures in °C; a is the hub's expansion.
    Valid from -80 to 300 °C, for a hub heated evenly. `ValueError` for a length below zero, a diameter that is not
    above zero, a temperature outside that, its ± included, or a metal that creeps. Source: thermal expansion (derived).
    """
    not_negative("interference", interference)
    not_negative("clearance", clearance)
    above_zero("diameter", diameter)
    _within_range("start", start)
    rising = (*(one.in_unit("mm") for one in (interference, clearance, diameter)), elastic(hub).expansion)
    rise = through(_rise, "°C", *rising)
    hot = through(lambda t, *rest: t + _rise(*rest), "°C", start, *rising)
    _within_range("temperature that the hub must reach", hot)
    return HeatToAssemble(hot, rise)


def heat_both(
    interference: Quantity, diameter: Quantity, hub: str, inner: str, start: Quantity, at: Quantity
) -> Quantity:
    """Interference when both parts are at another temperature: δ + D (ai - ah)(T - T0).

    Interference δ (DIAMETRAL) and diameter D in mm, temperatures in °C; ai and ah are the expansion of inner part
    and hub. `start` is the temperature at which the interference was measured. Below zero the parts
    are loose. Valid from -80 to 300 °C, both parts alike all through. `ValueError` for an interference below zero, a
    diameter that is not above zero, a temperature outside that, its ± included, or a metal that creeps. Source:
    thermal expansion (derived).
    """
    not_negative("interference", interference)
    above_zero("diameter", diameter)
    _within_range("start", start)
    _within_range("temperature", at)
    sizes = (interference.in_unit("mm"), diameter.in_unit("mm"))
    return through(_grown, "mm", *sizes, elastic(inner).expansion, elastic(hub).expansion, start, at)


def temperature_stop(nearby: str) -> TemperatureStop:
    """The temperature at which to stop heating beside something that heat harms, in °C, and where it comes from.

    One word at a time: of several things nearby the least limit counts. `ValueError` for another word. Source:
    beside each value.
    """
    if nearby not in _STOPS:
        raise ValueError(f"No limit is kept for heat near '{nearby}'.")
    limit, source = _STOPS[nearby]
    return TemperatureStop(Quantity(Decimal(limit), Decimal(0), "°C"), source)


def may_heat_to(temperature: Quantity, nearby: str) -> MayHeatTo:
    """Whether a temperature stays within the limit of what is nearby, at 0.95 (JCGM 106).

    Temperature in °C. `ValueError` for another word. Source: see `temperature_stop`.
    """
    limit = temperature_stop(nearby).limit
    return MayHeatTo(limit, at_most(temperature, limit))


def _rise(interference: Decimal, clearance: Decimal, diameter: Decimal, expansion: Decimal) -> Decimal:
    return (interference + clearance) / (expansion * diameter)


def _grown(delta: Decimal, d: Decimal, inner: Decimal, hub: Decimal, start: Decimal, at: Decimal) -> Decimal:
    return delta + d * (inner - hub) * (at - start)


def _within_range(name: str, temperature: Quantity) -> None:
    told = temperature.in_unit("°C")
    if lowest(told) < _COLDEST or highest(told) > _HOTTEST:
        raise ValueError(f"The {name} is {show(told)}; the figures hold from −80 to 300 °C, its ± included.")


_NEARBY = Input("nearby", "what is near the heat; of several, the one with the least limit", values=tuple(_STOPS))
_HEATING = (
    "Heat slowly and evenly: uneven heat cracks cast iron.",
    "White metal loses half its hardness at 100 °C.",
    "Lead and cadmium, in paint, plating, solder and white metal, give off poisonous fume: find out before heating.",
    "Hot metal burns and looks like cold metal. Keep oil, rags and gas away, and never heat a closed vessel.",
)
CALCULATIONS = (
    Calculation(
        name="heat-to-assemble",
        does="How hot a hub must be to slide over its inner part.",
        formula="rise = (interference + clearance) / (expansion × diameter); temperature = start + rise",
        inputs=(
            Input("interference", "the diametral interference", "mm"),
            Input("clearance", "the diametral clearance wanted while assembling", "mm", exact=True),
            Input("diameter", "nominal diameter of the joint", "mm", exact=True),
            Input("hub", "metal of the hub", values=WORDS),
            Input("start", "temperature of the parts before heating", "°C"),
        ),
        gives=(
            Answer("temperature", "temperature that the hub must reach", "°C"),
            Answer("rise", "how much hotter than at the start", "°C"),
        ),
        valid="A hub heated evenly over a cold inner part, from −80 to 300 °C.",
        source="thermal expansion (derived); expansion by metal from published tables",
        cautions=_HEATING,
        example={
            "interference": "0.051 ± 0.010 mm",
            "clearance": "0.08 mm",
            "diameter": "80 mm",
            "hub": "mild-steel",
            "start": "20 ± 2 °C",
        },
        run=heat_to_assemble,
    ),
    Calculation(
        name="heat-both",
        does="Interference of a joint when both its parts are warmed or chilled alike.",
        formula="interference + diameter × (expansion of inner − expansion of hub) × (at − start)",
        inputs=(
            Input("interference", "the diametral interference as measured", "mm"),
            Input("diameter", "nominal diameter of the joint", "mm", exact=True),
            Input("hub", "metal of the hub", values=WORDS),
            Input("inner", "metal of the inner part", values=WORDS),
            Input("start", "temperature at which it was measured", "°C"),
            Input("at", "temperature that both parts will have", "°C"),
        ),
        gives=(Answer("interference", "interference at that temperature, below zero if loose", "mm"),),
        valid="Both parts at one temperature all through, from −80 to 300 °C.",
        source="thermal expansion (derived); expansion by metal from published tables",
        cautions=_HEATING,
        example={
            "interference": "0.051 ± 0.010 mm",
            "diameter": "80 mm",
            "hub": "mild-steel",
            "inner": "gunmetal",
            "start": "20 ± 2 °C",
            "at": "120 ± 5 °C",
        },
        run=heat_both,
    ),
    Calculation(
        name="temperature-stop",
        does="Where to stop heating beside something that heat harms.",
        formula="a table of limits",
        inputs=(_NEARBY,),
        gives=(Answer("limit", "temperature at which to stop", "°C"), Answer("source", "where the limit comes from")),
        valid="One thing nearby at a time; of several the least limit counts.",
        source="beside each limit; several are from memory",
        cautions=_HEATING,
        example={"nearby": "white-metal"},
        run=temperature_stop,
    ),
    Calculation(
        name="may-heat-to",
        does="Whether a temperature stays within the limit of what is nearby.",
        formula="the chance that the temperature is at most the limit, held against 0.95",
        inputs=(Input("temperature", "temperature of the heated part", "°C"), _NEARBY),
        gives=(
            Answer("limit", "temperature at which to stop", "°C"),
            Answer("within", "whether it stays within the limit"),
        ),
        valid="The temperature where the thing nearby is; of several things the least limit counts.",
        source="JCGM 106:2012, 7.2; limits as for temperature-stop",
        cautions=_HEATING,
        example={"temperature": "85 ± 10 °C", "nearby": "white-metal"},
        run=may_heat_to,
    ),
)
