"""What another edition of the rules makes of decisions. Plain data, so that telling it is somebody else's work."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from conserve.problem import Problem


class Makes(StrEnum):
    """How what is named makes the difference to a verdict."""

    ALONE = "alone"  # each rule that is named, put back as it was by itself, gives the verdict as it was
    TOGETHER = "together"  # only all of them, put back together, give the verdict as it was
    WORDS = "words"  # no rule explains it: the words changed, and any rules that are named with them


class Became(StrEnum):
    """What became of a rule from one edition to the other."""

    NEW = "new"
    GONE = "gone"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class RuleChange:
    """A rule that is not the same in both editions. `says` tells what changed, a sentence each."""

    rule: str
    title: str
    became: Became
    says: tuple[str, ...]
    sources: tuple[str, ...]  # where it stands, as the later edition has it, or the earlier where it is gone
    bears: bool  # whether a verdict can rest on what changed; else only its text or its sources are others


@dataclass(frozen=True, slots=True)
class WordChange:
    """A word, technique or list that is not the same in both editions, and what of it differs."""

    word: str
    says: str


@dataclass(frozen=True, slots=True)
class Cause:
    """What makes the difference to one verdict."""

    makes: Makes
    rules: tuple[str, ...]
    enough: tuple[str, ...] = ()  # of several: those that by themselves turn the rules in use to the other verdict
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ground:
    """Why one rule makes the difference: a premise that is judged otherwise, or what the rule asks, in a sentence."""

    rule: str
    says: str
    term: str = ""  # of a premise
    before: str = ""  # of a premise: yes | no | cannot tell | not asked
    now: str = ""
    where: tuple[str, ...] = ()  # where its fact is written, FILE:LINE below the casebook's folder


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """A decision whose verdict would be another."""

    proposal: str
    title: str
    chosen: str
    by: str
    on: date
    before: str
    now: str
    reason_before: str
    reason_now: str
    stood: bool
    stands: bool
    cause: Cause
    grounds: tuple[Ground, ...]


@dataclass(frozen=True, slots=True)
class Asks:
    """A decision whose verdict stays, and of which something else is required; each thing in words, with its rule."""

    proposal: str
    title: str
    verdict: str
    more: tuple[str, ...]
    fewer: tuple[str, ...]
    otherwise: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EditionChange:
    """What another edition of the rules makes of the decisions of one casebook, with the facts of one day."""

    casebook: str
    name: str
    on: date
    old: str  # the digest of the rules in use
    new: str  # of the other edition; "" where it does not read
    rules: tuple[RuleChange, ...] = ()
    words: tuple[WordChange, ...] = ()
    decided: int = 0  # decisions that were weighed by both
    verdicts: tuple[VerdictChange, ...] = ()
    asks: tuple[Asks, ...] = ()
    unread: str = ""  # what does not read under the other edition, so that nothing was weighed: rules | casebook
    problems: tuple[Problem, ...] = ()  # why it does not
    loose: tuple[Problem, ...] = ()  # what the casebook names and the other edition does not have

    @property
    def alters_verdicts(self) -> bool:
        """Whether some decision comes out otherwise."""
        return bool(self.verdicts)

    @property
    def groups(self) -> tuple[tuple[Cause, tuple[VerdictChange, ...]], ...]:
        """Decisions that change for the same cause, together; those that move most decisions first."""
        found: dict[Cause, list[VerdictChange]] = {}
        for one in self.verdicts:
            found.setdefault(one.cause, []).append(one)
        ordered = sorted(found.items(), key=lambda pair: (-len(pair[1]), pair[0].rules, pair[0].words, pair[0].makes))
        return tuple((cause, tuple(some)) for cause, some in ordered)

    def rule(self, name: str) -> RuleChange | None:
        return next((rule for rule in self.rules if rule.rule == name), None)
