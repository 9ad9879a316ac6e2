"""Show one rule: why it is there, what it does, where from, and its examples."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.rules import rule_named, rules_meant, short_json
from conserve.cli.showing import as_json, in_colour, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from conserve.rule import Citation, Example, Rule
    from conserve.rulebook import Rulebook

DONE = 0
_READ = {"yes": "read", "in part": "read in part", "no": "cited from memory"}


def show_rule(given: argparse.Namespace) -> int:
    rulebook = rules_meant(given)
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
    edges = [wrapped(edge, "    ", "  ") for edge in _edges_told(rule, rulebook)]
    if edges:
        lines += ["", in_colour("Other rules", "strong"), *edges]
    lines += ["", in_colour("Examples", "strong"), *(_example_told(example) for example in rule.examples)]
    return "\n".join(lines)


def _edges_told(rule: Rule, rulebook: Rulebook) -> Iterator[str]:
    """The rules that this one sets aside, is set aside by, or stands beside, each with the reason."""
    yield from (f"Sets {edge.rule} aside: {edge.why}" for edge in rule.overrides)
    yield from (f"Stands beside {edge.rule}: {edge.why}" for edge in rule.beside)
    for other in rulebook.rules:
        yield from (f"Set aside by {other.id}: {edge.why}" for edge in other.overrides if edge.rule == rule.id)
        yield from (f"Stands beside {other.id}: {edge.why}" for edge in other.beside if edge.rule == rule.id)


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
        **short_json(rule),
        "since": rule.since.isoformat(),
        "because": rule.because,
        "says": rule.then.says,
        "instead": rule.then.instead,
        "logic": read_back(rule, rulebook.vocabulary),
        "sources": cited,
        "overrides": [{"rule": edge.rule, "why": edge.why} for edge in rule.overrides],
        "beside": [{"rule": edge.rule, "why": edge.why} for edge in rule.beside],
        "examples": [
            {"name": e.name, "given": {k: told_values(v) for k, v in e.given.items()}, "expect": e.expect}
            for e in rule.examples
        ],
    }
