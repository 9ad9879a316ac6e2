"""Many evaluations in one process: results that do not drift, memory that does not grow.

`CONSERVE_SOAK` sets how many; 100000 is the full run.
"""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from conserve.engine import Clause, Engine, Outcome, Premise, Program, Word, fire_with, plain
from conserve.engine import durable as durable_module
from conserve.engine.durable import Durable
from conserve.truth import Truth

EVALUATIONS = int(os.environ.get("CONSERVE_SOAK", "2000"))
PROGRAMS = 48  # more than the store below holds, so that rulesets come and go
KEPT = 16
RUN = 20  # evaluations of one program before the next
GROWTH_ALLOWED = 8.0  # MiB

CORE = durable_module.load()


def some_program(chance: random.Random) -> Program:
    """Some 20 rules and two or three words, like the rules about an act."""
    words = tuple(Word(f"word-{index}", ("a", "b", "c"), "c") for index in range(chance.choice((2, 3))))
    premises = tuple(
        Premise(index, frozenset(accepts)) for index in range(len(words)) for accepts in ("a", "b", "bc")
    )
    clauses = []
    for index in range(chance.randrange(15, 26)):
        word = chance.choice((None, None, *range(len(words))))
        below = range(3 * (len(words) if word is None else word))
        waits_for = tuple(chance.sample(below, k=min(len(below), chance.choice((0, 0, 1, 2)))))
        clauses.append(
            Clause(f"rule/{index}", waits_for, None if word is None else (word, chance.choice("ab")))
        )
    return Program(tuple(clauses), words, premises)


def resident() -> float:
    """Memory of this process in MiB; 0 where the system does not say."""
    statm = Path("/proc/self/statm")
    if not statm.exists():
        return 0.0
    return int(statm.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20


@pytest.mark.skipif(CORE is None, reason="durable-rules is not installed")
def test_many_evaluations_neither_drift_nor_grow() -> None:
    assert CORE is not None
    chance = random.Random(1868)
    engine = Durable(CORE, keep=KEPT)
    both = (Engine("durable-rules", engine.fire), Engine("plain", plain.fire))
    asked = [
        (program, tuple(chance.choices(tuple(Truth), (5, 2, 3), k=len(program.clauses))))
        for program in (some_program(chance) for _ in range(PROGRAMS))
        for _ in range(RUN)
    ]
    first: dict[int, Outcome] = {}
    at_start = 0.0
    for number in range(EVALUATIONS):
        at = number % len(asked)
        outcome = fire_with(both, *asked[at])
        assert first.setdefault(at, outcome) == outcome
        if number == min(EVALUATIONS - 1, len(asked)):  # by now every store is full
            at_start = resident()
    assert len(engine) <= KEPT
    assert resident() - at_start < GROWTH_ALLOWED
