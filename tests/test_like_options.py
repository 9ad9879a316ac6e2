"""Of two options, one that is no worse in every factor has no finding that stands firmer against it.

Stronger than that its verdict is no worse, and tried on many more cases: on made-up parts, without a casebook.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from itertools import product

import pytest
from helpers import MORE
from like_options import OPTIONS, altered, rules_of, world

from conserve.audit.cases import Reading, no_worse
from conserve.audit.factors import counting, factors_of
from conserve.inference import Findings
from conserve.rulebook import Rulebook
from conserve.weighing.model import Standing
from conserve.weighing.standing import standings

_FIRM = (Standing.OUT, Standing.OPEN, Standing.IN)
# Rulebooks that tell when the derivation is made wrong on purpose: without the act as a whole (143, 491), without what
# settles what settles (352), without what settles across kinds (79), with an act's words taken from the whole (1368),
# without what always counts (4, 53).
TELLING = (4, 53, 78, 79, 143, 152, 352, 491, 1368)


def firmest(found: Findings, option: str, rulebook: Rulebook) -> Mapping[str, int]:
    """How firmly each rule that counts stands against an option, at whichever of its subjects it does so most."""
    bearing = [f for f in found.telling if f.subject.kind not in ("option", "act") or f.subject.owned_by(f"option:{option}")]
    most = {rule.id: 0 for rule in rulebook.rules if counting(rule)}
    for (rule, _), (standing, _) in standings(bearing).items():
        if rule in most:
            most[rule] = max(most[rule], _FIRM.index(standing))
    return most


def pairs_and_breaches(seed: int) -> tuple[int, list[str]]:
    """How many unlike pairs of options could be compared under some rules, and in which of them a rule stands firmer."""
    rulebook, compared, told = rules_of(seed), 0, []
    factors = factors_of(rulebook)
    for number in range(12):
        draw = random.Random(f"world {seed} {number}")
        first = world(draw)
        fares = []
        for one in (first, *(altered(draw, first) for _ in range(3))):
            found = one.found(rulebook)
            reading = Reading(found, factors, rulebook.vocabulary)
            fares += [(reading.subjects(option), firmest(found, option, rulebook)) for option in OPTIONS]
        for (mine, here), (theirs, there) in product(fares, fares):
            if mine != theirs and no_worse(mine, theirs):
                compared += any(here.values())
                told += [f"{number}: {rule}" for rule in here if here[rule] > there[rule]]
    return compared, told


@pytest.mark.parametrize("seeds", [TELLING, *(range(at, at + 25) for at in range(0, 50 * MORE, 25))], ids=str)
def test_no_rule_stands_firmer_against_an_option_that_is_no_worse(seeds):
    found = [pairs_and_breaches(seed) for seed in seeds]
    assert [told for _, told in found if told] == []
    assert sum(compared for compared, _ in found) > 100
