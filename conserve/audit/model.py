"""What an audit says of a casebook. Structured, so that telling it is somebody else's work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from conserve.truth import Truth


class Kind(StrEnum):
    """What needs a person's eyes, the most serious first."""

    AGAINST_REFERRAL = "done against a standing referral or a gate"
    CHAIN = "the chain is not whole"
    RULES_ALTERED = "kept rules were altered"
    SEALED_ALTERED = "what was kept at the seal was altered"
    EVIDENCE_ALTERED = "evidence is not what it was"
    FACT_ALTERED = "a fact was altered after the seal"
    DECISION_ALTERED = "a decision was altered after the seal"
    RECORD_ALTERED = "a record was edited"
    NOTE_ALTERED = "a note was altered"
    NOT_REMADE = "re-made, it comes out otherwise"
    CHECKER_DIFFERS = "the proof does not hold"
    BACK_DATED = "a seal is dated before what it seals"
    DECIDED_AGAINST = "decided against the verdict"
    DISSENT = "dissent that nobody has answered"
    DECIDED_LATE = "the work began before it was decided"
    SEALED_LATE = "the work began before it was sealed"
    OVERDUE = "overdue"
    MET_LATE = "met after its stage"
    AS_LEFT = "left otherwise than promised"
    NO_LONGER_STANDS = "it would not stand today"
    CLASH = "out of line with its like"
    QUERY = "a query that nobody has answered"
    NOT_SEALED = "never sealed"
    CANNOT_TELL = "cannot be checked here"

    @property
    def alters(self) -> bool:
        """Whether it means that something was changed, or comes out otherwise than it was sealed."""
        return self in _ALTERS


_ALTERS = frozenset(
    (
        Kind.CHAIN,
        Kind.RULES_ALTERED,
        Kind.SEALED_ALTERED,
        Kind.EVIDENCE_ALTERED,
        Kind.FACT_ALTERED,
        Kind.DECISION_ALTERED,
        Kind.RECORD_ALTERED,
        Kind.NOTE_ALTERED,
        Kind.NOT_REMADE,
        Kind.CHECKER_DIFFERS,
        Kind.BACK_DATED,
    )
)
GRAVITY = {kind: number for number, kind in enumerate(Kind)}


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that needs a person's eyes: a whole sentence, and the file (with its line) or the proposal it is at."""

    kind: Kind
    says: str
    proposal: str = ""
    where: str = ""  # FILE or FILE:LINE, below the casebook's folder
    casebook: str = ""  # where several casebooks are audited together


class Asked(StrEnum):
    """What is asked of each decision, in this order."""

    SEALED = "Was it sealed?"
    INPUTS = "Are the facts it was made from the same today?"
    RULEBOOK = "Is it the same rulebook today?"
    REMADE = "Re-made from what was sealed, is it the same to the byte?"
    CHECKER = "Does its proof hold, checked apart?"
    EVIDENCE = "Is its evidence as it was?"
    RECORD = "Is its record as it was written?"
    BEFORE_WORK = "Was it decided and sealed before the work began?"
    WITH_VERDICT = "Does it follow the verdict?"
    REFERRAL = "Was every referral and gate heeded?"
    REQUIREMENTS = "Was what it requires there by its stage?"
    AS_LEFT = "Was it left as promised?"
    TODAY = "Would it stand with today's facts and rules?"


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer about one decision: yes, no, cannot tell; None where it does not arise. And why, in a sentence."""

    asked: Asked
    truth: Truth | None
    says: str


@dataclass(frozen=True, slots=True)
class DecisionAudit:
    """One decision, or work that began without one, and what an audit found of it."""

    proposal: str
    title: str
    components: tuple[str, ...]
    chosen: str
    verdict: str  # today's
    by: str  # who decided, by name and role where the casebook knows them
    on: date | None
    reason: str
    sealed: tuple[int, ...]  # the sequences of its entries
    answers: tuple[Answer, ...]
    points: tuple[Point, ...]
    weighty: tuple[str, ...] = ()  # why it is to be looked at closely: irreversible, significant, against, objections
    notes: tuple[str, ...] = ()  # ids of the notes about it


@dataclass(frozen=True, slots=True)
class Audit:
    """The audit of one casebook. `points` are all there are, the most serious first."""

    casebook: str
    name: str
    on: date
    rulebook: str  # today's
    entries: int
    witness: str  # "" where the chain is empty or not whole
    engines: tuple[str, ...]
    version: str
    decisions: tuple[DecisionAudit, ...]
    points: tuple[Point, ...]
    figures: Mapping[str, int]  # what is counted -> how many, in the order in which they are told
    witnessed: tuple[int, ...] = ()  # the entries that codes from outside the house are of
