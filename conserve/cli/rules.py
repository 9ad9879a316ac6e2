"""The commands about rules: list, show, try."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.parser import Parser, takes_json, takes_rules, with_example
from conserve.cli.reading import chosen_from, read_rules
from conserve.cli.showing import as_json, counted, in_colour, table, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from conserve.rule import Citation, Example, Rule
    from conserve.rulebook import Rulebook

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
    trying.set_defaults(run=_try)
    for one in (listing, showing, trying):
        takes_rules(one)
        takes_json(one)


def _try(given: argparse.Namespace) -> int:
    from conserve.cli.trying import try_rule

    return try_rule(given)


def rule_named(name: str, rulebook: Rulebook) -> Rule:
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
    rule = rule_named(given.rule, rulebook)
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
    facts = ", ".join(f"{name} = {told_values(values)}" for name, values in example.given.items()) or "nothing is known"
    return wrapped(f"{example.name}: {facts}: {example.expect}", "    ", "  ")


def told_values(values: Sequence[object]) -> str:
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
            {"name": e.name, "given": {k: told_values(v) for k, v in e.given.items()}, "expect": e.expect}
            for e in rule.examples
        ],
    }
