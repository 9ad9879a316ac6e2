"""What a purpose asks of a casebook, and what was found. Nothing here is worked out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from conserve.casebook.model import Audience
from conserve.problem import Location
from conserve.readiness.changes import Change
from conserve.readiness.costs import Costs
from conserve.rule import Citation
from conserve.rulebook.model import Clauses

# What may be asked for beside the terms that people write, by the name that the models give it.
SAID_OF_OBJECT = ("significance", "location", "owner", "maker", "number")
SAID_OF_COMPONENT = ("phase", "part_of", "significance_reason")

WHOLE = "whole"  # of the statement; or one of its sections, but for those of single decisions
SECTIONS = (
    *("how-to-read", "summary", "identity", "history", "significance", "condition", "use", "policy", "decisions"),
    *("undecided", "seals", "fabric", "removed", "hazards", "unknown", "later", "matrix", "sources"),
)


class State(StrEnum):
    """Whether what is asked for is there, the best first."""

    PRESENT = "present"
    STALE = "stale"
    ABSENT = "absent"


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing that must be there for a requirement to be answered; `kind` is one of `profiles.WORDS` or more."""

    kind: str
    word: str  # of `field`, its name; of `person`, a role; of `statement`, a section
    where: Location
    each: bool = False  # of `field`: asked of every component
    values: tuple[str, ...] = ()  # of `field`: only these will do; none: any that is known
    evidence: tuple[str, ...] = ()  # of `evidence`: kinds
    role: str = ""  # of `evidence`: who it is by
    grade: str = ""  # of `evidence`: at least as good as this
    about: str = ""  # of `evidence`: object | each-proposal; "" for anything
    before_work: bool = False  # of `evidence` about each proposal: no later than the day on which its work began
    names_it: bool = False  # of `evidence`: it says itself that it answers the requirement


@dataclass(frozen=True, slots=True)
class Wanted:
    """A requirement of a profile: it is answered when everything in `asks` is there."""

    id: str
    says: str
    why: str
    source: Citation
    must: bool  # else it only should be there
    asks: tuple[Ask, ...]
    where: Location


@dataclass(frozen=True, slots=True)
class Profile:
    """A purpose, such as asking for a grant, and what it wants to see."""

    id: str
    title: str
    says: str
    audience: Audience  # who will see what is sent
    sources: dict[str, Clauses]  # its own, beside those of the rules
    wanted: tuple[Wanted, ...]
    where: Location


@dataclass(frozen=True, slots=True)
class Mend:
    """What to do, and where."""

    what: str
    where: str  # FILE:LINE, or a file
    about: tuple[str, ...] = ()  # the proposals, parts or entries that it is about; none: the object


@dataclass(frozen=True, slots=True)
class Found:
    """What was found for one ask."""

    state: State
    says: str
    mends: tuple[Mend, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """A requirement and what was found for it."""

    wanted: Wanted
    state: State
    found: tuple[str, ...]
    mends: tuple[Mend, ...]


@dataclass(frozen=True, slots=True)
class Readiness:
    """How ready a casebook is for a purpose on a day, what the work costs and what it changes."""

    profile: Profile
    casebook: str
    object: str
    day: date
    outcomes: tuple[Outcome, ...]
    costs: Costs
    changes: tuple[Change, ...]
    cautions: tuple[str, ...]  # what stays out of use until it is settled, told before everything else
    strays: tuple[Mend, ...]  # evidence that says it answers what this profile does not ask

    def of(self, state: State, must: bool | None = None) -> tuple[Outcome, ...]:
        """The outcomes in a state; with `must`, only of what must, or only of what should, be there."""
        return tuple(o for o in self.outcomes if o.state is state and must in (None, o.wanted.must))

    @property
    def ready(self) -> bool:
        """Whether all that must be there is there."""
        return all(outcome.state is State.PRESENT for outcome in self.outcomes if outcome.wanted.must)
