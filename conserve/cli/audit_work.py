"""Audit one casebook of many, in whichever process or on whichever machine there is room for it.

What is asked and what comes back are plain data: nothing of the engines, and no casebook, is ever sent about.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from conserve.cli.reading import Broken, Place, Read, Refused, Rules, at_their_place, read_all, shown_path
from conserve.files import FileRefused, Folder

if TYPE_CHECKING:
    from conserve.audit.factors import Factors
    from conserve.audit.many import Told
    from conserve.problem import Problem
    from conserve.rulebook import Rulebook
    from conserve.terms import Vocabulary

_ONE_AT_A_TIME = Lock()  # a worker may have several threads; the second engine is C, and not made for them


@dataclass(frozen=True, slots=True)
class Job:
    """One casebook to be audited, and by what."""

    root: str
    casebook: str  # its name among the others
    rules: str
    stamp: str  # of the rules, as they were when the work was given out
    day: date
    version: str
    records: bool = False


def audit_one(job: Job) -> Told:
    """Audit one casebook. Whatever is wrong with it is told, and never keeps others from being audited."""
    from conserve.audit.many import Told

    try:
        with _ONE_AT_A_TIME:
            return _audited(job)
    except Exception as error:
        return Told(job.casebook, None, broken=tuple(why(error)))


def _audited(job: Job) -> Told:
    from conserve.audit.cases import cases_of
    from conserve.audit.looking import audit_of
    from conserve.audit.many import Told, compact, sharing
    from conserve.weighing import weigh

    rules = Remembered(Path(job.rules), job.stamp)
    read = _read(job, rules)
    casebook, rulebook = read.casebook, read.rulebook
    weighed = {one.id: weigh(one, casebook, rulebook, job.day) for one in casebook.proposals if one.decision}
    audit = audit_of(
        read.folder,
        casebook,
        rulebook,
        Folder(rules.root),
        job.day,
        job.casebook,
        job.version,
        records=job.records,
        weighed=weighed,
    )
    overlays = casebook.object.overlays
    cases = cases_of(weighed.values(), rulebook, factors(rules, overlays), job.casebook)
    return Told(job.casebook, compact(audit, job.casebook), overlays, sharing(cases, {}))


def _read(job: Job, rules: Rules) -> Read:
    """Read the casebook; where it has problems, those of its chain are told with them."""
    try:
        return read_all(_Named(Path(job.root), told=job.casebook), rules)
    except Broken as broken:
        from conserve.seal import read_chain

        of_chain = read_chain(Folder(Path(job.root)), job.casebook).problems
        raise broken.with_these((*broken.problems, *of_chain)) from None


def why(error: Exception) -> Iterator[str]:
    """What is wrong, a sentence each."""
    from conserve.engine import Disagreement, EngineFault

    if isinstance(error, Broken):
        yield from (str(problem) for problem in error.problems)
    elif isinstance(error, FileRefused):
        yield error.reason
    elif isinstance(error, OSError):
        yield f"{error.filename or 'the system'}: {error.strerror or error}"
    elif isinstance(error, (Refused, Disagreement, EngineFault)):
        yield str(error)
    else:
        yield f"The program failed on it: {type(error).__name__}: {error}. Report this as a fault."


@dataclass(frozen=True, slots=True)
class _Named(Place):
    """A casebook told by its name among the others, wherever the process that reads it stands."""

    told: str = ""

    @property
    def shown(self) -> str:
        return self.told


# ---- the rules, read once a process ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Remembered(Rules):
    """Rules that are read once a process; `stamp` says that they are the same everywhere."""

    stamp: str

    def words(self) -> tuple[Vocabulary | None, tuple[Problem, ...]]:
        return _words(self)

    def laid(
        self, overlays: tuple[str, ...], words: tuple[Vocabulary | None, tuple[Problem, ...]]
    ) -> tuple[Rulebook | None, tuple[Problem, ...]]:
        return _laid(self, overlays)


def check(rules: Remembered, *, json: bool) -> None:
    """Read the rules, or raise all that is wrong with them."""
    rulebook, problems = _laid(rules, ())
    if rulebook is None or problems:
        shown = {shown_path(rules.root): Folder(rules.root)}
        raise Broken(at_their_place(problems, rules.root), shown, json, answer=False)


@lru_cache(maxsize=4)
def _words(rules: Remembered) -> tuple[Vocabulary | None, tuple[Problem, ...]]:
    found = Rules(rules.root).words()
    _must_be(rules)
    return found


@lru_cache(maxsize=16)
def _laid(rules: Remembered, overlays: tuple[str, ...]) -> tuple[Rulebook | None, tuple[Problem, ...]]:
    found = Rules(rules.root).laid(overlays, _words(rules))
    _must_be(rules)
    return found


def _must_be(rules: Remembered) -> None:
    if stamp_of(rules.root) != rules.stamp:
        raise Refused(f"the rules in '{rules.root}' are not those that the audit began with")


def stamp_of(rules: Path) -> str:
    """One digest of all the words and rules in a folder."""
    from conserve.files import digest_of

    folder = Folder(rules)
    names = folder.names("", ".yaml")
    return digest_of(f"{folder.digest(name)}  {name}\n".encode() for name in names)


@lru_cache(maxsize=16)
def factors(rules: Remembered, overlays: tuple[str, ...]) -> Factors:
    """What cases judged by these rules are compared by."""
    from conserve.audit.factors import factors_of

    rulebook, _ = _laid(rules, overlays)
    assert rulebook is not None
    return factors_of(rulebook)
