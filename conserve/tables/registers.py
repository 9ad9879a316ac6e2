"""Registers as sheets: the evidence, what is owed, what options cost, and the readings. They are not read back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from conserve.casebook import Casebook
from conserve.casebook.measurements import COLUMNS, NAME
from conserve.casebook.model import Option, Proposal, Resource
from conserve.files import Folder
from conserve.quantity import Quantity
from conserve.record.owed import WORDS, Owed
from conserve.shape import Problems
from conserve.tables.cells import Sheet
from conserve.tables.delimited import read_csv
from conserve.tables.numbers import plain_number

_EVIDENCE = (
    "evidence", "kind", "date", "by", "about", "shows", "file", "held", "sha-256", "bytes", "grade", "role",
    "competence", "answers", "lapses", "method", "instrument", "serial", "calibrated", "rights", "may be shown to",
    "shown as",
)  # fmt: skip
_COSTS = (
    "proposal", "option", "what", "money", "money ±", "currency", "hours", "hours ±", "skill", "given", "stage",
    "basis", "evidence", "remarks",
)  # fmt: skip


def evidence_sheet(casebook: Casebook) -> Sheet:
    """The evidence register, a piece a row."""
    rows = (
        (
            one.id, one.kind, _day(one.on), one.by, "; ".join(one.about), one.shows, one.file, one.held, one.digest,
            "" if one.size is None else str(one.size), one.grade, one.role, one.competence, "; ".join(one.answers),
            "never" if one.lapses == date.max else _day(one.lapses), one.method, one.instrument, one.serial,
            "never" if one.calibrated == date.min else _day(one.calibrated), one.rights,
            str(one.show) if one.show else "nobody, until somebody says", one.shown_as,
        )
        for one in casebook.evidence.values()
    )  # fmt: skip
    return Sheet("Evidence", _EVIDENCE, tuple(rows))


def due_sheet(found: Iterable[Owed], on: date) -> Sheet:
    """What is owed on a day, a thing a row; what every such job owes too."""
    head = ("by", "late", "stage", "what", "proposal", "where")
    rows = (
        (_day(one.on), "yes" if one.overdue(on) else "no", WORDS[one.stage], one.what, one.proposal, one.where)
        for one in found
    )
    return Sheet("Due", head, tuple(rows))


def costs_sheet(casebook: Casebook) -> Sheet:
    """What each option costs, a line a row. An option of which nobody has said so has a row that says that."""
    rows = []
    for proposal in casebook.proposals:
        for option in proposal.options:
            if option.resources:
                rows += [_cost(proposal, option, one, casebook) for one in option.resources]
            else:
                said = "nobody has written what it costs" if option.resources is None else "costs nothing"
                rows.append((proposal.id, option.id, *[""] * (len(_COSTS) - 3), said))
    return Sheet("Costs", _COSTS, tuple(rows))


def _cost(proposal: Proposal, option: Option, one: Resource, casebook: Casebook) -> tuple[str, ...]:
    budget = casebook.object.budget
    return (
        proposal.id, option.id, one.what, *_number(one.money), budget.currency if budget and one.money else "",
        *_number(one.hours), one.skill, "" if one.given is None else "yes" if one.given else "no", one.stage,
        one.basis, "; ".join(one.evidence), "",
    )  # fmt: skip


def measurement_sheet(folder: Folder) -> Sheet:
    """The readings, as measurements.csv has them; its columns alone where there is no such file."""
    grid = read_csv(folder.read_bytes(NAME), NAME, "comma", Problems("C")) if NAME in folder.names("", ".csv") else None
    rows = grid.rows[1:] if grid else ()
    return Sheet("Measurements", COLUMNS, tuple(tuple(cell.text for cell in cells) for _, cells in rows if cells))


def _number(quantity: Quantity | None) -> tuple[str, str]:
    """An amount and its ±, in hours or in the object's currency."""
    if quantity is None:
        return "", ""
    return plain_number(quantity.in_unit("h") if quantity.dimension == "time" else quantity)


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
