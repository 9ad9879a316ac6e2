"""A sample of decisions for a person to go through: as a section of a report, as data, and in lines for a screen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from conserve.audit.sampling import Sampled
from conserve.statement.model import Block, Grid, Prose, Row, Section

_HEAD = ("decision", "title", "why it is in the sample")
_HOW = (
    "A decision that is irreversible, of a part of high significance, against advice or with something found about it "
    "is drawn more often: it has more lots. Whoever draws again with the same seed gets the same sample, so that it "
    "can be checked that nobody picked it."
)


def sample_section(found: Sequence[Sampled], seed: int, size: int, among: int) -> Section:
    """The decisions for a person to go through. `among` is how many there were, `size` how many were asked for."""
    return Section("sample", "For a person to go through", tuple(_blocks(found, seed, size, among)))


def sample_lines(found: Sequence[Sampled], seed: int, size: int, among: int) -> tuple[str, ...]:
    """The same for a screen: what was drawn, and a line for each decision."""
    return _what(found, seed, size, among), *(f"{_name(one)}: {one.why}" for one in found)


def sample_data(found: Sequence[Sampled], seed: int, size: int, among: int) -> dict[str, Any]:
    """The same as plain data."""
    decisions = [
        {
            "casebook": one.casebook,
            "proposal": one.proposal,
            "title": one.title,
            "drawn": one.drawn,
            "lots": one.lots,
            "why": one.why,
        }
        for one in found
    ]
    return {"seed": seed, "asked_for": size, "among": among, "decisions": decisions}


def _blocks(found: Sequence[Sampled], seed: int, size: int, among: int) -> list[Block]:
    told: list[Block] = [Prose("what", _what(found, seed, size, among), ())]
    if found:
        rows = tuple(Row(_name(one).replace(", ", "-"), (_name(one), one.title, one.why), ()) for one in found)
        told += [Prose("how", _HOW, ()), Grid("drawn", "In the order of the draw", _HEAD, rows)]
    return told


def _what(found: Sequence[Sampled], seed: int, size: int, among: int) -> str:
    if not found:
        return "For a person to go through: there is no decision to draw from."
    number = "1 decision" if among == 1 else f"{among} decisions"
    return f"For a person to go through: {len(found)} of {number} (--sample {size} --seed {seed})."


def _name(one: Sampled) -> str:
    return f"{one.casebook}, {one.proposal}" if one.casebook else one.proposal
