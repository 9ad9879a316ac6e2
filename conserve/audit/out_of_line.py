"""Which decisions are out of line with their like: what clashes, what explains it, and what lies near it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from conserve.audit.cases import Case, Outcome
from conserve.audit.clashes import Clash, clashes, comparable
from conserve.audit.cover import smallest_cover
from conserve.audit.factors import Factors
from conserve.audit.model import Kind, Point
from conserve.audit.near import Near, near
from conserve.explanation import listed

_SOME = 3  # others that a sentence names
_WANTS = "One side wants a reason that the facts do not give, or was decided wrongly; which, this cannot tell."


@dataclass(frozen=True, slots=True)
class Smallest:
    """The fewest outcomes that explain every clash: had these gone the other way, nothing would clash.

    `certain` are those that every such set has. Which of two that clash is at fault nobody can tell from this.
    """

    outcomes: tuple[Outcome, ...]
    certain: tuple[Outcome, ...]

    @property
    def alone(self) -> bool:
        """Whether no other set of the same size would do."""
        return self.outcomes == self.certain


@dataclass(frozen=True, slots=True)
class OutOfLine:
    """All that does not fit between decisions, and how many cases were compared, and could not be."""

    accepted: int
    refused: int
    left_out: int  # cases that were judged by other rules
    clashes: tuple[Clash, ...]
    smallest: Smallest
    near: tuple[Near, ...]
    points: tuple[Point, ...]


def out_of_line(cases: Sequence[Case], factors: Factors) -> OutOfLine:
    """Compare the cases that were judged by the rules that the factors are of."""
    some = comparable(cases, factors)
    found = clashes(some, factors)
    smallest = smallest_set(found)
    accepted = sum(one.outcome.accepted for one in some)
    return OutOfLine(
        accepted,
        len(some) - accepted,
        len(cases) - len(some),
        found,
        smallest,
        near(some, factors),
        tuple(_points(found, smallest)),
    )


def smallest_set(found: Iterable[Clash]) -> Smallest:
    """The fewest outcomes that explain all clashes; of several such sets one with the most that was accepted."""
    pairs = sorted({(one.accepted.outcome, one.refused.outcome) for one in found})
    accepted = sorted({one for one, _ in pairs})
    refused = sorted({other for _, other in pairs})
    number = {one: at for at, one in enumerate(refused)}
    edges: dict[Outcome, list[int]] = {one: [] for one in accepted}
    for one, other in pairs:
        edges[one].append(number[other])
    cover = smallest_cover([edges[one] for one in accepted], len(refused))

    def named(left: Iterable[int], right: Iterable[int]) -> tuple[Outcome, ...]:
        return tuple(sorted((*(accepted[at] for at in left), *(refused[at] for at in right))))

    return Smallest(named(cover.left, cover.right), named(cover.certain_left, cover.certain_right))


def _points(found: Iterable[Clash], smallest: Smallest) -> Iterator[Point]:
    """A point for each outcome of the smallest set, with what it clashes with."""
    against: dict[Outcome, list[Outcome]] = {one: [] for one in smallest.outcomes}
    for clash in found:
        refused, accepted = clash.refused.outcome, clash.accepted.outcome
        for one, other in ((refused, accepted), (accepted, refused)):
            if one in against:
                against[one].append(other)
    for one, others in against.items():
        yield Point(Kind.CLASH, _says(one, others), proposal=one.proposal, casebook=one.casebook)


def _says(one: Outcome, others: Sequence[Outcome]) -> str:
    more = [f"{len(others) - _SOME} more"] if len(others) > _SOME else []
    names, many = listed((*(_named(other, one) for other in others[:_SOME]), *more)), len(others) > 1
    if one.accepted:
        return (
            f"'{one.option}' was chosen. {names} {'were' if many else 'was'} passed over for something gentler, and "
            f"nothing more speaks against {'them' if many else 'it'}. {_WANTS}"
        )
    return (
        f"'{one.option}' was passed over for something gentler. {names} {'were' if many else 'was'} chosen, and "
        f"nothing less speaks against {'them' if many else 'it'}. {_WANTS}"
    )


def _named(other: Outcome, one: Outcome) -> str:
    where = f"{other.casebook}, {other.proposal}" if other.casebook != one.casebook else other.proposal
    return f"'{other.option}' ({where})"
