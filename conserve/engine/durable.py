"""Fire a program in durable-rules 2.0.28, inside the fence in which it can be trusted.

What durable-rules sees are tokens, each a whole number: the body of a clause, or a premise on an
established word, in the certain or in the possible world. A rule fires when all its tokens are there. A
fired rule that establishes a value gives, then and there, the tokens of premises that this settles, and
so durable-rules chains from rule to rule:

* in the possible world, every premise that accepts the value;
* in the certain world, a premise that accepts every value any rule may give to that word.

What takes knowing that a rule did *not* fire is filled in here, word by word, once the rules below have
run: `otherwise`, and premises in the certain world that an open rule could still upset. Nothing is
negated, joined or compared inside durable-rules.

The fence, and why each paling is there:

* The C core is called directly. The Python layer swallows errors, starts timer threads, and drops rules
  that follow a slow one.
* Tokens carry their own ids, checked for equal hashes; durable-rules tells facts apart by 32 bits alone.
* One case id for ever and one live case at a time; a fired rule at the start. Deleting a case in which
  nothing fired frees a pointer that only an earlier firing has set.
* Limits on patterns, equal tokens and readers are checked before a program is handed over: beyond them
  the core overruns its memory or never returns.
* After any error the ruleset is thrown away, never its case, and built anew once.
* Rulesets are deleted when they leave the small store. A handle means nothing in another process.
"""

from __future__ import annotations

import json
from collections import Counter, OrderedDict
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from importlib import import_module
from threading import Lock
from typing import NoReturn, Protocol, cast

from conserve.engine import EngineFault, Outcome, Program, strata, wirings
from conserve.truth import Truth

NO, UNKNOWN, YES = Truth.NO, Truth.UNKNOWN, Truth.YES

PATTERNS_A_RULE = 16
RULES_A_TOKEN = 250
TOKENS_A_BUCKET = 480
BUCKETS = 16
RULES = 3_000  # 4,000 were served in a trial; 7,600 were refused with code 106
RULESETS_KEPT = 32

CASE = "e"
CASE_FACT = "sid-e"  # the id that the core gives to its own fact about the case


class Core(Protocol):
    """The functions of the C module `durable_rules_engine` that are used."""

    def create_ruleset(self, name: str, rules: str, /) -> int: ...
    def delete_ruleset(self, handle: int, /) -> None: ...
    def assert_facts(self, handle: int, facts: str, /) -> tuple[int, int]: ...
    def start_action_for_state(self, handle: int, state: int, /) -> tuple[str, str] | None: ...
    def complete_and_start_action(self, handle: int, state: int, /) -> str | None: ...
    def delete_state(self, handle: int, case: str, /) -> object: ...


def load() -> Core | None:
    """Load the C core; None where it is not installed or does not fit this Python."""
    try:
        return cast(Core, import_module("durable_rules_engine"))
    except ImportError:
        return None


class Durable:
    """durable-rules with a small store of compiled programs. One thread at a time; others wait."""

    def __init__(self, core: Core, keep: int = RULESETS_KEPT) -> None:
        self._core = core
        self._keep = keep
        self._rulesets: OrderedDict[Program, _Ruleset] = OrderedDict()
        self._lock = Lock()

    def __reduce__(self) -> NoReturn:
        raise TypeError("a durable-rules handle means nothing in another process")

    def __len__(self) -> int:
        """How many rulesets are held."""
        return len(self._rulesets)

    def fire(self, program: Program, bodies: tuple[Truth, ...]) -> Outcome:
        """Fire a program. Raises EngineFault, and ValueError if a word waits for itself."""
        strata(program)  # a circle is no fault of the engine
        with self._lock:
            try:
                return self._fire(program, bodies)
            except EngineFault:
                raise
            except Exception:
                try:
                    return self._fire(program, bodies)
                except Exception as error:
                    raise EngineFault(f"durable-rules failed twice on the same rules: {error}.") from error

    def clear(self) -> None:
        """Delete every ruleset."""
        with self._lock:
            while self._rulesets:
                self._discard(next(iter(self._rulesets)))

    def _fire(self, program: Program, bodies: tuple[Truth, ...]) -> Outcome:
        ruleset = self._rulesets.get(program)
        if ruleset is None:
            if len(self._rulesets) >= self._keep:
                self._discard(next(iter(self._rulesets)))
            ruleset = self._rulesets[program] = _Ruleset(self._core, program)
        self._rulesets.move_to_end(program)
        try:
            return ruleset.fire(bodies)
        except BaseException:  # an interrupt, too, leaves a case behind that must not meet the next one
            self._discard(program)
            raise

    def _discard(self, program: Program) -> None:
        ruleset = self._rulesets.pop(program)
        with suppress(Exception):  # a broken ruleset may be gone already
            ruleset.delete()


def limits_passed(program: Program) -> tuple[str, ...]:
    """Say, a sentence each, where a program is more than durable-rules can be trusted with."""
    return _Tokens(program).limits_passed


@dataclass(frozen=True, slots=True)
class _Rule:
    """A rule inside durable-rules: a clause in one world, or in whichever its body is in (None)."""

    clause: int
    world: Truth | None
    reads: tuple[int, ...]


class _Tokens:
    """A program spelt in tokens. Nothing here touches durable-rules."""

    def __init__(self, program: Program) -> None:
        self.program = program
        clauses, premises = len(program.clauses), len(program.premises)
        self.readers = tuple(
            tuple(at for at, clause in enumerate(program.clauses) if index in clause.waits_for)
            for index in range(premises)
        )
        # Tokens: bodies possible, bodies certain, premises possible, premises certain.
        self.rules: dict[str, _Rule] = {}
        for at, clause in enumerate(program.clauses):
            waits_for = tuple(dict.fromkeys(clause.waits_for))
            if not waits_for:  # then one rule serves both worlds: it fires in that of its body
                self.rules[str(at)] = _Rule(at, None, (at,))
                continue
            open_tokens = (at, *(2 * clauses + index for index in waits_for))
            sure_tokens = (at + clauses, *(2 * clauses + premises + index for index in waits_for))
            self.rules[f"{at}?"] = _Rule(at, UNKNOWN, open_tokens)
            self.rules[f"{at}!"] = _Rule(at, YES, sure_tokens)
        # What is asserted, by the truth of a body; and for a premise by what was given and what is to be.
        self.body = tuple(
            ("", _fact(at), _facts((at, at + clauses)) if clause.waits_for else _fact(at))
            for at, clause in enumerate(program.clauses)
        )
        pairs = [(2 * clauses + index, 2 * clauses + premises + index) for index in range(premises)]
        self.premise = tuple((("", _fact(p), _facts((p, c))), ("", "", _fact(c))) for p, c in pairs)

    @cached_property
    def read(self) -> tuple[int, ...]:
        """Every token that some rule reads."""
        return tuple(dict.fromkeys(token for rule in self.rules.values() for token in rule.reads))

    @cached_property
    def chained(self) -> tuple[tuple[tuple[tuple[int, Truth], ...], ...], ...]:
        """Premises that a clause gives when it fires, and in which world: by clause, then by its truth."""
        program = self.program
        values: dict[int, set[str]] = {word: set() for word in range(len(program.words))}
        for clause in program.clauses:
            if clause.establishes is not None:
                values[clause.establishes[0]].add(clause.establishes[1])
        gifts: list[tuple[tuple[tuple[int, Truth], ...], ...]] = []
        for clause in program.clauses:
            word, value = clause.establishes or (-1, "")
            met = [
                (at, premise.accepts >= values[word])
                for at, premise in enumerate(program.premises)
                if premise.word == word and value in premise.accepts
            ]
            possible = tuple((at, UNKNOWN) for at, _ in met)
            gifts.append(((), possible, tuple((at, YES if settled else UNKNOWN) for at, settled in met)))
        return tuple(gifts)

    @cached_property
    def limits_passed(self) -> tuple[str, ...]:
        clauses = self.program.clauses
        said = [
            f"{clause.rule} waits for {len(set(clause.waits_for))} premises on established words; "
            f"{PATTERNS_A_RULE - 1} is the most"
            for clause in clauses
            if len(set(clause.waits_for)) >= PATTERNS_A_RULE
        ]
        said += [
            f"{len(readers)} rules wait for the same premise on "
            f"{self.program.words[self.program.premises[index].word].name}; {RULES_A_TOKEN} is the most"
            for index, readers in enumerate(self.readers)
            if len(readers) > RULES_A_TOKEN
        ]
        if max(Counter(token % BUCKETS for token in self.read).values(), default=0) > TOKENS_A_BUCKET:
            said.append(f"{len(self.read)} propositions about one kind of subject are too many")
        if len(self.rules) > RULES:
            said.append(f"{len(clauses)} rules about one kind of subject are too many")
        hashes = Counter(_hash(name) for name in (CASE_FACT, *map(_name, self.read)))
        if hashes.total() > len(hashes):
            said.append("two propositions would look the same to durable-rules")
        return tuple(said)

    @cached_property
    def definition(self) -> str:
        """The rules as durable-rules reads them. `dist: 0` lets one token serve several patterns."""
        patterns = {token: {"$and": [{"b": token % BUCKETS}, {"l": token}]} for token in self.read}
        return json.dumps(
            {
                name: {
                    "all": [{f"m_{at}": patterns[token]} for at, token in enumerate(rule.reads)],
                    "dist": 0,
                }
                for name, rule in self.rules.items()
            }
        )


class _Ruleset:
    """A program compiled in durable-rules."""

    def __init__(self, core: Core, program: Program) -> None:
        self.core = core
        self.tokens = tokens = _Tokens(program)
        if tokens.limits_passed:
            limits = "; ".join(tokens.limits_passed)
            raise EngineFault(f"durable-rules cannot be trusted with these rules: {limits}.")
        self.levels = tuple(stratum.words for stratum in strata(program))
        self.wirings = wirings(program)
        self.handle = core.create_ruleset("conserve", tokens.definition) if tokens.rules else 0
        if self.handle:
            try:
                self._fire_every_rule()
            except BaseException:
                self.delete()
                raise

    def delete(self) -> None:
        """Free the memory of the ruleset."""
        if self.handle:
            self.core.delete_ruleset(self.handle)

    def fire(self, bodies: tuple[Truth, ...]) -> Outcome:
        """Fire in a case of its own, and delete the case. After an error the ruleset must be deleted."""
        case = _Case(self, bodies)
        for words in self.levels:
            case.run()
            for word in words:
                case.settle(word)
        case.run()
        if any(bodies):  # else there never was a case
            self.core.delete_state(self.handle, CASE)
        return Outcome(tuple(case.clauses), tuple(case.premises), tuple(case.words))

    def assert_facts(self, facts: Iterable[str]) -> int:
        """Give facts to the case and return the number of the case, which is not its id."""
        code, state = self.core.assert_facts(self.handle, "[" + ",".join(facts) + "]")
        if code:  # 1: no rule reads it; 2: it was there before. Neither can be, so the ruleset is broken.
            raise RuntimeError(f"a proposition was refused with code {code}")
        return state

    def fired(self, state: int) -> Iterator[str]:
        """Name rules as they fire. What is asserted before the next is asked for takes part."""
        started = self.core.start_action_for_state(self.handle, state)
        message = started[1] if started else None
        while message:
            yield message[2 : message.index('"', 2)]  # the facts that fired it follow, and are known
            message = self.core.complete_and_start_action(self.handle, state)

    def _fire_every_rule(self) -> None:
        """Prove the ruleset, and make deleting a case safe (see the module)."""
        state = self.assert_facts(map(_fact, self.tokens.read))
        if sorted(self.fired(state)) != sorted(self.tokens.rules):
            raise RuntimeError("not every rule fired once")
        self.core.delete_state(self.handle, CASE)


class _Case:
    """One firing: what durable-rules has been told, and what it has made of it."""

    def __init__(self, ruleset: _Ruleset, bodies: tuple[Truth, ...]) -> None:
        self.ruleset = ruleset
        self.tokens = ruleset.tokens
        self.bodies = bodies
        self.clauses = [NO] * len(bodies)
        self.premises = [NO] * len(self.tokens.readers)
        self.words: list[tuple[str, ...]] = [()] * len(ruleset.wirings)
        self._told = [NO] * len(self.tokens.readers)  # the world in which each premise was asserted
        self._facts = [self.tokens.body[at][body] for at, body in enumerate(bodies) if body]

    def run(self) -> None:
        """Assert what is to be told and follow the rules that fire, and those that these fire, to the end."""
        if not self._facts:
            return
        state = self._assert()
        for name in self.ruleset.fired(state):
            rule = self.tokens.rules[name]
            at = rule.clause
            world = self.bodies[at] if rule.world is None else rule.world
            if world > self.clauses[at]:
                self.clauses[at] = world
                for premise, reached in self.tokens.chained[at][world]:
                    self._tell(premise, reached)
                if self._facts:
                    self._assert()

    def settle(self, word: int) -> None:
        """Decide a word once every rule that could establish it has fired or never will."""
        wiring = self.ruleset.wirings[word]
        sure = {value for at, value in wiring.givers if self.clauses[at] is YES}
        possible = sure.union([value for at, value in wiring.givers if self.clauses[at] is UNKNOWN])
        if not sure:
            possible.add(wiring.otherwise)
        self.words[word] = tuple([value for value in wiring.values if value in possible])
        for at, accepts in wiring.askers:
            self.premises[at] = YES if possible <= accepts else UNKNOWN if possible & accepts else NO
            self._tell(at, self.premises[at])

    def _tell(self, premise: int, world: Truth) -> None:
        """Note the tokens of a premise that are missing, unless every rule that reads them is silent."""
        told = self._told[premise]
        if world > told and any(self.bodies[at] for at in self.tokens.readers[premise]):
            self._facts.append(self.tokens.premise[premise][told][world])
            self._told[premise] = world

    def _assert(self) -> int:
        state = self.ruleset.assert_facts(self._facts)
        self._facts = []
        return state


def _name(token: int) -> str:
    return f"t{token}"


def _fact(token: int) -> str:
    return f'{{"sid":"{CASE}","id":"{_name(token)}","b":{token % BUCKETS},"l":{token}}}'


def _facts(tokens: Iterable[int]) -> str:
    return ",".join(map(_fact, tokens))


def _hash(text: str) -> int:
    """FNV-1a, 32 bits: all that durable-rules knows of an id."""
    code = 2166136261
    for byte in text.encode():
        code = (code ^ byte) * 16777619 & 0xFFFFFFFF
    return code
