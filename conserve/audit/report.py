"""The audit of one casebook as a document: what needs a person's eyes first, the figures, then each decision."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from conserve.audit.many import POINTS
from conserve.audit.model import Asked, Audit, DecisionAudit
from conserve.audit.report_many import by_kind, in_words
from conserve.explanation import capital, full, listed
from conserve.statement.model import Block, Document, Figure, Grid, Items, Prose, Row, Section
from conserve.truth import Truth

_NO_PROOF = (
    "An audit certifies nothing. It says what was changed, what cannot be shown and what does not fit, never that a "
    "decision was right, or that anything is safe, fit or lawful."
)
_BLIND = "It cannot see what was changed before a decision was first sealed, nor whether what was written was true."
_ALONE = (
    "Seals by themselves do not show when they were made: whoever keeps the casebook could have written all of them "
    "anew, and dated them as they like. Only a code that left the house before shows that: on a printed statement, on "
    "a sheet on file, in a bundle that was sent, in a letter."
)
_ANSWERS = {Truth.YES: "yes", Truth.NO: "no", Truth.UNKNOWN: "cannot tell", None: "does not arise"}


def report(audit: Audit, more: Iterable[Section] = ()) -> Document:
    """A document that is told as Markdown or as a page. `more` are sections on what else was asked, after the figures.

    What is out of line, a sample for review and a change of rules are such sections.
    """
    return Document(
        title=f"Audit: {audit.name}",
        front=(
            ("object", audit.name),
            ("casebook", audit.casebook),
            ("as on", audit.on.isoformat()),
            ("seals", seals(audit)),
            ("rules", audit.rulebook),
            ("weighed by", listed(audit.engines)),
            ("version", audit.version),
        ),
        cautions=(_NO_PROOF, _BLIND, _ALONE, *_code(audit)),
        sections=tuple(_sections(audit, more)),
        sources={},
    )


def seals(audit: Audit) -> str:
    """How many entries the chain has, and its code; or why there is none."""
    if not audit.entries:
        return "none"
    number = "1 entry" if audit.entries == 1 else f"{audit.entries} entries"
    said = f"{number}, with the code {audit.witness}" if audit.witness else f"{number} that can be read, and no code"
    if not audit.witnessed:
        return said
    known = listed(f"entry {one}" for one in audit.witnessed)
    return f"{said}; codes from outside are those of {known}, and up to there the chain is as it was then"


def _code(audit: Audit) -> Iterator[str]:
    if audit.witness:
        yield f"Today the code is {audit.witness}. Write it down where nobody here can alter it."
    elif audit.entries:
        yield "Today there is no code, for the chain is not whole."
    else:
        yield "Nothing is sealed here, so that nobody can show what was changed since a decision was made."


def _sections(audit: Audit, more: Iterable[Section]) -> Iterator[Section]:
    yield from _eyes(audit)
    yield Section("figures", "Figures", tuple(_figures(audit)))
    yield from map(without_sources, more)
    yield Section("decisions", "Each decision", tuple(_list_of(audit)))
    for one in audit.decisions:
        yield Section(f"decision-{one.proposal}", f"{one.proposal}: {one.title}", tuple(_told(one)), level=3)


# ---- what needs a person's eyes ----------------------------------------------------------------------------------


def _eyes(audit: Audit) -> Iterator[Section]:
    """A line for all of it, then a section for each kind, the most serious first."""
    yield Section("eyes", "What needs a person's eyes", (Prose("all", summary(audit), ()),))
    for number, (kind, some) in enumerate(by_kind(audit.points), 1):
        items = tuple(Prose(str(at), in_words(point), ()) for at, point in enumerate(some, 1))
        yield Section(f"eyes-{number}", f"{capital(kind)} ({len(some)})", (Items("points", items),), level=3)


def summary(audit: Audit) -> str:
    """How much there is to look at, and how much of it was changed, in a sentence or two."""
    altered = sum(point.kind.alters for point in audit.points)
    rest = len(audit.points) - altered
    if altered:
        verb = "was changed, or comes out otherwise than it was sealed" if altered == 1 else _CHANGED
        said = f"{_things(altered)} {verb}."
    elif audit.entries:
        said = "Nothing was found to be changed since it was sealed."
    else:
        said = "Nothing is sealed, so that nobody can tell what was changed."
    if not rest:
        return said if altered else f"{said} Nothing else was found that needs a person's eyes."
    return f"{said} {_things(rest)}{' more' if altered else ''} {'needs' if rest == 1 else 'need'} somebody to look."


_CHANGED = "were changed, or come out otherwise than they were sealed"


def _things(number: int) -> str:
    return "1 thing" if number == 1 else f"{number} things"


# ---- figures -----------------------------------------------------------------------------------------------------


def _figures(audit: Audit) -> Iterator[Block]:
    """What is counted, but for points of each kind, which stand above; and how each question was answered."""
    yield Prose("what", "Counted is each proposal that is decided, was begun or was ever sealed.", ())
    told = ((name, count) for name, count in audit.figures.items() if not name.startswith(f"{POINTS}: "))
    yield Items("counted", tuple(Prose(name, f"{count} {name}", ()) for name, count in told))
    if audit.decisions:
        rows = tuple(_answered(asked, audit.decisions) for asked in Asked)
        yield Grid("answered", "How each question was answered", ("question", *_ANSWERS.values()), rows)


def _answered(asked: Asked, decisions: Iterable[DecisionAudit]) -> Row:
    found = [answer.truth for one in decisions for answer in one.answers if answer.asked is asked]
    return Row(_id_of(asked), (str(asked), *(str(found.count(truth)) for truth in _ANSWERS)), ())


def _id_of(asked: Asked) -> str:
    return asked.name.lower().replace("_", "-")


# ---- each decision -----------------------------------------------------------------------------------------------


def _list_of(audit: Audit) -> Iterator[Block]:
    if not audit.decisions:
        yield Prose("none", "Nothing is decided, nothing was begun, and nothing was ever sealed.", ())
        return
    head = ("proposal", "chosen", "today", "sealed in", "answers that are no", "cannot tell", "points")
    yield Grid("all", "All of them, by name", head, tuple(map(_row, audit.decisions)))


def _row(one: DecisionAudit) -> Row:
    answered = [answer.truth for answer in one.answers]
    numbers = (answered.count(Truth.NO), answered.count(Truth.UNKNOWN), len(one.points))
    sealed = f"entry {_numbers(one)}" if one.sealed else "not sealed"
    return Row(one.proposal, (one.proposal, one.chosen, one.verdict, sealed, *map(str, numbers)), ())


def _told(one: DecisionAudit) -> Iterator[Block]:
    yield Prose("what", " ".join(_what(one)), ())
    rows = (
        Row(_id_of(answer.asked), (str(answer.asked), in_a_word(answer.truth), answer.says), ())
        for answer in one.answers
    )
    yield Grid("answers", f"What was asked about {one.proposal}", ("question", "answer", "why"), tuple(rows))


def in_a_word(truth: Truth | None) -> str:
    """An answer in a word or two; None is a question that does not arise."""
    return _ANSWERS[truth]


def _what(one: DecisionAudit) -> Iterator[str]:
    if one.on:
        yield f"'{one.chosen}' was chosen on {one.on} by {one.by.rstrip('.')}. Reason given: {full(one.reason)}"
    elif one.sealed:
        yield f"'{one.chosen}' was chosen by {one.by.rstrip('.')}, and the decision is not in the casebook today."
    else:
        yield "Nobody has decided it."
    yield f"It is sealed in entry {_numbers(one)}." if one.sealed else "It was never sealed."
    if one.verdict:
        yield f"Today '{one.chosen}' is {one.verdict}."
    if one.weighty:
        yield f"It is to be looked at closely: {listed(one.weighty)}."
    if one.notes:
        yield f"Notes about it: {listed(one.notes)}."


def _numbers(one: DecisionAudit) -> str:
    return listed(map(str, one.sealed))


# ---- sections that others make -----------------------------------------------------------------------------------


def without_sources(section: Section) -> Section:
    """A section without what each paragraph was made from, which a report does not tell."""

    def bare(block: Block) -> Block:
        match block:
            case Prose():
                return replace(block, made_from=())
            case Items():
                return replace(block, items=tuple(replace(one, made_from=()) for one in block.items))
            case Grid():
                return replace(block, rows=tuple(replace(one, made_from=()) for one in block.rows))
            case Figure():
                return replace(block, made_from=())

    return replace(section, blocks=tuple(map(bare, section.blocks)))
