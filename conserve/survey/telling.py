"""The sentences of a survey sheet, in the order in which somebody in the workshop reads them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from conserve.casebook.surveys import COLUMNS, runs
from conserve.explanation.words import capital, day_in_words, full, listed, plain, the
from conserve.survey.asking import ANY
from conserve.survey.model import About, Ask, Caution, Idle, Serves, Survey, Told, rounds, settled_by

PROPOSER = "What only whoever puts it forward can say"
REPORTS = "What a competent person must say"
ELSEWHERE = "What has its own place in a file"
IDLE = "Do not spend time on these"
NOTHING_OPEN = "Nothing is left to find out: no answer could change a verdict."
_MOST_ALONE = 2  # answers told in full, of those after which nothing is open
_PART = "the part"
_EMPTY = ("none",)  # all that a sheet can say of a list


@dataclass(frozen=True, slots=True)
class Line:
    """One question of a sheet, in words."""

    place: str
    question: str
    term: str
    where: str
    cost: str
    does: str  # what an answer settles, and for which proposals
    precise: str  # of a number
    how: str  # how to answer, where that is not plain
    ticks: tuple[str, ...]  # words to tick
    tip: str  # beside them
    unit: str
    cells: Mapping[str, str]  # column -> what stands there before anyone has answered


@dataclass(frozen=True, slots=True)
class Group:
    """The questions about one component."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A survey in sentences."""

    title: str
    as_at: str
    nothing_open: str  # "" where something is
    cautions: tuple[str, ...]
    may_apply: tuple[str, ...]  # cautions of which it is not known yet
    about: tuple[tuple[str, tuple[str, ...]], ...]  # a proposal's heading, and what is said of it
    quiet: str  # which proposals nothing is left to find out for; "" where there are none
    costs: tuple[str, ...]
    groups: tuple[Group, ...]
    lists: tuple[tuple[str, str, tuple[str, ...]], ...]  # what no sheet answers: a heading, a sentence, and what it is


def sheet_of(survey: Survey) -> Sheet:
    """Put a survey into the sentences of its sheet."""
    quiet = _quiet(survey)
    costs = sorted({ask.cost for ask in survey.asks}, key=lambda cost: cost.weight)
    return Sheet(
        title=f"What to find out next: {survey.object}",
        as_at=f"As at {day_in_words(survey.on)}.",
        nothing_open=NOTHING_OPEN if survey.nothing_open else "",
        cautions=tuple(_cautions(one for one in survey.cautions if not one.open)),
        may_apply=tuple(_cautions(one for one in survey.cautions if one.open)),
        about=tuple((full(one.title), tuple(_about(one))) for one in survey.about if one.proposal not in quiet),
        quiet=f"Nothing is left to find out for {listed(quiet)}." if quiet and not survey.nothing_open else "",
        costs=tuple(f"{capital(plain(cost.id))}: {full(cost.means)}" for cost in costs),
        groups=tuple(
            Group(f"{capital(one.name)} ({one.component})", tuple(line_of(ask) for ask in one.asks))
            for one in rounds(survey)
        ),
        lists=(
            (PROPOSER, "", tuple(told_says(one) for one in survey.proposer)),
            (REPORTS, "No measurement of your own answers these.", tuple(told_says(one) for one in survey.reports)),
            (ELSEWHERE, "", tuple(told_says(one) for one in survey.elsewhere)),
            (IDLE, "Whatever they turn out to be, no verdict here would change.", tuple(_idle(survey.idle))),
        ),
    )


def _cautions(cautions: Iterable[Caution]) -> Iterator[str]:
    """Each caution; one that is the same of several components is told once, and names them."""
    found: dict[str, dict[str, Caution]] = {}
    for one in cautions:
        name = the(one.name)
        alike = one.says.replace(name, _PART).replace(capital(name), capital(_PART))
        found.setdefault(alike, {}).setdefault(one.component, one)
    for alike, of in found.items():
        first, *more = of.values()
        told = f"{alike} So for: {_names(one.name for one in of.values())}."
        yield told if more and _PART in alike.lower() else first.says


def _names(names: Iterable[str]) -> str:
    """Names in a row; one that several have is told once, with how many have it."""
    found: dict[str, int] = {}
    for name in names:
        found[name] = found.get(name, 0) + 1
    return listed(name if number == 1 else f"{name} ({number} of them)" for name, number in found.items())


def _about(one: About) -> Iterator[str]:
    yield f"{capital(one.verdict)} ({one.option})."
    yield from (said for reach in one.reaches for said in reach.says)
    yield from (f"To answer in proposals/{one.proposal}.yaml: {said}" for said in one.to_answer)


def _quiet(survey: Survey) -> tuple[str, ...]:
    """The proposals for which nothing is asked and nothing is to be answered."""
    asked: tuple[Ask | Told, ...] = (*survey.asks, *survey.proposer, *survey.elsewhere, *survey.reports)
    served = {each.proposal for one in asked for each in one.serves}
    return tuple(one.proposal for one in survey.about if one.proposal not in served and not one.to_answer)


def told_says(one: Told) -> str:
    """A question that somebody else answers, where it is written, and what it settles."""
    return f"{one.question} Write it in {one.file}. {serves_says(one.serves)}"


def _idle(idle: Iterable[Idle]) -> Iterator[str]:
    found: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for one in idle:
        found.setdefault(one.slot[:2], (one.thing, []))[1].append(one.word)
    alike: dict[tuple[str, str], list[str]] = {}
    for (component, where), (thing, words) in found.items():
        alike.setdefault((thing, ", ".join(dict.fromkeys(words))), []).append(component if where else "")
    for (thing, told), of in alike.items():
        on = listed(filter(None, of))
        yield f"{thing} ({on}): {told}." if on else f"{_names([thing] * len(of))}: {told}."


# ---- one question ---------------------------------------------------------------------------------------


def line_of(ask: Ask) -> Line:
    """One question in words, with the cells of its row."""
    does, precise = serves_says(ask.serves), _precise(ask)
    how = _how(ask)
    told = {
        "component": ask.component,
        "where": ask.where,
        "term": ask.term,
        "question": " ".join(filter(None, (ask.question, how, precise))),
        "cost": ask.cost.id,
        "unit": ask.unit,
        "note": does,
    }
    return Line(
        place=ask.place,
        question=ask.question,
        term=ask.term,
        where=ask.where,
        cost=plain(ask.cost.id),
        does=does,
        precise=precise,
        how=how,
        ticks=(*ask.values, "none") if ask.many else ask.values,
        tip=how if ask.values == _EMPTY else "Tick any that are so, or none." if ask.many else "",
        unit=ask.unit,
        cells={column: harmless(told.get(column, "")) for column in COLUMNS},
    )


def harmless(cell: str) -> str:
    """A cell on one line that no spreadsheet runs."""
    line = " ".join(cell.split())
    return f"'{line}" if runs(line) else line


def _how(ask: Ask) -> str:
    if ask.values == _EMPTY:
        return f"Write none if there are none; if there are some, write them in {ask.file}."
    if ask.many:
        return f"Any of: {', '.join(ask.values)}; with a ; between them, or none."
    return f"One of: {', '.join(ask.values)}." if ask.values else ""


def _precise(ask: Ask) -> str:
    """How closely a number must be known, where the question does not say so already."""
    said = dict.fromkeys(one for each in ask.serves for one in each.precise)
    return " ".join(full(capital(one)) for one in said if one.rpartition("within ")[2] not in ask.question)


def serves_says(serves: tuple[Serves, ...]) -> str:
    """How much an answer settles on average, and which answer would settle everything."""
    of = sum(one.of for one in serves)
    if of == 1:
        settles = "It is the only open question"
    else:
        settles = f"It settles {settled_by(serves):.2g} of {of} open questions on average"
    alone = [f"{_answers(one.alone)} would settle everything" for one in serves if one.alone and of > 1]
    told = "; ".join((settles, *dict.fromkeys(alone)))
    return f"{told}. For {listed(one.proposal for one in serves)}."


def _answers(alone: tuple[str, ...]) -> str:
    if alone == (ANY,):
        return ANY
    if alone[0].startswith("such as "):
        return f"some answers, {alone[0]},"
    more = ("and others",) if len(alone) > _MOST_ALONE else ()
    return f"{'one answer' if len(alone) == 1 else 'some answers'} ({'; '.join((*alone[:_MOST_ALONE], *more))})"
