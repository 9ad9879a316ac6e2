"""What must fit together across rules: sources, edges, values that clash, rules that can never apply."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from conserve.problem import nearest
from conserve.rule import COMMON_PRACTICE, EffectKind, Rule, Status, Test
from conserve.rulebook.model import Clauses
from conserve.shape import Problems
from conserve.terms import Vocabulary


def check_sources(rules: Iterable[Rule], sources: Mapping[str, Clauses], into: Problems) -> None:
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


def check_overrides(rules: tuple[Rule, ...], into: Problems) -> None:
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


def check_beside(rules: tuple[Rule, ...], into: Problems) -> None:
    """Rules said to stand beside one another exist, and are two."""
    ids = [rule.id for rule in rules]
    for rule in rules:
        for edge in rule.beside:
            if edge.rule not in ids or edge.rule == rule.id:
                known = nearest(edge.rule, ids)
                hint = f"did you mean '{known}'?" if known else ""
                into.note(edge.where, 49, f"stands beside '{edge.rule}', which is no other rule", hint)


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


def check_clashes(rules: tuple[Rule, ...], vocabulary: Vocabulary, into: Problems) -> None:
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


def check_can_apply(rules: Iterable[Rule], vocabulary: Vocabulary, into: Problems) -> None:
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
