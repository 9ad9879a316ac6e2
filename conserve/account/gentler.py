"""Which of two options is the gentler: what each takes, held against the other with its uncertainty."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from enum import StrEnum
from itertools import product

from conserve.account.acts import Account
from conserve.account.metal import NOTHING
from conserve.quantity import above as certainly_above
from conserve.quantity import at_most, below
from conserve.truth import Truth


class Compared(StrEnum):
    """How what one option loses stands to what another loses."""

    GENTLER = "gentler"
    ALIKE = "alike"
    NOT_GENTLER = "not gentler"
    CANNOT_TELL = "cannot tell"


def compare(one: Account, other: Account) -> Compared:
    """Say whether an option is gentler than another: loses nothing that the other keeps, and somewhere less.

    Where a face's relief is not known, they are held against each other for every relief that it may have; where
    that makes a difference, it cannot be told.
    """
    found = {_compare(a, b) for a, b in _for_every_relief(one, other)}
    return found.pop() if len(found) == 1 else Compared.CANNOT_TELL


def _for_every_relief(one: Account, other: Account) -> Iterator[tuple[Account, Account]]:
    """Both accounts, as they would be with each face's unknown relief below, between and above the cuts."""
    faces = sorted({*one.presumed, *other.presumed})
    for spared in product(*(_spared(face, one, other) for face in faces)):
        a = one.lost - {face for face, (by_one, _) in zip(faces, spared, strict=True) if by_one}
        b = other.lost - {face for face, (_, by_other) in zip(faces, spared, strict=True) if by_other}
        yield replace(one, lost=a), replace(other, lost=b)


def _spared(face: str, one: Account, other: Account) -> tuple[tuple[bool, bool], ...]:
    """By which of two options a face of unknown relief may be spared: a shallower cut spares what a deeper one does."""
    if face not in one.presumed or face not in other.presumed:
        return ((False, False), (face in one.presumed, face in other.presumed))
    a, b = one.presumed[face], other.presumed[face]
    both = ((False, False), (True, True))
    if a is not None and b is not None:
        if a == b:
            return both
        if below(a, b) is Truth.YES:
            return (*both, (True, False))
        if below(b, a) is Truth.YES:
            return (*both, (False, True))
    return (*both, (True, False), (False, True))


def _compare(one: Account, other: Account) -> Compared:
    if not one.lost - one.spared <= other.lost and not other.untold:
        return Compared.NOT_GENTLER
    amount = _compare_amounts(one, other)
    if amount is _Amounts.MORE:
        return Compared.NOT_GENTLER
    loses_nothing = not one.lost and not one.untold and one.volume == NOTHING
    surely = other.lost - other.spared
    if not loses_nothing and (one.untold or not one.lost <= surely or amount is _Amounts.UNKNOWN):
        return Compared.CANNOT_TELL
    if one.lost < surely or amount is _Amounts.LESS:
        return Compared.GENTLER
    return Compared.CANNOT_TELL if other.untold else Compared.ALIKE


class _Amounts(StrEnum):
    LESS = "less"
    TIE = "tie"
    MORE = "more"
    UNKNOWN = "unknown"


def _compare_amounts(one: Account, other: Account) -> _Amounts:
    """Hold the metal taken against each other: a difference inside the uncertainty is a tie."""
    a, b = one.volume, other.volume
    if one.spared or other.spared:  # as much as that, or nothing
        return _Amounts.UNKNOWN
    if a is None or b is None:
        # A loss of unknown size is more than none; two of unknown size cannot be told apart.
        if a == NOTHING:
            return _Amounts.LESS
        return _Amounts.MORE if b == NOTHING else _Amounts.UNKNOWN
    if a.to_base() == b.to_base():
        return _Amounts.TIE
    if a.uncertainty is None or b.uncertainty is None:
        return _Amounts.UNKNOWN
    if certainly_above(a, b) is Truth.YES:
        return _Amounts.MORE
    return _Amounts.LESS if at_most(a, b) is Truth.YES else _Amounts.TIE
