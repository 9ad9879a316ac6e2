"""The commands about rules: list, show, try, and what is found by searching them."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.parser import Parser, takes_json, takes_overlays, takes_rules, with_example
from conserve.cli.reading import chosen_from, read_rules, rules_folder
from conserve.cli.searching import add_searches
from conserve.cli.showing import as_json, counted, table, wrapped
from conserve.files import Folder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from conserve.rule import Rule
    from conserve.rulebook import Rulebook

DONE = 0


def add_rules(parser: argparse.ArgumentParser) -> None:
    with_example(parser, "conserve rules list", "conserve rules show record/hidden-first")
    below = parser.add_subparsers(title="what to do with them", metavar="WHAT", required=True, parser_class=Parser)
    looking, standing = _add_looking(below), _add_standing(below)
    for one in (*looking, *standing):
        takes_overlays(one)
    for one in standing:
        one.add_argument("casebook", nargs="*", metavar="CASEBOOK", help="casebooks to count as well")
    for one in (*looking, *standing, *add_searches(below)):
        takes_rules(one)
        takes_json(one)


def _add_looking(below: argparse._SubParsersAction[Parser]) -> tuple[Parser, ...]:
    """The commands that look at rules: list, show, try."""
    listing = below.add_parser("list", help="list the rules", description="List the rules.")
    listing.add_argument("--principle", metavar="PRINCIPLE", help="only those of one principle, such as machining")
    listing.add_argument(
        "--source", metavar="SOURCE", help="only those that stand on one source, such as aic-guidelines"
    )
    listing.add_argument("--effect", metavar="EFFECT", help="only those of one effect, such as forbid")
    with_example(
        listing, "conserve rules list --principle machining", "conserve rules list --effect forbid --overlay gb"
    )
    listing.set_defaults(run=list_rules)
    showing = below.add_parser("show", help="show one rule", description="Show a rule, why it is there and where from.")
    showing.add_argument("rule", metavar="RULE", help="the rule's id")
    with_example(showing, "conserve rules show machining/functional-face-only")
    showing.set_defaults(run=_show)
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
    return listing, showing, trying


def _add_standing(below: argparse._SubParsersAction[Parser]) -> tuple[Parser, ...]:
    """The commands that tell what stands behind rules: sources, coverage."""
    sources = below.add_parser(
        "sources",
        help="tell what stands on each source",
        description="Tell for each clause of each source which rules stand on it, and what has tried them.",
    )
    with_example(sources, "conserve rules sources casebook/marrow-fen")
    sources.set_defaults(run=_sources)
    coverage = below.add_parser(
        "coverage",
        help="tell what nothing has tried",
        description="Tell which rules, premises, values and limits no example and no casebook has tried.",
    )
    with_example(coverage, "conserve rules coverage casebook/marrow-fen")
    coverage.set_defaults(run=_coverage)
    return sources, coverage


def _show(given: argparse.Namespace) -> int:
    from conserve.cli.describing import show_rule

    return show_rule(given)


def _try(given: argparse.Namespace) -> int:
    from conserve.cli.trying import try_rule

    return try_rule(given)


def _sources(given: argparse.Namespace) -> int:
    from conserve.cli.standing import tell_sources

    return tell_sources(given)


def _coverage(given: argparse.Namespace) -> int:
    from conserve.cli.standing import tell_coverage

    return tell_coverage(given)


def rules_meant(given: argparse.Namespace) -> Rulebook:
    """The rules with the overlays that are asked for, and with those that the asked rules belong to."""
    asked = getattr(given, "rule", [])
    names = [asked] if isinstance(asked, str) else asked
    own = [name.partition("/")[0] for name in names if name.count("/") > 1]
    return read_rules(given.rules, json=given.json, overlays=[*given.overlay, *own])


def rule_named(name: str, rulebook: Rulebook) -> Rule:
    chosen_from("rule", name, (rule.id for rule in rulebook.rules))
    return next(rule for rule in rulebook.rules if rule.id == name)


# ---- list -------------------------------------------------------------------------------------------


def list_rules(given: argparse.Namespace) -> int:
    rulebook = rules_meant(given)
    rules = _chosen(given, rulebook)
    if given.json:
        laid = [overlay.name for overlay in rulebook.overlays]
        print(as_json({"rulebook": rulebook.digest, "overlays": laid, "rules": [short_json(rule) for rule in rules]}))
        return DONE
    rows = [(r.id, r.about, f"{r.then.kind}{_status(r)}", ", ".join(map(str, r.sources))) for r in rules]
    print(table(("rule", "about", "effect", "source"), rows))
    print(f"{counted(len(rows), 'rule')}.")
    for line in _overlays_told(given, rulebook):
        print(wrapped(line))
    return DONE


def _chosen(given: argparse.Namespace, rulebook: Rulebook) -> list[Rule]:
    """The rules of the principle, source and effect that are asked for."""
    said = [
        (
            rule,
            {
                "principle": [rule.principle],
                "effect": [str(rule.then.kind)],
                "source": [c.source for c in rule.sources],
            },
        )
        for rule in rulebook.rules
    ]
    wanted = {what: getattr(given, what) for what in ("principle", "source", "effect") if getattr(given, what)}
    for what, asked in wanted.items():
        chosen_from(what, asked, dict.fromkeys(name for _, names in said for name in names[what]))
    return [rule for rule, names in said if all(asked in names[what] for what, asked in wanted.items())]


def _overlays_told(given: argparse.Namespace, rulebook: Rulebook) -> Iterator[str]:
    """What is laid over the rules, and what could be."""
    from conserve.rulebook import overlays_of

    laid = {overlay.name: overlay.title for overlay in rulebook.overlays}
    yield from (f"Laid over them: {name}. {title}." for name, title in laid.items())
    more = [name for name in overlays_of(Folder(rules_folder(given.rules))) if name not in laid]
    if more:
        yield f"To be laid over them with --overlay: {', '.join(more)}."


def _status(rule: Rule) -> str:
    return "" if rule.status == "adopted" else f" ({rule.status})"


def short_json(rule: Rule) -> dict[str, object]:
    return {
        "id": rule.id,
        "title": rule.title,
        "status": str(rule.status),
        "about": rule.about,
        "effect": str(rule.then.kind),
        "sources": [str(cited) for cited in rule.sources],
    }
