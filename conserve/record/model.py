"""What a record says, as sentences and tables."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """A heading, its columns and their rows."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A registered image with its caption."""

    file: str
    caption: str


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the check list."""

    says: str
    met: bool


@dataclass(frozen=True, slots=True)
class StageList:
    """What is asked by one stage."""

    title: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Objection:
    """An objection and its answer."""

    says: str
    answer: str


@dataclass(frozen=True, slots=True)
class Workings:
    """One formula, how far it holds and where it comes from, and each number that was worked out by it."""

    title: str
    formula: str
    valid: str
    source: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """Everything that a record says."""

    front: tuple[tuple[str, str], ...]
    title: str
    verdict: str
    answer: str
    conclusion: str
    opening: tuple[str, ...]
    hazards: tuple[str, ...]
    asked: str
    needs: tuple[str, ...]
    policy: str
    there: tuple[str, ...]
    tables: tuple[Table, ...]
    pictures: tuple[Picture, ...]
    options: Table
    why_not_less: tuple[str, ...]
    would_change: tuple[str, ...]
    how_far: tuple[str, ...]
    fabric: Table
    left: Table
    left_says: tuple[str, ...]
    undoing: tuple[str, ...]
    objections: tuple[Objection, ...]
    requirements: tuple[StageList, ...]
    workings: tuple[Workings, ...]
    work: tuple[str, ...]
    as_left: Table
    evidence: Table
    sources: tuple[str, ...]
    may_come_to: tuple[str, ...]
    unknown: tuple[str, ...]
    not_worth_it: tuple[str, ...]
    who: tuple[str, ...]
