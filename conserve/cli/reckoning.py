"""The command for the bench: any calculation on numbers that somebody types, with its working and its cautions."""

from __future__ import annotations

import argparse
import re
import shlex
import sys
from typing import TYPE_CHECKING

from conserve.cli.parser import takes_json, takes_rules, with_example
from conserve.cli.reading import Refused, chosen_from, read_words
from conserve.cli.showing import as_json, in_colour, wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping

    from conserve.calculation import Calculation, Given, Input, Reading, Reckoned
    from conserve.quantity import Quantity
    from conserve.terms import Vocabulary

DONE, BROKEN = 0, 2
_READING = re.compile(r"(?:(?P<plane>[A-Za-z0-9-]*)@(?P<angle>-?[0-9]*(?:\.[0-9]+)?)°? )? *(?P<value>.+)")


def add_reckon(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", nargs="?", metavar="CALCULATION", help="which one; without it, all are listed")
    parser.add_argument("given", nargs="*", metavar="KEY=VALUE", help="what it is worked out from")
    parser.add_argument("--with", dest="instrument", metavar="INSTRUMENT", help="what a number without ± was read with")
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve reckon",
        "conserve reckon against-limits measured='0.185 ± 0.024 mm' at_most='0.20 mm'",
    )
    parser.set_defaults(run=reckon)


def reckon(given: argparse.Namespace) -> int:
    from conserve.calculation import MODULES, calculation_named

    if given.name is None:
        print(_listed_json() if given.json else _listed())
        return DONE
    calculation = calculation_named(chosen_from("calculation", given.name, MODULES))
    assert calculation is not None
    words = read_words(given.rules)
    inputs, wrong = _inputs(given.given, calculation, given.instrument or "", words)
    try:
        if given.instrument:
            chosen_from("instrument", given.instrument, words.instruments)
    except Refused as unknown:
        wrong.append((str(unknown), unknown.hint))
    for message, hint in wrong:
        print(f"conserve: {message}" + (f"\n    hint: {hint}" if hint else ""), file=sys.stderr)
    if wrong:
        return BROKEN
    try:
        answers = calculation.reckon(inputs)
    except ValueError as refused:
        raise Refused(str(refused).rstrip("."), calculation.valid) from None
    except ArithmeticError:
        raise Refused("these numbers are too far apart to reckon with", calculation.valid) from None
    print(_as_json(calculation, inputs, answers) if given.json else _told(calculation, inputs, answers))
    return DONE


# ---- what is given ----------------------------------------------------------------------------------


def _inputs(
    texts: list[str], calculation: Calculation, instrument: str, words: Vocabulary
) -> tuple[dict[str, Given], list[tuple[str, str]]]:
    """Every input as the calculation takes it, and everything that is wrong with what was typed."""
    from conserve.problem import nearest
    from conserve.quantity import QuantityProblem

    found: dict[str, Given] = {}
    wrong: list[tuple[str, str]] = []
    names = [one.name for one in calculation.inputs]
    for text in texts:
        name, equals, value = text.partition("=")
        one = calculation.input(name)
        if not equals or one is None:
            like = nearest(name, names)
            hint = f"did you mean '{like}'?" if like else f"it takes {', '.join(names)}"
            wrong.append((f"{calculation.name} takes no '{name}'", hint))
        elif name in found:
            wrong.append((f"'{name}' is given twice", "give it once; several readings stand between semicolons"))
        else:
            try:
                found[name] = _given(one, value.strip(), instrument, words)
            except QuantityProblem as problem:
                wrong.append((f"{name}: {problem.message}", problem.hint))
            except ValueError as problem:
                wrong.append((f"{name}: {problem}", _written(one)))
    said = [text.partition("=")[0] for text in texts]
    missing = [one for one in calculation.inputs if one.name not in said and not one.optional]
    wrong += [(f"{one.name} is missing: {one.means}", _written(one)) for one in missing]
    return found, wrong


def _given(one: Input, text: str, instrument: str, words: Vocabulary) -> Given:
    if one.readings:
        return tuple(_reading(part.strip(), one, instrument, words) for part in text.split(";") if part.strip())
    if one.unit:
        return _quantity(text, one, instrument, words)
    if one.count:
        if not text.isdecimal() or len(text) > 9:
            raise ValueError(f"'{text}' is no whole number of nine figures or fewer")
        return int(text)
    if one.values and text not in one.values:
        raise ValueError(f"'{text}' is not one of its words")
    return text


def _quantity(text: str, one: Input, instrument: str, words: Vocabulary) -> Quantity:
    """A number with its ±, or that of the instrument it was read with."""
    from dataclasses import replace

    from conserve.quantity import parse_quantity

    number = parse_quantity(text, one.unit, one.exact)
    share = words.instruments.get(instrument)
    if number.uncertainty is None and share is not None and share.dimension == number.dimension:
        return replace(number, uncertainty=share.in_unit(number.unit).amount)
    return number


def _reading(text: str, one: Input, instrument: str, words: Vocabulary) -> Reading:
    from decimal import Decimal

    from conserve.calculation import Reading

    found = _READING.fullmatch(text)
    if found is None or "@" in found["value"] or found["angle"] == "-":
        raise ValueError(f"'{text}' is no reading")
    angle = Decimal(found["angle"]) if found["angle"] else None
    value = _quantity(found["value"], one, instrument, words).in_unit(one.unit)
    return Reading(value, found["plane"] or "", angle, instrument, words.shared.get(instrument))


def _written(one: Input) -> str:
    """How an input is written."""
    if one.values:
        return f"one of {', '.join(one.values)}"
    if one.readings:
        return f"{one.name}='A@0 12.34 ± 0.01 {one.unit}; A@90 12.36 ± 0.01 {one.unit}', PLANE@ANGLE before each"
    if one.unit:
        return f"{one.name}='12.3 {one.unit}'" if one.exact else f"{one.name}='12.3 ± 0.1 {one.unit}'"
    return f"{one.name}=3" if one.count else ""


# ---- what is told -----------------------------------------------------------------------------------


def _listed() -> str:
    from conserve.calculation import all_calculations

    lines = []
    for one in all_calculations():
        example = " ".join(f"{key}={shlex.quote(value)}" for key, value in one.example.items())
        lines += [
            in_colour(one.name, "strong"),
            wrapped(one.does, "    ", "    "),
            f"    conserve reckon {one.name} {example}",
        ]
    return "\n".join(lines)


def _listed_json() -> str:
    from conserve.calculation import all_calculations

    return as_json({one.name: {"does": one.does, "example": dict(one.example)} for one in all_calculations()})


def _told(calculation: Calculation, inputs: Mapping[str, Given], answers: Mapping[str, Reckoned]) -> str:
    lines = [wrapped(f"Caution: {one}", "         ", "") for one in calculation.cautions]
    lines += [""] if lines else []
    lines.append(in_colour(calculation.does, "strong"))
    lines.append(wrapped(f"Formula: {calculation.formula}", "           ", "  "))
    known = [one for one in calculation.inputs if one.name in inputs]
    width = max(len(words) for words in [*(one.means for one in known), *(one.means for one in calculation.gives)])
    for one in known:
        lines += _row(one.means, _values(inputs[one.name]), width)
    lines.append("  " + "-" * width)
    for answer in calculation.gives:
        lines += _row(answer.means, [_value(answers[answer.name])], width)
    lines.append(wrapped(f"Holds for: {calculation.valid}", "             ", "  "))
    lines.append(wrapped(f"Source: {calculation.source}", "          ", "  "))
    return "\n".join(lines)


def _row(means: str, values: list[str], width: int) -> list[str]:
    return [f"  {means if not number else '':<{width}}  {value}" for number, value in enumerate(values)]


def _values(given: Given) -> list[str]:
    from conserve.quantity import show

    if not isinstance(given, tuple):
        return [_value(given)]
    return [
        f"{show(one.value)}" + (f"  ({_place(one)})" if one.plane or one.angle is not None else "") for one in given
    ]


def _place(reading: Reading) -> str:
    return " ".join(
        [f"plane {reading.plane}"] * bool(reading.plane) + [f"at {reading.angle}°"] * (reading.angle is not None)
    )


def _value(value: Reckoned) -> str:
    from conserve.quantity import Quantity, show
    from conserve.truth import Truth

    if value is None:
        return "cannot be told"
    if isinstance(value, Truth):
        return {Truth.YES: "yes", Truth.NO: "no", Truth.UNKNOWN: "cannot be told"}[value]
    if isinstance(value, tuple):
        return " to ".join(show(one) for one in value)
    return show(value) if isinstance(value, Quantity) else str(value)


def _as_json(calculation: Calculation, inputs: Mapping[str, Given], answers: Mapping[str, Reckoned]) -> str:
    return as_json(
        {
            "calculation": calculation.name,
            "cautions": list(calculation.cautions),
            "formula": calculation.formula,
            "given": {name: _values(value) for name, value in inputs.items()},
            "answers": {name: _value(value) for name, value in answers.items()},
            "valid": calculation.valid,
            "source": calculation.source,
        }
    )
