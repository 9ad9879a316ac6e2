"""What stands behind the rules: their sources, and what has tried them."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.reading import find, read_all, read_rules
from conserve.cli.showing import as_json, counted, in_colour, table, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from conserve.rulebook import Rulebook
    from conserve.search.coverage import Tries, Untried
    from conserve.weighing import Weighing

DONE = 0
_READ = {"yes": "read", "in part": "read in part", "no": "from memory"}


def tell_sources(given: argparse.Namespace) -> int:
    """Each source clause: the rules on it, their examples, the decisions they bore on; clauses with no rule."""
    from conserve.search.coverage import clause_uses

    rulebook, tries = _tries(given)
    uses = clause_uses(rulebook, tries)
    if given.json:
        print(as_json([
            {"source": u.source, "clause": u.clause, "rules": list(u.rules), "examples": u.examples,
             "decisions": u.decisions, "read": _read(rulebook, u.source, u.clause)}
            for u in uses
        ]))  # fmt: skip
        return DONE
    rows = [
        (
            f"{use.source} {use.clause}".strip(),
            _read(rulebook, use.source, use.clause),
            str(len(use.rules)),
            str(use.examples),
            str(use.decisions),
        )
        for use in uses
    ]
    print(table(("clause", "how known", "rules", "examples", "applied"), rows))
    idle = [f"{use.source} {use.clause}".strip() for use in uses if not use.rules]
    print(f"{counted(len(rows), 'clause')}. No rule stands on: {', '.join(idle) or 'none of them is idle'}.")
    return DONE


def _read(rulebook: Rulebook, source: str, clause: str) -> str:
    gists = rulebook.sources[source].gists
    return _READ[gists[clause][1]] if clause in gists else "not published"


def tell_coverage(given: argparse.Namespace) -> int:
    """Rules, premises, values and limits that no example and no casebook has tried."""
    _, tries = _tries(given)
    if given.json:
        print(as_json([
            {"rule": u.rule.id, "premise": u.premise.term if u.premise else None, "never": u.what}
            for u in tries.untried
        ]))  # fmt: skip
        return DONE
    by_rule: dict[str, list[str]] = {}
    for one in tries.untried:
        by_rule.setdefault(one.rule.id, []).append(_never(one))
    for name, told in by_rule.items():
        print(in_colour(name, "strong"))
        print("\n".join(wrapped(text, "    ", "  ") for text in told))
    idle = sum(not count for count in tries.decisions.values())
    casebooks = f" In the casebooks {counted(idle, 'rule')} never applied." if given.casebook else ""
    print(f"{counted(len(tries.examples), 'rule')}, {counted(sum(tries.examples.values()), 'example')}."
          f" {counted(len(tries.untried), 'thing')} untried.{casebooks}")  # fmt: skip
    return DONE


def _never(one: Untried) -> str:
    from conserve.readback import test_as_written

    if one.premise is None:
        return "never applies for certain"
    asked = f"{one.premise.term} is {test_as_written(one.premise.test)}"
    said = {"yes": "never holds", "no": "never fails", "unknown": "is never unknown"}
    return f"{asked}: {said.get(one.what, f'nothing is ever {one.what}')}"


def _tries(given: argparse.Namespace) -> tuple[Rulebook, Tries]:
    from conserve.search.coverage import coverage

    rulebook = read_rules(given.rules, json=given.json, overlays=given.overlay)
    return rulebook, coverage(rulebook, _weighings(given))


def _weighings(given: argparse.Namespace) -> Iterator[Weighing]:
    """Every proposal of the casebooks that are named, weighed by these rules and the overlays it asks for."""
    from conserve.weighing import weigh

    places = {place.root.resolve(): place for name in given.casebook if (place := find(None, inside=name))}
    for place in places.values():
        read = read_all(place, given.rules, json=given.json)
        for proposal in read.proposals():
            yield weigh(proposal, read.casebook, read.rulebook)
