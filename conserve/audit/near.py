"""Cases that are nearly alike, of which one was accepted and the other refused: what little made the difference."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from conserve.audit.cases import Case, Outcome, no_worse
from conserve.audit.clashes import Told, by_outcome, comparable, tell
from conserve.audit.factors import Factors

FEW = 3  # facts or steps in which a pair may differ
DOZEN = 12  # pairs that are told


@dataclass(frozen=True, slots=True)
class Near:
    """A pair that was decided differently, and all in which it differs."""

    refused: Case
    accepted: Case
    differs: tuple[Told, ...]


def near(cases: Sequence[Case], factors: Factors) -> tuple[Near, ...]:
    """The pairs that differ in the fewest facts, by the same techniques; those that clash are told as clashes.

    Of proposals about several parts only those whose parts fare alike: of others nobody can tell which part decided.
    """
    every = by_outcome(comparable(cases, factors))
    some = [whole[0] for whole in every if len({one.fares for one in whole}) == 1]
    accepted: dict[tuple[str, ...], list[Case]] = {}
    for one in some:
        if one.outcome.accepted:
            accepted.setdefault(one.techniques, []).append(one)
    facts = _bits_by_fact(factors)
    by_number: list[dict[tuple[Outcome, Outcome], tuple[Case, Case]]] = [{} for _ in range(FEW + 1)]
    for refused in (one for one in some if not one.outcome.accepted):
        for number, other in _nearest(refused, accepted.get(refused.techniques, ()), facts):
            pairs = by_number[number]  # of each number the first dozen are enough
            if len(pairs) < DOZEN:
                pairs.setdefault((refused.outcome, other.outcome), (refused, other))
    nearest: dict[tuple[Outcome, Outcome], tuple[Case, Case]] = {}
    for pairs in by_number:
        for outcomes, pair in pairs.items():
            nearest.setdefault(outcomes, pair)
    return tuple(_near(*pair, factors) for pair in list(nearest.values())[:DOZEN])


def _near(refused: Case, accepted: Case, factors: Factors) -> Near:
    differs = factors.numbers(refused.worst ^ accepted.worst)
    return Near(refused, accepted, tell(differs, refused, accepted, factors))


def _nearest(refused: Case, others: Sequence[Case], facts: Mapping[int, int]) -> Iterator[tuple[int, Case]]:
    """Cases of other decisions that differ in few facts, with their number, but for those that clash with this one."""
    for other in others:
        number = _differing(refused.worst ^ other.worst, facts)
        same_decision = refused.outcome.decision == other.outcome.decision
        if 0 < number <= FEW and not same_decision and not no_worse(refused.fares, other.fares):
            yield number, other


def _differing(bits: int, facts: Mapping[int, int]) -> int:
    """In how many facts or steps a pair differs; it is no longer counted once it is more than a few."""
    number = 0
    while bits and number <= FEW:
        bits &= ~facts[bits & -bits]
        number += 1
    return number


def _bits_by_fact(factors: Factors) -> dict[int, int]:
    """For each bit, all bits that are about the same fact or step."""
    size = len(factors.all)
    about: dict[str, int] = {}
    for number, factor in enumerate(factors.all):
        about[factor.told_by] = about.get(factor.told_by, 0) | 1 << number | 1 << size + number
    found = {1 << at: 1 << at for at in range(2 * size, 2 * size + factors.kinds)}
    for bits in about.values():
        rest = bits
        while rest:
            found[rest & -rest] = bits
            rest &= rest - 1
    return found
