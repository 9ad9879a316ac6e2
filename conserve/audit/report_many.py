"""The audit of several casebooks as a document: what needs a person's eyes first, the figures, then each casebook."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from conserve.audit.many import Many, Told
from conserve.audit.model import Kind, Point
from conserve.statement.model import Block, Document, Grid, Items, Prose, Row, Section

_CAUTIONS = (
    "An audit certifies nothing: it says what was changed and what does not fit, never that a decision was right.",
    "A chain by itself cannot show that all of it was not written anew. A code that left the house before can.",
    "Each answer is told in full, with its reason, by the audit of that one casebook.",
)
_HEAD = ("casebook", "object", "decisions", "sealed", "points", "the most serious", "entries and code")


def report_many(many: Many, on: date, version: str, more: Iterable[Section] = ()) -> Document:
    """A document that is told as Markdown or as a page. `more` are sections on decisions out of line and for review."""
    told = len(many.audited) + len(many.broken)
    return Document(
        title=f"Audit of {_count(told, 'casebook')}",
        front=(
            ("as on", on.isoformat()),
            ("audited", _count(len(many.audited), "casebook")),
            ("not audited", _count(len(many.broken), "casebook")),
            ("rules", f"{_count(len(many.rulebooks), 'edition')} in use"),
            ("version", version),
        ),
        cautions=_CAUTIONS,
        sections=tuple(_sections(many, more)),
        sources={},
    )


def _sections(many: Many, more: Iterable[Section]) -> Iterator[Section]:
    yield Section("eyes", "What needs a person's eyes", tuple(_opening(many)))
    for number, (kind, points) in enumerate(by_kind(many.points), 1):
        items = tuple(Prose(str(at), in_words(point), ()) for at, point in enumerate(points, 1))
        title = f"{str(kind)[:1].upper()}{str(kind)[1:]} ({len(points)})"
        yield Section(f"eyes-{number}", title, (Items("points", items),), level=3)
    if many.broken:
        yield Section("broken", "What could not be audited", tuple(_broken(many.broken)))
    rows = tuple(Row(name, (name, str(count)), ()) for name, count in many.figures.items())
    yield Section("figures", "Figures", (Grid("figures", "Of all casebooks together", ("what", "how many"), rows),))
    yield from more
    yield Section("casebooks", "Each casebook", tuple(_casebooks(many)))


def _opening(many: Many) -> Iterator[Block]:
    kinds = ", ".join(f"{kind} ({len(points)})" for kind, points in by_kind(many.points))
    says = f"The most serious first: {kinds}." if kinds else "Nothing was found that does."
    yield Prose("all", says, ())


def by_kind(points: Iterable[Point]) -> tuple[tuple[Kind, tuple[Point, ...]], ...]:
    """Points that are sorted by their gravity, those of a kind together."""
    found: dict[Kind, list[Point]] = {}
    for point in points:
        found.setdefault(point.kind, []).append(point)
    return tuple((kind, tuple(some)) for kind, some in found.items())


def in_words(point: Point) -> str:
    """A point with the casebook, the proposal and the place that it is about."""
    about = ", ".join(filter(None, (point.casebook, point.proposal)))
    where = f" ({point.where})" if point.where else ""
    return f"{about}: {point.says}{where}" if about else f"{point.says}{where}"


def _broken(broken: Iterable[Told]) -> Iterator[Block]:
    yield Prose("why", "Nothing is said here of what stands in these, and no figure counts them.", ())
    for one in broken:
        yield Prose(one.casebook, f"{one.casebook}:", ())
        yield Items(f"{one.casebook}-all", tuple(Prose(str(at), says, ()) for at, says in enumerate(one.broken, 1)))


def _casebooks(many: Many) -> Iterator[Block]:
    if not many.audited:
        yield Prose("none", "None could be audited.", ())
        return
    points: dict[str, list[Point]] = {}
    for point in many.points:
        points.setdefault(point.casebook, []).append(point)
    rows = tuple(_row(one, points.get(one.casebook, [])) for one in many.audited)
    yield Grid("casebooks", "In the order of their names", _HEAD, rows)


def _row(told: Told, points: Sequence[Point]) -> Row:
    """One casebook; `points` are those about it, the most serious first."""
    audit = told.audit
    assert audit is not None
    gravest = str(points[0].kind) if points else "none"
    sealed = sum(bool(one.sealed) for one in audit.decisions)
    code = f"{audit.entries}, {audit.witness}" if audit.witness else f"{audit.entries}, no code"
    numbers = (str(len(audit.decisions)), str(sealed), str(len(points)))
    return Row(told.casebook, (told.casebook, audit.name, *numbers, gravest, code), ())


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
