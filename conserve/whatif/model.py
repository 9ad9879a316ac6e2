"""What is not said, what somebody might say, and what would come of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from conserve.casebook.model import Values
from conserve.terms import Cost
from conserve.weighing.model import PartWeighing, Verdict


class Lack(StrEnum):
    """What sort of thing nobody has said."""

    FACT = "fact"  # of the object, the part, a thing on it, or the proposal
    LIST = "list"  # the surfaces, marks, repairs or defects there are; or which of them an act treats or takes
    REPORT = "report"  # a competent person's answer to a referral
    CLAIM = "claim"  # what a fact is once an option is carried out
    PHASE = "phase"  # when the part joined the object
    POLICY = "policy"  # what the owner has agreed may be done as routine care and as holding works


@dataclass(frozen=True, slots=True, order=True)
class Unknown:
    """One thing that nobody has said, or not closely enough.

    A fact is named by its subject and term; a list by its owner and its kind; a report by the part and the rule that
    refers; a claim by its option and the fact's path.
    """

    lack: Lack
    subject: str
    term: str


Supposed = Mapping[Unknown, Values]  # what each is supposed to be; no values, `()`, is the answer `none`


@dataclass(frozen=True, slots=True)
class Span:
    """The worst and the best verdict that an option may come to."""

    worst: Verdict
    best: Verdict

    @property
    def settled(self) -> bool:
        return self.worst is self.best


@dataclass(frozen=True, slots=True)
class Case:
    """Answers that settle an option's verdict, whatever everything else turns out to be."""

    verdict: Verdict
    supposed: Supposed
    part: PartWeighing  # the part, weighed with these answers
    whatever: frozenset[Unknown] = frozenset()  # those of which any answer that is tried would do, the rest as it is


@dataclass(frozen=True, slots=True)
class Prospect:
    """What an option may come to once all that is not known is known, and all that must be answered is answered."""

    span: Span
    to_worst: Case | None  # a case that reaches the worst verdict; none was found
    to_best: Case | None
    exact: bool  # both ends are reached; else the span is sure to hold, and may be too wide
    weighed: int  # how often it was weighed to find out


@dataclass(frozen=True, slots=True)
class Worth:
    """How much one answer settles. `settles` is how many open questions fall away, on average over its answers."""

    unknown: Unknown
    settles: float
    of: int  # how many questions are open
    answers: tuple[tuple[Values, int], ...]  # each answer that was tried, and how many questions are left then
    cost: Cost


class What(StrEnum):
    """What sort of change it is."""

    CHOOSE = "choose"  # a word or a number of an act or of the option
    LEAVE_OUT = "leave out"  # an act
    USE = "use"  # a lower one
    ANSWER = "answer"  # an objection, or what is asked for by the decision
    SHOW = "show"  # evidence that is asked for by the decision
    REASON = "reason"  # why another option is not taken
    REVIEW = "review"  # a date
    COMPETENCE = "competence"  # who does it, and what they have done before


@dataclass(frozen=True, slots=True)
class Change:
    """One change to a proposal. `to` is what is chosen; of a number, `low` and `high` are the ends that would do.

    `also` are other choices that no rule tells apart from it.
    """

    what: What
    subject: str  # the act, option or proposal
    term: str  # the term, rule or option
    to: Values = ()
    low: Values = ()
    high: Values = ()
    also: tuple[Values, ...] = ()

    @property
    def slot(self) -> tuple[What, str, str]:
        return self.what, self.subject, self.term

    def __lt__(self, other: Change) -> bool:
        return (*self.slot, str(self.to)) < (*other.slot, str(other.to))
