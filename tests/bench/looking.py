"""How long it takes to look into a proposal, held against weighing it once: the floor of everything that weighs again.

The proposals are those of both demonstrations, as they stand and with a share of what is written of their parts left
out, so that more and more is unknown.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from statistics import median
from time import perf_counter
from typing import NamedTuple

from conserve.casebook import Casebook, Component, Proposal, read_casebook
from conserve.casebook.model import Facts
from conserve.files import Folder, shipped
from conserve.rulebook import Rulebook, overlays_of, read_rulebook
from conserve.weighing import PartWeighing, weigh
from conserve.weighing.least import least_intervention
from conserve.whatif.changes import changes
from conserve.whatif.margins import margins
from conserve.whatif.matters import idle, matters
from conserve.whatif.prospect import prospect
from conserve.whatif.worth import worths

SHARES = (0.0, 0.25, 0.5, 1.0)  # of what is written of a part, left out
FEWEST = (0.0, 0.5)  # for CI
Look = Callable[[PartWeighing, str, Rulebook], object]


class Looked(NamedTuple):
    """What looking into one proposal came to: how much is unknown, and how often a weighing each look took."""

    unknown: int
    took: dict[str, float]
    exact: bool


LOOKS: dict[str, Look] = {
    "why not less": lambda part, option, rules: least_intervention(part, option, rules.vocabulary),
    "what would change the answer": changes,
    "what to find out next": lambda part, option, rules: (
        prospect(part, option, rules), worths(part, rules), idle(part, rules),
    ),
    "how far the numbers may move": margins,
}  # fmt: skip


def demonstrations() -> Iterator[tuple[Casebook, Rulebook]]:
    for name in ("marrow-fen", "sallow-wharf"):
        folder, rules = Folder(shipped("casebook") / name), Folder(shipped("rules"))
        plain, problems = read_rulebook(folder=rules)
        assert plain is not None, problems
        casebook, problems = read_casebook(folder, plain.vocabulary, name)
        if casebook is None or casebook.object.overlays:
            wanted = ("evidence-policy", "turret-clock")
            assert set(wanted) <= set(overlays_of(rules))
            plain, problems = read_rulebook(rules, wanted)
            assert plain is not None, problems
            casebook, problems = read_casebook(folder, plain.vocabulary, name)
        assert casebook is not None, problems
        yield casebook, plain


def looked(share: float) -> Iterator[Looked]:
    """Look into every proposal of one part, with a share of what is written of it left out."""
    for casebook, rulebook in demonstrations():
        for proposal in casebook.proposals:
            if len(proposal.components) == 1:
                yield _looked(proposal, thinned(casebook, proposal, share), rulebook)


def _looked(proposal: Proposal, casebook: Casebook, rulebook: Rulebook) -> Looked:
    weigh(proposal, casebook, rulebook)  # what the engines remember, they remember for both
    began = perf_counter()
    weighing = weigh(proposal, casebook, rulebook)
    once, part = perf_counter() - began, weighing.worst
    took = {}
    for name, look in LOOKS.items():
        began = perf_counter()
        look(part, weighing.chosen, rulebook)
        took[name] = (perf_counter() - began) / once
    return Looked(len(matters(part, rulebook)), took, prospect(part, weighing.chosen, rulebook).exact)


def thinned(casebook: Casebook, proposal: Proposal, share: float) -> Casebook:
    """The casebook with some facts of the proposal's part left out; the things on it stay."""
    part, draw = casebook.components[proposal.components[0]], random.Random(f"{proposal.id} {share}")

    def kept(facts: Facts) -> Facts:
        return {term: said for term, said in facts.items() if draw.random() >= share}

    def among(part: Component, kind: str) -> object:
        things = getattr(part, kind)
        return things if things is None else tuple(replace(t, facts=kept(t.facts)) for t in things)

    lists = {kind: among(part, kind) for kind in ("surfaces", "repairs", "defects")}
    part = replace(part, facts=kept(part.facts), **lists)  # type: ignore[arg-type]
    return replace(casebook, components={**casebook.components, part.id: part})


class Told(NamedTuple):
    """One line: of what, how many weighings it takes in the middle and at worst, and a note."""

    what: str
    middle: float
    worst: float
    note: str


def told(smallest: bool) -> Iterator[Told]:
    for share in FEWEST if smallest else SHARES:
        found = list(looked(share))
        unknown = median(one.unknown for one in found)
        exact = sum(one.exact for one in found)
        for name in LOOKS:
            took = [one.took[name] for one in found]
            note = f"{unknown:g} unknown in the middle, {max(one.unknown for one in found)} at most"
            if name == "what to find out next":
                note += f"; exact for {exact} of {len(found)}"
            yield Told(f"{name}, {share:.0%} left out", median(took), max(took), note)
