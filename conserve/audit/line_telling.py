"""Decisions that are out of line with their like: as a section of a report, as data, and in lines for a screen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from conserve.audit.cases import Case, Outcome
from conserve.audit.clashes import Clash, Told, alike, better
from conserve.audit.factors import Factors
from conserve.audit.near import Near
from conserve.audit.out_of_line import OutOfLine, Smallest
from conserve.explanation import full, listed
from conserve.statement.model import Block, Grid, Prose, Row, Section

_SOME = 12  # of a list that a report tells; the data have all of it
_HEAD = ("what is asked", "it counts", "where it was passed over", "where it was chosen")
_IN_DATA = "The report as .json tells them."
_WHY = (
    "Both cannot be right for the reasons that the rules know: either the facts leave something out that mattered, or "
    "one of the two was decided wrongly. Which, this cannot tell."
)


def line_section(found: OutOfLine, factors: Factors) -> Section:
    """What does not fit between decisions, and what lies near to it, as a section of a report."""
    return Section("out-of-line", "Out of line with its like", tuple(_blocks(found, factors)))


def line_lines(found: OutOfLine) -> tuple[str, ...]:
    """The same in a line or two for a screen; what stands out of line is told there as points."""
    return _counted(found), *_smallest(found.smallest)


def line_data(found: OutOfLine, factors: Factors) -> dict[str, Any]:
    """The same as plain data, with everything in which two that clash differ and are alike."""
    return {
        "chosen": found.accepted,
        "passed_over": found.refused,
        "left_out": found.left_out,
        "clashes": [
            {
                **_pair_data(one),
                "better": [_told_data(told) for told in better(one, factors)],
                "alike": [_told_data(told) for told in alike(one, factors)],
            }
            for one in found.clashes
        ],
        "smallest": {
            "outcomes": [_outcome_data(one) for one in found.smallest.outcomes],
            "certain": [_outcome_data(one) for one in found.smallest.certain],
        },
        "near": [{**_pair_data(one), "differs": [_told_data(told) for told in one.differs]} for one in found.near],
    }


def _pair_data(one: Clash | Near) -> dict[str, Any]:
    return {"passed_over": _case_data(one.refused), "chosen": _case_data(one.accepted)}


def _case_data(one: Case) -> dict[str, Any]:
    said = {"part": one.part, "techniques": list(one.techniques), "verdict": str(one.verdict)}
    return {**_outcome_data(one.outcome), **said}


def _outcome_data(one: Outcome) -> dict[str, Any]:
    return {"casebook": one.casebook, "proposal": one.proposal, "option": one.option, "chosen": one.accepted}


def _told_data(told: Told) -> dict[str, Any]:
    said = {"asks": told.asks, "counts": str(told.counts), "rules": list(told.rules)}
    return {**said, "passed_over": told.refused, "chosen": told.accepted}


# ---- the section -------------------------------------------------------------------------------------------------


def _blocks(found: OutOfLine, factors: Factors) -> Iterator[Block]:
    yield Prose("compared", _compared(found), ())
    yield Prose("counted", _counted(found), ())
    if found.clashes:
        yield Prose("why", _WHY, ())
        yield from (Prose(f"smallest-{at}", said, ()) for at, said in enumerate(_smallest(found.smallest), 1))
    for number, clash in enumerate(found.clashes[:_SOME], 1):
        yield from _clash(f"pair-{number}", clash, factors)
    if len(found.clashes) > _SOME:
        yield Prose("more", f"And {_pairs(len(found.clashes) - _SOME)} more. {_IN_DATA}", ())
    if found.near:
        said = "These were decided differently, and differ in little. Whoever looks at them sees what it turned on:"
        yield Prose("near", said, ())
        for number, one in enumerate(found.near, 1):
            name, caption = f"near-{number}", f"{_called(one.refused)}; {_called(one.accepted)}"
            yield Grid(name, caption, _HEAD, tuple(_rows(one.differs)))


def _compared(found: OutOfLine) -> str:
    said = (
        f"Each option that was passed over for something gentler ({found.refused}) was laid beside each that was "
        f"chosen in another decision ({found.accepted}), in everything that a rule asks for and every step of a "
        "weighing."
    )
    if not found.left_out:
        return said
    verb = "was" if found.left_out == 1 else "were"
    return f"{said} {found.left_out} more {verb} weighed by other rules, and cannot be compared with these."


def _counted(found: OutOfLine) -> str:
    if not found.accepted or not found.refused:
        return (
            "Out of line: there is nothing to compare, for it takes one that was chosen and one that was passed over."
        )
    if not found.clashes:
        return "Out of line: none. Whatever was passed over fares worse in something than each that was chosen."
    verb = "does" if len(found.clashes) == 1 else "do"
    return (
        f"Out of line: {_pairs(len(found.clashes))} {verb} not fit together. What was passed over fares no worse in "
        "anything than what was chosen in another decision."
    )


def _pairs(number: int) -> str:
    return "1 pair" if number == 1 else f"{number} pairs"


def _smallest(smallest: Smallest) -> Iterator[str]:
    """The fewest outcomes that are behind all of it."""
    if not smallest.outcomes:
        return
    names = [_outcome(one) for one in smallest.outcomes]
    more = [f"{len(names) - _SOME} more"] if len(names) > _SOME else []
    one = len(names) == 1
    said = (
        f"Had {'this' if one else 'these'} gone the other way, nothing would clash: {listed((*names[:_SOME], *more))}."
    )
    yield said if smallest.alone else f"{said} Others, as many, would do as well."


def _clash(name: str, clash: Clash, factors: Factors) -> Iterator[Block]:
    differs, same = better(clash, factors), len(alike(clash, factors))
    says = f"{full(_called(clash.refused))} {full(_called(clash.accepted))}"
    if not differs:
        says += " They fare alike in everything."
    yield Prose(name, says, ())
    if differs:
        caption = "What speaks less against the one that was passed over"
        yield Grid(f"{name}-better", f"{caption} ({name.rpartition('-')[2]})", _HEAD, tuple(_rows(differs[:_SOME])))
        yield from _rest(f"{name}-rest", len(differs))
    if same:
        things = "1 thing speaks" if same == 1 else f"{same} things speak"
        yield Prose(f"{name}-same", f"{things} against both alike, certainly or perhaps. {_IN_DATA}", ())


def _rest(name: str, number: int) -> Iterator[Block]:
    if number > _SOME:
        yield Prose(name, f"And {number - _SOME} more. {_IN_DATA}", ())


def _rows(some: Iterable[Told]) -> Iterator[Row]:
    for number, told in enumerate(some, 1):
        yield Row(str(number), (told.asks, str(told.counts), told.refused, told.accepted), ())


def _called(one: Case) -> str:
    """Who was chosen or passed over, where, for which part, and what its verdict is."""
    became = "was chosen" if one.outcome.accepted else "was passed over"
    return f"'{one.outcome.option}' for {one.part} {became} in {_where(one.outcome)} ({one.verdict})"


def _outcome(one: Outcome) -> str:
    return f"'{one.option}', {'chosen' if one.accepted else 'passed over'} in {_where(one)}"


def _where(one: Outcome) -> str:
    return f"{one.casebook}, {one.proposal}" if one.casebook else one.proposal
