"""Give work out to other processes: of this machine, or of a Dask cluster, which may be anywhere.

Every worker of a cluster must see the same folders under the same names, and have the same version and rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from logging import CRITICAL, getLogger
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from conserve.cli.reading import Refused, how_to_install

if TYPE_CHECKING:
    from distributed import Client

PATIENCE = 10  # seconds for a cluster to answer

J = TypeVar("J")
T = TypeVar("T")


def in_processes(
    processes: int, work: Callable[[J], T], jobs: Sequence[J], otherwise: Callable[[J, str], T]
) -> Iterator[T]:
    """Do every job in so many processes, and give each result as it comes.

    Where the system stops a process, what is left is done one by one, so that it is seen whose fault it was:
    `otherwise` makes the result of such a job, and of the reason.
    """
    from concurrent.futures.process import BrokenProcessPool

    left = dict(enumerate(jobs))
    try:
        for number, result in _parallel(processes, work, left):
            del left[number]
            yield result
    except BrokenProcessPool:
        yield from (_apart(work, job, otherwise) for job in left.values())


def _apart(work: Callable[[J], T], job: J, otherwise: Callable[[J, str], T]) -> T:
    from concurrent.futures.process import BrokenProcessPool

    try:
        ((_, result),) = _parallel(2, work, {0: job})  # two, because one would be this process itself
    except BrokenProcessPool:
        return otherwise(job, "The system stopped the process that did it; perhaps there was too little memory.")
    return result


def _parallel(processes: int, work: Callable[[J], T], jobs: Mapping[int, J]) -> Iterator[tuple[int, T]]:
    from joblib import Parallel, delayed

    run = Parallel(n_jobs=processes, return_as="generator_unordered", batch_size=1)
    found: Iterator[tuple[int, T]] = run(delayed(_numbered)(work, number, job) for number, job in [*jobs.items()])
    return found


def _numbered(work: Callable[[J], T], number: int, job: J) -> tuple[int, T]:
    return number, work(job)


# ---- a cluster ------------------------------------------------------------------------------------------------------


def on_cluster(
    address: str,
    work: Callable[[J], T],
    jobs: Sequence[J],
    otherwise: Callable[[J, str], T],
    alike: tuple[str, str, str],
) -> Iterator[T]:
    """Have the workers at `address` do every job, and give each result as it comes.

    What a cluster could not finish is asked of it once more, one by one: where a worker is stopped, the jobs that
    wait for it are blamed with the one that it was at. `otherwise` makes the result of a job that is not finished
    then either, and of the reason. `alike` is a folder of rules, its stamp, and the version, which must be the same
    on every worker.
    """
    client = _client(address)
    try:
        _must_be_alike(client, address, alike)
        left = []
        for job, result in _as_done(client, work, jobs):
            if isinstance(result, _NotDone):
                left.append(job)
            else:
                yield result
        for job in left:
            ((_, result),) = _as_done(client, work, [job])
            yield otherwise(job, result.reason) if isinstance(result, _NotDone) else result
    finally:
        client.close(timeout=PATIENCE)


@dataclass(frozen=True, slots=True)
class _NotDone:
    """Why a cluster did not finish a job: a worker was stopped, or the line to it broke."""

    error: str

    @property
    def reason(self) -> str:
        return f"The cluster did not finish it: its worker was stopped, or the line to it broke ({self.error})."


def _as_done(client: Client, work: Callable[[J], T], jobs: Sequence[J]) -> Iterator[tuple[J, T | _NotDone]]:
    """Each job as it is done, with its result."""
    from distributed import as_completed

    if client.status != "running":  # the line broke before
        yield from ((job, _NotDone(f"the line is {client.status}")) for job in jobs)
        return
    futures = client.map(work, jobs, pure=False)  # a folder may have changed since it was audited last
    given = {future.key: (future, job) for future, job in zip(futures, jobs, strict=True)}
    del futures
    for future in as_completed([future for future, _ in given.values()], loop=client.loop):
        _, job = given.pop(future.key)  # so that the cluster need not keep the result
        try:
            result: T | _NotDone = future.result(timeout=PATIENCE)
        except Exception as error:
            result = _NotDone(type(error).__name__)
        yield job, result


def _client(address: str) -> Client:
    try:
        from distributed import Client
    except ImportError:
        raise Refused("a cluster needs Dask, which is not installed here", how_to_install("scale")) from None
    for name in ("distributed", "distributed.client"):
        getLogger(name).setLevel(CRITICAL)  # what goes wrong is told here, in a sentence
    try:
        return Client(address, timeout=PATIENCE, name="conserve")
    except (OSError, ValueError, TypeError, ImportError, RuntimeError) as error:
        said = f"no cluster answers at '{address}': {str(error).strip() or type(error).__name__}"
        raise Refused(said, "start one with 'dask scheduler' and 'dask worker ADDRESS', or leave --on out") from None


# ---- whether the workers are alike ----------------------------------------------------------------------------------


def _must_be_alike(client: Client, address: str, alike: tuple[str, str, str]) -> None:
    rules, stamp, version = alike
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
        found = client.run(here, rules, on_error="return")
    except Exception as error:
        raise Refused(f"the cluster at '{address}' has no worker that answers: {error}", "start one there") from None
    for worker, what in sorted(found.items()):
        if isinstance(what, Exception):
            said = f"the worker at {worker} cannot do the work: {type(what).__name__}: {what}"
            raise Refused(said, "install the same version of conserve there")
        if what[1] != version:
            raise Refused(f"the worker at {worker} has version {what[1]} of conserve, and here it is {version}")
        if what[0] != stamp:
            raise Refused(f"the worker at {worker} has other rules in '{rules}' than there are here")


def here(rules: str) -> tuple[str, str]:
    """The stamp of the rules and the version of the program, in the process that is asked."""
    from conserve.cli.audit_work import stamp_of
    from conserve.cli.parser import own_version

    return stamp_of(Path(rules)), own_version()
