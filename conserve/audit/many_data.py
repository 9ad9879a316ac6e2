"""An audit of several casebooks as plain data, for programs: the same whoever did the work, and in whatever order."""

from __future__ import annotations

from datetime import date
from typing import Any

from conserve.audit.data import head_of
from conserve.audit.many import Many, Told
from conserve.audit.model import DecisionAudit, Point

SCHEMA = "conserve-audit-many-1"


def many_as_data(many: Many, on: date, version: str) -> dict[str, Any]:
    """Everything but the sentences behind each answer, which the audit of one casebook tells."""
    return {
        "schema": SCHEMA,
        "on": on.isoformat(),
        "version": version,
        "casebooks": [_casebook(one) for one in many.audited],
        "broken": [{"casebook": one.casebook, "problems": list(one.broken)} for one in many.broken],
        "figures": dict(many.figures),
        "points": [_point(one) for one in many.points],
        "rulebooks": {digest: list(names) for digest, names in many.rulebooks.items()},
    }


def _casebook(told: Told) -> dict[str, Any]:
    audit = told.audit
    assert audit is not None
    return {
        "casebook": told.casebook,
        "name": audit.name,
        "rulebook": audit.rulebook,
        "engines": list(audit.engines),
        "entries": audit.entries,
        "witness": audit.witness,
        "figures": dict(audit.figures),
        "decisions": [_decision(one) for one in audit.decisions],
    }


def _decision(one: DecisionAudit) -> dict[str, Any]:
    """One line of it: the points about it stand among all points."""
    return {
        **head_of(one),
        "answers": {
            str(answer.asked): str(answer.truth) if answer.truth is not None else None for answer in one.answers
        },
    }


def _point(one: Point) -> dict[str, Any]:
    return {
        "kind": str(one.kind),
        "alters": one.kind.alters,
        "casebook": one.casebook,
        "proposal": one.proposal,
        "where": one.where,
        "says": one.says,
    }
