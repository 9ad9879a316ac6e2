"""Tell what bringing a spreadsheet in comes to: on a screen and in JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from conserve.cli.showing import as_json, counted, in_colour, wrapped
from conserve.problem import show

if TYPE_CHECKING:
    from conserve.cli.reading import Place
    from conserve.problem import Location, Problem
    from conserve.tables import Changes, Saying
    from conserve.tables.writing import Text

MOST_TOLD = 12  # lines of a list on a screen; --json has them all


@dataclass(frozen=True, slots=True)
class Found:
    """What a spreadsheet comes to."""

    changes: Changes
    texts: tuple[Text, ...]  # the files that would be written
    remarks: tuple[str, ...]
    clashes: tuple[Problem, ...]  # what is told otherwise than is written


def told(found: Found, place: Place, written: bool, blocked: bool) -> str:
    """What would change, or has changed, for people."""
    return "\n".join(_lines(found, place, written, blocked))


def _lines(found: Found, place: Place, written: bool, blocked: bool) -> Iterator[str]:
    changes = found.changes
    parts = (f"{name}: {_name(said)}, {counted(len(said), 'fact')}" for name, said in changes.parts.items())
    yield from _listed("New components", parts)
    yield from _listed("New facts of what is there, for a survey sheet", map(_said, changes.facts))
    yield from _listed("New lines in components' files", map(_said, changes.lines))
    if found.clashes:
        yield in_colour(f"Told otherwise than is written ({len(found.clashes)})", "strong")
        yield from (show(one, None) for one in found.clashes)
    yield f"Told as it is written: {counted(changes.unchanged, 'fact')}."
    yield from (wrapped(remark) for remark in found.remarks)
    yield _last(found, place, written, blocked)


def _listed(title: str, lines: Iterable[str]) -> Iterator[str]:
    every = list(lines)
    if every:
        yield in_colour(f"{title} ({len(every)})", "strong")
        yield from (f"  {line}" for line in every[:MOST_TOLD])
        if len(every) > MOST_TOLD:
            yield f"  And {len(every) - MOST_TOLD} more; --json has them all."


def _last(found: Found, place: Place, written: bool, blocked: bool) -> str:
    if blocked:
        return "Nothing is written: what is told otherwise wants an answer first."
    if not found.texts:
        kept = " What is told otherwise is left as it is written." if found.clashes else ""
        return f"There is nothing to take in.{kept}"
    names = ", ".join(f"{place.shown}/{text.name}" for text in found.texts[:4])
    more = f" and {len(found.texts) - 4} more" if len(found.texts) > 4 else ""
    if written:
        return f"{counted(len(found.texts), 'file')} written: {names}{more}."
    return f"Nothing is written yet. With --write: {names}{more}."


def _name(said: Iterable[Saying]) -> str:
    return next((one.text for one in said if one.target.kind == "component" and one.target.key == "name"), "")


def _said(one: Saying) -> str:
    text = one.text if len(one.text) <= 60 else f"{one.text[:59]}…"
    return f"{one.component}: {one.target} {text} ({_at(one.where)})"


def _at(where: Location) -> str:
    return where.at if where.at.startswith("sheet") else f"line {where.line}, {where.at}"


# ---- for programs --------------------------------------------------------------------------------------


def as_data(found: Found, place: Place, written: bool) -> str:
    """The same as JSON."""
    changes = found.changes
    return as_json(
        {
            "written": written,
            "files": [f"{place.shown}/{text.name}" for text in found.texts],
            "new_components": {name: list(map(_data, said)) for name, said in changes.parts.items()},
            "new_facts": list(map(_data, changes.facts)),
            "new_lines": list(map(_data, changes.lines)),
            "changed": [{**_data(one.saying), "was": one.was, "written_at": str(one.at)} for one in changes.changed],
            "unchanged": changes.unchanged,
            "remarks": list(found.remarks),
        }
    )


def _data(one: Saying) -> dict[str, object]:
    return {
        "component": one.component,
        "path": str(one.target),
        "says": one.text,
        "by": one.by,
        "on": one.on.isoformat() if one.on else None,
        "instrument": one.instrument,
        "cell": {**one.where._asdict()},
    }
