"""Where each line of a sheet would stand by itself, and what must come before what, with the reason."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from conserve.casebook import Option
from conserve.rule import Stage
from conserve.sheet.doing import adds, closes
from conserve.sheet.model import Kind, Line
from conserve.sheet.order import Edge, Place
from conserve.sheet.sequence import ACTS, ITS_ACT, MEASURING, Before
from conserve.terms import Technique, Vocabulary

WITH_ITS_ACT = "it goes with the act before"
WORK = 2  # the phase of the acts and of what goes with them
PHASES: Mapping[Stage | None, int] = {
    Stage.DECISION: 0,
    Stage.BEFORE_WORK: 1,
    Stage.DURING_WORK: WORK,
    None: WORK,
    Stage.AFTER_WORK: 3,
    Stage.BEFORE_USE: 4,
}


def place_of(line: Line) -> Place:
    """Where a line would stand by itself: by stage, act, what comes first at its kind, and then by its id."""
    phase = PHASES[line.stage]
    act = line.act if phase == WORK else 0
    first = {Kind.ACT: 0, Kind.REFERRED: 0, Kind.MEASURED: 1, Kind.ASKED: 2}[line.kind]
    safety = _principle(line) == "safety"
    return phase, act, first, line.routine, not safety, line.key


def edges_of(
    lines: tuple[Line, ...], sequence: Iterable[Before], option: Option, vocabulary: Vocabulary
) -> Iterator[Edge]:
    """What comes before what: by the stages and the acts, and by what the shop knows."""
    befores = tuple(sequence)
    acts = {line.act: line for line in lines if line.kind is Kind.ACT}
    numbers = sorted(acts)
    for before, after in pairwise(numbers):
        yield Edge(acts[before].key, acts[after].key, "the acts stand in this order")
    early = {line.key for line in lines if _comes_before_its_act(line, befores)}
    for line in lines:
        if acts and line.kind is not Kind.ACT:
            yield from _by_stage(line, acts, line.key in early)
    kinds = {act.number: vocabulary.techniques[act.technique] for act in option.acts}
    yield from (edge for before in befores for edge in _by_the_shop(before, lines, kinds))


_SHUTS = {
    "fitting": "the new goes in",
    "covering": "it is covered",
    "coating": "the coat goes on",
    "closing": "it is put back",
}


def within_its_act(line: Line, sequence: Iterable[Before], option: Option, vocabulary: Vocabulary) -> str:
    """When a line is due whose own act shuts away what it is about, as bushing bores and fits; "" for any other."""
    technique = next((vocabulary.techniques[act.technique] for act in option.acts if act.number == line.act), None)
    if technique is None or line.kind is not Kind.ASKED:
        return ""
    reasons = {before.then: before.because for before in sequence if _names(before.first, line)}
    shut = next((name for name in _SHUTS if name in reasons and _does(name, technique)), "")
    return f"Within act {line.act}, before {_SHUTS[shut]}: {reasons[shut]}." if shut else ""


def told(edge: Edge, lines: Mapping[str, Line]) -> str:
    """A circle's edge in words."""
    return f"'{_said(lines[edge.first])}' before '{_said(lines[edge.then])}': {edge.because}"


def _said(line: Line) -> str:
    return (line.short or line.says).rstrip(".")


# ---- by the stages -------------------------------------------------------------------------------------


def _by_stage(line: Line, acts: Mapping[int, Line], early: bool) -> Iterator[Edge]:
    first, last = acts[min(acts)], acts[max(acts)]
    own = acts.get(line.act)
    phase = PHASES[line.stage]
    if phase < WORK:
        yield Edge(line.key, first.key, "it is wanted before the work")
    elif phase > WORK:
        yield Edge((own or last).key, line.key, "it is wanted after the work")
    elif own is None:
        yield Edge(line.key, first.key, "it holds as long as the work goes on")
    elif not early:
        yield Edge(own.key, line.key, "it goes with this act")
        if line.act + 1 in acts:
            yield Edge(line.key, acts[line.act + 1].key, WITH_ITS_ACT)


def _comes_before_its_act(line: Line, befores: Iterable[Before]) -> bool:
    return any(_names(one.first, line) and one.then == ITS_ACT for one in befores)


# ---- by what the shop knows ------------------------------------------------------------------------------


def _by_the_shop(before: Before, lines: tuple[Line, ...], kinds: Mapping[int, Technique]) -> Iterator[Edge]:
    for first in lines:
        for then in lines:
            if first is not then and _comes_first(before, first, then, kinds):
                yield Edge(first.key, then.key, before.because)


def _comes_first(before: Before, first: Line, then: Line, kinds: Mapping[int, Technique]) -> bool:
    """Whether a line of the file speaks of these two. Of a rule about one act, only later acts count, or its own."""
    if then.kind is Kind.ACT:
        later = before.then == ITS_ACT or then.act > first.act
        return later and _names(before.first, first) and _is_act(before.then, then, first.act, kinds)
    if first.kind is Kind.ACT:
        earlier = first.act <= then.act or not then.act
        return earlier and _names(before.then, then) and _is_act(before.first, first, then.act, kinds)
    in_time = PHASES[first.stage] <= PHASES[then.stage]
    return in_time and _names(before.first, first) and _names(before.then, then)


def _is_act(name: str, line: Line, own: int, kinds: Mapping[int, Technique]) -> bool:
    if name == ITS_ACT:
        return line.act == own
    return name in ACTS and _does(name, kinds[line.act])


def _does(name: str, technique: Technique) -> bool:
    cuts = technique.takes in ("skim", "bore", "turn", "drill", "thread", "prepare", "pocket")
    return {
        "coating": adds(technique) == "coating",
        "covering": technique.facts["technique.covers"] == "yes",
        "cutting": cuts,
        "heating": technique.facts["technique.heats"] != "nothing",
        "fitting": adds(technique) in ("new-part", "new-metal", "packing"),
        "closing": closes(technique),
    }[name]


def _names(name: str, line: Line) -> bool:
    if line.kind is Kind.ACT:
        return False
    if name == MEASURING:
        return line.kind is Kind.MEASURED
    if name.endswith("/*"):
        return _principle(line) == name.removesuffix("/*")
    return name in (line.id, line.stage)


def _principle(line: Line) -> str:
    """The principle of the rule that a line comes from; none of an act and of a need."""
    above = line.id.split("/")[:-1]
    return above[-1] if above and line.kind is not Kind.ACT else ""
