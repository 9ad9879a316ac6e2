"""What is looked into to see whether a casebook is ready, and how what was found is put."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from conserve.casebook import Casebook
from conserve.explanation import listed
from conserve.explanation.words import place
from conserve.files import Folder
from conserve.problem import Location
from conserve.readiness.model import Found, Mend, Profile, State
from conserve.rulebook import Rulebook
from conserve.weighing import Weighing

PROPOSALS = ("proposal", "proposals")
WORKS = ("piece of work", "pieces of work")
COMPONENTS = ("component", "components")
ENTRIES = ("entry of the register", "entries of the register")
_WHERE = {PROPOSALS: "proposals", WORKS: "proposals", COMPONENTS: "components", ENTRIES: "evidence/register.yaml"}
# What people write where they have nothing to say yet. A form that holds one of these is as empty as one without.
_HOLLOW = re.compile(
    "unknown|(not|nobody) (yet )?(known|knows|sure|stated|written|applicable)|not yet|unsure|none|nil|na|n a|x+|"
    "nobody|no one|some(one|body)|any(one|body)|t ?b ?[acd]|to ?do|"
    "to be (agreed|announced|confirmed|decided|determined|done|written)"
)
MOST_NAMED = 4  # of many alike; the rest are counted


@dataclass(frozen=True, slots=True)
class Case:
    """A casebook as it stands on a day, weighed, and the folder in which it stands."""

    profile: Profile
    casebook: Casebook
    weighings: tuple[Weighing, ...]
    rulebook: Rulebook
    folder: Folder
    day: date

    @property
    def live(self) -> tuple[Weighing, ...]:
        """The interventions that no decided one supersedes: what is under policy is not asked for."""
        gone = self.casebook.superseded
        return tuple(w for w in self.weighings if w.proposal.kind == "intervention" and w.proposal.id not in gone)


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing that lacks what is asked for; `stale` where it was there once."""

    name: str
    what: str  # what to do about it
    where: str
    stale: bool = False


def found(there: str, lacks: Iterable[Lack], counted: int, nouns: tuple[str, str]) -> Found:
    """Put together what was found of several things: `there` where it holds of all, else of how many not, and where.

    `nouns` is what they are called, one and many. Nothing at all to look at is absent: nobody has shown anything.
    """
    gone = list(lacks)
    if not counted:
        return Found(
            State.ABSENT, f"There is no {nouns[0]} yet.", (Mend(f"Write the first {nouns[0]}.", _WHERE[nouns]),)
        )
    if not gone:
        return Found(State.PRESENT, there)
    state = State.STALE if all(lack.stale for lack in gone) else State.ABSENT
    names = list(dict.fromkeys(lack.name for lack in gone))
    told = f"{there.rstrip('.')}: not so for {len(names)} of {counted} {nouns[counted != 1]} ({few(names)})."
    return Found(state, told, together(gone))


def together(lacks: Sequence[Lack]) -> tuple[Mend, ...]:
    """The same thing to do at the same place, told once for all that it is about."""
    names: dict[tuple[str, str], list[str]] = {}
    for lack in lacks:
        names.setdefault((lack.what, lack.where), []).append(lack.name)
    return tuple(Mend(what, where, tuple(dict.fromkeys(some))) for (what, where), some in names.items())


def says_something(text: str) -> bool:
    """Whether a text says anything at all: more than marks and dots, and none of the words that stand for silence."""
    words = " ".join(re.sub(r"[\W_]+", " ", text).split()).casefold()
    return bool(words) and not _HOLLOW.fullmatch(words)


def few(names: Iterable[str]) -> str:
    """Some names, and how many there are beside."""
    known = list(names)
    if len(known) <= MOST_NAMED:
        return listed(known)
    return f"{', '.join(known[: MOST_NAMED - 1])} and {len(known) - MOST_NAMED + 1} more"


def at(where: Location) -> str:
    """A place, told from the casebook's own folder."""
    return place(where)


def one(says: str, *mends: Mend, stale: bool = False) -> Found:
    """Something of which there is only one: there, unless there is something to mend."""
    return Found(State.PRESENT if not mends else State.STALE if stale else State.ABSENT, says, mends)
