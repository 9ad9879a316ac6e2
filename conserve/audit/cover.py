"""The fewest vertices that touch every edge of a graph with two sides (König's theorem), from a largest matching."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Edges = Sequence[Sequence[int]]  # of each vertex on the left, its neighbours on the right
NOBODY = -1


@dataclass(frozen=True, slots=True)
class Cover:
    """The fewest vertices that touch every edge. `certain` are those that every such set has."""

    left: tuple[int, ...]
    right: tuple[int, ...]
    certain_left: tuple[int, ...]
    certain_right: tuple[int, ...]


def matching(edges: Edges, width: int) -> tuple[list[int], list[int]]:
    """A largest matching: the mate of each vertex on the left, and on the right, or NOBODY."""
    left, right = [NOBODY] * len(edges), [NOBODY] * width
    done: set[int] = set()  # on the right, what a search came to in vain: no later one gets anywhere from there
    for start in range(len(edges)):
        came: dict[int, int] = {}  # to a vertex on the right, from which on the left
        end, waiting = NOBODY, [start]
        for at in waiting:  # which grows
            for to in edges[at]:
                if to not in came and to not in done:
                    came[to] = at
                    if right[to] == NOBODY:
                        end = to
                        break
                    waiting.append(right[to])
            if end != NOBODY:
                break
        if end == NOBODY:
            done |= came.keys()
        while end != NOBODY:
            at = came[end]
            left[at], right[end], end = end, at, left[at]
    return left, right


def smallest_cover(edges: Edges, width: int) -> Cover:
    """The fewest vertices that touch every edge; of several such sets the one with the most on the left.

    All such sets lie between two: the one with the most on the left, and the one with the most on the right. What
    both of these have, every one has.
    """
    left, right = matching(edges, width)
    back: list[list[int]] = [[] for _ in range(width)]
    for at, some in enumerate(edges):
        for to in some:
            back[to].append(at)
    mine, theirs = _reached(edges, left, right)
    others, ours = _reached(back, right, left)
    return Cover(
        left=tuple(at for at in range(len(edges)) if at not in mine),
        right=tuple(sorted(theirs)),
        certain_left=tuple(at for at in range(len(edges)) if at not in mine and at in ours),
        certain_right=tuple(at for at in sorted(theirs) if at not in others),
    )


def _reached(edges: Edges, near: Sequence[int], far: Sequence[int]) -> tuple[set[int], set[int]]:
    """What can be reached on either side from whoever has no mate, there by any edge and back by the matching."""
    waiting = [at for at, mate in enumerate(near) if mate == NOBODY]
    mine, theirs = set(waiting), set[int]()
    for at in waiting:  # which grows
        for to in edges[at]:
            if to not in theirs:
                theirs.add(to)
                if far[to] not in mine:
                    mine.add(far[to])
                    waiting.append(far[to])
    return mine, theirs
