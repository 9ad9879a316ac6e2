"""Fire a program stratum by stratum. This is what the words of `conserve.engine` mean."""

from __future__ import annotations

from functools import lru_cache

from conserve.engine import Outcome, Program, Wiring, strata, wirings
from conserve.truth import Truth

NO, UNKNOWN, YES = Truth.NO, Truth.UNKNOWN, Truth.YES

_Waiting = tuple[int, tuple[int, ...]]  # a clause that waits, and the premises it waits for
_Step = tuple[tuple[_Waiting, ...], tuple[tuple[int, Wiring], ...]]  # one stratum: decide these, settle those


def fire(program: Program, bodies: tuple[Truth, ...]) -> Outcome:
    """Fire a program. Raises ValueError if a word waits for itself."""
    clauses = list(bodies)  # a clause that waits for nothing is as true as its body
    premises = [NO] * len(program.premises)
    words: list[tuple[str, ...]] = [()] * len(program.words)
    for waiting, settled in _steps(program):
        for clause, waits_for in waiting:
            clauses[clause] = min(bodies[clause], *[premises[index] for index in waits_for])
        for word, wiring in settled:
            words[word] = possible = _possible_values(wiring, clauses)
            for index, accepts in wiring.askers:
                if not accepts.isdisjoint(possible):
                    premises[index] = YES if accepts.issuperset(possible) else UNKNOWN
    return Outcome(tuple(clauses), tuple(premises), tuple(words))


def _possible_values(wiring: Wiring, clauses: list[Truth]) -> tuple[str, ...]:
    """Give the values of rules that apply or may apply; and `otherwise`, unless one applies for certain."""
    given: dict[str, Truth] = {}
    for clause, value in wiring.givers:
        given[value] = max(clauses[clause], given.get(value, NO))
    if YES not in given.values():
        given[wiring.otherwise] = UNKNOWN
    return tuple([value for value in wiring.values if given.get(value, NO)])


@lru_cache(maxsize=256)
def _steps(program: Program) -> tuple[_Step, ...]:
    clauses, wired = program.clauses, wirings(program)
    return tuple(
        (
            tuple((at, clauses[at].waits_for) for at in stratum.clauses if clauses[at].waits_for),
            tuple((at, wired[at]) for at in stratum.words),
        )
        for stratum in strata(program)
    )
