"""What to find out next: what a survey asks, of what, for which proposals, and what it does not ask."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from conserve.terms import Cost
from conserve.weighing.model import Verdict

Slot = tuple[str, str, str]  # component (or `object`), where on it, and the term: as a survey sheet is read


@dataclass(frozen=True, slots=True)
class Serves:
    """What an answer would do for one proposal. `settles` counts open questions, on average over the answers."""

    proposal: str
    settles: float
    of: int  # how many questions are open
    alone: tuple[str, ...] = ()  # answers after which nothing is open
    precise: tuple[str, ...] = ()  # of a number: how closely it must be known, or what it is held against


def settled_by(serves: Iterable[Serves]) -> float:
    """How many open questions an answer settles, over all the proposals that it serves."""
    return sum(one.settles for one in serves)


@dataclass(frozen=True, slots=True)
class Ask:
    """One question of a sheet, which whoever looks at the machine can answer there."""

    component: str  # its id, or `object`
    name: str  # of the component, in words
    where: str  # on it, as a sheet writes it; "" for the component itself
    place: str  # what it is asked about, in words
    term: str
    question: str
    cost: Cost
    values: tuple[str, ...]  # of a closed list: its words
    many: bool  # whether several of them may be so
    unit: str  # of a quantity
    file: str  # where the answer would stand, were it not for the sheet
    serves: tuple[Serves, ...]

    @property
    def slot(self) -> Slot:
        return self.component, self.where, self.term

    @property
    def rank(self) -> float:
        """How much it settles for what it costs."""
        return settled_by(self.serves) / self.cost.weight


@dataclass(frozen=True, slots=True)
class Told:
    """A question that a sheet cannot answer: who can, is said by the list that it stands in."""

    question: str
    file: str  # of the casebook, in which the answer is written
    cost: Cost
    serves: tuple[Serves, ...]


@dataclass(frozen=True, slots=True)
class Idle:
    """Something that rules ask about, and that cannot change a verdict whatever it turns out to be."""

    slot: Slot
    thing: str  # in words
    word: str  # of the term


@dataclass(frozen=True, slots=True)
class Reach:
    """What an option may come to. `exact`: a case is known that reaches each end; else the ends are only bounds."""

    option: str
    worst: Verdict
    best: Verdict
    exact: bool
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class About:
    """A proposal that a survey is about, as it stands now, and what its proposer still has to answer."""

    proposal: str
    title: str
    verdict: Verdict
    option: str
    reaches: tuple[Reach, ...]
    to_answer: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt somebody, about one component."""

    says: str
    component: str  # its id
    name: str  # and in words
    open: bool  # whether it is not known yet that it applies


@dataclass(frozen=True, slots=True)
class Survey:
    """What to find out next, what settles most for its cost first."""

    casebook: str
    object: str  # its name
    on: date
    cautions: tuple[Caution, ...]
    about: tuple[About, ...]
    asks: tuple[Ask, ...]
    proposer: tuple[Told, ...]  # what only whoever puts a proposal forward can say or choose
    elsewhere: tuple[Told, ...]  # what has its own place in a file
    reports: tuple[Told, ...]  # what only a competent person can say
    idle: tuple[Idle, ...]

    @property
    def nothing_open(self) -> bool:
        return not (self.asks or self.proposer or self.elsewhere or self.reports)


@dataclass(frozen=True, slots=True)
class Round:
    """The questions about one component, in the order in which they stand on a sheet."""

    component: str
    name: str
    asks: tuple[Ask, ...]


def rounds(survey: Survey) -> tuple[Round, ...]:
    """The questions component by component, so that one goes round the machine once; the one that counts most first."""
    found: dict[str, list[Ask]] = {}
    for ask in survey.asks:
        found.setdefault(ask.component, []).append(ask)
    return tuple(Round(component, asks[0].name, tuple(asks)) for component, asks in found.items())
