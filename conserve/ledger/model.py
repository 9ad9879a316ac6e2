"""The ledger of an object, an assembly or a part: what each phase's fabric came to, through time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from conserve.account.balance import Balance, Balances, Fabric
from conserve.account.held import UNITS
from conserve.account.journal import Entry, Journal, journal_of
from conserve.account.remarks import Remark
from conserve.account.whole import owners_of, summed
from conserve.account.why import Why
from conserve.casebook import Casebook
from conserve.casebook.model import Phase
from conserve.explanation.words import dated
from conserve.terms import Vocabulary


@dataclass(frozen=True, slots=True)
class Line:
    """One measure of one phase's fabric: of `parts` parts it can be told of `told`, and `balance` is of those alone.

    They are the parts of which it can be told on the ledger's own day, the same at every date. What was added to
    parts is told as a whole or not at all: None, where the amount of one addition is not known.
    """

    fabric: Fabric
    parts: int
    told: int
    balance: Balance | None


@dataclass(frozen=True, slots=True)
class Step:
    """How a measure stood from one date on."""

    on: date
    says: str  # the date: a day, a year, or that none is written
    lines: tuple[Line, ...]

    def line(self, fabric: Fabric) -> Line | None:
        return next((line for line in self.lines if line.fabric == fabric), None)


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure through time: only the dates at which it changed. `then`: when all that is decided is done."""

    name: str
    parts: int
    told: int
    steps: tuple[Step, ...]
    then: tuple[Line, ...]
    why: tuple[str, ...]  # it cannot be told of the other parts, the commonest reason first

    @property
    def now(self) -> tuple[Line, ...]:
        return self.steps[-1].lines if self.steps else ()


@dataclass(frozen=True, slots=True)
class Ledger:
    """How much of the fabric of each phase is in place, in store and lost; in four measures that are never added."""

    title: str
    of: str  # a component's id; "": the whole object
    on: date
    parts: int
    phases: tuple[Phase, ...]
    measures: tuple[Measure, ...]
    entries: tuple[Entry, ...]
    planned: tuple[Entry, ...]
    remarks: tuple[Remark, ...]

    def measure(self, name: str) -> Measure:
        return next(one for one in self.measures if one.name == name)

    def only(self, name: str) -> Ledger:
        """The same, by one measure alone."""
        return replace(self, measures=(self.measure(name),))


def ledger_of(casebook: Casebook, vocabulary: Vocabulary, of: str = "", on: date | None = None) -> Ledger:
    """The ledger of the whole object, or of a component with all that belongs to it, up to a day or to today."""
    parts = [part for part in casebook.components.values() if not of or of in owners_of(part, casebook)]
    journals = [journal_of(part, casebook, vocabulary) for part in sorted(parts, key=lambda part: part.id)]
    day = casebook.as_at if on is None else on
    fabrics = _fabrics(journals, casebook)
    entries = sorted((entry for one in journals for entry in one.entries), key=lambda entry: (entry.on, entry.part))
    today = day >= casebook.as_at
    return Ledger(
        casebook.components[of].name if of else casebook.object.name,
        of,
        day,
        len(parts),
        tuple(casebook.object.phases.values()),
        tuple(_measure(name, journals, fabrics, day, today) for name in UNITS),
        tuple(entry for entry in entries if entry.sure != "planned" and entry.on <= day),
        tuple(entry for entry in entries if entry.sure == "planned" and today),
        tuple(remark for one in journals for remark in one.remarks),
    )


def _fabrics(journals: Sequence[Journal], casebook: Casebook) -> tuple[Fabric, ...]:
    """Every fabric there is, in the order of the phases; what was added after what parts were made with."""
    there = {fabric for one in journals for fabric in (*one.then, *one.now)}
    order = (*casebook.object.phases, "")
    return tuple(sorted(there, key=lambda one: (order.index(one.phase) if one.phase in order else 99, one.added)))


def _measure(name: str, journals: Sequence[Journal], fabrics: Sequence[Fabric], day: date, today: bool) -> Measure:
    at = tuple(UNITS).index(name)
    there = [one for one in journals if one.at(day)]
    told = {one.part.id for one in there if _own(one, at, day).told}
    steps: list[Step] = []
    lines: dict[Fabric, Line] = {}
    for on, says in _dates(journals, day):
        moved = {
            fabric for one in journals for at_then in one.standings if at_then.on == on for fabric in at_then.balances
        }
        now = {fabric: _line(at, fabric, [(one.part.id, one.at(on)) for one in journals], told) for fabric in moved}
        lines = {**lines, **{fabric: line for fabric, line in now.items() if line}}
        if not steps or lines != {line.fabric: line for line in steps[-1].lines}:
            steps.append(Step(on, says, tuple(lines[fabric] for fabric in fabrics if fabric in lines)))
    last = [(one.part.id, one.then) for one in journals]
    then = tuple(line for fabric in fabrics if (line := _line(at, fabric, last, told))) if today else ()
    whys = _whys([_own(one, at, day).column.why for one in there if one.part.id not in told], len(there))
    return Measure(name, len(there), len(told), tuple(steps), then, whys)


def _own(journal: Journal, at: int, day: date) -> Balance:
    """What a part was made with, by a measure."""
    return journal.at(day)[Fabric(journal.part.phase)][at]


def _dates(journals: Sequence[Journal], day: date) -> Iterator[tuple[date, str]]:
    """Every date at which something happened to a part; told as a year where nobody has written more."""
    found: dict[date, str] = {}
    for one in (standing for journal in journals for standing in journal.standings if standing.on <= day):
        said = "not known" if one.on == date.min else dated(one.on, one.year_only)
        found[one.on] = min(found.get(one.on, said), said, key=len)
    yield from sorted(found.items())


def _line(at: int, fabric: Fabric, parts: Sequence[tuple[str, Balances]], told: Container[str]) -> Line | None:
    """How a fabric stands in a measure; None where there is none of it."""
    there = [(name, balances[fabric][at]) for name, balances in parts if fabric in balances]
    if not fabric.added:
        counted = [balance for name, balance in there if name in told]
        return Line(fabric, len(there), len(counted), _sum(at, counted) if counted else None) if there else None
    some = [balance for _, balance in there if balance.made is None or balance.made.amount]
    known = [balance for balance in some if balance.told]
    if not some:
        return None
    return Line(fabric, len(some), len(known), _sum(at, known) if len(known) == len(some) else None)


def _sum(at: int, balances: Sequence[Balance]) -> Balance:
    columns = [balance.column for balance in balances]
    untouched = all(balance.untouched for balance in balances)
    return Balance(summed(tuple(UNITS)[at], columns), all(balance.lossless for balance in balances), untouched)


def _whys(found: Sequence[tuple[Why, ...]], parts: int) -> tuple[str, ...]:
    """Why a measure cannot be told of some parts, each reason with its number of parts."""
    counts = Counter(why for whys in found for why in whys)
    order = sorted(counts, key=lambda why: (-counts[why], tuple(Why).index(why)))
    return tuple(why.of(counts[why], parts) for why in order)
