"""The workshop sheet: cautions first, then what must be in hand before, during and after the work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from conserve.explanation import capital, day_in_words, full, the
from conserve.explanation.sentences import STAGES
from conserve.rule import Stage
from conserve.rulebook import Rulebook
from conserve.sheet.edges import PHASES, WITH_ITS_ACT, WORK, edges_of, place_of, told, within_its_act
from conserve.sheet.lines import lines_of
from conserve.sheet.model import Done, Kind, Line, Placed, Section, Sheet
from conserve.sheet.order import Circle, Edge, earliest, in_order
from conserve.sheet.people import who
from conserve.sheet.sequence import ACTS, Before, read_sequence
from conserve.sheet.stops import cautions, not_to_do, passed_unsigned, stops, superseded_by
from conserve.sheet.together import merged
from conserve.weighing.model import Verdict, Weighing

_TITLES = {
    0: capital(STAGES[Stage.DECISION]),
    1: capital(STAGES[Stage.BEFORE_WORK]),
    WORK: "The work",
    3: capital(STAGES[Stage.AFTER_WORK]),
    4: capital(STAGES[Stage.BEFORE_USE]),
}


def sheet_of(weighing: Weighing, rulebook: Rulebook, sequence: Iterable[Before] = ()) -> Sheet:
    """Put one proposal on a sheet. Like parts stand on it together.

    The work itself stands on it only where the weighing lets it stand: of any other, what must be in hand first.
    """
    chosen = weighing.worst.option(weighing.chosen)
    every = merged((part.component.id, tuple(lines_of(weighing, part, rulebook.vocabulary))) for part in weighing.parts)
    wanted = tuple(line for line in every if _is_wanted(line, weighing))
    befores, option, words = tuple(sequence), chosen.option, rulebook.vocabulary
    within = {line.key: within_its_act(line, befores, option, words) for line in wanted}
    found = _placed(wanted, edges_of(wanted, befores, option, words), within)
    circle = found if isinstance(found, Circle) else None
    holds, may_hold = cautions(weighing)
    return Sheet(
        proposal=weighing.proposal.id,
        title=weighing.proposal.title,
        object=weighing.casebook.object.name,
        parts=tuple(dict.fromkeys(capital(part.component.name) for part in weighing.parts)),
        components=weighing.proposal.components,
        as_at=f"As at {day_in_words(weighing.on)}.",
        option=weighing.chosen,
        does=_does(weighing),
        stop=(*_circle_says(circle, wanted), *stops(weighing), *passed_unsigned(weighing, wanted)),
        not_to_do=not_to_do(weighing),
        cautions=holds,
        may_apply=may_hold,
        who=tuple(filter(None, who(weighing, chosen))),
        sections=() if isinstance(found, Circle) else found,
        left_out=_left_out(weighing, circle),
        strays=tuple(_strays(weighing, every)),
    )


def _does(weighing: Weighing) -> str:
    option = weighing.worst.option(weighing.chosen).option
    if not option.says:
        return "" if option.acts else f"Leave {the(weighing.worst.component.name)} as it is."
    yet = "" if weighing.verdict.stands else "Proposed, and not to be done yet: "
    return f"{yet}{full(option.says)}"


# ---- which lines ---------------------------------------------------------------------------------------


def _is_wanted(line: Line, weighing: Weighing) -> bool:
    """Not what was answered when it was decided; and of work that does not stand, only what must be in hand first."""
    if line.stage is Stage.DECISION and line.done:
        return False
    if weighing.verdict.stands:
        return not superseded_by(weighing) or line.done is not None
    early = PHASES[line.stage] < WORK and weighing.verdict is not Verdict.NOT_JUSTIFIED
    return line.kind is not Kind.ACT and (early or line.done is not None)


def _left_out(weighing: Weighing, circle: Circle | None) -> str:
    if circle is not None:
        return "No line is printed until the order is settled."
    if superseded_by(weighing):
        return "The work is not printed here; it stands on the other sheet."
    if weighing.verdict is Verdict.NOT_JUSTIFIED:
        return f"The work is not printed, for it is not justified. More: conserve why {weighing.proposal.id}"
    if not weighing.verdict.stands:
        return f"The work is not printed until that is settled. More: conserve survey {weighing.proposal.id}"
    return ""


def _strays(weighing: Weighing, lines: tuple[Line, ...]) -> Iterator[str]:
    """Ticks that belong to no line of this option."""
    asked = {line.id for line in lines}
    for met in weighing.proposal.work.met if weighing.proposal.work else ():
        if met.requirement not in asked:
            yield f"{met.requirement} was ticked on {met.on}, and is not asked of '{weighing.chosen}'."


# ---- in their order ------------------------------------------------------------------------------------


def _placed(lines: tuple[Line, ...], edges: Iterable[Edge], within: Mapping[str, str]) -> tuple[Section, ...] | Circle:
    """The lines under their headings. A line that something in the work waits for stands in the work."""
    by_key = {line.key: line for line in lines}
    places = {line.key: place_of(line) for line in lines}
    kept = tuple(edges)
    order = in_order(places, kept)
    if isinstance(order, Circle):
        return order
    phases = {key: int(place[0]) for key, place in earliest(places, kept, order).items()}
    placed = {key: Placed(by_key[key], tuple(_because(key, by_key, kept, within))) for key in order}
    return tuple(
        Section(title, tuple(placed[key] for key in order if phases[key] == phase))
        for phase, title in _TITLES.items()
        if any(phases[key] == phase for key in order)
    )


def _because(key: str, lines: Mapping[str, Line], edges: tuple[Edge, ...], within: Mapping[str, str]) -> Iterator[str]:
    """Why a line that comes after one act stands before a later one, or goes into the midst of its own."""
    line = lines[key]
    if line.kind is Kind.ACT or PHASES[line.stage] < WORK:
        return
    if within[key]:
        yield within[key]
    found = {
        (lines[edge.then].act, edge.because)
        for edge in edges
        if edge.first == key and lines[edge.then].kind is Kind.ACT and edge.because != WITH_ITS_ACT
    }
    yield from (f"Before act {act}: {why}." for act, why in sorted(found) if act > line.act > 0)


def _circle_says(circle: Circle | None, lines: tuple[Line, ...]) -> Iterator[str]:
    if circle is not None:
        by_key = {line.key: line for line in lines}
        each = "; ".join(told(edge, by_key) for edge in circle.edges)
        yield f"Not to be started: the order of these cannot be kept. {full(each)}"


__all__ = [
    "ACTS",
    "Before",
    "Done",
    "Kind",
    "Line",
    "Placed",
    "Section",
    "Sheet",
    "read_sequence",
    "sheet_of",
]
