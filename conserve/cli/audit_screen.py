"""An audit on a screen: what a person needs to see at once; a report tells all of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.reading import shown_path
from conserve.cli.showing import in_colour, wrapped

if TYPE_CHECKING:
    from conserve.audit.model import Audit, DecisionAudit, Point

_FEW = 3  # of a kind that are told on a screen
_COLOURS = {"yes": "good", "no": "bad", "cannot tell": "doubt"}


def in_words(audit: Audit, more: Sequence[str], target: Path | None) -> Iterator[str]:
    """Points, what else was asked, figures, and where the report is; of one decision, each answer too."""
    from conserve.audit.report import seals, summary

    yield in_colour(f"{audit.name}, as on {audit.on}", "strong")
    yield wrapped(summary(audit))
    yield from points_in_words(audit.points)
    if len(audit.decisions) == 1:
        yield from _answers(audit.decisions[0])
    if more:
        yield ""
        yield from (wrapped(line, "    ", "") for line in more)
    yield ""
    shown = ((name, count) for name, count in audit.figures.items() if not name.startswith("points: "))
    yield from (f"{count:>8}  {name}" for name, count in shown)
    yield wrapped(f"Seals: {seals(audit)}.")
    yield wrapped("It certifies nothing.")
    if target is None:
        yield "For all of it: --out FILE, ending in .md, .html or .json"
    else:
        yield f"The report is written: {shown_path(target)}"


def points_in_words(points: Iterable[Point]) -> Iterator[str]:
    """Points that are sorted by gravity, a few of each kind."""
    from conserve.audit.report_many import by_kind, in_words

    for kind, some in by_kind(points):
        yield in_colour(f"{str(kind)[:1].upper()}{str(kind)[1:]} ({len(some)})", "bad" if kind.alters else "doubt")
        yield from (wrapped(in_words(point), "    ", "  - ") for point in some[:_FEW])
        if len(some) > _FEW:
            yield f"    And {len(some) - _FEW} more."


def _answers(one: DecisionAudit) -> Iterator[str]:
    from conserve.audit.report import in_a_word

    yield f"\n{in_colour(f'{one.proposal}: {one.title}', 'strong')}"
    for answer in one.answers:
        if answer.truth is None:
            continue
        said = in_a_word(answer.truth)
        yield f"  {answer.asked} {in_colour(said, _COLOURS[said])}"
        yield wrapped(answer.says, "      ")
