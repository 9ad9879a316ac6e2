"""Several casebooks audited together: what needs a person's eyes in any of them, and what does not fit between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from conserve.audit.cases import Case
from conserve.audit.model import GRAVITY, Audit, DecisionAudit, Kind, Point

T = TypeVar("T")

POINTS = "points"  # what an audit counts them as, all and of each kind


@dataclass(frozen=True, slots=True)
class Told:
    """What came of one casebook: its audit, or everything that is wrong with it, a sentence each.

    Plain data and small, so that it can be sent from one machine to another.
    """

    casebook: str  # its folder, below the one that was asked about
    audit: Audit | None
    overlays: tuple[str, ...] = ()  # laid over the rules
    cases: tuple[Case, ...] = ()
    broken: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Many:
    """Several casebooks, in the order of their names; `points` are those of all, the most serious first."""

    audited: tuple[Told, ...]
    broken: tuple[Told, ...]
    points: tuple[Point, ...]
    figures: Mapping[str, int]
    rulebooks: Mapping[str, tuple[str, ...]]  # digest -> the casebooks that are weighed by it today

    @property
    def alters(self) -> bool:
        """Whether something was changed anywhere, or comes out otherwise than it was sealed."""
        return any(point.kind.alters for point in self.points)

    @property
    def decisions(self) -> tuple[tuple[str, DecisionAudit], ...]:
        """Each decision, with the casebook that it stands in."""
        return tuple((told.casebook, one) for told in self.audited for one in _audit(told).decisions)


def compact(audit: Audit, casebook: str) -> Audit:
    """An audit as it is put together with others: under the name of its folder, its answers without their sentences.

    Ten thousand decisions would fill the memory with sentences that only the audit of one casebook tells.
    """

    def named(points: Iterable[Point]) -> tuple[Point, ...]:
        return tuple(replace(point, casebook=casebook) for point in points)

    decisions = tuple(
        replace(
            one,
            answers=tuple(replace(answer, says="") for answer in one.answers),
            points=named(one.points),
        )
        for one in audit.decisions
    )
    return replace(audit, casebook=casebook, decisions=decisions, points=named(audit.points))


def sharing(cases: Iterable[Case], known: dict[object, Any]) -> tuple[Case, ...]:
    """The cases of one casebook, those of parts that fare alike told once; what others have too is kept once.

    Fifty studs in one proposal are a handful of cases. Nothing that clashes is lost: a pair of options is told once.
    """

    def once(value: T) -> T:
        found: T = known.setdefault(value, value)
        return found

    first: dict[object, Case] = {}
    for case in sorted(cases, key=lambda one: (one.outcome, one.part)):
        first.setdefault((case.outcome, case.fares), case)
    return tuple(replace(one, fares=once(one.fares), packed=once(one.packed)) for one in first.values())


def together(found: Iterable[Told], more: Sequence[Point] = ()) -> Many:
    """Put what came of casebooks together; the order in which it came makes no difference.

    `more` are points between casebooks, such as decisions that are out of line with those of another.
    """
    told = sorted(found, key=lambda one: one.casebook)
    audited = tuple(one for one in told if one.audit)
    audits = [_audit(one) for one in audited]
    points = (*(point for audit in audits for point in audit.points), *more)
    by_rules: dict[str, list[str]] = {}
    for audit in audits:
        by_rules.setdefault(audit.rulebook, []).append(audit.casebook)
    return Many(
        audited,
        tuple(one for one in told if not one.audit),
        tuple(sorted(points, key=_order)),
        _summed([audit.figures for audit in audits], points),
        {digest: tuple(by_rules[digest]) for digest in sorted(by_rules)},
    )


def by_rules(many: Many) -> Iterator[tuple[tuple[str, ...], tuple[Case, ...]]]:
    """The cases that may be compared with one another, for they are judged by the same rules; and their overlays."""
    for names in many.rulebooks.values():
        known = set(names)
        alike = [one for one in many.audited if one.casebook in known]
        yield alike[0].overlays, tuple(case for one in alike for case in one.cases)


def _audit(told: Told) -> Audit:
    assert told.audit is not None
    return told.audit


def _order(point: Point) -> tuple[int, str, str, str, str]:
    return GRAVITY[point.kind], point.casebook, point.proposal, point.where, point.says


def _summed(all_figures: Sequence[Mapping[str, int]], points: Sequence[Point]) -> dict[str, int]:
    """Each figure summed, in the order in which one casebook tells them; points are counted anew."""
    names = dict.fromkeys(name for figures in all_figures for name in figures if not name.startswith(POINTS))
    summed = {name: sum(figures.get(name, 0) for figures in all_figures) for name in names}
    kinds = ((kind, sum(point.kind is kind for point in points)) for kind in Kind)
    return {**summed, POINTS: len(points), **{f"{POINTS}: {kind}": count for kind, count in kinds if count}}
