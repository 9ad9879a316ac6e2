"""What is left of an assembly or of the whole object: its parts, each as today or as an option leaves it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from conserve.account.held import UNITS, Column, Held, held_now
from conserve.account.metal import total
from conserve.account.why import Why
from conserve.casebook import Casebook, Component
from conserve.terms import Vocabulary

_LATER = ("preservation", "new")  # periods whose parts are additions to the historic object


@dataclass(frozen=True, slots=True)
class Whole:
    """What is left of several parts together, and why a column of it cannot be told."""

    held: Held
    parts: int  # how many are counted
    later: int  # how many joined in its preservation or since, and are not counted
    why: Mapping[str, tuple[str, ...]]  # column -> reasons, each with its number of parts, the commonest first


def held_today(casebook: Casebook, vocabulary: Vocabulary) -> dict[str, Held]:
    """How much of every part is left today, by its id."""
    return {part.id: held_now(part, vocabulary) for part in casebook.components.values()}


def rolled_up(
    casebook: Casebook, vocabulary: Vocabulary, known: Mapping[str, Held] | None = None, of: str = ""
) -> Whole:
    """Add up the parts of the object, or of the component `of` with all that belongs to it.

    `known` holds parts that need not be reckoned anew, or that an option leaves otherwise than they are. A part
    counts for itself, without those that belong to it. Parts that joined in preservation or since are no original
    fabric and never raise what is left.
    """
    parts = [part for part in casebook.components.values() if not of or of in owners_of(part, casebook)]
    held = []
    for part in parts:
        phase = casebook.object.phases.get(part.phase)
        if phase is None:
            held.append(_untold())
        elif phase.period not in _LATER:
            held.append((known or {}).get(part.id) or held_now(part, vocabulary))
    columns = tuple(summed(name, [each.column(name) for each in held]) for name in UNITS)
    counts = {name: Counter(why for each in held for why in each.column(name).why) for name in UNITS}
    return Whole(
        Held(columns, total((each.added for each in held), "kg")),
        len(held),
        len(parts) - len(held),
        {name: tuple(why.of(found[why], len(held)) for why in _commonest(found)) for name, found in counts.items()},
    )


def _commonest(found: Counter[Why]) -> list[Why]:
    return sorted(found, key=lambda why: (-found[why], tuple(Why).index(why)))


def _untold() -> Held:
    return Held(tuple(Column(name, None, None, None, None, None, (Why.PHASE,)) for name in UNITS), None)


def summed(name: str, columns: Sequence[Column]) -> Column:
    """One measure of several parts together."""
    unit = UNITS[name]
    return Column(
        name,
        total((c.stays for c in columns), unit),
        total((c.cut for c in columns), unit),
        total((c.gone for c in columns), unit),
        total((c.stored for c in columns), unit),
        total((c.before for c in columns), unit),
        tuple(why for why in Why if any(why in c.why for c in columns)),
    )


def owners_of(part: Component, casebook: Casebook) -> Iterator[str]:
    """A part and what it belongs to, step by step; a circle is gone round once."""
    seen: set[str] = set()
    name = part.id
    while name in casebook.components and name not in seen:
        seen.add(name)
        yield name
        name = casebook.components[name].part_of
