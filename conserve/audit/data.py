"""The audit of one casebook as plain data, for programs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from conserve.audit.decision import in_order
from conserve.audit.figures import figures
from conserve.audit.model import Audit, DecisionAudit, Kind, Point

SCHEMA = "conserve-audit-1"
# Kinds that are about every decision, where they name none.
_OF_THE_WHOLE = (Kind.CHAIN, Kind.BACK_DATED, Kind.RULES_ALTERED, Kind.SEALED_ALTERED)


def as_data(audit: Audit, more: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """All that an audit says. `more` is what else was asked, such as a sample, each under its own key."""
    return {
        **(more or {}),
        "schema": SCHEMA,
        "casebook": audit.casebook,
        "name": audit.name,
        "on": audit.on.isoformat(),
        "version": audit.version,
        "rulebook": audit.rulebook,
        "engines": list(audit.engines),
        "entries": audit.entries,
        "witness": audit.witness or None,
        "witnessed": list(audit.witnessed),
        "alters": any(point.kind.alters for point in audit.points),
        "points": [_point(one) for one in audit.points],
        "figures": dict(audit.figures),
        "decisions": [_decision(one) for one in audit.decisions],
    }


def head_of(one: DecisionAudit) -> dict[str, Any]:
    """What a decision is, without what was asked of it."""
    return {
        "proposal": one.proposal,
        "title": one.title,
        "components": list(one.components),
        "chosen": one.chosen,
        "verdict": one.verdict,
        "by": one.by,
        "on": one.on.isoformat() if one.on else None,
        "sealed": list(one.sealed),
        "weighty": list(one.weighty),
    }


def _decision(one: DecisionAudit) -> dict[str, Any]:
    answers = {
        answer.asked.name.lower(): {
            "asked": str(answer.asked),
            "answer": str(answer.truth) if answer.truth is not None else None,
            "says": answer.says,
        }
        for answer in one.answers
    }
    return {
        **head_of(one),
        "reason": one.reason,
        "notes": list(one.notes),
        "answers": answers,
        "points": [_point(point) for point in one.points],
    }


def _point(one: Point) -> dict[str, Any]:
    return {
        "kind": str(one.kind),
        "alters": one.kind.alters,
        "proposal": one.proposal,
        "where": one.where,
        "says": one.says,
    }


# ---- a part of an audit, and more of it --------------------------------------------------------------------------


def about_one(audit: Audit, proposal: str) -> Audit | None:
    """The audit of one decision: what is said of it, and of the chain as a whole. None where it was not looked at."""
    decisions = tuple(one for one in audit.decisions if one.proposal == proposal)
    if not decisions:
        return None
    whole = (point for point in audit.points if point.kind in _OF_THE_WHOLE and not point.proposal)
    points = in_order((*decisions[0].points, *whole))
    notes = sum(len(one.notes) for one in decisions)
    return replace(audit, decisions=decisions, points=points, figures=figures(decisions, points, notes))


def with_points(audit: Audit, points: Iterable[Point]) -> Audit:
    """An audit with more points, such as decisions that are out of line with their like; each is counted."""
    more = tuple(points)
    decisions = tuple(
        replace(one, points=in_order((*one.points, *(point for point in more if point.proposal == one.proposal))))
        for one in audit.decisions
    )
    every = in_order((*audit.points, *more))
    found = replace(audit, decisions=decisions, points=every)
    return replace(found, figures=figures(decisions, every, audit.figures["notes"]))
