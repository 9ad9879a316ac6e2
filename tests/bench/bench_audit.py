"""How long it takes to audit sealed decisions by the real command, held against reading their casebooks once.

python tests/bench/bench_audit.py             some 60 decisions
CONSERVE_AUDIT=10000 python tests/bench/bench_audit.py

Every casebook is sealed for real and then goes on: something is written into it that is dated after the seal, so that
each decision is re-made as it was sealed, on an earlier day, from files that are no longer those of today.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from time import perf_counter
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent))
import sealed

from conserve.casebook import read_casebook
from conserve.files import Folder
from conserve.weighing import weigh

HOUSE = Path(__file__).parent.parent.parent
FEWEST = 54  # decisions: two copies of each demonstration
SMALL = 100  # that growth is measured from, where there are more
ON = "2026-09-01"


class Told(NamedTuple):
    """One ratio, as `run.Row` has it."""

    what: str
    ratio: float
    against: str
    wanted: float | None
    note: str


class Ran(NamedTuple):
    """One run of the command: how long it took, the most memory that one of its processes held, and what it said."""

    seconds: float
    megabytes: float
    said: bytes


def rows(smallest: bool, size: int = 0) -> Iterator[Told]:
    """Make casebooks with at least so many decisions, audit them, and tell how long that took."""
    size = size or (FEWEST if smallest else SMALL)
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        yield from _told(root, sealed.casebooks(root, size, processes=os.cpu_count() or 1))


def _told(root: Path, decisions: int) -> Iterator[Told]:
    books = sorted(root.iterdir())
    reading, weighing = _read_and_weigh(books)
    one, two = audit(root, 1), audit(root, 2)
    figures = json.loads(one.said)["figures"]
    size = f"audit {decisions:,} decisions in {len(books):,} casebooks, one process"
    remade, holds = figures["re-made to the byte"], figures["with a proof that holds"]
    note = f"{1000 * one.seconds / decisions:.0f} ms a decision; {remade:,} re-made to the byte, {holds:,} proofs hold"
    yield Told(size, one.seconds / (reading + weighing), "reading and weighing once", None, note)
    yield Told(size, one.seconds / reading, "reading their casebooks alone", None, "")
    same = "the same to the byte" if one.said == two.said else "NOT THE SAME"
    yield Told("the same by two processes", two.seconds / one.seconds, "one process", None, same)
    yield from _growth(root, books, decisions, one)


def _growth(root: Path, books: Sequence[Path], decisions: int, whole: Ran) -> Iterator[Told]:
    """The same for a few of the casebooks, each of which has as many decisions as the others in the middle."""
    pairs = max(1, round(min(SMALL, decisions / 2) / (decisions / len(books)) / len(sealed.BOOKS)))
    few = root / ".few"
    few.mkdir()
    for book in books[: pairs * len(sealed.BOOKS)]:
        book.rename(few / book.name)
    part = audit(few, 1)
    share = json.loads(part.said)["figures"]["sealed"]
    took = f"{1000 * part.seconds / share:.0f} ms at {share:,}, {1000 * whole.seconds / decisions:.0f} ms at {decisions:,}"
    against = f"that of {share:,}"
    each = (whole.seconds / decisions) / (part.seconds / share)
    yield Told(f"time for a decision audited of {decisions:,}", each, against, None, took)
    held = f"{part.megabytes:.0f} MiB, {whole.megabytes:.0f} MiB"
    yield Told(f"most memory that auditing {decisions:,} takes", whole.megabytes / part.megabytes, against, None, held)


def _read_and_weigh(books: Sequence[Path]) -> tuple[float, float]:
    """How long it takes to read the casebooks, and to weigh each decision, the rules having been read."""
    rules = {name: sealed.rules_of(name)[1] for name in sealed.BOOKS}
    reading = weighing = 0.0
    for book in books:
        began, rulebook = perf_counter(), rules[book.name.partition("-")[2]]
        casebook, problems = read_casebook(Folder(book), rulebook.vocabulary, book.name)
        reading += perf_counter() - began
        assert casebook is not None, problems
        began = perf_counter()
        for proposal in casebook.proposals:
            if proposal.decision:
                weigh(proposal, casebook, rulebook)
        weighing += perf_counter() - began
    return reading, weighing


def audit(root: Path, processes: int) -> Ran:
    command = [sys.executable, "-m", "conserve", "audit", str(root), "--on", ON, "--jobs", str(processes), "--json"]
    with tempfile.TemporaryFile() as said:
        began = perf_counter()
        child = subprocess.Popen(command, cwd=HOUSE, stdout=said)
        _, status, used = os.wait4(child.pid, 0)
        taken = perf_counter() - began
        child.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        text = said.read()
        if child.returncode > 1:
            raise SystemExit(f"{' '.join(command)} ended with {child.returncode}: {json.loads(text)['broken']}")
        return Ran(taken, used.ru_maxrss / (1024 if sys.platform == "linux" else 1 << 20), text)


if __name__ == "__main__":
    for row in rows(smallest=True, size=int(os.environ.get("CONSERVE_AUDIT", "0"))):
        note = f"   ({row.note})" if row.note else ""
        print(f"{row.what:<64} {row.ratio:>7.2f} x {row.against}{note}", flush=True)
