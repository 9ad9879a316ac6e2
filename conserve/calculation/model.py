"""What a calculation says about itself: what it needs, what it gives, where it holds and where it comes from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from conserve.calculation.propagation import Reading
from conserve.quantity import Quantity
from conserve.truth import Truth

Given = Quantity | str | int | tuple[Reading, ...]  # what one input may be
Reckoned = Quantity | str | int | Truth | tuple[Quantity, ...] | None  # one answer; None where it cannot be told


@dataclass(frozen=True, slots=True)
class Input:
    """One thing that a calculation needs: a quantity, one of a list of words, a whole number, or readings."""

    name: str
    means: str
    unit: str = ""  # of a quantity or of readings
    values: tuple[str, ...] = ()  # of a word from a closed list
    exact: bool = False  # a nominal size, or a limit that somebody set: needs no ±
    count: bool = False  # a whole number
    readings: bool = False  # several, each with its plane and angle
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing that a calculation gives. Without a unit it is a word, a whole number or yes or no."""

    name: str
    means: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Calculation:
    """A formula with its name, and all that a reader needs to check it.

    `run` takes the inputs by name and gives one answer, or a named tuple of as many as `gives` lists, in
    that order. It raises `ValueError` with one sentence for what lies outside the formula's validity.
    """

    name: str
    does: str
    formula: str
    inputs: tuple[Input, ...]
    gives: tuple[Answer, ...]
    valid: str
    source: str
    example: Mapping[str, str]
    run: Callable[..., Any]
    cautions: tuple[str, ...] = ()  # where the work can hurt someone: printed before the method

    def input(self, name: str) -> Input | None:
        return next((one for one in self.inputs if one.name == name), None)

    def answer(self, name: str) -> Answer | None:
        return next((one for one in self.gives if one.name == name), None)

    def reckon(self, given: Mapping[str, Given]) -> dict[str, Reckoned]:
        """Work it out: each answer by name. `ValueError` says in one sentence why it cannot be."""
        found = self.run(**given)
        values: tuple[Reckoned, ...] = found if len(self.gives) > 1 else (found,)
        return dict(zip((answer.name for answer in self.gives), values, strict=True))
