"""Facts that a calculation gives, from the facts that it needs.

A fact that is missing makes the result unknown, and so does a number outside the formula's validity: both are
kept in the working, so that the record can say what to ask or why it was refused.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal, InvalidOperation

from conserve.calculation import Calculation, Given, Input, Reading, Reckoned, calculation_named
from conserve.calculation.readings import greatest, least
from conserve.casebook import Stated
from conserve.casebook.agreeing import agreed
from conserve.casebook.model import Values
from conserve.facts.fact import Fact, How, Working
from conserve.quantity import Quantity
from conserve.terms import Term, Vocabulary, answer_of
from conserve.truth import Truth

Look = Callable[[str], Fact]  # a term, as the subject of the calculation sees it


def computed(term: Term, subject: str, look: Look, vocabulary: Vocabulary) -> Fact:
    """Work out a fact. Everything that the term takes its inputs from must be known."""
    calculation = calculation_named(term.calculation)
    assert calculation is not None  # the vocabulary has seen to it
    found = {one: look(term.inputs[one.name]) for one in calculation.inputs if one.name in term.inputs}
    given, refused = _all_given(found, vocabulary)
    values: Values | None = None
    if given is not None and not refused:
        try:
            values = _values(calculation.reckon(given), term, calculation)
        except ValueError as error:  # outside the formula's validity
            refused = str(error)
        except ArithmeticError:
            refused = "These numbers are too far apart to reckon with."
    working = Working(
        title=calculation.does,
        formula=calculation.formula,
        given=tuple((one.means, fact) for one, fact in found.items()),
        valid=calculation.valid,
        source=calculation.source,
        cautions=calculation.cautions,
        refused=refused,
    )
    # What rests on a claim is no more than one.
    how = How.CLAIMED if any(fact.how is How.CLAIMED for fact in found.values()) else How.COMPUTED
    return Fact(term.name, subject, values, How.SILENT if values is None else how, working=working)


def _all_given(found: dict[Input, Fact], vocabulary: Vocabulary) -> tuple[dict[str, Given] | None, str]:
    """Every input as the calculation takes it, or None where one is missing; and why one cannot be taken."""
    if any(fact.values is None for fact in found.values()):
        return None, ""
    given: dict[str, Given] = {}
    for one, fact in found.items():
        taken = _given(one, fact, vocabulary)
        if taken is None:
            return None, f"One {one.means} is taken here, not {len(fact.values or ())}."
        given[one.name] = taken
    return given, ""


def _given(one: Input, fact: Fact, vocabulary: Vocabulary) -> Given | None:
    if one.readings:
        return readings_of(fact, one.unit, vocabulary)
    values = fact.values or ()
    if one.unit:
        numbers = [value.in_unit(one.unit) for value in values if isinstance(value, Quantity)]
        worst = vocabulary.terms[fact.term].worst
        if worst and numbers:
            return (greatest if worst == "highest" else least)([Reading(one) for one in numbers]).value
        return numbers[0] if len(numbers) == 1 else None
    if len(values) != 1:
        return None
    return int(str(values[0])) if one.count else str(values[0])


def readings_of(fact: Fact, unit: str, vocabulary: Vocabulary) -> tuple[Reading, ...]:
    """The readings of a fact, each with where it was taken and what its instrument shares."""
    if fact.how not in (How.WRITTEN, How.REPORTED):
        return tuple(Reading(value.in_unit(unit)) for value in fact.values or () if isinstance(value, Quantity))
    return tuple(
        _reading(stated, value.in_unit(unit), vocabulary)
        for stated in agreed(fact.statements).counted
        for value in stated.values
        if isinstance(value, Quantity)
    )


def _reading(stated: Stated, value: Quantity, vocabulary: Vocabulary) -> Reading:
    try:
        angle = Decimal(stated.angle.removesuffix("°").strip()) if stated.angle else None
    except InvalidOperation:  # a word, such as "top"
        angle = None
    return Reading(value, stated.plane, angle, stated.instrument, vocabulary.shared.get(stated.instrument))


def _values(answers: dict[str, Reckoned], term: Term, calculation: Calculation) -> Values | None:
    """The answer that the term is, in its unit; None where it cannot be told."""
    answer = answer_of(term, calculation)
    assert answer is not None  # the vocabulary has seen to it
    found = answers[answer.name]
    if found is None or found is Truth.UNKNOWN:
        return None
    if isinstance(found, Truth):
        return (str(found),)
    if isinstance(found, Quantity):
        return (found.in_unit(term.unit),)
    if isinstance(found, tuple):
        return tuple(one.in_unit(term.unit) for one in found)
    return (found,)
