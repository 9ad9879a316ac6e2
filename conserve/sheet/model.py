"""What a workshop sheet says: lines in the order in which they are done, each with its box."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from conserve.rule import Stage


class Kind(StrEnum):
    """What a line is."""

    ACT = "act"  # something that is done to the part
    ASKED = "asked"  # what a rule or a need asks for
    REFERRED = "referred"  # what a competent person has to say first
    MEASURED = "measured"  # what is to be measured as it was left


@dataclass(frozen=True, slots=True)
class Done:
    """That a line is done: when, by whom and what shows it, as far as the casebook says."""

    on: date | None
    by: str
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a sheet. `act` is the act that it is about, 0 where it is about the whole work."""

    id: str  # a requirement's id, `needs/…`, or `act/1`
    kind: Kind
    says: str
    stage: Stage | None = None  # None: an act
    act: int = 0  # the act that it is about; 0: the whole work
    short: str = ""  # the same in few words
    routine: bool = False
    hold: bool = False  # whether nobody goes past it until it is signed
    signs: str = ""  # who signs
    done: Done | None = None
    note: str = ""  # what is to be known about it: a tick that does not count, parts that still owe it
    write: str = ""  # what to write, so that the casebook knows that it is done
    parts: tuple[str, ...] = ()  # of like parts: the components that owe it, where not all do

    @property
    def key(self) -> str:
        """What tells it from every other line: of like parts, two may owe the same and be told differently."""
        return f"{self.id} {self.says}"


@dataclass(frozen=True, slots=True)
class Placed:
    """A line in its place, and why it stands before something that comes later."""

    line: Line
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """Lines under one heading."""

    title: str
    lines: tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The workshop sheet of one proposal."""

    proposal: str
    title: str
    object: str
    parts: tuple[str, ...]  # in words
    components: tuple[str, ...]
    as_at: str
    option: str
    does: str  # what is done, in words
    stop: tuple[str, ...]  # why it is not to be started, or to go no further; empty where it may
    not_to_do: tuple[str, ...]
    cautions: tuple[str, ...]
    may_apply: tuple[str, ...]  # cautions of which it is not known yet
    who: tuple[str, ...]
    sections: tuple[Section, ...]
    left_out: str  # why the work itself is not printed; "" where it is
    strays: tuple[str, ...]  # ticks in the casebook that belong to no line
    witness: str = ""  # the witness code of the casebook's chain; "" where nothing is sealed

    @property
    def lines(self) -> tuple[Line, ...]:
        """Every line, in its order."""
        return tuple(placed.line for section in self.sections for placed in section.lines)
