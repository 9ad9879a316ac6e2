"""Readiness in words: lines for a screen, Markdown, and the same as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from conserve.casebook.model import Audience
from conserve.explanation import day_in_words
from conserve.explanation.words import capital, full, plain
from conserve.quantity import canonical
from conserve.readiness.bills import Table, change_tables, cost_says, cost_tables
from conserve.readiness.costs import Amounts, Sum
from conserve.readiness.looking import few
from conserve.readiness.model import Mend, Outcome, Readiness, State
from conserve.record.markdown import escaped, row, rule

SIGNS = {State.PRESENT: "[x]", State.STALE: "[~]", State.ABSENT: "[ ]"}
MOST_MENDS = 6  # told of one requirement; JSON has them all
_SEEN_BY = {Audience.ANYONE: "anyone", Audience.REVIEWERS: "reviewers only", Audience.NOBODY: "nobody"}
CAUTION = (
    "It tells what is written and what is not. It judges nobody's case, and certifies nothing: "
    "no machine is safe because a list is full."
)


@dataclass(frozen=True, slots=True)
class Told:
    """Everything there is to say, in order; how it is laid out is somebody else's work."""

    title: str
    cautions: tuple[str, ...]  # before everything else
    head: tuple[str, ...]
    first: tuple[str, ...]  # what to mend first
    wanted: tuple[tuple[str, str, tuple[str, ...], tuple[str, ...]], ...]  # sign and state, head, found, mends
    strays: tuple[str, ...]
    money: tuple[str, ...]
    tables: tuple[Table, ...]


def told(ready: Readiness) -> Told:
    """What is said of a casebook's readiness."""
    return Told(
        title=f"{ready.profile.title}: {ready.object}",
        cautions=(*ready.cautions, CAUTION),
        head=tuple(_head(ready)),
        first=tuple(_first(ready)),
        wanted=tuple(_wanted(outcome) for outcome in ready.outcomes),
        strays=_mends(ready.strays),
        money=tuple(cost_says(ready.costs)),
        tables=(*cost_tables(ready.costs), *change_tables(ready.changes)),
    )


def _head(ready: Readiness) -> Iterator[str]:
    yield full(" ".join(ready.profile.says.split()))
    yield "All that must be there is there." if ready.ready else "It is not ready: something that must be there is not."
    for must, words in ((True, "must be there"), (False, "should be there")):
        count = {state: len(ready.of(state, must)) for state in State}
        if sum(count.values()):
            each = ", ".join(f"{number} {state}" for state, number in count.items())
            yield f"Of {sum(count.values())} things that {words}: {each}."
    yield f"What is sent will be seen by {_SEEN_BY[ready.profile.audience]}. As at {day_in_words(ready.day)}."


def _first(ready: Readiness) -> Iterator[str]:
    """What must be there and is not: absent before stale, in the profile's order."""
    for outcome in (*ready.of(State.ABSENT, True), *ready.of(State.STALE, True)):
        first, *more = _mends(outcome.mends)
        below = f"; {len(more)} more below" if more else ""
        yield f"{capital(plain(outcome.wanted.id))}: {first}{below}"


def _wanted(outcome: Outcome) -> tuple[str, str, tuple[str, ...], tuple[str, ...]]:
    wanted = outcome.wanted
    need = "must" if wanted.must else "should"
    sign = f"{SIGNS[outcome.state]} {outcome.state:<7}"
    said = f"{' '.join(wanted.says.split())} ({wanted.id}; {need}; {_source(outcome)})"
    mends = _mends(outcome.mends)
    if len(mends) > MOST_MENDS:
        mends = (*mends[:MOST_MENDS], f"And {len(mends) - MOST_MENDS} more; --json names them all.")
    return sign, said, tuple(dict.fromkeys(outcome.found)), mends


def _source(outcome: Outcome) -> str:
    cited = outcome.wanted.source
    return str(cited) if cited.clause else plain(cited.source)


def _mends(mends: Iterable[Mend]) -> tuple[str, ...]:
    """What to do, each thing once, with the places where: in `file:line (about what)`."""
    places: dict[str, list[str]] = {}
    for mend in mends:
        about = few(mend.about)
        places.setdefault(mend.what, []).append(f"{mend.where} ({about})" if about else mend.where)
    return tuple(f"{full(what)} → {few(where)}" for what, where in places.items())


# ---- Markdown -----------------------------------------------------------------------------------------


def markdown(ready: Readiness) -> str:
    """The same as a Markdown page. Every text of the casebook is escaped."""
    said = told(ready)
    lines = [f"# {escaped(said.title)}", "", *(f"> {escaped(one)}\n>" for one in said.cautions[:-1])]
    lines += [f"> {escaped(said.cautions[-1])}", "", *_spaced(said.head)]
    if said.first:
        lines += ["## What to mend first", "", *(f"{n}. {escaped(one)}" for n, one in enumerate(said.first, 1)), ""]
    lines += ["## What is asked for", ""]
    for sign, head, found, mends in said.wanted:
        lines += [f"- **{escaped(sign.strip())}** {escaped(head)}"]
        lines += [f"  - Found: {escaped(one)}" for one in found]
        lines += [f"  - To mend: {escaped(one)}" for one in mends]
    if said.strays:
        lines += ["", "## Answers to nothing", "", *(f"- {escaped(one)}" for one in said.strays)]
    lines += ["", "## What it costs and what it changes", "", *_spaced(said.money)]
    for table in said.tables:
        lines += [f"### {escaped(table.title)}", "", row(table.head), rule(table.head), *map(row, table.rows), ""]
    return "\n".join(lines).rstrip() + "\n"


def _spaced(lines: tuple[str, ...]) -> list[str]:
    return [part for line in lines for part in (str(escaped(line)), "")]


# ---- data ---------------------------------------------------------------------------------------------


def as_data(ready: Readiness) -> dict[str, object]:
    """The same for programs: every number with all its digits, `null` where nobody has said."""
    costs = ready.costs
    return {
        "profile": ready.profile.id,
        "casebook": ready.casebook,
        "on": ready.day.isoformat(),
        "ready": ready.ready,
        "cautions": [*ready.cautions, CAUTION],
        "audience": str(ready.profile.audience),
        "requires": [_outcome_data(outcome) for outcome in ready.outcomes],
        "strays": [_mend_data(mend) for mend in ready.strays],
        "costs": {
            "currency": costs.currency or None,
            "contingency": None if costs.contingency is None else canonical(costs.contingency),
            "set_aside": _sum_data(costs.set_aside) if costs.set_aside else None,
            "total": _sum_data(costs.total),
            "uncosted": list(costs.uncosted),
            "whole": _amounts_data(costs.whole),
            "apart": _amounts_data(costs.apart),
            "stages": [{"stage": stage or None, **_amounts_data(amounts)} for stage, amounts in costs.stages],
            "proposals": [
                {
                    "proposal": bill.proposal,
                    "option": bill.option,
                    "footing": str(bill.footing),
                    "against_verdict": bill.against_verdict,
                    "costed": bill.lines is not None,
                    **_amounts_data(bill.amounts),
                }
                for bill in costs.bills
            ],
        },
        "changes": [
            {
                "proposal": one.proposal,
                "option": one.option,
                "need": one.need,
                "components": list(one.components),
                "before": one.before,
                "after": one.after,
            }
            for one in ready.changes
        ],
    }


def _outcome_data(outcome: Outcome) -> dict[str, object]:
    return {
        "id": outcome.wanted.id,
        "says": outcome.wanted.says,
        "needed": "must" if outcome.wanted.must else "should",
        "source": str(outcome.wanted.source),
        "state": str(outcome.state),
        "found": list(outcome.found),
        "mend": [_mend_data(mend) for mend in outcome.mends],
    }


def _mend_data(mend: Mend) -> dict[str, object]:
    return {"what": mend.what, "where": mend.where, "about": list(mend.about)}


def _amounts_data(amounts: Amounts) -> dict[str, object]:
    return {
        "money_asked": _sum_data(amounts.asked),
        "money_in_kind": _sum_data(amounts.in_kind),
        "hours_paid": _sum_data(amounts.paid),
        "hours_given": _sum_data(amounts.given),
        "skills": [
            {"skill": one.name or None, "hours_paid": _sum_data(one.paid), "hours_given": _sum_data(one.given)}
            for one in amounts.skills
        ],
    }


def _sum_data(found: Sum) -> dict[str, object]:
    return {
        "at_least": canonical(found.amount),
        "lines": found.lines,
        "whole": not found.lacks,
        "lacks": list(found.lacks),
        "loose": list(found.loose),
    }
