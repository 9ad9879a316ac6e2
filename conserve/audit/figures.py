"""What an audit counts, in the order in which it is told."""

from __future__ import annotations

from collections.abc import Iterable

from conserve.audit.model import Asked, DecisionAudit, Kind, Point
from conserve.truth import Truth


def figures(decisions: Iterable[DecisionAudit], points: Iterable[Point], notes: int) -> dict[str, int]:
    """How many decisions there are, how each question about them was answered, and the points of each kind."""
    every, found = tuple(decisions), tuple(points)

    def answered(asked: Asked, truth: Truth) -> int:
        return sum(answer.asked is asked and answer.truth is truth for one in every for answer in one.answers)

    told = {
        "looked at": len(every),
        "decided": sum(one.on is not None for one in every),
        "sealed": sum(bool(one.sealed) for one in every),
        "decided and sealed before the work": answered(Asked.BEFORE_WORK, Truth.YES),
        "re-made to the byte": answered(Asked.REMADE, Truth.YES),
        "with a proof that holds": answered(Asked.CHECKER, Truth.YES),
        "with the facts as they were": answered(Asked.INPUTS, Truth.YES),
        "with evidence as it was": answered(Asked.EVIDENCE, Truth.YES),
        "with the record as it was": answered(Asked.RECORD, Truth.YES),
        "in keeping with the verdict": answered(Asked.WITH_VERDICT, Truth.YES),
        "against the verdict": answered(Asked.WITH_VERDICT, Truth.NO),
        "standing with today's facts and rules": answered(Asked.TODAY, Truth.YES),
        "notes": notes,
        "points": len(found),
    }
    kinds = ((kind, sum(point.kind is kind for point in found)) for kind in Kind)
    return {**told, **{f"points: {kind}": count for kind, count in kinds if count}}
