"""Try a rule on facts that a person makes up."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.describing import told_values
from conserve.cli.reading import Refused, chosen_from
from conserve.cli.rules import rule_named, rules_meant
from conserve.cli.showing import as_json, in_colour, wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from conserve.inference import Tried
    from conserve.quantity import Quantity
    from conserve.rule import Rule
    from conserve.rulebook import Rulebook
    from conserve.terms import Term

DONE = 0


def try_rule(given: argparse.Namespace) -> int:
    from conserve.inference import tried

    rulebook = rules_meant(given)
    rule = rule_named(given.rule, rulebook)
    facts = _facts(given.facts, rule, rulebook)
    outcome = tried(rule, facts, rulebook)
    if given.json:
        print(as_json(_tried_json(rule, facts, outcome)))
    else:
        print(_tried_told(rule, outcome, rulebook))
    return DONE


def _facts(texts: Sequence[str], rule: Rule, rulebook: Rulebook) -> dict[str, tuple[str | Quantity, ...]]:
    """The facts that a person gives, and those that a technique brings."""
    from conserve.terms import SEES, Kind

    terms = {t.name: t for kind in SEES[rule.about] for t in rulebook.vocabulary.of(kind) if t.kind is not Kind.COUNT}
    found: dict[str, tuple[str | Quantity, ...]] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals:
            raise Refused(f"'{text}' is no fact", "write TERM=VALUE, such as surface.function=sliding")
        chosen_from(f"term that a rule about {rule.about} can see, called", name, terms)
        if value != "unknown":
            found[name] = (*found.get(name, ()), *_read(value, terms[name]))
    for technique in found.get("act.technique", ()):
        for name, value in rulebook.vocabulary.techniques[str(technique)].facts.items():
            found.setdefault(name, (value,))
    return found


def _read(text: str, term: Term) -> tuple[str | Quantity, ...]:
    """The values of one term, as its shape reads them."""
    from conserve.problem import Location
    from conserve.shape import Problems
    from conserve.terms import value_shape
    from conserve.yamlfile import Items, Text

    into, where = Problems("R"), Location(term.name)
    words = [Text(word.strip(), where, False) for word in (text.split(",") if term.many else [text])]
    value = value_shape(term).read(Items(tuple(words), where) if len(words) > 1 else words[0], into)
    if value is None or into.all:
        message, hint = next(((p.message, p.hint) for p in into.all), ("nothing is written", ""))
        raise Refused(f"{term.name}: {message}", hint)
    return tuple(item.content for item in value.content) if term.many else (value.content,)


_OUTCOMES = {
    "silent": "The rule is silent: it does not apply.",
    "open": "It cannot be told whether the rule applies.",
}
_ANSWERS = {"yes": "holds", "no": "does not hold", "unknown": "is not known"}


def _tried_told(rule: Rule, outcome: Tried, rulebook: Rulebook) -> str:
    from conserve.readback import generally, test_as_written

    lines = [in_colour(_OUTCOMES.get(outcome.outcome, f"The rule applies: {outcome.outcome}."), "strong")]
    if outcome.outcome not in _OUTCOMES and rule.then.says:
        lines.append(wrapped(generally(rule.then.says), "  "))
    for judged in outcome.grounds:
        term = rulebook.vocabulary.terms[judged.term]
        values = judged.fact.values
        stands = f"ask: {generally(term.ask)}" if values is None else f"it is {told_values(values)}"
        decides = " and decides it" if judged in outcome.decisive else ""
        asked = f"{judged.term} is {test_as_written(judged.test)}"
        lines.append(wrapped(f"{asked}: {_ANSWERS[str(judged.truth)]}{decides}; {stands}", "    ", "  "))
    return "\n".join(lines)


def _tried_json(rule: Rule, facts: Mapping[str, Sequence[object]], outcome: Tried) -> dict[str, object]:
    return {
        "rule": rule.id,
        "given": {name: told_values(values) for name, values in facts.items()},
        "outcome": outcome.outcome,
        "premises": [
            {"term": j.term, "truth": str(j.truth), "decides": j in outcome.decisive,
             "value": None if j.fact.values is None else told_values(j.fact.values)}
            for j in outcome.grounds
        ],
    }  # fmt: skip
