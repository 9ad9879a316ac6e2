"""The ledger in words: which fabric, how much of it, and what happened to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import ROUND_CEILING, Decimal

from conserve.account.balance import Balance, Fabric
from conserve.account.held import UNITS
from conserve.account.journal import Entry
from conserve.explanation.words import capital, dated, listed, place, plain, quantity_in_words
from conserve.ledger.model import Ledger, Line, Measure
from conserve.quantity import Quantity, canonical

MEASURES = {"parts": "Parts", "marks": "Marks", "surface": "Original surface", "metal": "Metal"}
HOW = {
    "parts": "counted; a part counts as one, however large",
    "marks": "counted, as they are written on the faces of the parts",
    "surface": "area of the faces whose surface is the one that the part joined with",
    "metal": "weighed or reckoned",
}
HEAD = ("fabric", "told of", "made or added", "in place", "in store", "lost", "share in place")
NOT_KNOWN = "not known"
NONE = "there was none"
_HUNDREDTH = Decimal("0.01")
NEVER_ONE = "Four measures, told apart: none stands for another, and they are never put together as one."


def fabric_says(fabric: Fabric, ledger: Ledger) -> str:
    """A phase's fabric in words: "as built, 1868"; "added, present work, from 2025"."""
    phase = next((one for one in ledger.phases if one.id == fabric.phase), None)
    name = f"{plain(phase.id)}, {phase.dates}" if phase and phase.dates else plain(fabric.phase) or "phase not written"
    return f"added, {name}" if fabric.added else name


def rows_of(measure: Measure, ledger: Ledger) -> Iterator[tuple[str, ...]]:
    """How each fabric stands, as rows under `HEAD`."""
    for line in measure.now:
        yield (capital(fabric_says(line.fabric, ledger)), *cells(line))


def cells(line: Line) -> tuple[str, ...]:
    """One line's amounts in words."""
    told = f"{line.told} of {line.parts}"
    balance = line.balance
    if balance is None:
        return (told, *[NOT_KNOWN] * 5)
    amounts = (balance.made, balance.in_place, balance.in_store, balance.lost)
    return (told, *(_amount(amount) for amount in amounts), share_says(balance))


def share_says(balance: Balance | None) -> str:
    """The share in place, or that there was none of it, or that it is not known."""
    if balance is not None and balance.share is not None:
        return per_cent(balance.share)
    return NONE if balance and balance.made is not None and not balance.made.amount else NOT_KNOWN


def per_cent(share: Quantity) -> str:
    """A share, to a hundredth of a per cent; one of exact counts to a tenth."""
    if share.uncertainty is None:
        return quantity_in_words(share)
    place = _HUNDREDTH if share.uncertainty else Decimal("0.1")
    amount, spread = share.amount.quantize(place), share.uncertainty.quantize(place, ROUND_CEILING)
    if amount == 100 and share.amount < 100:
        return f"more than {100 - place:f} %"
    if not amount and share.amount > 0:
        return f"less than {place:f} %"
    return quantity_in_words(Quantity(amount, max(spread, share.uncertainty), share.unit)).replace(".0 %", " %")


def _amount(amount: Quantity | None) -> str:
    return NOT_KNOWN if amount is None else quantity_in_words(amount)


def untold_says(measure: Measure) -> str:
    """Of which parts a measure cannot be told, and why; "" where it can of all."""
    if measure.told == measure.parts:
        return ""
    why = f": {'; '.join(measure.why)}" if measure.why else ""
    return f"Cannot be told of {measure.parts - measure.told} of {measure.parts} parts{why}."


def through_time(measure: Measure, ledger: Ledger) -> Iterator[tuple[str, str, str]]:
    """The date, the fabric and its share in place, wherever that changed or the fabric was new."""
    last: dict[Fabric, str] = {}
    for step in measure.steps:
        for line in step.lines:
            said = share_says(line.balance)
            if said != NONE and last.get(line.fabric) != said:
                yield step.says, capital(fabric_says(line.fabric, ledger)), said
                last[line.fabric] = said


def entry_says(entry: Entry, ledger: Ledger) -> str:
    """One entry in a sentence, with where it stands in the casebook."""
    when = dated(entry.on, entry.year_only) if entry.dated else "no date"
    amounts = [f"{name} {_amount(amount)}" for name, amount in _moved(entry).items()]
    sure = "" if entry.sure == "written" else f" [{entry.sure}: an estimate]"
    what = listed(amounts) or "nothing that can be counted"
    said = " ".join(entry.says.split())
    return (
        f"{when}  {entry.part}, {fabric_says(entry.fabric, ledger)}: {entry.source} → {entry.to}: {what}.{sure} "
        f"{said} ({place(entry.where)})"
    )


def _moved(entry: Entry) -> Mapping[str, Quantity | None]:
    """The amounts that are something, or may be; the measures by name."""
    return {
        MEASURES[name].lower(): entry.amounts[name]
        for name in UNITS
        if (amount := entry.amounts[name]) is None or amount.amount
    }


def planned_says(ledger: Ledger) -> Iterator[str]:
    """What is decided and not done, one sentence an entry; it is in no balance."""
    return (entry_says(entry, ledger) for entry in ledger.planned)


def remarks_say(ledger: Ledger) -> Iterator[str]:
    """What does not balance, or keeps a balance from being told, with its place; what is alike told once."""
    alike: dict[tuple[str, str], list[str]] = {}
    for remark in ledger.remarks:
        alike.setdefault((remark.says, place(remark.where)), []).append(remark.part)
    for (says, where), parts in alike.items():
        names = parts[0] if len(parts) == 1 else f"{parts[0]} and {len(parts) - 1} more"
        yield f"{names}: {says} ({where})"


# ---- for programs ---------------------------------------------------------------------------------------


def data(ledger: Ledger) -> dict[str, object]:
    """The ledger for programs. Null: it is not known."""
    return {
        "of": ledger.of or None,
        "on": ledger.on.isoformat(),
        "parts": ledger.parts,
        "measures": {one.name: _measure_data(one) for one in ledger.measures},
        "entries": [_entry_data(entry) for entry in ledger.entries],
        "planned": [_entry_data(entry) for entry in ledger.planned],
        "does_not_balance": [{"part": r.part, "says": r.says, "where": place(r.where)} for r in ledger.remarks],
    }


def _measure_data(measure: Measure) -> dict[str, object]:
    return {
        "told_of": measure.told,
        "parts": measure.parts,
        "why_not_all": list(measure.why),
        "steps": [{"from": step.says, "fabrics": [_line_data(line) for line in step.lines]} for step in measure.steps],
    }


def _line_data(line: Line) -> dict[str, object]:
    balance = line.balance
    amounts = (
        (balance.made, balance.in_place, balance.in_store, balance.lost, balance.share) if balance else (None,) * 5
    )
    names = ("made_or_added", "in_place", "in_store", "lost", "share_in_place")
    told = {name: _number(amount) for name, amount in zip(names, amounts, strict=True)}
    return {
        "phase": line.fabric.phase or None,
        "added": line.fabric.added,
        "told_of": line.told,
        "parts": line.parts,
        **told,
    }


def _entry_data(entry: Entry) -> dict[str, object]:
    return {
        "on": dated(entry.on, entry.year_only) if entry.dated else None,
        "part": entry.part,
        "phase": entry.fabric.phase or None,
        "added": entry.fabric.added,
        "from": str(entry.source),
        "to": str(entry.to),
        "amounts": {name: _number(entry.amounts[name]) for name in UNITS},
        "known_by": str(entry.sure),
        "under": entry.under or None,
        "where": place(entry.where),
    }


def _number(amount: Quantity | None) -> str | None:
    return None if amount is None else canonical(amount)
