"""The commands about rules: list, show, try."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.parser import Parser, takes_json, takes_rules, with_example
from conserve.cli.reading import Refused, chosen_from, read_rules
from conserve.cli.showing import as_json, counted, in_colour, table, wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from conserve.inference import Tried
    from conserve.quantity import Quantity
    from conserve.rule import Citation, Example, Rule
    from conserve.rulebook import Rulebook
    from conserve.terms import Term

DONE = 0
_READ = {"yes": "read", "in part": "read in part", "no": "cited from memory"}


def add_rules(parser: argparse.ArgumentParser) -> None:
    with_example(parser, "conserve rules list", "conserve rules show record/hidden-first")
    below = parser.add_subparsers(title="what to do with them", metavar="WHAT", required=True, parser_class=Parser)
    listing = below.add_parser("list", help="list the rules", description="List the rules.")
    listing.add_argument("--principle", metavar="PRINCIPLE", help="only those of one principle, such as machining")
    with_example(listing, "conserve rules list --principle machining")
    listing.set_defaults(run=list_rules)
    showing = below.add_parser("show", help="show one rule", description="Show a rule, why it is there and where from.")
    showing.add_argument("rule", metavar="RULE", help="the rule's id")
    with_example(showing, "conserve rules show machining/functional-face-only")
    showing.set_defaults(run=show_rule)
    trying = below.add_parser(
        "try",
        help="try a rule on facts you make up",
        description="Try a rule on facts you make up. What is left out is not known; a technique brings its own.",
    )
    trying.add_argument("rule", metavar="RULE", help="the rule's id")
    trying.add_argument("facts", nargs="*", metavar="TERM=VALUE", help="a fact, such as surface.function=sliding")
    with_example(
        trying, "conserve rules try machining/functional-face-only act.technique=milling surface.function=datum"
    )
    trying.set_defaults(run=try_rule)
    for one in (listing, showing, trying):
        takes_rules(one)
        takes_json(one)


def _rule(name: str, rulebook: Rulebook) -> Rule:
    chosen_from("rule", name, (rule.id for rule in rulebook.rules))
    return next(rule for rule in rulebook.rules if rule.id == name)


# ---- list -------------------------------------------------------------------------------------------


def list_rules(given: argparse.Namespace) -> int:
    rulebook = read_rules(given.rules, json=given.json)
    if given.principle:
        chosen_from("principle", given.principle, dict.fromkeys(rule.principle for rule in rulebook.rules))
    rules = [rule for rule in rulebook.rules if given.principle in (None, rule.principle)]
    if given.json:
        print(as_json({"rulebook": rulebook.digest, "rules": [_short_json(rule) for rule in rules]}))
        return DONE
    rows = [(r.id, r.about, f"{r.then.kind}{_status(r)}", ", ".join(map(str, r.sources))) for r in rules]
    print(table(("rule", "about", "effect", "source"), rows))
    print(f"{counted(len(rows), 'rule')}.")
    return DONE


def _status(rule: Rule) -> str:
    return "" if rule.status == "adopted" else f" ({rule.status})"


def _short_json(rule: Rule) -> dict[str, object]:
    return {
        "id": rule.id,
        "title": rule.title,
        "status": str(rule.status),
        "about": rule.about,
        "effect": str(rule.then.kind),
        "sources": [str(cited) for cited in rule.sources],
    }


# ---- show -------------------------------------------------------------------------------------------


def show_rule(given: argparse.Namespace) -> int:
    rulebook = read_rules(given.rules, json=given.json)
    rule = _rule(given.rule, rulebook)
    print(as_json(_rule_json(rule, rulebook)) if given.json else _rule_told(rule, rulebook))
    return DONE


def _rule_told(rule: Rule, rulebook: Rulebook) -> str:
    from conserve.readback import generally, read_back

    lines = [
        in_colour(rule.title, "strong"),
        f"{rule.id}, about each {rule.about}, {rule.status}, since {rule.since}",
        "",
        wrapped(rule.because),
        "",
        wrapped(read_back(rule, rulebook.vocabulary)),
    ]
    if rule.then.instead:
        lines.append(wrapped(f"Instead: {generally(rule.then.instead)}"))
    lines += ["", in_colour("From", "strong"), *(_source_told(cited, rulebook) for cited in rule.sources)]
    edges = [f"Sets {edge.rule} aside: {edge.why}" for edge in rule.overrides]
    edges += [
        f"Set aside by {other.id}: {edge.why}"
        for other in rulebook.rules
        for edge in other.overrides
        if edge.rule == rule.id
    ]
    if edges:
        lines += ["", in_colour("Overriding", "strong"), *(wrapped(edge, "    ", "  ") for edge in edges)]
    lines += ["", in_colour("Examples", "strong"), *(_example_told(example) for example in rule.examples)]
    return "\n".join(lines)


def _source_told(cited: Citation, rulebook: Rulebook) -> str:
    source = rulebook.sources[cited.source]
    edition = f" ({source.edition})" if source.edition else ""
    gist, read = source.gists.get(cited.clause, ("", ""))
    clause = f", {cited.clause}" if cited.clause else ""
    says = f": {gist} [{_READ[read]}]" if gist else ""
    return wrapped(f"{source.title}{edition}{clause}{says}", "    ", "  ")


def _example_told(example: Example) -> str:
    facts = ", ".join(f"{name} = {_values(values)}" for name, values in example.given.items()) or "nothing is known"
    return wrapped(f"{example.name}: {facts}: {example.expect}", "    ", "  ")


def _values(values: Sequence[object]) -> str:
    from conserve.quantity import Quantity, show

    return ", ".join(show(value) if isinstance(value, Quantity) else str(value) for value in values) or "none"


def _rule_json(rule: Rule, rulebook: Rulebook) -> dict[str, object]:
    from conserve.readback import read_back

    cited = [
        {
            "source": one.source,
            "clause": one.clause,
            "title": rulebook.sources[one.source].title,
            "gist": rulebook.sources[one.source].gists.get(one.clause, ("", ""))[0],
            "read": rulebook.sources[one.source].gists.get(one.clause, ("", ""))[1],
        }
        for one in rule.sources
    ]
    return {
        **_short_json(rule),
        "since": rule.since.isoformat(),
        "because": rule.because,
        "says": rule.then.says,
        "instead": rule.then.instead,
        "logic": read_back(rule, rulebook.vocabulary),
        "sources": cited,
        "overrides": [{"rule": edge.rule, "why": edge.why} for edge in rule.overrides],
        "examples": [
            {"name": e.name, "given": {k: _values(v) for k, v in e.given.items()}, "expect": e.expect}
            for e in rule.examples
        ],
    }


# ---- try --------------------------------------------------------------------------------------------


def try_rule(given: argparse.Namespace) -> int:
    from conserve.inference import tried

    rulebook = read_rules(given.rules, json=given.json)
    rule = _rule(given.rule, rulebook)
    facts = _facts(given.facts, rule, rulebook)
    outcome = tried(rule, facts, rulebook)
    if given.json:
        print(as_json(_tried_json(rule, facts, outcome)))
    else:
        print(_tried_told(rule, outcome, rulebook))
    return DONE


def _facts(texts: Sequence[str], rule: Rule, rulebook: Rulebook) -> dict[str, tuple[str | Quantity, ...]]:
    """The facts that a person gives, and those that a technique brings."""
    from conserve.rule import SEES
    from conserve.terms import Kind

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
        stands = (
            f"it is {_values(judged.fact.values)}" if judged.fact.values is not None else f"ask: {generally(term.ask)}"
        )
        decides = " and decides it" if judged in outcome.decisive else ""
        asked = f"{judged.term} is {test_as_written(judged.test)}"
        lines.append(wrapped(f"{asked}: {_ANSWERS[str(judged.truth)]}{decides}; {stands}", "    ", "  "))
    return "\n".join(lines)


def _tried_json(rule: Rule, facts: Mapping[str, Sequence[object]], outcome: Tried) -> dict[str, object]:
    return {
        "rule": rule.id,
        "given": {name: _values(values) for name, values in facts.items()},
        "outcome": outcome.outcome,
        "premises": [
            {"term": j.term, "truth": str(j.truth), "decides": j in outcome.decisive,
             "value": None if j.fact.values is None else _values(j.fact.values)}
            for j in outcome.grounds
        ],
    }  # fmt: skip
