"""Like parts on one sheet: what is said alike of them is said once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from conserve.explanation import capital, the
from conserve.sheet.model import Line
from conserve.weighing.model import PartWeighing

_EACH = "each part"
_FEW = 4  # parts that are named; of more, how many


def of_each(said: str, part: PartWeighing, many: bool) -> str:
    """A sentence about one of several parts, as it is said of each."""
    if not many:
        return said
    name = the(part.component.name)
    return said.replace(name, _EACH).replace(capital(name), capital(_EACH))


def merged(of_parts: Iterable[tuple[str, Iterable[Line]]]) -> tuple[Line, ...]:
    """The lines of each component, those that say the same as one: it is done when it is done for every part.

    Of what is done for some, the note says for which it is still owed.
    """
    found: dict[tuple[str, str], list[tuple[str, Line]]] = {}
    count = 0
    for component, lines in of_parts:
        count += 1
        for line in lines:
            found.setdefault((line.id, line.says), []).append((component, line))
    return tuple(_one(alike, count) for alike in found.values())


def _one(alike: list[tuple[str, Line]], count: int) -> Line:
    owed = [component for component, line in alike if line.done is None]
    first = next((line for _, line in alike if line.done is None), alike[0][1])
    note = first.note
    if owed and len(owed) < len(alike):
        note = f"{note} Done for the others; still owed for {_names(owed)}.".strip()
    parts = tuple(component for component, _ in alike) if len(alike) < count else ()
    if parts:
        note = f"{note} For {_names(parts)}.".strip()
    return replace(first, note=note, parts=parts)


def _names(components: Iterable[str]) -> str:
    names = list(components)
    return ", ".join(names) if len(names) <= _FEW else f"{len(names)} parts, {names[0]} first"
