"""What the object is, how it came to be as it is, and what it is worth keeping for."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.casebook import Component
from conserve.casebook.agreeing import agreed
from conserve.casebook.model import Facts
from conserve.explanation import full, value_in_words
from conserve.explanation.words import dated
from conserve.statement.alike import alike, all_named
from conserve.statement.given import Given, behind, file_of, items, prose, row
from conserve.statement.model import Block, Grid, Prose, Row, Section

GAP = "Nobody has written this."
_LOOKED_AT = "examined"  # told as condition, not as history


def known(facts: Facts, term: str) -> str:
    """A fact in words; "" where it is not known."""
    found = agreed(facts.get(term, ()))
    if found.disputed:
        return "told in several ways that disagree"
    return "" if found.values is None else value_in_words(found.values)


def identity(given: Given) -> Section:
    """Who owns it, where it stands, who made it."""
    it = given.casebook.object
    told = (
        ("name", "Name", it.name),
        ("kind", "Kind", known(it.facts, "object.kind")),
        ("maker", "Maker", it.maker),
        ("number", "Number of the maker or of a register", it.number),
        ("owner", "Owner", it.owner),
        ("place", "Where it stands", it.location),
        ("rarity", "How many of its kind are left", known(it.facts, "object.rarity")),
        ("consent", "Consent that work on it needs", known(it.facts, "object.consent")),
        ("state-shown", "State that is shown", known(it.facts, "object.state_shown")),
        ("parts", "Parts written down", str(len(given.casebook.components))),
    )
    files = (given.object_file, *behind(it.facts))
    parts = tuple(file_of(part.where) for part in given.casebook.components.values())
    rows = tuple(
        row(name, (title, said or GAP), (*files, *parts) if name == "parts" else files) for name, title, said in told
    )
    return Section("identity", "What it is", (Grid("identity", "The object", ("what", "as written"), rows),))


# ---- history -------------------------------------------------------------------------------------------


def history(given: Given) -> Section:
    """The phases of its life, and each event of its parts that somebody has dated."""
    return Section("history", "How it came to be as it is", tuple(_history(given)))


def _history(given: Given) -> Iterator[Block]:
    phases = given.casebook.object.phases
    if phases:
        rows = tuple(
            row(p.id, (p.id, p.dates or GAP, p.period, full(p.says) if p.says else GAP), given.object_file)
            for p in phases.values()
        )
        yield Grid("phases", "Phases of its life", ("phase", "dates", "period", "what it was"), rows)
    else:
        yield prose("no-phases", "Nobody has written the phases of its life.", given.object_file)
    events = tuple(_events(given))
    if events:
        yield Grid("events", "What happened to its parts", ("when", "part", "what"), events)
    silent = [part for part in given.casebook.components.values() if part.history is None]
    if silent:
        says = f"Nobody has written a history of: {all_named(silent, given.casebook)}."
        yield prose("no-history", says, *(group.files for group in alike(silent, lambda _: "", given.casebook)))


def _events(given: Given) -> Iterator[Row]:
    parts = given.casebook.components.values()
    found: dict[tuple[str, bool, str], list[Component]] = {}
    for part in parts:
        for event in part.history or ():
            if event.kind != _LOOKED_AT:
                day = dated(event.on, event.year_only)
                found.setdefault((day, event.kind == "done-against-advice", event.says), []).append(part)
    number: dict[str, int] = {}
    for (day, against, says), of in sorted(found.items(), key=lambda each: (each[0], each[1][0].id)):
        name = f"{day}-{min(part.id for part in of)}"
        number[name] = number.get(name, 0) + 1
        files = [file for group in alike(of, lambda _: "", given.casebook) for file in group.files]
        said = f"{'Done against advice: ' if against else ''}{full(says)}"
        named = all_named(of, given.casebook)
        yield row(name if number[name] == 1 else f"{name}-{number[name]}", (day, named, said), files)


# ---- significance ----------------------------------------------------------------------------------------


def significance(given: Given) -> Section:
    """What the object is worth keeping for, then each part with its grade and the reason for it."""
    return Section("significance", "Why it matters", tuple(_significance(given)))


def _significance(given: Given) -> Iterator[Block]:
    it, casebook = given.casebook.object, given.casebook
    says = full(it.significance) if it.significance else "Nobody has written why the object as a whole matters."
    yield prose("object", says, given.object_file)
    grades = given.rulebook.vocabulary.terms["component.significance"].values
    order = {value_in_words((grade,)): at for at, grade in enumerate(grades)}
    groups = alike(casebook.components.values(), lambda p: (_grade(p), p.significance_reason), casebook)
    graded = sorted((g for g in groups if g.told[0]), key=lambda g: (order.get(g.told[0], len(order)), g.id))
    if graded:
        rows = tuple(
            row(g.id, (g.name, g.told[0], full(g.told[1]) if g.told[1] else "Nobody has written why."), g.files)
            for g in graded
        )
        yield Grid("grades", "Its parts, the gravest grade first", ("part", "grade", "why"), rows)
    yield from items("ungraded", (_ungraded(g.id, g.name, g.files) for g in groups if not g.told[0]))


def _grade(part: Component) -> str:
    return known(part.facts, "component.significance")


def _ungraded(name: str, words: str, files: tuple[str, ...]) -> Prose:
    return prose(name, f"Nobody has said how much this matters: {words}.", files)
