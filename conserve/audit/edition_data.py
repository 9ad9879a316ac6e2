"""What another edition of the rules would make of decisions, as plain data."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from typing import Any

from conserve.audit.edition_model import EditionChange
from conserve.explanation.words import place
from conserve.problem import Problem


def edition_data(change: EditionChange) -> dict[str, Any]:
    """Everything about it as plain data."""
    return {
        "on": change.on.isoformat(),
        "rulebook": change.old,
        "other": change.new,
        "unread": change.unread,
        "problems": [_problem_data(one) for one in change.problems],
        "loose": [_problem_data(one) for one in change.loose],
        "decided": change.decided,
        "rules": [_plain(one) for one in change.rules],
        "words": [_plain(one) for one in change.words],
        "verdicts": [_plain(one) for one in change.verdicts],
        "requirements": [_plain(one) for one in change.asks],
    }


def _plain(one: Any) -> Any:
    """A value of the model as JSON has it."""
    if is_dataclass(one):
        return {part.name: _plain(getattr(one, part.name)) for part in fields(one)}
    if isinstance(one, tuple):
        return [_plain(part) for part in one]
    if isinstance(one, Enum):
        return one.value
    return one.isoformat() if isinstance(one, date) else one


def _problem_data(problem: Problem) -> dict[str, Any]:
    said = {"code": problem.code, "message": problem.message, "hint": problem.hint}
    return {**problem.where._asdict(), "file": place(problem.where).rpartition(":")[0], **said}
