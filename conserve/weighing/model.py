"""What a weighing says. Structured, so that telling it is somebody else's work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from conserve.account import Account
from conserve.casebook import Act, Casebook, Check, Component, Need, Option, Proposal
from conserve.casebook.model import Said
from conserve.facts import Afterwards, Fact, Judgement
from conserve.inference import Finding, Findings
from conserve.quantity import Quantity, settling_uncertainty
from conserve.rule import Stage


class Verdict(StrEnum):
    """What the tool concludes about an option, worst first."""

    NOT_JUSTIFIED = "not justified"
    REFER = "refer to a competent person"
    NOT_YET_SHOWN = "not yet shown"
    WITH_REQUIREMENTS = "justified with requirements"
    JUSTIFIED = "justified"

    @property
    def stands(self) -> bool:
        return self in (Verdict.WITH_REQUIREMENTS, Verdict.JUSTIFIED)


ORDER = tuple(Verdict)


class Standing(StrEnum):
    """Whether a finding counts once those that override it are known."""

    IN = "in"
    OUT = "out"
    OPEN = "open"


class NeedState(StrEnum):
    """How an option leaves a need."""

    MET = "met"
    FAILED = "failed"
    IN_DOUBT = "in doubt"
    OPEN = "open"
    GIVEN_UP = "given up"
    NOT_ASKED = "not asked"


class Shown(StrEnum):
    """How a met need is shown, from the firmest to the least firm."""

    TODAY = "as it is today"
    CONCLUDED = "a competent person's conclusion"
    COMPUTED = "computed"
    CLAIMED = "claimed"
    PROMISED = "promised"


class Call(StrEnum):
    """Whether an act is called for."""

    CALLED_FOR = "called for"
    NOT_CALLED_FOR = "not called for"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class CheckOutcome:
    """One test of a need on what an option leaves."""

    check: Check
    judgement: Judgement
    after: Afterwards


@dataclass(frozen=True, slots=True)
class NeedOutcome:
    """A need under an option. `asked_of` is the role whose conclusion a safety need waits for before use."""

    need: Need
    state: NeedState
    shown: Shown | None
    checks: tuple[CheckOutcome, ...]
    asked_of: str = ""
    bears: tuple[str, ...] = ()  # what puts it in doubt: a fact's term or a defect's id


@dataclass(frozen=True, slots=True)
class ActCall:
    """Whether an act is called for, by which need or against which."""

    act: Act
    call: Call
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Settled:
    """A finding that tells, and whether it counts."""

    finding: Finding
    standing: Standing
    overridden_by: tuple[str, ...] = ()
    answer: Said | None = None  # of an objection
    report: str = ""  # of a referral: the report that answers it


@dataclass(frozen=True, slots=True)
class Requirement:
    """Something that must be there, and by when."""

    id: str
    says: str
    by: Stage
    routine: bool
    certain: bool
    met: bool
    left: bool  # whether it counts: what the work has met since still does
    finding: Finding | None = None
    met_on: date | None = None
    evidence: tuple[str, ...] = ()
    answer: Said | None = None
    role: str = ""


class Step(StrEnum):
    """Which step of the weighing gave a verdict its one reason."""

    FORBIDDEN = "forbidden"
    NEED_FAILED = "need failed"
    NEED_IN_DOUBT = "need in doubt"
    NOT_CALLED_FOR = "not called for"
    REFERRED = "referred"
    SOMETHING_OPEN = "something open"
    OBJECTION = "objection unanswered"
    OWED_NOW = "owed by the decision"
    OWED_LATER = "owed later"
    NOTHING_AGAINST = "nothing against"
    GENTLER_STANDS = "a gentler option stands"
    GENTLER_WAITED_FOR = "a gentler option may yet do"
    LOSES_OTHER_THINGS = "loses other things"


@dataclass(frozen=True, slots=True)
class Reason:
    """The one reason of a verdict, and what it names."""

    step: Step
    settled: Settled | None = None
    need: NeedOutcome | None = None
    act: ActCall | None = None
    requirement: Requirement | None = None
    option: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """Something unknown that stands in the way, and what it blocks."""

    fact: Fact
    blocks: tuple[str, ...]
    doubt: Judgement | None = None  # of a number that is known, but not closely enough

    @property
    def settle(self) -> Quantity | None:
        """How small ± must be for the answer to be yes or no, where the value stays. Sought only when asked for."""
        limits = [b.limit for b in self.doubt.test.bounds if isinstance(b.limit, Quantity)] if self.doubt else []
        if not limits:
            return None
        readings = [value for value in self.fact.values or () if isinstance(value, Quantity)]
        found = [s for reading in readings if (s := settling_uncertainty(reading, *limits)) is not None]
        return min(found, key=lambda q: q.to_base().amount, default=None)


@dataclass(frozen=True, slots=True)
class OptionWeighing:
    """One option, weighed on its own and then against the gentler ones."""

    option: Option
    duty: str
    own: Verdict
    own_reason: Reason
    verdict: Verdict
    reason: Reason
    needs: tuple[NeedOutcome, ...]
    calls: tuple[ActCall, ...]
    settled: tuple[Settled, ...]
    requirements: tuple[Requirement, ...]
    questions: tuple[Question, ...]
    account: Account
    gentler: tuple[str, ...] = ()  # options that lose less

    @property
    def gives_up(self) -> tuple[str, ...]:
        return tuple(n.need.id for n in self.needs if n.state is NeedState.GIVEN_UP)

    def need(self, name: str) -> NeedOutcome:
        return next(n for n in self.needs if n.need.id == name)


@dataclass(frozen=True, slots=True)
class PartWeighing:
    """A proposal weighed for one of its components."""

    component: Component
    findings: Findings
    options: tuple[OptionWeighing, ...]
    out_of_use: tuple[NeedOutcome, ...]  # safety needs that leaving alone fails or leaves in doubt at today's duty
    left: Mapping[str, NeedOutcome]  # how leaving alone leaves each need, asked or not; none where it is not listed

    def option(self, name: str) -> OptionWeighing:
        return next(o for o in self.options if o.option.id == name)


class Conclusion(StrEnum):
    """What a proposal comes to."""

    DECIDED = "decided"
    WAITING = "cannot be decided yet"
    NOTHING_WILL_DO = "nothing put forward will do"


@dataclass(frozen=True, slots=True)
class Weighing:
    """A proposal weighed: for each component it is about, and as a whole."""

    casebook: Casebook
    proposal: Proposal
    on: date
    parts: tuple[PartWeighing, ...]
    verdict: Verdict
    conclusion: Conclusion
    chosen: str  # the option whose verdict is the proposal's
    verdicts: Mapping[str, Verdict]  # option -> its worst verdict over the parts

    @property
    def worst(self) -> PartWeighing:
        """The part that gives the verdict: the first of those whose chosen option fares worst."""
        return min(self.parts, key=lambda p: ORDER.index(p.option(self.chosen).verdict))

    @property
    def exceptions(self) -> tuple[PartWeighing, ...]:
        """Like parts that do not fare as most do."""
        fares = [part.option(self.chosen).verdict for part in self.parts]
        usual = max(dict.fromkeys(fares), key=fares.count)
        return tuple(p for p, v in zip(self.parts, fares, strict=True) if v is not usual)
