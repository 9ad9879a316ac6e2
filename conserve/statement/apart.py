"""How much of what each part was made with is in place: the fabric ledger, part by part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from conserve.account.balance import Balance, Fabric
from conserve.account.held import UNITS
from conserve.account.journal import journal_of
from conserve.casebook import Component
from conserve.ledger.telling import MEASURES, NONE, NOT_KNOWN, share_says
from conserve.statement.alike import alike, all_named
from conserve.statement.given import Given, file_of, made, prose, row
from conserve.statement.model import Block, Grid

IN_PLACE = "in place"
_WHOLE = ("100 %", NONE, IN_PLACE)
_HEAD = ("part", "made in", "where it is", *list(MEASURES.values())[1:])


def apart(given: Given) -> Iterator[Block]:
    """The parts of which something is gone, off or not known; the others in one sentence.

    A share is of what the part itself was made with: what was added to it later is no part of that.
    """
    groups = alike(given.casebook.components.values(), lambda part: _shares(part, given), given.casebook)
    told = [group for group in groups if not all(share in _WHOLE for share in group.told[1:])]
    if told:
        rows = (row(g.id, (g.name, *g.told), _basis(g.parts, given)) for g in told)
        yield Grid("apart", "Part by part: the share in place of what it was made with", _HEAD, tuple(rows))
    whole = [part for group in groups if group not in told for part in group.parts]
    if whole:
        names = all_named(whole, given.casebook)
        says = f"Of these, as far as it is written, all that they were made with is in place: {names}."
        yield prose("whole", says, _basis(whole, given))


def _shares(part: Component, given: Given) -> tuple[str, ...]:
    balances = journal_of(part, given.casebook, given.rulebook.vocabulary).at(given.day)
    own = balances.get(Fabric(part.phase))
    if own is None:
        return (part.phase or "not written", *(NOT_KNOWN for _ in UNITS))
    itself, *shares = own
    return (part.phase or "not written", _place(itself), *map(share_says, shares))


def _place(itself: Balance) -> str:
    for amount, says in ((itself.in_place, IN_PLACE), (itself.in_store, "off, and kept"), (itself.lost, "not there")):
        if amount is not None and amount.amount:
            return says
    return NOT_KNOWN


def _basis(parts: Sequence[Component], given: Given) -> tuple[str, ...]:
    """What is written of the parts, and what was decided about them."""
    names = {part.id for part in parts}
    decided = (w.proposal for w in given.weighings if w.proposal.decision and names & set(w.proposal.components))
    return made(given.object_file, (file_of(part.where) for part in parts), (file_of(one.where) for one in decided))
