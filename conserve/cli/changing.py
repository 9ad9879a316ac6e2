"""Tell which small changes to a rule its examples would not notice, and the examples that would."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.reading import chosen_from
from conserve.cli.rules import rules_meant
from conserve.cli.showing import as_json, counted, in_colour, with_progress, wrapped
from conserve.cli.unsettled import case_json

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from conserve.rule import Bound
    from conserve.rulebook import Rulebook
    from conserve.search.mutants import Change
    from conserve.search.mutate import Changes, Suggestion, Unnoticed

DONE = 0


def tell_changes(given: argparse.Namespace) -> int:
    from conserve.search.logic import Logic
    from conserve.search.mutate import try_changes

    rulebook = rules_meant(given)
    for name in given.rule:
        chosen_from("rule", name, (rule.id for rule in rulebook.rules))
    rules = [r for r in rulebook.rules if r.id in given.rule or (not given.rule and r.status != "withdrawn")]
    logic = Logic(rulebook.rules, rulebook.vocabulary)
    tried = [try_changes(rule, rulebook, logic) for rule in with_progress(rules, "rule")]
    if given.json:
        print(as_json({"rulebook": rulebook.digest, "rules": [_json(changes, rulebook) for changes in tried]}))
    else:
        print("\n".join(_told(tried, rulebook)))
    return DONE


def _told(tried: Sequence[Changes], rulebook: Rulebook) -> Iterator[str]:
    from conserve.search.mutate import suggestions

    for changes in tried:
        if changes.unnoticed:
            yield in_colour(changes.rule.id, "strong")
        for one in suggestions(changes, rulebook.vocabulary):
            yield wrapped(f"No example would notice if {_said(one, rulebook)}. This one would:", "    ", "  ")
            yield f"  {one.line}"
    noticed, same = sum(one.noticed for one in tried), sum(len(one.same) for one in tried)
    unnoticed = sum(len(one.unnoticed) for one in tried)
    spoken = sum(len(one.stood_for) for one in tried)
    made = counted(noticed + same + spoken + unnoticed, "small change")
    fared = f"{noticed} noticed, {same} that change nothing, {unnoticed} unnoticed"
    if spoken:
        fared += f", {spoken} that let in one of a long list of which the examples keep others out"
    yield f"{made} to {counted(len(tried), 'rule')}: {fared}."


def _said(one: Suggestion, rulebook: Rulebook) -> str:
    from conserve.explanation.words import listed

    changes = [unnoticed.change for unnoticed in one.unnoticed]
    alone = [_change_said(change, rulebook) for change in changes if not _of_values(change)]
    for kind, joins in (("value added", "also were {}"), ("value left out", "could no longer be {}")):
        values = [str(change.value) for change in changes if change.kind == kind]
        if values:
            alone.append(f"{_word(changes[0], rulebook)} {joins.format(listed(values, 'or'))}")
    return listed(alone, "or if")


def _of_values(change: Change) -> bool:
    return change.kind in ("value added", "value left out")


def _word(change: Change, rulebook: Rulebook) -> str:
    from conserve.readback import named

    return named(rulebook.vocabulary.terms[change.term])


def _change_said(change: Change, rulebook: Rulebook) -> str:
    """One change in words, as it stands after "if"."""
    from conserve.explanation.words import quantity_in_words
    from conserve.quantity import Quantity

    if change.kind == "another effect":
        return f"it said ‘{change.effect}’ in place of ‘{change.rule.then.kind}’"
    if change.kind == "value added":
        return f"{_word(change, rulebook)} also were {change.value}"
    if change.kind == "value left out":
        return f"{_word(change, rulebook)} could no longer be {change.value}"
    if change.bound is None:
        return f"{_word(change, rulebook)} were not asked for"
    limit = f"the limit ‘{_limit(change.bound)}’ of {_word(change, rulebook)}"
    if isinstance(change.value, Quantity):
        return f"{limit} were moved to {quantity_in_words(change.value)}"
    said = {
        "limit turned round": "were turned round",
        "limit itself let in or kept out": "took the other way what lies right on it",
        "one limit left out": "were left out",
    }
    return f"{limit} {said[change.kind]}"


def _limit(bound: Bound) -> str:
    from conserve.readback import test_as_written
    from conserve.rule import Test

    return test_as_written(Test(bounds=(bound,)))


def _json(changes: Changes, rulebook: Rulebook) -> dict[str, object]:
    from conserve.search.mutate import suggestions

    return {
        "rule": changes.rule.id,
        "noticed": changes.noticed,
        "no_change": [_change_said(change, rulebook) for change in changes.same],
        "stood_for": [_change_said(change, rulebook) for change in changes.stood_for],
        "unnoticed": [_unnoticed_json(one, rulebook) for one in changes.unnoticed],
        "examples": [one.line for one in suggestions(changes, rulebook.vocabulary)],
    }


def _unnoticed_json(one: Unnoticed, rulebook: Rulebook) -> dict[str, object]:
    return {
        "kind": str(one.change.kind),
        "term": one.change.term,
        "says": _change_said(one.change, rulebook),
        "expect": one.expect,
        "then": one.then,
        **case_json(one.witness, rulebook.vocabulary),
    }
