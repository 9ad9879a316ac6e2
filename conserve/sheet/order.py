"""Put steps into an order that keeps every reason why one comes before another. Pure, and the same every time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

Place = tuple[int | str, ...]  # where a step would stand by itself; all of one length and of like parts


@dataclass(frozen=True, slots=True, order=True)
class Edge:
    """One step before another, and why."""

    first: str
    then: str
    because: str


@dataclass(frozen=True, slots=True)
class Circle:
    """Steps of which each must come before the next, and the last before the first."""

    edges: tuple[Edge, ...]


def in_order(places: Mapping[str, Place], edges: Iterable[Edge]) -> tuple[str, ...] | Circle:
    """Steps in an order that keeps every edge; of those that may come next, the one whose place is earliest.

    A step takes the earliest place of all that wait for it, so that nothing waits longer than it must. Where the
    edges go in a circle, the circle. After A. B. Kahn, Topological sorting of large networks, 1962, from memory.
    """
    kept = sorted({edge for edge in edges if edge.first in places and edge.then in places})
    found = _sorted(places, kept, {name: (place, name) for name, place in places.items()})
    if len(found) < len(places):
        return _circle([edge for edge in kept if edge.first not in found and edge.then not in found])
    urgent = earliest(places, kept, found)
    return _sorted(places, kept, {name: (urgent[name], place, name) for name, place in places.items()})


def earliest(places: Mapping[str, Place], edges: Iterable[Edge], order: Iterable[str]) -> dict[str, Place]:
    """The earliest place of each step and of all that wait for it; `order` keeps the edges."""
    after: dict[str, list[str]] = {}
    for edge in edges:
        after.setdefault(edge.first, []).append(edge.then)
    found: dict[str, Place] = {}
    for name in reversed(tuple(order)):
        found[name] = min((places[name], *(found[then] for then in after.get(name, ()) if then in found)))
    return found


def _sorted(names: Iterable[str], edges: Iterable[Edge], keys: Mapping[str, tuple[object, ...]]) -> tuple[str, ...]:
    """The steps in order as far as it goes: those in a circle, and after one, are left out."""
    waits = dict.fromkeys(names, 0)
    after: dict[str, list[str]] = {}
    for edge in edges:
        waits[edge.then] += 1
        after.setdefault(edge.first, []).append(edge.then)
    ready = [(keys[name], name) for name, number in waits.items() if number == 0]
    heapify(ready)
    found = []
    while ready:
        _, name = heappop(ready)
        found.append(name)
        for then in after.get(name, ()):
            waits[then] -= 1
            if waits[then] == 0:
                heappush(ready, (keys[then], then))
    return tuple(found)


def _circle(edges: list[Edge]) -> Circle:
    """One circle among edges of which some go round: back along what a step waits for, until a step comes again."""
    before: dict[str, Edge] = {}
    for edge in edges:
        before.setdefault(edge.then, edge)
    at = next(iter(before))
    walked: list[Edge] = []
    while all(edge.then != at for edge in walked):
        walked.append(before[at])
        at = before[at].first
    start = next(number for number, edge in enumerate(walked) if edge.then == at)
    return Circle(tuple(reversed(walked[start:])))
