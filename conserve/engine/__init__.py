"""Fire rules as propositions, in a certain and a possible world.

A rule arrives here with its ordinary premises already judged: yes, no or cannot tell. What is left is
chaining: some rules establish a word (`act.exposure` is `wet`), and other rules wait for that word.
Two engines do the same work and are compared every time; a difference is a fault, never an answer.

Import this package freely: it loads neither engine until something fires.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from graphlib import TopologicalSorter

from conserve.truth import Truth

__all__ = [
    "Clause", "Disagreement", "Engine", "EngineFault", "Outcome", "Premise", "Program", "Stratum", "Wiring",
    "Word", "circles", "engines", "fire", "fire_with", "limits_passed", "strata", "wirings",
]  # fmt: skip

REMEMBERED = 16_384  # outcomes kept by `fire`: some 10 MiB with programs of 20 clauses


class EngineFault(Exception):
    """durable-rules cannot serve a program, or failed twice on it. Says so in one sentence."""


class Disagreement(Exception):
    """The engines differ. `rule` is the id of the first rule they differ on ("" if no rule is concerned)."""

    def __init__(self, rule: str, sentence: str) -> None:
        super().__init__(rule, sentence)
        self.rule = rule
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True)
class Clause:
    """One rule as propositions. Its ordinary premises are judged elsewhere, and are its body."""

    rule: str
    """The rule's id, for messages."""
    waits_for: tuple[int, ...]
    """Premises on established words, as indexes into `Program.premises`."""
    establishes: tuple[int, str] | None
    """An index into `Program.words` and the value that the rule gives to that word."""


@dataclass(frozen=True, slots=True)
class Word:
    """A word with a closed list of values that rules establish; `otherwise` holds if none of them does."""

    name: str
    values: tuple[str, ...]
    otherwise: str


@dataclass(frozen=True, slots=True)
class Premise:
    """A premise on an established word (an index into `Program.words`): it holds for these values."""

    word: int
    accepts: frozenset[str]


@dataclass(frozen=True, slots=True)
class Program:
    """The rules about one kind of subject. Indexes and values that lead nowhere raise ValueError."""

    clauses: tuple[Clause, ...]
    words: tuple[Word, ...]
    premises: tuple[Premise, ...]
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for problem in _loose_ends(self):
            raise ValueError(problem)
        # A program is looked up at every firing; hashing every clause anew would cost more than firing them.
        object.__setattr__(self, "_hash", hash((self.clauses, self.words, self.premises)))

    def __hash__(self) -> int:
        return self._hash

    def __reduce__(self) -> tuple[type[Program], tuple[object, ...]]:
        # The hash of a text differs from process to process, so it must not travel.
        return Program, (self.clauses, self.words, self.premises)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a program, in the order of its own clauses, premises and words."""

    clauses: tuple[Truth, ...]
    """YES: the rule applies for certain; UNKNOWN: open; NO: silent."""
    premises: tuple[Truth, ...]
    words: tuple[tuple[str, ...], ...]
    """The values each word may have, in the order of its list; a single one is certain."""


@dataclass(frozen=True, slots=True)
class Stratum:
    """Clauses that wait only for lower words, and the words that are settled once these are decided."""

    clauses: tuple[int, ...]
    words: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Wiring:
    """What leads to a word and away from it."""

    values: tuple[str, ...]
    """Its list, with `otherwise` at the end if the list lacks it."""
    otherwise: str
    givers: tuple[tuple[int, str], ...]
    """Clauses that establish it, each with the value it gives."""
    askers: tuple[tuple[int, frozenset[str]], ...]
    """Premises on it, each with the values it accepts."""


@dataclass(frozen=True, slots=True)
class Engine:
    """A way to fire a program."""

    name: str
    fire: Callable[[Program, tuple[Truth, ...]], Outcome]


@lru_cache(maxsize=REMEMBERED)
def fire(program: Program, bodies: tuple[Truth, ...]) -> Outcome:
    """Fire a program in every engine there is, and give the outcome they agree on.

    `bodies[i]` is the truth of clause i's ordinary premises taken together. Equal questions are answered
    from memory. Raises EngineFault, Disagreement, and ValueError for a program with a circle.
    """
    return fire_with(_engines(), program, bodies)


def fire_with(engines: tuple[Engine, ...], program: Program, bodies: tuple[Truth, ...]) -> Outcome:
    """Fire a program in these engines, compare, and remember nothing."""
    if len(bodies) != len(program.clauses):
        raise ValueError(f"{len(bodies)} bodies for {len(program.clauses)} clauses")
    first, *others = engines
    outcome = first.fire(program, bodies)
    for other in others:
        second = other.fire(program, bodies)
        if second != outcome:
            rule, what = _first_difference(program, outcome, second)
            raise Disagreement(rule, f"The engines {first.name} and {other.name} differ: {what}.")
    return outcome


def engines() -> tuple[str, ...]:
    """Name the engines that serve here: durable-rules, where it is installed, and plain."""
    return tuple(engine.name for engine in _engines())


def limits_passed(program: Program) -> tuple[str, ...]:
    """Say, a sentence each, where a program is more than durable-rules takes, installed or not."""
    from conserve.engine import durable

    return durable.limits_passed(program)


def circles(program: Program) -> tuple[tuple[str, ...], ...]:
    """Name the words that wait for themselves: each waits for the next one, the last for the first."""
    below = _words_below(program)
    found: list[tuple[int, ...]] = []
    for word in range(len(program.words)):
        if not any(word in circle for circle in found):
            found += _way_back(word, below)
    return tuple(tuple(program.words[word].name for word in circle) for circle in found)


@lru_cache(maxsize=256)
def strata(program: Program) -> tuple[Stratum, ...]:
    """Order a program, lowest first: every clause stands above the words it waits for.

    Raises ValueError if a word waits for itself; `circles` names such words.
    """
    for circle in circles(program):
        raise ValueError(f"these words wait for each other: {', '.join(circle)}")
    height = [0] * len(program.words)  # of words

    def height_of(clause: Clause) -> int:
        return max((height[program.premises[index].word] + 1 for index in clause.waits_for), default=0)

    for word in TopologicalSorter(_words_below(program)).static_order():
        givers = (c for c in program.clauses if c.establishes is not None and c.establishes[0] == word)
        height[word] = max(map(height_of, givers), default=0)
    heights = [height_of(clause) for clause in program.clauses]
    return tuple(
        Stratum(
            clauses=tuple(index for index, own in enumerate(heights) if own == level),
            words=tuple(index for index, own in enumerate(height) if own == level),
        )
        for level in range(max((*heights, *height), default=-1) + 1)
    )


def wirings(program: Program) -> tuple[Wiring, ...]:
    """Say for each word of a program what leads to it and away from it."""
    gifts = [(at, *clause.establishes) for at, clause in enumerate(program.clauses) if clause.establishes]
    premises = tuple(enumerate(program.premises))
    return tuple(
        Wiring(
            values=tuple(dict.fromkeys((*word.values, word.otherwise))),
            otherwise=word.otherwise,
            givers=tuple((at, value) for at, given, value in gifts if given == index),
            askers=tuple((at, premise.accepts) for at, premise in premises if premise.word == index),
        )
        for index, word in enumerate(program.words)
    )


@lru_cache(maxsize=1)
def _engines() -> tuple[Engine, ...]:
    from conserve.engine import durable, plain

    serving = (Engine("plain", plain.fire),)
    core = durable.load()
    return serving if core is None else (Engine("durable-rules", durable.Durable(core).fire), *serving)


def _loose_ends(program: Program) -> Iterator[str]:
    for premise in program.premises:
        if not 0 <= premise.word < len(program.words):
            yield f"a premise speaks of word {premise.word}; there are {len(program.words)}"
    for clause in program.clauses:
        if any(not 0 <= index < len(program.premises) for index in clause.waits_for):
            yield f"{clause.rule} waits for a premise that is not there"
        if clause.establishes is None:
            continue
        word, value = clause.establishes
        if not 0 <= word < len(program.words):
            yield f"{clause.rule} establishes a word that is not there"
        elif value not in program.words[word].values:
            yield f"{clause.rule} establishes {value}, which the list of {program.words[word].name} lacks"


def _words_below(program: Program) -> dict[int, tuple[int, ...]]:
    """Say for each word which words its rules wait for."""
    below: dict[int, dict[int, None]] = {word: {} for word in range(len(program.words))}
    for clause in program.clauses:
        if clause.establishes is not None:
            below[clause.establishes[0]] |= {program.premises[index].word: None for index in clause.waits_for}
    return {word: tuple(others) for word, others in below.items()}


def _way_back(start: int, below: dict[int, tuple[int, ...]]) -> Iterator[tuple[int, ...]]:
    """Give the shortest way from a word back to itself, if there is one."""
    seen: set[int] = set()
    ways: deque[tuple[int, ...]] = deque([(start,)])
    while ways:
        way = ways.popleft()
        for word in below[way[-1]]:
            if word == start:
                yield way
                return
            if word not in seen:
                seen.add(word)
                ways.append((*way, word))


def _first_difference(program: Program, one: Outcome, two: Outcome) -> tuple[str, str]:
    """Name the first rule on which two outcomes differ, and say how."""
    for clause, own, other in zip(program.clauses, one.clauses, two.clauses, strict=True):
        if own != other:
            return clause.rule, f"rule {clause.rule} is {own} or {other}"
    for index, (own_values, other_values) in enumerate(zip(one.words, two.words, strict=True)):
        if own_values != other_values:
            givers = (c.rule for c in program.clauses if c.establishes and c.establishes[0] == index)
            values = f"{'/'.join(own_values)} or {'/'.join(other_values)}"
            return next(givers, ""), f"{program.words[index].name} is {values}"
    for index, (own, other) in enumerate(zip(one.premises, two.premises, strict=True)):
        if own != other:
            waiting = (c.rule for c in program.clauses if index in c.waits_for)
            word = program.words[program.premises[index].word].name
            return next(waiting, ""), f"a premise on {word} is {own} or {other}"
    return "", "their outcomes are not alike"
