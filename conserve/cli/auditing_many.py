"""Audit every casebook below a folder, one process a processor or on a cluster."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Generator, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from conserve.cli.audit_work import Job, Remembered, audit_one, check, stamp_of
from conserve.cli.parser import own_version
from conserve.cli.reading import new_file, rules_folder
from conserve.cli.telling_many import tell_many

if TYPE_CHECKING:
    from conserve.audit.many import Told

DONE, ALTERED, BROKEN = 0, 1, 2
_OBJECT = "object.yaml"
_APART = ("rulebooks", "sealed")  # what an audit of a casebook looks into by itself


def casebooks_under(path: Path) -> tuple[Path, ...]:
    """Every casebook at or below a folder, sorted; what lies below a casebook belongs to it.

    A folder that cannot be looked into is given too, so that whoever reads it says so. A link is followed only where
    it leads straight to a casebook, and no casebook is given twice.
    """
    found: dict[Path, Path] = {}
    for root in sorted(_below(path), key=lambda one: (one.is_symlink(), one)):
        found.setdefault(root.resolve(), root)
    return tuple(sorted(found.values()))


def _below(path: Path) -> Iterator[Path]:
    waiting = [path]
    while waiting:
        at = waiting.pop()
        if _is_casebook(at):
            yield at
            continue
        try:
            with os.scandir(at) as entries:
                below = [Path(entry.path) for entry in entries if entry.is_dir() and _may_hold(entry.name)]
        except OSError:
            yield at
            continue
        waiting += [one for one in below if not one.is_symlink() or _is_casebook(one)]


def _is_casebook(path: Path) -> bool:
    try:
        return (path / _OBJECT).is_file()
    except OSError:
        return False


def _may_hold(name: str) -> bool:
    return not name.startswith(".") and name not in _APART


# ---- the command -----------------------------------------------------------------------------------------


def audit_many(given: argparse.Namespace, roots: Sequence[Path]) -> int:
    """Audit several casebooks, and tell what came of all of them. 2 where one is broken, 1 where one was altered."""
    target = new_file(given.out) if given.out is not None else None
    jobs = _jobs(roots, rules_folder(given.rules), given)
    check(Remembered(Path(jobs[0].rules), jobs[0].stamp), json=given.json)  # told once, and before anything begins
    with closing(_done(given, jobs)) as done:
        found = list(_kept_once(_with_progress(done, len(jobs))))
    many = tell_many(found, jobs[0], target, sample=given.sample, seed=given.seed, json=given.json)
    if many.broken:
        return BROKEN
    return ALTERED if many.alters else DONE


def _jobs(roots: Sequence[Path], rules: Path, given: argparse.Namespace) -> list[Job]:
    above = Path(os.path.commonpath([root.absolute().parent for root in roots]))
    stamp, version, day = stamp_of(rules), own_version(), given.day or date.today()
    return [
        Job(
            root=str(root.absolute()),
            casebook=root.absolute().relative_to(above).as_posix(),
            rules=str(rules.absolute()),
            stamp=stamp,
            day=day,
            version=version,
            records=given.records,
        )
        for root in roots
    ]


def _done(given: argparse.Namespace, jobs: Sequence[Job]) -> Generator[Told, None, None]:
    """What came of each casebook, in the order in which they are finished."""
    from conserve.cli.spreading import in_processes, on_cluster

    if given.cluster:
        rules = (jobs[0].rules, jobs[0].stamp, jobs[0].version)
        yield from on_cluster(given.cluster, audit_one, jobs, not_done, rules)
    elif (processes := _processes(given.jobs, len(jobs))) > 1:
        yield from in_processes(processes, audit_one, jobs, not_done)
    else:
        yield from map(audit_one, jobs)


def _processes(asked: int | None, jobs: int) -> int:
    """How many processes: as many as asked, or as there are processors that this one may use."""
    if asked is None and jobs > 1:
        from joblib import cpu_count

        asked = int(cpu_count())
    return min(asked or 1, jobs)


def not_done(job: Job, reason: str) -> Told:
    """What is told of a casebook whose audit did not come to its end."""
    from conserve.audit.many import Told

    return Told(job.casebook, None, broken=(reason,))


def _kept_once(found: Iterable[Told]) -> Iterator[Told]:
    """What came of each casebook, with what the cases of several have in common kept once."""
    from conserve.audit.many import sharing

    known: dict[object, Any] = {}
    return (replace(one, cases=sharing(one.cases, known)) for one in found)


def _with_progress(found: Iterable[Told], number: int) -> Iterator[Told]:
    """Give on what came of each; where standard error is a terminal, say there how far it has come."""
    shown, broken = sys.stderr.isatty(), 0
    try:
        for done, told in enumerate(found, 1):
            broken += told.audit is None
            if shown:
                more = f", {broken} broken" if broken else ""
                print(f"\rauditing {done} of {number}{more}", end="", file=sys.stderr, flush=True)
            yield told
    finally:
        if shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
