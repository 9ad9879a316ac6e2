"""What a weighing as data and its proof have in common: amounts, facts, accounts, and parts that are alike."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from typing import Any

from conserve.account import Account, Column, Held, Whole
from conserve.casebook.model import Values
from conserve.explanation.words import place
from conserve.facts import Fact
from conserve.quantity import Quantity, canonical
from conserve.rule import Rule, Test
from conserve.weighing.model import PartWeighing, Reason, Weighing


def canonical_json(data: object) -> str:
    """JSON that is the same to the byte for the same data: sorted keys, no NaN, one final newline."""
    return json.dumps(data, sort_keys=True, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def heading(weighing: Weighing) -> dict[str, Any]:
    """What a proposal is, which option is put forward, and what it comes to."""
    return {
        "casebook": weighing.casebook.id,
        "proposal": weighing.proposal.id,
        "title": weighing.proposal.title,
        "on": weighing.on.isoformat(),
        "verdict": weighing.verdict.value,
        "conclusion": weighing.conclusion.value,
        "chosen": weighing.chosen,
        "decided": weighing.proposal.decision is not None,
        "verdicts": {name: verdict.value for name, verdict in weighing.verdicts.items()},
    }


def alike(parts: Iterable[PartWeighing], tell: Callable[[PartWeighing], dict[str, Any]]) -> dict[str, Any]:
    """Each part in full; a part that is like an earlier one in everything but its name, by that one's name."""
    told: dict[str, Any] = {}
    seen: dict[str, str] = {}
    for part in parts:
        data, name = tell(part), part.component.id
        likeness = re.sub(rf"(?<![a-z0-9-]){name}(?![a-z0-9-])", "this", json.dumps(data, sort_keys=True))
        told[name] = {"like": seen[likeness]} if likeness in seen else data
        seen.setdefault(likeness, name)
    return told


def amount(quantity: Quantity | None) -> str | None:
    """A number in its base unit, with its ± (`0`: exact; `unknown`: nobody stated it)."""
    return None if quantity is None else canonical(quantity.to_base())


def told_values(values: Values | None) -> list[str] | None:
    """The values of a fact; None where nothing is known."""
    return None if values is None else [canonical(v.to_base()) if isinstance(v, Quantity) else str(v) for v in values]


def told_fact(fact: Fact) -> dict[str, Any]:
    """A fact, how it is known, where it was written and what it was worked out from."""
    told: dict[str, Any] = {
        "values": told_values(fact.values),
        "how": fact.how.value,
        "where": [place(s.where) for s in fact.statements],
    }
    if fact.working is not None:
        told["from"] = [f"{one.subject} {one.term}" for _, one in fact.working.given]
    return told


def told_rule(rule: Rule) -> dict[str, Any]:
    """A rule. Each key always stands, so that a misspelt one is a missing one."""
    then = rule.then
    return {
        "title": rule.title,
        "about": rule.about,
        "sources": [str(c) for c in rule.sources],
        "when": {p.term: told_test(p.test) for p in rule.when},
        "effect": then.kind.value,
        "says": then.says,
        "establishes": dict([then.establishes]) if then.establishes[0] else {},
        "gate": then.gate,
        "to": then.to,
        "by": then.by.value if then.by else "",
        "routine": then.routine,
        "known": then.known,
        "answer": then.answer,
        "evidence": then.evidence,
        "overrides": sorted(edge.rule for edge in rule.overrides),
    }


def told_test(test: Test) -> dict[str, Any]:
    """What a test asks: the words that pass, or its limits (`between` is at least the one and at most the other)."""
    limits = {b.how: amount(b.limit) if isinstance(b.limit, Quantity) else {"term": b.limit} for b in test.bounds}
    return limits or {"any_of": list(test.accepts)}


def told_account(account: Account) -> dict[str, Any]:
    """What an option takes from a part, keeps and adds, and what it leaves."""
    return {
        "lost": sorted(account.lost),
        "spared": sorted(account.spared),
        "presumed": {face: amount(depth) for face, depth in account.presumed.items()},
        "volume": amount(account.volume),
        "mass": amount(account.mass),
        "kept": list(account.kept),
        "added": list(account.added),
        "untold": list(account.untold),
        "for_good": account.for_good,
        "held": _held(account.held),
        "acts": [
            {"number": a.number, "volume": amount(a.volume), "mass": amount(a.mass), "area": amount(a.area)}
            for a in account.acts
        ],
    }


def _held(held: Held) -> dict[str, Any]:
    """What is left, measure by measure; never one number."""
    return {
        "columns": {column.name: _column(column) for column in held.columns},
        "worst": held.worst.name if held.worst else None,
        "added_before": amount(held.added),
    }


def _column(column: Column) -> dict[str, Any]:
    told: dict[str, Any] = {
        "as_made": amount(column.made),
        "taken_before": amount(column.before),
        "taken": amount(column.taken),
        "in_store": amount(column.stored),
        "left": amount(column.left),
        "share": amount(column.share),
    }
    return {**told, "why": [why.name.lower() for why in column.why]} if column.why else told


def told_whole(whole: Whole) -> dict[str, Any]:
    """What is left of the object, measure by measure."""
    return {
        **_held(whole.held),
        "parts": whole.parts,
        "later": whole.later,
        "why": {k: list(v) for k, v in whole.why.items()},
    }


def named(reason: Reason) -> str:
    """What the one reason of a verdict names; "" where it names nothing."""
    if reason.settled:
        return reason.settled.finding.rule.id
    if reason.need:
        return reason.need.need.id
    if reason.act:
        return f"act {reason.act.act.number}"
    return reason.requirement.id if reason.requirement else reason.option
