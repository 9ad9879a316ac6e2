"""Read what comes before what in the shop, from `rules/sequence.yaml`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from conserve.files import Folder
from conserve.problem import Location, Problem, nearest
from conserve.rule import Stage
from conserve.rulebook import Rulebook
from conserve.shape import Field, Line, ListOf, Problems, Record, Value, Words
from conserve.sheet.order import Circle, Edge, in_order
from conserve.yamlfile import read_yaml

FILE = "sequence.yaml"
ITS_ACT, MEASURING = "its-act", "measuring"
ACTS = ("coating", "covering", "cutting", "heating", "fitting", "closing")  # by what they do

_BEFORE = Record(
    (
        Field("first", ListOf(Line()), required=True),
        Field("then", ListOf(Line()), required=True),
        Field("because", Words(), required=True),
        Field("source", Line(), required=True),
    )
)
_SEQUENCE = Record((Field("before", ListOf(_BEFORE), required=True),))


@dataclass(frozen=True, slots=True)
class Before:
    """One thing before another, as the file names them, why, and where the practice is described."""

    first: str
    then: str
    because: str
    source: str
    where: Location


def read_sequence(folder: Folder, rulebook: Rulebook) -> tuple[tuple[Before, ...], tuple[Problem, ...]]:
    """Read what comes before what of a rules folder, or say all that is wrong with it. Without the file, nothing does.

    R059: a name that is nothing, or a source that is not there. R060: two acts, or a circle.
    """
    if FILE not in folder.names("", ".yaml"):
        return (), ()
    into = Problems("R")
    node, problems = read_yaml(folder, FILE, "R", shown=f"rules/{FILE}")
    into.extend(problems)
    value = None if node is None else _SEQUENCE.read(node, into)
    said = value.content["before"].content if value else ()
    found = tuple(before for one in said for before in _befores(one, rulebook, into))
    _check_circle(found, into)
    return (found if not into.all else ()), into.all


def _befores(one: Value, rulebook: Rulebook, into: Problems) -> Iterator[Before]:
    said = one.content
    source = said["source"].content
    if source not in rulebook.sources:
        into.note(said["source"].where, 59, f"there is no source '{source}'", "name one of rules/sources.yaml")
    for first in said["first"].content:
        for then in said["then"].content:
            if _are_acts(first.content, then.content):
                hint = "name the work of a rule, or 'measuring', on one side"
                into.note(then.where, 60, "two acts stand in the order in which an option lists them", hint)
            yield Before(first.content, then.content, said["because"].content.strip(), source, then.where)
    known = _known(rulebook)
    for name in (*said["first"].content, *said["then"].content):
        if name.content not in known:
            like = nearest(name.content, known)
            into.note(name.where, 59, f"'{name.content}' is nothing that stands on a sheet", _meant(like))


def _are_acts(*names: str) -> bool:
    return all(name in (*ACTS, ITS_ACT) for name in names)


def _meant(like: str | None) -> str:
    return f"did you mean '{like}'?" if like else "name a rule, a principle with /*, a stage, or an act by what it does"


def _known(rulebook: Rulebook) -> tuple[str, ...]:
    rules = [rule.id for rule in rulebook.rules]
    principles = dict.fromkeys(f"{rule.principle}/*" for rule in rulebook.rules)
    return (*rules, *principles, *Stage, MEASURING, ITS_ACT, *ACTS)


def _check_circle(found: Iterable[Before], into: Problems) -> None:
    """What names two things by themselves may not go round; how a sheet's own lines go is seen when it is made."""
    alone = [one for one in found if "*" not in f"{one.first}{one.then}" and one.then not in (*ACTS, ITS_ACT)]
    names = dict.fromkeys(name for one in alone for name in (one.first, one.then))
    order = in_order(dict.fromkeys(names, (0,)), [Edge(one.first, one.then, one.because) for one in alone])
    if isinstance(order, Circle):
        last = order.edges[-1]
        where = next(one.where for one in alone if (one.first, one.then) == (last.first, last.then))
        told = " > ".join((*(edge.first for edge in order.edges), last.then))
        into.note(where, 60, f"these come before one another in a circle: {told}")
