"""Both engines, one meaning: what a program of propositions comes to."""

from __future__ import annotations

import pickle
import random
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve.engine import (
    Clause,
    Disagreement,
    Engine,
    EngineFault,
    Outcome,
    Premise,
    Program,
    Word,
    circles,
    engines,
    fire,
    fire_with,
    limits_passed,
    strata,
)
from conserve.engine import durable as durable_module
from conserve.engine import plain as plain_module
from conserve.engine.durable import Core, Durable
from conserve.truth import Truth

NO, UNKNOWN, YES = Truth.NO, Truth.UNKNOWN, Truth.YES
CORE = durable_module.load()
needs_durable = pytest.mark.skipif(CORE is None, reason="durable-rules is not installed")
PLAIN = Engine("plain", plain_module.fire)
DURABLE = None if CORE is None else Engine("durable-rules", Durable(CORE, keep=8).fire)
ALL = (PLAIN,) if DURABLE is None else (DURABLE, PLAIN)

Case = tuple[Program, tuple[Truth, ...]]

EXPOSURE = Word("exposure", ("wet", "dry"), otherwise="dry")


def exposure_program(*clauses: Clause) -> Program:
    """A program with one word, and a premise on each of its values."""
    premises = tuple(Premise(0, frozenset({value})) for value in EXPOSURE.values)
    return Program(clauses, (EXPOSURE,), premises)


WET_OUTSIDE = Clause("exposure/wet-outside", (), (0, "wet"))
DRY_INDOORS = Clause("exposure/dry-indoors", (), (0, "dry"))
WAX_IF_WET = Clause("finish/wax-if-wet", (0,), None)
DUST_IF_DRY = Clause("finish/dust-if-dry", (1,), None)


# ---------------------------------------------------------------- random programs


@st.composite
def programs(draw: st.DrawFn) -> Program:
    """Programs with chains: a clause waits only for words before the one it establishes."""
    words = tuple(
        Word(f"word-{index}", values, draw(st.sampled_from((*values, "not-given"))))
        for index, values in enumerate(draw(st.lists(st.sampled_from(LISTS), max_size=4)))
    )
    premises = tuple(
        Premise(index, draw(st.frozensets(st.sampled_from((*word.values, word.otherwise)))))
        for index, word in enumerate(words)
        for _ in range(draw(st.integers(0, 3)))
    )
    clauses = []
    for index in range(draw(st.integers(0, 12))):
        word = draw(st.integers(-1, len(words) - 1))
        height = word if word >= 0 else len(words)
        below = [at for at, premise in enumerate(premises) if premise.word < height]
        waits_for = tuple(draw(st.lists(st.sampled_from(below), max_size=3))) if below else ()
        value = (word, draw(st.sampled_from(words[word].values))) if word >= 0 else None
        clauses.append(Clause(f"rule/{index}", waits_for, value))
    return Program(tuple(clauses), words, premises)


LISTS = (("a",), ("a", "b"), ("a", "b", "c"), ("a", "b", "c", "d"))


@st.composite
def cases(draw: st.DrawFn) -> Case:
    program = draw(programs())
    size = len(program.clauses)
    return program, tuple(draw(st.lists(st.sampled_from(Truth), min_size=size, max_size=size)))


@needs_durable
@settings(max_examples=500, deadline=None)
@given(cases())
def test_both_engines_give_the_same_outcome(case: Case) -> None:
    fire_with(ALL, *case)


@needs_durable
def test_both_engines_agree_on_long_chains_and_many_rules() -> None:
    chance = random.Random(20)
    for size in (40, 120, 300):
        program = staircase(size, chance)
        assert limits_passed(program) == ()
        for _ in range(40):
            fire_with(ALL, program, tuple(chance.choices(tuple(Truth), (3, 3, 4), k=size)))


def staircase(size: int, chance: random.Random) -> Program:
    """A program in which every word leans on the one before it."""
    words = tuple(Word(f"word-{index}", ("a", "b"), chance.choice("ab")) for index in range(size // 4))
    premises = tuple(Premise(index, frozenset({value})) for index in range(len(words)) for value in "ab")
    clauses = []
    for index in range(size):
        word = index % len(words)
        below = range(max(0, 2 * word - 4), 2 * word)
        waits_for = tuple(chance.sample(below, k=min(len(below), chance.randrange(3))))
        clauses.append(Clause(f"rule/{index}", waits_for, (word, chance.choice("ab"))))
    return Program(tuple(clauses), words, premises)


@settings(max_examples=200, deadline=None)
@given(cases(), st.randoms(use_true_random=False))
def test_the_order_of_rules_and_words_does_not_matter(case: Case, chance: random.Random) -> None:
    program, bodies = case
    outcome = fire_with(ALL, program, bodies)
    order = chance.sample(range(len(bodies)), k=len(bodies))
    places = chance.sample(range(len(program.words)), k=len(program.words))  # old place by new one
    moved = {old: new for new, old in enumerate(places)}
    shuffled = Program(
        tuple(
            Clause(c.rule, c.waits_for[::-1], c.establishes and (moved[c.establishes[0]], c.establishes[1]))
            for c in (program.clauses[at] for at in order)
        ),
        tuple(program.words[at] for at in places),
        tuple(Premise(moved[premise.word], premise.accepts) for premise in program.premises),
    )
    assert fire_with(ALL, shuffled, tuple(bodies[at] for at in order)) == Outcome(
        tuple(outcome.clauses[at] for at in order),
        outcome.premises,
        tuple(outcome.words[at] for at in places),
    )


@settings(max_examples=200, deadline=None)
@given(cases(), st.data())
def test_what_is_certain_stays_certain_when_an_unknown_is_answered(case: Case, data: st.DataObject) -> None:
    program, bodies = case
    outcome = fire_with(ALL, program, bodies)
    answered = tuple(data.draw(st.sampled_from(Truth)) if body is UNKNOWN else body for body in bodies)
    assert lies_within(fire_with(ALL, program, answered), outcome)


@settings(max_examples=200, deadline=None)
@given(cases())
def test_every_way_to_answer_the_unknowns_lies_within_the_outcome(case: Case) -> None:
    program, bodies = case
    outcome = fire_with(ALL, program, bodies)
    ways = product(*((NO, YES) if body is UNKNOWN else (body,) for body in bodies))
    for _, answered in zip(range(64), ways, strict=False):
        full = fire_with((PLAIN,), program, answered)
        clash = any(len(values) > 1 for values in full.words)  # rules that the load check would refuse
        assert clash or UNKNOWN not in full.clauses
        assert lies_within(full, outcome)


def lies_within(later: Outcome, earlier: Outcome) -> bool:
    truths = zip((*later.clauses, *later.premises), (*earlier.clauses, *earlier.premises), strict=True)
    words = zip(later.words, earlier.words, strict=True)
    return all(before in (UNKNOWN, now) for now, before in truths) and all(
        set(now) <= set(before) for now, before in words
    )


# ---------------------------------------------------------------- what the words mean


def test_an_established_value_reaches_the_rules_that_wait_for_it() -> None:
    program = exposure_program(WAX_IF_WET, DUST_IF_DRY, WET_OUTSIDE)
    assert fire(program, (YES, YES, YES)) == Outcome((YES, NO, YES), (YES, NO), (("wet",),))


def test_otherwise_holds_when_no_rule_gives_a_value() -> None:
    program = exposure_program(WAX_IF_WET, DUST_IF_DRY, WET_OUTSIDE)
    assert fire(program, (YES, YES, NO)) == Outcome((NO, YES, NO), (NO, YES), (("dry",),))


def test_an_open_rule_leaves_its_value_and_otherwise_possible() -> None:
    program = exposure_program(WAX_IF_WET, DUST_IF_DRY, WET_OUTSIDE)
    assert fire(program, (YES, YES, UNKNOWN)) == Outcome(
        (UNKNOWN, UNKNOWN, UNKNOWN), (UNKNOWN, UNKNOWN), (("wet", "dry"),)
    )


def test_an_open_rule_that_gives_what_otherwise_gives_leaves_nothing_open() -> None:
    program = exposure_program(DUST_IF_DRY, DRY_INDOORS)
    assert fire(program, (YES, UNKNOWN)) == Outcome((YES, UNKNOWN), (NO, YES), (("dry",),))


def test_an_open_rule_can_upset_a_certain_one() -> None:
    program = exposure_program(WAX_IF_WET, WET_OUTSIDE, DRY_INDOORS)
    assert fire(program, (YES, YES, UNKNOWN)) == Outcome(
        (UNKNOWN, YES, UNKNOWN), (UNKNOWN, UNKNOWN), (("wet", "dry"),)
    )


def test_a_premise_that_accepts_every_possible_value_is_certain() -> None:
    program = Program(
        (Clause("a/b", (0,), None), WET_OUTSIDE), (EXPOSURE,), (Premise(0, frozenset({"wet", "dry"})),)
    )
    assert fire(program, (YES, UNKNOWN)).clauses == (YES, UNKNOWN)


def test_an_empty_program_has_an_empty_outcome() -> None:
    assert fire(Program((), (), ()), ()) == Outcome((), (), ())


def test_a_word_that_no_rule_establishes_has_its_otherwise() -> None:
    assert fire(exposure_program(DUST_IF_DRY), (YES,)).words == (("dry",),)


# ---------------------------------------------------------------- circles and loose ends


def circle_of(*links: tuple[int, int]) -> Program:
    """A program of three words in which the first of a link waits for the second."""
    words = tuple(Word(name, ("x",), "none-of-them") for name in ("first", "second", "third"))
    premises = tuple(Premise(index, frozenset({"x"})) for index in range(3))
    return Program(tuple(Clause(f"r/{a}-{b}", (b,), (a, "x")) for a, b in links), words, premises)


@pytest.mark.parametrize(
    ("links", "named"),
    [
        (((0, 1), (1, 2)), ()),
        (((1, 1),), (("second",),)),
        (((0, 1), (1, 0), (2, 0)), (("first", "second"),)),
        (((0, 1), (1, 2), (2, 0)), (("first", "second", "third"),)),
        (((0, 0), (1, 2), (2, 1)), (("first",), ("second", "third"))),
    ],
)
def test_words_that_wait_for_themselves_are_named(
    links: tuple[tuple[int, int], ...], named: tuple[tuple[str, ...], ...]
) -> None:
    program = circle_of(*links)
    assert circles(program) == named
    if named:
        for engine in ALL:
            with pytest.raises(ValueError, match="wait for each other"):
                engine.fire(program, (YES,) * len(links))


def test_strata_put_every_rule_above_the_words_it_waits_for() -> None:
    levels = strata(circle_of((0, 1), (1, 2)))
    assert [(level.clauses, level.words) for level in levels] == [((), (2,)), ((1,), (1,)), ((0,), (0,))]


@pytest.mark.parametrize(
    ("clause", "premise"),
    [
        (Clause("a/b", (3,), None), Premise(0, frozenset())),
        (Clause("a/b", (), (1, "wet")), Premise(0, frozenset())),
        (Clause("a/b", (), (0, "damp")), Premise(0, frozenset())),
        (Clause("a/b", (), None), Premise(1, frozenset())),
    ],
)
def test_a_program_with_loose_ends_is_refused(clause: Clause, premise: Premise) -> None:
    with pytest.raises(ValueError, match=r"word|premise|list"):
        Program((clause,), (EXPOSURE,), (premise,))


def test_too_few_bodies_are_refused() -> None:
    with pytest.raises(ValueError, match="1 bodies for 2 clauses"):
        fire(exposure_program(WET_OUTSIDE, WAX_IF_WET), (YES,))


def test_a_program_keeps_its_meaning_on_the_way_to_another_process() -> None:
    program = exposure_program(WET_OUTSIDE, WAX_IF_WET)
    again = pickle.loads(pickle.dumps(program))
    assert again == program
    assert hash(again) == hash(program)
    code = (
        "import pickle, sys; program = pickle.load(sys.stdin.buffer)\n"
        "assert hash(program) == hash((program.clauses, program.words, program.premises))"
    )
    subprocess.run([sys.executable, "-c", code], input=pickle.dumps(program), check=True)


# ---------------------------------------------------------------- two engines, compared


def test_importing_the_engines_loads_neither() -> None:
    code = (
        "import sys, conserve.engine\n"
        "heavy = ('durable', 'durable_rules_engine', 'conserve.engine.durable', 'conserve.engine.plain')\n"
        "sys.exit(any(name in sys.modules for name in heavy))"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_engines_that_serve_are_named() -> None:
    assert engines() == (("plain",) if CORE is None else ("durable-rules", "plain"))


def wrong(change: Callable[[Outcome], Outcome]) -> Engine:
    """An engine with a fault."""
    return Engine("faulty", lambda program, bodies: change(plain_module.fire(program, bodies)))


@pytest.mark.parametrize(
    ("change", "rule", "words"),
    [
        (lambda o: Outcome((*o.clauses[:1], NO), o.premises, o.words), WAX_IF_WET.rule, "is yes or no"),
        (lambda o: Outcome(o.clauses, o.premises, (("dry",),)), WET_OUTSIDE.rule, "exposure is wet or dry"),
        (
            lambda o: Outcome(o.clauses, (NO, NO), o.words),
            WAX_IF_WET.rule,
            "a premise on exposure is yes or no",
        ),
    ],
)
def test_a_disagreement_names_the_rule(change: Callable[[Outcome], Outcome], rule: str, words: str) -> None:
    with pytest.raises(Disagreement) as caught:
        fire_with((PLAIN, wrong(change)), exposure_program(WET_OUTSIDE, WAX_IF_WET), (YES, YES))
    assert caught.value.rule == rule
    assert words in str(caught.value)
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


@needs_durable
@settings(max_examples=150, deadline=None)
@given(cases(), st.data())
def test_a_faulty_rule_is_found_wherever_it_is(case: Case, data: st.DataObject) -> None:
    program, bodies = case
    if not bodies:
        return
    at = data.draw(st.integers(0, len(bodies) - 1))

    def turn(outcome: Outcome) -> Outcome:
        clauses = list(outcome.clauses)
        clauses[at] = Truth((clauses[at] + 1) % 3)
        return Outcome(tuple(clauses), outcome.premises, outcome.words)

    with pytest.raises(Disagreement) as caught:
        fire_with((*ALL, wrong(turn)), program, bodies)
    assert caught.value.rule == program.clauses[at].rule


# ---------------------------------------------------------------- durable-rules behind its fence


class Troubled:
    """The C core with a fault: some of its calls fail."""

    def __init__(self, failing: range) -> None:
        assert CORE is not None
        self.core: Core = CORE
        self.failing = failing
        self.calls = 0
        self.created: list[int] = []
        self.deleted: list[int] = []
        self.start_action_for_state = self.core.start_action_for_state
        self.complete_and_start_action = self.core.complete_and_start_action
        self.delete_state = self.core.delete_state

    def create_ruleset(self, name: str, rules: str, /) -> int:
        self.created.append(self.core.create_ruleset(name, rules))
        return self.created[-1]

    def delete_ruleset(self, handle: int, /) -> None:
        self.deleted.append(handle)
        self.core.delete_ruleset(handle)

    def assert_facts(self, handle: int, facts: str, /) -> tuple[int, int]:
        self.calls += 1
        if self.calls in self.failing:
            raise RuntimeError("error code: 303")
        return self.core.assert_facts(handle, facts)


CHAIN = exposure_program(WET_OUTSIDE, WAX_IF_WET)


@needs_durable
@pytest.mark.parametrize("call", [1, 2, 3])
def test_one_failure_costs_a_new_ruleset_and_no_wrong_answer(call: int) -> None:
    core = Troubled(range(call, call + 1))
    assert Durable(core).fire(CHAIN, (YES, YES)) == plain_module.fire(CHAIN, (YES, YES))
    assert (len(core.created), core.deleted) == (2, core.created[:1])


@needs_durable
def test_a_second_failure_is_said_clearly_and_leaves_nothing_behind() -> None:
    core = Troubled(range(2, 1000))
    engine = Durable(core)
    with pytest.raises(EngineFault, match=r"failed twice on the same rules: error code: 303\.$"):
        engine.fire(CHAIN, (YES, YES))
    assert (len(core.created), core.deleted, len(engine)) == (2, core.created, 0)
    core.failing = range(0)
    assert engine.fire(CHAIN, (YES, YES)).clauses == (YES, YES)


@needs_durable
def test_rulesets_that_leave_the_store_are_deleted() -> None:
    core = Troubled(range(0))
    engine = Durable(core, keep=4)
    for index in range(50):
        engine.fire(exposure_program(Clause(f"rule/{index}", (), (0, "wet"))), (YES,))
        assert len(engine) <= 4
    assert len(core.created) == 50
    assert len(core.deleted) == 46
    engine.clear()
    assert sorted(core.deleted) == sorted(core.created)


@needs_durable
def test_several_threads_share_an_engine_without_mixing_their_cases() -> None:
    assert DURABLE is not None
    chance = random.Random(4)
    programs = [staircase(20, chance) for _ in range(12)]  # more than its store holds
    asked = [(chance.choice(programs), tuple(chance.choices(tuple(Truth), k=20))) for _ in range(600)]
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda case: fire_with((DURABLE,), *case), asked))
    assert answers == [plain_module.fire(*case) for case in asked]


@needs_durable
def test_a_handle_does_not_travel() -> None:
    assert CORE is not None
    with pytest.raises(TypeError, match="another process"):
        pickle.dumps(Durable(CORE))


def wide(premises: int, readers: int) -> Program:
    """A program in which one rule waits for many premises and many rules wait for one."""
    clauses = (
        Clause("many/premises", tuple(range(premises)), None),
        *(Clause(f"reader/{index}", (0,), None) for index in range(readers - 1)),
    )
    return Program(clauses, (EXPOSURE,), (Premise(0, frozenset({"dry"})),) * premises)


@needs_durable
def test_the_largest_program_within_the_limits_is_served() -> None:
    program = wide(premises=15, readers=250)
    assert limits_passed(program) == ()
    assert fire_with(ALL, program, (YES,) * 250).clauses == (YES,) * 250


@pytest.mark.parametrize(
    ("program", "sentence"),
    [
        (wide(16, 1), "many/premises waits for 16 premises on established words; 15 is the most"),
        (wide(1, 251), "251 rules wait for the same premise on exposure; 250 is the most"),
        (
            Program(tuple(Clause(f"r/{index}", (), None) for index in range(3001)), (), ()),
            "3001 rules about one kind of subject are too many",
        ),
        (
            Program(
                tuple(
                    Clause(f"r/{index}", tuple(range(15 * index, 15 * index + 15)), None)
                    for index in range(250)
                ),
                (EXPOSURE,),
                (Premise(0, frozenset({"dry"})),) * 3750,
            ),
            "8000 propositions about one kind of subject are too many",
        ),
    ],
)
def test_a_program_beyond_the_limits_is_refused_before_it_does_harm(program: Program, sentence: str) -> None:
    assert limits_passed(program) == (sentence,)
    if CORE is not None:
        with pytest.raises(EngineFault, match="cannot be trusted"):
            Durable(CORE).fire(program, (YES,) * len(program.clauses))
