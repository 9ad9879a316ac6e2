"""Decisions that do not fit together: an option was refused that is no worse, in anything, than one that was taken."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from conserve.audit.cases import Case, Outcome, any_of, no_worse
from conserve.audit.factors import Counts, Factor, Factors, Premised, Stepped, factor_in_words
from conserve.explanation import plain


@dataclass(frozen=True, slots=True)
class Clash:
    """Two cases of different decisions: `refused` is no worse than `accepted`.

    Every other part of the refused option's proposal is no worse than some part of the accepted one's, too.
    """

    refused: Case
    accepted: Case


@dataclass(frozen=True, slots=True)
class Told:
    """One factor in two cases: what is asked, which way it counts, by which rules, and the facts of each in words."""

    asks: str
    counts: Counts
    rules: tuple[str, ...]
    refused: str
    accepted: str


def comparable(cases: Iterable[Case], factors: Factors) -> tuple[Case, ...]:
    """The cases that were judged by the same rules as the factors are of, in an order of their own."""
    return tuple(sorted((one for one in cases if one.rules == factors.rules), key=_order))


def _order(case: Case) -> tuple[object, ...]:
    return case.outcome, case.part, case.fares


def clashes(cases: Iterable[Case], factors: Factors) -> tuple[Clash, ...]:
    """Every clash, each pair of outcomes once: told of a part of the one and a part of the other."""
    found: dict[tuple[Outcome, Outcome], Clash] = {}
    for refused, accepted in _out_of_line(comparable(cases, factors)):
        first = refused[0]
        like = next(one for one in accepted if no_worse(first.fares, one.fares))
        found[first.outcome, like.outcome] = Clash(first, like)
    return tuple(found[key] for key in sorted(found))


def _out_of_line(cases: Sequence[Case]) -> Iterator[tuple[list[Case], list[Case]]]:
    """Pairs of outcomes that clash: each part of the one is no worse than some part of the other.

    One part alone would not do, for an option may have been refused because of another part. Outcomes that fare alike
    are compared once.
    """
    wholes = by_outcome(cases)
    taken = [(_worst(alike), alike, some) for alike, some in _alike(wholes, accepted=True).items()]
    for fares, some in _alike(wholes, accepted=False).items():
        worst = _worst(fares)
        # Most pairs differ in what speaks against them altogether, which is found at once.
        for theirs, others in [(alike, others) for bits, alike, others in taken if not worst & ~bits]:
            if all(any(no_worse(one, other) for other in theirs) for one in fares):
                yield from ((a, b) for a in some for b in others if a[0].outcome.decision != b[0].outcome.decision)


_Fares = tuple[tuple[int, ...], ...]  # how each part fares, those that fare alike once


def by_outcome(cases: Iterable[Case]) -> list[list[Case]]:
    """The cases of each outcome: one for each part of its proposal."""
    found: dict[Outcome, list[Case]] = {}
    for one in cases:
        found.setdefault(one.outcome, []).append(one)
    return list(found.values())


def _alike(wholes: Iterable[list[Case]], *, accepted: bool) -> dict[_Fares, list[list[Case]]]:
    found: dict[_Fares, list[list[Case]]] = {}
    for whole in wholes:
        if whole[0].outcome.accepted is accepted:
            found.setdefault(tuple(sorted({one.fares for one in whole})), []).append(whole)
    return found


def _worst(fares: _Fares) -> int:
    return any_of(map(any_of, fares))


# ---- in words ------------------------------------------------------------------------------------------------------


def better(clash: Clash, factors: Factors) -> tuple[Told, ...]:
    """The factors that speak more against what was accepted than against what was refused."""
    return tell(factors.numbers(clash.accepted.worst & ~clash.refused.worst), clash.refused, clash.accepted, factors)


def alike(clash: Clash, factors: Factors) -> tuple[Told, ...]:
    """The factors that speak against both, and against the one as much as against the other."""
    differs = set(factors.numbers(clash.accepted.worst ^ clash.refused.worst))
    both = [n for n in factors.numbers(clash.accepted.worst & clash.refused.worst) if n not in differs]
    return tell(both, clash.refused, clash.accepted, factors)


def tell(numbers: Iterable[int], refused: Case, accepted: Case, factors: Factors) -> tuple[Told, ...]:
    """Factors with the facts of two cases; what several kinds of subject are asked is told once."""
    found: dict[tuple[str, str], Told] = {}
    here, there = refused.told, accepted.told
    for factor in (factors.all[number] for number in numbers):
        counts = factor.counts if isinstance(factor, Premised) else Counts.AGAINST
        asks = factor_in_words(factor)
        known = found.get((asks, counts))
        rules = tuple(dict.fromkeys((*(known.rules if known else ()), *factor.rules)))
        found[asks, counts] = Told(asks, counts, rules, _facts(here, factor), _facts(there, factor))
    return tuple(found.values())


def _facts(told: Mapping[str, str], factor: Factor) -> str:
    """The facts that a factor was judged on."""
    if isinstance(factor, Stepped):
        return told.get(factor.told_by, "no")
    names = (factor.term, *factor.test.limit_terms)
    return "; ".join(told.get(name, f"{plain(name.partition('.')[0])}: there is none here") for name in names)
