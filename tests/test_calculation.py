"""What every calculation must keep to: its own example, its units, its uncertainty."""

from __future__ import annotations

import inspect
import re
from dataclasses import replace
from decimal import Decimal

import pytest
from helpers import shipped_rules
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve.calculation import MODULES, Calculation, Reading, all_calculations
from conserve.cli import main
from conserve.cli.reckoning import _inputs
from conserve.quantity import Quantity
from conserve.truth import Truth

CALCULATIONS = {one.name: one for one in all_calculations()}
OTHERS = {  # for each unit another of its dimension
    "mm": "in", "cm2": "in2", "cm3": "in3", "kg": "lb", "g": "kg", "µm": "thou", "MPa": "psi", "kN": "N", "1": "%",
    "in": "mm", "year": "h",
}  # fmt: skip
RULED = ("settled_by", "stop_at")  # what to aim at or to stop at, not what is: these need no ± of the input
each = pytest.mark.parametrize("name", sorted(CALCULATIONS))


def example(name: str) -> tuple[Calculation, dict]:
    """A calculation and its own example, read as the command reads it."""
    one = CALCULATIONS[name]
    found, wrong = _inputs([f"{k}={v}" for k, v in one.example.items()], one, "", shipped_rules().vocabulary)
    assert wrong == []
    return one, found


def changed(given_: dict, change) -> dict:
    """The same inputs with every quantity changed."""

    def of(value):
        if isinstance(value, Quantity):
            return change(value)
        if isinstance(value, tuple):
            return tuple(replace(one, value=change(one.value)) for one in value)
        return value

    return {key: of(value) for key, value in given_.items()}


def numbers(answers: dict) -> dict[str, tuple[Quantity, ...]]:
    """Every quantity among some answers."""
    found = {key: value if isinstance(value, tuple) else (value,) for key, value in answers.items()}
    return {key: values for key, values in found.items() if all(isinstance(v, Quantity) for v in values)}


def close(one: Decimal | None, other: Decimal | None) -> bool:
    return one == other or (
        one is not None and other is not None and abs(one - other) <= Decimal("1e-15") * max(1, abs(one))
    )


@each
def test_every_calculation_runs_on_its_own_example(name, capsys):
    one = CALCULATIONS[name]
    assert main(["reckon", name, *(f"{k}={v}" for k, v in one.example.items())]) == 0
    said = capsys.readouterr().out
    plain = " ".join(said.split())
    for words in (one.does, *one.cautions, f"Holds for: {one.valid}", f"Source: {one.source}"):
        assert " ".join(words.split()) in plain
    assert all(answer.means in said for answer in one.gives)
    if one.cautions:  # before the method
        assert plain.index("Caution:") < plain.index("Formula:")


@each
def test_its_inputs_and_its_answers_are_what_it_says(name):
    one, inputs = example(name)
    assert MODULES[name] == one_module(one)
    taken = inspect.signature(one.run).parameters
    assert [i.name for i in one.inputs] == list(taken)
    assert all((taken[i.name].default is inspect.Parameter.empty) != i.optional for i in one.inputs)
    answers = one.reckon(inputs)
    for answer in one.gives:
        value = answers[answer.name]
        for number in value if isinstance(value, tuple) else (value,):
            if number is not None:
                assert isinstance(number, Quantity) == bool(answer.unit)
                assert not answer.unit or number.unit == answer.unit


def one_module(one: Calculation) -> str:
    return next(m for n, m in MODULES.items() if n == one.name)


@each
def test_the_unit_of_an_input_never_changes_an_answer(name):
    one, inputs = example(name)
    plain = one.reckon(inputs)
    other = one.reckon(changed(inputs, lambda q: q.in_unit(OTHERS.get(q.unit, q.unit))))
    for key, value in plain.items():
        if key not in numbers(plain):
            assert other[key] == value
    for key, values in numbers(plain).items():
        for was, now in zip(values, numbers(other)[key], strict=True):
            assert close(was.amount, now.in_unit(was.unit).amount)
            assert close(was.uncertainty, now.in_unit(was.unit).uncertainty)


@each
@settings(max_examples=15, deadline=None)
@given(factor=st.decimals(min_value=1, max_value=2, places=2))
def test_more_uncertainty_never_makes_an_answer_surer(name, factor):
    one, inputs = example(name)
    plain = one.reckon(inputs)
    try:
        wide = one.reckon(changed(inputs, lambda q: q if q.uncertainty is None else replace(q, uncertainty=q.uncertainty * factor)))
    except ValueError:  # the numbers may now lie outside the formula
        return
    for key, value in plain.items():
        assert value is not Truth.UNKNOWN or wide[key] is Truth.UNKNOWN
        assert value is not None or wide[key] is None or key in RULED
    for key, values in numbers(plain).items():
        for was, now in zip(values, numbers(wide).get(key, ()), strict=False):
            if key not in RULED and now.amount == was.amount:
                assert was.uncertainty is None or now.uncertainty is None or now.uncertainty >= was.uncertainty


@each
def test_an_uncertainty_that_nobody_stated_never_counts_as_none(name):
    one, inputs = example(name)
    plain = one.reckon(inputs)
    for taken in one.inputs:
        if taken.exact or not taken.unit or taken.name not in inputs:
            continue
        blind = {**inputs, **changed({taken.name: inputs[taken.name]}, lambda q: replace(q, uncertainty=None))}
        try:
            answers = one.reckon(blind)
        except ValueError:
            continue
        for key, value in answers.items():
            if isinstance(value, Truth) and plain[key] is not value:
                assert value is Truth.UNKNOWN
        for key, values in numbers(answers).items():
            was = numbers(plain).get(key, ())
            assert all(
                v.uncertainty is None or any(close(v.amount, w.amount) and v.uncertainty == w.uncertainty for w in was)
                or key in RULED
                for v in values
            ), (taken.name, key)


def test_no_calculation_calls_anything_safe_fit_or_acceptable():
    words = re.compile(r"\b(safe|acceptable|fit to|fit for|legal|compliant|certif\w+|approved)\b", re.IGNORECASE)
    for one in CALCULATIONS.values():
        for answer in one.gives:
            assert not words.search(answer.means), (one.name, answer.means)


def test_a_reading_is_of_the_kind_that_a_calculation_takes():
    _, inputs = example("ovality")
    assert all(isinstance(reading, Reading) for reading in inputs["diameters"])
