"""The published sources behind the decisions, and the evidence with who may see it."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.casebook import Evidence
from conserve.casebook.model import Audience
from conserve.explanation import full, listed, plain
from conserve.rule import COMMON_PRACTICE, Citation
from conserve.statement.given import Given, file_of, items, prose, row, rule_named, withheld
from conserve.statement.model import Block, Grid, Prose, Row, Section

_READ = {"yes": "read", "in part": "read in part", "no": "cited from memory"}
_EVIDENCE = ("id", "kind", "date", "by", "what it shows", "grade", "who may see it")
GRADES = (
    "A grade tells how near a piece of evidence comes to the form that was there. A: the part itself, or its pair on "
    "this object. B: a drawing, pattern or specification made for this object. C: a dated picture or record of it. D: "
    "another of its type by the same maker, seen. E: things or trade papers of a like kind. F: memory or taste. Only "
    "evidence for a form that is to be made again needs a grade; '–' says that nobody has given one."
)
_WITHHELD = {
    Audience.NOBODY: "not shown, as its keeper asks",
    None: "not shown, for nobody has said who may see it",
}


def sources(given: Given, rules: frozenset[str]) -> Section:
    """Sources of the rules that the statement names (`rules`), and all evidence that is registered."""
    return Section("sources", "Sources and evidence", tuple(_sources(given, rules)))


def _sources(given: Given, rules: frozenset[str]) -> Iterator[Block]:
    published = tuple(_published(given, rules))
    if published:
        head = ("source", "edition and publisher", "clauses, and how each was read", "rules that rest on it")
        yield Grid("published", "Published sources", head, published)
    bare = sorted(name for name in rules if {c.source for c in _cited(given, name)} == {COMMON_PRACTICE})
    if bare:
        says = f"Rules of common practice, with no published source: {listed(bare)}."
        yield prose("common-practice", says, *(rule_named(name) for name in bare))
    evidence = sorted(given.casebook.evidence.values(), key=lambda item: (item.on, item.id))
    shown = tuple(_evidence(item) for item in evidence if not withheld(item))
    if any(item.grade for item in evidence if not withheld(item)):
        yield prose("grades", GRADES)
    if shown:
        yield Grid("evidence", "Evidence", _EVIDENCE, shown)
    yield from items("not-shown", (_not_shown(item) for item in evidence if withheld(item)))
    if not evidence:
        yield prose("no-evidence", "No evidence is registered.", given.object_file)


def _cited(given: Given, rule: str) -> tuple[Citation, ...]:
    found = given.rulebook.rule(rule)
    assert found is not None
    return found.sources


def _published(given: Given, rules: frozenset[str]) -> Iterator[Row]:
    uses: dict[str, dict[str, set[str]]] = {}
    for name in rules:
        for cited in _cited(given, name):
            if cited.source != COMMON_PRACTICE:
                uses.setdefault(cited.source, {}).setdefault(cited.clause, set()).add(name)
    for source, clauses in sorted(uses.items()):
        it = given.rulebook.sources[source]
        told = "; ".join(f"{clause} ({_READ[it.gists[clause][1]]})" for clause in sorted(clauses))
        names = sorted({name for of in clauses.values() for name in of})
        edition = ", ".join(filter(None, (it.edition, it.publisher))) or "not written"
        yield row(source, (it.title, edition, told, listed(names)), (rule_named(name) for name in names))


def _evidence(item: Evidence) -> Row:
    shows = f"{full(item.shows)}{f' Kept: {item.held}.' if item.held else ''}"
    sees, graded = plain(str(item.show)), item.grade.upper() or "–"
    cells = (item.id, plain(item.kind), item.on.isoformat(), item.by, shows, graded, sees)
    return row(item.id, cells, file_of(item.where))


def _not_shown(item: Evidence) -> Prose:
    """Of what is shown to nobody, its id and its kind alone."""
    return prose(item.id, f"{item.id} ({plain(item.kind)}): {_WITHHELD[item.show]}.", file_of(item.where))
