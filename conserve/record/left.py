"""What is left of the part and of the object: measure by measure, and never one score."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from conserve.account import UNITS, Column, Held, Whole, loses_least
from conserve.explanation.words import capital, listed, quantity_in_words
from conserve.quantity import Quantity
from conserve.record.model import Table
from conserve.rulebook import Rulebook
from conserve.weighing.model import OptionWeighing, PartWeighing
from conserve.weighing.whole import BeforeAndAfter

_NAMES = {"parts": "the part itself", "marks": "marks", "surface": "original surface", "metal": "original metal"}
_OF_ALL = {**_NAMES, "parts": "parts"}
_NOT_KNOWN = "not known"


def left(chosen: OptionWeighing) -> Table:
    """The part in four measures: as made = left in place + kept in store + taken."""
    rows = []
    for column in chosen.account.held.columns:
        amounts = (column.made, column.before, column.taken, column.stored, column.left)
        rows.append((_NAMES[column.name], *(_amount(amount) for amount in amounts), _share(column)))
    taken = f"taken by '{chosen.option.id}'"
    head = ("measure", "as made", "taken before", taken, "kept in store", "left in place", "share left")
    return Table("", head, tuple(rows))


def left_says(whole: BeforeAndAfter, chosen: OptionWeighing, part: PartWeighing, rulebook: Rulebook) -> Iterator[str]:
    """The measure that fares worst, what cannot be told and why, the whole object, and which option loses least."""
    held = chosen.account.held
    yield _worst(held)
    for why, names in _grouped({c.name: listed(w.of(1, 1) for w in c.why) for c in held.columns if c.share is None}):
        yield f"{capital(listed(names))}: the share left is not known, because {why}."
    if held.added is not None and held.added.amount:
        yield f"Added before, and no part of what is left: {quantity_in_words(held.added)}."
    if _renewed(chosen, rulebook):
        yield "The part was made to be renewed: its renewal is no loss, and the table tells where its metal goes."
    yield _whole(*whole)
    yield from _least(part)


def _worst(held: Held) -> str:
    worst = held.worst
    if worst is None:
        return "No share that is left can be told."
    if worst.share is not None and worst.share.amount == 100:
        return "Of what can be told, all that was made is left in place."
    return f"Worst off: {_NAMES[worst.name]}, of which {_share(worst)} is left in place, whatever the others say."


def _whole(before: Whole, after: Whole) -> str:
    told, untold = [], {}
    for name in UNITS:
        if after.held.column(name).share is None:
            untold[name] = _leading(after.why[name])
        else:
            told.append(f"{_OF_ALL[name]} {_change(before.held.column(name), after.held.column(name))}")
    unknown = (f"{listed(names)} not known, because {why}" for why, names in _grouped(untold))
    later = f" Not counted: {after.later} that joined in its preservation or since." if after.later else ""
    return f"Left in place of the whole object, in {after.parts} parts: {'; '.join((*told, *unknown))}.{later}"


def _change(now: Column, then: Column) -> str:
    before, after = _share(now), _share(then)
    return after if before == after else f"{before}, and afterwards {after}"


def _leading(reasons: tuple[str, ...]) -> str:
    """The commonest reason, and how many more there are."""
    more = len(reasons) - 1
    others = f", and for {more} other reason{'s' if more > 1 else ''}" if more > 0 else ""
    return f"{reasons[0] if reasons else ''}{others}"


def _grouped(whys: Mapping[str, str]) -> Iterator[tuple[str, list[str]]]:
    """Each reason once, with the measures it keeps from being told; a measure of nothing has none."""
    for why in dict.fromkeys(filter(None, whys.values())):
        yield why, [_NAMES[name] for name, given in whys.items() if given == why]


def _least(part: PartWeighing) -> Iterator[str]:
    """A statement for the person who decides; it changes no verdict."""
    standing = {o.option.id: o.account for o in part.options if o.verdict.stands}
    least = loses_least(standing) if len(standing) > 1 else ()
    if least:
        loses = "loses least" if len(least) == 1 else "lose alike, and least"
        yield (
            "Among those that stand, in the order marks, surface, metal, acts that cannot be undone: "
            f"{listed(_quoted(name) for name in least)} {loses}; a person decides."
        )


def _quoted(name: str) -> str:
    return f"'{name}'"


def _renewed(chosen: OptionWeighing, rulebook: Rulebook) -> bool:
    """Whether the part goes, and that is no loss."""
    techniques = rulebook.vocabulary.techniques
    goes = any(techniques[act.technique].takes == "whole-part" for act in chosen.option.acts)
    return goes and not any(thing.startswith("part:") for thing in chosen.account.lost)


def _amount(amount: Quantity | None) -> str:
    return _NOT_KNOWN if amount is None else quantity_in_words(amount)


def _share(column: Column) -> str:
    """The share left. One of exact counts is told to a tenth of a per cent."""
    share = column.share
    if share is None:
        return "there was none" if column.made is not None and not column.made.amount else _NOT_KNOWN
    if share.uncertainty == 0:
        share = Quantity(share.amount.quantize(Decimal("0.1")), share.uncertainty, share.unit)
        return quantity_in_words(share).replace(".0 %", " %")
    return quantity_in_words(share)
