"""How much of each phase's fabric is in place: the fabric ledger, told as a table and drawn through time."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.account.balance import Fabric
from conserve.explanation import capital
from conserve.ledger import Ledger, Measure, drawing, ledger_of
from conserve.ledger.telling import (
    HEAD,
    MEASURES,
    NEVER_ONE,
    cells,
    fabric_says,
    remarks_say,
    through_time,
    untold_says,
)
from conserve.statement.apart import apart
from conserve.statement.given import Given, file_of, items, made, proposal_of, prose, row
from conserve.statement.model import Block, Figure, Grid, Prose, Row

_CAPTION = "{measure}: how much of each phase's fabric is in place, through time. Bands from below: in place, phase by \
phase; in store; lost."
MOST_REMARKS = 8  # things that do not balance told here; the ledger tells them all


def balances(given: Given) -> Iterator[Block]:
    """The four measures today, which of them cannot be told of which parts, and the drawing."""
    if not given.casebook.components:
        yield prose("no-fabric", "Nobody has written down any part, so that nothing can be counted.", given.object_file)
        return
    ledger = ledger_of(given.casebook, given.rulebook.vocabulary, on=given.day)
    basis = made(given.object_file, (file_of(part.where) for part in given.casebook.components.values()), _works(given))
    yield prose("never-one", NEVER_ONE)
    yield Grid("balances", "What is in place, in store and lost", ("measure", *HEAD), tuple(_rows(ledger, basis)))
    yield from items("cannot-be-told", _untold(ledger, basis))
    yield from apart(given)
    for measure in ledger.measures:
        alone = ledger.only(measure.name)
        caption = _CAPTION.format(measure=MEASURES[measure.name])
        yield Figure(f"ledger-{measure.name}", caption, _told(measure, ledger), basis, svg=drawing(alone).svg)
    remarks = tuple(_remarks(ledger, basis))
    if remarks:
        yield prose("wanting", "What keeps this from being told in full, with its place in the casebook:", basis)
    yield from items("does-not-balance", remarks)


def _works(given: Given) -> Iterator[str]:
    """Decisions take from the fabric and add to it."""
    return (proposal_of(weighing) for weighing in given.weighings if weighing.proposal.decision)


def _rows(ledger: Ledger, basis: tuple[str, ...]) -> Iterator[Row]:
    for measure in ledger.measures:
        for line in measure.now:
            fabric = capital(fabric_says(line.fabric, ledger))
            cells_ = (MEASURES[measure.name], fabric, *cells(line))
            yield row(f"{measure.name}-{_name(line.fabric)}", cells_, basis)


def _name(fabric: Fabric) -> str:
    return f"{fabric.phase or 'no-phase'}{'-added' if fabric.added else ''}"


def _untold(ledger: Ledger, basis: tuple[str, ...]) -> Iterator[Prose]:
    for measure in ledger.measures:
        if said := untold_says(measure):
            yield prose(measure.name, f"{MEASURES[measure.name]}. {said}", basis)


def _told(measure: Measure, ledger: Ledger) -> str:
    """The drawing in words: each share in place, with the date from which it held."""
    shares = "; ".join(f"{when}, {fabric}: {share}" for when, fabric, share in through_time(measure, ledger))
    return f"{MEASURES[measure.name]}: {shares or 'nothing can be told'}."


def _remarks(ledger: Ledger, basis: tuple[str, ...]) -> Iterator[Prose]:
    said = list(remarks_say(ledger))
    number: dict[str, int] = {}
    for one in said[:MOST_REMARKS]:
        part = one.partition(":")[0].partition(" ")[0]
        number[part] = number.get(part, 0) + 1
        yield prose(f"{part}-{number[part]}", f"{one}.", basis)
    if len(said) > MOST_REMARKS:
        yield prose("more", f"And {len(said) - MOST_REMARKS} more; 'conserve ledger' tells them all.", basis)
