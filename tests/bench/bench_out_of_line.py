"""Whether decisions that were made wrongly on purpose are found out of line, and how long it takes to look.

python tests/bench/bench_out_of_line.py               some 150 decisions of each demonstration
CONSERVE_OUT_OF_LINE=2000 python tests/bench/bench_out_of_line.py

The proposals are those of both demonstrations, each again and again with words of its parts drawn anew from those that
the vocabulary has, or left out. Each is decided by its verdicts, and then a few are decided the other way.
"""

from __future__ import annotations

import os
import pickle
import random
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from time import perf_counter
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent))
import looking

from conserve.audit.cases import Case, cases_of
from conserve.audit.clashes import Clash, clashes
from conserve.audit.factors import Factors, factors_of
from conserve.audit.near import near
from conserve.audit.out_of_line import out_of_line, smallest_set
from conserve.casebook import Casebook, Proposal
from conserve.casebook.model import Decision, Facts
from conserve.rulebook import Rulebook
from conserve.terms import Giver, Kind, Vocabulary
from conserve.weighing import OptionWeighing, Weighing, weigh

FEWEST, MIDDLE = 150, 500  # decisions of each demonstration
CHANGED, SILENT = 0.06, 0.02  # of the words of a part: drawn anew, left out
WRONG = 0.04  # of the decisions


class Told(NamedTuple):
    """One ratio, as `run.Row` has it."""

    what: str
    ratio: float
    against: str
    wanted: float | None
    note: str


@dataclass(frozen=True, slots=True)
class Made:
    """Decisions by their verdicts, and the same with some that were decided the other way."""

    name: str
    rulebook: Rulebook
    right: tuple[Weighing, ...]
    wrong: tuple[Weighing, ...]
    planted: frozenset[tuple[str, str]]  # (casebook, proposal)
    weighed: float  # the seconds that weighing each once took


def rows(smallest: bool, size: int = 0) -> Iterator[Told]:
    """Make decisions, plant wrong ones among them, and tell how many are found and how long that takes."""
    size = size or (FEWEST if smallest else MIDDLE)
    for casebook, rulebook in looking.demonstrations():
        yield from _rows(made(casebook, rulebook, size))


def _rows(some: Made) -> Iterator[Told]:
    factors = factors_of(some.rulebook)
    right = cases_of(some.right, some.rulebook, factors)
    began = perf_counter()
    wrong = cases_of(some.wrong, some.rulebook, factors)
    casing = perf_counter() - began
    began = perf_counter()
    found = clashes(wrong, factors)
    clashing = perf_counter() - began
    began = perf_counter()
    nearest = near(wrong, factors)
    nearing = perf_counter() - began
    title = f"{some.name}, {len(some.wrong):,} decisions, {len(some.planted)} of them wrong on purpose"
    yield from _found(title, some, found, clashes(right, factors))
    sent = sum(len(pickle.dumps(one)) for one in wrong) / len(wrong)
    sizes = f"{len(wrong):,} cases of {sent:,.0f} bytes each, {len(factors.all):,} factors"
    yield Told(f"{some.name}: to make cases of decisions", casing / some.weighed, "weighing them", None, sizes)
    took = f"{1000 * clashing / len(wrong) * 1000:.0f} ms for 1,000 cases; {len(found):,} clashes"
    yield Told(f"{some.name}: to find what clashes", clashing / some.weighed, "weighing them", None, took)
    took = f"{1000 * nearing / len(wrong) * 1000:.0f} ms for 1,000 cases; {len(nearest)} told"
    yield Told(f"{some.name}: to find what lies near", nearing / some.weighed, "weighing them", None, took)
    yield _growth(some.name, wrong, factors)


def _found(title: str, some: Made, found: Sequence[Clash], before: Sequence[Clash]) -> Iterator[Told]:
    """How many of those that were planted clash at all, and how many the smallest set names; and how many others."""
    smallest = {one.decision for one in smallest_set(found).outcomes}
    certain = {one.decision for one in smallest_set(found).certain}
    clash = {one.outcome.decision for pair in found for one in (pair.refused, pair.accepted)}
    hit, named = len(some.planted & clash), len(some.planted & smallest)
    other, sure = len(smallest - some.planted), len(certain - some.planted)
    false = {(one.refused.outcome, one.accepted.outcome) for one in before}
    yield Told(f"{title}: clash", hit / len(some.planted), "those that were planted", None, f"{hit} of them")
    note = f"{named} of them and {other} others; {sure} others for certain; {len(false)} clashes before any was planted"
    yield Told(f"{some.name}: in the smallest set", len(smallest) / len(some.planted), "as many as planted", None, note)


def _growth(name: str, cases: Sequence[Case], factors: Factors) -> Told:
    """What twice as many cases take, held against half of them."""
    half = cases[::2]
    less, more = (_seconds(some, factors) for some in (half, cases))
    note = f"{1000 * less:.0f} ms for {len(half):,}, {1000 * more:.0f} ms for {len(cases):,}"
    return Told(f"{name}: all of it for twice as many cases", more / less, "the half of them", None, note)


def _seconds(cases: Sequence[Case], factors: Factors) -> float:
    taken = []
    for _ in range(3):
        began = perf_counter()
        out_of_line(cases, factors)
        taken.append(perf_counter() - began)
    return min(taken)


# ---- decisions -----------------------------------------------------------------------------------------------------


def made(casebook: Casebook, rulebook: Rulebook, size: int) -> Made:
    """So many decisions from the proposals of one casebook, in turn, each of a copy with words of its own."""
    proposals = [one for one in casebook.proposals if len(one.components) == 1 and _acts(one)]
    draw = random.Random(casebook.id)
    weighed, began = [], perf_counter()
    for number in range(size):
        proposal = proposals[number % len(proposals)]
        here = changed(replace(casebook, id=f"copy-{number:05d}"), proposal, rulebook.vocabulary, draw)
        weighed.append(weigh(proposal, here, rulebook))
    taken = perf_counter() - began
    right = [decided(one, by_verdict(one)) for one in weighed]
    wrong, planted = list(right), set[int]()
    for number in draw.sample(range(size), size):
        if len(planted) < max(1, round(size * WRONG)) and (other := the_other_way(right[number])):
            planted.add(number)
            wrong[number] = decided(right[number], other)
    keys = frozenset((right[number].casebook.id, right[number].proposal.id) for number in planted)
    return Made(casebook.id, rulebook, tuple(right), tuple(wrong), keys, taken)


def _acts(proposal: Proposal) -> bool:
    return any(option.acts for option in proposal.options) and any(not option.acts for option in proposal.options)


def by_verdict(weighing: Weighing) -> str:
    """An option with acts that stands; of several the one that no other of them is gentler than. Else to leave it."""
    standing = [one for one in _options(weighing) if one.option.acts and weighing.verdicts[one.option.id].stands]
    harder = {name for one in standing for name in one.gentler}  # what is gentler than another that stands
    chosen = [one.option.id for one in standing if one.option.id not in harder]
    return min(chosen, default=_leave(weighing))


def the_other_way(weighing: Weighing) -> str:
    """To leave what stands alone, or to do what does not stand; "" where there is no other way."""
    leave = _leave(weighing)
    if weighing.chosen != leave:
        return leave
    return next((o.option.id for o in _options(weighing) if o.option.acts and not weighing.verdicts[o.option.id].stands), "")


def _leave(weighing: Weighing) -> str:
    return next(one.option.id for one in _options(weighing) if not one.option.acts)


def _options(weighing: Weighing) -> Iterable[OptionWeighing]:
    return weighing.parts[0].options


def decided(weighing: Weighing, option: str) -> Weighing:
    """The same weighing, decided for an option."""
    where = weighing.proposal.where
    decision = Decision(option, "lead", weighing.on, "As it was put forward.", where)
    return replace(weighing, proposal=replace(weighing.proposal, decision=decision), chosen=option)


def changed(casebook: Casebook, proposal: Proposal, words: Vocabulary, draw: random.Random) -> Casebook:
    """The casebook with some words of the proposal's part drawn anew, and some left out."""

    def anew(facts: Facts) -> Facts:
        found = {}
        for name, said in facts.items():
            term, chance = words.terms[name], draw.random()
            if chance < SILENT:
                continue
            wordy = term.giver is Giver.PERSON and term.kind is not Kind.QUANTITY and term.values and not term.many
            if wordy and chance < SILENT + CHANGED:
                said = (replace(said[0], values=(draw.choice(term.values),)),)
            found[name] = said
        return found

    part = casebook.components[proposal.components[0]]
    lists = {
        kind: things if (things := getattr(part, kind)) is None else tuple(
            replace(one, facts=anew(one.facts), marks=one.marks and tuple(replace(m, facts=anew(m.facts)) for m in one.marks))
            for one in things
        )
        for kind in ("surfaces", "repairs", "defects")
    }  # fmt: skip
    part = replace(part, facts=anew(part.facts), **lists)
    the_object = replace(casebook.object, facts=anew(casebook.object.facts))
    return replace(casebook, object=the_object, components={**casebook.components, part.id: part})


if __name__ == "__main__":
    for row in rows(smallest=True, size=int(os.environ.get("CONSERVE_OUT_OF_LINE", "0"))):
        note = f"   ({row.note})" if row.note else ""
        print(f"{row.what:<64} {row.ratio:>7.2f} x {row.against}{note}", flush=True)
