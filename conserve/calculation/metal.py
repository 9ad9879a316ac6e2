"""The calculations of metal taken, as they are told at the bench; the formulas stand in `fabric`."""

from __future__ import annotations

from collections.abc import Callable

from conserve.calculation.fabric import bored, drilled, let_in, mass, prepared, skimmed, threaded, turned
from conserve.calculation.model import Answer, Calculation, Input
from conserve.quantity import Quantity


def _cut(
    name: str,
    does: str,
    formula: str,
    inputs: tuple[Input, ...],
    valid: str,
    example: dict[str, str],
    run: Callable[..., Quantity],
) -> Calculation:
    answer = Answer("volume", "the metal taken", "cm3")
    told = f"{valid} The amount of metal says nothing about strength."
    return Calculation(name, does, formula, inputs, (answer,), told, "geometry (derived)", example, run)


_BEFORE = Input("before", "the diameter before", "mm")
_AFTER = Input("after", "the diameter afterwards", "mm")
_LENGTH = Input("length", "the length that is cut", "mm")
_RING = {"before": "60.00 ± 0.04 mm", "after": "63.00 ± 0.04 mm", "length": "70.0 ± 0.2 mm"}
_HOLES = Input("holes", "how many holes alike", count=True)

CALCULATIONS = (
    _cut(
        "metal-skimmed",
        "The metal that a cut of even depth takes from a face.",
        "area × depth",
        (Input("area", "the area of the face", "cm2"), Input("depth", "the depth of the cut", "mm")),
        "A flat face, or a curved one while the cut is thin beside its radius.",
        {"area": "540 ± 4 cm2", "depth": "1.5 ± 0.1 mm"},
        skimmed,
    ),
    _cut(
        "metal-bored",
        "The metal that boring takes from a hole.",
        "π/4 × (after² − before²) × length",
        (_BEFORE, _AFTER, _LENGTH),
        "A parallel hole; one gauge for both diameters makes the ± too wide, never too narrow.",
        _RING,
        lambda before, after, length: bored(before, after, length),
    ),
    _cut(
        "metal-turned",
        "The metal that turning takes from a shaft.",
        "π/4 × (before² − after²) × length",
        (_BEFORE, _AFTER, _LENGTH),
        "A parallel length without fillets; one gauge for both diameters makes the ± too wide, never too narrow.",
        {**_RING, "before": "63.00 ± 0.04 mm", "after": "60.00 ± 0.04 mm"},
        lambda before, after, length: turned(before, after, length),
    ),
    _cut(
        "metal-drilled",
        "The metal that holes drilled in the solid take.",
        "number of holes × π/4 × diameter² × depth",
        (Input("diameter", "the diameter of each hole", "mm"), Input("depth", "the depth of each hole", "mm"), _HOLES),
        "Plain round holes; the cone at the bottom is left out.",
        {"diameter": "8.0 ± 0.1 mm", "depth": "20 ± 0.5 mm", "holes": "4"},
        drilled,
    ),
    _cut(
        "metal-threaded",
        "The metal that tapping takes from holes.",
        "holes × π/4 × (middle² − hole²) × length; middle = major − 0.541266 × pitch (60°), or 0.640327 × pitch (55°)",
        (
            Input("hole", "the diameter of the hole before", "mm"),
            Input("major", "the largest diameter of the thread", "mm", exact=True),
            Input("pitch", "the pitch", "mm", exact=True),
            Input("angle", "the angle of the thread: 60° or 55°", "°", exact=True),
            Input("length", "the length of the thread", "mm"),
            Input("holes", "how many holes alike", count=True, optional=True),
        ),
        "A full thread of 60° or 55°, told about a tenth too much for 60°; a hole tapped before counts at the middle "
        "of its old thread.",
        {"hole": "21.3 ± 0.1 mm", "major": "1 in", "pitch": "1/8 in", "angle": "55 °", "length": "30 ± 0.5 mm"},
        threaded,
    ),
    _cut(
        "weld-preparation",
        "The metal that a V groove for welding takes from both parents together.",
        "(thickness − root face)² × tan(angle/2) × length ÷ sides + gap × thickness × length",
        (
            Input("thickness", "the thickness at the joint", "mm"),
            Input("root_face", "the part of the thickness left square at the root", "mm"),
            Input("angle", "the angle of the whole groove", "°"),
            Input("length", "the length of the joint", "mm"),
            Input("gap", "the metal taken out at the root, as a width", "mm"),
            Input("sides", "from how many sides: 1 or 2", count=True),
        ),
        "A straight groove with flat faces; not a U or a J.",
        {
            "thickness": "25.0 ± 0.5 mm",
            "root_face": "2.0 ± 0.5 mm",
            "angle": "60 ± 2 °",
            "length": "200 ± 1 mm",
            "gap": "0 ± 0 mm",
            "sides": "1",
        },
        prepared,
    ),
    _cut(
        "pocket",
        "The metal that the pocket for a let-in piece takes.",
        "area × depth",
        (Input("area", "the area of the pocket", "cm2"), Input("depth", "the depth of the pocket", "mm")),
        "Upright walls and a flat floor.",
        {"area": "12.0 ± 0.5 cm2", "depth": "6.0 ± 0.2 mm"},
        let_in,
    ),
    Calculation(
        name="mass-of",
        does="What a volume of metal weighs.",
        formula="volume × density",
        inputs=(Input("volume", "the volume", "cm3"), Input("density", "the density", "kg/m3")),
        gives=(Answer("mass", "the mass", "kg"),),
        valid="Sound metal of one kind.",
        source="definition of density",
        example={"volume": "20.3 ± 0.4 cm3", "density": "7850 ± 50 kg/m3"},
        run=mass,
    ),
)
