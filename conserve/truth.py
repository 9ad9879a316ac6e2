"""The three answers: yes, no, cannot tell."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum


class Truth(IntEnum):
    """Whether something holds. The order lets `min` mean *all of these* and `max` *any of these*."""

    NO = 0
    UNKNOWN = 1
    YES = 2

    def __str__(self) -> str:
        return ("no", "unknown", "yes")[self]


def all_of(truths: Iterable[Truth]) -> Truth:
    """Yes if all are yes, no if one is no, unknown otherwise. Of none: yes."""
    return min(truths, default=Truth.YES)


def any_of(truths: Iterable[Truth]) -> Truth:
    """Yes if one is yes, no if all are no, unknown otherwise. Of none: no."""
    return max(truths, default=Truth.NO)


def opposite(truth: Truth) -> Truth:
    """Yes for no, no for yes; what cannot be told stays so."""
    return Truth(2 - truth)
