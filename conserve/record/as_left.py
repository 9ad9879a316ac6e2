"""As left against what was promised."""

from __future__ import annotations

from dataclasses import dataclass

from conserve.casebook.model import Values
from conserve.quantity import Quantity
from conserve.truth import Truth, all_of, any_of
from conserve.weighing.model import OptionWeighing, PartWeighing


@dataclass(frozen=True, slots=True)
class AsLeft:
    """One fact as an option promised it and as the work left it."""

    path: str
    promised: Values
    measured: Values
    differs: Truth


def differences(part: PartWeighing, option: OptionWeighing) -> tuple[AsLeft, ...]:
    """Hold each as-left measurement against what the option computed or claimed of it."""
    work = part.findings.facts.proposal.work
    found = []
    for path, stated in sorted((work.measured if work else {}).items()):
        after = part.findings.facts.after.get((option.option.id, path))
        claimed = option.option.after.get(path)
        promised = after.fact.values if after and after.fact.known else claimed[0].values if claimed else None
        if promised is not None:
            measured = tuple(value for one in stated for value in one.values)
            found.append(AsLeft(path, promised, measured, _differ(promised, measured)))
    return tuple(found)


def _differ(promised: Values, measured: Values) -> Truth:
    """Whether a measurement lies outside both uncertainties together, or is another word."""
    readings = [value for value in measured if isinstance(value, Quantity)]
    if not readings:
        return Truth.YES if set(promised) != set(measured) else Truth.NO
    numbers = [value for value in promised if isinstance(value, Quantity)]
    return any_of(all_of(_apart(reading, number) for number in numbers) for reading in readings)


def _apart(one: Quantity, other: Quantity) -> Truth:
    """Whether two numbers certainly differ; unknown where a ± is not stated."""
    gap = one.minus(other)
    if gap.uncertainty is None:
        return Truth.UNKNOWN
    return Truth.YES if abs(gap.amount) > gap.uncertainty else Truth.NO
