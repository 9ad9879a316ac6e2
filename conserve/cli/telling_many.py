"""Tell what an audit of several casebooks came to: on a screen, as a report, as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.audit_more import More
from conserve.cli.audit_screen import points_in_words
from conserve.cli.audit_work import Job, Remembered, factors
from conserve.cli.reading import shown_path
from conserve.cli.showing import as_json, counted, in_colour, wrapped
from conserve.files import Folder

if TYPE_CHECKING:
    from conserve.audit.many import Many, Told
    from conserve.audit.model import Point

_FEW = 3  # problems of a broken casebook that are told on a screen
_MOST = 200  # pairs out of line that data tell; of copies of one casebook there may be a million


def tell_many(
    found: Sequence[Told], job: Job, target: Path | None, *, sample: int | None, seed: int, json: bool
) -> Many:
    """Put together what came of each casebook, print it, and write the report into `target` if one is wanted."""
    from conserve.audit.many import together
    from conserve.audit.many_data import many_as_data

    more = More()
    points = _out_of_line(more, together(found), Remembered(Path(job.rules), job.stamp))
    many = together(found, points)
    if sample is not None:
        _sampled(more, many, sample, seed)
    data = as_json({**more.data, **many_as_data(many, job.day, job.version)})
    if target is not None:
        Folder(target.parent).add(target.name, _written(target, data, many, more, job).encode())
    print(data if json else "\n".join(_in_words(many, more, target)))
    return many


def _written(target: Path, data: str, many: Many, more: More, job: Job) -> str:
    if target.suffix == ".json":
        return f"{data}\n"
    from conserve.audit.report_many import report_many
    from conserve.statement import html, markdown

    document = report_many(many, job.day, job.version, more.sections)
    return html(document, {}) if target.suffix == ".html" else markdown(document)


# ---- between casebooks ----------------------------------------------------------------------------------------------


def _out_of_line(more: More, many: Many, rules: Remembered) -> list[Point]:
    """Compare the decisions that are weighed by the same rules, whichever casebook they stand in."""
    from conserve.audit.line_telling import line_data, line_lines, line_section
    from conserve.audit.many import by_rules
    from conserve.audit.out_of_line import out_of_line

    several = len(many.rulebooks) > 1
    points: list[Point] = []
    told: list[dict[str, object]] = []
    for number, (overlays, cases) in enumerate(by_rules(many), 1):
        known = factors(rules, overlays)
        found = out_of_line(cases, known)
        laid = f" (by the rules with {', '.join(overlays) or 'no overlay'})" if several else ""
        section = line_section(found, known)
        points.extend(found.points)
        more.sections.append(replace(section, id=f"{section.id}-{number}", title=f"{section.title}{laid}"))
        more.lines.extend(f"{line}{laid}" for line in line_lines(found))
        some = line_data(replace(found, clashes=found.clashes[:_MOST]), known)
        told.append({**some, "pairs": len(found.clashes), "rulebook": known.rules, "overlays": list(overlays)})
    more.data["out_of_line"] = told
    return points


def _sampled(more: More, many: Many, size: int, seed: int) -> None:
    """Draw decisions from all casebooks together for a person to go through."""
    from conserve.audit.sample_telling import sample_data, sample_lines, sample_section
    from conserve.audit.sampling import draw, lots_of

    found = draw((lots_of(one, name) for name, one in many.decisions), size, seed)
    told = found, seed, size, len(many.decisions)
    more.add("sample", sample_section(*told), sample_data(*told), sample_lines(*told))


# ---- on a screen ----------------------------------------------------------------------------------------------------


def _in_words(many: Many, more: More, target: Path | None) -> Iterator[str]:
    """What a person needs to see at once; a report tells all of it."""
    for one in many.broken:
        yield in_colour(f"{one.casebook} could not be audited:", "bad")
        yield from (wrapped(said, "    ") for said in one.broken[:_FEW])
        if len(one.broken) > _FEW:
            yield f"    And {len(one.broken) - _FEW} more: conserve check tells them all."
    yield from points_in_words(many.points)
    if not many.points:
        yield "Nothing was found that needs a person's eyes."
    yield from (wrapped(line, "    ", "") for line in more.lines)
    yield in_colour(f"{counted(len(many.audited), 'casebook')} audited, {len(many.broken)} not", "strong")
    yield from (f"{number:>8}  {name}" for name, number in many.figures.items() if not name.startswith("points: "))
    yield wrapped("It certifies nothing.")
    if target is None:
        yield "For all of it: --out FILE, ending in .md, .html or .json"
    else:
        yield f"The report is written: {shown_path(target)}"
