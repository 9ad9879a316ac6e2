"""What a casebook says, as it says it. Nothing here is worked out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from conserve.problem import Location
from conserve.quantity import Quantity
from conserve.rule import Test

Values = tuple[str | Quantity | int, ...]


@dataclass(frozen=True, slots=True)
class Stated:
    """One statement of a fact: who wrote it, where, when and with what. No values: `none`."""

    values: Values
    where: Location
    by: str = ""
    on: date | None = None
    instrument: str = ""
    evidence: tuple[str, ...] = ()
    plane: str = ""  # of a reading
    angle: str = ""  # of a reading
    report: str = ""  # the registered report that states it

    @property
    def place(self) -> str:
        """Where a reading was taken, in words."""
        return " ".join(f"{name} {said}" for name, said in (("plane", self.plane), ("angle", self.angle)) if said)


Facts = Mapping[str, tuple[Stated, ...]]  # term -> its statements


@dataclass(frozen=True, slots=True)
class Thing:
    """A surface, mark, repair or defect of a component."""

    kind: str
    id: str
    name: str
    facts: Facts
    where: Location
    says: str = ""
    marks: tuple[Thing, ...] | None = None  # of a surface; None: nobody has written them down
    mate: str = ""  # of a surface: the face it runs on, as COMPONENT/SURFACE
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands


@dataclass(frozen=True, slots=True)
class Change:
    """What an event took from a part, or added to it. None: nobody has written it; empty or zero: none."""

    mass: Quantity | None
    volume: Quantity | None
    surfaces: tuple[str, ...] | None  # faces whose original surface went
    marks: tuple[str, ...] | None  # marks that went, and so are no longer on the part
    where: Location
    places: Mapping[str, Location] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to a component. `took` and `added` are None where nobody has written them."""

    on: date
    year_only: bool
    says: str
    kind: str
    where: Location
    took: Change | None = None
    added: Change | None = None
    under: str = ""  # the proposal that it carried out
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands


@dataclass(frozen=True, slots=True)
class Stored:
    """Where a part is kept while it is off the object."""

    place: str
    tag: str
    since: date | None
    return_by: date | None
    why: str


@dataclass(frozen=True, slots=True)
class Component:
    """One part of the object. A list that is None has not been written; an empty one is closed."""

    id: str
    name: str
    facts: Facts
    surfaces: tuple[Thing, ...] | None
    repairs: tuple[Thing, ...] | None
    defects: tuple[Thing, ...] | None
    where: Location
    phase: str = ""
    part_of: str = ""
    significance_reason: str = ""
    note: str = ""
    history: tuple[Event, ...] | None = None
    stored: Stored | None = None
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands

    def things(self, kind: str) -> tuple[Thing, ...] | None:
        """The things of one kind; None where a list that matters has not been written."""
        if kind == "mark":
            if self.surfaces is None or any(s.marks is None for s in self.surfaces):
                return None
            return tuple(mark for surface in self.surfaces for mark in surface.marks or ())
        return {"surface": self.surfaces, "repair": self.repairs, "defect": self.defects}[kind]

    def known_things(self) -> Iterator[Thing]:
        """Every thing that has been written down."""
        for surface in self.surfaces or ():
            yield surface
            yield from surface.marks or ()
        yield from self.repairs or ()
        yield from self.defects or ()

    def thing(self, kind: str, name: str) -> Thing | None:
        return next((t for t in self.known_things() if t.kind == kind and t.id == name), None)


class NeedKind(StrEnum):
    """What kind of need it is."""

    FUNCTION = "function"
    SAFETY = "safety"
    STABILITY = "stability"
    COMPLETENESS = "completeness"
    LEGIBILITY = "legibility"


@dataclass(frozen=True, slots=True)
class Check:
    """One test of a need: a fact of the component or of a thing on it, by its path."""

    path: str
    test: Test
    where: Location


@dataclass(frozen=True, slots=True)
class Need:
    """A testable statement of what must be true after the work."""

    id: str
    kind: NeedKind
    says: str
    at: tuple[str, ...]  # the duties at which it is asked; none: all
    checks: tuple[Check, ...]
    set_by: str
    where: Location


@dataclass(frozen=True, slots=True)
class Act:
    """One technique at one place."""

    number: int
    technique: str
    surface: str  # "" : the whole component
    facts: Facts
    treats: str | None  # a defect's id; "" for none; None: not said
    takes: tuple[str, ...] | None  # marks' ids; None: not said
    evidence: tuple[str, ...]
    needs: tuple[str, ...]
    finds: str
    says: str
    where: Location
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands


@dataclass(frozen=True, slots=True)
class Said:
    """A person's answer."""

    by: str
    says: str
    where: Location


@dataclass(frozen=True, slots=True)
class Resource:
    """One line of what an option costs: money in the object's currency, or hours, or both. None: not said."""

    what: str
    money: Quantity | None
    hours: Quantity | None
    skill: str
    given: bool | None  # in kind or by volunteers, so that no money is asked for it
    stage: str  # of the object's budget; "" where nobody has said
    basis: str  # quotation | price-list | past-work | estimate; "" where nobody has said
    evidence: tuple[str, ...]
    where: Location
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands


@dataclass(frozen=True, slots=True)
class Option:
    """One way to answer a proposal's question."""

    id: str
    says: str
    duty: str  # "": as wanted
    facts: Facts
    competence: str
    acts: tuple[Act, ...]
    after: Facts  # path -> what is claimed
    answers: Mapping[str, Said]
    rather_than: Mapping[str, Said]
    where: Location
    listed: bool = True
    resources: tuple[Resource, ...] | None = None  # None: nobody has written them; empty: it costs nothing


@dataclass(frozen=True, slots=True)
class Met:
    """A requirement that has been met."""

    requirement: str
    on: date
    evidence: tuple[str, ...]
    where: Location
    by: str = ""  # who says so


@dataclass(frozen=True, slots=True)
class Work:
    """The work as it happened."""

    began: date | None
    finished: date | None
    by: str
    competence: str
    met: tuple[Met, ...]
    differences: tuple[str, ...]
    surprises: tuple[str, ...]
    measured: Facts  # path -> as left


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person decided."""

    chosen: str
    by: str
    on: date
    reason: str
    where: Location


@dataclass(frozen=True, slots=True)
class Proposal:
    """The question put about one component, or about several alike."""

    id: str
    title: str
    kind: str  # intervention | routine-care | holding-work
    components: tuple[str, ...]
    facts: Facts
    asked_on: date | None
    asked_by: str
    needs: tuple[Need, ...]
    options: tuple[Option, ...]
    preferred: str
    decision: Decision | None
    work: Work | None
    supersedes: str
    review: date | None
    where: Location
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands

    def option(self, name: str) -> Option | None:
        return next((option for option in self.options if option.id == name), None)


@dataclass(frozen=True, slots=True)
class Person:
    """Someone who is named in the casebook."""

    id: str
    name: str
    role: str
    competence: str


@dataclass(frozen=True, slots=True)
class Phase:
    """A period of the object's life."""

    id: str
    period: str
    dates: str
    says: str


@dataclass(frozen=True, slots=True)
class Policy:
    """What the owner has agreed may be done as routine care and as holding works."""

    says: str
    routine_care: tuple[str, ...]
    holding_works: tuple[str, ...]
    review: date | None


@dataclass(frozen=True, slots=True)
class Budget:
    """How the money for the object is reckoned. None: nobody has said."""

    currency: str  # its ISO 4217 code
    contingency: Quantity | None  # in %, of all money
    stages: tuple[str, ...]  # in their order
    where: Location
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands


class Audience(StrEnum):
    """Who may be shown a piece of evidence. Each may see what the one before it may."""

    ANYONE = "anyone"
    REVIEWERS = "reviewers"
    NOBODY = "nobody"


@dataclass(frozen=True, slots=True)
class Evidence:
    """A registered document, image, measurement sheet, sample or report."""

    id: str
    kind: str
    on: date
    by: str
    about: tuple[str, ...]
    shows: str
    where: Location
    file: str = ""
    grade: str = ""
    role: str = ""
    competence: str = ""
    answers: tuple[str, ...] = ()
    states: Facts = field(default_factory=dict)  # path -> what it states
    lapses: date | None = None  # of a report that never lapses: the last day there is
    held: str = ""  # where it is kept, if not here as a file
    digest: str = ""  # of the file: SHA-256, in hex
    size: int | None = None  # of the file, in bytes
    method: str = ""
    instrument: str = ""
    serial: str = ""  # which one of its kind the instrument was
    calibrated: date | None = None  # of an instrument that was never calibrated: the first day there is
    rights: str = ""  # whose it is, and on what terms it may be used
    show: Audience | None = None  # None: nobody has said, and so it is shown to nobody
    shown_as: str = ""  # the file that is shown instead, such as a copy without its location
    shown_digest: str = ""  # of that file
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands


@dataclass(frozen=True, slots=True)
class Object:
    """The historic machine as a whole."""

    name: str
    facts: Facts
    significance: str
    location: str
    owner: str
    people: Mapping[str, Person]
    phases: Mapping[str, Phase]
    policy: Policy | None
    where: Location
    maker: str = ""
    number: str = ""  # the maker's, or a register's
    budget: Budget | None = None
    overlays: tuple[str, ...] = ()  # rules laid over the rulebook: a country's law, a kind of object, a policy
    places: Mapping[str, Location] = field(default_factory=dict)  # where the value of each key stands


@dataclass(frozen=True, slots=True)
class Casebook:
    """Everything that is written about one object."""

    id: str
    object: Object
    components: Mapping[str, Component]
    proposals: tuple[Proposal, ...]
    evidence: Mapping[str, Evidence]
    as_at: date  # the latest date of anything that has happened in it
    digests: Mapping[str, str]  # file -> SHA-256, of every file that was read

    def proposal(self, name: str) -> Proposal | None:
        return next((p for p in self.proposals if p.id == name), None)

    @property
    def superseded(self) -> Mapping[str, str]:
        """Each proposal whose place a decided one has taken -> that one; of several the last by name."""
        decided = sorted((p.id, p.supersedes) for p in self.proposals if p.supersedes and p.decision)
        return {old: new for new, old in decided}
