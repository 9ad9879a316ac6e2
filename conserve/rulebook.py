"""The rulebook: every rule and source, checked against one another."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from conserve.engine import Clause, Program, Word, circles
from conserve.engine import Premise as Awaited
from conserve.files import Folder
from conserve.problem import Problem, nearest
from conserve.rule import (
    COMMON_PRACTICE,
    EffectKind,
    Premise,
    Rule,
    Status,
    Test,
    read_rule,
    rule_shape,
)
from conserve.shape import Choice, Either, Field, Identifier, Line, MapOf, Problems, Record, Words
from conserve.terms import SEES, Giver, Vocabulary, read_vocabulary
from conserve.yamlfile import Entries, Node, Text, read_yaml


@dataclass(frozen=True, slots=True)
class Clauses:
    """A published source, and what its cited clauses say, in our own words."""

    id: str
    title: str
    edition: str
    publisher: str
    gists: Mapping[str, tuple[str, str]]  # clause -> (gist, read: yes | in part | no)


@dataclass(frozen=True, slots=True)
class KindProgram:
    """The adopted rules about one kind of subject, as propositions."""

    rules: tuple[Rule, ...]
    premises: tuple[Premise, ...]  # those judged before inference, each once however many rules share it
    ordinary: tuple[tuple[int, ...], ...]  # for each rule: which of these
    program: Program


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Rules, sources and words that have been checked together."""

    vocabulary: Vocabulary
    sources: Mapping[str, Clauses]
    rules: tuple[Rule, ...]  # every rule, by id
    programs: Mapping[str, KindProgram]  # kind of subject -> its adopted rules
    digest: str

    def rule(self, name: str) -> Rule | None:
        return next((rule for rule in self.rules if rule.id == name), None)


_SOURCES = MapOf(
    Identifier(),
    Record(
        (
            Field("title", Line(), required=True),
            Field("edition", Line()),
            Field("publisher", Line()),
            Field("url", Line()),
            Field("note", Words()),
            Field(
                "clauses",
                Either(
                    text=Choice(("none",), "clauses"),
                    entries=MapOf(
                        Line(),
                        Record(
                            (
                                Field("gist", Words(), required=True),
                                Field("read", Choice(("yes", "in part", "no"), "answer"), required=True),
                                Field("note", Words()),
                            )
                        ),
                    ),
                ),
                required=True,
            ),
        )
    ),
)
_NOT_RULES = ("sources.yaml", "terms.yaml", "techniques.yaml")


def read_rulebook(folder: Folder) -> tuple[Rulebook | None, tuple[Problem, ...]]:
    """Read every rule in a folder, or say everything that is wrong with them."""
    vocabulary, problems = read_vocabulary(folder)
    into = Problems("R")
    into.extend(problems)
    sources = _read_sources(folder, into)
    if vocabulary is None:
        return None, into.all
    names = [n for n in folder.names("", ".yaml") if n not in _NOT_RULES and not n.startswith("overlays/")]
    rules = tuple(rule for name in names if (rule := _read_rule(folder, name, vocabulary, into)) is not None)
    _check_sources(rules, sources, into)
    _check_overrides(rules, into)
    _check_clashes(rules, vocabulary, into)
    _check_can_apply(rules, vocabulary, into)
    programs = {kind: _program(rules, kind, vocabulary) for kind in SEES}
    for kind in SEES:
        for circle in circles(programs[kind].program):
            where = next(r.where for r in rules if r.about == kind)
            into.note(where, 52, f"terms establish one another in a circle: {' > '.join(circle)}")
    if into.all:
        return None, into.all
    return Rulebook(vocabulary, sources, rules, programs, _digest(folder, names)), ()


def _read_sources(folder: Folder, into: Problems) -> dict[str, Clauses]:
    node, problems = read_yaml(folder, "sources.yaml", "R", shown="rules/sources.yaml")
    into.extend(problems)
    value = None if node is None else _SOURCES.read(node, into)
    found = {}
    for name, entry in (value.content if value else {}).items():
        said = entry.content
        clauses = said["clauses"].content if "clauses" in said else {}
        title, edition, publisher = (
            str(said[key].content) if key in said else "" for key in ("title", "edition", "publisher")
        )
        found[name] = Clauses(
            name,
            title,
            edition,
            publisher,
            gists={}
            if isinstance(clauses, str)
            else {
                clause: (v.content["gist"].content.strip(), v.content["read"].content) for clause, v in clauses.items()
            },
        )
    return found


def _read_rule(folder: Folder, name: str, vocabulary: Vocabulary, into: Problems) -> Rule | None:
    node, problems = read_yaml(folder, name, "R", shown=f"rules/{name}")
    into.extend(problems)
    if node is None:
        return None
    value = rule_shape(_about(node), vocabulary).read(node, into)
    if value is None or any(problem.where.file == f"rules/{name}" for problem in into.all):
        return None
    rule = read_rule(value, vocabulary, into)
    if rule.id != name.removesuffix(".yaml"):
        into.note(rule.where, 47, f"the id '{rule.id}' is not the file's path", f"id: {name.removesuffix('.yaml')}")
    return rule


def _about(node: Node) -> str:
    """What the rule is about, before it can be read; a wrong one is reported when it is."""
    if isinstance(node, Entries):
        for key, value in node.items:
            if key.value == "about" and isinstance(value, Text) and value.value in SEES:
                return value.value
    return "act"


# ---- checks across rules ----------------------------------------------------------------------------


def _check_sources(rules: Iterable[Rule], sources: Mapping[str, Clauses], into: Problems) -> None:
    for rule in rules:
        if not rule.sources:
            into.note(rule.where, 48, "no source", f"cite a clause, or write [{COMMON_PRACTICE}]")
        for cited in rule.sources:
            source = sources.get(cited.source)
            if source is None:
                known = nearest(cited.source, sources)
                into.note(
                    cited.where, 48, f"unknown source '{cited.source}'", f"did you mean '{known}'?" if known else ""
                )
            elif source.gists and cited.clause not in source.gists:
                into.note(
                    cited.where,
                    48,
                    f"'{cited.source}' has no clause '{cited.clause}' in sources.yaml",
                    f"one of {', '.join(sorted(source.gists))}",
                )
            elif cited.clause and not source.gists:
                into.note(cited.where, 48, f"'{cited.source}' has no clauses; '{cited.clause}' cannot be looked up")


def _check_overrides(rules: tuple[Rule, ...], into: Problems) -> None:
    by_id = {rule.id: rule for rule in rules}
    for rule in rules:
        for edge in rule.overrides:
            other = by_id.get(edge.rule)
            if other is None:
                known = nearest(edge.rule, by_id)
                into.note(
                    edge.where,
                    49,
                    f"overrides '{edge.rule}', which does not exist",
                    f"did you mean '{known}'?" if known else "",
                )
            elif EffectKind.ESTABLISH in (rule.then.kind, other.then.kind):
                into.note(
                    edge.where,
                    49,
                    "a rule that establishes a term takes no part in overriding",
                    "add a premise that tells the two cases apart",
                )
            elif other.then.gate and not rule.then.gate:
                into.note(edge.where, 49, f"'{edge.rule}' is a gate of law or safety; only a gate may override it")
    for circle in _override_circles(by_id):
        where = min(edge.where for edge in by_id[circle[0]].overrides)
        into.note(where, 50, f"rules override one another in a circle: {' > '.join((*circle, circle[0]))}")


def _override_circles(rules: Mapping[str, Rule]) -> list[tuple[str, ...]]:
    """Circles of overrides, each once, from its first rule by name."""
    found: set[tuple[str, ...]] = set()

    def walk(name: str, path: tuple[str, ...]) -> None:
        if name in path:
            circle = path[path.index(name) :]
            first = circle.index(min(circle))
            found.add(circle[first:] + circle[:first])
            return
        for edge in rules[name].overrides:
            if edge.rule in rules:
                walk(edge.rule, (*path, name))

    for name in sorted(rules):
        walk(name, ())
    return sorted(found)


def _check_clashes(rules: tuple[Rule, ...], vocabulary: Vocabulary, into: Problems) -> None:
    """Two rules that can give one term different values for the same thing."""
    givers = [rule for rule in rules if rule.then.kind is EffectKind.ESTABLISH and rule.status is not Status.WITHDRAWN]
    for number, first in enumerate(givers):
        for second in givers[number + 1 :]:
            (term, value), (other_term, other_value) = first.then.establishes, second.then.establishes
            if term == other_term and value != other_value and not _exclude(first, second, vocabulary):
                into.note(
                    second.where,
                    51,
                    f"gives '{term}' the value '{other_value}' where '{first.id}' "
                    f"({first.where}) may give it '{value}'",
                    "add a premise that tells the two cases apart",
                )


def _exclude(first: Rule, second: Rule, vocabulary: Vocabulary) -> bool:
    """Whether some premise of each makes it certain that both cannot apply."""
    theirs = {p.term: p.test for p in second.when if not vocabulary.terms[p.term].many}
    return any(p.term in theirs and _disjoint(p.test, theirs[p.term]) for p in first.when)


def _disjoint(one: Test, other: Test) -> bool:
    return bool(one.accepts) and bool(other.accepts) and not set(one.accepts) & set(other.accepts)


def _check_can_apply(rules: Iterable[Rule], vocabulary: Vocabulary, into: Problems) -> None:
    """No technique there is satisfies every premise on techniques: the rule can never apply."""
    for rule in rules:
        tests = {p.term: p.test.accepts for p in rule.when if p.term.startswith("technique.")}
        named = next((p.test.accepts for p in rule.when if p.term == "act.technique"), tuple(vocabulary.techniques))
        if tests and not any(
            all(vocabulary.techniques[name].facts[term] in accepts for term, accepts in tests.items()) for name in named
        ):
            into.note(rule.where, 53, "can never apply: no technique meets all its premises on techniques")
        many = {p.term for p in rule.when if not p.test.accepts and not p.test.bounds}
        for term in sorted(many):
            into.note(rule.where, 53, f"can never apply: nothing meets its premise on {term}")


# ---- rules as propositions --------------------------------------------------------------------------


def _program(rules: tuple[Rule, ...], kind: str, vocabulary: Vocabulary) -> KindProgram:
    """The adopted rules about a kind of subject; premises on words they establish themselves are awaited."""
    own = tuple(rule for rule in rules if rule.about == kind and rule.status is Status.ADOPTED)
    words = vocabulary.of(kind, Giver.RULE)
    number = {term.name: index for index, term in enumerate(words)}
    awaited = sorted({(number[p.term], tuple(sorted(p.test.accepts))) for r in own for p in r.when if p.term in number})
    place = {premise: index for index, premise in enumerate(awaited)}
    ordinary = {(p.term, p.test): p for rule in own for p in rule.when if p.term not in number}
    which = {asked: index for index, asked in enumerate(ordinary)}
    return KindProgram(
        rules=own,
        premises=tuple(ordinary.values()),
        ordinary=tuple(tuple(which[p.term, p.test] for p in r.when if p.term not in number) for r in own),
        program=Program(
            clauses=tuple(
                Clause(
                    rule=rule.id,
                    waits_for=tuple(
                        place[number[p.term], tuple(sorted(p.test.accepts))] for p in rule.when if p.term in number
                    ),
                    establishes=(
                        (number[rule.then.establishes[0]], rule.then.establishes[1])
                        if rule.then.kind is EffectKind.ESTABLISH
                        else None
                    ),
                )
                for rule in own
            ),
            words=tuple(Word(term.name, term.values, term.otherwise) for term in words),
            premises=tuple(Awaited(word, frozenset(accepts)) for word, accepts in awaited),
        ),
    )


def _digest(folder: Folder, names: Iterable[str]) -> str:
    """One SHA-256 over the names and digests of every file that can change a verdict."""
    lines = (f"{folder.digest(name)}  {name}\n" for name in sorted((*_NOT_RULES, *names)))
    return hashlib.sha256("".join(lines).encode()).hexdigest()
