"""The fabric ledger as a page of Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from conserve.ledger.model import Ledger, Measure
from conserve.ledger.telling import (
    HEAD,
    HOW,
    MEASURES,
    NEVER_ONE,
    planned_says,
    remarks_say,
    rows_of,
    through_time,
    untold_says,
)
from conserve.record.markdown import escaped, row, rule


def page(ledger: Ledger) -> str:
    """The ledger's balances now, its shares through time, what is only planned, and what does not balance."""
    lines = [f"# How much of it is original: {escaped(ledger.title)}", "", NEVER_ONE, ""]
    for measure in ledger.measures:
        lines += _measure(measure, ledger)
    lines += _list("Decided, and not done", planned_says(ledger))
    lines += _list("What does not balance, or cannot be told", remarks_say(ledger))
    return "\n".join(lines).rstrip() + "\n"


def _measure(measure: Measure, ledger: Ledger) -> Iterator[str]:
    yield from (f"## {MEASURES[measure.name]}", "", f"{HOW[measure.name].capitalize()}.", "")
    yield from _table(HEAD, rows_of(measure, ledger))
    if untold := untold_says(measure):
        yield from (escaped(untold), "")
    yield from ("### Share in place, through time", "")
    yield from _table(("from", "fabric", "share in place"), through_time(measure, ledger))


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> Iterator[str]:
    told = tuple(rows)
    if not told:
        yield from ("Nothing of it can be told.", "")
        return
    yield from (row(head), rule(head), *map(row, told), "")


def _list(title: str, items: Iterable[str]) -> Iterator[str]:
    told = tuple(items)
    if told:
        yield from (f"## {title}", "", *(f"- {escaped(one)}" for one in told), "")
