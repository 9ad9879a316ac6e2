"""Like parts told once: "cylinder cover stud, stud-01 to stud-48 but for stud-17"."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from conserve.casebook import Casebook, Component
from conserve.explanation.words import listed
from conserve.statement.given import file_of, name_of

T = TypeVar("T", bound=Hashable)
_LEFT_OUT = 3  # exceptions that a row of ids may have and still be told as one


@dataclass(frozen=True, slots=True)
class Alike(Generic[T]):
    """Parts of one name and one file of which the same is told."""

    id: str  # that of the first
    name: str
    parts: tuple[Component, ...]
    told: T

    @property
    def files(self) -> tuple[str, ...]:
        return tuple(file_of(part.where) for part in self.parts)


def alike(parts: Iterable[Component], tell: Callable[[Component], T], casebook: Casebook) -> tuple[Alike[T], ...]:
    """Put together the parts that are written as alike and of which the same is told, in the order of their ids."""
    groups: dict[tuple[str, str, T], list[Component]] = {}
    for part in sorted(parts, key=lambda part: part.id):
        groups.setdefault((file_of(part.where), part.name, tell(part)), []).append(part)
    return tuple(
        Alike(group[0].id, named(group, casebook), tuple(group), told) for (_, _, told), group in groups.items()
    )


def named(parts: Sequence[Component], casebook: Casebook) -> str:
    """Parts of one name in words: by their name, and by their ids where that is not enough."""
    if len(parts) == 1:
        return name_of(parts[0], casebook)
    family = sorted(p.id for p in casebook.components.values() if file_of(p.where) == file_of(parts[0].where))
    return f"{parts[0].name}, {in_a_row([part.id for part in parts], family)} ({len(parts)} parts)"


def all_named(parts: Iterable[Component], casebook: Casebook) -> str:
    """Several parts in a sentence, like ones together."""
    return "; ".join(group.name for group in alike(parts, lambda _: "", casebook))


def in_a_row(ids: Sequence[str], family: Sequence[str]) -> str:
    """Some ids of an ordered family: from the first to the last, but for a few; or run by run."""
    low, high = family.index(ids[0]), family.index(ids[-1])
    missing = [name for name in family[low : high + 1] if name not in ids]
    if len(missing) <= min(_LEFT_OUT, len(ids) // 3) and len(ids) > 2:
        return f"{ids[0]} to {ids[-1]}{f' but for {listed(missing)}' if missing else ''}"
    return listed(_runs(ids, family))


def _runs(ids: Sequence[str], family: Sequence[str]) -> list[str]:
    runs: list[list[str]] = []
    for name in ids:
        if runs and family.index(name) == family.index(runs[-1][-1]) + 1:
            runs[-1].append(name)
        else:
            runs.append([name])
    return [one for run in runs for one in (run if len(run) < 3 else [f"{run[0]} to {run[-1]}"])]
