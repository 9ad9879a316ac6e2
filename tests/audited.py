"""An audit of an invented pump, made by hand, with every kind of answer, for the tests of how audits are told."""

from __future__ import annotations

from datetime import date

from conserve.audit.figures import figures
from conserve.audit.model import GRAVITY, Answer, Asked, Audit, DecisionAudit, Kind, Point
from conserve.truth import Truth

HOSTILE = "<b>bold</b> *stars* [a](http://x.example) | {{ x }} # no"
ALTERED = Point(Kind.FACT_ALTERED, f"After the seal this was altered: {HOSTILE}.", "slack", "components/slide.yaml:4")
LATE = Point(Kind.OVERDUE, "Overdue since 2026-03-14: a photograph.", "stud", "proposals/stud.yaml:1")
CHAIN = Point(Kind.CHAIN, "The chain: entry 2 is missing. (C103)", where="chain.jsonl:2")


def answers(**said: Truth | None) -> tuple[Answer, ...]:
    """Every question answered yes but for those that are named."""
    return tuple(
        Answer(one, said.get(one.name.lower(), Truth.YES), f"Because of {one.name.lower().replace('_', ' ')}.")
        for one in Asked
    )


def decision(name: str, *points: Point, **said: Truth | None) -> DecisionAudit:
    return DecisionAudit(
        proposal=name,
        title=f"Take up the {name}",
        components=("slide",),
        chosen="shim",
        verdict="justified",
        by="N. Garrow",
        on=date(2026, 3, 9),
        reason=f"It is the gentlest {HOSTILE}",
        sealed=(1, 3),
        answers=answers(**said),
        points=points,
        weighty=("cannot be undone: welding", "high significance"),
        notes=(f"{name}-1",),
    )


def audit_with(*decisions: DecisionAudit, points: tuple[Point, ...] = (), entries: int = 3, code: str = "3-K7QM") -> Audit:
    """The audit of some decisions; `points` are further ones, which are of none of them."""
    every = {*points, *(point for one in decisions for point in one.points)}
    ordered = tuple(sorted(every, key=lambda one: (GRAVITY[one.kind], one.proposal, one.where, one.says)))
    return Audit(
        casebook="pump",
        name="The Sedge Lane pump",
        on=date(2026, 9, 1),
        rulebook="d" * 64,
        entries=entries,
        witness=code,
        engines=("durable-rules", "plain"),
        version="1.0",
        decisions=decisions,
        points=ordered,
        figures=figures(decisions, ordered, 2),
    )


def rich() -> Audit:
    """Two decisions, one of them with something altered, and a chain that is not whole."""
    first = decision("slack", ALTERED, inputs=Truth.NO, remade=Truth.UNKNOWN, as_left=None)
    return audit_with(first, decision("stud", LATE, requirements=Truth.NO), points=(CHAIN,), code="")
